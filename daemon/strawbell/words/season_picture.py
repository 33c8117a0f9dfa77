"""The pictures of a season: what is due when, what waiting was for, how warm it is inside.

Each answers one question. What it shows is told by the page beside it too, in words and tables.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import date, timedelta

from strawbell.model.forecast import DayWeather
from strawbell.model.season import BatchCourse, Phase, PhaseKind, SeasonSeen
from strawbell.model.summary import BatchSummary, FeedingDay, FeedingFate
from strawbell.words.catalogue import Tongue
from strawbell.words.chart import Bar, Chart, Mark, Shape, ValueScale
from strawbell.words.escaping import name
from strawbell.words.units import MM_PER_INCH, Measures
from strawbell.words.voice import DAY, day

CLOSE_DAYS = 35
"""Batches whose conditioning fits into this many days share a close view."""
AIR_PX, RAIN_PX, WARM_PX = 96.0, 52.0, 120.0
"""Heights of the fields."""
LEAST_AIR_C, LEAST_RAIN_MM = 15.0, 10.0
"""A scale shows at least so much, so that a mild dry spell does not look like a wild one."""
LEAST_WARM_C, LEAST_WARM_DAYS = 60.0, 28
"""The scales of warmth hold at least so much: a bale in conditioning passes 50 degC within weeks
(common practice)."""
CROP_ROLES = ("leaf", "fruit", "root")


def season_picture(seen: SeasonSeen, width: float, identity: str) -> tuple[str, ...]:
    """Return what is due when: the bars of each batch, and its feedings under them."""
    tongue = Measures(seen.garden.units).tongue
    chart = Chart(*span_of(seen), width, identity, tongue)
    for course in seen.courses:
        chart.heading(tongue.say("season.heading", batch=name(course.batch), bales=course.bales))
        labels = dict.fromkeys(phase.label for phase in course.phases if phase.label)
        roles = {label: CROP_ROLES[at % len(CROP_ROLES)] for at, label in enumerate(labels)}
        for phases in _lanes(course.phases):
            chart.lane(_bar(each, roles, tongue) for each in phases)
        chart.marks(tongue.say("season.feed"), _feedings(seen, course, tongue))
        chart.gap()
    title = tongue.say("season.of", garden=name(seen.garden.name))
    return (chart.drawn(title, tongue.say("season.below"), seen.today),)


def waiting_pictures(seen: SeasonSeen, width: float, identity: str) -> tuple[str, ...]:
    """Return the conditioning day by day over its weather, what was held among it.

    Batches that begin about together share a picture.
    """
    measures = Measures(seen.garden.units)
    tongue, drawn = measures.tongue, []
    for number, group in enumerate(close_groups(seen.courses), 1):
        last = max(_conditioned(each) for each in group) + DAY
        chart = Chart(group[0].start_on, last, width, f"{identity}-{number}", tongue)
        for course in group:
            chart.heading(name(course.batch))
            marks = {each.on: each for each in _close_marks(seen, course, tongue)}
            chart.marks(tongue.say("season.feed"), marks.values(), close=True)
        draw_weather(chart, seen.weather, measures)
        names = tongue.listing(name(each.batch) for each in group)
        title = tongue.say("season.conditioning-of", batches=names)
        drawn.append(chart.drawn(title, tongue.say("season.below"), seen.today))
    return tuple(drawn)


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
    chart = Chart(went.start_on, last, width, identity, tongue)
    chart.heading(name(went.batch))
    said = [(day(each.on, tongue), measures.temperature(each.temperature_c)) for each in readings]
    dots = [
        (
            each.on,
            measures.in_degrees(each.temperature_c),
            say("season.reading", day=on, warmth=of),
        )
        for each, (on, of) in zip(readings, said, strict=True)
    ]
    warmths = [measures.in_degrees(0.0), *(value for _, value, _ in dots)]
    scale = draw_limit(chart, warmths, seen.garden.rules.plant_below_c, measures)
    chart.dots(scale, dots, "due")
    words = "; ".join(say("season.close-reading", day=on, warmth=warmth) for on, warmth in said)
    limit = measures.temperature(seen.garden.rules.plant_below_c, 0)
    title = say("season.warmth-of", batch=name(went.batch), limit=limit)
    return chart.drawn(title, f"{words}.", seen.today)


def draw_limit(
    chart: Chart, warmths: Iterable[float], limit_c: float, measures: Measures
) -> ValueScale:
    """Draw a field for the warmth inside, in the degrees shown, with the limit for planting."""
    limit, span = measures.in_degrees(limit_c), LEAST_WARM_C * (1.8 if measures.us else 1.0)
    scale = chart.field(WARM_PX, [*warmths, limit], span, lambda tick: _degrees(tick, measures))
    chart.level(scale, limit, "held")
    return scale


def _degrees(tick: float, measures: Measures) -> str:
    return measures.amount(measures.degree, tick, 0)


def draw_weather(chart: Chart, weather: Mapping[date, DayWeather], measures: Measures) -> None:
    """Draw the band of temperatures over the bars of rain, where any is known.

    Days up to the last known one whose rain is unknown are hatched.
    """
    shown = {on: weather[on] for on in sorted(weather) if chart.dates.holds(on)}
    if not shown:
        return
    us = measures.us
    freezing = measures.in_degrees(0.0)
    spans = [
        (on, measures.in_degrees(each.low_c), measures.in_degrees(each.high_c))
        for on, each in shown.items()
    ]
    air = [freezing, *(low for _, low, _ in spans), *(high for _, _, high in spans)]
    least = LEAST_AIR_C * (1.8 if us else 1.0)
    scale = chart.field(AIR_PX, air, least, lambda tick: _degrees(tick, measures), steps=5)
    chart.band(scale, spans, "warmth")
    chart.level(scale, freezing, "cold")
    unit, share, digits = ("in", MM_PER_INCH, 2) if us else ("mm", 1.0, 0)
    rain = [(on, None if e.rain_mm is None else e.rain_mm / share) for on, e in shown.items()]
    chart.gap()
    scale = chart.field(
        RAIN_PX - 12, [0.0, *(amount for _, amount in rain)], LEAST_RAIN_MM / share,
        lambda tick: measures.amount(unit, tick, digits), steps=2,
    )  # fmt: skip
    chart.unknown(scale, (on for on, amount in rain if amount is not None))
    chart.bars(scale, rain, "wet")


def span_of(seen: SeasonSeen) -> tuple[date, date]:
    """Return the first and the last date a season's picture shows."""
    first = min((each.start_on for each in seen.courses), default=seen.today)
    last = max((each.ends_on for each in seen.courses), default=seen.today)
    return min(first, seen.today), max(last, seen.today) + DAY


def _bar(phase: Phase, roles: Mapping[str, str], tongue: Tongue) -> Bar:
    said = tongue.of("phase", phase.kind)
    if phase.kind is PhaseKind.GROWING:
        said = name(phase.label)
    fills = {PhaseKind.CONDITIONING: "straw", PhaseKind.WAITING: "rest"}
    return Bar(
        phase.first,
        phase.last,
        said,
        tongue.known(f"bar.{phase.kind}") or said,
        fills.get(phase.kind) or roles.get(phase.label, CROP_ROLES[0]),
        dashed=phase.projected,
        hatched=phase.kind in (PhaseKind.CONDITIONING, PhaseKind.PICKING),
    )


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


def _feedings(seen: SeasonSeen, course: BatchCourse, tongue: Tongue) -> list[Mark]:
    """Return the marks of all feedings of a batch, told and planned."""
    went = seen.went(course.batch)
    told = [feeding_mark(each, tongue) for each in went.feedings] if went else []
    given = {each.on for each in went.given} if went else set()
    later = (on for on in course.planned_feedings if on > seen.today or on not in given)
    return [*told, *(_planned_mark(on, tongue) for on in later)]


def _close_marks(seen: SeasonSeen, course: BatchCourse, tongue: Tongue) -> Iterator[Mark]:
    """Yield a mark a day; told and planned feedings carry the day of the sequence.

    A feeding that was missed or held and given on the same day is shown as given: the last one
    of a date counts.
    """
    yield from (_planned_mark(on, tongue) for on in course.planned_feedings)
    went = seen.went(course.batch)
    for each in sorted(went.feedings if went else (), key=lambda one: one.fate.given):
        mark = feeding_mark(each, tongue)
        number = "" if each.day is None or mark.shape is Shape.CROSS else str(each.day)
        letter = mark.letter or number
        yield Mark(mark.on, mark.shape, mark.role, letter, mark.says)


def _planned_mark(on: date, tongue: Tongue) -> Mark:
    says = tongue.say("feeding.planned", day=day(on, tongue))
    return Mark(on, Shape.RING, "due", "", says)


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
    ends = (each.last for each in course.phases if each.kind is PhaseKind.CONDITIONING)
    return max(ends, default=course.start_on)


# A feeding: given is round, held is square, missed is a cross.


def feeding_mark(each: FeedingDay, tongue: Tongue) -> Mark:
    """Return the mark of a feeding."""
    said = tongue.say("feeding.on", day=day(each.on, tongue), said=feeding_said(each, tongue))
    shape, role, letter = {
        FeedingFate.CONFIRMED: (Shape.DISC, "due", "\N{CHECK MARK}"),
        FeedingFate.TOLD: (Shape.DISC, "due", ""),
        FeedingFate.SUPPOSED: (Shape.RING, "due", ""),
        FeedingFate.HELD: (Shape.SQUARE, "held", held_letter(each)),
        FeedingFate.MISSED: (Shape.CROSS, "missed", ""),
    }[each.fate]
    return Mark(each.on, shape, role, letter, said)


def held_letter(each: FeedingDay) -> str:
    """Return the letter of a held day: R for rain, F for a freeze, B for both, H for others.

    A question mark where it waited for the grower's answer.
    """
    if each.unanswered:
        return "?"
    if each.held_for_rain:
        return "B" if each.held_for_freeze else "R"
    return "F" if each.held_for_freeze else "H"


def feeding_said(each: FeedingDay, tongue: Tongue) -> str:
    """Return what became of a feeding, with its day of the sequence."""
    return tongue.say("feeding.what", number=each.day, fate=fate_said(each, tongue))


def fate_said(each: FeedingDay, tongue: Tongue) -> str:
    """Return what became of a feeding, and what it was held for where it was held."""
    letter = held_letter(each) if each.fate is FeedingFate.HELD else None
    return tongue.of("fate", each.fate, why="ask" if letter == "?" else letter)
