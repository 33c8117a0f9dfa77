"""What the balance of a bale rests on: every figure with its range and where it comes from.

A figure marked READ was seen in the source; CHOSEN is a design choice between what is published;
MEMORY was recalled and not looked up again. No leachate and no daily temperature of a garden bale
was ever published, so the balance is run with a few weighted draws from these ranges and answers
with a band.

References:
[1] Journal of Agricultural Research 14(4):187 (1918): straw soaked for 24 h keeps 2.2 (wheat) to
    2.85 kg of water per kg as it is strewn.
[2] M. J. Spiehs et al., ASABE Paper 131595738 (2013): wheat straw under water 3.6 g/g; the residue
    layer of the crop model DSSAT (MULCHWAT.for) fills up at 3.8.
[3] Mississippi State University Extension, "Growing in the bale": 15 US gal for a bale of 40 to
    50 lb, of which by [1] 12 to 21 % runs through.
[4] "The composting handbook", Table 4.2: 50 to 60 % moisture ideal, 40 to 65 % acceptable.
[5] USDA-ARS: dry straw lets through 0.28 to 0.52 of the evaporation of a wet surface.
[6] H. K. Ahn et al., Bioresource Technology 100:3974-3981 (2009): straws conduct 0.03 to
    0.30 W/(m K), rising with moisture.
[7] DSSAT (SOILNI.for): urea hydrolyses by T/40 + 0.2 (0 to 1) and moisture; straws are slower than
    soil and need decomposers or urease to begin (Makkar and Singh 1987; Jayasuriya and Pearce
    1983); soils at 25 C have half-lives of 6 to 22 h.
[8] A. S. Black, R. R. Sherlock, N. P. Smith, Journal of Soil Science 38 (1987): of surface urea 28,
    9 and 2 % went to the air with 0, 4 and 16 mm of water within 3 h; 16 mm after 48 h changed
    little. Montana State University, 17 trials: 1 to 44 %.
[9] A. F. Vigil and D. E. Kissel (1991): 0.0165 g N bound per g of residue decomposed; straw on
    microbial yield (W. R. Horwath, L. F. Elliott): gross 0.029 and more.
[10] T. K. Hartz, P. R. Johnstone, HortTechnology 16:39-42 (2006): 47 to 60 % of blood meal, fish
    and feather meal set free in two weeks, 60 to 66 % in eight, with little effect of 10 to 25 C.
[11] COTTON2K (SoilNitrogen.cpp): nitrification 1 - exp(-exp(24.635 - 8227/T)), at most 0.10 a
    day; in compost only after the heat.
[12] O. Martins, T. Dewes, Bioresource Technology 42 (1992): of straw with manure outdoors 10 to
    20 % of the nitrogen leached, 77 to 98 % of it ammonium.
[13] I. G. Mason, Waste Management 26:3-21 (2006), and the marks of UC ANR 8559 and growers' logs
    for the heat: about three bales in five get hot, the others stay lukewarm.
"""

from __future__ import annotations

from collections.abc import Mapping
from enum import StrEnum

from msgspec import Struct


class Mark(StrEnum):
    """How a figure came here."""

    READ = "read"
    CHOSEN = "chosen"
    MEMORY = "from memory"


class Parameter(Struct, frozen=True):
    """A figure of the balance: what is taken, the least and the most it may be, and its source."""

    default: float
    low: float
    high: float
    unit: str
    meaning: str
    source: str
    mark: Mark


_READ, _CHOSEN, _MEMORY = Mark.READ, Mark.CHOSEN, Mark.MEMORY

PARAMETERS: Mapping[str, Parameter] = {
    # Water
    "own_water": Parameter(
        0.136, 0.04, 0.37, "kg/kg dry", "water of straw as bought, 12 %", "NRAES-54, A.1", _MEMORY
    ),
    "drained": Parameter(
        2.5, 2.5, 3.24, "kg/kg dry", "kept against drainage, beyond its own water", "[1]", _READ
    ),
    "saturated": Parameter(3.7, 3.6, 3.8, "kg/kg dry", "held while it pours", "[2]", _READ),
    "drain_h": Parameter(
        8.0, 3.0, 16.0, "h", "time in which free water falls to 1/e", "no figure found", _CHOSEN
    ),
    "bypass_wet": Parameter(
        0.08, 0.0, 0.25, "share", "water that runs through gaps of a moist bale", "[3]", _CHOSEN
    ),
    "bypass_dry": Parameter(0.20, 0.12, 0.35, "share", "the same of a dry bale", "[3]", _CHOSEN),
    "driven": Parameter(
        0.06,
        0.0,
        0.16,
        "share per m/s",
        "rain that wind drives onto the sides, over that on top",
        "ISO 15927-3: 0.16 in the open; half and less between beds",
        _MEMORY,
    ),
    "sides": Parameter(
        0.4,
        0.3,
        0.5,
        "share",
        "evaporation of a side over that of the top",
        "half the sky",
        _CHOSEN,
    ),
    "dry_skin": Parameter(
        0.4, 0.28, 0.52, "share", "evaporation of dry straw over wet", "[5]", _READ
    ),
    "steam": Parameter(
        0.15, 0.0, 0.4, "share", "heat lost that leaves as steam", "no figure found", _CHOSEN
    ),
    # Nitrogen
    "excluded": Parameter(
        0.3, 0.0, 0.5, "share", "held water that fresh feed has not reached", "SWAT: 0.5", _CHOSEN
    ),
    "sorption": Parameter(
        2.0,
        1.0,
        3.5,
        "factor",
        "by which ammonium lags behind water",
        "exchange sites of straw 10 to 40 cmol/kg",
        _MEMORY,
    ),
    "gap": Parameter(
        0.5,
        0.0,
        1.0,
        "share",
        "strength of water in the gaps over that in the straw while it washes feed in",
        "no figure found",
        _CHOSEN,
    ),
    "wash_mm": Parameter(
        3.5, 2.5, 6.0, "mm", "water that leaves 1/e of a feed on the top", "[8]", _READ
    ),
    "urease": Parameter(0.5, 0.25, 1.5, "1/d", "most urea hydrolysed in a day", "[7]", _READ),
    "urease_fresh": Parameter(
        0.2, 0.05, 0.6, "share", "of that in straw no decomposer has taken hold of", "[7]", _CHOSEN
    ),
    "to_air": Parameter(
        0.33, 0.05, 0.44, "share", "of hydrolysed urea on the top that the air takes", "[8]", _READ
    ),
    "ammonia": Parameter(
        0.004,
        0.001,
        0.012,
        "1/d",
        "ammonium lost from inside at 20 C, more when hot",
        "free ammonia by Emerson's pKa",
        _CHOSEN,
    ),
    "binding": Parameter(
        22.0, 16.5, 34.0, "g/kg", "nitrogen bound per dry matter decomposed", "[9]", _READ
    ),
    "quick": Parameter(
        0.63, 0.6, 0.66, "share", "of an organic feed free in 8 weeks", "[10]", _READ
    ),
    "release": Parameter(0.139, 0.10, 0.17, "1/d", "release of that part", "[10]", _READ),
    # Heat
    "fast": Parameter(
        0.13, 0.01, 0.22, "share", "of the straw that rots in the first weeks", "[13]", _CHOSEN
    ),
    "fast_rate": Parameter(0.35, 0.14, 0.45, "1/d", "its decay at full response", "[13]", _CHOSEN),
    "slow_rate": Parameter(
        0.0045,
        0.0034,
        0.014,
        "1/d",
        "decay of the rest; 0.0051 over 34 weeks with the fast part",
        "Folia Horticulturae 18/2:17",
        _READ,
    ),
    "take_hold": Parameter(2.2, 1.0, 3.5, "1/d", "growth of the decomposers", "[13]", _CHOSEN),
    "hunger": Parameter(
        0.6,
        0.0,
        1.0,
        "share",
        "of the decay that nitrogen speeds: sources differ in sign",
        "wheat straw in soil, ryegrass straw",
        _CHOSEN,
    ),
}
"""Every figure the balance may be unsure of. What it is sure of stands in `balance`."""

WORKING_MOISTURE = 1.5
"""Water at which a bale works best [kg/kg dry]: 60 %, the upper end of the ideal [4]."""
HEATS = 0.6
"""Share of fresh bales that get hot: five of eight growers' logs (weak; 0.35 to 0.83)."""
WEATHERED_HEATS = 0.4
"""The same of bales that stood out for a season: UC ANR 8559 says they heat less, two of eight in
one log reached 54 C; so a wide guess."""


class Draw(Struct, frozen=True):
    """One choice from the ranges: whether it heats, and where it differs from the defaults."""

    heats: bool
    changed: Mapping[str, float]


DRAWS: tuple[Draw, ...] = (
    Draw(True, {"fast": 0.11, "bypass_wet": 0.15, "sorption": 1.2, "ammonia": 0.002}),
    Draw(True, {"fast": 0.16}),
    Draw(True, {"fast": 0.21, "bypass_wet": 0.03, "sorption": 3.0, "binding": 30.0}),
    Draw(False, {"fast": 0.015, "binding": 30.0, "urease": 1.0}),
    Draw(False, {"fast": 0.05, "bypass_wet": 0.15, "excluded": 0.5, "ammonia": 0.008}),
)
"""Draws that stand for the ranges. The fast part alone moves a bale between hot and lukewarm;
what steers leaching is crossed with it so that neither hides the other."""
