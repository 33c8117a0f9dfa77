"""The bale as it is set out: size, mass, and the water of its first soaking.

`dry_mass_kg` of a bale is its mass as bought, air-dry, with about 12 % moisture.

References
----------
[1] Two-string bales are 18 x 14 in and 36 to 45 in long, 16 to 25 kg when well compressed
    (straw-building reference).
[2] University of Arizona, Water Wise handbook (2012): a three-string bale is about 4 ft x 2 ft x
    18 in and 80 lb.
[3] Mississippi State University Extension, "Growing in the bale": a bale of 40 to 50 lb takes
    about 15 US gal (56.8 L) in its first soaking, 2.5 to 3.1 L per kg of bale.
"""

from __future__ import annotations

from collections.abc import Mapping

from strawbell.model.garden import Bale

AIR_DRY_MOISTURE = 0.12
"""Share of water in a bale as bought [kg/kg wet basis]: NRAES-54 Table A.1, from memory."""
FIRST_SOAK_L_PER_KG = 2.8
"""Water of the first soaking per mass of bale: 15 US gal in the middle of 40 to 50 lb [3]."""

BALES: Mapping[str, Bale] = {
    "two-string": Bale("two-string", 100.0, 45.0, 36.0, 20.0),  # [1]
    "three-string": Bale("three-string", 122.0, 61.0, 46.0, 36.0),  # [2]
}
"""Bales that are bought everywhere, by what growers call them [cm, kg]."""


def first_soak_l(bale: Bale) -> float:
    """Return the water a dry bale takes in its first soaking, given slowly [L].

    Parameters
    ----------
    bale : Bale
        With its air-dry mass [kg].

    Returns
    -------
    float
        Litres for one bale.

    References
    ----------
    .. [1] Mississippi State University Extension, "Growing in the bale".
    """
    return FIRST_SOAK_L_PER_KG * bale.dry_mass_kg


def top_area_m2(bale: Bale) -> float:
    """Return the area of a bale's top, cut ends up [m2].

    Parameters
    ----------
    bale : Bale
        With length and width [cm].

    Returns
    -------
    float
        Square metres of one bale.

    References
    ----------
    .. [1] By geometry.
    """
    return bale.length_cm * bale.width_cm / 10_000
