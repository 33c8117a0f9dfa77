"""The bale as it is set out: size, mass, the bed it makes, and the straw that it is made of.

`dry_mass_kg` of a bale is its mass as bought, air-dry, with about 12 % moisture. What that holds
of dry matter is `dry_matter_kg`. Straws of one kind differ more than the kinds do, so every figure
of straw comes with a low and a high.

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
[8] "How to calculate the carbon to nitrogen ratio of your compost mix": dry wheat and oat straw
    have 48 % C and 0.5 % N (96:1), https://docslib.org/doc/12269573/
[9] USDA Natural Resources Conservation Service, "Carbon to nitrogen ratios in cropping systems",
    Table 1: wheat straw 80:1, oat straw 70:1, rye straw 82:1 (read in a quotation).
[10] R. Rynk (ed.), "On-farm composting handbook", NRAES-54 (1992), Table A.1: straw in general
    0.7 (0.3 to 1.1) % N, oat 0.9 (0.6 to 1.1), wheat 0.4 (0.3 to 0.5), moisture 12 (4 to 27) %;
    from memory.
[11] J. W. Whisenand, "Water-holding capacities of bedding materials for live stock", Journal of
    Agricultural Research 14(4):187 (1918), table after Deherain: 100 kg of wheat straw keep
    220 kg of water after 24 h, two other straws 285 and 228 kg. The copy read has lost the names
    of those rows; barley and oat are from memory.
[12] M. J. Spiehs et al., "Water holding capacity and evaporative loss from organic bedding
    materials used in livestock facilities", ASABE Paper 131595738 (2013): wheat straw 3.6 g/g.
"""

from __future__ import annotations

from collections.abc import Mapping

from msgspec import Struct

from strawbell.agronomy.figures import within
from strawbell.model.garden import Bale, Straw

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
            advised where seed is sown [4].

    Returns:
        Litres for all bales; loose mix from the bag settles, so a little more is wise.

    Source: common practice.
    """
    within("layer_cm", layer_cm, 0.0, THICKEST_LAYER_CM, "cm")
    return bed_area_m2(bale, bales) * layer_cm * L_PER_M2_AND_CM


GRAMS_PER_KG = 1000.0
WHOLE_PERCENT = 100.0


class Span(Struct, frozen=True):
    """A figure with the lowest and the highest it may be, in the unit of the field it stands in."""

    value: float
    low: float
    high: float

    def times(self, factor: float) -> Span:
        """Return the span in another unit or for another mass; `factor` is not negative."""
        return Span(self.value * factor, self.low * factor, self.high * factor)


class Composition(Struct, frozen=True):
    """Dry straw of one kind: carbon and nitrogen [% of dry matter], water kept [kg/kg air-dry]."""

    carbon_percent: Span
    nitrogen_percent: Span
    water_kept_kg_per_kg: Span


_CARBON = Span(48.0, 45.0, 50.0)
"""48 % [8]; the spread is what NRAES-54 implies for ashy and clean straw, from memory."""
_MOST_KEPT = 3.6
"""Wheat straw that was soaked for days under water [12] [kg/kg]."""

COMPOSITION: Mapping[Straw, Composition] = {
    # 0.5 % [8]; 80:1 is 0.6 % [9]; 0.3 % is the least of [10]
    Straw.WHEAT: Composition(_CARBON, Span(0.5, 0.3, 0.6), Span(2.2, 2.2, _MOST_KEPT)),
    # 70:1 is 0.69 % [9]; 0.5 % [8]; 1.1 % is the most of [10]
    Straw.OAT: Composition(_CARBON, Span(0.7, 0.5, 1.1), Span(2.28, 2.2, _MOST_KEPT)),
    # no figure for barley was found: straw in general [10], its middle moved to the other cereals
    Straw.BARLEY: Composition(_CARBON, Span(0.6, 0.3, 1.1), Span(2.85, 2.2, _MOST_KEPT)),
    # 82:1 is 0.59 % [9]; spread of straw in general [10]; water as wheat for want of a figure
    Straw.RYE: Composition(_CARBON, Span(0.59, 0.3, 1.1), Span(2.2, 2.2, _MOST_KEPT)),
}
"""Cereal straws by kind."""


def dry_matter_kg(bale: Bale) -> float:
    """Return the dry matter of a bale, whose mass is given as bought.

    Args:
        bale: Mass as bought, 1 to 1000 [kg]; outside ValueError.

    Returns:
        kg of dry matter, with 12 % of water as bought [10]: 17.6 for a bale of 20 kg.

    Source: NRAES-54 (1992), Table A.1, from memory.
    """
    within("dry_mass_kg", bale.dry_mass_kg, LIGHTEST_KG, HEAVIEST_KG, "kg")
    return bale.dry_mass_kg * (1.0 - AIR_DRY_MOISTURE)


def carbon_g(bale: Bale) -> Span:
    """Return the carbon in the straw of a bale as bought [g].

    Args:
        bale: Mass as bought, 1 to 1000 [kg]; outside ValueError.

    Returns:
        g of C: about 8450 in 20 kg of wheat straw.

    Source: 48 % of dry matter, see the module.
    """
    return _in_bale_g(bale, COMPOSITION[bale.straw].carbon_percent)


def nitrogen_g(bale: Bale) -> Span:
    """Return the nitrogen that the straw of a bale has of its own [g].

    Args:
        bale: Mass as bought, 1 to 1000 [kg]; outside ValueError.

    Returns:
        g of N: 88 (53 to 106) in 20 kg of wheat straw.

    Source: USDA NRCS Table 1 and NRAES-54 Table A.1, see the module.
    """
    return _in_bale_g(bale, COMPOSITION[bale.straw].nitrogen_percent)


def _in_bale_g(bale: Bale, percent: Span) -> Span:
    return percent.times(dry_matter_kg(bale) * GRAMS_PER_KG / WHOLE_PERCENT)
