"""A rehearsed season as one page in the hand of the season's."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import date, timedelta
from functools import partial

from markupsafe import Markup

from strawbell.model.forecast import DayWeather
from strawbell.model.season import BatchReport, ReportDay, SeasonReport
from strawbell.words.catalogue import Tongue
from strawbell.words.chart import MARK_PX, Chart, Mark, Shape, mark, picture_style, swatch
from strawbell.words.escaping import name
from strawbell.words.page import environment
from strawbell.words.season_page import Part, Row, draw_limit, draw_weather, drawn, figures
from strawbell.words.units import G_PER_OUNCE, Measures

UNKNOWN_SIGN = "?"
LEAST_CLOSE_DAYS, MOST_CLOSE_DAYS = 14, 42
"""Days that are drawn one by one: by then nearly all bales are ready (design choice)."""
AFTER = timedelta(days=10)
"""How long after the first planting the first weeks are shown (design choice)."""
NITROGEN_PX, LEAST_NITROGEN_G = 96.0, 10.0
"""Height of the field of nitrogen, and the least it holds."""
COLUMNS = (
    "low", "high", "rain", "told", "calendar", "core", "nitrogen", "dry", "alerts", "messages",
)  # fmt: skip
"""Columns of the table of dates, after the date."""
LEGEND = {
    "fed": (Shape.DISC, "due"),
    "held": (Shape.SQUARE, "held"),
    "planted": (Shape.TRIANGLE, "today"),
    "covered": (Shape.RING, "cold"),
    "uncovered": (Shape.CROSS, "missed"),
}
"""Each mark: its shape and its role; "report.mark" says what it is."""


def report_html(report: SeasonReport) -> str:
    """Return the report of a garden as a whole HTML page."""
    measures = Measures(report.units, typographic=True)
    tongue, middle = measures.tongue, (MARK_PX + 4) / 2
    signs = (
        (swatch(mark(shape, middle, middle, role)), tongue.say(f"report.mark.{row}"))
        for row, (shape, role) in LEGEND.items()
    )
    parts = [_part(report, each, number) for number, each in enumerate(report.batches)]
    return (
        environment()
        .get_template("report.html.j2")
        .render(
            say=tongue.say,
            locale=tongue.locale,
            title=tongue.say("report.title", garden=name(report.garden)),
            first=tongue.long_day(report.first),
            last=tongue.long_day(report.last),
            report=report,
            weekly=measures.number(report.notices_per_week),
            parts=parts,
            legend=tuple((drawn(sign), said) for sign, said in signs),
            columns=tuple(tongue.say(f"report.column.{each}") for each in COLUMNS),
            style=Markup(picture_style()),  # noqa: S704 - our own palette
        )
    )


def _part(report: SeasonReport, batch: BatchReport, number: int) -> Part:
    """Return what the page says of one batch."""
    measures = Measures(report.units, typographic=True)
    pictures = {row: partial(draw, report, batch) for row, draw in _PICTURES.items()}
    tongue = measures.tongue
    return {
        "name": name(batch.name),
        "lead": _lead(batch, tongue),
        "figures": tuple(figures(pictures, f"batch-{number}", tongue)),
        "came": tuple(
            Row(each.label, (each.strawbell, each.calendar))
            for each in batch.figures
            if not each.strawbell == each.calendar == "0"
        ),
        "days": tuple(Row(tongue.day(e.on), tuple(_cells(e, measures))) for e in batch.days),
    }


def _lead(batch: BatchReport, tongue: Tongue) -> str:
    """Return what happened to a batch in a sentence or two."""
    planted, by_plan = (
        tongue.listing(
            tongue.say("report.planted", crop=name(crop), day=tongue.day(on)) for on, crop in each
        )
        for each in (batch.planted, batch.calendar_planted)
    )
    return tongue.say(
        "report.lead",
        feed=name(batch.feed),
        fed=sum(each.fed for each in batch.days),
        held=sum(each.held for each in batch.days),
        planted=planted,
        calendar="" if by_plan == planted else by_plan,
    )


def _cells(each: ReportDay, measures: Measures) -> Iterator[str]:
    say, tongue = measures.tongue.say, measures.tongue
    for value in (each.low_c, each.high_c):
        yield UNKNOWN_SIGN if value is None else measures.temperature(value)
    yield UNKNOWN_SIGN if each.rain_mm is None else measures.rain(each.rain_mm)
    yield tongue.listing(each.told) or say("report.nothing")
    yield say("report.fed") if each.calendar_fed else ""
    low_c, high_c = each.core_low_c, each.core_high_c
    known = low_c is not None and high_c is not None
    yield (
        measures.from_to(measures.whole_degrees(low_c), measures.warmth(high_c)) if known else ""
    )
    low = measures.mass_in_column(each.nitrogen_left_low_g, 0)
    left = measures.from_to(low, measures.mass(each.nitrogen_left_high_g))
    given = measures.mass(each.nitrogen_given_g)
    yield say("report.left", left=left, given=given) if each.nitrogen_given_g > 0 else ""
    yield "" if each.dry_top_h is None else measures.amount("h", each.dry_top_h, 0)
    frost = (say("report.frost", told=each.covered),) if each.frost else ()
    yield tongue.listing((*each.alerts, *frost))
    yield str(each.messages)


# The pictures.


def _done(report: SeasonReport, batch: BatchReport, width: float, identity: str) -> tuple[str, ...]:
    """Return what was done when, as told and by the calendar."""
    return (_chart(report, batch.days, batch, width, identity, close=False),)


def _saved(
    report: SeasonReport, batch: BatchReport, width: float, identity: str
) -> tuple[str, ...]:
    """Return the first weeks day by day over their weather, and the nitrogen that they left."""
    planted = [on for on, _ in (*batch.planted[:1], *batch.calendar_planted[:1])]
    last = max(planted, default=batch.days[-1].on) + AFTER
    number = sum(each.on <= last for each in batch.days)
    days = batch.days[: min(max(number, LEAST_CLOSE_DAYS), MOST_CLOSE_DAYS)]
    return (_chart(report, days, batch, width, identity, close=True),)


def _chart(
    report: SeasonReport,
    days: Sequence[ReportDay],
    batch: BatchReport,
    width: float,
    identity: str,
    *,
    close: bool,
) -> str:
    measures = Measures(report.units, typographic=True)
    tongue, say = measures.tongue, measures.tongue.say
    chart = Chart(days[0].on, days[-1].on, width, identity, tongue)
    held = {each.on for each in days if each.held}
    told = {
        "held": [(on, "") for on in sorted(held)],
        "fed": [(each.on, "") for each in days if each.fed and each.on not in held],
        "planted": batch.planted,
    }
    plan = {
        "fed": [(each.on, "") for each in days if each.calendar_fed],
        "planted": batch.calendar_planted,
    }
    chart.heading(say("report.strawbell"))
    chart.marks(say("season.feed"), _marks(told, tongue), close=close)
    chart.heading(say("report.calendar"))
    chart.marks(say("season.feed"), _marks(plan, tongue), close=close)
    if close:
        weather = {e.on: DayWeather(e.low_c, e.high_c, e.rain_mm) for e in days}
        draw_weather(chart, weather, measures)
        _draw_nitrogen(chart, days, measures)
    else:
        nights = {
            "covered": [(each.on, "") for each in days if each.frost and each.covered],
            "uncovered": [(each.on, "") for each in days if each.frost and not each.covered],
        }
        if any(nights.values()):
            chart.heading(say("report.nights"))
            chart.marks(say("report.frosts"), _marks(nights, tongue))
    first, last = (tongue.day(each.on) for each in (days[0], days[-1]))
    return chart.drawn(
        say("report.of", batch=name(batch.name), first=first, last=last), say("season.below")
    )


def _marks(rows: Mapping[str, Iterable[tuple[date, str]]], tongue: Tongue) -> Iterator[Mark]:
    """Yield the marks of a row by what they are; a crop that went in is named."""
    for row, dates in rows.items():
        for on, crop in dates:
            of = tongue.say("report.on", day=tongue.day(on), mark=row, crop=name(crop))
            yield Mark(on, *LEGEND[row], says=of)


def _draw_nitrogen(chart: Chart, days: Sequence[ReportDay], measures: Measures) -> None:
    """Draw the nitrogen of a bale: what was given as a line, what is left of it as a band."""
    unit, share = ("oz", G_PER_OUNCE) if measures.us else ("g", 1.0)
    given = [(each.on, each.nitrogen_given_g / share) for each in days]
    if not any(grams for _, grams in given):
        return
    left = [
        (each.on, each.nitrogen_left_low_g / share, each.nitrogen_left_high_g / share)
        for each in days
        if each.nitrogen_given_g > 0
    ]
    chart.gap()
    chart.heading(measures.tongue.say("report.nitrogen"))
    scale = chart.field(
        NITROGEN_PX,
        [0.0, *(grams for _, grams in given)],
        LEAST_NITROGEN_G / share,
        lambda tick: measures.amount(unit, tick, 0),
    )
    chart.band(scale, left, "leaf")
    chart.steps(scale, given, "due")


def _warmth(
    report: SeasonReport, batch: BatchReport, width: float, identity: str
) -> tuple[str, ...]:
    """Return how warm the bales were inside by what was computed, () where nothing was."""
    measures = Measures(report.units, typographic=True)
    tongue = measures.tongue
    spans = [
        (each.on, measures.in_degrees(each.core_low_c), measures.in_degrees(each.core_high_c))
        for each in batch.days
        if each.core_low_c is not None and each.core_high_c is not None
    ]
    if not spans:
        return ()
    first = spans[0][0]
    last = max(spans[-1][0], first + timedelta(days=LEAST_CLOSE_DAYS))
    chart = Chart(first, last, width, identity, tongue)
    warmths = [end for _, *ends in spans for end in ends]
    scale = draw_limit(chart, [measures.in_degrees(0.0), *warmths], report.plant_below_c, measures)
    chart.band(scale, spans, "warmth")
    limit = measures.temperature(report.plant_below_c, 0)
    title = tongue.say("season.warmth-of", batch=name(batch.name), limit=limit)
    low, high = (measures.amount(measures.degree, pick(warmths), 0) for pick in (min, max))
    return (chart.drawn(title, tongue.say("report.warmth", low=low, high=high)),)


_PICTURES = {"done": _done, "saved": _saved, "inside": _warmth}
