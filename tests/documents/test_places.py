"""What documents point at exists; what they must not name, they do not."""

import re
from pathlib import Path

import pytest
from starlette.routing import Match
from starlette.types import Scope

from service.app import build
from service.clock import Clock
from service.settings import Settings
from tests.documents import reading

HANDED_OUT = sorted(
    path
    for folder in ("deploy", ".ci")
    for path in (reading.TOP / folder).rglob("*")
    if path.is_file() and "secrets" not in path.parts
)
WRITTEN = [*HANDED_OUT, reading.TOP / "README.md", reading.TOP / "DEVELOPERS.md"]
ENDINGS = ("py", "md", "toml", "html", "css", "yaml", "conf", "service", "lock", "csv", "json")


@pytest.mark.parametrize("name", reading.DOCUMENTS)
def test_links_lead_somewhere(name: str) -> None:
    """Every relative link leads to a file."""
    folder = (reading.TOP / name).parent

    for target in re.findall(r"\]\(([^)]+)\)", reading.DOCUMENTS[name]):
        if not target.startswith("http"):
            assert (folder / target).exists(), target


@pytest.mark.parametrize("name", reading.DOCUMENTS)
def test_files_exist(name: str) -> None:
    """Every file and folder of the program that a document names is there."""
    text = reading.DOCUMENTS[name]
    paths = set(re.findall(rf"`([\w./-]+/[\w.-]+\.(?:{'|'.join(ENDINGS)}))`", text))
    paths |= set(re.findall(r"`((?:ingest|models|dashboards|service|tests|deploy|\.ci)/[\w./-]*)`", text))

    for path in paths:
        if not path.startswith("/"):
            assert (reading.TOP / path).exists() or path == "deploy/secrets", path


@pytest.mark.parametrize("name", reading.DOCUMENTS)
def test_addresses_exist(name: str, tmp_path: Path) -> None:
    """Every address of the service that a document names is answered by a route."""
    app = build(Settings(home=tmp_path, database_url=f"sqlite:///{tmp_path / 'none.db'}"), Clock())
    found = re.findall(r"(?:`|127\.0\.0\.1:8377|POST\s+)(/[\w./-]*)", reading.DOCUMENTS[name])
    ours = [
        one.rstrip("/.") or "/" for one in found if not re.match(r"/(usr|var|etc|opt|run|dev|tmp)\b", one)
    ]

    for path in ours:
        concrete = path.replace("CODE", "not-found").replace("TICKET", "W-0017-T1")
        scopes: list[Scope] = [
            {"type": "http", "path": concrete, "method": method, "root_path": "", "headers": []}
            for method in ("GET", "POST")
        ]
        fits = [route.matches(scope)[0] for scope in scopes for route in app.routes]
        assert any(fit is not Match.NONE for fit in fits), path


@pytest.mark.parametrize("path", WRITTEN, ids=lambda path: str(path.relative_to(reading.TOP)))
def test_nothing_of_one_machine(path: Path) -> None:
    """No path of somebody's own machine, and no package registry, stands in what is handed out."""
    text = path.read_text("utf-8")

    assert re.search(r"/(home|root|work|tmp|Users)/", text) is None
    assert re.search(r"pypi\.|docker\.io|ghcr\.io|quay\.io|--index-url|--extra-index", text) is None


def test_lock_files_name_no_registry() -> None:
    """A lock file holds names, versions and digests; where packages come from is the machine's own matter."""
    for path in (reading.TOP / "deploy/requirements.lock", reading.TOP / "tests/browser/package-lock.json"):
        assert "://" not in path.read_text("utf-8"), path


@pytest.mark.parametrize("path", WRITTEN, ids=lambda path: str(path.relative_to(reading.TOP)))
def test_nothing_is_left_to_do(path: Path) -> None:
    """No document keeps a mark of unfinished work."""
    assert re.search(r"\b(TODO|FIXME|TBD|XXX|lorem)\b", path.read_text("utf-8"), re.IGNORECASE) is None
