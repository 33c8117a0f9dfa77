"""A feeding to make up for what a storm washed out, within a ceiling.

References
----------
[1] Published sequences give 22 to 248 g N per bale; the largest that is built in, common
    practice, gives 270 g and 23 g of a balanced feed at the end.
[2] "The composting handbook", Table 4.2: a carbon-to-nitrogen ratio under 20:1 is no longer
    acceptable; nitrogen then escapes as ammonia.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date

from strawbell.agronomy.bale.nitrogen import MOST_NITROGEN_G, NitrogenLedger
from strawbell.agronomy.bale.size_and_mass import HEAVIEST_KG, LIGHTEST_KG
from strawbell.agronomy.bale.straw import carbon_g, nitrogen_g
from strawbell.agronomy.ranges import within
from strawbell.model.garden import Bale

LARGE_SHARE = 0.20
"""A storm that took this share of the nitrogen given and still in the bale, by the middle of the
range, is worth making up for (design choice: about 25 mm on the day of a feeding)."""
LEAST_MAKE_UP_G = 5.0
"""Less is not worth a walk with the scales [g N per bale] (design choice)."""
LEAST_CARBON_TO_NITROGEN = 20.0
"""Lowest ratio of a mix that rots well [2]."""
CEILING_G_PER_KG = 17.5
"""Most nitrogen that is ever given to a bale, lost or not, per mass as bought: 350 g for 20 kg, the
largest built-in sequence [1] and one full dose more (design choice)."""


@dataclass(frozen=True, slots=True)
class MakeUp:
    """A make-up feeding to suggest [g N per bale].

    `lost_low_g` to `lost_high_g` is what the storm took; `room_g` is what the ceilings leave;
    `capped` says that less is suggested than was lost by the middle of the range.
    """

    nitrogen_per_bale_g: float
    lost_low_g: float
    lost_high_g: float
    room_g: float
    capped: bool


def ceiling_g(bale: Bale) -> float:
    """Return the most nitrogen that is ever given to a bale over its whole conditioning.

    Parameters
    ----------
    bale : Bale
        Mass as bought, 1 to 1000 [kg]; outside ValueError.

    Returns
    -------
    float
        g N per bale, lost or not: 350 for 20 kg.

    References
    ----------
    .. [1] Published totals, and a design choice; see the module.
    """
    mass = within("dry_mass_kg", bale.dry_mass_kg, LIGHTEST_KG, HEAVIEST_KG, "kg")
    return CEILING_G_PER_KG * mass


def without_storm(
    daily_rain_mm: Mapping[date, float | None], storm_on: Iterable[date]
) -> dict[date, float | None]:
    """Return the rain as it would have been without a storm, for the ledger before it.

    Parameters
    ----------
    daily_rain_mm : mapping of date to float or None
        Rain of each day [mm].
    storm_on : iterable of date
        The days of the storm.

    Returns
    -------
    dict of date to float or None
        The same with no rain on those days [mm].

    References
    ----------
    .. [1] By definition.
    """
    return {**daily_rain_mm, **dict.fromkeys(storm_on, 0.0)}


def make_up_dose(
    bale: Bale,
    before: NitrogenLedger,
    after: NitrogenLedger,
    full_dose_g: float,
    made_up_g: float = 0.0,
) -> MakeUp | None:
    """Return a feeding that makes up for a storm, or None when none is called for.

    Parameters
    ----------
    bale : Bale
        The bale both ledgers are of.
    before : NitrogenLedger
        As it would stand without the storm (`without_storm`) [g N per bale].
    after : NitrogenLedger
        As it stands, of the same feedings and date [g N per bale].
    full_dose_g : float
        Full dose of the schedule [g N per bale], 0 to 1000; outside ValueError. No make-up is
        larger.
    made_up_g : float, optional
        What was given since to make up for it [g N per bale], 0 to 2000; outside ValueError.

    Returns
    -------
    MakeUp or None
        The middle of what was lost and not made up for yet, but at most a full dose, at most what
        is left to the ceiling of everything ever given, and never so much that the ratio of the
        bale could fall under 20:1. None when the storm took under a fifth, or when under 5 g would
        be left to give.

    References
    ----------
    .. [1] Shares are design choices. [2] "The composting handbook" for 20:1. Local rules on
       feeding near water and the label come first.
    """
    within("full_dose_g", full_dose_g, 0.0, MOST_NITROGEN_G, "g")
    lost_low = max(0.0, after.leached_low_g - before.leached_low_g)
    lost_high = max(lost_low, after.leached_high_g - before.leached_high_g)
    within("made_up_g", made_up_g, 0.0, MOST_NITROGEN_G, "g")
    lost = max(0.0, (lost_low + lost_high) / 2.0 - made_up_g)
    in_bale = (before.left_low_g + before.left_high_g) / 2.0
    if lost < LARGE_SHARE * in_bale:
        return None
    in_mix = nitrogen_g(bale).value + after.left_high_g + after.remaining_g
    room = max(
        0.0,
        min(
            ceiling_g(bale) - after.given_g - after.remaining_g,
            carbon_g(bale).value / LEAST_CARBON_TO_NITROGEN - in_mix,
        ),
    )
    amount = min(lost, full_dose_g, room)
    if amount < LEAST_MAKE_UP_G:
        return None
    return MakeUp(amount, lost_low, lost_high, room, capped=amount < lost)
