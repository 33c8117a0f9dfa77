"""What a season came to, from the journal alone: fed, held, missed, watered, warned, picked, paid.

Nothing is decided here and no weather is read: what was told and answered is added up. Dates on
which nothing was told say nothing; they are counted as such.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from datetime import date, timedelta

from msgspec import Struct

from strawbell.agronomy.cold_and_heat import is_harmed, plant_low
from strawbell.agronomy.doses import dose_of
from strawbell.agronomy.supplies import worth
from strawbell.model.brief import (
    Action,
    AlertCode,
    AlertKey,
    FeedSeries,
    ReasonCode,
    State,
    TaskKey,
)
from strawbell.model.feeds import Feed
from strawbell.model.forecast import DayWeather
from strawbell.model.garden import Batch, Garden, Planting, ScheduleDay, slug
from strawbell.model.journal import EntryKind, Journal, JournalEntry
from strawbell.model.season import (
    BatchSummary,
    ChanceKept,
    Chances,
    CoreReading,
    CoreReadings,
    CostNoted,
    CropSummary,
    FeedingDay,
    FeedingFate,
    FeedUse,
    Summary,
)
from strawbell.season.conditioning import is_feeding, step_key
from strawbell.season.feedings import FeedingGiven, feedings_given
from strawbell.season.fold import state_at
from strawbell.season.journal_index import (
    Answer,
    DayLog,
    JournalIndex,
    figure,
    reasons_kept,
    standing,
    task_of,
)
from strawbell.season.lessons import Past, garden_hints
from strawbell.season.local_time import DAY
from strawbell.season.stage import (
    BatchState,
    is_picking,
    once_key,
    over_on,
    planted_on,
    planting_label,
)

TOLD = frozenset({EntryKind.TOLD, EntryKind.TAKEN_BACK})
"""Rows that tell work."""
PIECES = "pieces"
"""Figure of a harvest that was counted."""
PLANTING = "planting"
"""Figure of a harvest: the label of the planting it is of."""
BOUGHT_BEFORE = timedelta(days=120)
"""Costs noted this long before the first soaking are of the season: bales and feed are bought
ahead of it (design choice: over a winter)."""
G_PER_KG = 1000.0
RAIN_CHANCE, FREEZE_CHANCE = "rain_chance", "freeze_chance"
"""What a chance is kept as with the work that it was told with."""


class BatchHistory(Struct, frozen=True):
    """A batch from its first soaking through today, read once out of the journal.

    `told` is the last row that each task had on each date, `harvests` the rows of pickings; `state`
    and `log` are where it stands today, once that is told, and what the journal says of it.
    """

    garden: Garden
    batch: Batch
    today: date
    state: BatchState
    log: DayLog
    index: JournalIndex
    told: Mapping[tuple[date, TaskKey], JournalEntry]
    harvests: tuple[JournalEntry, ...]

    @property
    def held_for(self) -> frozenset[ReasonCode]:
        """Every reason that any work was held for."""
        held = (entry for entry in self.told.values() if entry.state == State.HELD)
        return frozenset(code for entry in held for code in _reasons_of(entry))

    def answers(self, key: TaskKey) -> list[Answer]:
        """Return the grower's words of this season about a task."""
        words = self.index.answers.get(key, ())
        return [word for word in words if word.on >= self.batch.start_on]

    def dates(self, found: Iterable[date]) -> tuple[date, ...]:
        """Return those of some dates that are of this season, in order."""
        return _between(self.batch.start_on, found, self.today)


def summarise(garden: Garden, journal: Journal, index: JournalIndex, today: date) -> Summary:
    """Return what a season came to through today, from the first soaking of a batch on.

    `journal` are all rows, also of earlier seasons; batches that begin later are left out. Today
    counts once its brief was told.
    """
    rows = standing(journal)
    begun = [batch for batch in garden.batches if batch.start_on <= today]
    first = min((batch.start_on for batch in begun), default=None)
    since = first or date.max
    pasts = [_history(garden, batch, rows, index, today) for batch in begun]
    batches = tuple(map(_batch, pasts))
    kept = _between(since, index.briefed, today)
    not_told = _between(since, {*index.not_told(today), *index.excused}, today)
    north = garden.place.latitude >= 0
    return Summary(
        garden=garden.name,
        first=first,
        last=today,
        kept_since=min(kept, default=None),
        mornings_told=len(kept),
        not_told=not_told,
        batches=batches,
        feeds=_feeds(begun, batches),
        costs=_costs(rows, first, today),
        hints=garden_hints(
            [
                Past(past.batch, went, past.held_for, north)
                for past, went in zip(pasts, batches, strict=True)
            ],
            not_told,
        ),
        chances=chances_kept(
            garden, (each for each in rows if each.local_date >= since), index, today
        ),
    )


def _history(
    garden: Garden, batch: Batch, rows: Journal, index: JournalIndex, today: date
) -> BatchHistory:
    # Until today's brief is told, nothing of today has been told that could be counted.
    until = today + DAY if today in index.briefed else today
    own = [row for row in rows if row.batch == batch.name and row.local_date >= batch.start_on]
    keys = ((row, task_of(row)) for row in own if row.kind in TOLD)
    return BatchHistory(
        garden,
        batch,
        today,
        state_at(garden, batch, index, until),
        index.day(batch, today),
        index,
        {(row.local_date, key): row for row, key in keys if key is not None},
        tuple(row for row in own if row.kind is EntryKind.HARVEST),
    )


def _between(first: date, found: Iterable[date], last: date) -> tuple[date, ...]:
    return tuple(sorted(on for on in found if first <= on <= last))


def chances_kept(
    garden: Garden, journal: Iterable[JournalEntry], index: JournalIndex, today: date
) -> Chances:
    """Return how often it rained so on the day, and froze so in its night, by the chance told.

    A night has the low of the date that it ends on. What was told today is not over.
    """

    def rained(on: date) -> bool | None:
        rain_mm = index.weather.get(on, DayWeather()).rain_mm
        return None if rain_mm is None else rain_mm >= garden.rules.rain_hold_mm

    def froze(on: date) -> bool | None:
        low_c = index.weather.get(on + DAY, DayWeather()).low_c
        return None if low_c is None else low_c <= garden.rules.freeze_hold_c

    rows = tuple(journal)
    return Chances(
        _kept(rows, RAIN_CHANCE, today, rained), _kept(rows, FREEZE_CHANCE, today - DAY, froze)
    )


def _kept(
    journal: Journal, name: str, before: date, came: Callable[[date], bool | None]
) -> tuple[ChanceKept, ...]:
    """Return the chances told on mornings before a date, each morning once, by tenths."""
    said: dict[date, dict[tuple[str | None, str | None], tuple[float, bool]]] = {}
    for entry in journal:
        chance = figure(entry.data, name)
        if entry.kind in TOLD and chance is not None and entry.local_date < before:
            work = said.setdefault(entry.local_date, {})
            work[entry.batch, entry.task] = (chance, entry.state == State.HELD)
    kept: dict[int, list[tuple[bool, bool]]] = {}
    for on, work in said.items():
        true = came(on)
        if true is not None:
            chance = max(chance for chance, _ in work.values())
            held = any(held for _, held in work.values())
            kept.setdefault(round(chance * 10), []).append((true, held))
    return tuple(
        ChanceKept(
            tenths,
            times=len(days),
            came=sum(came for came, _ in days),
            held=sum(held for _, held in days),
            needless=sum(held and not came for came, held in days),
        )
        for tenths, days in sorted(kept.items())
    )


def harvested_so_far(
    journal: Iterable[JournalEntry], batch: Batch, planting: Planting
) -> tuple[float | None, float | None]:
    """Return what was noted of a planting, in kg and in pieces, each None when none was."""
    return _amounts(_harvests_of(batch, planting, standing(journal)))


def _batch(past: BatchHistory) -> BatchSummary:
    batch, state, alerts = past.batch, past.state, past.index.alerts
    hot = AlertKey(AlertCode.HOT_DRY, slug(batch.name))
    nights = _frost_nights(past)
    return BatchSummary(
        batch=batch.name,
        bales=batch.bales,
        start_on=batch.start_on,
        conditioned_on=state.sequence.finished_on,
        conditioned_by_plan=batch.start_on + DAY * (len(batch.schedule.days) - 1),
        feedings=_feedings(past),
        water_l=_water_l(past),
        frost_nights=nights,
        mild_nights=_mild_nights(past, (on for on in nights if on + DAY < past.today)),
        hot_dry_days=past.dates(on for on, told in alerts.items() if hot in told),
        readings=_readings(past),
        crops=tuple(_crop(past, each) for each in batch.plantings),
        spread_on=state.done.get(once_key(batch.name, Action.SPREAD)),
    )


def _feedings(past: BatchHistory) -> tuple[FeedingDay, ...]:
    """Return every feeding by date: given, held, missed."""
    batch, today = past.batch, past.today
    steps = {step_key(batch, step): step for step in batch.schedule.days if is_feeding(step)}
    counted = {each.key: each for each in feedings_given(batch, past.state, past.log)}
    keys = {*steps, *(key for _, key in past.told if key.series is FeedSeries.SEASON), *counted}
    found = [_given(past, each) for each in counted.values() if each.on <= today]
    for (on, key), entry in past.told.items():
        is_given = key in counted and counted[key].on == on
        if key in keys and entry.state == State.HELD and not is_given and on <= today:
            found.append(_of(batch, key, on, FeedingFate.HELD, steps.get(key), entry))
    for key in keys:
        for word in _misses(past, key):
            on = _told_before(past, key, word.on) or word.on
            told = past.told.get((on, key))
            found.append(_of(batch, key, on, FeedingFate.MISSED, steps.get(key), told))
    return tuple(sorted(found, key=lambda each: (each.on, each.fate.given, each.key.text())))


def _given(past: BatchHistory, given: FeedingGiven) -> FeedingDay:
    words = past.answers(given.key)
    if words and words[-1].done:
        fate = FeedingFate.CONFIRMED
    else:
        told = (given.on, given.key) in past.told
        fate = FeedingFate.TOLD if told else FeedingFate.SUPPOSED
    feed = past.log.amounts.get(given.key, {}).get("feed")
    return FeedingDay(
        on=given.on,
        key=given.key,
        day=None if given.step is None else given.step.day,
        fate=fate,
        feed=str(feed or ("" if given.feed is None else given.feed.name)),
        nitrogen_per_bale_g=given.nitrogen_per_bale_g,
        total_g=given.total_g,
    )


def _of(
    batch: Batch,
    key: TaskKey,
    on: date,
    fate: FeedingFate,
    step: ScheduleDay | None,
    entry: JournalEntry | None,
) -> FeedingDay:
    planned = dose_of(batch, step) if step is not None else None
    data = entry.data if entry is not None else {}
    nitrogen_g, total_g = figure(data, "nitrogen_per_bale_g"), figure(data, "total_g")
    feed = data.get("feed")
    if planned is not None:
        nitrogen_g = planned.nitrogen_per_bale_g if nitrogen_g is None else nitrogen_g
        total_g = planned.total_g if total_g is None else total_g
        feed = feed or planned.feed
    return FeedingDay(
        on=on,
        key=key,
        day=step.day if step is not None else None,
        fate=fate,
        reasons=_reasons_of(entry) if entry is not None and fate is FeedingFate.HELD else (),
        feed=str(feed or ""),
        nitrogen_per_bale_g=nitrogen_g,
        total_g=total_g,
    )


def _reasons_of(entry: JournalEntry) -> tuple[ReasonCode, ...]:
    """Return the reasons that work was told with, as far as they are known today."""
    known = {code.value: code for code in ReasonCode}
    return tuple(known[each] for each in reasons_kept(entry.data) if each in known)


def _misses(past: BatchHistory, key: TaskKey) -> Iterator[Answer]:
    """Yield the words of this season that a feeding was missed, the last one of each date."""
    last_of_date = {word.on: word for word in past.answers(key)}
    yield from (word for on, word in last_of_date.items() if not word.done and on <= past.today)


def _told_before(past: BatchHistory, key: TaskKey, on: date) -> date | None:
    """Return when a task was told as due last, up to a date: a missed one is of that date."""
    return max(
        (
            day
            for (day, told), entry in past.told.items()
            if told == key and day <= on and entry.state == State.DUE
        ),
        default=None,
    )


def _water_l(past: BatchHistory) -> float | None:
    amounts = [
        each * (figure(entry.data, "times_a_day") or 1.0) * past.batch.bales
        for (on, _), entry in past.told.items()
        if on <= past.today
        and entry.state == State.DUE
        and (each := figure(entry.data, "water_per_bale_l")) is not None
    ]
    return sum(amounts) if amounts else None


def _frost_nights(past: BatchHistory) -> tuple[date, ...]:
    """Return the dates whose nights were warned of: by a cover to put on, or by an alert.

    An alert may be of the night after the next one, which is then told again by its own date.
    """
    covers = {
        on
        for (on, _), entry in past.told.items()
        if entry.data.get("action") == Action.PROTECT and entry.state == State.DUE
    }
    key = AlertKey(AlertCode.FROST, slug(past.batch.name))
    alerts = past.index.alerts.items()
    warned = {on for on, told in alerts if told.get(key, False) and on + DAY not in covers}
    return past.dates(covers | warned)


def _mild_nights(past: BatchHistory, nights: Iterable[date]) -> tuple[date, ...]:
    """Return those nights that would have harmed nothing that is grown, by the low that came.

    That of the date they end on, judged carefully; a night of unknown low is none of them.
    """
    lows = {on: past.log.weather.get(on + DAY, DayWeather()).low_c for on in nights}
    crops = [each.crop for each in past.batch.plantings]
    return tuple(
        on
        for on, low_c in lows.items()
        if low_c is not None
        and not any(is_harmed(crop, plant_low(low_c, None, None)[0]) for crop in crops)
    )


def _readings(past: BatchHistory) -> CoreReadings | None:
    zone = past.garden.place.zone
    readings = [
        CoreReading(on, each.temperature_c)
        for each in past.log.readings
        if past.batch.start_on <= (on := each.at.astimezone(zone).date()) <= past.today
    ]
    if not readings:
        return None
    readings.sort(key=lambda each: each.on)
    highest = max(readings, key=lambda each: each.temperature_c)
    return CoreReadings(len(readings), readings[0], highest, readings[-1], tuple(readings))


def _crop(past: BatchHistory, planting: Planting) -> CropSummary:
    batch, state = past.batch, past.state
    label = planting_label(batch, planting)
    since, over = planted_on(batch, state, planting), over_on(batch, state, planting)
    told = [
        on
        for (on, key), entry in past.told.items()
        if entry.state == State.DUE and is_picking(batch, planting, key)
    ]
    noted = [
        each
        for each in _harvests_of(batch, planting, past.harvests)
        if each.local_date <= past.today
    ]
    kg, pieces = _amounts(noted)
    dates = [entry.local_date for entry in noted]
    return CropSummary(
        label=label,
        crop=planting.crop.name,
        planted_on=since,
        picking_told_on=min(told, default=None),
        first_harvest_on=min(dates, default=None),
        last_harvest_on=max(dates, default=None),
        over_on=over,
        harvests=len(noted),
        kg=kg,
        pieces=pieces,
        standing=since is not None and over is None,
    )


def _harvests_of(
    batch: Batch, planting: Planting, entries: Iterable[JournalEntry]
) -> list[JournalEntry]:
    """Return the harvests of a planting; one that names no planting is of the crop's first."""
    label = planting_label(batch, planting)
    return [
        entry
        for entry in entries
        if entry.kind is EntryKind.HARVEST
        and entry.batch == batch.name
        and entry.local_date >= batch.start_on
        and str(entry.data.get(PLANTING) or entry.text) == label
    ]


def _amounts(harvests: Iterable[JournalEntry]) -> tuple[float | None, float | None]:
    masses = [entry.value for entry in harvests if entry.value is not None]
    pieces = [each for entry in harvests if (each := figure(entry.data, PIECES)) is not None]
    return (sum(masses) if masses else None, sum(pieces) if pieces else None)


def _feeds(begun: Iterable[Batch], batches: Iterable[BatchSummary]) -> tuple[FeedUse, ...]:
    known: dict[str, Feed] = {}
    for batch in begun:
        for feed in batch.feeds():
            known.setdefault(feed.name, feed)
    used: dict[str, list[float | None]] = {}
    for each in batches:
        for given in each.given:
            used.setdefault(given.feed, []).append(given.total_g)
    return tuple(_use(name, masses, known.get(name)) for name, masses in used.items() if name)


def _use(name: str, masses: list[float | None], feed: Feed | None) -> FeedUse:
    measured = [mass for mass in masses if mass is not None]
    if len(measured) < len(masses):
        return FeedUse(name, None, None)
    kg = sum(measured) / G_PER_KG
    return FeedUse(name, kg, None if feed is None else worth(feed, kg))


def _costs(journal: Journal, first: date | None, today: date) -> tuple[CostNoted, ...]:
    since = None if first is None else first - BOUGHT_BEFORE
    return tuple(
        CostNoted(entry.local_date, entry.value, entry.text, entry.batch)
        for entry in journal
        if entry.kind is EntryKind.COST
        and entry.value is not None
        and entry.local_date <= today
        and (since is None or entry.local_date >= since)
    )
