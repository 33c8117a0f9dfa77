"""What the rest of the program is given of a configuration."""

from __future__ import annotations

import pickle
from pathlib import Path

import pytest

from strawbell.config.load import load, plain, read_plain
from strawbell.errors import GrowerError
from strawbell.model.configuration import Configuration
from support.config_mistakes import SECRET, SOUND, TODAY

WITHOUT_MAIL = SOUND[: SOUND.index("[email]")] + SOUND[SOUND.index("[desktop]") :]


def made(folder: Path, *edits: tuple[str, str], text: str = SOUND) -> Configuration:
    """Return the plain configuration of the sound one, with parts of it replaced."""
    for old, new in edits:
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    path = folder / "config.toml"
    path.write_text(text, encoding="utf-8")
    path.chmod(0o600)
    return plain(load(path, {}, today=TODAY))


def test_every_part_comes_over(tmp_path: Path) -> None:
    """Path, gardens, services, mail."""
    found = made(tmp_path)
    assert found.path == str(tmp_path / "config.toml")
    assert [garden.name for garden in found.gardens] == ["Mill lane"]
    assert found.weather.sources == ("open-meteo", "met-norway")
    assert found.weather.contact == "grower@example.org"
    assert found.mail is not None
    assert (found.mail.host, found.mail.port, found.mail.security) == (
        "smtp.example.org",
        587,
        "starttls",
    )
    assert (found.mail.sender, found.mail.recipients) == (
        '"Strawbell" <strawbell@example.org>',
        ("grower@example.org",),
    )
    assert (found.mail.username, found.mail.password) == ("grower", SECRET)
    assert found.desktop is False
    assert found.warnings == ()


def test_without_mail_there_are_no_mail_settings(tmp_path: Path) -> None:
    """Not empty ones."""
    assert made(tmp_path, text=WITHOUT_MAIL).mail is None


def test_sendmail_has_no_host(tmp_path: Path) -> None:
    """Whatever stands there from before."""
    mail = made(tmp_path, ('host = "smtp.example.org"', 'via = "sendmail"')).mail
    assert mail is not None
    assert mail.host is None


@pytest.mark.parametrize("key", ["password_command", "oauth_token_command"])
def test_a_command_comes_over_and_is_in_no_representation(tmp_path: Path, key: str) -> None:
    """Some write the secret into it."""
    mail = made(tmp_path, (f'password = "{SECRET}"', f'{key} = "echo {SECRET}"')).mail
    assert mail is not None
    assert (mail.password, getattr(mail, key)) == (None, f"echo {SECRET}")
    assert SECRET not in repr(mail)


def test_a_server_without_login_has_no_password(tmp_path: Path) -> None:
    """None, not an empty one."""
    mail = made(tmp_path, ('username = "grower"\n', ""), (f'password = "{SECRET}"\n', "")).mail
    assert mail is not None
    assert (mail.username, mail.password) == (None, None)


@pytest.mark.parametrize(("security", "port"), [("starttls", 587), ("tls", 465)])
def test_a_port_that_is_not_given_follows_from_the_security(
    tmp_path: Path, security: str, port: int
) -> None:
    """As servers have it (RFC 8314 and RFC 6409)."""
    mail = made(
        tmp_path, ("port = 587\n", ""), ('security = "starttls"', f'security = "{security}"')
    ).mail
    assert mail is not None
    assert mail.port == port


@pytest.mark.parametrize(
    ("username", "sender"),
    [("row@example.org", "row@example.org"), ("grower", "grower@example.org")],
)
def test_a_sender_that_is_not_given_is_the_login_or_the_first_recipient(
    tmp_path: Path, username: str, sender: str
) -> None:
    """Whichever is an address, with the name of Strawbell."""
    mail = made(
        tmp_path,
        ('sender = "strawbell@example.org"\n', ""),
        ('username = "grower"', f'username = "{username}"'),
    ).mail
    assert mail is not None
    assert mail.sender == f'"Strawbell" <{sender}>'


@pytest.mark.parametrize("given", [True, False])
def test_the_desktop_is_asked_only_where_it_is_wanted(tmp_path: Path, given: bool) -> None:
    """As the switch says."""
    assert made(tmp_path, ("enabled = false", f"enabled = {str(given).lower()}")).desktop is given


def test_folders_are_the_configured_ones_or_none(tmp_path: Path) -> None:
    """None stands for the default."""
    bare = made(tmp_path)
    assert (bare.notices, bare.state, bare.calendars) == (None, None, None)
    more = f'[folder]\npath = "{tmp_path}/n"\n\n[state]\npath = "{tmp_path}/s"\n\n[desktop]'
    found = made(tmp_path, ("[desktop]", more))
    assert (found.notices, found.state) == (f"{tmp_path}/n", f"{tmp_path}/s")


def test_only_addresses_that_are_given_are_overruled(tmp_path: Path) -> None:
    """By the name of the service."""
    assert made(tmp_path).weather.base_urls == {}
    own = '[weather.base_urls]\nmet-norway = "https://example.org/met"\n\n[desktop]'
    found = made(tmp_path, ("[desktop]", own))
    assert found.weather.base_urls == {"met-norway": "https://example.org/met"}


def test_warnings_come_along(tmp_path: Path) -> None:
    """They are told when the daemon starts."""
    (warning,) = made(tmp_path, ("rain_hold_mm = 12.7", "rain_hold_mm = 0.5")).warnings
    assert "inches" in warning.what


def test_the_password_is_in_no_representation(tmp_path: Path) -> None:
    """Nothing that is logged or shown has it."""
    assert SECRET not in repr(made(tmp_path))


def test_it_can_be_sent_from_one_process_to_another(tmp_path: Path) -> None:
    """Plain values, the same on both sides, and nobody changes them."""
    found = made(tmp_path)
    assert pickle.loads(pickle.dumps(found)) == found
    with pytest.raises(AttributeError):
        found.desktop = True  # type: ignore[misc]


def test_mistakes_are_raised_all_at_once(tmp_path: Path) -> None:
    """As loading finds them."""
    path = tmp_path / "config.toml"
    path.write_text(SOUND.replace("bales = 6", "bales = 0").replace("port = 587", "port = 0"))
    path.chmod(0o600)
    with pytest.raises(GrowerError) as caught:
        read_plain(path, {})
    assert len([each for each in caught.value.problems if "out of range" in each.what]) == 2


def test_the_environment_is_heard(tmp_path: Path) -> None:
    """It goes before the file."""
    path = tmp_path / "config.toml"
    path.write_text(SOUND, encoding="utf-8")
    path.chmod(0o600)
    found = read_plain(path, {"STRAWBELL_EMAIL__PASSWORD": "of the environment"})
    assert found.mail is not None
    assert found.mail.password == "of the environment"
