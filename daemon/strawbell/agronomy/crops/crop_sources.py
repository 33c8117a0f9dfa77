"""The bibliography of the crop tables: short keys, resolved once."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

SOURCES: Mapping[str, str] = MappingProxyType(
    {
        "practice": "common practice: no source with a measurement behind it was found",
        "memory": "from memory, not looked up again; treat as a first guess",
        "harrington": (
            "Harrington, J. F. and Minges, P. A., Vegetable Seed Germination, California "
            "Agricultural Extension Mimeo Leaflet (1954), as adapted in Knott's Handbook for "
            "Vegetable Growers (1997): days to emerge, seed at 1/2 in"
        ),
        "harrington-range": (
            "Harrington, J. F., Soil Temperature Conditions for Vegetable Seed Germination, "
            "Oregon State University Extension (2013, reviewed 2024): minimum, optimum, maximum; "
            "https://extension.oregonstate.edu/gardening/soil-compost/"
            "soil-temperature-conditions-vegetable-seed-germination"
        ),
        "ucanr-3382": (
            "California Master Gardener Handbook, 2nd ed., UC ANR Pub. 3382, Table 5.2, quoted in "
            "UC Cooperative Extension Sacramento County Garden Notes GN 154"
        ),
        "csu-720": (
            "Colorado State University Extension, CMG GardenNotes 720, Vegetable Planting Guide: "
            "classes of hardiness, spacing, depth, days of the cool crops; "
            "http://www.ext.colostate.edu/mg/gardennotes/720.html"
        ),
        "csu-7609": (
            "Colorado State University Extension Fact Sheet 7.609, Cucumbers, Pumpkins, Squash "
            "and Melons (11/2020)"
        ),
        "ucce-san-diego": (
            "University of California Cooperative Extension, Vegetable Garden Planting Guide for "
            "San Diego County: classes of hardiness"
        ),
        "msu-freeze": (
            "Michigan State University Extension, Freeze damage in fall vegetables: identifying "
            "and preventing (2014): light frost 28 to 32 F, hard frost under 28 F, and who "
            "survives which"
        ),
        "tamu-frost": "Texas A&M AgriLife Extension frost classes, quoted second-hand",
        "udel-strawberry": (
            "University of Delaware Cooperative Extension, Weekly Crop Update: strawberry bloom "
            "30 F, green fruit 28 F, most bloom lost under 26 F; "
            "https://sites.udel.edu/weeklycropupdate/?p=8904"
        ),
        "ext-basil": "extension text on frost tolerance, re-posted: basil blackens in the 40s F",
        "basil-chart": "a seed trade's germination chart: basil 65 F at least, best at 70 to 85 F",
        "ncsu-bales": (
            "North Carolina State University Extension newsletter on straw bale gardening, quoted "
            "second-hand (2009): plants a bale"
        ),
        "bale-growers": (
            "common practice: plants a bale as several pages of bale growers print them, in "
            "agreement with ncsu-bales where both speak"
        ),
        "squash-spacing": (
            "University of Minnesota Extension column, Pine County News (2020): depth and spacing "
            "of pumpkin and winter squash"
        ),
        "umn-supports": (
            "University of Minnesota Extension, Trellises and cages (2009): fruit up to 3 lb on a "
            "trellis, stake or cage for indeterminate tomatoes; "
            "https://extension.umn.edu/planting-and-growing-guides/trellises-and-cages"
        ),
        "purdue-fruit-set": (
            "Purdue University, Vegetable Crops Hotline, Understanding high temperature effects "
            "on fruit set of tomatoes: fruit set best at 60 to 90 F by day, 60 to 75 F by night; "
            "https://vegcropshotline.org/article/"
            "understanding-high-temperature-effects-on-fruit-set-of-tomatoes"
        ),
        "illinois-drop": (
            "University of Illinois Extension, blossom drop of bean, pepper, tomato: nights under "
            "55 F; https://web.extension.illinois.edu/vegguide/problem_drop.cfm"
        ),
        "jefferson-heat": (
            "Colorado State University Extension, Jefferson County (2022): lettuce bolts and turns "
            "bitter over 80 F; peppers best at 65 to 90 F; 30 % shade cloth"
        ),
        "ncsu-degree-days": (
            "Peet, M., Sustainable Practices for Vegetable Production in the South, app. 2, North "
            "Carolina State University: bases corn and bean 50 F, cabbage, pea and turnip 40 F, "
            "pepper 65 F"
        ),
        "osu-degree-days": (
            "Oregon State University Extension Small Farms, vegetable degree-day models (see "
            "EM 9305, 2021): sweet corn 50/86 F, 1539 F days to fresh harvest"
        ),
        "bale-roots": (
            "agricultural radio broadcast on what to grow in straw bales (2017): top-heavy plants "
            "and those spreading by offshoots do badly, potatoes, carrots and turnips do; "
            "University of Illinois Extension also reports potatoes from bales"
        ),
    }
)
"""Short key to source; `Crop.sources` names figures by these keys."""
