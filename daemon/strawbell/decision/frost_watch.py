"""Whether a night is dangerous for what grows in a batch, or for what is about to go in.

Decided 2026-11-26: A tender planting waits for a frost of the five nearest nights, and is only
told of a later one: with the usual errors of a rehearsal a frost foretold for one of five nights
mostly comes, one foretold for later in half the cases. In four early springs of Seattle the
reasons of what waits change on 21 mornings of 100 instead of 33, and no frost came unsaid upon
what stood.
"""

from __future__ import annotations

from datetime import date, datetime
from zoneinfo import ZoneInfo

from strawbell.agronomy.crops.leaf_frost import Danger, NightRisk, night_risk
from strawbell.decision.daily_weather import Night
from strawbell.model.brief import Reason, ReasonCode
from strawbell.model.crops import Crop


def risk_of(night: Night, crop: Crop, margin_c: float = 0.0) -> NightRisk | None:
    """Return the risk of a night for a crop, None when it is safe or unknown.

    `margin_c` keeps a warning that was told until the night is that much milder [degC].
    """
    air = night.air
    risk = night_risk(crop, air.low_c, air.cloud_percent, air.wind_m_s)
    if risk is None:
        return None
    if risk.danger is not Danger.SAFE or risk.plant_low.coldest_c <= risk.cover_at_c + margin_c:
        return risk
    return None


def reason_of(risk: NightRisk, at: datetime | None, zone: ZoneInfo) -> Reason:
    """Return why plants have to be protected: the coldest they may get, and their limit."""
    coldest_c = round(risk.plant_low.coldest_c, 1)
    local = at.astimezone(zone) if at else None
    return Reason(ReasonCode.FROST, coldest_c, round(risk.cover_at_c, 1), "degC", local)


def most_endangered(
    night: Night, crops: tuple[Crop, ...], margin_c: float = 0.0
) -> tuple[NightRisk | None, tuple[str, ...]]:
    """Return the gravest risk of a night among crops, and the names of all endangered ones."""
    risks = [(risk, crop.name) for crop in crops if (risk := risk_of(night, crop, margin_c))]
    if not risks:
        return None, ()
    gravest = max(risks, key=lambda each: each[0].cover_at_c - each[0].plant_low.coldest_c)
    return gravest[0], tuple(dict.fromkeys(name for _, name in risks))


def nights_from(on: date, last: date) -> tuple[date, ...]:
    """Return the dates on which the nights from one through another begin."""
    return tuple(date.fromordinal(day) for day in range(on.toordinal(), last.toordinal() + 1))
