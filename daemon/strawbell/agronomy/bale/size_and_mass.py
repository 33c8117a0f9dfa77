"""The bale as it is set out: size, mass, the bed it makes.

`dry_mass_kg` of a bale is its mass as bought, air-dry, with about 12 % moisture. What that holds
of dry matter is `straw.dry_matter_kg`.

References:
[1] Two-string bales are 18 x 14 in and 36 to 45 in long, 16 to 25 kg when well compressed
    (straw-building reference).
[2] University of Arizona, Water Wise handbook (2012): a three-string bale is about 4 ft x 2 ft x
    18 in and 80 lb.
[3] Mississippi State University Extension, "Growing in the bale": a bale of 40 to 50 lb takes
    about 15 US gal (56.8 L) in its first soaking, 2.5 to 3.1 L per kg of bale.
[4] Common practice: a layer of 2.5 to 5 cm (1 to 2 in) of potting mix to sow into; University of
    Georgia CAES (1997) takes 4 in.
[5] NIOSH lifting equation: 51 lb (23.1 kg) is the most for one person under the best conditions,
    https://www.osha.gov/SLTC/etools/poultry/additional_material/niosh.html
[6] Michigan State University Extension: a soaked bale weighs up to 150 lb (68 kg).
[7] Common practice: a bale sinks to a half or a third of its height in a season; spread, the
    straw lies about 5 cm (2 in) deep.
"""

from __future__ import annotations

from collections.abc import Mapping

from strawbell.agronomy.ranges import within
from strawbell.model.garden import Bale

AIR_DRY_MOISTURE = 0.12
"""Share of water in a bale as bought [kg/kg wet basis]: NRAES-54 Table A.1 (1992), 4 to 27 %,
from memory."""
THICKEST_LAYER_CM = 30.0
"""A thicker layer is a slip of the pen; the straw would do nothing [cm]."""
SMALLEST_CM, LARGEST_CM = 10.0, 400.0
LIGHTEST_KG, HEAVIEST_KG = 1.0, 1000.0
"""A bale outside these sides and masses is a slip of the pen."""
MOST_BALES = 10_000
SQUARE_CM_PER_SQUARE_M = 10_000.0
CUBIC_CM_PER_L = 1000.0
L_PER_M2_AND_CM = 10.0
"""1 cm over 1 m2 is 10 L."""
SPREAD_DEPTH_CM = 5.0
"""Depth of the straw of a spent bale as mulch [7]."""
SUNK_TO_SHARE = (0.33, 0.5)
"""Volume of a spent bale over that of a fresh one, least and most [7]."""
STRINGS = {"two-string": 2, "three-string": 3}
"""Strings round a bale, by its kind."""
STRINGS_OF_OTHERS = 2
"""Strings round a small bale of another kind (common practice: two)."""

BALES: Mapping[str, Bale] = {
    "two-string": Bale("two-string", 100.0, 45.0, 36.0, 20.0),  # [1]
    "three-string": Bale("three-string", 122.0, 61.0, 46.0, 36.0),  # [2]
}
"""Bales that are bought everywhere, by what growers call them [cm, kg]."""


def top_area_m2(bale: Bale) -> float:
    """Return the area of a bale's top, cut ends up [m2].

    Args:
        bale: With length and width [cm], each 10 to 400; outside ValueError.

    Returns:
        Square metres of one bale.
    """
    length = within("length_cm", bale.length_cm, SMALLEST_CM, LARGEST_CM, "cm")
    width = within("width_cm", bale.width_cm, SMALLEST_CM, LARGEST_CM, "cm")
    return length * width / SQUARE_CM_PER_SQUARE_M


def volume_l(bale: Bale) -> float:
    """Return the volume of a bale [L].

    Args:
        bale: With its sides [cm], each 10 to 400; outside ValueError.

    Returns:
        Litres.
    """
    height = within("height_cm", bale.height_cm, SMALLEST_CM, LARGEST_CM, "cm")
    return top_area_m2(bale) * SQUARE_CM_PER_SQUARE_M * height / CUBIC_CM_PER_L


def bed_area_m2(bale: Bale, bales: int) -> float:
    """Return the bed that bales make, set end to end with their cut ends up.

    Args:
        bale: Length and width 10 to 400 [cm]; outside ValueError.
        bales: 1 to 10 000; outside ValueError.

    Returns:
        Square metres.
    """
    return within("bales", bales, 1, MOST_BALES, "") * top_area_m2(bale)


def spread_area_m2(bale: Bale, bales: int) -> tuple[float, float]:
    """Return what the straw of spent bales covers when it is spread as mulch.

    Args:
        bale: As it was set out: sides 10 to 400 [cm]; outside ValueError.
        bales: 1 to 10 000; outside ValueError.

    Returns:
        Square metres `SPREAD_DEPTH_CM` deep, least and most.

    Source: common practice, see the module.
    """
    within("bales", bales, 1, MOST_BALES, "")
    fresh_m2 = volume_l(bale) * bales / (SPREAD_DEPTH_CM * L_PER_M2_AND_CM)
    least, most = SUNK_TO_SHARE
    return fresh_m2 * least, fresh_m2 * most


def potting_mix_l(bale: Bale, bales: int, layer_cm: float) -> float:
    """Return the potting mix for a layer on the tops of bales.

    Args:
        bale: Length and width 10 to 400 [cm]; outside ValueError.
        bales: 1 to 10 000; outside ValueError.
        layer_cm: Thickness as spread and firmed [cm], 0 to 30; outside ValueError. 2.5 to 5 cm is
            advised where seed is sown [1].

    Returns:
        Litres for all bales; loose mix from the bag settles, so a little more is wise.

    Source: common practice.
    """
    within("layer_cm", layer_cm, 0.0, THICKEST_LAYER_CM, "cm")
    return bed_area_m2(bale, bales) * layer_cm * L_PER_M2_AND_CM
