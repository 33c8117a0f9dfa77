"""Whether a night is dangerous for what grows in a batch, or for what is about to go in."""

from __future__ import annotations

from datetime import date, datetime
from zoneinfo import ZoneInfo

from msgspec import Struct

from strawbell.agronomy.crops.leaf_frost import Danger, NightRisk, night_risk
from strawbell.agronomy.loss import COVER_FROM, KEEP_COVER_FROM, PLANTS_LOST, covered_loss
from strawbell.decision.daily_weather import Night
from strawbell.model.brief import Reason, ReasonCode
from strawbell.model.crops import Crop


def risk_of(night: Night, crop: Crop) -> NightRisk | None:
    """Return what a night does to a crop if it comes as it is known, None when safe or unknown."""
    air = night.air
    risk = night_risk(crop, air.low_c, air.cloud_percent, air.wind_m_s)
    return None if risk is None or risk.danger is Danger.SAFE else risk


class LeafFrost(Struct, frozen=True):
    """How likely a night freezes a crop that is worth covering, and what that is worth."""

    crop: Crop
    chance: float
    plant_c: float
    """The lowest that its leaves are expected to cool to [degC]."""

    def reason(self, at: datetime | None, zone: ZoneInfo) -> Reason:
        """Return why plants have to be protected, with what it costs to cover them or not."""
        return Reason(
            ReasonCode.FROST,
            round(self.plant_c, 1),
            round(self.crop.cover_at_c, 1),
            "degC",
            at.astimezone(zone) if at else None,
            self.chance,
            loss_if_done=covered_loss(self.chance),
            loss_if_waited=self.chance * PLANTS_LOST,
        )


def leaf_frost(night: Night, crop: Crop, limit_c: float | None = None) -> LeafFrost | None:
    """Return how likely a night is to freeze a crop, None where that is unknown.

    Or to cool its leaves to another limit than the one it is covered at [degC].
    """
    chance = night.leaf_chance(crop.cover_at_c if limit_c is None else limit_c)
    band = night.leaf_band()
    return None if chance is None or band is None else LeafFrost(crop, chance, sum(band) / 2.0)


def to_cover(
    night: Night, crops: tuple[Crop, ...], *, told: bool = False
) -> tuple[LeafFrost | None, tuple[str, ...]]:
    """Return the likeliest frost of a night among crops, and the names of all worth covering.

    One that was `told` is kept until a night is much milder.
    """
    from_chance = KEEP_COVER_FROM if told else COVER_FROM
    known = (leaf_frost(night, crop) for crop in crops)
    found = [each for each in known if each is not None and each.chance >= from_chance]
    if not found:
        return None, ()
    gravest = max(found, key=lambda each: each.chance)
    return gravest, tuple(dict.fromkeys(each.crop.name for each in found))


def nights_from(on: date, last: date) -> tuple[date, ...]:
    """Return the dates on which the nights from one through another begin."""
    return tuple(date.fromordinal(day) for day in range(on.toordinal(), last.toordinal() + 1))
