"""Figures that come by name, with the unit in the name, as words: "core 38 to 46 °C".

A name is a label, a unit, perhaps `_per_bale` (or day, plant), perhaps `_low` or `_high` for the
ends of a band: `core_c_low`, `nitrogen_given_g`, `water_l_per_bale`. `_hour` is a time of day.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from types import MappingProxyType

from strawbell.words.units import UNKNOWN, Measures

_NAME = re.compile(
    r"(?P<label>[a-z0-9_]+?)(?P<early>_low|_high)?"
    r"(?:_(?P<unit>g|kg|l|ml|mm|cm|c|percent|hour|hours|h|days|day))?"
    r"(?P<per>_per_[a-z]+)?(?P<late>_low|_high)?",
)
HOURS_A_DAY = 24
QUARTERS_AN_HOUR = 4


def figure_words(
    figures: Mapping[str, float], measures: Measures, leave_out: frozenset[str] = frozenset()
) -> tuple[str, ...]:
    """Return every figure as "label value", the two ends of a band in one, in the given order."""
    bands: dict[tuple[str, str, str], dict[str, float]] = {}
    for name, value in figures.items():
        if name in leave_out:
            continue
        label, unit, per, end = _parts(name)
        bands.setdefault((label, unit, per), {})[end] = value
    return tuple(
        f"{label} {_band(ends, unit, measures)}{per}" for (label, unit, per), ends in bands.items()
    )


def band(figures: Mapping[str, float], name: str, unit: str, measures: Measures) -> str:
    """Return the figure `name` or its band as words, "" when there is none."""
    ends = {
        end: figures[f"{name}{end and '_' + end}"]
        for end in ("", "low", "high")
        if f"{name}{end and '_' + end}" in figures
    }
    return _band(ends, unit, measures) if ends else ""


def hour_words(hour: float) -> str:
    """Return a time of day given in hours as "14:30"."""
    minutes = round(hour * 60) % (HOURS_A_DAY * 60)
    return f"{minutes // 60:02d}:{minutes % 60:02d}"


def about_hour(hour: float) -> str:
    """Return a computed time of day to the quarter before it: no model knows the minute."""
    return hour_words(int(hour * QUARTERS_AN_HOUR) / QUARTERS_AN_HOUR)


def _parts(name: str) -> tuple[str, str, str, str]:
    match = _NAME.fullmatch(name)
    if match is None:
        return name.replace("_", " "), "", "", ""
    end = match["early"] or match["late"] or ""
    label, per = match["label"].replace("_", " "), (match["per"] or "").replace("_per_", " a ")
    return label, match["unit"] or "", per, end.removeprefix("_")


def _band(ends: Mapping[str, float], unit: str, measures: Measures) -> str:
    """Return "38 to 46 °C", "38 °C", "at least 38 °C" or "at most 46 °C"."""
    if "low" in ends and "high" in ends:
        low, high = (_value(ends[end], unit, measures) for end in ("low", "high"))
        if low == high:
            return low
        blank = "\N{NO-BREAK SPACE}" if measures.typographic else " "
        low_number, _, low_unit = low.rpartition(blank)
        if low_unit == high.rpartition(blank)[2] and low_number:
            return f"{low_number} to {high}"
        return f"{low} to {high}"
    (end, value), *_ = ends.items()
    before = {"low": "at least ", "high": "at most "}.get(end, "")
    return f"{before}{_value(value, unit, measures)}"


def _value(value: float, unit: str, measures: Measures) -> str:
    shown: Mapping[str, Callable[[float], str]] = MappingProxyType(
        {
            "g": measures.mass,
            "kg": lambda mass_kg: measures.mass(mass_kg * 1000),
            "l": measures.water,
            "ml": measures.volume,
            "mm": measures.rain,
            "cm": measures.length,
            "c": measures.temperature,
            "percent": measures.percent,
            "h": measures.hours,
            "hours": measures.hours,
            "hour": hour_words,
        }
    )
    if value != value:  # noqa: PLR0124 - a figure that is not a number
        return UNKNOWN
    if unit in shown:
        return shown[unit](value)
    number = measures.number(value, 1)
    if unit in {"day", "days"}:
        return measures.joined(number, "day" if number == "1" else "days")
    return number
