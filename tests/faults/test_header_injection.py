"""No text in any field makes a header, a recipient or a long line, on any supported Python.

Looked at as it arrives at a mail server, byte by byte, from a process of each interpreter.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from email import message_from_bytes, policy
from email.utils import parseaddr
from functools import lru_cache
from pathlib import Path

import pytest

from strawbell.edges.mime import envelope_address
from support import hostile_mail
from support.hostile_mail import FIELDS, FORMS, RECIPIENT, case
from support.interpreters import SUPPORTED, run_under
from support.measured import record
from support.scripted_smtp import Message, ScriptedSmtp

LONGEST_LINE_BYTES = 998
"""RFC 5322, section 2.1.1."""

HEADERS = [
    b"From",
    b"To",
    b"Subject",
    b"Date",
    b"Message-ID",
    b"In-Reply-To",
    b"References",
    b"List-Id",
    b"Auto-Submitted",
    b"MIME-Version",
    b"Content-Type",
]
CASES = [(name, field) for name in FORMS for field in FIELDS]


@dataclass(frozen=True)
class Arrived:
    """What one interpreter sent, and what it said of it."""

    fates: dict[str, str]
    digests: dict[str, str]
    messages: list[Message]
    commands: list[str]


@lru_cache(maxsize=len(SUPPORTED))
def sent_under(version: str) -> Arrived:
    """Let an interpreter send everything."""
    with ScriptedSmtp() as server:
        said = json.loads(run_under(version, Path(hostile_mail.__file__), str(server.port)))
    return Arrived(said["forms"], said["names"], server.messages, server.heard)


def wrong_headers(message: bytes) -> bool:
    """Return whether the raw bytes have other header lines than the expected ones."""
    head = message.partition(b"\r\n\r\n")[0]
    # Whatever some reader takes for a line break counts as one.
    lines = head.replace(b"\r\n", b"\n").replace(b"\r", b"\n").replace(b"\0", b"\n").split(b"\n")
    return [line.partition(b":")[0] for line in lines if line[:1] not in b" \t"] != HEADERS


@pytest.mark.parametrize("version", SUPPORTED)
def test_every_form_arrives_as_one_message_with_the_expected_headers(version: str) -> None:
    """Fifteen forms in seven fields; each is accepted, and nothing but what was meant is there."""
    arrived = sent_under(version)
    assert set(arrived.fates.values()) == {"accepted"}
    assert len(arrived.fates) == len(arrived.messages) == len(CASES)
    wrong = [
        one
        for one, message in zip(CASES, arrived.messages, strict=True)
        if wrong_headers(message.body)
    ]
    longest = max(len(line) for one in arrived.messages for line in one.body.split(b"\r\n"))
    loose = sum(
        one.body.replace(b"\r\n", b"").count(sign)
        for one in arrived.messages
        for sign in (b"\r", b"\n", b"\0")
    )
    record(19, "forms in fields", len(CASES), target=">= 105")
    record(19, "wrong headers", len(wrong), target="= 0")
    record(19, "longest line", longest, "B", target=f"<= {LONGEST_LINE_BYTES}")
    assert loose == 0, "no line break but CRLF and no NUL"


@pytest.mark.parametrize("version", SUPPORTED)
def test_every_message_has_the_one_recipient_that_is_configured(version: str) -> None:
    """As the server heard it; an address that was tampered with is still only one."""
    arrived = sent_under(version)
    asked = [line for line in arrived.commands if line.lower().startswith("rcpt")]
    assert len(asked) == len(CASES)
    exact = f"<{RECIPIENT}>"
    astray = []
    for (name, field), line in zip(CASES, asked, strict=True):
        meant = exact
        if field == "recipient address":
            meant = f"<{envelope_address(case(field, FORMS[name])[2])}>"
        if line.partition(":")[2] != meant or line.count("<") != 1 or line.count(">") != 1:
            astray.append((name, field, line))
    assert astray == []
    record(19, "recipients astray", len(astray), target="= 0")


@pytest.mark.parametrize("version", SUPPORTED)
def test_sender_and_recipient_read_back_as_they_were_configured(version: str) -> None:
    """Where the address itself is sound, From and To hold it and no second one."""
    arrived = sent_under(version)
    checked = 0
    for (_, field), message in zip(CASES, arrived.messages, strict=True):
        if field.endswith("address"):
            continue
        head = message_from_bytes(message.body, policy=policy.compat32)
        assert parseaddr(head["From"])[1] == "bell@example.org"
        assert parseaddr(head["To"])[1] == RECIPIENT
        checked += 1
    assert checked == len(FORMS) * (len(FIELDS) - 2)


@pytest.mark.parametrize("version", SUPPORTED[1:])
def test_every_interpreter_sends_the_same_bytes(version: str) -> None:
    """A message is frozen by one version of Python and may be sent by another."""
    first, other = sent_under(SUPPORTED[0]), sent_under(version)
    assert [one.body for one in first.messages] == [one.body for one in other.messages]
    record(19, f"alike under 3.11 and {version}", len(other.messages))
    assert [line.lower() for line in first.commands] == [line.lower() for line in other.commands]


@pytest.mark.parametrize("version", SUPPORTED[1:])
def test_every_channel_renders_hostile_names_alike_under_every_interpreter(version: str) -> None:
    """Forty names in every notice, for mail, folder and desktop."""
    first, other = sent_under(SUPPORTED[0]).digests, sent_under(version).digests
    assert first == other
    record(18, f"alike under 3.11 and {version}", len(other))
