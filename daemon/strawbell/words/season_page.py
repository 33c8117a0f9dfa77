"""A season as a page: pictures drawn into it, and the same facts as lists and tables.

Each picture answers one question: what is due when, what waiting was for, how warm it is inside. No
script, nothing from outside; it reads on a phone, in the dark, and to a screen reader.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from datetime import date, timedelta
from functools import partial

from markupsafe import Markup
from msgspec import Struct

from strawbell.model.forecast import DayWeather, ForecastUse
from strawbell.model.garden import Units
from strawbell.model.season import (
    BatchCourse,
    BatchSummary,
    FeedingDay,
    FeedingFate,
    Phase,
    PhaseKind,
    SeasonSeen,
)
from strawbell.words.catalogue import Tongue
from strawbell.words.chart import (
    MARK_PX,
    Bar,
    Chart,
    Mark,
    Shape,
    ValueScale,
    box,
    hatching,
    mark,
    picture_style,
    swatch,
)
from strawbell.words.escaping import name
from strawbell.words.page import environment
from strawbell.words.summary import (
    batch_facts,
    cost_facts,
    feed_facts,
    hint_sentences,
    journal_words,
)
from strawbell.words.units import MM_PER_INCH, Measures
from strawbell.words.voice import DAY, Voice, attribution_words, forecast_words

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
    said = [(tongue.day(each.on), measures.temperature(each.temperature_c)) for each in readings]
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
    says = tongue.say("feeding.planned", day=tongue.day(on))
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
    said = tongue.say("feeding.on", day=tongue.day(each.on), said=feeding_said(each, tongue))
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


NARROW_PX, WIDE_PX = 328.0, 928.0
"""Widths the pictures are drawn at: that of the narrowest phone (360 px) within its margins, so
that words keep their size, and that of a desk."""
Draw = Callable[[float, str], tuple[str, ...]]
"""Draws the pictures of one question at a width, with ids that begin with a word."""


Part = dict[str, object]
"""What a template is given of one garden, or of one batch."""


class Row(Struct, frozen=True):
    """A row of a table: its date or name, and the rest."""

    head: str
    cells: tuple[str, ...]


class Figure(Struct, frozen=True):
    """Pictures that answer one question, for a desk and for a phone, and how to read them.

    They are SVG that holds no unescaped text.
    """

    question: str
    caption: str
    wide: tuple[Markup, ...]
    narrow: tuple[Markup, ...]


def season_html(seasons: Sequence[tuple[SeasonSeen, ForecastUse]]) -> str:
    """Return the page of one garden or of several, in the language of the first."""
    parts = [_garden(seen, use, number) for number, (seen, use) in enumerate(seasons, 1)]
    units = seasons[0][0].garden.units if seasons else Units.METRIC
    tongue = Measures(units).tongue
    say = tongue.say
    title = say(
        "season.title", gardens=tongue.listing(name(seen.garden.name) for seen, _ in seasons)
    )
    return (
        environment()
        .get_template("season.html.j2")
        .render(
            say=say,
            locale=tongue.locale,
            title=title,
            gardens=parts,
            style=Markup(picture_style()),  # noqa: S704 - our own palette
            legend=_legend(tongue),
        )
    )


def _garden(seen: SeasonSeen, use: ForecastUse, number: int) -> Part:
    """Return what a page shows of one garden."""
    voice = Voice.of(seen.garden, seen.today, typographic=True)
    attribution, link = attribution_words(use)
    stem, found = f"season-{number}", seen.found
    pictures = {row: partial(draw, seen) for row, draw in _PICTURES.items()}
    return {
        "garden": name(seen.garden.name),
        "date": voice.tongue.long_day(seen.today),
        "lead": journal_words(found, voice),
        "figures": tuple(figures(pictures, stem, voice.tongue)),
        "batches": tuple(_batch(course, seen, voice) for course in seen.courses),
        "weather": tuple(_weather(seen, voice)),
        "spent": (*feed_facts(found.feeds, voice), *cost_facts(found, voice)),
        "hints": hint_sentences(found.hints, voice),
        "forecast": forecast_words(use, voice),
        "attribution": attribution,
        "link": link,
    }


def figures(pictures: Mapping[str, Draw], stem: str, tongue: Tongue) -> Iterator[Figure]:
    """Yield pictures question by question, those with nothing to show left out."""
    for row, draw in pictures.items():
        wide, narrow = (
            tuple(map(drawn, draw(width, f"{stem}-{row}-{size}")))
            for size, width in (("wide", WIDE_PX), ("narrow", NARROW_PX))
        )
        if wide:
            question, read = tongue.say(f"picture.{row}"), tongue.say(f"picture.{row}-read")
            yield Figure(question, read, wide, narrow)


_PICTURES = {"due": season_picture, "waiting": waiting_pictures, "warmth": warmth_pictures}


def drawn(svg: str) -> Markup:
    """Return a picture as it may stand in the page: everything in it went through `escape`."""
    return Markup(svg)  # noqa: S704


def _batch(course: BatchCourse, seen: SeasonSeen, voice: Voice) -> Part:
    """Return what a page says of one batch."""
    went, say, today = seen.went(course.batch), voice.say, seen.today
    phases = [
        Row(
            say(
                "season.phase",
                label=name(each.label) if each.label else None,
                kind=each.kind,
                word=voice.tongue.of("phase", each.kind),
            ),
            (
                _planned(each.first, voice, later=each.first > today),
                _planned(each.last, voice, later=each.projected),
            ),
        )
        for each in course.phases
    ]
    if course.spread_on is not None:
        on = _planned(course.spread_on, voice, later=course.spread_on > today)
        phases.append(Row(say("season.spread"), (on, "")))
    feedings = [
        Row(
            voice.day(each.on),
            (
                say("season.day-number", n=each.day) if each.day else say("season.in-season"),
                fate_said(each, voice.tongue),
                _amount(each.total_g, each.feed, voice) if each.fate.given else "",
            ),
        )
        for each in (went.feedings if went else ())
    ]
    planned = say("season.planned")
    feedings += [Row(voice.day(on), ("", planned, "")) for on in _still_planned(course, seen)]
    return {
        "batch": name(course.batch),
        "about": say(
            "season.about",
            bales=course.bales,
            begun=course.start_on <= today,
            day=voice.day(course.start_on),
        ),
        "facts": batch_facts(went, voice) if went else (),
        "phases": tuple(phases),
        "feedings": tuple(feedings),
    }


def _still_planned(course: BatchCourse, seen: SeasonSeen) -> Iterable[date]:
    went = seen.went(course.batch)
    told = {each.on for each in went.feedings} if went else set()
    return (on for on in course.planned_feedings if on not in told)


def _planned(on: date, voice: Voice, *, later: bool) -> str:
    near = voice.nearness(on)
    return voice.say("season.planned-on", near=near, day=voice.day(on), planned=later)


def _amount(total_g: float | None, feed: str, voice: Voice) -> str:
    amount = None if total_g is None else voice.measures.mass(total_g)
    return voice.say("season.given", amount=amount, feed=feed and name(feed))


def _weather(seen: SeasonSeen, voice: Voice) -> Iterable[Row]:
    measures = voice.measures
    for on in sorted(seen.weather):
        each, said = seen.weather[on], voice.day(on)
        yield Row(
            voice.say("season.forecast", day=said) if on >= seen.today else said,
            (
                measures.temperature(each.low_c, 0),
                measures.temperature(each.high_c, 0),
                measures.rain(each.rain_mm),
            ),
        )


def _legend(tongue: Tongue) -> tuple[tuple[Markup, str], ...]:
    """Return each sign of the pictures with its words."""
    middle, say = (MARK_PX + 4) / 2, tongue.say
    told, confirmed = FeedingFate.TOLD, FeedingFate.CONFIRMED
    signs = (
        (mark(Shape.DISC, middle, middle, "due"), tongue.of("fate", told, why=None)),
        (
            mark(Shape.DISC, middle, middle, "due", "\N{CHECK MARK}"),
            tongue.of("fate", confirmed, why=None),
        ),
        (mark(Shape.RING, middle, middle, "due"), say("legend.planned")),
        (mark(Shape.SQUARE, middle, middle, "held", "R"), say("legend.held")),
        (mark(Shape.CROSS, middle, middle, "missed"), say("legend.missed")),
        (_patch("straw", "legend-straw"), tongue.of("phase", PhaseKind.CONDITIONING)),
        (_patch("rest"), tongue.of("phase", PhaseKind.WAITING)),
        (_patch("leaf"), tongue.of("phase", PhaseKind.GROWING)),
        (_patch("leaf", "legend-leaf"), tongue.of("phase", PhaseKind.PICKING)),
        (_patch("leaf", dashed=True), say("legend.dashed")),
        (_patch("warmth"), say("legend.warmth")),
        (_patch("wet"), say("legend.rain")),
        (_patch("", "legend-unknown"), say("legend.unknown")),
    )
    return tuple((drawn(swatch(sign)), said) for sign, said in signs)


def _patch(fill: str, hatch: str = "", dashed: bool = False) -> str:
    side = MARK_PX + 2
    pattern = hatching(hatch) if hatch else ""
    return pattern + box(1, 1, side, side, fill, "edge", dashed=dashed, pattern=hatch)
