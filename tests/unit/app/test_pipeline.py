"""The pipeline: what is told is on disk with its notices, once, whatever the clock does."""

from __future__ import annotations

import contextlib
from collections.abc import Callable
from datetime import datetime, timedelta

from strawbell.app.pipeline import Pipeline, Told
from strawbell.errors import OperationalError, Outlook
from strawbell.model.forecast import Forecast
from strawbell.model.garden import Place
from strawbell.model.journal import EntryKind
from strawbell.model.notice import Delivery, Notice, NoticeKind, OutboxRow, Outcome
from support.fake_clock import sender
from support.gardens import START, at, batch, forecast, garden, hour_at, on_day, planting
from support.memory_store import MemoryStore

Change = Callable[[datetime], Forecast | None]


class Paper:
    """A channel that keeps the text."""

    name = "folder"
    recipients = ("folder",)

    def render(self, notice: Notice, recipient: str, message_id: str) -> bytes:
        """Return the text alone."""
        return notice.text.encode()

    def send(self, row: OutboxRow) -> Delivery:
        """Accept everything."""
        return Delivery(Outcome.ACCEPTED)

    def close(self) -> None:
        """Nothing to let go of."""


class Days:
    """A garden under a weather that the test sets."""

    def __init__(self, plan=None) -> None:
        self.store = MemoryStore()
        self.weather: Change = forecast
        self.plan = plan or garden()
        self.pipeline = Pipeline((self.plan,), self.store, (Paper(),), self._forecast, sender())

    def _forecast(self, place: Place, now: datetime) -> tuple[Forecast | None, tuple[str, ...]]:
        seen = self.weather(now)
        return seen, () if seen else ("The service is down.",)

    def tick(self, now: datetime) -> tuple[Told, ...]:
        return self.pipeline.tick(now)

    def kinds(self) -> list[NoticeKind]:
        return [row.kind for row in self.store.outbox(self.plan.name, START)]

    def entries(self, kind: EntryKind) -> list:
        return [row for row in self.store.journal(self.plan.name) if row.kind is kind]


def test_a_morning_is_told_once() -> None:
    """Ticking again, or after a restart, tells nothing new."""
    days = Days()
    days.tick(at(START))
    days.tick(at(START, 6, 45))
    again = Pipeline((days.plan,), days.store, (Paper(),), days._forecast, sender())
    again.tick(at(START, 6, 50))
    assert days.kinds().count(NoticeKind.MORNING) == 1


def test_the_decision_and_its_notice_are_one_transaction() -> None:
    """When the outbox cannot take the notice, the brief is not in the journal either."""
    days = Days()

    def full(rows: object) -> int:
        raise OSError("disk full")

    days.store.enqueue = full  # type: ignore[method-assign]
    with contextlib.suppress(OSError):
        days.tick(at(START))
    assert days.entries(EntryKind.BRIEF) == []


def test_a_clock_put_back_tells_no_second_morning() -> None:
    """An hour, a day: the date has been told."""
    days = Days()
    days.tick(at(on_day(2)))
    days.tick(at(on_day(2), 5, 30))
    days.tick(at(on_day(2), 6, 31))
    assert days.kinds().count(NoticeKind.MORNING) == 1


def test_a_late_start_catches_up_until_the_give_up_hour() -> None:
    """At 19:59 it is told, at 20:00 it is written down as missed."""
    late = Days()
    late.tick(at(on_day(1)))
    late.tick(at(on_day(2), 19, 59))
    assert late.kinds().count(NoticeKind.MORNING) == 2
    too_late = Days()
    too_late.tick(at(on_day(1)))
    too_late.tick(at(on_day(2), 20, 0))
    assert too_late.kinds().count(NoticeKind.MORNING) == 1
    assert [row.local_date for row in too_late.entries(EntryKind.NOT_TOLD)] == [on_day(2)]


def test_ten_days_down_make_one_catch_up_brief() -> None:
    """One mail, and a row for every date that was missed."""
    days = Days()
    days.tick(at(on_day(1)))
    days.tick(at(on_day(12)))
    assert days.kinds().count(NoticeKind.MORNING) == 2
    assert len(days.entries(EntryKind.NOT_TOLD)) == 10


def test_a_frost_that_comes_up_is_told_at_once_and_once() -> None:
    """The afternoon's forecast freezes the night: the feeding told as due is held."""
    days = Days()
    for day in range(1, 5):
        days.tick(at(on_day(day)))
    days.tick(at(on_day(5)))
    frost = hour_at(at(on_day(6), 5, 0), temperature_c=-3.0)
    days.weather = lambda now: forecast(now, frost)
    days.tick(at(on_day(5), 10, 30))
    days.tick(at(on_day(5), 11, 45))
    assert days.kinds().count(NoticeKind.CHANGE) == 1
    (row,) = days.entries(EntryKind.TAKEN_BACK)
    assert (row.task, row.state) == ("row-a-5-feed", "held")


def test_a_hold_is_taken_back_only_by_a_margin() -> None:
    """0.2 degC over zero changes nothing, 1.5 degC does, once."""
    days = Days()
    for day in range(1, 5):
        days.tick(at(on_day(day)))

    def night(low: float) -> Change:
        return lambda now: forecast(now, hour_at(at(on_day(6), 5, 0), temperature_c=low))

    days.weather = night(-1.0)
    days.tick(at(on_day(5)))
    days.weather = night(0.2)
    days.tick(at(on_day(5), 8, 0))
    assert NoticeKind.CHANGE not in days.kinds()
    days.weather = night(1.5)
    days.tick(at(on_day(5), 9, 5))
    days.weather = night(0.5)
    days.tick(at(on_day(5), 10, 10))
    assert days.kinds().count(NoticeKind.CHANGE) == 1


def test_an_outage_is_warned_of_once_and_cleared_once() -> None:
    """Forecasts fail after the brief and come back later."""
    days = Days()
    days.tick(at(on_day(5)))
    days.weather = lambda now: None
    for hour in (8, 9, 10):
        days.tick(at(on_day(5), hour, 5))
    days.weather = forecast
    for hour in (11, 12, 13):
        days.tick(at(on_day(5), hour, 10))
    assert days.kinds().count(NoticeKind.TROUBLE) == 1
    assert days.kinds().count(NoticeKind.ALL_CLEAR) == 1


def test_an_outage_takes_back_no_hold() -> None:
    """Without a forecast what was told stays told."""
    days = Days()
    for day in range(1, 5):
        days.tick(at(on_day(day)))
    frost = hour_at(at(on_day(6), 5, 0), temperature_c=-3.0)
    days.weather = lambda now: forecast(now, frost)
    days.tick(at(on_day(5)))
    days.weather = lambda now: None
    days.tick(at(on_day(5), 9, 0))
    assert NoticeKind.CHANGE not in days.kinds()


def test_an_evening_note_comes_only_with_something_to_say() -> None:
    """A frost on planted bales does, a mild ordinary evening does not."""
    plan = garden(batch(plantings=(planting(),)))
    days = Days(plan)
    for day in range(1, 15):
        days.tick(at(on_day(day)))
    days.tick(at(on_day(14), 18, 30))
    assert days.kinds()[-1] is not NoticeKind.EVENING
    frost = hour_at(at(on_day(16), 4, 0), temperature_c=-2.0)
    days.weather = lambda now: forecast(now, frost)
    days.tick(at(on_day(15)))
    days.tick(at(on_day(15), 18, 30))
    days.tick(at(on_day(15), 19, 45))
    assert days.kinds().count(NoticeKind.EVENING) >= 1
    assert days.kinds()[-1] is NoticeKind.EVENING


def test_what_an_evening_finds_has_to_be_bought_goes_with_the_next_morning() -> None:
    """Once, three days before it is needed, and with no notice of its own."""
    days = Days()
    for day in range(1, 9):
        days.tick(at(on_day(day)))
        days.tick(at(on_day(day), 18, 30))
    found = {row.local_date: row.text for row in days.entries(EntryKind.EVENING) if row.text}
    (on, supplies), *_ = found.items()
    assert supplies.startswith("Have ")
    assert NoticeKind.EVENING not in days.kinds()
    told = [
        row.local_date
        for row in days.store.outbox(days.plan.name, START)
        if all(part in " ".join(row.body.decode().split()) for part in supplies.splitlines())
    ]
    assert told == [on + timedelta(days=1)]


def test_an_empty_garden_is_left_in_peace() -> None:
    """Before the first soaking nothing is sent, but the daemon's mornings are on record."""
    days = Days()
    days.tick(at(START - timedelta(days=5)))
    assert days.kinds() == []
    assert len(days.entries(EntryKind.BRIEF)) == 1


def test_a_look_that_cannot_be_due_costs_nothing() -> None:
    """Between occasions the pipeline says so without looking."""
    days = Days()
    days.tick(at(START))
    assert not days.pipeline.due(at(START, 6, 50))
    assert days.pipeline.due(at(START, 7, 31))


class Shelf:
    """Calendars in memory; `broken` makes every write fail."""

    def __init__(self) -> None:
        self.files: dict[str, bytes] = {}
        self.written = 0
        self.broken = False

    def read(self, name: str) -> bytes | None:
        return self.files.get(name)

    def write(self, name: str, content: bytes) -> None:
        if self.broken:
            raise OperationalError("The calendar folder did not work.", Outlook.FOR_NOW)
        self.files[name] = content
        self.written += 1


def with_shelf() -> tuple[Days, Shelf]:
    """Return a garden whose calendar is kept."""
    days, shelf = Days(), Shelf()
    days.pipeline = Pipeline((days.plan,), days.store, (Paper(),), days._forecast, sender(), shelf)
    return days, shelf


def test_the_calendar_is_written_with_the_first_morning_and_left_alone_after() -> None:
    """A watch that finds nothing, and an evening that moves nothing, leave the file as it is."""
    days, shelf = with_shelf()
    for moment in (at(START), at(START, 9), at(START, 18)):
        days.tick(moment)
    assert list(shelf.files) == ["orchard-corner"]
    assert shelf.written == 1


def test_the_calendar_moves_with_a_hold() -> None:
    """A feeding that is held stands a day later in the file, with a higher sequence."""
    days, shelf = with_shelf()
    for day in (1, 2, 3):
        days.tick(at(on_day(day)))
    days.tick(at(on_day(4)))
    before = shelf.files["orchard-corner"]
    days.weather = lambda now: forecast(now, temperature_c=-3.0)
    days.tick(at(on_day(5)))
    after = shelf.files["orchard-corner"]
    assert before != after
    assert after.count(b"SEQUENCE:1") > before.count(b"SEQUENCE:1")


def test_a_calendar_that_cannot_be_written_costs_no_morning() -> None:
    """The brief goes out, the trouble is said, and the next look tries again."""
    days, shelf = with_shelf()
    shelf.broken = True
    (told,) = days.tick(at(START))
    assert told.complaints == ("The calendar folder did not work.",)
    assert days.kinds() == [NoticeKind.MORNING]
    shelf.broken = False
    days.tick(at(START, 9))
    assert shelf.written == 1


def test_a_morning_told_late_speaks_for_the_evening_too() -> None:
    """After a downtime that ends between the two there is one message, not two."""
    days = Days()
    cold = at(on_day(6), 2, 0)
    days.weather = lambda now: forecast(now, hour_at(cold, temperature_c=-2.0))
    (told,) = days.tick(at(on_day(5), 19))
    assert [each.value for each in told.occasions] == ["morning", "evening"]
    assert days.kinds() == [NoticeKind.MORNING]
    assert len(days.entries(EntryKind.EVENING)) == 1
    assert days.tick(at(on_day(5), 19, 30)) == () or len(days.kinds()) == 1
