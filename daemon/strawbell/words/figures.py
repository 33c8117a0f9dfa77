"""Typed details as numbers: in sentences, in the documents that are kept, and read back from them.

A document names each number with its unit; `READ_BACK` says how each of them is shown again.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import time
from types import MappingProxyType
from typing import assert_never

from strawbell.model.brief import BatchOutlook
from strawbell.model.details import (
    Band,
    Detail,
    DryTopDetail,
    Ending,
    FeedDetail,
    HarvestDetail,
    LookDetail,
    MixDetail,
    PlantDetail,
    SoakDetail,
    SpreadDetail,
    SupportDetail,
    ThinDetail,
    TopWaterDetail,
)
from strawbell.words.units import Measures

MINUTES_AN_HOUR = 60
QUARTER_MIN = 15

Figures = dict[str, float]


def band(ends: Band, say: Callable[[float], str], measures: Measures) -> str:
    """Return "38 to 46 °C", "38 °C" or "at least 38 °C", each end as `say` has it."""
    low = say(ends.low)
    if ends.high is None:
        return f"at least {low}"
    high = say(ends.high)
    if low == high:
        return low
    blank = "\N{NO-BREAK SPACE}" if measures.typographic else " "
    low_number, _, low_unit = low.rpartition(blank)
    if low_unit == high.rpartition(blank)[2] and low_number:
        return f"{low_number} to {high}"
    return f"{low} to {high}"


def quarter(at: time) -> time:
    """Return a computed time of day, to the quarter before it: no model knows the minute."""
    return time(at.hour, at.minute // QUARTER_MIN * QUARTER_MIN)


def detail_figures(detail: Detail | DryTopDetail | None) -> Figures:
    """Return a detail as it stands in a document; yes is 1, and no and unknown are left out."""
    match detail:
        case None:
            return {}
        case SoakDetail():
            return _yes("soaked_before", detail.again)
        case FeedDetail():
            return {"every_days": detail.every_days}
        case LookDetail():
            return {"week": detail.week}
        case MixDetail():
            return {"layer_cm": detail.layer_cm, "mix_per_bale_l": detail.per_bale_l}
        case PlantDetail():
            return _plant_figures(detail)
        case TopWaterDetail():
            return _ends("up_in_days", detail.up_in_days) | _hour(detail.dry_at)
        case ThinDetail():
            return {"thin_to_cm": detail.to_cm}
        case SupportDetail():
            return {"height_cm": detail.height_cm, "upright_cm": detail.upright_cm}
        case HarvestDetail():
            return dict.fromkeys(_ENDINGS[detail.ending], 1.0)
        case SpreadDetail():
            return (
                {"strings": detail.strings, "spread_cm": detail.depth_cm}
                | _ends("area_m2", detail.area_m2)
                | _ends("nitrogen_g", detail.nitrogen_g)
            )
        case DryTopDetail():
            return (
                _known("water_l_per_bale", detail.water_per_bale_l)
                | {"times_a_day": detail.times_a_day}
                | _hour(detail.dry_at)
            )
    assert_never(detail)


def outlook_figures(outlook: BatchOutlook) -> Figures:
    """Return what is computed for a batch as it stands in a document."""
    figures: Figures = {}
    if (conditioning := outlook.conditioning) is not None:
        figures |= _ends("conditioned_days", conditioning.done_days)
        figures |= _ends("to_go_days", conditioning.to_go_days)
    if (core := outlook.core) is not None:
        figures |= {"core_c_low": core.low_c, "core_c_high": core.high_c}
        figures |= {"core_expected_c": core.expected_c, "core_from_probe": float(core.from_probe)}
    if (nitrogen := outlook.nitrogen) is not None:
        figures["nitrogen_given_g_per_bale"] = nitrogen.given_g
        figures["nitrogen_planned_g_per_bale"] = nitrogen.planned_g
        figures |= _ends("nitrogen_lost_g_per_bale", nitrogen.lost_g)
        figures |= _ends("carbon_to_nitrogen", nitrogen.carbon_to_nitrogen)
        figures |= _known("unknown_rain_days", nitrogen.unknown_rain_days or None)
    if (make_up := outlook.make_up) is not None:
        figures["make_up_nitrogen_g_per_bale"] = make_up.nitrogen_g
        figures["make_up_feed_g_per_bale"] = make_up.feed_g
    return figures | _known("evaporation_today_mm", outlook.evaporation_mm)


def _plant_figures(detail: PlantDetail) -> Figures:
    return (
        {"spacing_cm": detail.spacing_cm}
        | _ends("plants_per_bale", detail.per_bale)
        | {"edge_cm": detail.edge_cm}
        | _known("rows", detail.rows)
        | _yes("killed", detail.again)
        | _known("depth_cm", detail.depth_cm)
        | _ends("up_in_days", detail.up_in_days)
        | _known("upright_cm", detail.upright_cm)
    )


_ENDINGS: Mapping[Ending, tuple[str, ...]] = MappingProxyType(
    {
        Ending.LAST: ("last_harvest",),
        Ending.KILLED: ("last_harvest", "killed"),
        Ending.TOO_LATE: ("too_late",),
    }
)


def _yes(name: str, value: bool) -> Figures:
    return {name: 1.0} if value else {}


def _known(name: str, value: float | None) -> Figures:
    return {} if value is None else {name: value}


def _ends(name: str, ends: Band | None) -> Figures:
    return {} if ends is None else {f"{name}_low": ends.low} | _known(f"{name}_high", ends.high)


def _hour(at: time | None) -> Figures:
    return {} if at is None else {"dry_at_hour": round(at.hour + at.minute / MINUTES_AN_HOUR, 2)}


def figure_words(figures: Mapping[str, float], measures: Measures) -> tuple[str, ...]:
    """Return the numbers of a kept document as "label value", the two ends of a band in one.

    A name that an older version or a newer one has, and this one does not, is shown as it stands.
    """
    bands: dict[tuple[str, str, str], dict[str, float]] = {}
    for name, value in figures.items():
        bare, end = _without_end(name)
        shown = READ_BACK.get(bare, (bare.replace("_", " "), "", ""))
        bands.setdefault(shown, {})[end] = value
    return tuple(
        f"{label} {_shown(ends, unit, measures)}{per}" for (label, unit, per), ends in bands.items()
    )


_LOW, _HIGH = "_low", "_high"

READ_BACK: Mapping[str, tuple[str, str, str]] = MappingProxyType(
    {
        "area_m2": ("area m2", "", ""),
        "carbon_to_nitrogen": ("carbon to nitrogen", "", ""),
        "conditioned_days": ("conditioned", "days", ""),
        "core_c": ("core", "c", ""),
        "core_expected_c": ("core expected", "c", ""),
        "depth_cm": ("depth", "cm", ""),
        "dry_at_hour": ("dry at", "hour", ""),
        "edge_cm": ("edge", "cm", ""),
        "evaporation_today_mm": ("evaporation today", "mm", ""),
        "every_days": ("every", "days", ""),
        "height_cm": ("height", "cm", ""),
        "layer_cm": ("layer", "cm", ""),
        "make_up_feed_g_per_bale": ("make up feed", "g", " a bale"),
        "make_up_nitrogen_g_per_bale": ("make up nitrogen", "g", " a bale"),
        "mix_per_bale_l": ("mix per bale", "l", ""),
        "nitrogen_g": ("nitrogen", "g", ""),
        "nitrogen_given_g_per_bale": ("nitrogen given", "g", " a bale"),
        "nitrogen_lost_g_per_bale": ("nitrogen lost", "g", " a bale"),
        "nitrogen_per_bale_g": ("nitrogen per bale", "g", ""),
        "nitrogen_planned_g_per_bale": ("nitrogen planned", "g", " a bale"),
        "per_bale_g": ("per bale", "g", ""),
        "phosphorus_per_bale_g": ("phosphorus per bale", "g", ""),
        "plants_per_bale": ("plants", "", " a bale"),
        "potassium_per_bale_g": ("potassium per bale", "g", ""),
        "spacing_cm": ("spacing", "cm", ""),
        "spread_cm": ("spread", "cm", ""),
        "thin_to_cm": ("thin to", "cm", ""),
        "to_go_days": ("to go", "days", ""),
        "total_g": ("total", "g", ""),
        "unknown_rain_days": ("unknown rain", "days", ""),
        "up_in_days": ("up in", "days", ""),
        "upright_cm": ("upright", "cm", ""),
        "water_l_per_bale": ("water", "l", " a bale"),
        "water_per_bale_l": ("water per bale", "l", ""),
    }
)
"""Label, unit and what it is for of each number of a document, by its name without `_low`."""


def _without_end(name: str) -> tuple[str, str]:
    for end in (_LOW, _HIGH):
        if name.endswith(end):
            return name.removesuffix(end), end
    return name, ""


def _shown(ends: Mapping[str, float], unit: str, measures: Measures) -> str:
    def say(value: float) -> str:
        return _value(value, unit, measures)

    if _LOW in ends:
        return band(Band(ends[_LOW], ends.get(_HIGH)), say, measures)
    if _HIGH in ends:
        return f"at most {say(ends[_HIGH])}"
    return say(next(iter(ends.values())))


def _value(value: float, unit: str, measures: Measures) -> str:
    if value != value:  # noqa: PLR0124 - a figure that is not a number
        return measures.tongue.say("amount.unknown")
    shown: Mapping[str, Callable[[float], str]] = {
        "g": measures.mass,
        "l": measures.water,
        "mm": measures.rain,
        "cm": measures.length,
        "c": measures.temperature,
        "hour": _hour_words,
    }
    if unit in shown:
        return shown[unit](value)
    number = measures.number(value, 1)
    return measures.amount("days", value, 1) if unit else number


def _hour_words(hour: float) -> str:
    minutes = round(hour * MINUTES_AN_HOUR) % (24 * MINUTES_AN_HOUR)
    return f"{minutes // MINUTES_AN_HOUR:02d}:{minutes % MINUTES_AN_HOUR:02d}"
