"""A failure ends in somebody being told."""

from __future__ import annotations

import random
from datetime import date, datetime, timedelta

import pytest
from msgspec.structs import replace

from strawbell.app.outbox import DeliveryRun, Sender, queue
from strawbell.app.trouble import (
    failure_sentence,
    failures_for_brief,
    report_failures,
    report_settings,
)
from strawbell.model.notice import Delivery, Notice, NoticeKind, OutboxRow, OutboxState, Outcome
from support import notices
from support.fake_clock import DAWN, FakeClock
from support.memory_store import MemoryStore

GARDEN = "Orchard corner"
DAY = timedelta(days=1)


class Answering:
    """A channel with one answer."""

    def __init__(self, name: str, answer: Delivery) -> None:
        self.name = name
        self.recipients = (name,)
        self.answer = answer
        self.sent: list[OutboxRow] = []

    def render(self, notice: Notice, recipient: str, message_id: str) -> bytes:
        return notice.short.encode()

    def send(self, row: OutboxRow) -> Delivery:
        self.sent.append(row)
        return self.answer

    def close(self) -> None:
        pass


REFUSED = Delivery(Outcome.FOR_GOOD, "No such mailbox.")
WRONG = Delivery(Outcome.LATER, "Wrong password.", settings_problem=True)
FINE = Delivery(Outcome.ACCEPTED, "Shown.")


def notice(occasion: str = "") -> Notice:
    return notices.notice(occasion=occasion, text="500 g", html="")


def drained(store: MemoryStore, *channels: Answering) -> DeliveryRun:
    runs = [Sender(FakeClock(), random.Random(1)).deliver_due(store, each) for each in channels]
    return DeliveryRun("all", tuple(result for run in runs for result in run.results))


def test_a_refused_mail_is_told_on_the_desktop_once() -> None:
    """The other channel gets the sentence once; the next brief will say it again."""
    store, mail, desk = MemoryStore(), Answering("email", REFUSED), Answering("desktop", FINE)
    store.enqueue(queue(notice(), [mail], DAWN, store.secret))
    drained(store, mail)
    told = report_failures(store, [mail, desk], DAWN)
    assert [row.state for row in told] == [OutboxState.FOR_GOOD]
    assert report_failures(store, [mail, desk], DAWN) == ()
    drained(store, mail, desk)
    assert len(mail.sent) == 1
    assert b"No such mailbox" in desk.sent[0].body
    assert report_failures(store, [mail, desk], DAWN) == ()
    drained(store, mail, desk)
    assert len(desk.sent) == 1
    assert [row.kind for row in store.unsurfaced()] == [NoticeKind.MORNING]


def test_without_another_channel_the_failure_waits_for_the_next_brief() -> None:
    """It stays unmarked, and the brief finds it."""
    store, mail = MemoryStore(), Answering("email", REFUSED)
    store.enqueue(queue(notice(), [mail], DAWN, store.secret))
    drained(store, mail)
    assert report_failures(store, [mail], DAWN) == ()
    assert len(store.unsurfaced()) == 1
    (row,) = failures_for_brief(store, GARDEN, store.unsurfaced())
    assert failure_sentence(row) == ('"Feed Row A" of Fri 9 Apr (email): No such mailbox.')


def test_without_another_channel_what_failed_lies_in_the_spare_one() -> None:
    """The notice itself with the same bytes, once for all its recipients, and why it lies there."""
    store, folder = MemoryStore(), Answering("folder", FINE)
    mail = Answering("email", REFUSED)
    mail.recipients = ("a@example.org", "b@example.org")
    store.enqueue(queue(notice(), [mail], DAWN, store.secret))
    drained(store, mail)
    for _ in range(2):
        report_failures(store, [mail], DAWN, folder)
        drained(store, folder)
    copy, why = sorted(folder.sent, key=lambda row: row.kind)
    assert copy.body == mail.sent[0].body
    assert copy.message_id == mail.sent[0].message_id
    assert b"No such mailbox" in why.body
    assert len(store.unsurfaced()) == 2


def test_all_that_waits_for_mended_settings_lies_in_the_spare_channel_meanwhile() -> None:
    """Also what was not tried, since the channel rests; the mail itself still waits."""
    store, mail, folder = MemoryStore(), Answering("email", WRONG), Answering("folder", FINE)
    for occasion in ("a", "b"):
        store.enqueue(queue(notice(occasion), [mail], DAWN, store.secret))
    report = Sender(FakeClock(), random.Random(1)).deliver_due(store, mail)
    assert report_settings(store, [mail], report, DAWN, folder) == 3
    assert report_settings(store, [mail], report, DAWN, folder) == 0
    drained(store, folder)
    assert sorted(row.kind for row in folder.sent) == ["morning", "morning", "trouble"]
    waiting = [row for row in store.outbox(GARDEN, date(2027, 4, 9)) if row.channel == "email"]
    assert {row.state for row in waiting} == {OutboxState.LATER, OutboxState.DUE}


def test_the_spare_channel_is_left_alone_while_another_works() -> None:
    """And it does not stand in for itself."""
    store, folder = MemoryStore(), Answering("folder", REFUSED)
    mail, desk = Answering("email", REFUSED), Answering("desktop", FINE)
    store.enqueue(queue(notice(), [mail], DAWN, store.secret))
    drained(store, mail)
    report_failures(store, [mail, desk], DAWN, folder)
    assert not store.due(DAWN, ("folder",))
    report_failures(store, [mail], DAWN, folder)
    drained(store, folder)
    assert report_failures(store, [mail], DAWN, folder) == ()


def brief_of(store: MemoryStore, on: date, at: datetime, *channels: Answering) -> None:
    """Send a brief that tells of what is waiting."""
    told = failures_for_brief(store, GARDEN, store.unsurfaced())
    store.mark_surfaced(row.unique_key for row in told)
    made = replace(notice("brief"), local_date=on, created_at=at, expires_at=at + DAY)
    store.enqueue(queue(made, channels, at, store.secret))
    clock = FakeClock()
    clock.advance(at - clock.now())
    for channel in channels:
        Sender(clock, random.Random(1)).deliver_due(store, channel)


@pytest.mark.parametrize(("desktop", "told_again"), [(REFUSED, True), (FINE, False)])
def test_what_was_told_in_a_brief_that_reached_nobody_is_told_again(
    desktop: Delivery, told_again: bool
) -> None:
    """A failure stands in the next brief; when that one fails everywhere, in the one after."""
    store = MemoryStore()
    lost = replace(notice("lost"), kind=NoticeKind.TROUBLE)
    store.enqueue(queue(lost, [Answering("email", REFUSED)], DAWN, store.secret))
    drained(store, Answering("email", REFUSED))
    brief_of(
        store,
        date(2027, 4, 10),
        DAWN + DAY,
        Answering("email", REFUSED),
        Answering("desktop", desktop),
    )
    next_told = failures_for_brief(store, GARDEN, store.unsurfaced())
    assert (NoticeKind.TROUBLE in {row.kind for row in next_told}) is told_again
    assert len({row.unique_key for row in next_told}) == len(next_told)
    brief_of(store, date(2027, 4, 11), DAWN + 2 * DAY, Answering("email", FINE))
    assert failures_for_brief(store, GARDEN, store.unsurfaced()) == ()


def test_a_failed_notice_about_a_failure_does_not_breed() -> None:
    """When both channels fail, nothing new is queued; both wait for the brief."""
    store, mail, desk = MemoryStore(), Answering("email", REFUSED), Answering("desktop", REFUSED)
    store.enqueue(queue(notice(), [mail], DAWN, store.secret))
    drained(store, mail)
    report_failures(store, [mail, desk], DAWN)
    drained(store, desk)
    for _ in range(3):
        assert report_failures(store, [mail, desk], DAWN) == ()
    assert [row.kind for row in store.unsurfaced()] == [NoticeKind.MORNING, NoticeKind.TROUBLE]


def test_wrong_settings_are_told_once_a_day_however_many_messages_wait() -> None:
    """Two messages and two passes make one notice; the next day makes one more."""
    store, mail, desk = MemoryStore(), Answering("email", WRONG), Answering("desktop", FINE)
    for occasion in ("a", "b"):
        store.enqueue(queue(notice(occasion), [mail], DAWN, store.secret))
    report = drained(store, mail)
    assert report_settings(store, [mail, desk], report, DAWN) == 1
    assert report_settings(store, [mail, desk], report, DAWN) == 0
    drained(store, desk)
    assert b"Wrong password." in desk.sent[0].body
    assert b"strawbell check" in desk.sent[0].body
