"""What deploy/ starts is what the README starts, with settings, ports and options that exist."""

import configparser
import os
import re
import subprocess
import tomllib
from importlib import metadata
from pathlib import Path
from typing import Any

import click
import pytest
import yaml
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name
from packaging.version import Version
from typer.main import get_command
from typer.testing import CliRunner

from service.app import build
from service.cli.main import app
from service.clock import Clock
from service.settings import Settings, describe_settings, load_settings

TOP = Path(__file__).resolve().parents[2]
DEPLOY = TOP / "deploy"
CONTAINERFILE = (DEPLOY / "Containerfile").read_text("utf-8")
NGINX = (DEPLOY / "nginx.conf").read_text("utf-8")
GUIDE = (DEPLOY / "README.md").read_text("utf-8")
SETTINGS = {name for name, _, _ in describe_settings()} | {"FORELAMP_DATABASE_URL_FILE"}
PLAIN = Settings()


def _compose() -> dict[str, Any]:
    found = yaml.safe_load((DEPLOY / "compose.yaml").read_text("utf-8"))
    assert isinstance(found, dict)
    return found


def _unit() -> configparser.RawConfigParser:
    unit = configparser.RawConfigParser(strict=False)
    unit.optionxform = str  # type: ignore[assignment, method-assign]  # option names are told apart by case
    unit.read_string((DEPLOY / "forelamp.service").read_text("utf-8"))
    return unit


def _command(words: list[str]) -> click.Command:
    """Find the command that words name; fail where they name none, or an option that it lacks."""
    found: click.Command = get_command(app)  # type: ignore[assignment]
    for word in words:
        if word.startswith("-"):
            assert word in {name for one in found.params for name in one.opts}
        else:
            assert word in getattr(found, "commands", {}), words
            found = getattr(found, "commands", {})[word]
    return found


def test_everything_starts_the_same() -> None:
    """Container and unit run `forelamp serve`, as the README does."""
    container = re.search(r'^CMD \["forelamp", "(\w+)"\]$', CONTAINERFILE, re.MULTILINE)
    unit = _unit()["Service"]["ExecStart"].split()

    assert container is not None
    assert unit[0].rpartition("/")[2] == "forelamp"
    assert unit[1:] == [container[1]] == ["serve"]
    assert "\nforelamp serve\n" in (TOP / "README.md").read_text("utf-8")


@pytest.mark.parametrize("line", ["ExecStart", "ExecStartPre"])
def test_unit_runs_known_commands(line: str) -> None:
    """Each line of the unit that runs the program names a command and options that exist."""
    words = _unit()["Service"][line].split()

    assert _command(words[1:]).name in {"serve", "migrate"}


def test_unit_is_shut_in() -> None:
    """The unit runs as its own user, writes in its own state only, and gives up on wrong settings."""
    service = _unit()["Service"]

    assert service["User"] == "forelamp"
    assert service["ProtectSystem"] == "strict"
    assert service["NoNewPrivileges"] == "yes"
    assert service["CapabilityBoundingSet"] == ""
    assert service["RestartPreventExitStatus"] == "2"
    assert service["Environment"] == f"FORELAMP_HOME=/var/lib/{service['StateDirectory']}"


def test_unit_has_known_sections() -> None:
    """The unit has the three sections and is started with the machine."""
    unit = _unit()

    assert unit.sections() == ["Unit", "Service", "Install"]
    assert unit["Install"]["WantedBy"] == "multi-user.target"


def test_image_is_built_in_stages() -> None:
    """The image has a building stage and a running one, runs without root, and copies what is there."""
    stages = re.findall(r"^FROM (\S+)(?: AS (\w+))?$", CONTAINERFILE, re.MULTILINE)
    users = re.findall(r"^USER (\S+)$", CONTAINERFILE, re.MULTILINE)
    copied = re.findall(r"^COPY (?!--from)(.+) \S+$", CONTAINERFILE, re.MULTILINE)

    assert [name for _, name in stages] == ["build", ""]
    assert users == ["10001:10001"]
    for line in copied:
        for name in line.split():
            assert (TOP / name).exists(), name


def test_image_holds_every_room() -> None:
    """Every package of the program is copied into the image."""
    packages = tomllib.loads((TOP / "pyproject.toml").read_text("utf-8"))["tool"]["setuptools"]["packages"]

    for pattern in packages["find"]["include"]:
        room = pattern.rstrip("*")
        assert f"COPY {room} ./{room}\n" in CONTAINERFILE


def test_image_looks_after_itself() -> None:
    """The health check asks the sign of life that says ready, on the port that the program listens on."""
    check = re.search(r"^HEALTHCHECK .*?\n\s+CMD \[(.+)\]$", CONTAINERFILE, re.MULTILINE)

    assert check is not None
    assert f"http://127.0.0.1:{PLAIN.port}/readyz" in check[1]
    compile(check[1].split('"-c", "')[1].rstrip('"'), "health check", "exec")
    assert f"\nEXPOSE {PLAIN.port}\n" in CONTAINERFILE


def test_image_sets_known_settings() -> None:
    """Variables of ours that the image sets are settings."""
    assert set(re.findall(r"\b(FORELAMP_\w+)=", CONTAINERFILE)) <= SETTINGS


def test_compose_sets_known_settings() -> None:
    """Variables of ours in compose are settings, and their values can be meant."""
    given = _compose()["services"]["service"]["environment"]
    values = {name: re.sub(r"\$\{\w+:-(.*)\}", r"\1", value) for name, value in given.items()}

    assert set(given) <= SETTINGS
    values["FORELAMP_DATABASE_URL_FILE"] = str(TOP / "pyproject.toml")  # any file that can be read
    loaded = load_settings(values)
    assert loaded.warnings == ()
    assert loaded.settings.tls_in_front


def test_compose_settings_start(tmp_path: Path) -> None:
    """With compose's settings the application is built: it accepts to listen where compose lets it."""
    given = _compose()["services"]["service"]["environment"]
    settings = Settings(
        home=tmp_path,
        database_url=f"sqlite:///{tmp_path / 'store.db'}",
        host=given["FORELAMP_HOST"],
        tls_in_front=given["FORELAMP_TLS_IN_FRONT"] == "true",
    )

    assert build(settings, Clock()).title


def test_compose_publishes_here_only() -> None:
    """The port is published on this machine's own address, and the database's not at all."""
    services = _compose()["services"]

    assert services["service"]["ports"] == [f"127.0.0.1:{PLAIN.port}:{PLAIN.port}"]
    assert services["service"]["environment"]["FORELAMP_PORT"] == str(PLAIN.port)
    assert "ports" not in services["database"]


def test_compose_has_no_passwords() -> None:
    """Passwords are in files that are not part of the program; none has a default."""
    compose = _compose()

    for secret in compose["secrets"].values():
        assert secret["file"].startswith("secrets/")
    assert (DEPLOY / ".gitignore").read_text("utf-8") == "secrets/\n"
    for one in compose["services"].values():
        for name, value in one["environment"].items():
            assert "PASSWORD" not in name or (name.endswith("_FILE") and value.startswith("/run/secrets/"))
        assert {f"/run/secrets/{name}" for name in one["secrets"]} & set(one["environment"].values())


def test_compose_waits_and_keeps() -> None:
    """The service waits for a healthy database; both keep their data in volumes that are declared."""
    compose = _compose()
    services = compose["services"]

    assert services["service"]["depends_on"] == {"database": {"condition": "service_healthy"}}
    assert services["database"]["healthcheck"]["test"][1] == "pg_isready"
    for one in services.values():
        assert {volume.partition(":")[0] for volume in one["volumes"]} <= set(compose["volumes"])
    assert services["service"]["read_only"] is True
    assert (DEPLOY / services["service"]["build"]["context"]).resolve() == TOP
    assert services["service"]["build"]["dockerfile"] == "deploy/Containerfile"


def test_proxy_leads_to_the_service() -> None:
    """The proxy is closed block by block, leads to the program's port, and takes as much as it does."""
    code = re.sub(r"#.*", "", NGINX)

    assert code.count("{") == code.count("}") == NGINX.count("server {") + NGINX.count("location ")
    assert set(re.findall(r"proxy_pass (\S+);", code)) == {f"http://{PLAIN.host}:{PLAIN.port}"}
    assert f"client_max_body_size {PLAIN.max_body_mb}m;" in code
    for line in code.splitlines():
        assert line.strip() == "" or line.rstrip().endswith((";", "{", "}")), line


def test_proxy_passes_on_what_sign_in_needs() -> None:
    """The proxy keeps the host's name, tells where a request came from, and slows tries to sign in."""
    blocks = dict(re.findall(r"location ((?:= )?\S+) \{(.*?)\n    \}", NGINX, re.DOTALL))

    for place in ("/", "= /sign-in", "/sign-in/", "/api/v1/"):
        assert "proxy_set_header Host $host;" in blocks[place]
        assert "proxy_set_header X-Forwarded-For $remote_addr;" in blocks[place]
    assert all("limit_req zone=forelamp_sign_in" in blocks[one] for one in ("= /sign-in", "/sign-in/"))
    assert "ssl_protocols TLSv1.2 TLSv1.3;" in NGINX
    assert all("deny all;" in blocks[f"= {place}"] for place in ("/livez", "/readyz"))


def _locked() -> dict[str, Version]:
    lines = (DEPLOY / "requirements.lock").read_text("utf-8").splitlines()
    found = {}
    for line in lines:
        if not line.startswith("#"):
            name, equal, version = line.partition("==")
            assert equal, line
            assert canonicalize_name(name) == name
            found[name] = Version(version)
    return found


def test_lock_holds_what_is_needed() -> None:
    """Every library that the program asks for is pinned, within the range that it asks for."""
    project = tomllib.loads((TOP / "pyproject.toml").read_text("utf-8"))["project"]
    locked = _locked()

    for text in project["dependencies"]:
        wanted = Requirement(text)
        assert locked[canonicalize_name(wanted.name)] in wanted.specifier, text


def test_lock_holds_nothing_else() -> None:
    """Every pin is needed by the program or by a library that it needs."""
    locked, needed = _locked(), set[str]()
    waiting = [Requirement(text) for text in metadata.requires("forelamp") or [] if "extra ==" not in text]
    while waiting:
        wanted = waiting.pop()
        for text in metadata.requires(wanted.name) or []:
            further = Requirement(text)
            extras = [{"extra": extra} for extra in ("", *wanted.extras)]
            asked = further.marker is None or any(further.marker.evaluate(extra) for extra in extras)
            if asked and canonicalize_name(further.name) not in needed:
                waiting.append(further)
        needed.add(canonicalize_name(wanted.name))

    if any(Version(metadata.version(name)) != version for name, version in locked.items() if name in needed):
        pytest.skip("other versions than the locked ones are installed, which may need other libraries")
    assert set(locked) == needed


def test_guide_backs_up_and_restores(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The guide's commands, run as they stand, copy a store, check the copy and put it back."""
    monkeypatch.setenv("FORELAMP_HOME", str(tmp_path))
    monkeypatch.chdir(tmp_path)
    section = GUIDE.partition("## Back up and restore")[2].partition("\n## ")[0]
    commands = re.findall(r"^forelamp (.+)$", section, re.MULTILINE)
    CliRunner().invoke(app, ["migrate"])

    done = [CliRunner().invoke(app, command.split()) for command in commands]

    assert [one.exit_code for one in done] == [0] * 4
    assert "vehicles: 0" in done[-1].stdout


def test_guide_names_every_file() -> None:
    """The guide says what each file of the folder is."""
    named = set(re.findall(r"^\| \[([\w.]+)\]", GUIDE, re.MULTILINE))

    assert named == {path.name for path in DEPLOY.iterdir() if path.is_file()} - {"README.md", ".gitignore"}


def test_guide_sets_up_a_provider(tmp_path: Path) -> None:
    """The lines for a sign-in provider that the guide gives are settings that go together."""
    lines = GUIDE.partition("## Sign in through a provider")[2].partition("```sh\n")[2].partition("```")[0]
    given = dict(line.split("=", 1) for line in lines.split("\n") if line)
    (tmp_path / "secret").write_text("k7Jq\n", "utf-8")
    given |= {"FORELAMP_OIDC_CLIENT_SECRET_FILE": str(tmp_path / "secret"), "FORELAMP_HOME": str(tmp_path)}

    loaded = load_settings(given | {"FORELAMP_TLS_IN_FRONT": "true"})

    assert loaded.warnings == ()
    assert loaded.settings.oidc_client_secret == "k7Jq"  # noqa: S105 (made up)
    assert "`https://fleet.example/sign-in/return`" in GUIDE


def test_guide_quotes_what_is_said(tmp_path: Path) -> None:
    """The sentence of an open address that the guide quotes is the program's."""
    settings = Settings(home=tmp_path, database_url=f"sqlite:///{tmp_path / 'store.db'}", host="0.0.0.0")  # noqa: S104

    with pytest.raises(Exception, match="other machines would send their passwords") as caught:
        build(settings, Clock())

    assert "`forelamp: On '0.0.0.0' other machines would send their passwords ...`, exit 2" in GUIDE
    assert "FORELAMP_TLS_IN_FRONT=true" in str(caught.value)


@pytest.mark.skipif(not os.access("/usr/bin/systemd-analyze", os.X_OK), reason="systemd is not here")
def test_systemd_reads_the_unit() -> None:
    """Systemd itself finds nothing wrong but that the program is not installed here."""
    told = subprocess.run(
        ["systemd-analyze", "verify", str(DEPLOY / "forelamp.service")],
        capture_output=True,
        text=True,
        check=False,
    )
    faults = [line for line in told.stderr.splitlines() if "forelamp.service" in line]

    assert all("is not executable" in line for line in faults), told.stderr
