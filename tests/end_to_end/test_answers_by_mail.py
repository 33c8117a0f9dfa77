"""Answers by mail through a real mailbox: a Dovecot, read by IMAP, with nothing listening here."""

from __future__ import annotations

import ssl
from collections.abc import Callable, Iterator
from datetime import datetime
from zoneinfo import ZoneInfo

import pytest

from strawbell.app.answering import Answering
from strawbell.app.ports import Unheard
from strawbell.edges.inbox import JUNK_EVERY_S, MOST_AT_ONCE, ImapInbox
from strawbell.model.configuration import InboxSettings, MailSettings
from strawbell.model.journal import EntryKind
from support.answered import GROWER, Answered, opened
from support.dovecot import Mailbox, dovecot
from support.gardens import ZONE, at
from support.letters import letter, report
from support.scripted_smtp import client_context

TODAY = datetime.now(ZoneInfo(ZONE)).date()
"""A server dates what it takes by its own clock, and nothing ahead of it."""
MORNING = at(TODAY, 9)


@pytest.fixture(scope="module")
def server() -> Iterator[Mailbox]:
    with dovecot() as box:
        yield box


def inbox(
    box: Mailbox,
    security: str = "tls",
    *,
    port: int | None = None,
    password: str = "",
    folder: str | None = "INBOX",
    every_s: float = 300.0,
    tls_context: Callable[[], ssl.SSLContext] | None = None,
) -> ImapInbox:
    own = box.tls if security == "tls" else box.plain
    settings = InboxSettings(
        "127.0.0.1",
        port or own,
        security,
        GROWER,
        "INBOX",
        5,
        box.user,
        password or box.password,  # type: ignore[arg-type]
    )
    mail = MailSettings(None, 25, "none", GROWER, ())
    trusting = tls_context or (lambda: client_context(box.authority))
    return ImapInbox(settings, mail, folder, every_s, tls_context=trusting)


def replied(mail, body: str, identity: str, **changes: object) -> bytes:
    more = {"References": f"{mail['References']} {mail['Message-ID']}"}
    given = {"subject": f"Re: {mail['Subject']}", "sender": GROWER, "more": more}
    return letter(body, identity=identity, **{**given, **changes})  # type: ignore[arg-type]


def test_a_morning_is_answered_through_a_mailbox(server: Mailbox) -> None:
    """A button sent as it is, a correction typed in two programs' shapes, a replay, a forgery."""
    days = Answered(start=TODAY)
    mail = days.morning(hour=8)
    answering = Answering((days.plan,), days.store, (days.mail,), ears=(inbox(server),))
    (ear,) = answering.ears
    server.deliver(letter("Lunch?\n", "Lunch", "x@example.org", identity="<lunch@x>"))
    _, subject, body = opened(mail, "Done")
    server.deliver(letter(body, subject, GROWER, identity="<button@x>"))
    assert answering.listen(ear, MORNING, 0.0) == ()
    assert [kind for kind, _ in days.said()] == [EntryKind.DONE]

    quoted = "Missed, hose burst\n\nOn Mon, 5 Apr, Strawbell\nwrote:\n> Reply done\n"
    page = '<div dir="ltr">Done<br></div><div class="gmail_quote">missed</div>'
    server.deliver(
        replied(mail, quoted, "<top@x>"),
        replied(mail, page, "<html@x>", kind='text/html; charset="utf-8"'),
        replied(mail, page, "<html@x>", kind='text/html; charset="utf-8"'),
        replied(mail, "missed\n", "<eve@x>", sender="eve@example.com"),
        letter("missed\n", f"Re: {mail['Subject']}", GROWER, identity="<bare@x>"),
        replied(mail, "missed\n", "<auto@x>", more={"Auto-Submitted": "auto-replied"}),
        report(named=str(mail["Message-ID"])),
    )
    lines = answering.listen(ear, MORNING, 400.0)
    kinds = [kind for kind, _ in days.said()]
    assert kinds == [EntryKind.DONE, EntryKind.MISSED, EntryKind.DONE]
    assert sum("came again" in line for line in lines) == 1
    assert sum("not asked" in line for line in lines) == 1
    assert sum("came back" in line for line in lines) == 1

    assert answering.listen(ear, MORNING, 800.0) == ()
    assert len(days.said()) == 3
    assert all(b"Seen" not in each for each in server.flags())


def test_a_mailbox_that_is_numbered_anew_repeats_no_effect(server: Mailbox) -> None:
    """The mark is void, the mails are read again, and known."""
    days = Answered(start=TODAY)
    mail = days.morning(hour=8)
    server.deliver(replied(mail, "done\n", "<once@x>"))
    answering = Answering((days.plan,), days.store, (days.mail,), ears=(inbox(server),))
    (ear,) = answering.ears
    for now_s in (0.0, 400.0):
        answering.listen(ear, MORNING, now_s)
        days.store.set_mark("ear inbox", "1:1")
    assert len(days.said()) == 1


def test_an_answer_among_the_junk_is_found(server: Mailbox) -> None:
    """Whatever the folder is called; what else lies in it is nobody's business."""
    days = Answered(start=TODAY)
    mail = days.morning(hour=8)
    server.deliver(letter("Win!\n", "done", GROWER, identity="<win@x>"), folder="Spamverdacht")
    server.deliver(replied(mail, "missed\n", "<filtered@x>"), folder="Spamverdacht")
    ears = (inbox(server, folder=None, every_s=JUNK_EVERY_S),)
    answering = Answering((days.plan,), days.store, (days.mail,), ears=ears)
    assert answering.listen(answering.ears[0], MORNING, 0.0) == ()
    assert [kind for kind, _ in days.said()] == [EntryKind.MISSED]
    assert answering.due(JUNK_EVERY_S - 1.0) == ()


def test_a_big_mail_is_read_only_at_its_beginning(server: Mailbox) -> None:
    """Its answer stands there; ten megabytes are not loaded."""
    days = Answered(start=TODAY)
    mail = days.morning(hour=8)
    server.deliver(replied(mail, "done\n\n" + "x" * 70 + "\n" * 5_000_000, "<big@x>"))
    answering = Answering((days.plan,), days.store, (days.mail,), ears=(inbox(server),))
    answering.listen(answering.ears[0], MORNING, 0.0)
    assert len(days.said()) == 1


@pytest.mark.parametrize("security", ["tls", "starttls", "none"])
def test_a_mailbox_is_opened_however_it_is_secured(server: Mailbox, security: str) -> None:
    """With a password beyond ASCII; what a first look finds stays where it is."""
    assert "INBOX can be read" in inbox(server, security).probe()


def test_a_flood_is_read_a_piece_at_a_time(server: Mailbox) -> None:
    """And the mark goes on with it."""
    ear = inbox(server)
    before = ear.gather("", MORNING)
    server.deliver(*(letter(identity=f"<{n}@x>") for n in range(MOST_AT_ONCE + 5)))
    first = ear.gather(before.mark, MORNING)
    assert (len(first.arrivals), first.is_all) == (MOST_AT_ONCE, False)
    rest = ear.gather(first.mark, MORNING)
    assert (len(rest.arrivals), rest.is_all) == (5, True)
    assert ear.gather(rest.mark, MORNING).arrivals == ()


@pytest.mark.parametrize("security", ["tls", "starttls"])
def test_a_certificate_nobody_vouches_for_is_refused(server: Mailbox, security: str) -> None:
    """Before a password is sent; it is the settings that have to be looked at."""
    with pytest.raises(Unheard, match="certificate") as met:
        inbox(server, security, tls_context=ssl.create_default_context).probe()
    assert met.value.settings_problem


@pytest.mark.parametrize(
    ("changes", "said", "settings"),
    [
        ({"password": "wrong"}, "login", True),
        ({"password": "falsch\u00e4"}, "login", True),
        ({"folder": "Bales"}, "no folder", True),
        ({"port": 1}, "could not be asked", False),
    ],
)
def test_what_keeps_a_mailbox_shut_is_said(
    server: Mailbox, changes: dict[str, object], said: str, settings: bool
) -> None:
    """And whether the grower has to mend it."""
    with pytest.raises(Unheard, match=said) as met:
        inbox(server, **changes).gather("", MORNING)
    assert met.value.settings_problem is settings
