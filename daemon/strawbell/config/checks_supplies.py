"""The grower's own feeds, schedules and crops: whether they can be what they say."""

from __future__ import annotations

from collections.abc import Iterator

from strawbell.agronomy.crops.table import CROPS
from strawbell.agronomy.feeding.schedules import validate_schedule
from strawbell.config.checks_context import Context
from strawbell.config.mistakes import Mistake, shown
from strawbell.config.outline import Path
from strawbell.config.supplies import CropSection
from strawbell.config.supplies_at_hand import crop_of, find, missing_values, nearest, schedule_of
from strawbell.model.feeds import FeedForm, Material


def feeds(context: Context) -> Iterator[Mistake]:
    """Yield entries of [[feeds]] that contradict themselves."""
    for number, feed in enumerate(context.settings.feeds):
        path: Path = ("feeds", number)
        if feed.dilution_ml_per_l is not None and feed.form is FeedForm.DRY:
            yield Mistake(
                "a dry feed has a dilution",
                (*path, "dilution_ml_per_l"),
                f"{feed.dilution_ml_per_l:g}",
                'a dilution only with form = "liquid"',
                'Write form = "liquid", or leave the dilution out.',
                reads=((*path, "dilution_ml_per_l"), (*path, "form")),
            )
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


def schedules(context: Context) -> Iterator[Mistake]:
    """Yield schedules of the grower's that cannot work."""
    for number, section in enumerate(context.settings.schedules):
        path: Path = ("schedules", number)
        reads = tuple((*path, key) for key in ("days", "plant_from_day"))
        for complaint in validate_schedule(schedule_of(section)):
            yield Mistake(
                f"the schedule cannot work: {complaint}",
                (*path, "days"),
                f"{len(section.days)} days, planting from day {section.plant_from_day}",
                "days from 1 without gaps, a feeding among them, planting after the last",
                reads=reads,
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
