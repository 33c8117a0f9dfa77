"""A season as a page: pictures drawn into it, and the same facts as lists and tables.

No script, nothing from outside; it reads on a phone, in the dark, and to a screen reader.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from datetime import date
from functools import partial

from markupsafe import Markup
from msgspec import Struct

from strawbell.model.forecast import ForecastUse
from strawbell.model.garden import Units
from strawbell.model.season import BatchCourse, PhaseKind, SeasonSeen
from strawbell.model.summary import FeedingFate
from strawbell.words.catalogue import Tongue
from strawbell.words.chart import MARK_PX, Shape, box, hatching, mark, swatch
from strawbell.words.escaping import name
from strawbell.words.html import environment
from strawbell.words.inks import picture_style
from strawbell.words.season_picture import (
    fate_said,
    season_picture,
    waiting_pictures,
    warmth_pictures,
)
from strawbell.words.summary_text import (
    Fact,
    batch_facts,
    cost_facts,
    feed_facts,
    hint_sentences,
    journal_words,
)
from strawbell.words.units import Measures
from strawbell.words.voice import Voice, long_day
from strawbell.words.weather import attribution_words, forecast_words

NARROW_PX, WIDE_PX = 328.0, 928.0
"""Widths the pictures are drawn at: that of the narrowest phone (360 px) within its margins, so
that words keep their size, and that of a desk."""
Draw = Callable[[float, str], tuple[str, ...]]
"""Draws the pictures of one question at a width, with ids that begin with a word."""


class Row(Struct, frozen=True):
    """A row of a table: its date or name, and the rest."""

    head: str
    cells: tuple[str, ...]


class BatchPart(Struct, frozen=True):
    """What a page says of one batch."""

    batch: str
    about: str
    facts: tuple[Fact, ...]
    phases: tuple[Row, ...]
    feedings: tuple[Row, ...]


class Figure(Struct, frozen=True):
    """Pictures that answer one question, for a desk and for a phone, and how to read them.

    They are SVG that holds no unescaped text.
    """

    question: str
    caption: str
    wide: tuple[Markup, ...]
    narrow: tuple[Markup, ...]


class GardenPart(Struct, frozen=True):
    """What a page shows of one garden."""

    garden: str
    date: str
    lead: str
    figures: tuple[Figure, ...]
    batches: tuple[BatchPart, ...]
    weather: tuple[Row, ...]
    spent: tuple[Fact, ...]
    hints: tuple[str, ...]
    forecast: str
    attribution: str
    link: str


def season_html(seasons: Sequence[tuple[SeasonSeen, ForecastUse]]) -> str:
    """Return the page of one garden or of several, in the language of the first."""
    parts = [_garden(seen, use, number) for number, (seen, use) in enumerate(seasons, 1)]
    units = seasons[0][0].garden.units if seasons else Units.METRIC
    tongue = Measures(units).tongue
    say = tongue.say
    title = say("season.title", gardens=tongue.listing(part.garden for part in parts))
    return (
        environment()
        .get_template("season.html.j2")
        .render(
            say=say,
            title=title,
            gardens=parts,
            style=Markup(picture_style()),  # noqa: S704 - our own palette
            legend=_legend(tongue),
        )
    )


def _garden(seen: SeasonSeen, use: ForecastUse, number: int) -> GardenPart:
    voice = Voice.of(seen.garden, seen.today, typographic=True)
    attribution, link = attribution_words(use)
    stem, found = f"season-{number}", seen.found
    pictures = {row: partial(draw, seen) for row, draw in _PICTURES.items()}
    return GardenPart(
        garden=name(seen.garden.name),
        date=long_day(seen.today, voice.tongue),
        lead=journal_words(found, voice),
        figures=tuple(figures(pictures, stem, voice.tongue)),
        batches=tuple(_batch(course, seen, voice) for course in seen.courses),
        weather=tuple(_weather(seen, voice)),
        spent=(*feed_facts(found.feeds, voice), *cost_facts(found, voice)),
        hints=hint_sentences(found.hints, voice),
        forecast=forecast_words(use, voice),
        attribution=attribution,
        link=link,
    )


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


def _batch(course: BatchCourse, seen: SeasonSeen, voice: Voice) -> BatchPart:
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
    return BatchPart(
        batch=name(course.batch),
        about=say(
            "season.about",
            bales=course.bales,
            begun=course.start_on <= today,
            day=voice.day(course.start_on),
        ),
        facts=batch_facts(went, voice) if went else (),
        phases=tuple(phases),
        feedings=tuple(feedings),
    )


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
