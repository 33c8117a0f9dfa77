"""The pictures of a season: what is due when, what waiting was for, how warm it is inside.

Each answers one question, and is drawn at a width of its own, so that its words keep their size on
a phone and on a desk. What it shows is told by the page beside it too, in words and tables.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import date, timedelta

from strawbell.model.season import BatchCourse, Phase, PhaseKind, SeasonSeen
from strawbell.model.summary import BatchSummary, FeedingDay, FeedingFate
from strawbell.words.catalogue import Tongue
from strawbell.words.escaping import name
from strawbell.words.picture import (
    TEXT_PX,
    Shape,
    box,
    date_axis,
    day_line,
    fitted,
    hatching,
    line,
    mark,
    picture,
    value_axis,
    words,
)
from strawbell.words.scales import DateScale, ValueScale
from strawbell.words.season_marks import Event, clustered, clusters, feeding_event, feeding_said
from strawbell.words.units import Measures
from strawbell.words.voice import day
from strawbell.words.weather_picture import weather_field

DAY = timedelta(days=1)
MARGIN_PX, RIGHT_PX = 58.0, 6.0
"""Room left of the field for the names of its rows, and right of it."""
TOP_PX = 18.0
NAME_PX, LANE_PX, ROW_PX, GAP_PX = 17.0, 21.0, 18.0, 12.0
"""Heights of a batch's name, of a bar, of a row of marks, and of the gap after a batch."""
AXIS_PX = 26.0
CLOSE_MARK_PX = 20.0
"""Largest mark of a close view, where days have room."""
LETTERS_FROM_PX = 11.0
"""Marks smaller than this carry no letter."""
CLOSE_DAYS = 35
"""Batches whose conditioning fits into this many days share a close view."""
WARM_PX, DOT_PX = 120.0, 9.0
LEAST_WARM_C, LEAST_WARM_DAYS = 60.0, 28
"""The scales of warmth hold at least so much: a bale in conditioning passes 50 degC within weeks
(common practice)."""
CROP_ROLES = ("leaf", "fruit", "root")


class _Chart:
    """Rows one below the other over the same dates, with their axis and today's line."""

    def __init__(
        self, first: date, last: date, width: float, identity: str, tongue: Tongue
    ) -> None:
        self.scale = DateScale(first, last, MARGIN_PX, width - RIGHT_PX)
        self.hatch, self.y = f"{identity}-hatch", TOP_PX
        self._width, self._identity, self._tongue = width, identity, tongue
        self.parts: list[str] = []

    def heading(self, text: str) -> None:
        """Put a name above what comes next."""
        shown = fitted(text, self.scale.right - self.scale.left)
        self.parts.append(words(self.scale.left, self.y + TEXT_PX, shown, bold=True, halo=True))
        self.y += NAME_PX

    def row(self, label: str, height: float) -> float:
        """Begin a row of marks with its line, and return its middle [px]."""
        middle = self.y + height / 2
        self.parts.append(
            words(self.scale.left - 11, middle + 4, label, "soft", "end", TEXT_PX - 1)
        )
        self.parts.append(line(self.scale.left, middle, self.scale.right, middle))
        self.y += height
        return middle

    def under(self, seen: SeasonSeen) -> None:
        """Put the weather under it, where any is known."""
        if any(self.scale.holds(on) for on in seen.weather):
            field, self.y = weather_field(
                seen.weather, self.scale, self.y, self.hatch, seen.garden.units
            )
            self.parts += field

    def drawn(self, title: str, said: str, today: date) -> str:
        """Return the picture; what runs through all rows lies behind them."""
        axis = date_axis(self.scale, TOP_PX, self.y, self._tongue)
        behind = (axis, day_line(self.scale, today, 0.0, self.y, self._tongue.say("season.today")))
        parts = [hatching(self.hatch), *behind, *self.parts]
        return picture(self._width, self.y + AXIS_PX, title, said, self._identity, parts)


def season_picture(seen: SeasonSeen, width: float, identity: str) -> str:
    """Return what is due when: the bars of each batch, and its feedings under them."""
    tongue = Measures(seen.garden.units).tongue
    chart = _Chart(*span_of(seen), width, identity, tongue)
    for course in seen.courses:
        heading = tongue.say("season.heading", batch=name(course.batch), bales=course.bales)
        chart.heading(heading)
        roles = _roles(course)
        for phases in _lanes(course.phases):
            chart.parts += [
                _bar(each, chart.scale, chart.y, roles, chart.hatch, tongue) for each in phases
            ]
            chart.y += LANE_PX
        chart.y += 2
        middle = chart.row(tongue.say("season.feed"), ROW_PX)
        events = clusters(_feedings(seen, course, tongue), chart.scale)
        chart.parts += [clustered(each, chart.scale, middle) for each in events]
        chart.y += GAP_PX
    title = tongue.say("season.of", garden=name(seen.garden.name))
    return chart.drawn(title, season_words(seen, tongue), seen.today)


def waiting_pictures(seen: SeasonSeen, width: float, identity: str) -> tuple[str, ...]:
    """Return the conditioning day by day over its weather, what was held among it.

    Batches that begin about together share a picture.
    """
    return tuple(
        _waiting_picture(seen, group, width, f"{identity}-{number}")
        for number, group in enumerate(close_groups(seen.courses), 1)
    )


def _waiting_picture(
    seen: SeasonSeen, group: Sequence[BatchCourse], width: float, identity: str
) -> str:
    last = max(_conditioned(each) for each in group) + DAY
    tongue = Measures(seen.garden.units).tongue
    chart = _Chart(group[0].start_on, last, width, identity, tongue)
    for course in group:
        chart.heading(name(course.batch))
        middle = chart.row(tongue.say("season.feed"), CLOSE_MARK_PX)
        chart.parts += _close_marks(seen, course, chart.scale, middle, tongue)
        chart.y += GAP_PX / 2
    chart.under(seen)
    names = tongue.listing(name(each.batch) for each in group)
    title = tongue.say("season.conditioning-of", batches=names)
    return chart.drawn(title, _close_words(seen, group, tongue), seen.today)


def warmth_pictures(seen: SeasonSeen, width: float, identity: str) -> tuple[str, ...]:
    """Return how warm each measured batch was inside, with the limit for planting."""
    measured = [each for each in seen.found.batches if each.readings is not None]
    return tuple(
        _warmth_picture(seen, each, width, f"{identity}-{number}")
        for number, each in enumerate(measured, 1)
    )


def _warmth_picture(seen: SeasonSeen, went: BatchSummary, width: float, identity: str) -> str:
    measures = Measures(seen.garden.units)
    tongue, say = measures.tongue, measures.tongue.say
    readings = went.readings.every if went.readings is not None else ()
    last = max(readings[-1].on, went.start_on + timedelta(days=LEAST_WARM_DAYS))
    chart = _Chart(went.start_on, last, width, identity, tongue)
    chart.heading(name(went.batch))
    scale, limit_c = chart.scale, seen.garden.rules.plant_below_c
    values_c = [0.0, limit_c, *(each.temperature_c for each in readings)]
    bottom = chart.y + WARM_PX
    values = ValueScale.over(values_c, bottom, chart.y + 6, LEAST_WARM_C)
    labels = [(tick, measures.temperature(tick, 0)) for tick in values.ticks()]
    level = values.y(limit_c)
    chart.parts += [
        value_axis(scale, values, labels),
        line(scale.left, level, scale.right, level, "held", dashed=True),
        *(
            mark(
                Shape.DISC,
                scale.middle(each.on),
                values.y(each.temperature_c),
                "due",
                says=say(
                    "season.reading",
                    day=day(each.on, tongue),
                    warmth=measures.temperature(each.temperature_c),
                ),
                size=DOT_PX,
            )
            for each in readings
        ),
    ]
    chart.y = bottom
    said = "; ".join(
        say(
            "season.close-reading",
            day=day(each.on, tongue),
            warmth=measures.temperature(each.temperature_c),
        )
        for each in readings
    )
    limit = measures.temperature(limit_c, 0)
    title = say("season.warmth-of", batch=name(went.batch), limit=limit)
    return chart.drawn(title, f"{said}.", seen.today)


def span_of(seen: SeasonSeen) -> tuple[date, date]:
    """Return the first and the last date a season's picture shows."""
    first = min((each.start_on for each in seen.courses), default=seen.today)
    last = max((each.ends_on for each in seen.courses), default=seen.today)
    return min(first, seen.today), max(last, seen.today) + DAY


def season_words(seen: SeasonSeen, tongue: Tongue) -> str:
    """Return in words what the picture of the season shows."""
    return " ".join(course_words(course, seen, tongue) for course in seen.courses)


def course_words(course: BatchCourse, seen: SeasonSeen, tongue: Tongue) -> str:
    """Return a batch's phases and events as sentences."""
    phases = "; ".join(phase_words(each, seen.today, tongue) for each in course.phases)
    went, numbers = seen.went(course.batch), {"planned": len(course.planned_feedings)}
    if went is not None:
        numbers = {
            "given": len(went.given),
            "held": len(went.held),
            "missed": len(went.missed),
            "frost": len(went.frost_nights),
            "hot": len(went.hot_dry_days),
            **numbers,
        }
    events = tongue.listing(
        tongue.say(f"events.{row}", n=number) for row, number in numbers.items() if number
    )
    batch = name(course.batch)
    return tongue.say("season.course", batch=batch, phases=phases, events=events)


def phase_words(phase: Phase, today: date, tongue: Tongue) -> str:
    """Return a phase with its dates; what is still to come is planned."""
    return tongue.say(
        "season.phase-dates",
        label=name(phase.label) if phase.label else None,
        word=tongue.of("phase", phase.kind),
        first=day(phase.first, tongue),
        last=day(phase.last, tongue),
        planned=phase.first > today or phase.projected,
    )


def _bar(
    phase: Phase,
    scale: DateScale,
    y: float,
    roles: Mapping[str, str],
    hatch: str,
    tongue: Tongue,
) -> str:
    x, ends = scale.x(phase.first), scale.x(phase.last + DAY)
    fill = {PhaseKind.CONDITIONING: "straw", PhaseKind.WAITING: "rest"}.get(
        phase.kind, roles.get(phase.label, CROP_ROLES[0])
    )
    said = tongue.of("phase", phase.kind)
    if phase.kind is PhaseKind.GROWING:
        said = name(phase.label)
    pattern = hatch if phase.kind in (PhaseKind.CONDITIONING, PhaseKind.PICKING) else ""
    height = LANE_PX - 4
    label = fitted(said, ends - x - 6)
    if label != said:
        label = fitted(tongue.known(f"bar.{phase.kind}") or said, ends - x - 6)
    parts = box(x, y, ends - x, height, fill, "edge", dashed=phase.projected, pattern=pattern)
    if not label:
        return parts
    if pattern:
        # A plain ground keeps words on hatching readable.
        wide = len(label) * TEXT_PX * 0.56
        parts += box(x + 2, y + 2, min(wide + 4, ends - x - 4), height - 4, fill)
    return parts + words(x + 4, y + height - 5, label)


def _feedings(seen: SeasonSeen, course: BatchCourse, tongue: Tongue) -> list[Event]:
    """Return the marks of all feedings of a batch, told and planned."""
    went = seen.went(course.batch)
    told = [feeding_event(each, tongue) for each in went.feedings] if went else []
    given = {each.on for each in went.given} if went else set()
    planned = [
        Event(on, Shape.RING, "due", "", tongue.say("feeding.planned", day=day(on, tongue)))
        for on in course.planned_feedings
        if on > seen.today or on not in given
    ]
    return [*told, *planned]


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


def _close_marks(
    seen: SeasonSeen, course: BatchCourse, scale: DateScale, y: float, tongue: Tongue
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
        event = feeding_event(each, tongue)
        letter = event.letter or ("" if each.day is None else str(each.day))
        if each.fate is FeedingFate.MISSED or not lettered:
            letter = ""
        yield mark(event.shape, scale.middle(on), y, event.role, letter, event.says, size)
    for on in course.planned_feedings:
        if on not in by_date and scale.holds(on):
            says = tongue.say("feeding.planned", day=day(on, tongue))
            yield mark(Shape.RING, scale.middle(on), y, "due", "", says, size)


def _close_words(seen: SeasonSeen, group: Iterable[BatchCourse], tongue: Tongue) -> str:
    sentences = []
    for course in group:
        went = seen.went(course.batch)
        said = [
            tongue.say("feeding.close", day=day(each.on, tongue), said=feeding_said(each, tongue))
            for each in (went.feedings if went else ())
            if each.day is not None
        ]
        said += [
            tongue.say("feeding.close-planned", day=day(on, tongue))
            for on in course.planned_feedings
            if on <= _conditioned(course)
        ]
        sentences.append(tongue.say("season.close", batch=name(course.batch), said="; ".join(said)))
    return " ".join(sentences)
