"""The conditioning of batches close up, a column a day, with the weather under it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from datetime import date

from strawbell.model.season import BatchCourse, PhaseKind, SeasonSeen
from strawbell.model.summary import FeedingDay, FeedingFate
from strawbell.words.escaping import listing, name
from strawbell.words.picture import (
    TEXT_PX,
    Shape,
    date_axis,
    day_line,
    fitted,
    hatching,
    line,
    mark,
    picture,
    words,
)
from strawbell.words.scales import DateScale
from strawbell.words.season_marks import feeding_event, feeding_said
from strawbell.words.season_picture import (
    AXIS_PX,
    DAY,
    GAP_PX,
    MARGIN_PX,
    NAME_PX,
    RIGHT_PX,
    TOP_PX,
)
from strawbell.words.voice import day
from strawbell.words.weather_picture import weather_field

CLOSE_MARK_PX = 20.0
"""Largest mark of a close view, where days have room."""
LETTERS_FROM_PX = 11.0
"""Marks smaller than this carry no letter."""
CLOSE_DAYS = 35
"""Batches whose conditioning fits into this many days share a close view."""


def close_pictures(seen: SeasonSeen, width: float, identity: str) -> tuple[str, ...]:
    """Return the conditioning day by day, batches that begin about together in one picture."""
    return tuple(
        _close_picture(seen, group, width, f"{identity}-{number}")
        for number, group in enumerate(close_groups(seen.courses), 1)
    )


def close_groups(courses: Iterable[BatchCourse]) -> tuple[tuple[BatchCourse, ...], ...]:
    """Return the batches in groups whose conditioning fits into one close view."""
    groups: list[list[BatchCourse]] = []
    for course in sorted(courses, key=lambda each: each.start_on):
        begins = groups[-1][0].start_on if groups else None
        if begins is not None and (_conditioned(course) - begins).days < CLOSE_DAYS:
            groups[-1].append(course)
        else:
            groups.append([course])
    return tuple(tuple(group) for group in groups)


def _conditioned(course: BatchCourse) -> date:
    """Return the last day of a batch's conditioning."""
    return max(
        (each.last for each in course.phases if each.kind is PhaseKind.CONDITIONING),
        default=course.start_on,
    )


def _close_picture(
    seen: SeasonSeen, group: Sequence[BatchCourse], width: float, identity: str
) -> str:
    first = group[0].start_on
    last = max(_conditioned(each) for each in group) + DAY
    scale = DateScale(first, last, MARGIN_PX, width - RIGHT_PX)
    hatch = f"{identity}-hatch"
    parts: list[str] = []
    y = TOP_PX
    for course in group:
        title = fitted(name(course.batch), scale.right - scale.left)
        parts.append(words(scale.left, y + TEXT_PX, title, bold=True, halo=True))
        y += NAME_PX
        middle = y + CLOSE_MARK_PX / 2
        parts.append(words(scale.left - 11, middle + 4, "Feed", "soft", "end", TEXT_PX - 1))
        parts.append(line(scale.left, middle, scale.right, middle))
        parts += _close_marks(seen, course, scale, middle)
        y += CLOSE_MARK_PX + GAP_PX / 2
    field: list[str] = []
    if any(scale.holds(on) for on in seen.weather):
        field, y = weather_field(seen.weather, scale, y, hatch, seen.garden.units)
    # What runs through all rows is drawn first, so that it lies behind them.
    behind = (date_axis(scale, TOP_PX, y), day_line(scale, seen.today, 0.0, y, "today"))
    parts = [hatching(hatch), *behind, *parts, *field]
    names = listing(name(each.batch) for each in group)
    title = f"Conditioning of {names}, day by day"
    return picture(width, y + AXIS_PX, title, _close_words(seen, group), identity, parts)


def _close_marks(
    seen: SeasonSeen, course: BatchCourse, scale: DateScale, y: float
) -> Iterator[str]:
    """Yield a mark a day; told and planned feedings carry the day of the sequence."""
    size = min(CLOSE_MARK_PX, scale.day_px - 2)
    lettered = size >= LETTERS_FROM_PX
    went = seen.went(course.batch)
    by_date: dict[date, FeedingDay] = {}
    for each in went.feedings if went else ():
        # A feeding that was missed or held and given on the same day is shown as given.
        if scale.holds(each.on) and (each.fate.given or each.on not in by_date):
            by_date[each.on] = each
    for on, each in by_date.items():
        event = feeding_event(each)
        letter = event.letter or ("" if each.day is None else str(each.day))
        if each.fate is FeedingFate.MISSED or not lettered:
            letter = ""
        yield mark(event.shape, scale.middle(on), y, event.role, letter, event.says, size)
    for on in course.planned_feedings:
        if on not in by_date and scale.holds(on):
            says = f"{day(on)}: feeding planned"
            yield mark(Shape.RING, scale.middle(on), y, "due", "", says, size)


def _close_words(seen: SeasonSeen, group: Iterable[BatchCourse]) -> str:
    sentences = []
    for course in group:
        went = seen.went(course.batch)
        said = [
            f"{day(each.on)} {feeding_said(each)}"
            for each in (went.feedings if went else ())
            if each.day is not None
        ]
        said += [
            f"{day(on)} feeding planned"
            for on in course.planned_feedings
            if on <= _conditioned(course)
        ]
        sentences.append(f"{name(course.batch)}: {'; '.join(said) or 'no feeding yet'}.")
    return " ".join(sentences)
