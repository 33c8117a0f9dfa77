"""The grower's own feeds, schedules and crops: whether they can be what they say."""

from __future__ import annotations

from collections.abc import Iterator

from strawbell.agronomy.crops.table import CROPS
from strawbell.agronomy.feeding.schedules import validate_schedule
from strawbell.config.checks_context import Context
from strawbell.config.mistakes import Mistake, shown
from strawbell.config.outline import Path
from strawbell.config.supplies import CropSection, FeedSection
from strawbell.config.supplies_at_hand import crop_of, find, missing_values, nearest, schedule_of
from strawbell.model.feeds import FeedForm, Material


def feeds(context: Context) -> Iterator[Mistake]:
    """Yield entries of [[feeds]] that contradict themselves."""
    for number, feed in enumerate(context.settings.feeds):
        path: Path = ("feeds", number)
        if feed.label_rate is not None and feed.form is FeedForm.DRY:
            yield Mistake(
                "a dry feed has a rate at which it is mixed",
                (*path, "label_rate"),
                shown(feed.label_rate),
                'a label_rate only with form = "liquid" or "soluble"',
                'Write form = "soluble" if it dissolves, or leave the rate out.',
                reads=((*path, "label_rate"), (*path, "form")),
            )
        yield from _shed(path, feed)
        made = context.supplies.feeds[feed.name]
        if made.material is Material.AMMONIUM_NITRATE:
            yield Mistake(
                "this is, or looks like, ammonium nitrate: an oxidiser that must never be kept or "
                "used next to straw, hay or fuel",
                (*path, "name"),
                f"{shown(feed.name)}, {feed.label}",
                "another nitrogen feed",
                "If it is something else, say so with material.",
                warning=True,
                reads=((*path, "name"), (*path, "label"), (*path, "material")),
            )


def _shed(path: Path, feed: FeedSection) -> Iterator[Mistake]:
    """Yield stocks and packages that cannot be counted."""
    for number, package in enumerate(feed.packages):
        if (package.kg is None) == (package.l is None):
            yield Mistake(
                "a package says neither what it weighs nor what it holds"
                if package.kg is None
                else "a package says both a mass and a volume",
                (*path, "packages", number, "kg"),
                "nothing" if package.kg is None else f"kg = {package.kg:g}, l = {package.l:g}",
                "one of kg and l",
                "Write what is printed on it, such as kg = 5.",
                reads=((*path, "packages", number, "kg"), (*path, "packages", number, "l")),
            )
    volumes = [("in_stock_l", feed.in_stock_l)]
    volumes += [("packages", each.l) for each in feed.packages]
    for key, litres in volumes:
        if litres is not None and feed.density_kg_per_l is None:
            yield Mistake(
                "a volume of the feed is given, but not what a litre weighs",
                (*path, key),
                f"{litres:g} L",
                "kilograms, or density_kg_per_l beside it",
                "Weigh a litre of it and write density_kg_per_l, or write kilograms.",
                reads=((*path, key), (*path, "density_kg_per_l")),
            )
    if feed.in_stock_kg is not None and feed.in_stock_l is not None:
        yield Mistake(
            "the stock is given twice",
            (*path, "in_stock_l"),
            f"in_stock_kg = {feed.in_stock_kg:g}, in_stock_l = {feed.in_stock_l:g}",
            "one of the two",
            "Remove one.",
            reads=((*path, "in_stock_kg"), (*path, "in_stock_l")),
        )
    if feed.in_stock_on is not None and feed.in_stock_kg is None and feed.in_stock_l is None:
        yield Mistake(
            "a date of counting is given, but not what was counted",
            (*path, "in_stock_on"),
            f"{feed.in_stock_on}",
            "in_stock_kg or in_stock_l beside it",
            "Write what you had of it that morning.",
            reads=((*path, "in_stock_on"), (*path, "in_stock_kg"), (*path, "in_stock_l")),
        )


def schedules(context: Context) -> Iterator[Mistake]:
    """Yield schedules of the grower's that cannot work."""
    for number, section in enumerate(context.settings.schedules):
        path: Path = ("schedules", number)
        reads = tuple((*path, key) for key in ("days", "plant_from_day"))
        for complaint in validate_schedule(schedule_of(section, context.supplies.feeds)):
            yield Mistake(
                f"the schedule cannot work: {complaint}",
                (*path, "days"),
                f"{len(section.days)} days, planting from day {section.plant_from_day}",
                "days from 1 without gaps, a feeding among them, planting after the last",
                reads=reads,
            )
        for place, day in enumerate(section.days):
            if day.feed is not None and find(context.supplies.feeds, day.feed) is None:
                meant = nearest(context.supplies.feeds, day.feed)
                yield Mistake(
                    f"there is no feed of that name, for day {day.day}",
                    (*path, "days", place, "feed"),
                    shown(day.feed),
                    ", ".join(f'"{each}"' for each in context.supplies.feeds),
                    f'Did you mean "{meant}"?' if meant else "",
                    reads=(*reads, *context.names_in("feeds")),
                )


def crops(context: Context) -> Iterator[Mistake]:
    """Yield crops of the grower's that say too little or contradict themselves."""
    for number, section in enumerate(context.settings.crops):
        path: Path = ("crops", number)
        if section.like is not None and find(CROPS, section.like) is None:
            meant = nearest(CROPS, section.like)
            yield Mistake(
                "there is no such built-in crop",
                (*path, "like"),
                shown(section.like),
                "the name of a built-in crop",
                f'Did you mean "{meant}"?' if meant else "",
            )
        else:
            for name in missing_values(section):
                yield Mistake(
                    f"the crop is not built in, and {name} is missing",
                    (*path, name),
                    "nothing",
                    "a value, or like = the name of a built-in crop",
                    'Write for instance: like = "lettuce".',
                    reads=((*path, "name"), (*path, "like"), (*path, name)),
                )
        yield from _order(path, section)


def _order(path: Path, section: CropSection) -> Iterator[Mistake]:
    for name in ("per_bale", "days_to_maturity", "transplant_weeks"):
        pair = getattr(section, name)
        if pair is not None and pair[0] > pair[1]:
            yield Mistake(
                f"the first number of {name} is above the second",
                (*path, name),
                f"[{pair[0]}, {pair[1]}]",
                "the lower number first",
                f"Write [{pair[1]}, {pair[0]}].",
            )
    yield from _apart(path, section, "kill_at_c", "cover_at_c", "so the cover would come too late")
    yield from _apart(
        path,
        section,
        "germination_min_c",
        "germination_max_c",
        "so the seed would come up at no temperature",
    )
    points = section.emergence or ()
    warm = [point[0] for point in points]
    if warm != sorted(set(warm)) or any(point[1] <= 0 for point in points):
        yield Mistake(
            "the temperatures of emergence do not rise, or a number of days is not above 0",
            (*path, "emergence"),
            shown([list(point) for point in points]),
            "pairs of temperature and days, temperatures ascending",
        )


def _apart(path: Path, section: CropSection, low: str, high: str, why: str) -> Iterator[Mistake]:
    """Yield that one temperature lies above another, written here or taken from the base."""
    made = crop_of(section) or section
    below, above = getattr(made, low), getattr(made, high)
    if below is None or above is None or below <= above:
        return
    key = high if getattr(section, high) is not None else low
    yield Mistake(
        f"{low} is above {high}, {why}",
        (*path, key),
        f"{low} = {below:g}, {high} = {above:g}",
        f"{high} at or above {low}",
        f"Raise {high}." if key == high else f"Raise {high} as well, or lower {low}.",
        reads=tuple((*path, name) for name in (high, low, "like", "name")),
    )
