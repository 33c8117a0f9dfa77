"""Gardens, batches and plantings: names, dates, room, and ripening before the freeze.

Decided 2026-11-25: A harvest after the first freeze is doubted, not refused, when the
configuration is read: the date is a chance, and covers help a night over. Planting before the
bales can be ready is refused.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import date, timedelta
from math import ceil, fsum
from typing import Any

from msgspec import Struct

from strawbell.agronomy.bales import BALES, top_area_m2
from strawbell.agronomy.cold_and_heat import dies_in_a_freeze
from strawbell.agronomy.crop_table import NOT_IN_BALES
from strawbell.agronomy.feeds import MANURE_WAIT_DAYS
from strawbell.agronomy.growing import days_to_harvest, usual_method
from strawbell.agronomy.schedules import start_for
from strawbell.config.build import (
    DRENCH,
    Context,
    bale_of,
    find,
    first_day,
    perhaps,
    ready_day,
    why_against,
)
from strawbell.config.keys import Path
from strawbell.config.mistakes import Mistake, finding, shown
from strawbell.config.schema import BatchSection, GardenSection, PlantingSection
from strawbell.model.feeds import Material
from strawbell.model.garden import Crop, Method, slug
from strawbell.words.catalogue import BRITISH

say = BRITISH.say
FAR_AHEAD_DAYS = 400
"""A start further ahead than this is more often a slip in the year than a plan."""
SEASON_WITHOUT_CROPS_DAYS = 180
"""How long bales without plantings are taken to be in use (common practice: one season)."""
AFTER_SEASON_DAYS = 30
"""Days after the last harvest in which bales are still taken apart and spread."""
FULL = 1.0 + 1e-9
"""A top that is full but for rounding."""
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


def emptiness(context: Context) -> Iterator[Mistake]:
    """Yield that nothing would ever be due."""
    if not context.settings.gardens:
        yield finding("no-garden", ("gardens",))
    for path, garden in context.gardens():
        if not garden.batches and not garden.resting:
            yield finding("no-bales", (*path, "batches"), reads=["resting"])


def duplicate_names(context: Context) -> Iterator[Mistake]:
    """Yield names that stand twice, or that cannot be told apart in keys and file names."""
    gardens = list(context.gardens())
    yield from _doubles("garden", [((*p, "name"), g.name) for p, g in gardens])
    yield from _double_ids("garden", [((*p, "id"), g.id) for p, g in gardens])
    for path, garden in gardens:
        batches = [((*path, "batches", n), batch) for n, batch in enumerate(garden.batches)]
        yield from _doubles("batch", [((*p, "name"), each.name) for p, each in batches])
        yield from _double_ids("batch", [((*p, "id"), each.id) for p, each in batches])
    for section in ("feeds", "schedules", "crops"):
        entries = getattr(context.settings, section)
        named = [((section, number, "name"), each.name) for number, each in enumerate(entries)]
        yield from _doubles(section, named, exact=True)
    for path, batch in context.batches():
        crops = [
            ((*path, "plantings", number, "crop"), each.crop)
            for number, each in enumerate(batch.plantings)
        ]
        yield from _doubles("plantings", crops)


def _double_ids(kind: str, ids: Sequence[tuple[Path, str | None]]) -> Iterator[Mistake]:
    first: dict[str, Path] = {}
    for path, each in ids:
        if each is not None and each in first:
            yield finding("id-twice", path, shown(each), kind=kind, reads=[first[each]])
        elif each is not None:
            first[each] = path


def _doubles(
    kind: str, named: Sequence[tuple[Path, str]], *, exact: bool = False
) -> Iterator[Mistake]:
    # Of names that are the same to the letter the first counts, then of those with one key.
    alike: dict[str, tuple[Path, str]] = {}
    for second, other in named:
        keys = (other.casefold(),) if exact else (other.casefold(), f"/{slug(other)}")
        found = next((alike[key] for key in keys if key in alike), None)
        for key in keys:
            alike.setdefault(key, (second, other))
        if found is None:
            continue
        first, one = found
        if one.casefold() == other.casefold():
            yield finding("name-twice", second, shown(other), kind=kind, reads=[first])
        else:
            yield finding("names-alike", second, shown(other), one=shown(one), reads=[first])


def starts(context: Context) -> Iterator[Mistake]:
    """Yield batches without a way to tell their first day, and unknown bales and schedules."""
    for path, batch in context.batches():
        first, last = batch.start_on, batch.plant_on
        if first is None and last is None:
            yield finding("no-start", (*path, "start_on"), reads=["plant_on"])
        elif first is not None and last is not None:
            what = "start-after-planting" if first > last else "start-twice"
            found = f"start_on = {first}, plant_on = {last}"
            yield finding(what, (*path, "plant_on"), found, reads=["start_on"])
        if bale_of(batch) is None and isinstance(batch.bale, str):
            yield _unknown("bale", (*path, "bale"), batch.bale, BALES)
        yield from _names_it_uses(context, path, batch)


def _names_it_uses(context: Context, path: Path, batch: BatchSection) -> Iterator[Mistake]:
    supplies, own = context.supplies, context.names_in("feeds")
    if find(supplies.schedules, batch.schedule) is None:
        names = context.names_in("schedules")
        where = (*path, "schedule")
        yield _unknown("schedule", where, batch.schedule, supplies.schedules, reads=names)
    for key in ("feed", "finishing_feed"):
        name = getattr(batch, key)
        if name is not None and find(supplies.feeds, name) is None:
            yield _unknown("feed", (*path, key), name, supplies.feeds, reads=own)
    for day, text in batch.feeds.items():
        if supplies.meant(text)[0] is None:
            name = text.removeprefix(DRENCH)
            yield _unknown("feed", (*path, "feeds", day), name, supplies.feeds, reads=own)


def _unknown(
    kind: str,
    path: Path,
    name: str,
    known: Mapping[str, object],
    reads: tuple[Path, ...] = (),
) -> Mistake:
    listed = ", ".join(f'"{each}"' for each in known)
    meant = perhaps(known, name)
    return finding("unknown", path, shown(name), kind=kind, known=listed, remedy=meant, reads=reads)


def _dates_of(path: Path) -> tuple[Path, ...]:
    return tuple((*path, key) for key in ("start_on", "plant_on", "schedule"))


def plantings(context: Context) -> Iterator[Mistake]:
    """Yield unknown crops, crops advised against, and days that come too early."""
    for path, batch, planting in context.plantings():
        crop = find(context.supplies.crops, planting.crop)
        where, found = (*path, "crop"), shown(planting.crop)
        if crop is None:
            yield _unknown_crop(context, where, planting.crop)
        elif crop.advice_against:
            why = why_against(crop.advice_against)
            yield finding("badly-in-bales", where, found, warning=True, crop=crop.name, why=why)
        yield from _following(path, batch, planting)
        ready = ready_day(batch, context.supplies)
        if planting.plant_on is not None and ready is not None and planting.plant_on < ready:
            yield finding(
                "planted-too-early",
                (*path, "plant_on"),
                str(planting.plant_on),
                start=first_day(batch, context.supplies),
                ready=ready,
                reads=(*_dates_of(path[:-2]), *context.names_in("schedules")),
            )


def _unknown_crop(context: Context, path: Path, name: str) -> Mistake:
    reason, reads = find(NOT_IN_BALES, name), context.names_in("crops")
    if reason is not None:
        why = why_against(reason)
        return finding("crop-not-in-table", path, shown(name), why=why, reads=reads)
    meant = perhaps(context.supplies.crops, name)
    return finding("no-such-crop", path, shown(name), meant=meant, reads=reads)


def _following(path: Path, batch: BatchSection, planting: PlantingSection) -> Iterator[Mistake]:
    if planting.follows is None:
        return
    number = int(path[-1])
    earlier = [each.crop for each in batch.plantings[:number]]
    if planting.follows.casefold() not in map(str.casefold, earlier):
        listed = ", ".join(shown(each) for each in earlier)
        reads = [(*path[:-1], each, "crop") for each in range(number)]
        found = shown(planting.follows)
        yield finding("follows-nothing", (*path, "follows"), found, earlier=listed, reads=reads)


def nothing_ahead(context: Context) -> Iterator[Mistake]:
    """Yield gardens whose whole plan is over, and starts that are too far ahead."""
    for path, garden in context.gardens():
        ends = []
        for number, batch in enumerate(garden.batches):
            batch_path = (*path, "batches", number)
            start = first_day(batch, context.supplies)
            if start is None:
                break
            ends.append(_season_end(context, batch, start))
            if start > context.today + timedelta(days=FAR_AHEAD_DAYS):
                key = "start_on" if batch.start_on else "plant_on"
                found = str(getattr(batch, key))
                reads = _dates_of(batch_path)
                yield finding("far-ahead", (*batch_path, key), found, warning=True, reads=reads)
        if ends and len(ends) == len(garden.batches) and max(ends) < context.today:
            numbers = range(len(ends))
            yield finding(
                "in-the-past",
                (*path, "batches"),
                warning=True,
                end=max(ends),
                today=context.today,
                reads=[each for n in numbers for each in _dates_of((*path, "batches", n))],
            )


def _season_end(context: Context, batch: BatchSection, start: date) -> date:
    """Return a day by which a batch is surely over; late rather than early."""
    ready = ready_day(batch, context.supplies) or start
    end = ready + timedelta(days=SEASON_WITHOUT_CROPS_DAYS)
    for planting in batch.plantings:
        crop = find(context.supplies.crops, planting.crop)
        if crop is None:
            continue
        days = crop.days_to_maturity[1] + crop.harvest_days
        follows = planting.follows is not None
        begin = max(planting.plant_on or ready, end if follows else ready)
        end = max(end, begin + timedelta(days=days))
    return end + timedelta(days=AFTER_SEASON_DAYS)


class Room(Struct, frozen=True):
    """The room of one planting, found at `path`: how many plants would fill all of the batch."""

    path: Path
    crop: str
    plants: int
    fit: int

    @property
    def share(self) -> float:
        """Return the part of the batch it takes."""
        return self.plants / self.fit


def too_many_plants(context: Context) -> Iterator[Mistake]:
    """Yield batches whose crops need more top than there is, at the time when they need most."""
    for path, batch in context.batches():
        together = _most_together(context, path, batch, batch.bales)
        share = fsum(each.share for each in together)
        if share <= FULL:
            continue
        worst = max(together, key=lambda each: each.share)
        left = int(worst.fit * (1.0 - (share - worst.share)) + FULL - 1.0)
        room = max(0, left)
        bales = _bales_needed(context, path, batch, ceil(batch.bales * share))
        yield finding(
            "no-room",
            (*worst.path, "plants"),
            f"{worst.plants} {worst.crop}",
            warning=True,
            bales=batch.bales,
            room=room,
            crop=worst.crop,
            beside=len(together) > 1,
            enough=bales,
            reads=(
                *((*path, key) for key in ("bales", "bale")),
                *(
                    (*path, "plantings", number, key)
                    for number in range(len(batch.plantings))
                    for key in ("plants", "crop", "follows")
                ),
                *context.names_in("crops"),
            ),
        )


def _most_together(context: Context, path: Path, batch: BatchSection, bales: int) -> list[Room]:
    """Return the plantings that need most room at one time, with each crop after the one before."""
    bale = bale_of(batch)
    if bale is None:
        return []
    scale = top_area_m2(bale) / top_area_m2(BALES["two-string"])
    after: dict[int | None, list[int]] = {}
    for number in range(len(batch.plantings)):
        after.setdefault(before(batch, number), []).append(number)

    def need(number: int) -> list[Room]:
        planting = batch.plantings[number]
        later = [room for each in after.get(number, ()) for room in need(each)]
        crop = find(context.supplies.crops, planting.crop)
        if crop is None:
            return later
        fit = max(1, int(crop.per_bale[1] * scale * bales))
        own = Room((*path, "plantings", number), planting.crop, planting.plants, fit)
        return later if fsum(each.share for each in later) > own.share else [own]

    return [room for number in after.get(None, ()) for room in need(number)]


def before(batch: BatchSection, number: int) -> int | None:
    """Return the planting that one waits for: the last of that crop listed before it."""
    follows = batch.plantings[number].follows
    if follows is None:
        return None
    named = [
        each
        for each, planting in enumerate(batch.plantings[:number])
        if planting.crop.casefold() == follows.casefold()
    ]
    return named[-1] if named else None


def _bales_needed(context: Context, path: Path, batch: BatchSection, about: int) -> int:
    """Return how many bales would hold all of it, from a number that is about right."""
    bales = max(batch.bales + 1, about - 1)
    while fsum(each.share for each in _most_together(context, path, batch, bales)) > FULL:
        bales += 1
    return bales


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
    for _, ripenings in _by_batch(context):
        for each in ripenings:
            freeze = each.garden.first_freeze_on
            follows = each.planting.follows is not None and each.planting.plant_on is None
            if dies_in_a_freeze(each.crop) and not (follows and freeze):
                yield from _against(context, each, freeze)


def crowding(context: Context) -> Iterator[Mistake]:
    """Yield crops that the one before them, however soon it is over, holds past their day."""
    for batch, ripenings in _by_batch(context):
        at = {int(each.path[-1]): each for each in ripenings}
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
    for batch, ripenings in _by_batch(context):
        fed = context.supplies.fed_on(batch)
        days = [step.day for step, feed in fed if feed.material is Material.POULTRY_MANURE]
        start = first_day(batch, context.supplies)
        if start is None or not days:
            continue
        fed_on = start + timedelta(days=max(days) - 1)
        free = fed_on + timedelta(days=MANURE_WAIT_DAYS)
        for each in ripenings:
            if each.soonest < free:
                yield _warning(
                    context, "raw-manure", each, days=MANURE_WAIT_DAYS, free=free, fed=fed_on
                )


def _crowded(context: Context, early: Ripening, late: Ripening, wanted: date) -> Iterator[Mistake]:
    over = early.soonest + timedelta(days=early.crop.harvest_days)
    if over <= wanted:
        return
    yield _warning(
        context,
        "crowded",
        late,
        freeze=late.planting.plant_on is None,
        early=early.crop.name,
        begin=early.begin,
        over=over,
        first=early.soonest,
        last=early.latest,
        picked=early.soonest < wanted,
        wanted=wanted,
    )


def _by_batch(context: Context) -> Iterator[tuple[BatchSection, list[Ripening]]]:
    """Yield every batch with what ripens in it."""
    for path, garden in context.gardens():
        for number, batch in enumerate(garden.batches):
            yield batch, _ripenings(context, (*path, "batches", number), garden, batch)


def _ripenings(
    context: Context, path: Path, garden: GardenSection, batch: BatchSection
) -> list[Ripening]:
    """Return every planting at the earliest it can be, one crop after the other."""
    ready = ready_day(batch, context.supplies)
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
    if freeze is None:
        if _is_doubtful(each):
            yield _warning(context, "ripe-in-frost", each, begin=each.begin)
    elif not _is_of_another_autumn(each, freeze) and each.latest >= freeze:
        never = each.soonest >= freeze
        remedy = _remedy(context, each, freeze, SOONEST if never else LATEST)
        yield _warning(
            context, "not-ripe", each, never=never, freeze=freeze, remedy=remedy, begin=each.begin
        )


def _warning(context: Context, what: str, each: Ripening, **places: Any) -> Mistake:
    batch_path, garden_path = each.path[:-2], each.path[:-4]
    key = "plant_on" if each.planting.plant_on is not None else "crop"
    numbers = range(int(each.path[-1]) + 1)
    return finding(
        what,
        (*each.path, key),
        warning=True,
        crop=each.crop.name,
        soonest=each.soonest,
        latest=each.latest,
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
    ready = ready_day(each.batch, context.supplies)
    follows = each.planting.follows
    if follows is None and ready is not None and by >= max(ready, context.today):
        return say("mend.plant-by", by=str(by))
    if each.planting.method is Method.SEED and usual_method(each.crop) is Method.TRANSPLANT:
        set_out = days_to_harvest(each.crop, Method.TRANSPLANT)[sort]
        if each.begin + timedelta(days=set_out) < freeze:
            return say("mend.set-out")
    schedule = find(context.supplies.schedules, each.batch.schedule)
    start = start_for(by, schedule) if schedule is not None else by
    if follows is None and start >= context.today:
        return say("mend.start-by", by=str(start))
    if follows is not None and by >= context.today:
        return say("mend.own-bales", by=str(by))
    return say("mend.quicker")


def _is_doubtful(each: Ripening) -> bool:
    """Return whether the soonest picking lies in months in which it may have frozen."""
    latitude = each.garden.latitude
    if abs(latitude) < NO_FREEZE_WITHIN_DEGREES:
        return False
    month = each.soonest.month
    if latitude < 0:
        month = (month + HALF_A_YEAR - 1) % MONTHS + 1
    return month in DOUBTED_MONTHS_NORTH
