"""Walk the top of a bale through the hours of a forecast: when it dries, what it loses.

References
----------
[1] R. G. Allen, L. S. Pereira, D. Raes, M. Smith, "Crop evapotranspiration - Guidelines for
    computing crop water requirements", FAO Irrigation and Drainage Paper 56, Rome 1998,
    chapter 7, https://www.fao.org/docrep/x0490e/x0490e00.htm.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from math import inf

from msgspec import Struct

from strawbell.agronomy.bale.surface import (
    HOUR,
    LEAST_ABOVE_BASAL,
    MULCH_CUT,
    WETTEST_COEFFICIENT,
    SurfaceLayer,
    SurfaceState,
)
from strawbell.agronomy.ranges import within


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
    """Return when the top of a bale will be dry: `surface.step` hour after hour.

    Parameters
    ----------
    hours : Sequence[SurfaceHour]
        Ascending; hours before `start` are passed over, the one it falls into counts with the
        rest of it. The walk ends at the first hour that is absent or of which evapotranspiration
        or rain is unknown: unknown is never dry and never wet. Values are not checked.
    layer : SurfaceLayer
        The layer.
    start : SurfaceState
        Where the walk begins [mm, 0 to layer.total_mm]; outside ValueError.
    waterings : Sequence[Watering]
        What the grower gave from `start` on [mm, not under 0, else ValueError]; an unknown
        amount fills the layer.
    largest : float
        Kcmax [Kcb + 0.05 to 2], see `surface.largest_coefficient`; outside ValueError.
    until : datetime or None
        End of the walk; None walks to the end of what is known.
    refill_until : datetime or None
        The layer is filled up each time it dries before this moment; None never fills it.

    Returns
    -------
    DryDown
        `dry_at` in UTC or whatever zone the hours are in, within an hour in proportion.

    References
    ----------
    [1] FAO-56, equations 71, 74 and 77, stepped hourly instead of daily.
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
        # `surface.step` written out: this loop is most of the cost of a garden's day.
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
