"""Whether crops that die in a freeze ripen before the first one of autumn, and follow in time.

Decided 2026-11-25: A harvest after the first freeze is doubted, not refused, when the
configuration is read: the date is a chance, and covers help a night over. Planting before the
bales can be ready is refused.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, timedelta
from typing import Any

from msgspec import Struct

from strawbell.agronomy.cold_and_heat import dies_in_a_freeze
from strawbell.agronomy.feeds import MANURE_WAIT_DAYS
from strawbell.agronomy.growing import days_to_harvest, usual_method
from strawbell.agronomy.schedules import start_for
from strawbell.config.checks_context import Context
from strawbell.config.checks_plan import first_day, ready_day
from strawbell.config.checks_room import before
from strawbell.config.gardens import BatchSection, GardenSection, PlantingSection
from strawbell.config.mistakes import Mistake, finding
from strawbell.config.outline import Path
from strawbell.config.supplies_at_hand import find
from strawbell.model.feeds import Material
from strawbell.model.garden import Crop, Method

STALE_FREEZE_DAYS = 120
"""A freeze this long before planting is that of another autumn (design choice) [days]."""
NO_FREEZE_WITHIN_DEGREES = 30.0
"""Nearer to the equator freezes are too rare to be doubted unasked (common practice)."""
DOUBTED_MONTHS_NORTH = (10, 11, 12, 1, 2)
"""Months in which the first picking of a tender crop is doubted where no freeze is configured:
most first freezes of the temperate north come by October (common practice)."""
SOONEST, LATEST = 0, 1
"""Which end of the days to the first picking."""
HALF_A_YEAR = 6
MONTHS = 12


class Ripening(Struct, frozen=True):
    """A planting with the earliest it may go in, and the soonest and latest first picking."""

    path: Path
    garden: GardenSection
    batch: BatchSection
    planting: PlantingSection
    crop: Crop
    begin: date
    soonest: date
    latest: date


def harvests(context: Context) -> Iterator[Mistake]:
    """Yield plantings that a freeze kills before there is anything to pick.

    What another crop may hold up till then is told as a choice (`crowding`).
    """
    for path, garden in context.gardens():
        for number, batch in enumerate(garden.batches):
            ripenings = _ripenings(context, (*path, "batches", number), garden, batch)
            for each in ripenings:
                follows = each.planting.follows is not None and each.planting.plant_on is None
                if dies_in_a_freeze(each.crop) and not (follows and garden.first_freeze_on):
                    yield from _against(context, each, garden.first_freeze_on)


def crowding(context: Context) -> Iterator[Mistake]:
    """Yield crops that the one before them, however soon it is over, holds past their day."""
    for path, garden in context.gardens():
        for number, batch in enumerate(garden.batches):
            found = _ripenings(context, (*path, "batches", number), garden, batch)
            at = {int(each.path[-1]): each for each in found}
            for own, late in at.items():
                waits_for = before(batch, own)
                early = None if waits_for is None else at.get(waits_for)
                wanted = late.planting.plant_on or _last_day(late)
                if early is not None and wanted is not None:
                    yield from _crowded(context, early, late, wanted)


def _last_day(each: Ripening) -> date | None:
    """Return the last day on which a crop that a freeze kills is planted in time, None without."""
    freeze = each.garden.first_freeze_on
    if freeze is None or not dies_in_a_freeze(each.crop) or _is_of_another_autumn(each, freeze):
        return None
    return freeze - timedelta(days=days_to_harvest(each.crop, each.planting.method)[LATEST] + 1)


def _is_of_another_autumn(each: Ripening, freeze: date) -> bool:
    return freeze <= each.begin - timedelta(days=STALE_FREEZE_DAYS)


def raw_manure(context: Context) -> Iterator[Mistake]:
    """Yield crops that may be picked too soon after a feeding of poultry manure."""
    for path, garden in context.gardens():
        for number, section in enumerate(garden.batches):
            days = [
                step.day
                for step, feed in context.supplies.fed_on(section)
                if feed.material is Material.POULTRY_MANURE
            ]
            start = first_day(context, section)
            if start is None or not days:
                continue
            fed_on = start + timedelta(days=max(days) - 1)
            free = fed_on + timedelta(days=MANURE_WAIT_DAYS)
            for each in _ripenings(context, (*path, "batches", number), garden, section):
                if each.soonest < free:
                    found = f"manure last on {fed_on}, first picked from {each.soonest}"
                    days_free = {"days": MANURE_WAIT_DAYS, "free": free}
                    yield _warning(context, "raw-manure", each, found, **days_free)


def _crowded(context: Context, early: Ripening, late: Ripening, wanted: date) -> Iterator[Mistake]:
    over = early.soonest + timedelta(days=early.crop.harvest_days)
    if over <= wanted:
        return
    one, other = early.crop.name, late.crop.name
    picked = f"first picked from {early.soonest}"
    pull = (
        f"pull the {one} on {wanted} ({picked} to {early.latest})"
        if early.soonest < wanted
        else f"leave the {one} out (it is {picked} on)"
    )
    yield _warning(
        context,
        "crowded" if late.planting.plant_on else "crowded-before-freeze",
        late,
        f"{one} planted on {early.begin} at the earliest and over by {over} at the soonest; "
        f"{other} wanted on {wanted}",
        one=one,
        pull=pull,
        wanted=wanted,
        soonest=late.soonest,
        latest=late.latest,
    )


def _ripenings(
    context: Context, path: Path, garden: GardenSection, batch: BatchSection
) -> list[Ripening]:
    """Return every planting at the earliest it can be, one crop after the other."""
    ready = ready_day(context, batch)
    found: dict[int, Ripening] = {}
    free: dict[int, date] = {}
    if ready is None:
        return []
    for number, planting in enumerate(batch.plantings):
        crop = find(context.supplies.crops, planting.crop)
        waits_for = before(batch, number)
        if crop is None or (waits_for is not None and waits_for not in free):
            continue
        begin = ready if waits_for is None else free[waits_for]
        begin = max(begin, planting.plant_on or begin)
        soonest, latest = days_to_harvest(crop, planting.method)
        found[number] = Ripening(
            (*path, "plantings", number), garden, batch, planting, crop, begin,
            begin + timedelta(days=soonest), begin + timedelta(days=latest),
        )  # fmt: skip
        free[number] = begin + timedelta(days=soonest + crop.harvest_days)
    return list(found.values())


def _against(context: Context, each: Ripening, freeze: date | None) -> Iterator[Mistake]:
    # Only doubted, never refused: the date of a freeze is a chance, and covers help a night over.
    found = (
        f"planted on {each.begin} at the earliest, first picked from {each.soonest} to "
        f"{each.latest}"
    )
    if freeze is None:
        if _is_doubtful(each):
            yield _warning(context, "ripe-in-frost", each, found)
    elif not _is_of_another_autumn(each, freeze) and each.latest >= freeze:
        never = each.soonest >= freeze
        remedy = _remedy(context, each, freeze, SOONEST if never else LATEST)
        what = "never-ripe" if never else "perhaps-not-ripe"
        yield _warning(context, what, each, found, freeze=freeze, remedy=remedy)


def _warning(context: Context, what: str, each: Ripening, found: str, **places: Any) -> Mistake:
    batch_path, garden_path = each.path[:-2], each.path[:-4]
    key = "plant_on" if each.planting.plant_on is not None else "crop"
    numbers = range(int(each.path[-1]) + 1)
    return finding(
        what,
        (*each.path, key),
        found,
        crop=each.crop.name,
        reads=(
            *((*garden_path, name) for name in ("first_freeze_on", "latitude")),
            *((*batch_path, name) for name in ("start_on", "plant_on", "schedule")),
            *(
                (*batch_path, "plantings", number, name)
                for number in numbers
                for name in ("crop", "method", "plant_on", "follows")
            ),
            *context.names_in("crops"),
            *context.names_in("schedules"),
        ),
        **places,
    )


def _remedy(context: Context, each: Ripening, freeze: date, sort: int) -> str:
    """Return the nearest thing that works: planting sooner, setting out, or starting sooner."""
    day_before = freeze - timedelta(days=1)
    by = day_before - timedelta(days=days_to_harvest(each.crop, each.planting.method)[sort])
    ready = ready_day(context, each.batch)
    follows = each.planting.follows
    if follows is None and ready is not None and by >= max(ready, context.today):
        return f"Write plant_on = {by} or earlier."
    if each.planting.method is Method.SEED and usual_method(each.crop) is Method.TRANSPLANT:
        set_out = days_to_harvest(each.crop, Method.TRANSPLANT)[sort]
        if each.begin + timedelta(days=set_out) < freeze:
            return 'Write method = "transplant": set out as young plants it is ripe in time.'
    schedule = find(context.supplies.schedules, each.batch.schedule)
    start = start_for(by, schedule) if schedule is not None else by
    if follows is None and start >= context.today:
        return f"Start the batch on {start} or earlier, or choose a quicker crop."
    if follows is not None and by >= context.today:
        return f"Plant it on {by} or earlier in bales of its own, or choose a quicker crop."
    return "Choose a quicker crop, or leave this one to the next year."


def _is_doubtful(each: Ripening) -> bool:
    """Return whether the soonest picking lies in months in which it may have frozen."""
    latitude = each.garden.latitude
    if abs(latitude) < NO_FREEZE_WITHIN_DEGREES:
        return False
    month = each.soonest.month
    if latitude < 0:
        month = (month + HALF_A_YEAR - 1) % MONTHS + 1
    return month in DOUBTED_MONTHS_NORTH
