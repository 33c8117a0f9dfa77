"""What a season came to, from the journal alone: fed, held, missed, watered, warned, picked, paid.

Nothing is decided here and no weather is read: what was told and answered is added up. Dates on
which nothing was told say nothing; they are counted as such.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from datetime import date, timedelta

from msgspec import Struct, field

from strawbell.agronomy.crops.leaf_frost import Danger, night_risk
from strawbell.agronomy.feeding.dosing import dose_of
from strawbell.agronomy.feeding.supplies import worth
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
from strawbell.model.garden import Batch, Garden, Planting
from strawbell.model.journal import EntryKind, Journal, JournalEntry
from strawbell.model.names import slug
from strawbell.model.schedule import ScheduleDay
from strawbell.model.summary import (
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
from strawbell.season.batch_state import BatchState
from strawbell.season.day_log import Answer
from strawbell.season.feedings_given import FeedingGiven, feedings_given
from strawbell.season.fold import state_at
from strawbell.season.journal_index import JournalIndex, task_of
from strawbell.season.lessons import garden_hints
from strawbell.season.local_time import DAY, zone_of
from strawbell.season.sequence import is_feeding, step_key
from strawbell.season.stage import is_picking, over_on, planted_on, planting_label
from strawbell.season.task_keys import once_key
from strawbell.season.undone import standing

PIECES = "pieces"
"""Figure of a harvest that was counted."""
PLANTING = "planting"
"""Figure of a harvest: the label of the planting it is of."""
BOUGHT_BEFORE = timedelta(days=120)
"""Costs noted this long before the first soaking are of the season: bales and feed are bought
ahead of it (design choice: over a winter)."""
G_PER_KG = 1000.0
TOLD = frozenset({EntryKind.TOLD, EntryKind.TAKEN_BACK})
RAIN_CHANCE, FREEZE_CHANCE = "rain_chance", "freeze_chance"
"""What a chance is kept as with the work that it was told with."""


class _Rows(Struct):
    """What the journal tells of one batch beyond its index: the last row a task and date had."""

    told: dict[tuple[date, TaskKey], JournalEntry] = field(default_factory=dict)
    harvests: list[JournalEntry] = field(default_factory=list)


def summarise(garden: Garden, journal: Journal, index: JournalIndex, today: date) -> Summary:
    """Return the season of a garden through `today`; `index` is the index of `journal`.

    Today counts once its brief was told. A season begins with the first soaking of a batch;
    batches that begin later than today are left out.
    """
    begun = [batch for batch in garden.batches if batch.start_on <= today]
    first = min((batch.start_on for batch in begun), default=None)
    journal = standing(journal)
    rows = _rows(begun, journal)
    since = tuple(each for each in journal if first is not None and each.local_date >= first)
    # Until today's brief is told, nothing of today has been told that could be counted.
    until = today + DAY if today in index.briefed else today
    states = {
        batch.name: state_at(garden, batch, index, max(until, batch.start_on)) for batch in begun
    }
    batches = tuple(
        _batch(garden, batch, states[batch.name], rows[batch.name], index, today) for batch in begun
    )
    kept = [on for on in index.briefed if first is not None and first <= on <= today]
    untold = {*index.not_told(today), *index.excused}
    not_told = tuple(sorted(on for on in untold if first is not None and first <= on <= today))
    return Summary(
        garden=garden.name,
        first=first,
        last=today,
        kept_since=min(kept, default=None),
        mornings_told=len(kept),
        not_told=not_told,
        batches=batches,
        feeds=_feeds(begun, batches),
        costs=_costs(journal, first, today),
        hints=garden_hints(garden.place.latitude, begun, batches, rows_held(rows), not_told),
        chances=chances_kept(garden, since, index, today),
    )


def chances_kept(garden: Garden, journal: Journal, index: JournalIndex, today: date) -> Chances:
    """Return how often it rained so on the day, and froze so in its night, by the chance told.

    A night has the low of the date that it ends on. What was told today is not over.
    """

    def rained(on: date) -> bool | None:
        rain_mm = index.weather.get(on, DayWeather()).rain_mm
        return None if rain_mm is None else rain_mm >= garden.rules.rain_hold_mm

    def froze(on: date) -> bool | None:
        low_c = index.weather.get(on + DAY, DayWeather()).low_c
        return None if low_c is None else low_c <= garden.rules.freeze_hold_c

    return Chances(
        _kept(journal, RAIN_CHANCE, today, rained),
        _kept(journal, FREEZE_CHANCE, today - DAY, froze),
    )


def _kept(
    journal: Journal, name: str, before: date, came: Callable[[date], bool | None]
) -> tuple[ChanceKept, ...]:
    """Return the chances told on mornings before a date, each morning once, by tenths."""
    said: dict[date, dict[tuple[str | None, str | None], tuple[float, bool]]] = {}
    for entry in journal:
        chance = _figure(entry.data, name)
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


def rows_held(rows: Mapping[str, _Rows]) -> Mapping[str, frozenset[ReasonCode]]:
    """Return by batch every reason that any work was held for."""
    return {
        name: frozenset(
            code
            for entry in each.told.values()
            if entry.state == State.HELD
            for code in _reasons(entry)
        )
        for name, each in rows.items()
    }


def _rows(batches: Iterable[Batch], journal: Journal) -> dict[str, _Rows]:
    starts = {batch.name: batch.start_on for batch in batches}
    found = {name: _Rows() for name in starts}
    for entry in journal:
        start = starts.get(entry.batch or "")
        if entry.batch is None or start is None or entry.local_date < start:
            continue
        if entry.kind in TOLD:
            key = task_of(entry)
            if key is not None:
                found[entry.batch].told[entry.local_date, key] = entry
        elif entry.kind is EntryKind.HARVEST:
            found[entry.batch].harvests.append(entry)
    return found


def _batch(
    garden: Garden, batch: Batch, state: BatchState, rows: _Rows, index: JournalIndex, today: date
) -> BatchSummary:
    sequence = state.sequence
    return BatchSummary(
        batch=batch.name,
        bales=batch.bales,
        start_on=batch.start_on,
        conditioned_on=sequence.finished_on,
        conditioned_by_plan=batch.start_on + DAY * (len(batch.schedule.days) - 1),
        feedings=_feedings(batch, state, rows, index, today),
        water_l=_water_l(batch, rows, today),
        frost_nights=(nights := _frost_nights(batch, rows, index, today)),
        mild_nights=_mild_nights(batch, (on for on in nights if on + DAY < today), index),
        hot_dry_days=tuple(
            sorted(
                on
                for on, alerts in index.alerts.items()
                if batch.start_on <= on <= today
                and AlertKey(AlertCode.HOT_DRY, slug(batch.name)) in alerts
            )
        ),
        readings=_readings(garden, batch, index, today),
        crops=tuple(_crop(batch, state, each, rows, today) for each in batch.plantings),
        spread_on=state.done.get(once_key(batch.name, Action.SPREAD)),
    )


def _feedings(
    batch: Batch, state: BatchState, rows: _Rows, index: JournalIndex, today: date
) -> tuple[FeedingDay, ...]:
    """Return every feeding by date: given, held, missed."""
    steps = {step_key(batch, step): step for step in batch.schedule.days if is_feeding(step)}
    counted = {each.key: each for each in feedings_given(batch, state, index.day(batch, today))}
    given = {key: each.on for key, each in counted.items()}
    keys = {*steps, *(key for _, key in rows.told if _of_season(key)), *given}
    found = [_given(batch, each, rows, index) for each in counted.values() if each.on <= today]
    for (on, key), entry in rows.told.items():
        if key in keys and entry.state == State.HELD and given.get(key) != on and on <= today:
            found.append(_of(batch, key, on, FeedingFate.HELD, steps.get(key), entry))
    for key in keys:
        for word in _misses(batch, key, index, today):
            on = _told_before(key, word.on, rows) or word.on
            found.append(
                _of(batch, key, on, FeedingFate.MISSED, steps.get(key), rows.told.get((on, key)))
            )
    return tuple(sorted(found, key=lambda each: (each.on, each.fate.given, each.key.text())))


def _of_season(key: TaskKey) -> bool:
    return key.series is FeedSeries.SEASON


def _given(batch: Batch, given: FeedingGiven, rows: _Rows, index: JournalIndex) -> FeedingDay:
    words = [word for word in index.answers.get(given.key, ()) if _about(batch, word)]
    if words and words[-1].done:
        fate = FeedingFate.CONFIRMED
    else:
        told = (given.on, given.key) in rows.told
        fate = FeedingFate.TOLD if told else FeedingFate.SUPPOSED
    feed = index.amounts.get(given.key, {}).get("feed")
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
    nitrogen_g, total_g = _figure(data, "nitrogen_per_bale_g"), _figure(data, "total_g")
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
        reasons=_reasons(entry) if entry is not None and fate is FeedingFate.HELD else (),
        feed=str(feed or ""),
        nitrogen_per_bale_g=nitrogen_g,
        total_g=total_g,
    )


def _misses(batch: Batch, key: TaskKey, index: JournalIndex, today: date) -> Iterator[Answer]:
    """Yield the words of this season that a feeding was missed, the last one of each date."""
    for word in index.answers.get(key, ()):
        last = not word.done and index.word_on(key, word.on) is word
        if last and _about(batch, word) and word.on <= today:
            yield word


def _about(batch: Batch, word: Answer) -> bool:
    return word.on >= batch.start_on and word.batch in (None, batch.name)


def _told_before(key: TaskKey, on: date, rows: _Rows) -> date | None:
    """Return when a task was told as due last, up to a date: a missed one is of that date."""
    return max(
        (
            day
            for (day, told), entry in rows.told.items()
            if told == key and day <= on and entry.state == State.DUE
        ),
        default=None,
    )


def _water_l(batch: Batch, rows: _Rows, today: date) -> float | None:
    amounts = [
        each * (_figure(entry.data, "times_a_day") or 1.0) * batch.bales
        for (on, _), entry in rows.told.items()
        if on <= today
        and entry.state == State.DUE
        and (each := _figure(entry.data, "water_per_bale_l")) is not None
    ]
    return sum(amounts) if amounts else None


def _frost_nights(batch: Batch, rows: _Rows, index: JournalIndex, today: date) -> tuple[date, ...]:
    """Return the dates whose nights were warned of: by a cover to put on, or by an alert.

    An alert may be of the night after the next one, which is then told again by its own date.
    """
    covers = {
        on
        for (on, _), entry in rows.told.items()
        if entry.data.get("action") == Action.PROTECT and entry.state == State.DUE
    }
    key = AlertKey(AlertCode.FROST, slug(batch.name))
    warned = {
        on
        for on, alerts in index.alerts.items()
        if alerts.get(key, False) and on >= batch.start_on and on + DAY not in covers
    }
    return tuple(sorted(on for on in covers | warned if on <= today))


def _mild_nights(batch: Batch, nights: Iterable[date], index: JournalIndex) -> tuple[date, ...]:
    """Return those nights that would have harmed nothing that is grown, by the low that came.

    That of the date they end on, judged carefully; a night of unknown low is none of them.
    """
    lows = {on: index.weather.get(on + DAY, DayWeather()).low_c for on in nights}
    crops = [each.crop for each in batch.plantings]
    return tuple(
        on
        for on, low_c in lows.items()
        if low_c is not None
        and all(
            (risk := night_risk(crop, low_c)) is not None and risk.danger is Danger.SAFE
            for crop in crops
        )
    )


def _readings(
    garden: Garden, batch: Batch, index: JournalIndex, today: date
) -> CoreReadings | None:
    zone = zone_of(garden.place.time_zone)
    readings = [
        CoreReading(on, each.temperature_c)
        for each in index.batch(batch.name).readings
        if batch.start_on <= (on := each.at.astimezone(zone).date()) <= today
    ]
    if not readings:
        return None
    readings.sort(key=lambda each: each.on)
    highest = max(readings, key=lambda each: each.temperature_c)
    return CoreReadings(len(readings), readings[0], highest, readings[-1], tuple(readings))


def _crop(
    batch: Batch, state: BatchState, planting: Planting, rows: _Rows, today: date
) -> CropSummary:
    label = planting_label(batch, planting)
    since, over = planted_on(batch, state, planting), over_on(batch, state, planting)
    told = [
        on
        for (on, key), entry in rows.told.items()
        if entry.state == State.DUE and is_picking(batch, planting, key)
    ]
    noted = [each for each in _harvests_of(batch, planting, rows.harvests) if _until(each, today)]
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
    pieces = [each for entry in harvests if (each := _figure(entry.data, PIECES)) is not None]
    return (sum(masses) if masses else None, sum(pieces) if pieces else None)


def _until(entry: JournalEntry, today: date) -> bool:
    return entry.local_date <= today


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


def _reasons(entry: JournalEntry) -> tuple[ReasonCode, ...]:
    known = {code.value: code for code in ReasonCode}
    written = entry.data.get("reasons")
    if not isinstance(written, (list, tuple)):
        return ()
    return tuple(known[each] for each in written if each in known)


def _figure(data: Mapping[str, object], name: str) -> float | None:
    value = data.get(name)
    return float(value) if isinstance(value, (int, float)) else None
