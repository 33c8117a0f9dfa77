"""The tops that bales have: potting mix under rooted plants, a seed bed, bare straw.

References
----------
[1] R. G. Allen, L. S. Pereira, D. Raes, M. Smith, "Crop evapotranspiration - Guidelines for
    computing crop water requirements", FAO Irrigation and Drainage Paper 56, Rome 1998,
    chapter 7 (equation numbers below), https://www.fao.org/docrep/x0490e/x0490e00.htm.
[2] International Journal of Agronomy 2012, article 978528, Table 1: peat holds 87 and pine bark
    48 percent of its volume at container capacity.
[3] M. De Boodt, O. Verdonck, "The physical properties of the substrates in horticulture", Acta
    Horticulturae 26:37-44 (1972): 20 to 30 percent easily available water (from memory).
"""

from __future__ import annotations

from strawbell.agronomy.bale.surface import SurfaceLayer, total_evaporable_mm
from strawbell.agronomy.ranges import within

MIX_CAPACITY = 0.60
"""Water in potting mix at container capacity by volume: between peat and bark [2]."""
MIX_WILTING = 0.25
"""Water in it that plants cannot draw, by volume (design choice after [3])."""
MIX_READY = 0.20
"""Easily available water by volume, the low end of [3]; taken as readily evaporable."""
THINNEST_LAYER_CM = 1.0
THICKEST_LAYER_CM = 15.0
SEED_ZONE_CM = 2.0
"""Depth that has to stay moist for seed and seedlings: most are sown 0.5 to 2.5 cm deep."""
STRAW_READY_MM = 3.0
STRAW_TOTAL_MM = 9.0
"""Bare top of a bale: the middle of sand, 2 to 7 and 6 to 12 mm ([1], Table 19, from memory),
kept low because coarse straw breaks the rise of water (design choice, no measurement found)."""
SEEDED_DRY_SHARE = 0.0
"""Seed and seedlings are watered as soon as stage 1 ends (design choice)."""


def potting_mix_layer(depth_cm: float, mulch_share: float = 0.0) -> SurfaceLayer:
    """Return the layer of potting mix that rooted plants stand in, TEW by equation 73 [1].

    Parameters
    ----------
    depth_cm : float
        Depth of the mix [cm], 1 to 15; outside ValueError. 3 to 5 is common practice.
    mulch_share : float
        As in `SurfaceLayer` [share]; outside ValueError.

    Returns
    -------
    SurfaceLayer
        The layer; its water contents are chosen between peat and bark (see the constants).

    References
    ----------
    [1] FAO-56, equation 73. [2] container capacities. [3] easily available water.
    """
    within("depth_cm", depth_cm, THINNEST_LAYER_CM, THICKEST_LAYER_CM, "cm")
    return SurfaceLayer(
        total_mm=total_evaporable_mm(MIX_CAPACITY, MIX_WILTING, depth_cm / 100.0),
        ready_mm=MIX_READY * depth_cm * 10.0,
        mulch_share=mulch_share,
    )


def seed_bed_layer(mulch_share: float = 0.0) -> SurfaceLayer:
    """Return the top 2 cm of mix over seed or seedlings, dry at the end of stage 1.

    Parameters
    ----------
    mulch_share : float
        Share of the surface under organic mulch [0 to 1]; outside ValueError.

    Returns
    -------
    SurfaceLayer
        The layer.

    References
    ----------
    [1] FAO-56, equation 73; the depth is a design choice after usual sowing depths.
    """
    return SurfaceLayer(
        total_mm=total_evaporable_mm(MIX_CAPACITY, MIX_WILTING, SEED_ZONE_CM / 100.0),
        ready_mm=MIX_READY * SEED_ZONE_CM * 10.0,
        mulch_share=mulch_share,
        dry_share=SEEDED_DRY_SHARE,
    )


def bare_bale_layer() -> SurfaceLayer:
    """Return the bare straw top of a bale in conditioning, all of it in the open.

    Returns
    -------
    SurfaceLayer
        The layer.

    References
    ----------
    [1] FAO-56, Table 19, sand (from memory); the choice within it is ours, none was measured.
    """
    return SurfaceLayer(total_mm=STRAW_TOTAL_MM, ready_mm=STRAW_READY_MM)
