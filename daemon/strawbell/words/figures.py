"""Typed details as numbers in the documents that are kept, each named with its unit."""

from __future__ import annotations

from collections.abc import Mapping
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

MINUTES_AN_HOUR = 60
QUARTER_MIN = 15
DAY_ENDS = time(20)
"""When the day of a bale's top ends (design choice): it takes up the evening's dew after it."""

Figures = dict[str, float]


def dry_time(at: time | None) -> time | None:
    """Return when a top is dry as it is told: to the quarter before, as no model knows the minute.

    None where that is not on the day of who waters.
    """
    if at is None or at >= DAY_ENDS:
        return None
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
