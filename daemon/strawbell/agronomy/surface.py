"""How the top of a bale under plants dries: two stages, as FAO-56 has it for the surface of a soil.

It is a layer of potting mix, or the seed zone of one; straw without it dries by the balance.

A wet surface loses water as fast as the air takes it (stage 1) until the readily evaporable
water is used up; from then on the loss falls off in proportion to what is left (stage 2).

References:
[1] R. G. Allen, L. S. Pereira, D. Raes, M. Smith, "Crop evapotranspiration - Guidelines for
    computing crop water requirements", FAO Irrigation and Drainage Paper 56, Rome 1998,
    chapter 7 (equation numbers below) with the errata of 2006; chapter 11 for mulch,
    https://www.fao.org/docrep/x0490e/x0490e00.htm.
[2] International Journal of Agronomy 2012, article 978528, Table 1: peat holds 87 and pine bark
    48 percent of its volume at container capacity.
[3] M. De Boodt, O. Verdonck, "The physical properties of the substrates in horticulture", Acta
    Horticulturae 26:37-44 (1972): 20 to 30 percent easily available water (from memory).

What the top of a bale needs in the coming day, from the forecast and what was given.

References:
[1] R. G. Allen, L. S. Pereira, D. Raes, M. Smith, "Crop evapotranspiration - Guidelines for
    computing crop water requirements", FAO Irrigation and Drainage Paper 56, Rome 1998,
    chapters 4 and 7, https://www.fao.org/docrep/x0490e/x0490e00.htm.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from datetime import datetime, timedelta
from math import fsum, inf

from msgspec import Struct

from strawbell.agronomy.evaporation import FASTEST_WIND_M_S, reference_et, saturation, wind_factor
from strawbell.agronomy.figures import COLDEST_AIR_C, HOTTEST_AIR_C, within
from strawbell.model.forecast import Hour
from strawbell.model.garden import Place

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
SEEDED_DRY_SHARE = 0.0
"""Seed and seedlings are watered as soon as stage 1 ends (design choice)."""
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

    Args:
        capacity, wilting: Water by volume when drained and at the wilting point [share], 0 to 1,
            wilting not above capacity; else ValueError.
        depth_m: Depth of the layer [m], 0.001 to 0.5; outside ValueError.

    Returns:
        Total evaporable water [mm].
    """
    within("capacity", capacity, 0.0, 1.0, "")
    within("wilting", wilting, 0.0, capacity, "")
    within("depth_m", depth_m, 0.001, 0.5, "m")
    return 1000.0 * (capacity - WILTING_SHARE * wilting) * depth_m


def largest_coefficient(
    wind_2m_m_s: float,
    lowest_humidity_percent: float,
    height_m: float,
    basal_coefficient: float = 0.0,
) -> float:
    """Return the upper limit of evaporation and transpiration together, Kcmax [1].

    Args:
        wind_2m_m_s: Mean daytime wind at 2 m [m/s], 0 to 20; equation made for 1 to 6; outside
            ValueError.
        lowest_humidity_percent: Lowest relative humidity of the day [percent], 0 to 100, made for
            20 to 80; outside ValueError.
        height_m: Height of the plants [m], 0 to 10; 0 gives 1.2 whatever the weather. Outside
            ValueError.
        basal_coefficient: Kcb [0 to 1.4]; outside ValueError.

    Returns:
        Kcmax [-], at least Kcb + 0.05.

    Source: FAO-56, equation 72, Examples 33 and 35.
    """
    within("wind_2m_m_s", wind_2m_m_s, 0.0, 20.0, "m/s")
    within("lowest_humidity_percent", lowest_humidity_percent, 0.0, 100.0, "percent")
    within("height_m", height_m, 0.0, 10.0, "m")
    within("basal_coefficient", basal_coefficient, 0.0, 1.4, "")
    climate = COEFFICIENT_PER_WIND_S_M * (wind_2m_m_s - STANDARD_WIND_M_S)
    climate -= COEFFICIENT_PER_HUMIDITY * (lowest_humidity_percent - STANDARD_HUMIDITY_PERCENT)
    tall = float((height_m / STANDARD_HEIGHT_M) ** HEIGHT_EXPONENT)
    return max(WETTEST_COEFFICIENT + climate * tall, basal_coefficient + LEAST_ABOVE_BASAL)


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

    Args:
        layer: The layer.
        state: The layer before [mm, 0 to layer.total_mm]; outside ValueError.
        et_mm: Reference evapotranspiration of the step [mm], 0 to 30; outside ValueError.
        rain_mm, watering_mm: Rain, and water given over the exposed part [mm], 0 to 2000; outside
            ValueError.
        largest: Kcmax [Kcb + 0.05 to 2], see `largest_coefficient`; outside ValueError.
        lasting: Length of the step; the state moves on by it.

    Returns:
        The new state and what became of the water; nothing in it is negative.

    Source: FAO-56, equations 71, 74, 77, Example 35; transpiration out of the layer is left out, as
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


class Watering(Struct, frozen=True):
    """A watering that was recorded [mm over the top]; `mm` is None where the amount was not."""

    at: datetime
    mm: float | None = None


class SurfaceHour(Struct, frozen=True):
    """What one hour does to a surface: reference evapotranspiration and rain [mm], None unknown."""

    starts_at: datetime
    et_mm: float | None
    rain_mm: float | None


class DryDown(Struct, frozen=True):
    """What a walk over the hours came to.

    `dry_at` is the first moment the top counts as dry, None when it does not before
    `known_until`: the end of the walk, or of what is known. `depletion_mm` is that at
    `known_until`. Where the walk fills the layer up at every drying, `refills` says how often
    and `refilled_mm` how much in all; `gained_mm` is the rain and water that stayed in the
    layer, `lost_mm` what evaporated. depletion = start + lost - gained - refilled, exactly.
    """

    dry_at: datetime | None
    known_until: datetime
    depletion_mm: float
    lost_mm: float
    gained_mm: float
    refills: int
    refilled_mm: float


def potting_mix_layer(depth_cm: float, mulch_share: float = 0.0) -> SurfaceLayer:
    """Return the layer of potting mix that rooted plants stand in, TEW by equation 73 [1].

    Args:
        depth_cm: Depth of the mix [cm], 1 to 15; outside ValueError. 3 to 5 is common practice.
        mulch_share: As in `SurfaceLayer` [share]; outside ValueError.

    Returns:
        The layer; its water contents are chosen between peat and bark (see the constants).

    Sources: [1] FAO-56, equation 73. [2] container capacities. [3] easily available water.
    """
    within("depth_cm", depth_cm, THINNEST_LAYER_CM, THICKEST_LAYER_CM, "cm")
    return SurfaceLayer(
        total_mm=total_evaporable_mm(MIX_CAPACITY, MIX_WILTING, depth_cm / 100.0),
        ready_mm=MIX_READY * depth_cm * 10.0,
        mulch_share=mulch_share,
    )


def seed_bed_layer(mulch_share: float = 0.0) -> SurfaceLayer:
    """Return the top 2 cm of mix over seed or seedlings, dry at the end of stage 1.

    Args:
        mulch_share: Share of the surface under organic mulch [0 to 1]; outside ValueError.

    Returns:
        The layer.

    Source: FAO-56, equation 73; the depth is a design choice after usual sowing depths.
    """
    return SurfaceLayer(
        total_mm=total_evaporable_mm(MIX_CAPACITY, MIX_WILTING, SEED_ZONE_CM / 100.0),
        ready_mm=MIX_READY * SEED_ZONE_CM * 10.0,
        mulch_share=mulch_share,
        dry_share=SEEDED_DRY_SHARE,
    )


def dry_down(
    hours: Sequence[SurfaceHour],
    layer: SurfaceLayer,
    start: SurfaceState,
    waterings: Sequence[Watering] = (),
    largest: float = WETTEST_COEFFICIENT,
    until: datetime | None = None,
    *,
    refill_until: datetime | None = None,
) -> DryDown:
    """Return when the top of a bale will be dry: `step` hour after hour.

    Args:
        hours: Ascending; hours before `start` are passed over, the one it falls into counts with
            the rest of it. The walk ends at the first hour that is absent or of which
            evapotranspiration or rain is unknown: unknown is never dry and never wet. Values are
            not checked.
        layer: The layer.
        start: Where the walk begins [mm, 0 to layer.total_mm]; outside ValueError.
        waterings: What the grower gave from `start` on [mm, not under 0, else ValueError]; an
            unknown amount fills the layer.
        largest: Kcmax [Kcb + 0.05 to 2], see `largest_coefficient`; outside ValueError.
        until: End of the walk; None walks to the end of what is known.
        refill_until: The layer is filled up each time it dries before this moment; None never fills
            it.

    Returns:
        `dry_at` in UTC or whatever zone the hours are in, within an hour in proportion.

    Source: FAO-56, equations 71, 74 and 77, stepped hourly instead of daily.
    """
    within("depletion_mm", start.depletion_mm, 0.0, layer.total_mm, "mm")
    within("largest", largest, layer.basal_coefficient + LEAST_ABOVE_BASAL, 2.0, "")
    mulched = (1.0 - MULCH_CUT * layer.mulch_share) / layer.exposed_share
    wet_rate = (largest - layer.basal_coefficient) * mulched
    rate_limit = layer.exposed_share * largest * mulched
    total, ready, dry = layer.total_mm, layer.ready_mm, layer.dry_at_mm
    gifts = _latest_first(waterings, start.at)
    now, depletion = start.at, start.depletion_mm
    dry_at: datetime | None = None
    lost_in_all = gained = refilled = 0.0
    refills = 0
    for hour in hours:
        begins, et_mm, rain_mm = hour.starts_at, hour.et_mm, hour.rain_mm
        ends = begins + HOUR
        if ends <= now:
            continue
        if begins > now or et_mm is None or rain_mm is None:
            break
        if until is not None and ends > until:
            if now >= until:
                break
            ends = until
        if now != begins or ends is until:
            share = (ends - now) / HOUR
            et_mm, rain_mm = et_mm * share, rain_mm * share
        while gifts and gifts[-1].at < ends:
            given = gifts.pop().mm
            rain_mm += inf if given is None else given
        before = depletion - rain_mm if depletion > rain_mm else 0.0
        gained += depletion - before
        # `step` written out: this loop is most of the cost of a garden's day.
        rate = wet_rate if before <= ready else wet_rate * (total - before) / (total - ready)
        lost = et_mm * (rate if rate < rate_limit else rate_limit)
        depletion = before + lost
        if depletion > total:
            lost, depletion = total - before, total
        lost_in_all += lost
        if depletion > dry and (dry_at is None or refill_until is not None):
            # The loss of an hour is spread evenly; a top that was dry before is dry now.
            wait = (dry - before) / lost if before < dry else 0.0
            dried = now + (ends - now) * wait
            dry_at = dry_at or dried
            if refill_until is not None and dried < refill_until:
                refills, refilled, depletion = refills + 1, refilled + depletion, 0.0
        now = ends
    return DryDown(dry_at, now, depletion, lost_in_all, gained, refills, refilled)


def _latest_first(waterings: Sequence[Watering], since: datetime) -> list[Watering]:
    """Return the waterings from a moment on, the next one last, refusing a negative one."""
    for given in waterings:
        if given.mm is not None:
            within("mm", given.mm, 0.0, 2000.0, "mm")
    late = [given for given in waterings if given.at >= since]
    return sorted(late, key=lambda given: given.at, reverse=True)


OUTLOOK = timedelta(hours=24)
"""How far a day's advice looks: to the next morning."""
LAST_WATERING = timedelta(hours=12)
"""A top that dries later than this after the morning waits for the next one: the night takes
hardly anything, and wet leaves overnight bring blight (common practice)."""
LAST_WATERED_AFTER = timedelta(hours=8, minutes=30)
"""From a morning's first watering to its last: by trial on recorded springs a seed bed that is
watered again at noon is dry in the evening, and one that waits until 17:00 is dry before it."""
SHORTEST_OUTLOOK = timedelta(hours=18)
"""Least that must be known ahead: from a morning on it holds all the daylight (design choice)."""
LONGEST_BRIDGE_H = 3
"""Unknown evapotranspiration of up to so many hours is bridged from both sides; rain is not."""
ASSUMED_DEPLETION_SHARE = 0.5
"""Share of the readily evaporable water taken as gone where nobody knows (design choice: neither
wet nor dry)."""
MARGIN_MM = 0.7
"""What a top has to be short of dry by in the next morning [mm]: by trial on recorded springs a
forecast of the layer errs by about that much in a day."""
MOST_TIMES_A_DAY = 3
"""More often is no advice a grower can follow (common practice: two, three in great heat)."""
WIND_LIMITS_M_S = (1.0, 6.0)
HUMIDITY_LIMITS_PERCENT = (20.0, 80.0)
"""Range that the largest coefficient was made for [1], equation 72."""
SATURATED_PERCENT = 100.0
MOST_RAIN_MM = 500.0
"""More has not fallen in an hour anywhere (from memory: 305 mm in 42 minutes) [mm]."""


class SurfaceWeather(Struct, frozen=True):
    """What a forecast does to any surface of a garden: computed once, used for every batch.

    `hours` have the reference evapotranspiration with short gaps bridged, and rain beside it;
    `wind_2m_m_s` is the mean wind and `driest_percent` the lowest relative humidity of the hours,
    the standard ones where unknown.
    """

    hours: tuple[SurfaceHour, ...]
    wind_2m_m_s: float
    driest_percent: float


class SurfaceOutlook(Struct, frozen=True):
    """What the top of a bale does and needs from `now` on.

    dry_at : moment the top counts as dry if nobody waters; `now` itself when it already is,
        None when not before `known_until`, up to which rain and evapotranspiration are known.
    litres_per_bale : water for one bale each time [L]: fills the top up from what it lacks now,
        or spreads what it will lack over the times, whichever is more.
    times_a_day : how often in the coming 24 h, 1 to 3, the first time now.
    et_mm_today : reference evapotranspiration of the coming 24 h [mm], of the known part.
    """

    dry_at: datetime | None
    litres_per_bale: float
    times_a_day: int
    et_mm_today: float
    known_until: datetime


def surface_outlook(
    weather: SurfaceWeather,
    layer: SurfaceLayer,
    bale_top_area_m2: float,
    now: datetime,
    waterings: Sequence[Watering] = (),
) -> SurfaceOutlook | None:
    """Return when the top of a bale will be dry, how much water it needs and how often.

    Args:
        weather: The forecast, with past hours as far back as they are had.
        layer: The top layer.
        bale_top_area_m2: Top of one bale [m2], 0.05 to 5; outside ValueError.
        now: Moment of the advice.
        waterings: What was recorded [mm over the top]. The last one that filled the layer is where
            the walk begins; without one half of the readily evaporable water is taken as gone.

    Returns:
        None when fewer than 18 h from `now` on are known; then the simple thresholds have to do.

    Source: FAO-56, chapter 4 (equation 53) and chapter 7 (equations 71 to 77).
    """
    within("bale_top_area_m2", bale_top_area_m2, 0.05, 5.0, "m2")
    hours = weather.hours
    largest = largest_coefficient(
        weather.wind_2m_m_s, weather.driest_percent, layer.crop_height_m, layer.basal_coefficient
    )
    known = _depletion_now(hours, layer, now, waterings, largest)
    depletion = ASSUMED_DEPLETION_SHARE * layer.ready_mm if known is None else known
    left_alone = dry_down(hours, layer, SurfaceState(now, depletion), (), largest)
    if left_alone.known_until - now < SHORTEST_OUTLOOK:
        return None
    tended = dry_down(
        hours,
        layer,
        SurfaceState(now, 0.0),
        (),
        largest,
        now + OUTLOOK,
        refill_until=now + LAST_WATERING,
    )
    # Where nobody knows how dry it is, it is filled up from as dry as it may get.
    filled_mm = depletion if known is not None else max(depletion, layer.dry_at_mm)
    # One that would dry in the evening or the night is watered once more by day.
    late = tended.depletion_mm > layer.dry_at_mm - MARGIN_MM
    times = min(MOST_TIMES_A_DAY, 1 + tended.refills + late)
    first = bisect_right(hours, now - HOUR, key=_beginning)
    last = bisect_left(hours, tended.known_until, key=_beginning)
    return SurfaceOutlook(
        dry_at=now if depletion > layer.dry_at_mm else left_alone.dry_at,
        litres_per_bale=bale_top_area_m2 * _each_time_mm(filled_mm, tended, times),
        times_a_day=times,
        et_mm_today=_sum_between(hours[first:last], now, tended.known_until),
        known_until=left_alone.known_until,
    )


def watered_at(first: datetime, times: int) -> tuple[datetime, ...]:
    """Return when a top is watered that is watered so many times a day, evenly from the first on.

    Args:
        first: The morning's watering.
        times: 1 to 3.

    Returns:
        The last of several is in the middle of the afternoon.

    Source: common practice.
    """
    gap = LAST_WATERED_AFTER / max(1, times - 1)
    return tuple(first + gap * number for number in range(times))


def _each_time_mm(depletion_mm: float, tended: DryDown, times: int) -> float:
    """Return the depth for each watering [mm]: what is lacking now, or an even part of the day."""
    return max(depletion_mm, (tended.refilled_mm + tended.depletion_mm) / times)


def surface_weather(hours: Sequence[Hour], place: Place, wind_height_m: float) -> SurfaceWeather:
    """Return what a forecast does to any surface of a garden, for `surface_outlook`.

    Args:
        hours: The forecast, ascending.
        place: Where the garden lies; see `evaporative_demand.reference_et` for the ranges.
        wind_height_m: Height the forecast's wind is given for [m], 0.5 to 200; outside ValueError.

    Returns:
        The same for every batch. Wind and humidity are held within the range that equation 72 was
        made for.

    Source: FAO-56, chapter 4 and equation 72.
    """
    demand = reference_et(hours, place, wind_height_m)
    amounts = [item.mm for item in demand]
    if None in amounts:
        _bridge(amounts, [item.starts_at for item in demand])
    winds = [
        hour.wind_m_s
        for hour in hours
        if hour.wind_m_s is not None and 0.0 <= hour.wind_m_s <= FASTEST_WIND_M_S
    ]
    wind = fsum(winds) / len(winds) * wind_factor(wind_height_m) if winds else STANDARD_WIND_M_S
    driest = min(
        (percent for hour in hours if (percent := _relative_percent(hour)) is not None),
        default=STANDARD_HUMIDITY_PERCENT,
    )
    return SurfaceWeather(
        hours=tuple(
            SurfaceHour(hour.starts_at, mm, _rain(hour.rain_mm))
            for hour, mm in zip(hours, amounts, strict=True)
        ),
        wind_2m_m_s=_limited(wind, WIND_LIMITS_M_S),
        driest_percent=_limited(driest, HUMIDITY_LIMITS_PERCENT),
    )


def _beginning(hour: SurfaceHour) -> datetime:
    return hour.starts_at


def _rain(rain_mm: float | None) -> float | None:
    """Return a rain that can have fallen, None for any other (NaN included)."""
    return rain_mm if rain_mm is not None and 0.0 <= rain_mm <= MOST_RAIN_MM else None


def _bridge(amounts: list[float | None], begins: Sequence[datetime]) -> None:
    """Fill short runs of unknown hours with the mean of the known hours on either side."""
    last: int | None = None
    for index, amount in enumerate(amounts):
        if amount is None:
            continue
        if last is not None and 1 < index - last <= LONGEST_BRIDGE_H + 1:
            before = amounts[last]
            if before is not None and begins[index] - begins[last] == HOUR * (index - last):
                amounts[last + 1 : index] = [(before + amount) / 2.0] * (index - last - 1)
        last = index


def _depletion_now(
    hours: Sequence[SurfaceHour],
    layer: SurfaceLayer,
    now: datetime,
    waterings: Sequence[Watering],
    largest: float,
) -> float | None:
    """Return what the layer lacks now [mm], None where the hours reach back to no filling."""
    given = [watering for watering in waterings if watering.at <= now]
    filled = [each.at for each in given if each.mm is None or each.mm >= layer.total_mm]
    for at in sorted(filled, reverse=True):
        if at == now:
            return 0.0
        walked = dry_down(hours, layer, SurfaceState(at, 0.0), given, largest, now)
        if walked.known_until >= now:
            return walked.depletion_mm
    return None


def _relative_percent(hour: Hour) -> float | None:
    """Return the relative humidity, from the dew point where it is missing."""
    given, dew, warm = hour.relative_humidity_percent, hour.dew_point_c, hour.temperature_c
    if given is not None and 0.0 <= given <= SATURATED_PERCENT:
        return given
    if dew is None or warm is None or not COLDEST_AIR_C <= dew <= warm <= HOTTEST_AIR_C:
        return None
    return SATURATED_PERCENT * saturation(dew) / saturation(warm)


def _limited(value: float, limits: tuple[float, float]) -> float:
    return min(limits[1], max(limits[0], value))


def _sum_between(hours: Sequence[SurfaceHour], start: datetime, end: datetime) -> float:
    """Return the evapotranspiration of [start, end), hours at either end in part [mm]."""
    return fsum(
        hour.et_mm * ((min(end, hour.starts_at + HOUR) - max(start, hour.starts_at)) / HOUR)
        for hour in hours
        if hour.et_mm is not None
    )
