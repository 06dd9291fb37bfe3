"""The web process stays light."""

import subprocess
import sys
from pathlib import Path

_CHILD = """
import sys
from datetime import UTC, datetime
from fastapi.testclient import TestClient
from service.app import build
from service.clock import Clock
from service.settings import Settings
from pathlib import Path
url = sys.argv[1]
settings = Settings(home=Path("."), database_url=url, practice=True)
app = build(settings, Clock(lambda: datetime(2031, 3, 4, tzinfo=UTC)))
with TestClient(app) as client:
    for path in ("/readyz", "/week", "/vehicles", "/work", "/coverage", "/jobs", "/exports/risk.csv"):
        assert client.get(path).status_code == 200, path
print(*sorted({name.partition(".")[0] for name in sys.modules}))
"""

HEAVY = {"sklearn", "scipy", "numba", "pandas", "plotly"}
"""Libraries that the process which answers requests must do without."""


def test_no_heavy_library(sqlite_url: str) -> None:
    """Serving pages and the API imports no library of the evaluation."""
    root = Path(__file__).parents[3]

    done = subprocess.run(
        [sys.executable, "-c", _CHILD, sqlite_url], check=True, capture_output=True, text=True, cwd=root
    )

    assert HEAVY & set(done.stdout.split()) == set()


def test_importing_does_nothing(tmp_path: Path) -> None:
    """Importing the application starts no thread, writes no file and reads no settings."""
    root = Path(__file__).parents[3]
    child = "import service.app, threading; print(threading.active_count())"

    done = subprocess.run(
        [sys.executable, "-c", child],
        check=True,
        capture_output=True,
        text=True,
        cwd=root,
        env={"PATH": "", "FORELAMP_PORT": "nonsense", "HOME": str(tmp_path)},
    )

    assert done.stdout.strip() == "1"
    assert list(tmp_path.iterdir()) == []
