"""Names from outside never become paths: static files, exports, uploads, digests, backups."""

import io
import json
from pathlib import Path
from urllib.parse import quote

import pytest

from service.store import BackupUnusable, take_backup, verify_backup
from tests.service.web.conftest import Service
from tests.service.web.fleet import NOW

TRICKS = (
    "../forelamp.css",
    "../../etc/passwd",
    "..\\..\\windows\\win.ini",
    "/etc/passwd",
    "C:\\windows\\win.ini",
    "\\\\host\\share",
    "//host/share",
    "%2e%2e/%2e%2e/etc/passwd",
    "..%2f..%2fetc%2fpasswd",
    "..%5c..%5cwin.ini",
    "%252e%252e%252fetc%252fpasswd",
    "forelamp.css%00.js",
    "forelamp.css/..",
    "./forelamp.css",
    "forelamp.css::$DATA",
    "CON",
    "nul.csv",
    "forelamp.css ",
    "\u2025/etc/passwd",
    "\uff0e\uff0e/etc/passwd",
)


@pytest.mark.parametrize("before", ["/static/", "/exports/", "/dictionary/", "/problems/"])
def test_tricks_in_addresses(fleet: Service, before: str) -> None:
    """No address leads out of the closed lists that files come from, however it is written."""
    for trick in TRICKS:
        for written in (trick, quote(trick, safe=""), quote(trick, safe="/%")):
            if written.startswith("./") or written.endswith("/.."):
                continue  # the client itself takes such a step before it sends
            answer = fleet.client.get(before + written, follow_redirects=False)
            assert answer.status_code in (303, 404, 405, 422), (before, written, answer.status_code)
            assert "root:" not in answer.text
            assert "forelamp" not in answer.headers.get("content-disposition", "")
            assert not answer.headers.get("location", "").startswith(("//", "http"))


def test_names_of_exports_are_made_here(fleet: Service) -> None:
    """Filters, whatever they hold, never reach the name that a browser saves a file under."""
    for trick in (*TRICKS, 'a"; filename="x.exe', "a\r\nset-cookie: x=1"):
        answer = fleet.client.get("/exports/tickets.csv", params={"vehicle": trick, "depot": trick})
        assert answer.status_code == 200
        assert answer.headers["content-disposition"] == 'attachment; filename="forelamp-tickets.csv"'
        assert "set-cookie" not in answer.headers


def test_names_of_uploads_are_words_only(fleet: Service, tmp_path: Path) -> None:
    """The name of an uploaded file says how to read it, and is nowhere a path."""
    before = sorted(path.name for path in tmp_path.rglob("*"))
    for trick in (*TRICKS, "../../x.csv", "..\\x.csv", "/tmp/x.csv", "x\0.csv"):  # noqa: S108 (not used)
        answer = fleet.post(
            "/setup/load",
            {"kind": "vehicles"},
            files={"file": (trick, io.BytesIO(b"vehicle\nV-0777\n"), "text/csv")},
        )
        assert answer.status_code in (200, 303, 415, 422), (trick, answer.status_code)
    after = sorted(path.name for path in tmp_path.rglob("*"))

    assert [one for one in after if one not in before and not one.startswith("fleet.db")] == []


@pytest.mark.parametrize("name", ["../outside.db", "/etc/passwd", "..\\outside.db", "forelamp.db\0", ""])
def test_backup_names_no_file_elsewhere(sqlite_url: str, tmp_path: Path, name: str) -> None:
    """A manifest that names a file outside of its folder makes a backup that is not used."""
    folder = tmp_path / "copy"
    take_backup(sqlite_url, folder, NOW)
    (tmp_path / "outside.db").write_bytes((folder / "forelamp.db").read_bytes())
    path = folder / "manifest.json"
    told = json.loads(path.read_text("utf-8"))
    text = json.dumps(told)
    assert "forelamp.db" in text
    path.write_text(text.replace('"forelamp.db"', json.dumps(name)), "utf-8")

    with pytest.raises(BackupUnusable):
        verify_backup(folder)
