"""The crops that are common in bales, every figure with its source, and how a crop is made of them.

Where sources disagree the more careful figure stands: the warmer temperature to cover at, the
longer time to emerge, the wider distance. A grower's own entry may override any of it.

The tables stand as their sources print them, in deg F and inches; a dash is unknown. What leaves
this module is SI. They are text in the program, not a file beside it: the room reads no files,
and a row can be read and mended without knowing the program.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping
from types import MappingProxyType
from typing import Any

from msgspec.structs import replace

from strawbell.agronomy.cold_and_heat import HeatEffect
from strawbell.agronomy.figures import F_PER_C, deg_f, inches
from strawbell.model.garden import Appetite, Crop, FrostClass, Support

STEP_F = 9
"""The trials of Harrington and Minges stand 9 F (5 C) apart, from 32 to 104 F."""

# Cover at and killed at [F], set out [weeks from the average last frost], heat that harms [F by
# day], base of the degree days [F] and degree days to the harvest [F day].
# 32 F kills tender crops by TAMU, 28 to 32 F by MSU: the warmer stands, and covers go on 1 F over
# it. MSU lets cabbage, broccoli, onion plants and radish through light frost (28 F) only, TAMU
# calls 26 to 31 F a burn: the warmer is the one to cover at.
FROST_AND_HEAT = """
crop           class        cover  kill  set out  heat  effect of heat          base  degree days
kale           hardy        26     20    -4       80    loses quality           40    -
spinach        hardy        26     20    -4       80    bolts and turns bitter  40    -
pea            hardy        28     26    -4       80    drops its blossom       40    1350
onion          hardy        28     22    -4       -     -                       35    -
radish         hardy        28     26    -4       80    bolts and turns bitter  40    -
cabbage        hardy        28     22    -4       80    loses quality           40    -
broccoli       hardy        28     22    -4       80    bolts and turns bitter  40    -
kohlrabi       hardy        28     22    -4       80    loses quality           40    -
turnip         hardy        28     26    -4       80    loses quality           40    -
strawberry     hardy        30     26    -3       85    drops its blossom       -     -
lettuce        half-hardy   28     26    -2       80    bolts and turns bitter  40    -
cauliflower    half-hardy   28     26    -2       80    loses quality           40    -
beet           half-hardy   28     26    0        80    loses quality           40    -
carrot         half-hardy   28     26    0        80    loses quality           38    -
chard          half-hardy   28     26    0        -     -                       40    -
parsley        half-hardy   28     25    0        -     -                       40    -
potato         half-hardy   31     28    0        85    loses quality           45    -
bean           tender       33     32    0        90    drops its blossom       50    1075
pole bean      tender       33     32    0        90    drops its blossom       50    -
sweet corn     tender       33     32    0        95    loses quality           50    1539
tomato         very-tender  33     32    2        90    drops its blossom       50    1250
cherry tomato  very-tender  33     32    2        90    drops its blossom       50    -
pepper         very-tender  33     32    2        90    drops its blossom       65    -
eggplant       very-tender  33     32    2        95    drops its blossom       60    -
okra           very-tender  33     32    2        -     -                       60    -
basil          very-tender  40     32    2        -     -                       50    -
cucumber       very-tender  33     32    1        95    drops its blossom       60    -
summer squash  very-tender  33     32    1        95    drops its blossom       50    -
winter squash  very-tender  33     32    2        95    drops its blossom       50    -
pumpkin        very-tender  33     32    2        95    drops its blossom       50    -
melon          very-tender  33     32    2        -     -                       60    -
watermelon     very-tender  33     32    2        -     -                       60    -
"""

# Coolest and warmest bale [F] it germinates in, days to emerge from a temperature [F] on in steps
# of 9 F (the longer one where "4-5" is printed), depth [in], age of a transplant [weeks].
FROM_SEED = """
crop           germinates  days to emerge, from      depth  transplant
kale           40 to 100   50: 15 9 6 5 4            0.5    4 to 6
spinach        35 to 85    32: 63 23 12 7 6 5 6      0.5    -
pea            40 to 85    41: 36 14 9 8 6 6         1      -
onion          35 to 95    32: 136 31 13 7 5 4 4 13  0.25   8 to 10
radish         40 to 95    41: 29 11 6 4 4 3         0.5    -
cabbage        40 to 100   50: 15 9 6 5 4            0.5    5 to 7
broccoli       40 to 95    50: 20 10 6 5 5           0.5    5 to 7
kohlrabi       40 to 95    50: 15 9 6 5 4            0.5    4 to 6
turnip         40 to 105   50: 5 3 2 1 1 1 3         0.5    -
strawberry     -           -                         -      -
lettuce        35 to 85    32: 49 15 7 4 3 2 3       0.25   3 to 5
cauliflower    40 to 95    50: 20 10 6 5 5           0.5    5 to 7
beet           40 to 95    41: 42 17 10 6 5 5 5      1      -
carrot         40 to 95    41: 51 17 10 7 6 6 9      0.25   -
chard          40 to 95    50: 20 15 12 10 7         0.5    4 to 4
parsley        40 to 90    50: 29 17 14 13 12        0.25   8 to 10
potato         45 to -     -                         6      -
bean           60 to 95    59: 16 11 8 6 6           1.5    -
pole bean      60 to 95    59: 16 11 8 6 6           1.5    -
sweet corn     50 to 105   50: 22 12 7 4 4 3         2      -
tomato         50 to 95    50: 43 14 8 6 6 9         0.25   5 to 8
cherry tomato  50 to 95    50: 43 14 8 6 6 9         0.25   5 to 8
pepper         60 to 95    59: 25 13 8 8 9           0.25   6 to 8
eggplant       60 to 95    68: 13 8 5                0.25   6 to 9
okra           60 to 105   59: 27 17 13 7 6 7        0.75   4 to 6
basil          65 to 95    68: 10 7 5                0.25   4 to 6
cucumber       60 to 105   59: 13 6 4 3 3            1      2 to 3
summer squash  60 to 100   68: 15 6 4 3              1      2 to 3
winter squash  60 to 100   68: 15 6 4 3              0.75   2 to 4
pumpkin        60 to 100   68: 15 6 4 3              0.75   2 to 4
melon          60 to 100   68: 8 4 3                 1      2 to 4
watermelon     60 to 105   68: 12 5 4 3              1      2 to 4
"""

# Distance [in], whether it is thinned to it, plants on a two-string bale, days to the first
# picking from sowing or planting, days it is picked, height [in].
ON_THE_BALE = """
crop           apart  thinned  a bale    ready      from      picked  height  support  appetite
kale           18     yes      3 to 4    50 to 65   sowing    60      30      none     leafy
spinach        6      yes      10 to 20  40 to 50   sowing    21      12      none     leafy
pea            6      no       12 to 15  60 to 70   sowing    21      72      trellis  light
onion          6      yes      18 to 40  60 to 110  sowing    14      18      none     leafy
radish         3      yes      40 to 60  25 to 30   sowing    10      6       none     light
cabbage        18     yes      2 to 3    85 to 100  planting  14      20      none     leafy
broccoli       18     yes      2 to 3    65 to 80   planting  28      30      none     leafy
kohlrabi       8      yes      6 to 8    50 to 60   sowing    14      15      none     leafy
turnip         4      yes      15 to 20  40 to 60   sowing    21      15      none     light
strawberry     12     no       4 to 6    60 to 90   planting  60      8       none     fruiting
lettuce        9      yes      4 to 10   40 to 60   sowing    21      12      none     leafy
cauliflower    18     yes      2 to 3    60 to 80   planting  14      24      none     leafy
beet           4      yes      15 to 20  55 to 65   sowing    30      18      none     light
carrot         3      yes      40 to 60  65 to 80   sowing    45      12      none     light
chard          9      yes      6 to 8    50 to 60   sowing    90      24      none     leafy
parsley        10     yes      5 to 6    70 to 90   sowing    90      12      none     leafy
potato         12     no       3 to 4    80 to 120  sowing    21      30      none     fruiting
bean           6      no       12 to 15  50 to 60   sowing    21      24      none     light
pole bean      6      no       8 to 12   60 to 75   sowing    45      96      trellis  light
sweet corn     12     no       4 to 6    65 to 90   sowing    10      96      stake    heavy
tomato         24     no       2 to 3    65 to 80   planting  60      96      stake    heavy
cherry tomato  24     no       2 to 2    55 to 70   planting  75      96      stake    heavy
pepper         18     no       3 to 5    60 to 80   planting  60      36      stake    fruiting
eggplant       24     no       2 to 3    60 to 80   planting  60      40      stake    fruiting
okra           18     yes      2 to 3    50 to 65   sowing    60      60      stake    fruiting
basil          12     yes      3 to 6    30 to 60   planting  60      24      none     leafy
cucumber       12     no       4 to 6    50 to 65   sowing    45      72      trellis  fruiting
summer squash  24     no       2 to 3    50 to 65   sowing    45      36      none     heavy
winter squash  36     no       1 to 2    85 to 110  sowing    21      24      none     heavy
pumpkin        36     no       1 to 2    90 to 120  sowing    21      24      none     heavy
melon          24     no       2 to 3    80 to 95   sowing    28      96      trellis  fruiting
watermelon     36     no       1 to 2    75 to 95   sowing    28      18      none     fruiting
"""

# Each figure with the keys of its sources (`SOURCES`): the usual ones behind its name, under
# it those of other crops, with remarks in brackets.
SOURCES_OF_FIGURES = """
frost_class: csu-720 ucce-san-diego
    ucce-san-diego | kale
    csu-720 | pea, onion, radish, cabbage, broccoli, kohlrabi, turnip, cauliflower, potato
    practice (dormant plants; the bloom is tender) | strawberry
    ucce-san-diego (csu-720 calls it hardy; the more careful class stands) | lettuce
    csu-720 (ucce-san-diego: tender; the more careful class stands) | tomato
    csu-720 (as tomato) | cherry tomato
    memory | okra, basil, watermelon
    ucce-san-diego (csu-720: tender from seed) | cucumber, summer squash
cover_at_c: practice
    msu-freeze tamu-frost | onion, radish, cabbage, broccoli, cauliflower
    udel-strawberry (open bloom) | strawberry
    msu-freeze (tamu-frost says it stands 20 F for a while; the warmer stands) | beet, carrot
    msu-freeze | chard
    practice (tamu-frost says it stands 20 F for a while; the warmer stands) | parsley
    memory (msu-freeze lets it through hard frost; the warmer stands) | potato
    ext-basil | basil
kill_at_c: tamu-frost msu-freeze
    tamu-frost | kale, spinach, radish, turnip, lettuce, cauliflower, chard
    memory | pea, onion, cabbage, kohlrabi, okra, basil
    tamu-frost (not hardened off) | broccoli
    udel-strawberry (most bloom lost) | strawberry
    practice | beet, carrot, parsley
    memory (the top; it shoots again) | potato
set_out_weeks: csu-720
    memory | kale, spinach, strawberry, tomato, cherry tomato, pepper, eggplant, okra, basil
    memory | winter squash, pumpkin, melon, watermelon
    csu-720 (2 to 4 weeks before; the later stands) | lettuce
    csu-7609 (a week after, once the bed is at 60 F) | cucumber
    csu-7609 | summer squash
heat_limit_c: csu-720
    memory | strawberry, potato, bean, pole bean, sweet corn, eggplant, cucumber, summer squash
    memory | winter squash, pumpkin
    jefferson-heat | lettuce, pepper
    purdue-fruit-set | tomato, cherry tomato
degree_day_base_c: memory
    ncsu-degree-days | pea, cabbage, turnip, bean, pole bean, pepper
    ncsu-degree-days osu-degree-days | sweet corn
    memory (see degree_days for the cucumber method) | cucumber
degree_days_to_maturity
    memory (1100 to 1600 F days) | pea
    memory (1000 to 1150 F days) | bean
    osu-degree-days | sweet corn
    memory (1100 to 1400 F days from transplant) | tomato
germination_min_c: harrington-range
    practice harrington-range (as cabbage) | kale
    ucanr-3382 | broccoli
    memory | kohlrabi, potato, okra
    unknown: planted, not sown | strawberry
    harrington-range (as tomato) | cherry tomato
    basil-chart | basil
germination_max_c: harrington-range
    practice harrington-range (as cabbage) | kale
    ucanr-3382 | broccoli
    memory | kohlrabi, okra, basil
    ucanr-3382 (harrington-range prints 95 F, but harrington finds 12 % normal \
seedlings at 86 F) | lettuce
    ucanr-3382 (harrington-range prints 100 F; the lower stands) | cauliflower
    harrington-range (as tomato) | cherry tomato
emergence: harrington
    practice harrington (as cabbage) | kale, kohlrabi
    practice harrington (the copies that print broccoli) | broccoli
    unknown: planted, not sown | strawberry
    practice harrington (the copies that print chard) | chard
    unknown: seed pieces were not in the trials | potato
    harrington (as tomato) | cherry tomato
    harrington (harrington-range prints the row one column cooler; not taken) | eggplant
    memory | basil
    practice harrington (the copies that print squash) | summer squash, winter squash
    practice harrington (the copies that print pumpkin) | pumpkin
depth_cm: memory
    csu-720 | pea, onion, cabbage, broccoli, lettuce, beet, carrot
    practice: the crown stays level with the surface | strawberry
    csu-7609 | cucumber, summer squash, melon
    squash-spacing | winter squash, pumpkin
transplant_weeks: memory
    csu-720 | cabbage, broccoli
spacing_cm: memory
    csu-720 | pea, cabbage, broccoli, lettuce, beet, carrot
    csu-720 (4 to 6 in for dry onions) | onion
    squash-spacing (24 to 36 in) | winter squash, pumpkin
per_bale: practice
    bale-growers | pea, lettuce, bean, pepper, winter squash, melon
    practice bale-roots | turnip, beet, carrot, potato
    ncsu-bales bale-growers | tomato, cucumber, summer squash
    ncsu-bales (as tomato) | cherry tomato
days_to_maturity: memory
    csu-720 (60 green, 110 dry from seed) | onion
    csu-720 (85 from transplant; the later end from memory) | cabbage
    csu-720 (65 from transplant; the later end from memory) | broccoli
    memory (day-neutral sorts) | strawberry
    csu-720 (60; the earlier end for leaves from memory) | lettuce
    csu-720 (60; the width from memory) | beet
    csu-720 (70; the width from memory) | carrot
    csu-7609 | cucumber, summer squash, melon
harvest_days: practice
mature_height_cm: memory
    memory (vining sorts, the higher figure) | pea
    memory (sorts that keep growing, the higher figure) | tomato
support: practice
    umn-supports | pea, pole bean, tomato, cherry tomato, cucumber
    umn-supports (a trellis only for fruit up to 3 lb; else the ground) | winter squash
    umn-supports (too heavy for a trellis; it runs on the ground) | pumpkin, watermelon
    umn-supports (each fruit in a sling) | melon
appetite: practice
advice_against
    bale-roots practice | sweet corn
"""

ADVICE_AGAINST = {"sweet corn": "poor-ears"}
"""Why a crop of the table does badly in a bale, a row of the table "against" of the catalogue."""

NOT_IN_BALES: Mapping[str, str] = MappingProxyType(
    {
        "asparagus": "many-years",
        "rhubarb": "many-years",
        "raspberry": "offshoots",
        "artichoke": "too-heavy",
        "sunflower": "topples",
    }
)
"""Crops asked for now and then that do badly in bales, with the reason, a row of the same table
(common practice)."""

CROP_NEEDS = (
    "frost_class", "cover_at_c", "spacing_cm", "per_bale", "days_to_maturity", "mature_height_cm",
)  # fmt: skip
"""What a crop must say when it builds on no other: advice would be made up without."""

_UNSAID: Mapping[str, Any] = {
    "kill_at_c": None, "germination_min_c": None, "emergence": (), "depth_cm": None,
    "maturity_from_transplant": True, "support": Support.NONE, "appetite": Appetite.LEAFY,
    "sources": ("the grower's own",),
}  # fmt: skip
"""What a crop is taken for where it does not say."""


def crop_from(figures: Mapping[str, Any], base: Crop | None = None) -> Crop:
    """Make a crop, of the table or of the grower's own, of the figures that are known of it.

    Args:
        figures: Values by the fields of `Crop`, in its units [degC, cm, days]; others are left out.
        base: The crop that gives all other values; without one every name of `CROP_NEEDS` must be
            there, else TypeError.

    Returns:
        The crop; what neither says is unknown.

    Source: that of each figure of the table is named by `Crop.sources`, see `SOURCES`.
    """
    return Crop(**{**_UNSAID, **figures}) if base is None else replace(base, **figures)


def _number(cell: str) -> float | None:
    return None if cell == "-" else float(cell)


def _converted(cell: str, convert: Callable[[float], float]) -> float | None:
    return None if cell == "-" else convert(float(cell))


def _span(cell: str) -> tuple[int, int] | None:
    if cell == "-":
        return None
    first, last = cell.split(" to ")
    return int(first), int(last)


def _emergence(cell: str) -> tuple[tuple[float, float], ...]:
    """Return (bale temperature [degC], days from sowing), ascending."""
    if cell == "-":
        return ()
    first_f, _, days = cell.partition(":")
    return tuple(
        (deg_f(float(first_f) + STEP_F * step), float(figure))
        for step, figure in enumerate(days.split())
    )


def _rows(table: str) -> Mapping[str, tuple[str, ...]]:
    """Return the cells of each row under the heading by the crop in front; two blanks part them."""
    split = [re.split(r" {2,}", line.strip()) for line in table.strip().splitlines()]
    return {crop: tuple(cells) for crop, *cells in split[1:]}


def _figures_of(
    frost: tuple[str, ...], seed: tuple[str, ...], bale: tuple[str, ...]
) -> Mapping[str, Any]:
    """Return the figures of the three rows of a crop, in the units of `Crop`."""
    frost_class, cover, kill, set_out, heat, effect, base, degree_days = frost
    germinates, emergence, depth, transplant = seed
    apart, thinned, per_bale, ready, since, picked, height, support, appetite = bale
    coolest, _, warmest = germinates.partition(" to ")
    return {
        "frost_class": FrostClass(frost_class),
        "cover_at_c": _converted(cover, deg_f),
        "kill_at_c": _converted(kill, deg_f),
        "set_out_weeks": _number(set_out),
        "heat_limit_c": _converted(heat, deg_f),
        "heat_effect": "" if effect == "-" else HeatEffect(effect),
        "degree_day_base_c": _converted(base, deg_f),
        # Differences of temperature have no zero point.
        "degree_days_to_maturity": _converted(
            degree_days, lambda each: float(round(each / F_PER_C))
        ),
        "germination_min_c": _converted(coolest, deg_f),
        "germination_max_c": _converted(warmest or "-", deg_f),
        "emergence": _emergence(emergence),
        "depth_cm": _converted(depth, inches),
        "transplant_weeks": _span(transplant),
        "spacing_cm": _converted(apart, inches),
        "thin_to_cm": _converted(apart, inches) if thinned == "yes" else None,
        "per_bale": _span(per_bale),
        "days_to_maturity": _span(ready),
        "maturity_from_transplant": since == "planting",
        "harvest_days": int(picked),
        "mature_height_cm": _converted(height, inches),
        "support": Support(support),
        "appetite": Appetite(appetite),
    }


def _sources() -> tuple[Mapping[str, str], Mapping[tuple[str, str], str]]:
    """Return the usual source of each figure, and those that stand for a figure of one crop."""
    usual: dict[str, str] = {}
    of_one: dict[tuple[str, str], str] = {}
    name = ""
    for line in SOURCES_OF_FIGURES.strip().splitlines():
        if line.startswith(" "):
            keys, _, crops = line.strip().rpartition(" | ")
            of_one.update({(name, crop): keys for crop in crops.split(", ")})
        else:
            name, _, keys = line.partition(": ")
            usual[name] = keys
    return usual, of_one


def _table() -> Iterator[Crop]:
    usual, of_one = _sources()
    seeds, bales = _rows(FROM_SEED), _rows(ON_THE_BALE)
    for name, frost in _rows(FROST_AND_HEAT).items():
        figures = {
            "name": name,
            **_figures_of(frost, seeds[name], bales[name]),
            "advice_against": ADVICE_AGAINST.get(name, ""),
        }
        said = {
            figure: of_one.get((figure, name)) or (figures[figure] not in (None, "", ()) and keys)
            for figure, keys in usual.items()
        }
        sources = tuple(f"{figure}: {keys}" for figure, keys in sorted(said.items()) if keys)
        yield crop_from({**figures, "sources": sources})


CROPS: Mapping[str, Crop] = MappingProxyType({crop.name: crop for crop in _table()})
"""Every built-in crop by its name, the hardy ones first."""


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
