"""What straw is made of, and the water it takes up: dry matter, carbon, nitrogen, moisture.

Straws of one kind differ more than the kinds do, so every figure comes with a low and a high.

References:
[1] "How to calculate the carbon to nitrogen ratio of your compost mix": dry wheat and oat straw
    have 48 % C and 0.5 % N (96:1), https://docslib.org/doc/12269573/
[2] USDA Natural Resources Conservation Service, "Carbon to nitrogen ratios in cropping systems",
    Table 1: wheat straw 80:1, oat straw 70:1, rye straw 82:1 (read in a quotation).
[3] R. Rynk (ed.), "On-farm composting handbook", NRAES-54 (1992), Table A.1: straw in general
    0.7 (0.3 to 1.1) % N, oat 0.9 (0.6 to 1.1), wheat 0.4 (0.3 to 0.5), moisture 12 (4 to 27) %;
    from memory.
[4] J. W. Whisenand, "Water-holding capacities of bedding materials for live stock", Journal of
    Agricultural Research 14(4):187 (1918), table after Deherain: 100 kg of wheat straw keep
    220 kg of water after 24 h, two other straws 285 and 228 kg. The copy read has lost the names
    of those rows; barley and oat are from memory.
[5] M. J. Spiehs et al., "Water holding capacity and evaporative loss from organic bedding
    materials used in livestock facilities", ASABE Paper 131595738 (2013): wheat straw 3.6 g/g.
"""

from __future__ import annotations

from collections.abc import Mapping

from msgspec import Struct

from strawbell.agronomy.bale.size_and_mass import AIR_DRY_MOISTURE, HEAVIEST_KG, LIGHTEST_KG
from strawbell.agronomy.ranges import within
from strawbell.model.garden import Bale, Straw

WETTEST = 0.95
"""Straw cannot be kept wetter than this [kg/kg wet basis]."""
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
"""48 % [1]; the spread is what NRAES-54 implies for ashy and clean straw, from memory."""
_MOST_KEPT = 3.6
"""Wheat straw that was soaked for days under water [5] [kg/kg]."""

COMPOSITION: Mapping[Straw, Composition] = {
    # 0.5 % [1]; 80:1 is 0.6 % [2]; 0.3 % is the least of [3]
    Straw.WHEAT: Composition(_CARBON, Span(0.5, 0.3, 0.6), Span(2.2, 2.2, _MOST_KEPT)),
    # 70:1 is 0.69 % [2]; 0.5 % [1]; 1.1 % is the most of [3]
    Straw.OAT: Composition(_CARBON, Span(0.7, 0.5, 1.1), Span(2.28, 2.2, _MOST_KEPT)),
    # no figure for barley was found: straw in general [3], its middle moved to the other cereals
    Straw.BARLEY: Composition(_CARBON, Span(0.6, 0.3, 1.1), Span(2.85, 2.2, _MOST_KEPT)),
    # 82:1 is 0.59 % [2]; spread of straw in general [3]; water as wheat for want of a figure
    Straw.RYE: Composition(_CARBON, Span(0.59, 0.3, 1.1), Span(2.2, 2.2, _MOST_KEPT)),
}
"""Cereal straws by kind."""


def dry_matter_kg(bale: Bale, moisture: float = AIR_DRY_MOISTURE) -> float:
    """Return the dry matter of a bale, whose mass is given as bought.

    Args:
        bale: Mass as bought, 1 to 1000 [kg]; outside ValueError.
        moisture: Share of water in it as bought [kg/kg wet basis], 0 to 0.95; outside ValueError.
            By default 12 % [1].

    Returns:
        kg of dry matter: 17.6 for a bale of 20 kg.

    Source: NRAES-54 (1992), Table A.1, from memory.
    """
    within("dry_mass_kg", bale.dry_mass_kg, LIGHTEST_KG, HEAVIEST_KG, "kg")
    return bale.dry_mass_kg * (1.0 - within("moisture", moisture, 0.0, WETTEST, ""))


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
