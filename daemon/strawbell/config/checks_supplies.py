"""The grower's own feeds, schedules and crops: whether they can be what they say."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from strawbell.agronomy.crop_table import CROPS
from strawbell.agronomy.schedules import validate_schedule
from strawbell.config.checks_context import Context
from strawbell.config.mistakes import Mistake, finding, shown
from strawbell.config.outline import Path
from strawbell.config.supplies import CropSection, FeedSection
from strawbell.config.supplies_at_hand import crop_of, find, missing_values, nearest, schedule_of
from strawbell.model.feeds import FeedForm, Material


def did_you_mean(known: Mapping[str, object], name: str) -> str:
    """Return the question whether another name was meant, "" where none is near."""
    meant = nearest(known, name)
    return f'Did you mean "{meant}"?' if meant else ""


def feeds(context: Context) -> Iterator[Mistake]:
    """Yield entries of [[feeds]] that contradict themselves."""
    for number, feed in enumerate(context.settings.feeds):
        path: Path = ("feeds", number)
        if feed.label_rate is not None and feed.form is FeedForm.DRY:
            yield finding(
                "dry-feed-with-rate", (*path, "label_rate"), shown(feed.label_rate), reads=["form"]
            )
        yield from _shed(path, feed)
        if context.supplies.feeds[feed.name].material is Material.AMMONIUM_NITRATE:
            found = f"{shown(feed.name)}, {feed.label}"
            yield finding("oxidiser", (*path, "name"), found, reads=["label", "material"])


def _shed(path: Path, feed: FeedSection) -> Iterator[Mistake]:
    """Yield stocks and packages that cannot be counted."""
    for number, package in enumerate(feed.packages):
        where = (*path, "packages", number, "kg")
        if package.kg is None and package.l is None:
            yield finding("package-of-nothing", where, "nothing", reads=["l"])
        elif package.kg is not None and package.l is not None:
            found = f"kg = {package.kg:g}, l = {package.l:g}"
            yield finding("package-of-both", where, found, reads=["l"])
    volumes = [("in_stock_l", feed.in_stock_l)]
    volumes += [("packages", each.l) for each in feed.packages]
    for key, litres in volumes:
        if litres is not None and feed.density_kg_per_l is None:
            density = ["density_kg_per_l"]
            yield finding("volume-without-density", (*path, key), f"{litres:g} L", reads=density)
    if feed.in_stock_kg is not None and feed.in_stock_l is not None:
        found = f"in_stock_kg = {feed.in_stock_kg:g}, in_stock_l = {feed.in_stock_l:g}"
        yield finding("stock-twice", (*path, "in_stock_l"), found, reads=["in_stock_kg"])
    if feed.in_stock_on is not None and feed.in_stock_kg is None and feed.in_stock_l is None:
        stock = ["in_stock_kg", "in_stock_l"]
        yield finding(
            "stock-of-nothing", (*path, "in_stock_on"), f"{feed.in_stock_on}", reads=stock
        )


def schedules(context: Context) -> Iterator[Mistake]:
    """Yield schedules of the grower's that cannot work."""
    known = context.supplies.feeds
    for number, section in enumerate(context.settings.schedules):
        path: Path = ("schedules", number)
        reads = tuple((*path, key) for key in ("days", "plant_from_day"))
        for complaint in validate_schedule(schedule_of(section, known)):
            found = f"{len(section.days)} days, planting from day {section.plant_from_day}"
            yield finding("schedule", (*path, "days"), found, complaint=complaint, reads=reads)
        for place, day in enumerate(section.days):
            if day.feed is not None and find(known, day.feed) is None:
                yield finding(
                    "feed-of-day",
                    (*path, "days", place, "feed"),
                    shown(day.feed),
                    day=day.day,
                    known=", ".join(f'"{each}"' for each in known),
                    meant=did_you_mean(known, day.feed),
                    reads=(*reads, *context.names_in("feeds")),
                )


def crops(context: Context) -> Iterator[Mistake]:
    """Yield crops of the grower's that say too little or contradict themselves."""
    for number, section in enumerate(context.settings.crops):
        path: Path = ("crops", number)
        if section.like is not None and find(CROPS, section.like) is None:
            meant = did_you_mean(CROPS, section.like)
            yield finding("no-built-in-crop", (*path, "like"), shown(section.like), meant=meant)
        else:
            for key in missing_values(section):
                reads = ["name", "like"]
                yield finding("crop-lacks", (*path, key), "nothing", key=key, reads=reads)
        yield from _order(path, section)


def _order(path: Path, section: CropSection) -> Iterator[Mistake]:
    for key in ("per_bale", "days_to_maturity", "transplant_weeks"):
        pair = getattr(section, key)
        if pair is not None and pair[0] > pair[1]:
            found, turned = f"[{pair[0]}, {pair[1]}]", f"[{pair[1]}, {pair[0]}]"
            yield finding("first-above-second", (*path, key), found, key=key, turned=turned)
    yield from _apart(path, section, "kill_at_c", "cover_at_c", "the cover would come too late")
    yield from _apart(
        path,
        section,
        "germination_min_c",
        "germination_max_c",
        "the seed would come up at no temperature",
    )
    points = section.emergence or ()
    warm = [point[0] for point in points]
    if warm != sorted(set(warm)) or any(point[1] <= 0 for point in points):
        found = shown([list(point) for point in points])
        yield finding("emergence-falls", (*path, "emergence"), found)


def _apart(path: Path, section: CropSection, low: str, high: str, why: str) -> Iterator[Mistake]:
    """Yield that one temperature lies above another, written here or taken from the base."""
    made = crop_of(section) or section
    below, above = getattr(made, low), getattr(made, high)
    if below is None or above is None or below <= above:
        return
    key = high if getattr(section, high) is not None else low
    yield finding(
        "low-above-high",
        (*path, key),
        f"{low} = {below:g}, {high} = {above:g}",
        low=low,
        high=high,
        why=why,
        remedy=f"Raise {high}." if key == high else f"Raise {high} as well, or lower {low}.",
        reads=[high, low, "like", "name"],
    )
