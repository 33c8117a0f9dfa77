"""How the top of a bale dries: two stages, as FAO-56 has it for the surface of a soil.

A wet surface loses water as fast as the air takes it (stage 1) until the readily evaporable
water is used up; from then on the loss falls off in proportion to what is left (stage 2).

References
----------
[1] R. G. Allen, L. S. Pereira, D. Raes, M. Smith, "Crop evapotranspiration - Guidelines for
    computing crop water requirements", FAO Irrigation and Drainage Paper 56, Rome 1998,
    chapter 7 (equation numbers below) with the errata of 2006; chapter 11 for mulch,
    https://www.fao.org/docrep/x0490e/x0490e00.htm.
"""

from __future__ import annotations

from datetime import datetime, timedelta

from msgspec import Struct

from strawbell.agronomy.ranges import within

WETTEST_COEFFICIENT = 1.2
"""Evaporation of a wet surface over the reference, standard climate [1], equation 72."""
COEFFICIENT_PER_WIND_S_M = 0.04
COEFFICIENT_PER_HUMIDITY = 0.004
STANDARD_WIND_M_S = 2.0
STANDARD_HUMIDITY_PERCENT = 45.0
STANDARD_HEIGHT_M = 3.0
HEIGHT_EXPONENT = 0.3
LEAST_ABOVE_BASAL = 0.05
"""[1], equation 72."""
WILTING_SHARE = 0.5
"""Evaporation dries the surface halfway below the wilting point [1], equation 73."""
MULCH_CUT = 0.5
"""Evaporation saved by a full organic mulch: 5 percent for every 10 percent covered [1], chapter
11. There it lessens the water that can evaporate; here it slows the loss, since a mulched top
stays moist longer and does not hold less."""
ROOTED_DRY_SHARE = 0.25
"""Share of stage 2 after which a top with rooted transplants counts as dry (design choice)."""
SMALLEST_EXPOSED_SHARE = 0.01
"""Least share of the surface that is wetted and in the open, [1] at equation 75."""
HOUR = timedelta(hours=1)


class SurfaceLayer(Struct, frozen=True):
    """The layer on top of a bale that dries by evaporation.

    total_mm : water that can evaporate from it [mm, above 0].
    ready_mm : part of it that goes at the full rate [mm, 0 up to under total].
    exposed_share : share of the surface that is wetted and not shaded by leaves [0.01 to 1].
    mulch_share : share of the surface under organic mulch [0 to 1].
    basal_coefficient : transpiration of the plants over the reference, Kcb [0 to 1.4].
    crop_height_m : height of the plants [m, 0 to 10]; 0 for a bare top.
    dry_share : share of stage 2 used up at which the top counts as dry [0 to 1).

    A value outside is refused with ValueError.
    """

    total_mm: float
    ready_mm: float
    exposed_share: float = 1.0
    mulch_share: float = 0.0
    basal_coefficient: float = 0.0
    crop_height_m: float = 0.0
    dry_share: float = ROOTED_DRY_SHARE

    def __post_init__(self) -> None:
        """Refuse a layer that cannot be."""
        within("total_mm", self.total_mm, 0.1, 1000.0, "mm")
        within("ready_mm", self.ready_mm, 0.0, self.total_mm * 0.99, "mm")
        within("exposed_share", self.exposed_share, SMALLEST_EXPOSED_SHARE, 1.0, "")
        within("mulch_share", self.mulch_share, 0.0, 1.0, "")
        within("basal_coefficient", self.basal_coefficient, 0.0, 1.4, "")
        within("crop_height_m", self.crop_height_m, 0.0, 10.0, "m")
        within("dry_share", self.dry_share, 0.0, 0.99, "")

    @property
    def dry_at_mm(self) -> float:
        """Return the depletion past which the top counts as dry [mm]."""
        return self.ready_mm + self.dry_share * (self.total_mm - self.ready_mm)


class SurfaceState(Struct, frozen=True):
    """How much water is missing from the layer at a moment [mm], 0 when it holds all it can."""

    at: datetime
    depletion_mm: float


class SurfaceStep(Struct, frozen=True):
    """What one step did, in mm over the exposed part of the surface unless said otherwise.

    `reduction` is Kr and `evaporation_coefficient` Ke of the step; `evaporation_mm` what the
    exposed part lost, `drained_mm` what went on into the bale.
    """

    state: SurfaceState
    reduction: float
    evaporation_coefficient: float
    evaporation_mm: float
    drained_mm: float


def total_evaporable_mm(capacity: float, wilting: float, depth_m: float) -> float:
    """Return the water that can evaporate from a wet layer, TEW [1], equation 73.

    Parameters
    ----------
    capacity, wilting : float
        Water by volume when drained and at the wilting point [share], 0 to 1, wilting not above
        capacity; else ValueError.
    depth_m : float
        Depth of the layer [m], 0.001 to 0.5; outside ValueError.

    Returns
    -------
    float
        Total evaporable water [mm].

    References
    ----------
    [1] FAO-56, equation 73 and Example 34.
    """
    within("capacity", capacity, 0.0, 1.0, "")
    within("wilting", wilting, 0.0, capacity, "")
    within("depth_m", depth_m, 0.001, 0.5, "m")
    return 1000.0 * (capacity - WILTING_SHARE * wilting) * depth_m


def reduction(depletion_mm: float, total_mm: float, ready_mm: float) -> float:
    """Return the share of full evaporation that a drying surface still gives, Kr [1].

    Parameters
    ----------
    depletion_mm : float
        Water missing at the beginning [mm], 0 to `total_mm`; outside ValueError.
    total_mm, ready_mm : float
        TEW and REW [mm], ready under total; else ValueError.

    Returns
    -------
    float
        1 up to REW, then falling in a straight line to 0 at TEW.

    References
    ----------
    [1] FAO-56, equation 74 and Example 35.
    """
    within("total_mm", total_mm, 0.1, 1000.0, "mm")
    within("ready_mm", ready_mm, 0.0, total_mm * 0.99, "mm")
    within("depletion_mm", depletion_mm, 0.0, total_mm, "mm")
    return _reduction(depletion_mm, total_mm, ready_mm)


def largest_coefficient(
    wind_2m_m_s: float,
    lowest_humidity_percent: float,
    height_m: float,
    basal_coefficient: float = 0.0,
) -> float:
    """Return the upper limit of evaporation and transpiration together, Kcmax [1].

    Parameters
    ----------
    wind_2m_m_s : float
        Mean daytime wind at 2 m [m/s], 0 to 20; equation made for 1 to 6; outside ValueError.
    lowest_humidity_percent : float
        Lowest relative humidity of the day [percent], 0 to 100, made for 20 to 80; outside
        ValueError.
    height_m : float
        Height of the plants [m], 0 to 10; 0 gives 1.2 whatever the weather. Outside ValueError.
    basal_coefficient : float
        Kcb [0 to 1.4]; outside ValueError.

    Returns
    -------
    float
        Kcmax [-], at least Kcb + 0.05.

    References
    ----------
    [1] FAO-56, equation 72, Examples 33 and 35.
    """
    within("wind_2m_m_s", wind_2m_m_s, 0.0, 20.0, "m/s")
    within("lowest_humidity_percent", lowest_humidity_percent, 0.0, 100.0, "percent")
    within("height_m", height_m, 0.0, 10.0, "m")
    within("basal_coefficient", basal_coefficient, 0.0, 1.4, "")
    climate = COEFFICIENT_PER_WIND_S_M * (wind_2m_m_s - STANDARD_WIND_M_S)
    climate -= COEFFICIENT_PER_HUMIDITY * (lowest_humidity_percent - STANDARD_HUMIDITY_PERCENT)
    tall = float((height_m / STANDARD_HEIGHT_M) ** HEIGHT_EXPONENT)
    return max(WETTEST_COEFFICIENT + climate * tall, basal_coefficient + LEAST_ABOVE_BASAL)


def canopy_cover(
    basal_coefficient: float, bare_coefficient: float, largest: float, height_m: float
) -> float:
    """Return the share of ground that plants shade, fc [1], equation 76.

    Parameters
    ----------
    basal_coefficient : float
        Kcb [0 to 1.4]; below `bare_coefficient` the cover is 0. Outside ValueError.
    bare_coefficient : float
        Kc of dry bare soil, 0.15 to 0.20 [0 to 1]; outside ValueError.
    largest : float
        Kcmax [above `bare_coefficient` to 2]; outside ValueError.
    height_m : float
        Height of the plants [m], 0 to 10; outside ValueError.

    Returns
    -------
    float
        Share [0 to 0.99].

    References
    ----------
    [1] FAO-56, equation 76 and Example 33.
    """
    within("basal_coefficient", basal_coefficient, 0.0, 1.4, "")
    within("bare_coefficient", bare_coefficient, 0.0, 1.0, "")
    within("largest", largest, bare_coefficient + 0.01, 2.0, "")
    within("height_m", height_m, 0.0, 10.0, "m")
    above = max(0.0, basal_coefficient - bare_coefficient) / (largest - bare_coefficient)
    return min(0.99, float(above ** (1.0 + 0.5 * height_m)))


def exposed_share(cover: float, wetted_share: float) -> float:
    """Return the share of the surface both wetted and in the open, few [1], equation 75.

    Parameters
    ----------
    cover : float
        Share shaded by plants, fc [0 to 0.99]; outside ValueError.
    wetted_share : float
        Share that was wetted, fw [0.01 to 1]: 1 for rain and sprinkling; outside ValueError.

    Returns
    -------
    float
        Share [0.01 to 1].

    References
    ----------
    [1] FAO-56, equation 75 and Example 33.
    """
    within("cover", cover, 0.0, 0.99, "")
    within("wetted_share", wetted_share, SMALLEST_EXPOSED_SHARE, 1.0, "")
    return min(1.0 - cover, wetted_share)


def step(
    layer: SurfaceLayer,
    state: SurfaceState,
    et_mm: float,
    rain_mm: float = 0.0,
    watering_mm: float = 0.0,
    largest: float = WETTEST_COEFFICIENT,
    lasting: timedelta = HOUR,
) -> SurfaceStep:
    """Return the surface after one hour, or one day: rain and water first, then drying [1].

    depletion after = depletion before - rain - watering + evaporation + drained, exactly.

    Parameters
    ----------
    layer : SurfaceLayer
        The layer.
    state : SurfaceState
        The layer before [mm, 0 to layer.total_mm]; outside ValueError.
    et_mm : float
        Reference evapotranspiration of the step [mm], 0 to 30; outside ValueError.
    rain_mm, watering_mm : float
        Rain, and water given over the exposed part [mm], 0 to 2000; outside ValueError.
    largest : float
        Kcmax [Kcb + 0.05 to 2], see `largest_coefficient`; outside ValueError.
    lasting : timedelta
        Length of the step; the state moves on by it.

    Returns
    -------
    SurfaceStep
        The new state and what became of the water; nothing in it is negative.

    References
    ----------
    [1] FAO-56, equations 71, 74, 77, Example 35; transpiration out of the layer is left out, as
        there. The mulch cut is that of chapter 11.
    """
    within("depletion_mm", state.depletion_mm, 0.0, layer.total_mm, "mm")
    within("et_mm", et_mm, 0.0, 30.0, "mm")
    within("rain_mm", rain_mm, 0.0, 2000.0, "mm")
    within("watering_mm", watering_mm, 0.0, 2000.0, "mm")
    within("largest", largest, layer.basal_coefficient + LEAST_ABOVE_BASAL, 2.0, "")
    before = max(0.0, state.depletion_mm - rain_mm - watering_mm)
    drained = max(0.0, rain_mm + watering_mm - state.depletion_mm)
    kr = _reduction(before, layer.total_mm, layer.ready_mm)
    ke = _evaporation_coefficient(layer, kr, largest)
    lost = min(ke * et_mm / layer.exposed_share, layer.total_mm - before)
    return SurfaceStep(
        state=SurfaceState(state.at + lasting, min(before + lost, layer.total_mm)),
        reduction=kr,
        evaporation_coefficient=ke,
        evaporation_mm=lost,
        drained_mm=drained,
    )


def _reduction(depletion_mm: float, total_mm: float, ready_mm: float) -> float:
    """Return Kr [1], equation 74."""
    if depletion_mm <= ready_mm:
        return 1.0
    return max(0.0, (total_mm - depletion_mm) / (total_mm - ready_mm))


def _evaporation_coefficient(layer: SurfaceLayer, kr: float, largest: float) -> float:
    """Return Ke [1], equation 71, with the mulch cut."""
    unmulched = min(kr * (largest - layer.basal_coefficient), layer.exposed_share * largest)
    return unmulched * (1.0 - MULCH_CUT * layer.mulch_share)
