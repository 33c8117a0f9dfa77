"""The pictures of a rehearsed season: six weeks a sheet, so that a phone can read them.

A sheet stacks fields over one axis of dates: air and rain, what Strawbell and a plain calendar did,
frost and alerts, messages, the core, nitrogen, the dry top. A field of which a sheet knows nothing
is left out. What a colour tells, a shape or a word tells too.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from datetime import date

from msgspec import Struct

from strawbell.model.report import BatchReport, ReportDay, SeasonReport
from strawbell.words.escaping import listing, name
from strawbell.words.picture import (
    TEXT_PX,
    Shape,
    band,
    bars,
    box,
    date_axis,
    line,
    mark,
    picture,
    swatch,
    value_axis,
    wide,
    words,
)
from strawbell.words.scales import DateScale, ValueScale
from strawbell.words.units import G_PER_OUNCE, Measures
from strawbell.words.voice import day

SHEET_DAYS = 42
"""Dates in one picture: a day is then as wide as a mark on the narrowest phone (design choice)."""
WIDE_PX = 360.0
"""Width of a sheet, the narrowest phone in use (design choice)."""
LEFT_PX = 44.0
"""Room for the values at the left: "−10 °C" and "200 g" fit."""
HEAD_PX = 20.0
FIELD_PX = 62.0
LOW_FIELD_PX = 30.0
LANE_PX = 16.0
GAP_PX = 8.0
AXIS_PX = 30.0
SIZE_PX = 8.0
FREEZE_C = 0.0
LEAST_AIR_SPAN = 10.0
LEAST_RAIN_MM = 10.0
"""Scales are not drawn finer than this, so that a drizzle does not look like a flood."""
HOURS_A_DAY = 24.0
FEED, HELD, PLAN, PUT_IN = Shape.DISC, Shape.SQUARE, Shape.RING, Shape.TRIANGLE
COVERED, UNCOVERED = Shape.DIAMOND, Shape.CROSS
_SIZES = {HELD: 6.4}
"""Squares of neighbouring days would run into one bar."""

LEGEND: tuple[tuple[Shape, str, str], ...] = (
    (FEED, "due", "fed, as told by Strawbell"),
    (HELD, "held", "feeding held by Strawbell"),
    (PLAN, "edge", "fed by the plain calendar"),
    (PUT_IN, "today", "planted or sown; an alert, in its own row"),
    (COVERED, "cold", "frost danger at night, told"),
    (UNCOVERED, "missed", "frost danger at night, not told"),
)
"""Each mark: its shape, its role, what it says."""


class Sheet(Struct, frozen=True):
    """One picture with the dates it is of."""

    title: str
    svg: str


class _Page(Struct, frozen=True):
    """What every field of a sheet is drawn from."""

    report: SeasonReport
    batch: BatchReport
    days: Sequence[ReportDay]
    dates: DateScale
    measures: Measures

    def warmth(self, value_c: float | None) -> float | None:
        """Return a temperature in the degrees shown, so that the scale is round in them."""
        if value_c is None or not self.measures.us:
            return value_c
        return value_c * 1.8 + 32.0

    def mass(self, value_g: float) -> float:
        """Return a mass in the unit shown [g or oz]."""
        return value_g / G_PER_OUNCE if self.measures.us else value_g

    def ticks(self, values: ValueScale, unit: str) -> list[tuple[float, str]]:
        """Return the round values of a scale with their labels."""
        shown = self.measures
        return [(each, shown.amount(unit, each, 0)) for each in values.ticks()]


Field = Callable[[_Page, float], tuple[str, float]]
"""Draws a field from an upper edge [px] and returns it with its height, "" and 0 for nothing."""


def sheets(report: SeasonReport, batch: BatchReport, number: int) -> tuple[Sheet, ...]:
    """Return the pictures of a batch; `number` makes the ids on the page unique."""
    return tuple(
        _sheet(report, batch, batch.days[first : first + SHEET_DAYS], f"batch-{number}-{first}")
        for first in range(0, len(batch.days), SHEET_DAYS)
    )


def legend() -> tuple[tuple[str, str], ...]:
    """Return each mark as a small picture with its words."""
    return tuple(
        (swatch([mark(shape, 8.5, 8.5, role, size=11.0)]), text) for shape, role, text in LEGEND
    )


def _sheet(
    report: SeasonReport, batch: BatchReport, days: Sequence[ReportDay], identity: str
) -> Sheet:
    last = date.fromordinal(days[0].on.toordinal() + SHEET_DAYS - 1)
    dates = DateScale(days[0].on, last, LEFT_PX, WIDE_PX)
    page = _Page(report, batch, days, dates, Measures(report.units, typographic=True))
    parts: list[str] = []
    top = 0.0
    for field in _FIELDS:
        drawn, high = field(page, top)
        if high:
            parts.append(drawn)
            top += high + GAP_PX
    bottom = top - GAP_PX
    axis = date_axis(dates, 0.0, bottom)
    title = f"{day(days[0].on)} to {day(days[-1].on)}"
    whole = f"{name(batch.name)}, {title}"
    svg = picture(WIDE_PX, bottom + AXIS_PX, whole, _said(page), identity, [axis, *parts])
    return Sheet(title, svg)


def _head(top: float, text: str) -> str:
    size = TEXT_PX - 1
    ground = box(0.0, top, wide(text, size), TEXT_PX + 2, "card")
    return ground + words(0.0, top + size, text, "soft", size=size)


def _air(page: _Page, top: float) -> tuple[str, float]:
    rows = [(each.on, page.warmth(each.low_c), page.warmth(each.high_c)) for each in page.days]
    known = [value for _, low, high in rows for value in (low, high) if value is not None]
    if not known:
        return "", 0.0
    freeze = page.warmth(FREEZE_C) or 0.0
    upper, lower = top + HEAD_PX, top + HEAD_PX + FIELD_PX
    values = ValueScale.over([*known, freeze], lower, upper, LEAST_AIR_SPAN)
    most_mm = max([day_.rain_mm or 0.0 for day_ in page.days] + [LEAST_RAIN_MM])
    rain = ValueScale(0.0, most_mm, lower, upper)
    ticks = page.ticks(values, page.measures.degree)
    head = f"Air, low to high; rain (full height {page.measures.rain(most_mm)})"
    return (
        _head(top, head)
        + band(page.dates, values, rows, "warmth")
        + bars(page.dates, rain, [(day_.on, day_.rain_mm) for day_ in page.days], "wet")
        + value_axis(page.dates, values, ticks)
        + line(LEFT_PX, values.y(freeze), WIDE_PX, values.y(freeze), "cold", dashed=True),
        HEAD_PX + FIELD_PX,
    )


def _strawbell(page: _Page, top: float) -> tuple[str, float]:
    marks = []
    for each in page.days:
        if each.held:
            marks.append((each.on, HELD, "held", f"{day(each.on)}: feeding held"))
        elif each.fed:
            marks.append((each.on, FEED, "due", f"{day(each.on)}: fed"))
    marks += _put_in(page, page.batch.planted)
    return _lane(page, top, "Strawbell", marks)


def _calendar(page: _Page, top: float) -> tuple[str, float]:
    marks = [
        (each.on, PLAN, "edge", f"{day(each.on)}: fed by the calendar")
        for each in page.days
        if each.calendar_fed
    ]
    marks += _put_in(page, page.batch.calendar_planted)
    return _lane(page, top, "Plain calendar", marks)


def _put_in(page: _Page, planted: Iterable[tuple[date, str]]) -> list[tuple[date, Shape, str, str]]:
    return [
        (on, PUT_IN, "today", f"{day(on)}: {name(crop)} went in")
        for on, crop in planted
        if page.days[0].on <= on <= page.days[-1].on
    ]


def _nights(page: _Page, top: float) -> tuple[str, float]:
    marks = [
        (
            each.on,
            COVERED if each.covered else UNCOVERED,
            "cold" if each.covered else "missed",
            f"Night after {day(each.on)}: {'told' if each.covered else 'not told'}",
        )
        for each in page.days
        if each.frost
    ]
    return _lane(page, top, "Nights of frost danger", marks)


def _alerts(page: _Page, top: float) -> tuple[str, float]:
    marks = [
        (each.on, PUT_IN, "today", f"{day(each.on)}: {listing(each.alerts)}")
        for each in page.days
        if each.alerts
    ]
    return _lane(page, top, "Alerts", marks)


def _lane(
    page: _Page, top: float, head: str, marks: Sequence[tuple[date, Shape, str, str]]
) -> tuple[str, float]:
    if not marks:
        return "", 0.0
    middle = top + HEAD_PX + LANE_PX / 2
    drawn = "".join(
        mark(shape, page.dates.middle(on), middle, role, says=says, size=_SIZES.get(shape, SIZE_PX))
        for on, shape, role, says in marks
    )
    return _head(top, head) + drawn, HEAD_PX + LANE_PX


def _messages(page: _Page, top: float) -> tuple[str, float]:
    counts = [(each.on, float(each.messages)) for each in page.days]
    most = max(count for _, count in counts)
    if most == 0:
        return "", 0.0
    upper, lower = top + HEAD_PX, top + HEAD_PX + LOW_FIELD_PX
    values = ValueScale(0.0, most, lower, upper)
    head = f"Messages a day (full height {most:.0f})"
    drawn = _head(top, head) + bars(page.dates, values, counts, "edge")
    return drawn + line(LEFT_PX, lower, WIDE_PX, lower), HEAD_PX + LOW_FIELD_PX


def _core(page: _Page, top: float) -> tuple[str, float]:
    rows = [
        (each.on, page.warmth(each.core_low_c), page.warmth(each.core_high_c)) for each in page.days
    ]
    known = [value for _, low, high in rows for value in (low, high) if value is not None]
    if not known:
        return "", 0.0
    limit_c = page.report.plant_below_c
    limit = page.warmth(limit_c) or 0.0
    upper, lower = top + HEAD_PX, top + HEAD_PX + FIELD_PX
    values = ValueScale.over([*known, limit], lower, upper, LEAST_AIR_SPAN, steps=4)
    ticks = page.ticks(values, page.measures.degree)
    roots = page.measures.temperature(limit_c)
    head = f"Core of the bale, lowest to highest; roots from {roots} down"
    return (
        _head(top, head)
        + band(page.dates, values, rows, "warmth")
        + value_axis(page.dates, values, ticks)
        + line(LEFT_PX, values.y(limit), WIDE_PX, values.y(limit), "held", dashed=True),
        HEAD_PX + FIELD_PX,
    )


def _nitrogen(page: _Page, top: float) -> tuple[str, float]:
    most = page.mass(max(each.nitrogen_given_g for each in page.days))
    if most <= 0:
        return "", 0.0
    upper, lower = top + HEAD_PX, top + HEAD_PX + FIELD_PX
    values = ValueScale.over([0.0, most], lower, upper, 1.0)
    rows = [
        (each.on, page.mass(each.nitrogen_left_low_g), page.mass(each.nitrogen_left_high_g))
        for each in page.days
        if each.nitrogen_given_g > 0
    ]
    ticks = page.ticks(values, "oz" if page.measures.us else "g")[1:]
    return (
        _head(top, "Nitrogen a bale: given (line), left of it (band)")
        + band(page.dates, values, rows, "leaf")
        + _stairs(page, values)
        + value_axis(page.dates, values, ticks),
        HEAD_PX + FIELD_PX,
    )


def _stairs(page: _Page, values: ValueScale) -> str:
    parts = []
    before = page.mass(page.days[0].nitrogen_given_g)
    for each in page.days:
        given = page.mass(each.nitrogen_given_g)
        x, y = page.dates.x(each.on), values.y(given)
        if given != before:
            parts.append(line(x, values.y(before), x, y, "due"))
        parts.append(line(x, y, x + page.dates.day_px, y, "due"))
        before = given
    return "".join(parts)


def _dry(page: _Page, top: float) -> tuple[str, float]:
    rows = [(each.on, each.dry_top_h) for each in page.days]
    if all(hours is None for _, hours in rows):
        return "", 0.0
    upper, lower = top + HEAD_PX, top + HEAD_PX + LOW_FIELD_PX
    values = ValueScale(0.0, HOURS_A_DAY, lower, upper)
    known = [on for on, hours in rows if hours is not None]
    left, right = page.dates.x(known[0]), page.dates.x(known[-1]) + page.dates.day_px
    head = "Hours a day with a dry top, first three weeks (full height 24 h)"
    drawn = _head(top, head) + bars(page.dates, values, rows, "held")
    return drawn + line(left, lower, right, lower, "edge"), HEAD_PX + LOW_FIELD_PX


_FIELDS: tuple[Field, ...] = (
    _air,
    _strawbell,
    _calendar,
    _nights,
    _alerts,
    _messages,
    _core,
    _nitrogen,
    _dry,
)


def _said(page: _Page) -> str:
    """Return what the sheet shows, for who cannot see it; the table below has every date."""
    days = page.days
    told = [day(each.on) for each in days if each.fed and not each.held]
    held = [day(each.on) for each in days if each.held]
    plain = [day(each.on) for each in days if each.calendar_fed]
    frosts = sum(each.frost for each in days)
    unsaid = sum(each.frost and not each.covered for each in days)
    return " ".join(
        _sentences(("Fed", told), ("Feeding held on", held), ("The calendar fed on", plain))
    ) + (
        f" Nights of frost danger: {frosts}, of them not told: {unsaid}."
        f" Messages: {sum(each.messages for each in days)}."
    )


def _sentences(*said: tuple[str, Sequence[str]]) -> Iterator[str]:
    for head, dates in said:
        joined = head if head.endswith("on") else f"{head} on"
        yield f"{joined} {listing(dates)}." if dates else f"{joined} no day."
