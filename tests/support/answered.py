"""A garden told by mail, and a mailbox in memory that its grower answers from."""

from __future__ import annotations

import email
import re
from datetime import date, datetime, timedelta
from email import policy
from email.message import EmailMessage
from html import unescape
from urllib.parse import parse_qs, unquote, urlsplit

from strawbell.agronomy.schedules import SCHEDULES
from strawbell.app.answering import Answering
from strawbell.app.pipeline import Pipeline
from strawbell.edges.inbox import read_letter
from strawbell.edges.smtp import SmtpChannel
from strawbell.model.configuration import MailSettings
from strawbell.model.garden import Batch, Garden
from strawbell.model.journal import GROWERS_KINDS, EntryKind, JournalEntry
from strawbell.model.notice import OutboxRow
from support.fake_clock import sender
from support.gardens import START, at, batch, forecast, garden
from support.letters import letter
from support.memory_store import MemoryStore

GROWER, NEIGHBOUR = "ada@example.org", "nell@example.org"
BALES = "bales+in@example.org"


def soaked_first(name: str = "Row A", **changes: object) -> Batch:
    """Return bales whose first day is one of water alone."""
    return batch(name=name, schedule=SCHEDULES["soak-first"], **changes)


class Answered:
    """Mornings that are told, and what is answered to them."""

    def __init__(
        self,
        plan: Garden | None = None,
        recipients: tuple[str, ...] = (GROWER,),
        start: date = START,
    ) -> None:
        self.store = MemoryStore()
        self.start = start
        self.plan = plan or garden(soaked_first(start_on=start))
        self.mail = SmtpChannel(
            MailSettings("localhost", 1, "none", "bales@example.org", recipients), answers_to=BALES
        )
        self.weather = forecast
        self.pipeline = Pipeline(
            (self.plan,), self.store, (self.mail,), lambda _, now: (self.weather(now), ()), sender()
        )
        self.answering = Answering((self.plan,), self.store, (self.mail,))
        self._numbers = 0

    def morning(self, day: int = 1, hour: int = 6, minute: int = 30) -> EmailMessage:
        """Tell a morning and return its mail."""
        self.pipeline.tick(at(self.start + timedelta(days=day - 1), hour, minute))
        return self.mails()[-1]

    def rows(self) -> tuple[OutboxRow, ...]:
        return self.store.outbox(self.plan.name, self.start)

    def mails(self) -> list[EmailMessage]:
        return [email.message_from_bytes(row.body, policy=policy.default) for row in self.rows()]

    def reply(
        self,
        mail: EmailMessage,
        body: str,
        when: datetime | None = None,
        sender: str = GROWER,
        **changes: object,
    ) -> str:
        """Reply to a mail as a mail program does, and return what the log says of it."""
        self._numbers += 1
        more = {
            "In-Reply-To": str(mail["Message-ID"]),
            "References": f"{mail['References']} {mail['Message-ID']}",
        }
        given: dict[str, object] = {
            "subject": f"Re: {mail['Subject']}",
            "identity": f"<r{self._numbers}@mail.example.org>",
            "more": more,
        }
        return self.take(letter(body, sender=sender, **{**given, **changes}), when)  # type: ignore[arg-type]

    def press(self, mail: EmailMessage, label: str, when: datetime | None = None) -> str:
        """Press a button of a mail, and send what the mail program opens as it is."""
        address, subject, body = opened(mail, label)
        assert address == BALES
        self._numbers += 1
        identity = f"<b{self._numbers}@mail.example.org>"
        return self.take(letter(body, subject, GROWER, identity=identity), when)

    def take(self, raw: bytes, when: datetime | None = None) -> str:
        moment = when or at(self.start, 9)
        return self.answering.take(read_letter(raw, moment), moment)

    def words(self) -> list[JournalEntry]:
        """Return the grower's own rows."""
        return [row for row in self.store.journal(self.plan.name) if row.kind in GROWERS_KINDS]

    def said(self) -> list[tuple[EntryKind, str | None]]:
        return [(row.kind, row.task) for row in self.words()]


def day_of(day: int):
    return START.fromordinal(START.toordinal() + day - 1)


def text_of(mail: EmailMessage) -> str:
    part = mail.get_body(("plain",))
    assert part is not None
    return str(part.get_content())


def page_of(mail: EmailMessage) -> str:
    part = mail.get_body(("html",))
    assert part is not None
    return str(part.get_content())


def buttons(mail: EmailMessage) -> dict[str, str]:
    """Return the links of the buttons by what stands on them."""
    found = re.findall(r'<a href="(mailto:[^"]+)"[^>]*>([^<]+)</a>', page_of(mail))
    return {unescape(label): unescape(link) for link, label in found}


def opened(mail: EmailMessage, label: str) -> tuple[str, str, str]:
    """Return address, subject and body of the mail that a button opens."""
    parts = urlsplit(buttons(mail)[label])
    # In these links a plus is a plus (RFC 6068).
    fields = parse_qs(parts.query.replace("+", "%2B"))
    return unquote(parts.path), fields["subject"][0], fields["body"][0]
