"""Where answers come in, and where they cross the network."""

from __future__ import annotations

from pathlib import Path

import pytest

from strawbell.config.plain import read_plain
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
