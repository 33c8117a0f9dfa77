"""What to do differently next year: one rule a hint, each only where the journal shows it."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from datetime import date

from msgspec import Struct

from strawbell.model.brief import ReasonCode
from strawbell.model.garden import Batch, Planting
from strawbell.model.summary import BatchSummary, CropSummary, FeedingDay, Hint, HintCode
from strawbell.season.local_time import DAY

LONG_HOLD_DAYS = 3
"""A feeding held this many days in a row is worth a word (design choice) [days]."""
DELAY_DAYS = 2
"""A conditioning drawn out by so much is worth a word (design choice) [days]."""
LATE_DAYS = 3
"""A planting this long after the wished date is late (design choice: under it nobody sees the
difference at harvest) [days]."""
MANY_HOT_DAYS = 5
"""From so many hot dry days on, watering by hand is a burden (design choice) [days]."""
MANY_UNTOLD_DAYS = 3
"""From so many days on which nothing could be told (design choice) [days]."""
SUMMER_BEGINS = {True: (6, 21), False: (12, 21)}
"""Month and day of the longest day, in the north and in the south."""
HALF_YEAR_DAYS = 183
"""A frost within half a year after the longest day is one of autumn, any other one of spring."""
GUESSED_HEAT = frozenset({ReasonCode.TOO_HOT_INSIDE, ReasonCode.NOT_READY})
"""Holds that a probe would have decided."""


class Past(Struct, frozen=True):
    """One batch as planned and as it went; `held_for` is every reason any of its work waited."""

    north: bool
    batch: Batch
    went: BatchSummary
    held_for: frozenset[ReasonCode]


Rule = Callable[[Past], Iterable[Hint]]


def garden_hints(
    latitude: float,
    batches: Iterable[Batch],
    went: Iterable[BatchSummary],
    held_for: Mapping[str, frozenset[ReasonCode]],
    not_told: tuple[date, ...],
) -> tuple[Hint, ...]:
    """Return every hint of a garden, batch by batch, and last what holds for all of it."""
    hints = [
        hint
        for batch, each in zip(batches, went, strict=True)
        for rule in RULES
        for hint in rule(Past(latitude >= 0, batch, each, held_for.get(batch.name, frozenset())))
    ]
    if len(not_told) >= MANY_UNTOLD_DAYS:
        figures = {"days": float(len(not_told))}
        hints.append(Hint(HintCode.NOT_TOLD, on=not_told[0], figures=figures))
    return tuple(hints)


def conditioning_delayed(past: Past) -> Iterable[Hint]:
    """Say by how much holds drew out the conditioning, and what held it."""
    done, planned = past.went.conditioned_on, past.went.conditioned_by_plan
    if done is None or planned is None or (done - planned).days < DELAY_DAYS:
        return
    held = [each for each in past.went.held if each.day is not None]
    freeze = sum(each.held_for_freeze for each in held)
    rain = sum(each.held_for_rain for each in held)
    late = float((done - planned).days)
    if freeze:
        figures = {"late_days": late, "held_days": float(freeze)}
        yield Hint(HintCode.HELD_BY_FREEZE, past.batch.name, on=done, figures=figures)
    if rain:
        figures = {"late_days": late, "held_days": float(rain)}
        yield Hint(HintCode.HELD_BY_RAIN, past.batch.name, on=done, figures=figures)


def held_in_a_row(past: Past) -> Iterable[Hint]:
    """Say which feeding the weather held longest, where it did for days."""
    run = max(_runs(each for each in past.went.held if not each.unanswered), key=len, default=[])
    if len(run) >= LONG_HOLD_DAYS:
        figures = {"days": float(len(run))}
        if run[0].day is not None:
            figures["day"] = float(run[0].day)
        yield Hint(HintCode.HELD_IN_A_ROW, past.batch.name, on=run[0].on, figures=figures)


def unanswered(past: Past) -> Iterable[Hint]:
    """Say how long the sequence waited for the grower's answer."""
    waited = [each for each in past.went.held if each.unanswered]
    if len(waited) >= LONG_HOLD_DAYS:
        figures = {"days": float(len(waited))}
        yield Hint(HintCode.UNANSWERED, past.batch.name, on=waited[0].on, figures=figures)


def feedings_missed(past: Past) -> Iterable[Hint]:
    """Say how many feedings the grower could not do."""
    missed = past.went.missed
    if missed:
        figures = {"missed": float(len(missed)), "given": float(len(past.went.given))}
        yield Hint(HintCode.FEEDINGS_MISSED, past.batch.name, on=missed[0].on, figures=figures)


def planted_late(past: Past) -> Iterable[Hint]:
    """Say which crops went in later than they were wished to."""
    for planting, crop in _crops(past):
        if planting.plant_on is None or crop.planted_on is None or planting.follows is not None:
            continue
        late = (crop.planted_on - planting.plant_on).days
        if late >= LATE_DAYS:
            yield Hint(
                HintCode.PLANTED_LATE,
                past.batch.name,
                crop.label,
                crop.planted_on,
                {"late_days": float(late)},
            )


def autumn_frost(past: Past) -> Iterable[Hint]:
    """Say which tender crops were still in the bales when the frosts of autumn came."""
    for planting, crop in _crops(past):
        frost = _late_frost(past, planting, crop)
        if frost is None:
            continue
        figures = {}
        if crop.last_harvest_on is not None and crop.last_harvest_on > frost:
            figures["days_after"] = float((crop.last_harvest_on - frost).days)
        elif crop.over_on is not None:
            figures["days_after"] = float((crop.over_on - frost).days)
        yield Hint(HintCode.AUTUMN_FROST, past.batch.name, crop.label, frost, figures)


def hot_tops(past: Past) -> Iterable[Hint]:
    """Say that many days dried out the tops."""
    days = past.went.hot_dry_days
    if len(days) >= MANY_HOT_DAYS:
        code = HintCode.HOT_TOPS_MULCHED if past.batch.mulched else HintCode.HOT_TOPS
        yield Hint(code, past.batch.name, on=days[0], figures={"days": float(len(days))})


def not_measured(past: Past) -> Iterable[Hint]:
    """Say that planting waited for a heat that nobody measured."""
    if past.went.readings is None and past.held_for & GUESSED_HEAT:
        yield Hint(HintCode.NOT_MEASURED, past.batch.name)


RULES: tuple[Rule, ...] = (
    conditioning_delayed,
    held_in_a_row,
    unanswered,
    feedings_missed,
    planted_late,
    autumn_frost,
    hot_tops,
    not_measured,
)
"""Every rule of hindsight, in the order of a season."""


def _crops(past: Past) -> Iterable[tuple[Planting, CropSummary]]:
    return zip(past.batch.plantings, past.went.crops, strict=True)


def _late_frost(past: Past, planting: Planting, crop: CropSummary) -> date | None:
    """Return the first warned frost of autumn while a crop stood; None for a hardy one."""
    if crop.planted_on is None or not planting.crop.tender:
        return None
    since, until = crop.planted_on, crop.over_on
    nights = (
        on
        for on in past.went.frost_nights
        if on >= since and (until is None or on < until) and _is_autumn(on, past.north)
    )
    return min(nights, default=None)


def _is_autumn(on: date, north: bool) -> bool:
    """Return whether a date lies in the half year after the longest day."""
    month, day = SUMMER_BEGINS[north]
    longest = date(on.year, month, day)
    if on < longest:
        longest = longest.replace(year=on.year - 1)
    return (on - longest).days < HALF_YEAR_DAYS


def _runs(held: Iterable[FeedingDay]) -> list[list[FeedingDay]]:
    """Return the held days of each feeding, in runs of days that follow one another."""
    runs: list[list[FeedingDay]] = []
    for each in held:
        last = runs[-1][-1] if runs else None
        if last is not None and last.key == each.key and each.on - last.on == DAY:
            runs[-1].append(each)
        else:
            runs.append([each])
    return runs
