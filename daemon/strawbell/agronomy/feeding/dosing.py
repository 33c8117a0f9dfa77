"""How much nitrogen a bale is fed in its conditioning: by its straw, to a target, under a limit.

Published sequences give 22 to 248 g of nitrogen a bale, whatever it weighs; by what the straw
needs they differ far less.

References
----------
[1] Washington State University Extension FS109E: 4.5 full doses of 1/2 US cup of urea, 184 g N on a
    bale of about 20 kg, which brings it to 31:1; of 1 US cup of ammonium sulfate 224 g, 27:1.
[2] "The composting handbook", Table 4.2: 25 to 40 parts of carbon to one of nitrogen are ideal;
    under 20 nitrogen escapes as ammonia.
[3] T. K. Hartz, P. R. Johnstone (2006): of organic feeds 60 to 66 % is free within eight weeks.
"""

from __future__ import annotations

from strawbell.agronomy.bale.parameters import PARAMETERS
from strawbell.agronomy.bale.size_and_mass import BALES
from strawbell.agronomy.bale.straw import carbon_g, dry_matter_kg, nitrogen_g
from strawbell.agronomy.feeding.doses import FINISHING_NITROGEN_G
from strawbell.agronomy.feeding.feeds import nitrogen_forms
from strawbell.model.feeds import Feed
from strawbell.model.garden import Bale
from strawbell.model.schedule import Schedule, Work

TARGET_CARBON_TO_NITROGEN = 31.0
"""Ratio a sequence brings the bale to, counting what its feed frees in time [1]."""
CEILING_CARBON_TO_NITROGEN = 25.0
"""Ratio no sequence goes under, the lower end of the ideal [2]: 250 g N on 20 kg of wheat straw,
just above every published total."""
LEAST_DOSE_G_PER_KG = 0.3
LARGEST_DOSE_G_PER_KG = 12.0
"""Full doses outside this are slips of the pen [g N per kg of dry straw]: 5 and 210 g for 20 kg."""


def ceiling_g(bale: Bale) -> float:
    """Return the most nitrogen a bale is fed in its whole conditioning, lost or not.

    Parameters
    ----------
    bale : Bale
        Mass as bought, 1 to 1000 [kg]; outside ValueError.

    Returns
    -------
    float
        g N per bale: about 250 for 20 kg of wheat straw.

    References
    ----------
    .. [1] "The composting handbook", Table 4.2.
    """
    return max(0.0, carbon_g(bale).value / CEILING_CARBON_TO_NITROGEN - nitrogen_g(bale).value)


def finishing_share(bale: Bale) -> float:
    """Return how large a last, balanced feeding is over that of a two-string bale.

    Parameters
    ----------
    bale : Bale
        Mass as bought, 1 to 1000 [kg]; outside ValueError.

    Returns
    -------
    float
        1 for 20 kg.

    References
    ----------
    .. [1] Design choice: by the straw, as the other doses.
    """
    return dry_matter_kg(bale) / dry_matter_kg(BALES["two-string"])


def full_doses(schedule: Schedule) -> float:
    """Return how many full doses of its nitrogen feed a sequence adds up to.

    Parameters
    ----------
    schedule : Schedule
        The sequence.

    Returns
    -------
    float
        Sum of the rates.

    References
    ----------
    .. [1] By definition.
    """
    return sum(day.rate for day in schedule.days if day.work is Work.FEED)


def finishing_g(bale: Bale, schedule: Schedule) -> float:
    """Return the nitrogen of the last, balanced feedings of a sequence.

    Parameters
    ----------
    bale : Bale
        As for `ceiling_g`.
    schedule : Schedule
        The sequence.

    Returns
    -------
    float
        g N per bale, 0 where none is asked for.

    References
    ----------
    .. [1] `doses.finishing_dose`.
    """
    days = sum(day.work is Work.FINISH for day in schedule.days)
    return days * finishing_share(bale) * FINISHING_NITROGEN_G


def full_dose_g(bale: Bale, schedule: Schedule, feed: Feed) -> float:
    """Return the nitrogen of a full dose of a sequence.

    Parameters
    ----------
    bale : Bale
        As for `ceiling_g`.
    schedule : Schedule
        The sequence with its rates.
    feed : Feed
        What it is fed with.

    Returns
    -------
    float
        g N per bale, so that the whole sequence brings it to 31:1 by what is free in time, but
        never under 25:1: about 41 for urea on 20 kg and the soak-first sequence.

    References
    ----------
    .. [1] FS109E for the target. [2] "The composting handbook" for the limit. [3] Hartz and
       Johnstone (2006) for organic feeds.
    """
    finishing = finishing_g(bale, schedule)
    wanted = carbon_g(bale).value / TARGET_CARBON_TO_NITROGEN - nitrogen_g(bale).value - finishing
    organic = nitrogen_forms(feed).organic
    wanted /= 1.0 - organic * (1.0 - PARAMETERS["quick"].default)
    total = min(wanted, ceiling_g(bale) - finishing)
    least = LEAST_DOSE_G_PER_KG * dry_matter_kg(bale)
    return round(max(least, total / max(1.0, full_doses(schedule))), 1)


def planned_g(bale: Bale, schedule: Schedule, dose_g: float) -> float:
    """Return the nitrogen that a whole sequence gives a bale.

    Parameters
    ----------
    bale : Bale
        As for `ceiling_g`.
    schedule : Schedule
        The sequence.
    dose_g : float
        Its full dose [g N per bale].

    Returns
    -------
    float
        g N per bale, the last feeding with it.

    References
    ----------
    .. [1] By definition.
    """
    return full_doses(schedule) * dose_g + finishing_g(bale, schedule)
