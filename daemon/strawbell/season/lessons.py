"""What to do differently next year: one rule a hint, each only where the journal shows it."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from datetime import date
from typing import NamedTuple

from strawbell.model.brief import ReasonCode
from strawbell.model.garden import Batch, Planting
from strawbell.model.season import BatchSummary, CropSummary, FeedingDay, Hint, HintCode
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


class Past(NamedTuple):
    """A batch, what its season came to, why work was held, and whether it lies in the north."""

    batch: Batch
    went: BatchSummary
    held_for: frozenset[ReasonCode] = frozenset()
    north: bool = True


Rule = Callable[[Past], Iterable[Hint]]


def garden_hints(pasts: Iterable[Past], not_told: Sequence[date]) -> tuple[Hint, ...]:
    """Return every hint of a garden, batch by batch, and last what holds for all of it."""
    hints = [hint for past in pasts for rule in RULES for hint in rule(past)]
    if len(not_told) >= MANY_UNTOLD_DAYS:
        figures = {"days": float(len(not_told))}
        hints.append(Hint(HintCode.NOT_TOLD, on=not_told[0], figures=figures))
    return tuple(hints)


def conditioning_delayed(past: Past) -> Iterable[Hint]:
    """Say by how much holds drew out the conditioning, and what held it."""
    done, planned = past.went.conditioned_on, past.went.conditioned_by_plan
    if done is None or planned is None or (done - planned).days < DELAY_DAYS:
        return
    late = (done - planned).days
    held = [each for each in past.went.held if each.day is not None]
    if freeze := sum(each.held_for_freeze for each in held):
        yield _hint(HintCode.HELD_BY_FREEZE, past, done, {"late_days": late, "held_days": freeze})
    if rain := sum(each.held_for_rain for each in held):
        yield _hint(HintCode.HELD_BY_RAIN, past, done, {"late_days": late, "held_days": rain})


def held_in_a_row(past: Past) -> Iterable[Hint]:
    """Say which feeding the weather held longest, where it did for days."""
    run = max(_runs(each for each in past.went.held if not each.unanswered), key=len, default=[])
    if len(run) >= LONG_HOLD_DAYS:
        day = {} if run[0].day is None else {"day": run[0].day}
        yield _hint(HintCode.HELD_IN_A_ROW, past, run[0].on, {"days": len(run), **day})


def unanswered(past: Past) -> Iterable[Hint]:
    """Say how long the sequence waited for the grower's answer."""
    waited = [each for each in past.went.held if each.unanswered]
    if len(waited) >= LONG_HOLD_DAYS:
        yield _hint(HintCode.UNANSWERED, past, waited[0].on, {"days": len(waited)})


def feedings_missed(past: Past) -> Iterable[Hint]:
    """Say how many feedings the grower could not do."""
    if missed := past.went.missed:
        counts = {"missed": len(missed), "given": len(past.went.given)}
        yield _hint(HintCode.FEEDINGS_MISSED, past, missed[0].on, counts)


def planted_late(past: Past) -> Iterable[Hint]:
    """Say which crops went in later than they were wished to."""
    for planting, crop in zip(past.batch.plantings, past.went.crops, strict=True):
        wished, put_in = planting.plant_on, crop.planted_on
        if wished is None or put_in is None or planting.follows is not None:
            continue
        if (late := (put_in - wished).days) >= LATE_DAYS:
            yield _hint(HintCode.PLANTED_LATE, past, put_in, {"late_days": late}, crop.label)


def autumn_frost(past: Past) -> Iterable[Hint]:
    """Say which tender crops were still in the bales when the frosts of autumn came."""
    for planting, crop in zip(past.batch.plantings, past.went.crops, strict=True):
        frost = _late_frost(past.went.frost_nights, planting, crop, north=past.north)
        if frost is None:
            continue
        picked = crop.last_harvest_on
        after = picked if picked is not None and picked > frost else crop.over_on
        days = {} if after is None else {"days_after": (after - frost).days}
        yield _hint(HintCode.AUTUMN_FROST, past, frost, days, crop.label)


def hot_tops(past: Past) -> Iterable[Hint]:
    """Say that many days dried out the tops."""
    days = past.went.hot_dry_days
    if len(days) >= MANY_HOT_DAYS:
        code = HintCode.HOT_TOPS_MULCHED if past.batch.mulched else HintCode.HOT_TOPS
        yield _hint(code, past, days[0], {"days": len(days)})


def not_measured(past: Past) -> Iterable[Hint]:
    """Say that planting waited for a heat that nobody measured."""
    if past.went.readings is None and past.held_for & GUESSED_HEAT:
        yield Hint(HintCode.NOT_MEASURED, past.went.batch)


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
"""Every rule, in the order of a season."""


def _hint(
    code: HintCode, past: Past, on: date, figures: Mapping[str, int], crop: str | None = None
) -> Hint:
    figured = {name: float(each) for name, each in figures.items()}
    return Hint(code, past.went.batch, crop, on, figured)


def _late_frost(
    nights: Iterable[date], planting: Planting, crop: CropSummary, *, north: bool
) -> date | None:
    """Return the first warned frost of autumn while a crop stood; None for a hardy one."""
    if crop.planted_on is None or not planting.crop.tender:
        return None
    stood = (crop.planted_on, crop.over_on or date.max)
    found = (on for on in nights if stood[0] <= on < stood[1] and _is_autumn(on, north=north))
    return min(found, default=None)


def _is_autumn(on: date, *, north: bool) -> bool:
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
