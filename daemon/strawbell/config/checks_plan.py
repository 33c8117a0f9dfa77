"""Gardens, batches and plantings: names, dates and numbers that cannot work."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import date, timedelta

from strawbell.agronomy.bales import BALES
from strawbell.agronomy.crop_table import NOT_IN_BALES
from strawbell.agronomy.schedules import start_for
from strawbell.config.checks_context import Context
from strawbell.config.checks_supplies import did_you_mean
from strawbell.config.gardens import BatchSection, PlantingSection
from strawbell.config.mistakes import Mistake, finding, shown
from strawbell.config.outline import Path
from strawbell.config.supplies_at_hand import DRENCH, bale_of, find
from strawbell.model.garden import slug

FAR_AHEAD_DAYS = 400
"""A start further ahead than this is more often a slip in the year than a plan."""
SEASON_WITHOUT_CROPS_DAYS = 180
"""How long bales without plantings are taken to be in use (common practice: one season)."""
AFTER_SEASON_DAYS = 30
"""Days after the last harvest in which bales are still taken apart and spread."""


def emptiness(context: Context) -> Iterator[Mistake]:
    """Yield that nothing would ever be due."""
    if not context.settings.gardens:
        yield finding("no-garden", ("gardens",), "nothing")
    for path, garden in context.gardens():
        if not garden.batches and not garden.resting:
            yield finding("no-bales", (*path, "batches"), "nothing", reads=["resting"])


def duplicate_names(context: Context) -> Iterator[Mistake]:
    """Yield names that stand twice, or that cannot be told apart in keys and file names."""
    gardens = list(context.gardens())
    yield from _doubles("garden", [((*p, "name"), g.name) for p, g in gardens])
    yield from _double_ids("garden", [((*p, "id"), g.id) for p, g in gardens])
    for path, garden in gardens:
        batches = [((*path, "batches", n), batch) for n, batch in enumerate(garden.batches)]
        kind = "batch of the garden"
        yield from _doubles(kind, [((*p, "name"), each.name) for p, each in batches])
        yield from _double_ids(kind, [((*p, "id"), each.id) for p, each in batches])
    for section in ("feeds", "schedules", "crops"):
        entries = getattr(context.settings, section)
        named = [((section, number, "name"), each.name) for number, each in enumerate(entries)]
        yield from _doubles(section.removesuffix("s"), named, exact=True)
    for path, batch in context.batches():
        crops = [
            ((*path, "plantings", number, "crop"), each.crop)
            for number, each in enumerate(batch.plantings)
        ]
        yield from _doubles("crop of the batch", crops)


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
        what = "name-twice" if one.casefold() == other.casefold() else "names-alike"
        yield finding(what, second, shown(other), kind=kind, one=shown(one), reads=[first])


def starts(context: Context) -> Iterator[Mistake]:
    """Yield batches without a way to tell their first day, and unknown bales and schedules."""
    for path, batch in context.batches():
        first, last = batch.start_on, batch.plant_on
        if first is None and last is None:
            yield finding("no-start", (*path, "start_on"), "nothing", reads=["plant_on"])
        elif first is not None and last is not None:
            what = "start-after-planting" if first > last else "start-twice"
            found = f"start_on = {first}, plant_on = {last}"
            yield finding(what, (*path, "plant_on"), found, reads=["start_on"])
        if bale_of(batch) is None and isinstance(batch.bale, str):
            yield _unknown(
                "kind of bale", (*path, "bale"), batch.bale, BALES,
                " or a table with length_cm, width_cm, height_cm and dry_mass_kg",
            )  # fmt: skip
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
    more: str = "",
    reads: tuple[Path, ...] = (),
) -> Mistake:
    listed = ", ".join(f'"{each}"' for each in known) + more
    meant = did_you_mean(known, name)
    return finding("unknown", path, shown(name), kind=kind, known=listed, meant=meant, reads=reads)


def first_day(context: Context, batch: BatchSection) -> date | None:
    """Return the first day of a batch, None while it cannot be told."""
    schedule = find(context.supplies.schedules, batch.schedule)
    if batch.start_on is not None or batch.plant_on is None or schedule is None:
        return batch.start_on
    return start_for(batch.plant_on, schedule)


def ready_day(context: Context, batch: BatchSection) -> date | None:
    """Return the first day on which a batch can be planted, None while it cannot be told."""
    start = first_day(context, batch)
    schedule = find(context.supplies.schedules, batch.schedule)
    if start is None or schedule is None:
        return None
    return start + timedelta(days=schedule.plant_from_day - 1)


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
            yield finding("badly-in-bales", where, found, crop=crop.name, why=crop.advice_against)
        yield from _following(path, batch, planting)
        ready = ready_day(context, batch)
        if planting.plant_on is not None and ready is not None and planting.plant_on < ready:
            yield finding(
                "planted-too-early",
                (*path, "plant_on"),
                str(planting.plant_on),
                start=first_day(context, batch),
                ready=ready,
                reads=(*_dates_of(path[:-2]), *context.names_in("schedules")),
            )


def _unknown_crop(context: Context, path: Path, name: str) -> Mistake:
    reason, reads = find(NOT_IN_BALES, name), context.names_in("crops")
    if reason is not None:
        return finding("crop-not-in-table", path, shown(name), reason=reason, reads=reads)
    meant = did_you_mean(context.supplies.crops, name) or "Add it under [[crops]]."
    return finding("no-such-crop", path, shown(name), meant=meant, reads=reads)


def _following(path: Path, batch: BatchSection, planting: PlantingSection) -> Iterator[Mistake]:
    if planting.follows is None:
        return
    number = int(path[-1])
    earlier = [each.crop for each in batch.plantings[:number]]
    if planting.follows.casefold() not in map(str.casefold, earlier):
        listed = ", ".join(shown(each) for each in earlier) or "an earlier planting"
        reads = [(*path[:-1], each, "crop") for each in range(number)]
        found = shown(planting.follows)
        yield finding("follows-nothing", (*path, "follows"), found, earlier=listed, reads=reads)


def nothing_ahead(context: Context) -> Iterator[Mistake]:
    """Yield gardens whose whole plan is over, and starts that are too far ahead."""
    for path, garden in context.gardens():
        ends = []
        for number, batch in enumerate(garden.batches):
            batch_path = (*path, "batches", number)
            start = first_day(context, batch)
            if start is None:
                break
            ends.append(_season_end(context, batch, start))
            if start > context.today + timedelta(days=FAR_AHEAD_DAYS):
                key = "start_on" if batch.start_on else "plant_on"
                found = str(getattr(batch, key))
                yield finding("far-ahead", (*batch_path, key), found, reads=_dates_of(batch_path))
        if ends and len(ends) == len(garden.batches) and max(ends) < context.today:
            found = f"an end about {max(ends)}, and today is {context.today}"
            numbers = range(len(ends))
            reads = [each for n in numbers for each in _dates_of((*path, "batches", n))]
            yield finding("in-the-past", (*path, "batches"), found, reads=reads)


def _season_end(context: Context, batch: BatchSection, start: date) -> date:
    """Return a day by which a batch is surely over; late rather than early."""
    ready = ready_day(context, batch) or start
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
