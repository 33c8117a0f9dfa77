"""How the top of a bale under plants dries, and how often it is watered in the coming day.

It is a layer of potting mix, or the seed zone of one; straw without it dries by the balance.

A wet surface loses water as fast as the air takes it (stage 1) until the readily evaporable
water is used up; from then on the loss falls off in proportion to what is left (stage 2). It is
reckoned as a bare soil that is wetted all over: what leaves shade of it is left to the careful
side, and plants draw their water from the bale.

References:
[1] R. G. Allen, L. S. Pereira, D. Raes, M. Smith, "Crop evapotranspiration - Guidelines for
    computing crop water requirements", FAO Irrigation and Drainage Paper 56, Rome 1998,
    chapter 7 (equation numbers below) with the errata of 2006; chapter 11 for mulch,
    https://www.fao.org/docrep/x0490e/x0490e00.htm.
[2] International Journal of Agronomy 2012, article 978528, Table 1: peat holds 87 and pine bark
    48 percent of its volume at container capacity.
[3] M. De Boodt, O. Verdonck, "The physical properties of the substrates in horticulture", Acta
    Horticulturae 26:37-44 (1972): 20 to 30 percent easily available water (from memory).
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from datetime import datetime, timedelta
from math import fsum

from msgspec import Struct

from strawbell.agronomy.evaporation import reference_et
from strawbell.agronomy.figures import within
from strawbell.model.forecast import Hour
from strawbell.model.garden import Place

WETTEST_COEFFICIENT = 1.2
"""Evaporation of a wet bare surface over the reference [1], equation 72 at no height."""
WILTING_SHARE = 0.5
"""Evaporation dries the surface halfway below the wilting point [1], equation 73."""
MULCH_CUT = 0.5
"""Evaporation saved by a full organic mulch: 5 percent for every 10 percent covered [1], chapter
11. There it lessens the water that can evaporate; here it slows the loss, since a mulched top
stays moist longer and does not hold less."""
ROOTED_DRY_SHARE = 0.25
"""Share of stage 2 after which a top with rooted transplants counts as dry (design choice)."""
MIX_CAPACITY = 0.60
"""Water in potting mix at container capacity by volume: between peat and bark [2]."""
MIX_WILTING = 0.25
"""Water in it that plants cannot draw, by volume (design choice after [3])."""
MIX_READY = 0.20
"""Easily available water by volume, the low end of [3]; taken as readily evaporable."""
THINNEST_LAYER_CM, THICKEST_LAYER_CM = 1.0, 15.0
"""A thinner or a thicker layer of mix dries like this one (design choice; [1] has 10 to 15 cm)."""
SEED_ZONE_CM = 2.0
"""Depth that has to stay moist for seed and seedlings: most are sown 0.5 to 2.5 cm deep."""
SEEDED_DRY_SHARE = 0.0
"""Seed and seedlings are watered as soon as stage 1 ends (design choice)."""
HOUR = timedelta(hours=1)
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
MOST_RAIN_MM = 500.0
"""More has not fallen in an hour anywhere (from memory: 305 mm in 42 minutes) [mm]."""


class SurfaceLayer(Struct, frozen=True):
    """The layer on top of a bale that dries by evaporation.

    total_mm : water that can evaporate from it [mm].
    ready_mm : part of it that goes at the full rate [mm], under the total.
    mulch_share : share of the surface under organic mulch [0 to 1].
    dry_share : share of stage 2 used up at which the top counts as dry [0 to 1).
    """

    total_mm: float
    ready_mm: float
    mulch_share: float = 0.0
    dry_share: float = ROOTED_DRY_SHARE

    @property
    def dry_at_mm(self) -> float:
        """Return the depletion past which the top counts as dry [mm]."""
        return self.ready_mm + self.dry_share * (self.total_mm - self.ready_mm)


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


def potting_mix_layer(depth_cm: float, mulch_share: float = 0.0) -> SurfaceLayer:
    """Return the layer of potting mix that rooted plants stand in, TEW by equation 73 [1].

    Args:
        depth_cm: Depth of the mix [cm]; under 1 it counts as 1, over 15 as 15. 3 to 5 is common
            practice.
        mulch_share: As in `SurfaceLayer` [share].

    Returns:
        The layer; its water contents are chosen between peat and bark (see the constants).

    Sources: [1] FAO-56, equation 73. [2] container capacities. [3] easily available water.
    """
    return _layer(
        min(max(depth_cm, THINNEST_LAYER_CM), THICKEST_LAYER_CM), mulch_share, ROOTED_DRY_SHARE
    )


def seed_bed_layer(mulch_share: float = 0.0) -> SurfaceLayer:
    """Return the top 2 cm of mix over seed or seedlings, dry at the end of stage 1.

    Args:
        mulch_share: Share of the surface under organic mulch [0 to 1].

    Returns:
        The layer.

    Source: FAO-56, equation 73; the depth is a design choice after usual sowing depths.
    """
    return _layer(SEED_ZONE_CM, mulch_share, SEEDED_DRY_SHARE)


def _layer(depth_cm: float, mulch_share: float, dry_share: float) -> SurfaceLayer:
    return SurfaceLayer(
        total_mm=total_evaporable_mm(MIX_CAPACITY, MIX_WILTING, depth_cm / 100.0),
        ready_mm=MIX_READY * depth_cm * 10.0,
        mulch_share=mulch_share,
        dry_share=dry_share,
    )


def depletion_after(
    layer: SurfaceLayer, depletion_mm: float, et_mm: float, water_mm: float
) -> float:
    """Return what a layer lacks after an hour, or a day: water first, then drying [1].

    Args:
        layer: The layer.
        depletion_mm: What it lacked before [mm, 0 to layer.total_mm].
        et_mm: Reference evapotranspiration of the step [mm], not under 0.
        water_mm: Rain and water given [mm], not under 0; what it cannot hold goes on into the bale.

    Returns:
        Depletion [mm, 0 to layer.total_mm].

    Source: FAO-56, equations 71, 74, 77, Examples 34 and 35; transpiration out of the layer is left
        out, as there. The mulch cut is that of chapter 11.
    """
    before = max(0.0, depletion_mm - water_mm)
    rate = WETTEST_COEFFICIENT * (1.0 - MULCH_CUT * layer.mulch_share)
    if before > layer.ready_mm:
        rate *= (layer.total_mm - before) / (layer.total_mm - layer.ready_mm)
    return min(before + rate * et_mm, layer.total_mm)


class SurfaceHour(Struct, frozen=True):
    """What one hour does to a surface: reference evapotranspiration and rain [mm], None unknown."""

    starts_at: datetime
    et_mm: float | None
    rain_mm: float | None


class DryDown(Struct, frozen=True):
    """What a walk over the hours came to.

    `dry_at` is the first moment the top counts as dry, None when it does not before
    `known_until`: the end of the walk, or of what is known. `depletion_mm` is that at
    `known_until`. `refills` says how often the layer was filled up at its drying, and
    `refilled_mm` how much in all.
    """

    dry_at: datetime | None
    known_until: datetime
    depletion_mm: float
    refills: int
    refilled_mm: float


def dry_down(
    hours: Sequence[SurfaceHour],
    layer: SurfaceLayer,
    start: datetime,
    depletion_mm: float,
    until: datetime | None = None,
    *,
    refill_until: datetime | None = None,
) -> DryDown:
    """Return when the top of a bale will be dry: `depletion_after` hour after hour.

    Args:
        hours: Ascending; hours before `start` are passed over, the one it falls into counts with
            the rest of it. The walk ends at the first hour that is absent or of which
            evapotranspiration or rain is unknown: unknown is never dry and never wet.
        layer: The layer.
        start: Where the walk begins.
        depletion_mm: What the layer lacks there [mm, 0 to layer.total_mm].
        until: End of the walk; None walks to the end of what is known.
        refill_until: The layer is filled up each time it dries before this moment; None never fills
            it.

    Returns:
        `dry_at` in UTC or whatever zone the hours are in, within an hour in proportion.

    Source: FAO-56, equations 71, 74 and 77, stepped hourly instead of daily.
    """
    now, depletion, dry = start, depletion_mm, layer.dry_at_mm
    dry_at: datetime | None = None
    refills, refilled = 0, 0.0
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
        share = (ends - now) / HOUR
        before = max(0.0, depletion - rain_mm * share)
        depletion = depletion_after(layer, before, et_mm * share, 0.0)
        if depletion > dry and (dry_at is None or refill_until is not None):
            # The loss of an hour is spread evenly; a top that was dry before is dry now.
            wait = (dry - before) / (depletion - before) if before < dry else 0.0
            dried = now + (ends - now) * wait
            dry_at = dry_at or dried
            if refill_until is not None and dried < refill_until:
                refills, refilled, depletion = refills + 1, refilled + depletion, 0.0
        now = ends
    return DryDown(dry_at, now, depletion, refills, refilled)


class SurfaceOutlook(Struct, frozen=True):
    """What the top of a bale does and needs from `now` on.

    dry_at : moment the top counts as dry if nobody waters; `now` itself when it already is,
        None when not as far as is known.
    litres_per_bale : water for one bale each time [L]: fills the top up from what it lacks now,
        or spreads what it will lack over the times, whichever is more.
    times_a_day : how often in the coming 24 h, 1 to 3, the first time now.
    et_mm_today : reference evapotranspiration of the coming 24 h [mm], of the known part.
    """

    dry_at: datetime | None
    litres_per_bale: float
    times_a_day: int
    et_mm_today: float


def surface_outlook(
    hours: Sequence[SurfaceHour],
    layer: SurfaceLayer,
    top_m2: float,
    now: datetime,
    filled_at: datetime | None = None,
) -> SurfaceOutlook | None:
    """Return when the top of a bale will be dry, how much water it needs and how often.

    Args:
        hours: The forecast from `surface_hours`, with past hours as far back as they are had.
        layer: The top layer.
        top_m2: Top of one bale [m2].
        now: Moment of the advice.
        filled_at: When it was last watered, up to `now`: there the walk begins. Without it, or
            where the hours do not reach back to it, half of the readily evaporable water is taken
            as gone.

    Returns:
        None when fewer than 18 h from `now` on are known; then the simple thresholds have to do.

    Source: FAO-56, chapter 4 (equation 53) and chapter 7 (equations 71 to 77).
    """
    depletion = ASSUMED_DEPLETION_SHARE * layer.ready_mm
    # Where nobody knows how dry it is, it is filled up from as dry as it may get.
    lacks = max(depletion, layer.dry_at_mm)
    if filled_at is not None:
        since = dry_down(hours, layer, filled_at, 0.0, now)
        if since.known_until >= now:
            lacks = depletion = since.depletion_mm
    left_alone = dry_down(hours, layer, now, depletion)
    if left_alone.known_until - now < SHORTEST_OUTLOOK:
        return None
    tended = dry_down(hours, layer, now, 0.0, now + OUTLOOK, refill_until=now + LAST_WATERING)
    # One that would dry in the evening or the night is watered once more by day.
    late = tended.depletion_mm > layer.dry_at_mm - MARGIN_MM
    times = min(MOST_TIMES_A_DAY, 1 + tended.refills + late)
    each_mm = max(lacks, (tended.refilled_mm + tended.depletion_mm) / times)
    first = bisect_right(hours, now - HOUR, key=_beginning)
    last = bisect_left(hours, tended.known_until, key=_beginning)
    return SurfaceOutlook(
        dry_at=now if depletion > layer.dry_at_mm else left_alone.dry_at,
        litres_per_bale=top_m2 * each_mm,
        times_a_day=times,
        et_mm_today=_sum_between(hours[first:last], now, tended.known_until),
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


def surface_hours(
    hours: Sequence[Hour], place: Place, wind_height_m: float
) -> tuple[SurfaceHour, ...]:
    """Return what a forecast does to any surface of a garden: once for every batch.

    Args:
        hours: The forecast, ascending.
        place: Where the garden lies; see `evaporation.reference_et` for the ranges.
        wind_height_m: Height the forecast's wind is given for [m], 0.5 to 200; outside ValueError.

    Returns:
        The reference evapotranspiration with short gaps bridged, and rain beside it.

    Source: FAO-56, chapter 4.
    """
    amounts = reference_et(hours, place, wind_height_m)
    if None in amounts:
        _bridge(amounts, [hour.starts_at for hour in hours])
    return tuple(
        SurfaceHour(hour.starts_at, mm, _rain(hour.rain_mm))
        for hour, mm in zip(hours, amounts, strict=True)
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


def _sum_between(hours: Sequence[SurfaceHour], start: datetime, end: datetime) -> float:
    """Return the evapotranspiration of [start, end), hours at either end in part [mm]."""
    return fsum(
        hour.et_mm * ((min(end, hour.starts_at + HOUR) - max(start, hour.starts_at)) / HOUR)
        for hour in hours
        if hour.et_mm is not None
    )
