"""Weather in a picture: a band from low to high of each day, over bars of rain."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, timedelta

from strawbell.model.forecast import DayWeather
from strawbell.model.garden import Units
from strawbell.words.picture import (
    band,
    bars,
    box,
    line,
    value_axis,
)
from strawbell.words.scales import DateScale, ValueScale
from strawbell.words.units import MM_PER_INCH, Measures

DAY = timedelta(days=1)
WARMTH_PX, RAIN_PX = 96.0, 52.0
"""Heights of the two fields."""
RAIN_TOP_PX = 14.0
"""Between the temperatures and the top of the rain."""
LEAST_SPAN_C, LEAST_SPAN_MM = 15.0, 10.0
"""A scale shows at least so much, so that a mild dry spell does not look like a wild one."""
WARMTH_STEPS = 5


def weather_field(
    weather: Mapping[date, DayWeather], scale: DateScale, y: float, hatch: str, units: Units
) -> tuple[list[str], float]:
    """Return the band of temperatures over the bars of rain from `y` down, and where it ends [px].

    `hatch` is the id of a `hatching`, laid over the days up to the last known one whose rain is
    unknown; temperatures that are unknown leave a gap.
    """
    measures = Measures(units)
    shown = {on: weather[on] for on in sorted(weather) if scale.holds(on)}
    parts, y = _warmth(shown, scale, y, measures)
    top, bottom = y, y + RAIN_PX
    share = MM_PER_INCH if measures.us else 1.0
    rain = [
        (on, None if each.rain_mm is None else each.rain_mm / share) for on, each in shown.items()
    ]
    amounts = [0.0, *(value for _, value in rain if value is not None)]
    values = ValueScale.over(amounts, bottom, top + RAIN_TOP_PX, LEAST_SPAN_MM / share, steps=2)
    rain_unit, digits = ("in", 2) if measures.us else ("mm", 0)
    labels = [
        (tick, measures.amount(rain_unit, tick, digits) if tick else measures.number(tick, 0))
        for tick in (values.low, values.high)
    ]
    parts.append(value_axis(scale, values, labels))
    parts += [
        box(
            scale.x(first),
            top + RAIN_TOP_PX,
            scale.x(last + DAY) - scale.x(first),
            RAIN_PX - RAIN_TOP_PX,
            pattern=hatch,
        )
        for first, last in unknown_runs(weather, scale)
    ]
    parts.append(bars(scale, values, rain, "wet"))
    return parts, bottom


def _warmth(
    shown: Mapping[date, DayWeather], scale: DateScale, y: float, measures: Measures
) -> tuple[list[str], float]:
    def degrees(value_c: float | None) -> float | None:
        return value_c * 1.8 + 32 if value_c is not None and measures.us else value_c

    rows = [(on, degrees(each.low_c), degrees(each.high_c)) for on, each in shown.items()]
    freezing = 32.0 if measures.us else 0.0
    known = [value for _, *ends in rows for value in ends if value is not None]
    span = LEAST_SPAN_C * (1.8 if measures.us else 1.0)
    bottom = y + WARMTH_PX
    values = ValueScale.over([freezing, *known], bottom - 4, y + 6, span, WARMTH_STEPS)
    ticks = values.ticks()
    labels = [
        (
            tick,
            measures.amount(measures.degree, tick, 0)
            if tick == ticks[-1]
            else measures.number(tick, 0),
        )
        for tick in ticks
    ]
    parts = [value_axis(scale, values, labels), band(scale, values, rows, "warmth")]
    if values.low <= freezing <= values.high:
        level = values.y(freezing)
        parts.append(line(scale.left, level, scale.right, level, "cold", dashed=True))
    return parts, bottom


def unknown_runs(
    weather: Mapping[date, DayWeather], scale: DateScale
) -> tuple[tuple[date, date], ...]:
    """Return the spans up to the end of the forecast whose rain nobody knows."""
    known = {on for on, each in weather.items() if each.rain_mm is not None}
    last = max((on for on in known if scale.holds(on)), default=None)
    if last is None:
        return ()
    runs: list[tuple[date, date]] = []
    on = scale.first
    while on < last:
        if on not in known:
            begins = runs.pop()[0] if runs and runs[-1][1] == on - DAY else on
            runs.append((begins, on))
        on += DAY
    return tuple(runs)
