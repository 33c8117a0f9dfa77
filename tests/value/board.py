"""What the advice is worth, over many start dates and years: calendar, Strawbell, oracle.

The value of a measure is (calendar - Strawbell) / (calendar - oracle), of the means over all
seasons in which all three are known: 1 is all there was to gain, 0 none of it, under 0 worse than
the calendar. Where calendar and oracle come out the same there was nothing to gain, and no value.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from math import fsum

from msgspec.structs import replace

from strawbell.model.garden import Garden, Planting
from strawbell.rehearsal.course import Course, course_of, planned_work
from strawbell.rehearsal.recorded import Weather
from strawbell.rehearsal.rehearse import rehearse
from strawbell.rehearsal.truth import Truth
from strawbell.season.journal_index import Record
from strawbell.season.local_time import DAY
from tests.value.decisions import Decision, decisions_of
from tests.value.journal_only import JournalOnly
from tests.value.measures import Measures, measure, to_hold
from tests.value.oracle import oracle_measures
from tests.value.verification import Contingency, counted

SEASON_DAYS = 56
"""How long a season is followed: conditioning, three weeks of growing, and room to wait in
(design choice) [days]."""
LEAD_IN_DAYS = 2
"""Known days wanted before a start: persistence looks back."""
NOTHING_TO_GAIN = 1e-9
"""Under this calendar and oracle count as the same: rounding only."""

Number = float | int | None


@dataclass(frozen=True, slots=True)
class Measure:
    """One row of the scoreboard: its name, how it is called, its unit, and where it is found."""

    name: str
    label: str
    unit: str
    of: Callable[[Measures], Number]


MEASURES: tuple[Measure, ...] = (
    Measure("washed_out", "nitrogen washed out", "percent", lambda each: each.washed_percent),
    Measure("fed_before_rain", "feedings before heavy rain", "", lambda each: each.fed_before_rain),
    Measure("fed_on_freeze", "feedings on freezing bales", "", lambda each: each.fed_on_freeze),
    Measure("days_to_ready", "days to ready", "day", lambda each: each.days_to_ready),
    Measure("dry_top", "dry top, first three weeks", "h", lambda each: each.dry_top_h),
    Measure("frost_nights", "frost nights unprotected", "", lambda each: each.frost_nights),
    Measure("messages", "messages a week", "", lambda each: each.messages_per_week),
)
"""The measures, each the smaller the better."""


@dataclass(frozen=True, slots=True)
class Season:
    """One batch from one start, judged three times on the same weather."""

    place: str
    garden: str
    batch: str
    start: date
    calendar: Measures
    strawbell: Measures
    oracle: Measures
    holds: Contingency
    late_holds: int
    """Feedings told as due in the morning and held later that day: they may have been given."""


@dataclass(frozen=True, slots=True)
class Score:
    """A measure over all seasons in which all three policies are known."""

    measure: Measure
    seasons: int
    calendar: float | None
    strawbell: float | None
    oracle: float | None
    value: float | None
    worse: int
    """Seasons in which Strawbell did worse than the calendar."""
    worst: Season | None
    """The season in which it did worst beside the calendar, None where it never did worse."""


@dataclass(frozen=True, slots=True)
class Scoreboard:
    """The scores of a set of seasons, and how good the holds were in all of them."""

    seasons: int
    places: tuple[str, ...]
    scores: tuple[Score, ...]
    holds: Contingency
    late_holds: int


def season_from(
    garden: Garden,
    weather: Weather,
    place: str,
    start: date,
    skill: str,
    seed: int,
    days: int = SEASON_DAYS,
) -> tuple[Season, ...]:
    """Return how the batches of a garden fare when the first of them starts on a date."""
    plan = starting(garden, start)
    last = start + timedelta(days=days - 1)
    store, messages = told_season(plan, weather, (start, last), skill, seed)
    truth = Truth(plan, weather)
    journal = store.journal(plan.name)
    record = Record.of(journal)
    batches = [batch for batch in plan.batches if batch.start_on <= last]
    plain = [course_of(truth, batch, (), Record(), last) for batch in batches]
    ours = [course_of(truth, batch, journal, record, last) for batch in batches]
    work_on = {on for course in plain for on, *_ in planned_work(truth, course.walk, course.batch)}
    return tuple(
        _season(
            truth,
            place,
            start,
            pair,
            (len(work_on), messages),
            tuple(decisions_of(pair[1].batch, record, pair[1].walk, journal)),
        )
        for pair in zip(plain, ours, strict=True)
    )


def _season(
    truth: Truth,
    place: str,
    start: date,
    courses: tuple[Course, Course],
    messages: tuple[int, int],
    decisions: Sequence[Decision],
) -> Season:
    plain, ours = courses
    calendar = measure(truth, plain, messages[0])
    return Season(
        place=place,
        garden=truth.garden.name,
        batch=plain.batch.name,
        start=start,
        calendar=calendar,
        strawbell=measure(truth, ours, messages[1]),
        oracle=oracle_measures(truth, plain, calendar, courses),
        holds=holds_of(truth, decisions),
        late_holds=sum(each.turned and not each.held for each in decisions),
    )


def told_season(
    plan: Garden, weather: Weather, dates: tuple[date, date], skill: str, seed: int
) -> tuple[JournalOnly, int]:
    """Return the journal of a season told by the very cycle of the daemon, and its messages."""
    store = JournalOnly()
    told = rehearse((plan,), {plan.place.time_zone: weather}, store, (), dates, skill, seed)
    return store, sum(len(each.notices) for each in told)


def starting(garden: Garden, start: date) -> Garden:
    """Return a garden moved so that its first batch starts on a date; all gaps stay."""
    moved_by = start - min(batch.start_on for batch in garden.batches)

    def planted(each: Planting) -> Planting:
        return each if each.plant_on is None else replace(each, plant_on=each.plant_on + moved_by)

    batches = tuple(
        replace(
            batch,
            start_on=batch.start_on + moved_by,
            plantings=tuple(planted(each) for each in batch.plantings),
        )
        for batch in garden.batches
    )
    return replace(garden, batches=batches)


def holds_of(truth: Truth, decisions: Iterable[Decision]) -> Contingency:
    """Return how good the holds were: each day by its morning and the 24 h after it."""
    return counted((each.held, to_hold(truth.after(each.at))) for each in decisions)


def starts_in(
    weather: Weather, latitude: float, days: int = SEASON_DAYS, every: int = 10
) -> tuple[date, ...]:
    """Return start dates of every spring in a record: each tenth day of its three months.

    March to May, in the south September to November.
    """
    months = (3, 6) if latitude >= 0 else (9, 12)
    first = weather.report.first + DAY * LEAD_IN_DAYS
    last = weather.report.last - timedelta(days=days)
    return tuple(
        on
        for year in range(first.year, last.year + 1)
        for on in _every(date(year, months[0], 1), date(year, months[1], 1), every)
        if first <= on <= last
    )


def _every(first: date, end: date, days: int) -> Iterator[date]:
    while first < end:
        yield first
        first += timedelta(days=days)


def scoreboard(seasons: Sequence[Season]) -> Scoreboard:
    """Return the scores of seasons."""
    holds = Contingency()
    for season in seasons:
        holds += season.holds
    return Scoreboard(
        seasons=len(seasons),
        places=tuple(dict.fromkeys(season.place for season in seasons)),
        scores=tuple(score(each, seasons) for each in MEASURES),
        holds=holds,
        late_holds=sum(season.late_holds for season in seasons),
    )


def by_place(seasons: Sequence[Season]) -> Mapping[str, Scoreboard]:
    """Return a scoreboard of each place."""
    places = dict.fromkeys(season.place for season in seasons)
    return {
        place: scoreboard([season for season in seasons if season.place == place])
        for place in places
    }


def score(wanted: Measure, seasons: Sequence[Season]) -> Score:
    """Return a measure over the seasons in which all three policies are known."""
    known = [
        (season, figures) for season in seasons if (figures := _figures(wanted, season)) is not None
    ]
    if not known:
        return Score(wanted, 0, None, None, None, None, 0, None)
    calendar, strawbell, oracle = (
        fsum(figures[at] for _, figures in known) / len(known) for at in range(3)
    )
    worst, figures = max(known, key=lambda each: each[1][1] - each[1][0])
    return Score(
        measure=wanted,
        seasons=len(known),
        calendar=calendar,
        strawbell=strawbell,
        oracle=oracle,
        value=value_of(calendar, strawbell, oracle),
        worse=sum(ours - plain > NOTHING_TO_GAIN for _, (plain, ours, _) in known),
        worst=worst if figures[1] - figures[0] > NOTHING_TO_GAIN else None,
    )


def _figures(wanted: Measure, season: Season) -> tuple[float, float, float] | None:
    """Return a measure of calendar, Strawbell and oracle, None unless all three are known."""
    plain, ours, best = map(wanted.of, (season.calendar, season.strawbell, season.oracle))
    if plain is None or ours is None or best is None:
        return None
    return float(plain), float(ours), float(best)


def value_of(calendar: float, strawbell: float, oracle: float) -> float | None:
    """Return how much of what there was to gain was gained, None where there was nothing."""
    if calendar - oracle <= NOTHING_TO_GAIN:
        return None
    return (calendar - strawbell) / (calendar - oracle)
