"""A season as a page: pictures drawn into it, and the same facts as lists and tables.

No script, nothing from outside; it reads on a phone, in the dark, and to a screen reader.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from datetime import date

from markupsafe import Markup
from msgspec import Struct

from strawbell.model.forecast import ForecastUse
from strawbell.model.season import BatchCourse, SeasonSeen
from strawbell.model.summary import FeedingFate
from strawbell.words.catalogue import BRITISH
from strawbell.words.escaping import count, listing, name
from strawbell.words.html import environment
from strawbell.words.inks import picture_style
from strawbell.words.picture import MARK_PX, Shape, box, hatching, mark, swatch
from strawbell.words.season_marks import FATE_WORDS, held_for
from strawbell.words.season_picture import (
    PHASE_WORDS,
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
from strawbell.words.voice import Voice, day, long_day
from strawbell.words.weather import attribution_words, forecast_words

NARROW_PX, WIDE_PX = 340.0, 960.0
"""Widths the pictures are drawn at: that of a phone (360 to 390 px) within its margins, so that
words keep their size, and that of a desk."""


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
    """Return the page of one garden or of several."""
    parts = [_garden(seen, use, number) for number, (seen, use) in enumerate(seasons, 1)]
    title = f"Season of {listing(part.garden for part in parts)}"
    return (
        environment()
        .get_template("season.html.j2")
        .render(
            title=title,
            gardens=parts,
            style=Markup(picture_style()),  # noqa: S704 - our own palette
            legend=_legend(),
            weather_head=("Date", "Low", "High", "Rain"),
            unknown=BRITISH.say("amount.unknown"),
        )
    )


def _garden(seen: SeasonSeen, use: ForecastUse, number: int) -> GardenPart:
    voice = Voice.of(seen.garden, seen.today, typographic=True)
    attribution, link = attribution_words(use)
    stem = f"season-{number}"
    return GardenPart(
        garden=name(seen.garden.name),
        date=long_day(seen.today),
        lead=journal_words(seen.found),
        figures=tuple(_figures(seen, stem)),
        batches=tuple(_batch(course, seen, voice) for course in seen.courses),
        weather=tuple(_weather(seen, voice)),
        spent=(*feed_facts(seen.found.feeds, voice.measures), *cost_facts(seen.found)),
        hints=hint_sentences(seen.found.hints),
        forecast=forecast_words(use, voice),
        attribution=attribution,
        link=link,
    )


def _figures(seen: SeasonSeen, stem: str) -> Iterator[Figure]:
    """Yield the pictures of a season, question by question."""
    say = Measures(seen.garden.units).tongue.say
    for name_of, draw in _PICTURES.items():
        wide = tuple(map(_drawn, draw(seen, WIDE_PX, f"{stem}-{name_of}-wide")))
        narrow = tuple(map(_drawn, draw(seen, NARROW_PX, f"{stem}-{name_of}-narrow")))
        if wide:
            yield Figure(say(f"picture.{name_of}"), say(f"picture.{name_of}-read"), wide, narrow)


_PICTURES: Mapping[str, Callable[[SeasonSeen, float, str], tuple[str, ...]]] = {
    "due": lambda seen, width, identity: (season_picture(seen, width, identity),),
    "waiting": waiting_pictures,
    "warmth": warmth_pictures,
}


def _drawn(svg: str) -> Markup:
    """Return a picture as it may stand in the page: everything in it went through `escape`."""
    return Markup(svg)  # noqa: S704


def _batch(course: BatchCourse, seen: SeasonSeen, voice: Voice) -> BatchPart:
    went = seen.went(course.batch)
    phases = [
        Row(
            f"{name(each.label)}, {PHASE_WORDS[each.kind]}" if each.label else
            PHASE_WORDS[each.kind].capitalize(),
            (
                _planned(each.first, seen.today, later=each.first > seen.today),
                _planned(each.last, seen.today, later=each.projected),
            ),
        )
        for each in course.phases
    ]  # fmt: skip
    if course.spread_on is not None:
        on = _planned(course.spread_on, seen.today, later=course.spread_on > seen.today)
        phases.append(Row("Straw spread", (on, "")))
    feedings = [
        Row(
            day(each.on),
            (
                "season" if each.day is None else f"day {each.day}",
                FATE_WORDS[each.fate] + held_for(each),
                _amount(each.total_g, each.feed, voice) if each.fate.given else "",
            ),
        )
        for each in (went.feedings if went else ())
    ]
    feedings += [Row(day(on), ("", "planned", "")) for on in _still_planned(course, seen)]
    return BatchPart(
        batch=name(course.batch),
        about=f"{count(course.bales, 'bale')}, begun {day(course.start_on)}"
        if course.start_on <= seen.today
        else f"{count(course.bales, 'bale')}, begins {day(course.start_on)}",
        facts=batch_facts(went, voice) if went else (),
        phases=tuple(phases),
        feedings=tuple(feedings),
    )


def _still_planned(course: BatchCourse, seen: SeasonSeen) -> Iterable[date]:
    went = seen.went(course.batch)
    told = {each.on for each in went.feedings} if went else set()
    return (on for on in course.planned_feedings if on not in told)


def _planned(on: date, today: date, *, later: bool) -> str:
    said = "today" if on == today else day(on)
    return f"{said} (planned)" if later else said


def _amount(total_g: float | None, feed: str, voice: Voice) -> str:
    if total_g is None:
        return (
            f"{name(feed)}, amount {BRITISH.say('amount.unknown')}"
            if feed
            else BRITISH.say("amount.unknown")
        )
    return f"{voice.measures.mass(total_g)} of {name(feed)}"


def _weather(seen: SeasonSeen, voice: Voice) -> Iterable[Row]:
    measures = voice.measures
    for on in sorted(seen.weather):
        each = seen.weather[on]
        ahead = " (forecast)" if on >= seen.today else ""
        yield Row(
            day(on) + ahead,
            (
                measures.temperature(each.low_c, 0),
                measures.temperature(each.high_c, 0),
                measures.rain(each.rain_mm),
            ),
        )


def _legend() -> tuple[tuple[Markup, str], ...]:
    """Return each sign of the pictures with its words."""
    middle = (MARK_PX + 4) / 2
    signs = (
        (mark(Shape.DISC, middle, middle, "due"), FATE_WORDS[FeedingFate.TOLD]),
        (
            mark(Shape.DISC, middle, middle, "due", "\N{CHECK MARK}"),
            FATE_WORDS[FeedingFate.CONFIRMED],
        ),
        (mark(Shape.RING, middle, middle, "due"), "planned, or by plan before the journal"),
        (
            mark(Shape.SQUARE, middle, middle, "held", "R"),
            "held: R rain, F freeze, B both, ? no answer, H other",
        ),
        (mark(Shape.CROSS, middle, middle, "missed"), "missed"),
        (_patch("straw", "legend-straw"), "conditioning"),
        (_patch("rest"), "waiting"),
        (_patch("leaf"), "growing"),
        (_patch("leaf", "legend-leaf"), "picking"),
        (_patch("leaf", dashed=True), "dashed: still to come"),
        (_patch("warmth"), "low to high of the day"),
        (_patch("wet"), "rain"),
        (_patch("", "legend-unknown"), "weather unknown"),
    )
    return tuple((_drawn(swatch([sign])), said) for sign, said in signs)


def _patch(fill: str, hatch: str = "", dashed: bool = False) -> str:
    side = MARK_PX + 2
    pattern = hatching(hatch) if hatch else ""
    return pattern + box(1, 1, side, side, fill, "edge", dashed=dashed, pattern=hatch)
