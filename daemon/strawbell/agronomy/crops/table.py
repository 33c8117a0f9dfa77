"""The crops that are common in bales, every figure with its source.

Where sources disagree the more careful figure stands: the warmer temperature to cover at, the
longer time to emerge, the wider distance. A grower's own entry may override any of it.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from strawbell.agronomy.crops.crop_sources import SOURCES
from strawbell.agronomy.crops.crops_half_hardy import HALF_HARDY_CROPS
from strawbell.agronomy.crops.crops_hardy import HARDY_CROPS
from strawbell.agronomy.crops.crops_tender import TENDER_CROPS
from strawbell.agronomy.crops.crops_vines import VINE_CROPS
from strawbell.model.crops import Crop

__all__ = ["CROPS", "NOT_IN_BALES", "SOURCES"]

CROPS: Mapping[str, Crop] = MappingProxyType(
    {crop.name: crop for crop in (*HARDY_CROPS, *HALF_HARDY_CROPS, *TENDER_CROPS, *VINE_CROPS)}
)
"""Every built-in crop by its name, the hardy ones first."""

NOT_IN_BALES: Mapping[str, str] = MappingProxyType(
    {
        "asparagus": "it needs several years in one place, and a bale lasts one season",
        "rhubarb": "it needs several years in one place, and a bale lasts one season",
        "raspberry": "it spreads by offshoots and needs several years in one place",
        "artichoke": "it grows too wide and too heavy for a bale that softens",
        "sunflower": "it is top-heavy and topples in a bale that softens",
    }
)
"""Crops asked for now and then that do badly in bales, with the reason (common practice)."""
