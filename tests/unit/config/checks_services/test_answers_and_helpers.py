"""Where answers come in, and where they cross the network."""

from __future__ import annotations

from pathlib import Path

import pytest

from strawbell.config.load import read_plain
from strawbell.errors import GrowerError

GARDEN = """
[[gardens]]
name = "Mill lane"
latitude = 52.09
longitude = -1.95
time_zone = "Europe/London"
resting = true
"""
EMAIL = """
[email]
host = "smtp.example.org"
username = "ada@example.org"
password = "not so secret"
recipients = ["ada@example.org"]
"""


def read(tmp_path: Path, text: str):
    path = tmp_path / "config.toml"
    path.write_text(GARDEN + text, encoding="utf-8")
    path.chmod(0o600)
    return read_plain(path, {})


def problems(tmp_path: Path, text: str) -> str:
    with pytest.raises(GrowerError) as met:
        read(tmp_path, text)
    return str(met.value)


def test_a_mailbox_takes_login_and_address_from_the_outgoing_mail(tmp_path: Path) -> None:
    """Only its host has to be said."""
    read_in = read(tmp_path, f'{EMAIL}[inbox]\nhost = "imap.example.org"\n').inbox
    assert read_in is not None
    assert (read_in.port, read_in.security, read_in.folder) == (993, "tls", "INBOX")
    assert "ada@example.org" in read_in.address
    assert (read_in.username, read_in.password) == (None, None)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ('[inbox]\nhost = "imap.example.org"\nsecurity = "none"\n', "in the clear"),
        ('[push]\nurl = "http://push.example.org"\ntopic = "x"\n', "in the clear"),
        ('[push]\nurl = "https://push.example.org"\ntopic = "a b"\n', "no name of a topic"),
        ('[inbox]\nhost = "imap.example.org"\npoll_every_min = 1\n', "poll_every_min"),
    ],
)
def test_what_cannot_be_meant_is_refused(tmp_path: Path, text: str, said: str) -> None:
    """Before anything is sent."""
    assert said in problems(tmp_path, EMAIL + text)


def test_a_mailbox_without_mail_is_doubted(tmp_path: Path) -> None:
    """Nothing is sent that could be answered."""
    warnings = read(tmp_path, '[inbox]\nhost = "imap.example.org"\n').warnings
    assert any("no mail is sent" in each.what for each in warnings)


def test_no_secret_shows(tmp_path: Path) -> None:
    """Neither of the mailbox nor of the phone."""
    text = (
        f'{EMAIL}[inbox]\nhost = "imap.example.org"\npassword = "hushhush"\n'
        '[push]\nurl = "https://push.example.org"\ntopic = "x"\ntoken = "hushhush"\n'
        'answer_token = "hushhush"\n'
    )
    assert "hushhush" not in repr(read(tmp_path, text))


NELL = """
[[household.helpers]]
address = "nell@example.org"
name = "Nell"
gardens = ["Mill lane"]
"""


def test_a_helper_is_told_of_the_water_while_nobody_is_there(tmp_path: Path) -> None:
    """Unless the configuration says otherwise; a household is told in one mail."""
    household = read(tmp_path, f"{EMAIL}{NELL}").household
    (nell,) = household.helpers
    assert household.merge
    assert (nell.only_water, nell.only_while_away) == (True, True)
    assert nell.is_told("Mill lane", is_away=True)
    assert not nell.is_told("Mill lane", is_away=False)
    assert not nell.is_told("Elm Lane", is_away=True)


def test_a_helper_who_would_never_be_told_is_a_mistake(tmp_path: Path) -> None:
    """No mail goes out, or the garden is none of ours."""
    assert "no mail is sent" in problems(tmp_path, NELL)
    strange = NELL.replace("Mill", "Elm")
    assert "there is no garden of that name" in problems(tmp_path, f"{EMAIL}{strange}")
