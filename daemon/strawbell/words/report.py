"""A rehearsed season as one page without scripts, and as JSON with the same numbers."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

from msgspec import Struct
from msgspec.structs import asdict

from strawbell.model.report import BatchReport, ReportDay, SeasonReport
from strawbell.words.escaping import listing, name
from strawbell.words.html import environment
from strawbell.words.inks import picture_style
from strawbell.words.json_v1 import Json
from strawbell.words.report_picture import Sheet, legend, sheets
from strawbell.words.units import Measures
from strawbell.words.voice import day, long_day

UNKNOWN_SIGN = "?"


class _Row(Struct, frozen=True):
    """One date of the table."""

    on: str
    cells: tuple[str, ...]


class _Part(Struct, frozen=True):
    """One batch of the page."""

    name: str
    lead: str
    report: BatchReport
    sheets: tuple[Sheet, ...]
    rows: tuple[_Row, ...]


COLUMNS = (
    "Low",
    "High",
    "Rain",
    "Told",
    "Calendar",
    "Core",
    "Nitrogen left",
    "Dry top",
    "Alerts and frost",
    "Messages",
)
"""Columns of the table of dates, after the date."""


def report_html(report: SeasonReport) -> str:
    """Return the report of a garden as a whole HTML page."""
    measures = Measures(report.units, typographic=True)
    parts = tuple(
        _Part(
            name(batch.name),
            _lead(batch),
            batch,
            sheets(report, batch, number),
            tuple(_rows(batch, measures)),
        )
        for number, batch in enumerate(report.batches)
    )
    return (
        environment()
        .get_template("report.html.j2")
        .render(
            garden=name(report.garden),
            dates=f"{long_day(report.first)} to {long_day(report.last)}",
            report=report,
            messages=_messages_said(report),
            parts=parts,
            legend=legend(),
            columns=COLUMNS,
            style=picture_style(),
        )
    )


def report_json(report: SeasonReport) -> Json:
    """Return the report as plain values; dates in ISO 8601, unknown is None."""
    return {**_plain(asdict(report)), "units": report.units.value}


def _plain(value: dict[str, object]) -> Json:
    return {key: _value(each) for key, each in value.items()}


def _value(value: object) -> object:
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, Struct):
        return _plain(asdict(value))
    if isinstance(value, dict):
        return _plain(value)
    if isinstance(value, list | tuple):
        return [_value(each) for each in value]
    return value


def _messages_said(report: SeasonReport) -> str:
    return f"{report.notices} messages, {report.notices_per_week:.1f} a week."


def _lead(batch: BatchReport) -> str:
    """Return what happened to a batch in a sentence or two."""
    fed = sum(each.fed for each in batch.days)
    held = sum(each.held for each in batch.days)
    text = f"Feed: {name(batch.feed)}. Fed {_times(fed)}, held on {_days(held)}."
    if batch.planted:
        went_in = listing(f"{name(crop)} on {day(on)}" for on, crop in batch.planted)
        text += f" Went in: {went_in}."
    if batch.calendar_planted and batch.calendar_planted != batch.planted:
        by_plan = listing(f"{name(crop)} on {day(on)}" for on, crop in batch.calendar_planted)
        text += f" By the calendar: {by_plan}."
    return text


def _times(count: int) -> str:
    return {0: "never", 1: "once", 2: "twice"}.get(count, f"{count} times")


def _days(count: int) -> str:
    return {0: "no day", 1: "1 day"}.get(count, f"{count} days")


def _rows(batch: BatchReport, measures: Measures) -> Iterator[_Row]:
    for each in batch.days:
        yield _Row(day(each.on), tuple(_cells(each, measures)))


def _cells(each: ReportDay, measures: Measures) -> Iterator[str]:
    for value in (each.low_c, each.high_c):
        yield UNKNOWN_SIGN if value is None else measures.temperature(value)
    yield UNKNOWN_SIGN if each.rain_mm is None else measures.rain(each.rain_mm)
    yield listing(each.told) or "nothing"
    yield "feed" if each.calendar_fed else ""
    yield _range(each.core_low_c, each.core_high_c, measures)
    if each.nitrogen_given_g > 0:
        low, high = each.nitrogen_left_low_g, each.nitrogen_left_high_g
        given = measures.mass(each.nitrogen_given_g)
        yield f"{measures.mass(low)} to {measures.mass(high)} of {given}"
    else:
        yield ""
    yield "" if each.dry_top_h is None else f"{each.dry_top_h:.0f} h"
    frost = ("frost at night, told" if each.covered else "frost at night, not told",)
    yield listing((*each.alerts, *(frost if each.frost else ())))
    yield str(each.messages)


def _range(low_c: float | None, high_c: float | None, measures: Measures) -> str:
    if low_c is None or high_c is None:
        return ""
    return f"{measures.whole_degrees(low_c)} to {measures.warmth(high_c)}"
