"""The pictures of a season: the whole of it, and its conditioning close up.

Each is drawn at a width of its own, so that its words keep their size on a phone and on a desk.
What a picture shows is told by the page beside it too, in words and tables.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import date, timedelta
from types import MappingProxyType

from strawbell.model.season import BatchCourse, Phase, PhaseKind, SeasonSeen
from strawbell.words.escaping import count, listing, name
from strawbell.words.picture import (
    TEXT_PX,
    Shape,
    box,
    date_axis,
    day_line,
    fitted,
    hatching,
    line,
    picture,
    words,
)
from strawbell.words.scales import DateScale
from strawbell.words.season_marks import Event, clustered, clusters, feeding_event
from strawbell.words.voice import day
from strawbell.words.weather_picture import weather_field

DAY = timedelta(days=1)
MARGIN_PX, RIGHT_PX = 58.0, 6.0
"""Room left of the field for the names of its rows, and right of it."""
TOP_PX = 18.0
NAME_PX, LANE_PX, ROW_PX, GAP_PX = 17.0, 21.0, 18.0, 12.0
"""Heights of a batch's name, of a bar, of a row of marks, and of the gap after a batch."""
AXIS_PX = 26.0
CROP_ROLES = ("leaf", "fruit", "root")
SHORT_WORDS: MappingProxyType[PhaseKind, str] = MappingProxyType(
    {PhaseKind.CONDITIONING: "feed", PhaseKind.WAITING: "wait", PhaseKind.PICKING: "pick"}
)
"""What stands in a bar that has no room for the whole word."""
PHASE_WORDS: MappingProxyType[PhaseKind, str] = MappingProxyType(
    {
        PhaseKind.CONDITIONING: "conditioning",
        PhaseKind.WAITING: "waiting",
        PhaseKind.GROWING: "growing",
        PhaseKind.PICKING: "picking",
    }
)


def season_picture(seen: SeasonSeen, width: float, identity: str) -> str:
    """Return the whole season: a block of bars and marks a batch, and the weather under it."""
    first, last = span_of(seen)
    scale = DateScale(first, last, MARGIN_PX, width - RIGHT_PX)
    hatch = f"{identity}-hatch"
    parts: list[str] = []
    y = TOP_PX
    for course in seen.courses:
        block, y = _batch_block(seen, course, scale, y, hatch)
        parts += block
    field: list[str] = []
    if seen.weather:
        field, y = weather_field(seen.weather, scale, y, hatch, seen.garden.units)
    # What runs through all rows is drawn first, so that it lies behind them.
    behind = (date_axis(scale, TOP_PX, y), day_line(scale, seen.today, 0.0, y, "today"))
    parts = [hatching(hatch), *behind, *parts, *field]
    title = f"The season of {name(seen.garden.name)}"
    return picture(width, y + AXIS_PX, title, season_words(seen), identity, parts)


def span_of(seen: SeasonSeen) -> tuple[date, date]:
    """Return the first and the last date a season's picture shows."""
    first = min((each.start_on for each in seen.courses), default=seen.today)
    last = max((each.ends_on for each in seen.courses), default=seen.today)
    return min(first, seen.today), max(last, seen.today) + DAY


def season_words(seen: SeasonSeen) -> str:
    """Return in words what the picture of the season shows."""
    return " ".join(course_words(course, seen) for course in seen.courses)


def course_words(course: BatchCourse, seen: SeasonSeen) -> str:
    """Return a batch's phases and events as sentences."""
    phases = "; ".join(phase_words(each, seen.today) for each in course.phases)
    went = seen.went(course.batch)
    events = []
    if went is not None:
        events = [
            count(len(dates), noun)
            for dates, noun in (
                (went.given, "feeding given"),
                (went.held, "held day"),
                (went.missed, "missed feeding"),
                (went.frost_nights, "frost night warned of"),
                (went.hot_dry_days, "hot dry day"),
            )
            if dates
        ]
    planned = len(course.planned_feedings)
    if planned:
        events.append(f"{planned} planned")
    told = f" {_plural(listing(events))}." if events else ""
    return f"{name(course.batch)}: {phases}.{told}"


def _plural(said: str) -> str:
    """Put the plural where it belongs: "2 feeding givens" is "2 feedings given"."""
    for wrong, right in (
        ("feeding givens", "feedings given"),
        ("frost night warned ofs", "frost nights warned of"),
    ):
        said = said.replace(wrong, right)
    return said


def phase_words(phase: Phase, today: date) -> str:
    """Return a phase with its dates; what is still to come is planned."""
    what = PHASE_WORDS[phase.kind]
    of = f"{name(phase.label)} {what}" if phase.label else what
    planned = " (planned)" if phase.first > today else ""
    until = " (planned)" if phase.projected and not planned else ""
    return f"{of} {day(phase.first)} to {day(phase.last)}{planned or until}"


def _batch_block(
    seen: SeasonSeen, course: BatchCourse, scale: DateScale, y: float, hatch: str
) -> tuple[list[str], float]:
    title = f"{name(course.batch)} ({count(course.bales, 'bale')})"
    room = scale.right - scale.left
    parts = [words(scale.left, y + TEXT_PX, fitted(title, room), bold=True, halo=True)]
    y += NAME_PX
    roles = _roles(course)
    for phases in _lanes(course.phases):
        parts += [_bar(phase, scale, y, roles, hatch) for phase in phases]
        y += LANE_PX
    y += 2
    for label, row in _mark_rows(seen, course):
        parts.append(words(scale.left - 11, y + ROW_PX * 0.75, label, "soft", "end", TEXT_PX - 1))
        parts.append(line(scale.left, y + ROW_PX / 2, scale.right, y + ROW_PX / 2))
        parts += [clustered(events, scale, y + ROW_PX / 2) for events in clusters(row, scale)]
        y += ROW_PX
    return parts, y + GAP_PX


def _bar(phase: Phase, scale: DateScale, y: float, roles: Mapping[str, str], hatch: str) -> str:
    x, ends = scale.x(phase.first), scale.x(phase.last + DAY)
    fill = {PhaseKind.CONDITIONING: "straw", PhaseKind.WAITING: "rest"}.get(
        phase.kind, roles.get(phase.label, CROP_ROLES[0])
    )
    said = PHASE_WORDS[phase.kind]
    if phase.kind is PhaseKind.GROWING:
        said = name(phase.label)
    pattern = hatch if phase.kind in (PhaseKind.CONDITIONING, PhaseKind.PICKING) else ""
    height = LANE_PX - 4
    label = fitted(said, ends - x - 6)
    if label != said:
        label = fitted(SHORT_WORDS.get(phase.kind, said), ends - x - 6)
    parts = box(x, y, ends - x, height, fill, "edge", dashed=phase.projected, pattern=pattern)
    if not label:
        return parts
    if pattern:
        # A plain ground keeps words on hatching readable.
        wide = len(label) * TEXT_PX * 0.56
        parts += box(x + 2, y + 2, min(wide + 4, ends - x - 4), height - 4, fill)
    return parts + words(x + 4, y + height - 5, label)


def _mark_rows(seen: SeasonSeen, course: BatchCourse) -> Iterator[tuple[str, list[Event]]]:
    """Yield the rows of marks that have any, each with its name."""
    went = seen.went(course.batch)
    given = [feeding_event(each) for each in went.given] if went else []
    planned = [
        Event(on, Shape.RING, "due", "", f"{day(on)}: feeding planned")
        for on in course.planned_feedings
        if on > seen.today or on not in {each.on for each in given}
    ]
    rows: list[tuple[str, list[Event]]] = [("Feed", [*given, *planned])]
    if went is not None:
        rows += [
            ("Held", [feeding_event(each) for each in went.held]),
            ("Missed", [feeding_event(each) for each in went.missed]),
            (
                "Frost",
                [
                    Event(on, Shape.DIAMOND, "cold", "", f"{day(on)}: frost night warned of")
                    for on in went.frost_nights
                ],
            ),
            (
                "Hot dry",
                [
                    Event(on, Shape.TRIANGLE, "held", "", f"{day(on)}: hot dry day")
                    for on in went.hot_dry_days
                ],
            ),
        ]
    return ((label, events) for label, events in rows if events)


def _roles(course: BatchCourse) -> Mapping[str, str]:
    """Return a colour for each crop of a batch; its name stands in its bar too."""
    labels = dict.fromkeys(phase.label for phase in course.phases if phase.label)
    return {label: CROP_ROLES[at % len(CROP_ROLES)] for at, label in enumerate(labels)}


def _lanes(phases: Sequence[Phase]) -> list[list[Phase]]:
    """Return the phases in as few lanes as keep them apart; a crop stays in its lane."""
    lanes: list[list[Phase]] = []
    for phase in phases:
        own = [lane for lane in lanes if phase.label and lane[-1].label == phase.label]
        free = [lane for lane in lanes if lane[-1].last < phase.first]
        chosen = next(iter((*own, *free)), None)
        if chosen is None:
            lanes.append([phase])
        else:
            chosen.append(phase)
    return lanes
