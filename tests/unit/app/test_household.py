"""One mail for the gardens of a household, answered as one or garden by garden; and its helpers."""

from __future__ import annotations

from datetime import date
from email.message import EmailMessage

import pytest
from msgspec.structs import replace

from strawbell.app.answering import Answering
from strawbell.app.pipeline import Pipeline
from strawbell.errors import OperationalError
from strawbell.model.configuration import Helper, Household
from strawbell.model.garden import Garden
from strawbell.model.journal import EntryKind
from support.answered import GROWER, NEIGHBOUR, Answered, buttons, soaked_first, text_of
from support.fake_clock import sender
from support.gardens import START, TIMES, at, forecast, garden, planting
from support.memory_store import MemoryStore

TOLLGATE = garden(soaked_first(), name="Tollgate")
MILL = garden(soaked_first("By the shed"), name="Mill plot")
LATER = garden(soaked_first(start_on=date(2028, 4, 3)), name="Elm Lane")
NELL = Helper(NEIGHBOUR, "Nell")


class Together(Answered):
    """Several gardens that are told and answered together."""

    def __init__(self, *gardens: Garden, helpers: tuple[Helper, ...] = ()) -> None:
        super().__init__(gardens[0])
        self.gardens = gardens
        self.pipeline = Pipeline(
            gardens,
            self.store,
            (self.mail,),
            lambda _, now: (self.weather(now), ()),
            sender(),
            household=Household(helpers=helpers),
        )
        self.answering = Answering(gardens, self.store, (self.mail,), helpers=helpers)

    def rows(self):
        every = [row for each in self.gardens for row in self.store.outbox(each.name, self.start)]
        return tuple(sorted(every, key=lambda row: row.created_at))

    def words_of(self, name: str) -> list[EntryKind]:
        kinds = (EntryKind.DONE, EntryKind.MISSED, EntryKind.TEMPERATURE, EntryKind.UNDONE)
        return [row.kind for row in self.store.journal(name) if row.kind in kinds]


def test_gardens_that_are_due_together_share_one_mail() -> None:
    """Each with its work and its buttons; a garden with nothing to say is not in it."""
    days = Together(TOLLGATE, MILL, LATER)
    mail = days.morning()
    assert len(days.rows()) == 1
    said = text_of(mail)
    assert "Tollgate, Mon 5 Apr" in said
    assert "Mill plot, Mon 5 Apr" in said
    assert str(mail["Subject"]).endswith("; Mill plot too")
    page = mail.get_body(("html",)).get_content()
    assert page.count("<h1") == 2
    assert page.count("<html") == page.count("</html>") == 1
    assert page.count("mailto:") == 4


@pytest.mark.parametrize(
    ("typed", "tollgate", "mill"),
    [
        ("done", [EntryKind.DONE], [EntryKind.DONE]),
        ("missed Tollgate", [EntryKind.MISSED], []),
        ("done mill plot", [], [EntryKind.DONE]),
        ("54 By the shed", [], [EntryKind.TEMPERATURE]),
        ("54", [], []),
    ],
)
def test_one_answer_is_for_all_or_for_the_one_it_names(
    typed: str, tollgate: list[EntryKind], mill: list[EntryKind]
) -> None:
    """A reading that could be of either is asked about."""
    days = Together(TOLLGATE, MILL)
    mail = days.morning()
    days.reply(mail, typed)
    assert (days.words_of("Tollgate"), days.words_of("Mill plot")) == (tollgate, mill)
    asked = [row.subject for row in days.rows()[1:]]
    assert bool(asked) is not bool(tollgate or mill)


def test_what_is_taken_back_is_what_was_said_last() -> None:
    """Of both gardens where it was of both, else of the one."""
    days = Together(TOLLGATE, MILL)
    mail = days.morning()
    days.reply(mail, "done", at(START, 8))
    days.reply(mail, "54 By the shed", at(START, 9))
    days.reply(mail, "undo", at(START, 10))
    assert days.words_of("Tollgate") == [EntryKind.DONE]
    assert days.words_of("Mill plot")[-1] is EntryKind.UNDONE
    days.reply(mail, "undo done", at(START, 11))
    assert days.words_of("Tollgate")[-1] is EntryKind.UNDONE


def test_a_button_is_of_its_garden() -> None:
    days = Together(TOLLGATE, MILL)
    mail = days.morning()
    days.press(mail, "Done")
    told = sum(bool(days.words_of(name)) for name in ("Tollgate", "Mill plot"))
    assert told == 1
    assert len(buttons(mail)) == 2


def test_a_mail_of_several_gardens_is_on_disk_with_all_their_decisions_or_with_none() -> None:
    """What the disk refused is decided and told again, as one."""
    days = Together(TOLLGATE, MILL)
    enqueue = days.store.enqueue
    days.store.enqueue = refused  # type: ignore[method-assign]
    with pytest.raises(OperationalError):
        days.pipeline.tick(at(START))
    assert days.store.journal("Tollgate") == days.store.journal("Mill plot") == ()
    days.store.enqueue = enqueue  # type: ignore[method-assign]
    days.pipeline.tick(at(START))
    assert len(days.rows()) == 1


def refused(_rows: object) -> int:
    raise OperationalError("full")


def away_week() -> Together:
    """Return two gardens, planted and hot, the first of which is left from day 51 on."""
    gone = replace(TIMES, away=((date(2027, 5, 25), date(2027, 5, 31)),))
    planted = garden(soaked_first(plantings=(planting(),)), name="Tollgate", times=gone)
    days = Together(planted, MILL, helpers=(NELL,))
    days.weather = lambda now: forecast(
        now, temperature_c=32.0, wind_m_s=6.0, radiation_w_m2=300.0, relative_humidity_percent=20.0
    )
    return days


def to_nell(days: Together) -> list[EmailMessage]:
    return [each for each in days.mails() if NEIGHBOUR in str(each["To"])]


def test_a_helper_is_told_of_the_water_of_the_garden_nobody_is_in() -> None:
    """From the first day away on, never of feed; and the grower is told that it is so."""
    days = away_week()
    first = days.morning(50)
    assert to_nell(days) == []
    assert "Nell is told about the watering." in " ".join(text_of(first).split())
    for day in range(51, 54):
        days.morning(day)
    mails = to_nell(days)
    assert mails
    for mail in mails:
        assert "Good morning, Nell." in text_of(mail)
        assert "Mill plot" not in text_of(mail)
        assert "blood meal" not in text_of(mail)


def test_a_helper_answers_with_a_token_of_their_own() -> None:
    """It counts from their address, and from no other."""
    days = away_week()
    for day in range(50, 54):
        days.morning(day)
    mail = to_nell(days)[0]
    moment = at(date(2027, 5, 28), 9)
    assert "not asked" in days.reply(mail, "54", moment, sender=GROWER)
    days.reply(mail, "54", moment, sender=NEIGHBOUR)
    assert days.words_of("Tollgate") == [EntryKind.TEMPERATURE]


def test_without_merging_every_garden_has_its_own_mail() -> None:
    store = MemoryStore()
    days = Answered()
    gardens = (TOLLGATE, MILL)
    pipeline = Pipeline(
        gardens, store, (days.mail,), lambda _, now: (days.weather(now), ()), sender(),
        household=Household(merge=False),
    )  # fmt: skip
    pipeline.tick(at(START))
    assert [len(store.outbox(each.name, START)) for each in gardens] == [1, 1]


def test_whoever_waters_gives_all_of_it_while_the_feed_waits() -> None:
    """What washes a feed in is no water of the day on which nobody feeds."""
    days = away_week()
    for day in (50, 51):
        days.morning(day)
    told = [
        row.data["water_per_bale_l"]
        for row in days.store.journal("Tollgate")
        if row.kind is EntryKind.TOLD and "-water-" in str(row.task)
    ]
    assert min(told) > 3.0
