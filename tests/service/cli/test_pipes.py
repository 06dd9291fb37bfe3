"""What a command says into a pipe is for programs: results alone, without colours or bars."""

import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parents[3]


def _run(home: Path, *words: str) -> subprocess.CompletedProcess[str]:
    call = [sys.executable, "-c", "from service.cli import main; main()", *words]
    environment = {"FORELAMP_HOME": str(home), "PATH": "", "TERM": "xterm-256color"}
    return subprocess.run(call, capture_output=True, text=True, cwd=ROOT, env=environment, check=False)


def test_no_escape_codes_in_a_pipe(tmp_path: Path) -> None:
    """A load with refusals and an export: no escape code, no bar; talk on stderr, results on stdout."""
    vehicles = tmp_path / "vehicles.csv"
    vehicles.write_text("vehicle,depot\nV-1,North\n,North\n")

    loaded = _run(tmp_path, "load", "vehicles", str(vehicles))
    exported = _run(tmp_path, "export", "risk", "--format", "csv")

    assert [loaded.returncode, exported.returncode] == [1, 0]
    for done in (loaded, exported):
        assert "\x1b" not in done.stdout + done.stderr
        assert "\r" not in (done.stdout + done.stderr).replace("\r\n", "\n")
    assert exported.stdout.startswith("as_of,")
