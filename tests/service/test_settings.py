"""Settings: environment before file before default, every fault at once, secrets unseen."""

from pathlib import Path

import pytest

from service.settings import PREFIX, WrongSettings, describe_settings, load_settings


def test_defaults(tmp_path: Path) -> None:
    """Without anything given the service runs on this machine, on a file in its home."""
    settings = load_settings({"FORELAMP_HOME": str(tmp_path)}).settings

    assert settings.host == "127.0.0.1"
    assert settings.database_url == f"sqlite:///{tmp_path / 'forelamp.db'}"


def test_environment_wins(tmp_path: Path) -> None:
    """The environment is read before the file, the file before the default."""
    (tmp_path / "forelamp.toml").write_text('port = 9000\nfleet_zone = "Europe/Oslo"\n', "utf-8")

    settings = load_settings({"FORELAMP_HOME": str(tmp_path), "FORELAMP_PORT": "9001"}).settings

    assert (settings.port, settings.fleet_zone) == (9001, "Europe/Oslo")


def test_every_fault_at_once(tmp_path: Path) -> None:
    """Every fault is told with its source, in one go."""
    given = {
        "FORELAMP_HOME": str(tmp_path),
        "FORELAMP_PORT": "many",
        "FORELAMP_FLEET_ZONE": "Moon/Base",
        "FORELAMP_PRACTICE": "perhaps",
    }

    with pytest.raises(WrongSettings) as caught:
        load_settings(given)

    assert len(caught.value.faults) == 3
    assert all(any(one.startswith(name) for one in caught.value.faults) for name in list(given)[1:])


def test_secrets_are_not_shown(tmp_path: Path) -> None:
    """A password that is a placeholder is refused, and not quoted."""
    given = {"FORELAMP_HOME": str(tmp_path), "FORELAMP_DATABASE_URL": "postgresql://a:changeme@db/x"}

    with pytest.raises(WrongSettings) as caught:
        load_settings(given)

    assert "changeme" not in str(caught.value)


def test_secret_from_file(tmp_path: Path) -> None:
    """A secret may stand in a file that the environment names."""
    (tmp_path / "url").write_text("postgresql://fleet:k7Jq@db/x\n", "utf-8")

    settings = load_settings(
        {"FORELAMP_HOME": str(tmp_path), "FORELAMP_DATABASE_URL_FILE": str(tmp_path / "url")}
    ).settings

    assert settings.database_url == "postgresql://fleet:k7Jq@db/x"


def test_unknown_names_warn(tmp_path: Path) -> None:
    """A name with our prefix that means nothing is told, not ignored."""
    loaded = load_settings({"FORELAMP_HOME": str(tmp_path), "FORELAMP_PROT": "1"})

    assert loaded.warnings == ("FORELAMP_PROT: there is no such setting.",)


def test_every_setting_is_described() -> None:
    """Each setting has a variable, a default and a meaning."""
    assert all(name.startswith(PREFIX) and meaning for name, _, meaning in describe_settings())


@pytest.mark.parametrize("text", ["port = [1", "port = true", "port = 1.5"])
def test_wrong_file(tmp_path: Path, text: str) -> None:
    """A file that cannot be read, or holds something else, is a fault that names the file."""
    (tmp_path / "forelamp.toml").write_text(text, "utf-8")

    with pytest.raises(WrongSettings, match=r"forelamp\.toml"):
        load_settings({"FORELAMP_HOME": str(tmp_path)})


OIDC = {"FORELAMP_OIDC_ISSUER": "https://id.example/realm", "FORELAMP_OIDC_CLIENT_ID": "forelamp"}


@pytest.mark.parametrize(
    ("changes", "named"),
    [
        ({"FORELAMP_OIDC_CLIENT_ID": ""}, "FORELAMP_OIDC_CLIENT_ID"),
        ({"FORELAMP_TLS_IN_FRONT": "true"}, "FORELAMP_PUBLIC_URL"),
        (
            {"FORELAMP_TLS_IN_FRONT": "true", "FORELAMP_PUBLIC_URL": "http://fleet.example"},
            "FORELAMP_PUBLIC_URL",
        ),
        ({"FORELAMP_PUBLIC_URL": "https://fleet.example/"}, "FORELAMP_PUBLIC_URL"),
        ({"FORELAMP_OIDC_ISSUER": "http://id.example"}, "FORELAMP_OIDC_ISSUER"),
        ({"FORELAMP_OIDC_ISSUER": "id.example"}, "FORELAMP_OIDC_ISSUER"),
        ({"FORELAMP_OIDC_CLIENT_SECRET": "changeme"}, "FORELAMP_OIDC_CLIENT_SECRET"),
        ({"FORELAMP_OIDC_CLAIM": "two words"}, "FORELAMP_OIDC_CLAIM"),
        ({"FORELAMP_OIDC_LABEL": "two\nlines"}, "FORELAMP_OIDC_LABEL"),
    ],
)
def test_provider_that_cannot_be_meant(tmp_path: Path, changes: dict[str, str], named: str) -> None:
    """Settings of a sign-in provider that cannot be meant, or do not go together, are told; no secret is."""
    with pytest.raises(WrongSettings) as caught:
        load_settings({"FORELAMP_HOME": str(tmp_path), **OIDC, **changes})

    assert caught.value.faults[0].startswith(named)
    assert "changeme" not in str(caught.value)


def test_provider_that_can(tmp_path: Path) -> None:
    """A provider over HTTPS is taken; one without is for trials on this machine."""
    for issuer in (
        "https://id.example",
        "https://id.example/realm/",
        "http://127.0.0.1:9000",
        "http://localhost",
    ):
        given = {"FORELAMP_HOME": str(tmp_path), **OIDC, "FORELAMP_OIDC_ISSUER": issuer}
        assert load_settings(given).settings.oidc_issuer == issuer


def test_secrets_are_not_printed(tmp_path: Path) -> None:
    """Whoever prints the settings, in a trace for instance, prints no secret."""
    settings = load_settings(
        {"FORELAMP_HOME": str(tmp_path), **OIDC, "FORELAMP_OIDC_CLIENT_SECRET": "k7Jq-9"}
    ).settings

    assert "k7Jq-9" not in repr(settings)
