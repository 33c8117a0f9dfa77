"""Gardens, batches and plantings: names, dates and numbers that cannot work."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import date, timedelta

from strawbell.agronomy.bale.size_and_mass import BALES
from strawbell.agronomy.crops.table import CROPS, NOT_IN_BALES
from strawbell.agronomy.feeding.feeds import FEEDS
from strawbell.agronomy.feeding.schedules import SCHEDULES, start_for
from strawbell.config.checks_context import Context
from strawbell.config.gardens import BatchSection, PlantingSection
from strawbell.config.mistakes import Mistake, shown
from strawbell.config.outline import Path
from strawbell.config.supplies_at_hand import DRENCH, bale_of, find, nearest
from strawbell.model.names import slug

FAR_AHEAD_DAYS = 400
"""A start further ahead than this is more often a slip in the year than a plan."""
SEASON_WITHOUT_CROPS_DAYS = 180
"""How long bales without plantings are taken to be in use (common practice: one season)."""
AFTER_SEASON_DAYS = 30
"""Days after the last harvest in which bales are still taken apart and spread."""
_LISTS: Mapping[str, Mapping[str, object]] = {
    "feeds": FEEDS, "schedules": SCHEDULES, "crops": CROPS
}  # fmt: skip


def emptiness(context: Context) -> Iterator[Mistake]:
    """Yield that nothing would ever be due."""
    if not context.settings.gardens:
        yield Mistake(
            "there is no garden, so there is nothing to remind you of",
            ("gardens",),
            "nothing",
            "at least one [[gardens]] table",
            "Write a first garden; README.md has ten lines.",
        )
    for path, garden in context.gardens():
        if not garden.batches and not garden.resting:
            yield Mistake(
                "the garden has no bales, so nothing would ever be due in it",
                (*path, "batches"),
                "nothing",
                "at least one [[gardens.batches]] table",
                "Add one, or write resting = true to keep the garden without bales.",
                reads=((*path, "batches"), (*path, "resting")),
            )


def duplicate_names(context: Context) -> Iterator[Mistake]:
    """Yield names that stand twice, or that cannot be told apart in keys and file names."""
    yield from _doubles("garden", [((*p, "name"), g.name) for p, g in context.gardens()])
    yield from _double_ids("garden", [((*p, "id"), g.id) for p, g in context.gardens()])
    for path, garden in context.gardens():
        named = [
            ((*path, "batches", number, "name"), batch.name)
            for number, batch in enumerate(garden.batches)
        ]
        yield from _doubles("batch of the garden", named)
        ids = [
            ((*path, "batches", number, "id"), batch.id)
            for number, batch in enumerate(garden.batches)
        ]
        yield from _double_ids("batch of the garden", ids)
    for section in _LISTS:
        entries = getattr(context.settings, section)
        named = [((section, number, "name"), each.name) for number, each in enumerate(entries)]
        yield from _doubles(section.removesuffix("s"), named, exact=True)
    for path, batch in context.batches():
        crops = [
            ((*path, "plantings", number, "crop"), each.crop)
            for number, each in enumerate(batch.plantings)
        ]
        yield from _doubles("crop of the batch", crops)


def _double_ids(kind: str, ids: list[tuple[Path, str | None]]) -> Iterator[Mistake]:
    first: dict[str, Path] = {}
    for path, each in ids:
        if each is None:
            continue
        if each in first:
            yield Mistake(
                f"another {kind} has this id",
                path,
                shown(each),
                "each id once",
                "Give one of the two another id; an id is what stays when a name changes.",
                reads=(first[each], path),
            )
        first.setdefault(each, path)


def _doubles(kind: str, named: list[tuple[Path, str]], *, exact: bool = False) -> Iterator[Mistake]:
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
        same = one.casefold() == other.casefold()
        what = f"another {kind} has this name"
        if not same:
            what = f"in keys and files the name cannot be told from {shown(one)}"
        yield Mistake(
            what,
            second,
            shown(other),
            "each name once, told apart by letters a to z or digits",
            "Give one of the two another name.",
            reads=(first, second),
        )


def starts(context: Context) -> Iterator[Mistake]:
    """Yield batches without a way to tell their first day, and unknown bales and schedules."""
    for path, batch in context.batches():
        both = ((*path, "start_on"), (*path, "plant_on"))
        if batch.start_on is None and batch.plant_on is None:
            yield Mistake(
                "neither start_on nor plant_on is given, so no day can be counted",
                both[0],
                "nothing",
                "one of start_on and plant_on",
                "Write for instance: start_on = 2027-04-05.",
                reads=both,
            )
        elif batch.start_on is not None and batch.plant_on is not None:
            after = batch.start_on > batch.plant_on
            yield Mistake(
                "start_on is after plant_on; give only one of them"
                if after
                else "start_on and plant_on are both given",
                both[1],
                f"start_on = {batch.start_on}, plant_on = {batch.plant_on}",
                "one of the two",
                "Remove one; the other follows from the schedule.",
                reads=both,
            )
        if bale_of(batch) is None and isinstance(batch.bale, str):
            yield _unknown(
                "kind of bale", (*path, "bale"), batch.bale, BALES,
                "or a table with length_cm, width_cm, height_cm and dry_mass_kg",
            )  # fmt: skip
        yield from _names_it_uses(context, path, batch)


def _names_it_uses(context: Context, path: Path, batch: BatchSection) -> Iterator[Mistake]:
    supplies = context.supplies
    if find(supplies.schedules, batch.schedule) is None:
        own = context.names_in("schedules")
        yield _unknown(
            "schedule", (*path, "schedule"), batch.schedule, supplies.schedules, reads=own
        )
    for key in ("feed", "finishing_feed"):
        name = getattr(batch, key)
        if name is not None and find(supplies.feeds, name) is None:
            own = context.names_in("feeds")
            yield _unknown("feed", (*path, key), name, supplies.feeds, reads=own)
    for day, text in batch.feeds.items():
        if supplies.meant(text)[0] is None:
            own = context.names_in("feeds")
            where, name = (*path, "feeds", day), text.removeprefix(DRENCH)
            yield _unknown("feed", where, name, supplies.feeds, reads=own)


def _unknown(
    kind: str,
    path: Path,
    name: str,
    known: Mapping[str, object],
    more: str = "",
    reads: tuple[Path, ...] = (),
) -> Mistake:
    meant = nearest(known, name)
    listed = ", ".join(f'"{each}"' for each in known)
    return Mistake(
        f"there is no {kind} of that name",
        path,
        shown(name),
        f"{listed} {more}".strip(),
        f'Did you mean "{meant}"?' if meant else "",
        reads=(path, *reads),
    )


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
        batch_path = path[:-2]
        crop = find(context.supplies.crops, planting.crop)
        where = (*path, "crop")
        if crop is None:
            yield _unknown_crop(context, where, planting.crop)
        elif crop.advice_against:
            yield Mistake(
                f"{crop.name} does badly in bales: {crop.advice_against}",
                where,
                shown(planting.crop),
                "another crop, or this one against advice",
                warning=True,
            )
        yield from _following(path, batch, planting)
        ready = ready_day(context, batch)
        early = planting.plant_on is not None and ready is not None and planting.plant_on < ready
        if early:
            start = first_day(context, batch)
            yield Mistake(
                f"the bales, started on {start}, cannot be ready by then",
                (*path, "plant_on"),
                str(planting.plant_on),
                f"{ready} or later",
                f"Write plant_on = {ready}, or start the batch earlier.",
                reads=((*path, "plant_on"), *_dates_of(batch_path), *context.names_in("schedules")),
            )


def _unknown_crop(context: Context, path: Path, name: str) -> Mistake:
    reason = find(NOT_IN_BALES, name)
    reads = (path, *context.names_in("crops"))
    if reason is not None:
        return Mistake(
            f"the crop is not in the table: {reason}",
            path,
            shown(name),
            "a crop of the table, or a [[crops]] entry of your own",
            "Choose another crop.",
            reads=reads,
        )
    meant = nearest(context.supplies.crops, name)
    return Mistake(
        "there is no crop of that name",
        path,
        shown(name),
        "a crop of the table, or a [[crops]] entry of your own",
        f'Did you mean "{meant}"?' if meant else "Add it under [[crops]].",
        reads=reads,
    )


def _following(path: Path, batch: BatchSection, planting: PlantingSection) -> Iterator[Mistake]:
    if planting.follows is None:
        return
    number = int(path[-1])
    earlier = [each.crop for each in batch.plantings[:number]]
    if planting.follows.casefold() not in map(str.casefold, earlier):
        listed = ", ".join(shown(each) for each in earlier) or "an earlier planting"
        yield Mistake(
            "follows names no earlier crop of the batch",
            (*path, "follows"),
            shown(planting.follows),
            listed,
            "List the first crop before the one that follows it.",
            reads=(
                (*path, "follows"),
                *((*path[:-1], each, "crop") for each in range(number)),
            ),
        )


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
                yield Mistake(
                    "the first day lies more than a year ahead",
                    (*batch_path, key),
                    str(getattr(batch, key)),
                    "the coming season",
                    "Look at the year.",
                    warning=True,
                    reads=_dates_of(batch_path),
                )
        if ends and len(ends) == len(garden.batches) and max(ends) < context.today:
            yield Mistake(
                "the whole plan of the garden lies in the past, so nothing will be due",
                (*path, "batches"),
                f"an end about {max(ends)}, and today is {context.today}",
                "a batch that is still in use",
                "Look at the year, or write resting = true once the bales are gone.",
                warning=True,
                reads=tuple(
                    each
                    for number in range(len(ends))
                    for each in _dates_of((*path, "batches", number))
                ),
            )


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
