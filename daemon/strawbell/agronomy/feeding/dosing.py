"""How much nitrogen a bale is fed in its conditioning: by its straw, to a target, under a limit.

Published sequences give 22 to 248 g of nitrogen a bale, whatever it weighs; by what the straw
needs they differ far less.

References:
[1] Washington State University Extension FS109E: 4.5 full doses of 1/2 US cup of urea, 184 g N on a
    bale of about 20 kg, which brings it to 31:1; of 1 US cup of ammonium sulfate 224 g, 27:1.
[2] "The composting handbook", Table 4.2: 25 to 40 parts of carbon to one of nitrogen are ideal;
    under 20 nitrogen escapes as ammonia.
[3] T. K. Hartz, P. R. Johnstone (2006): of organic feeds 60 to 66 % is free within eight weeks.
"""

from __future__ import annotations

from math import inf

from msgspec.structs import replace

from strawbell.agronomy.bale.parameters import PARAMETERS
from strawbell.agronomy.bale.size_and_mass import BALES, top_area_m2
from strawbell.agronomy.bale.straw import carbon_g, dry_matter_kg, nitrogen_g
from strawbell.agronomy.bale.watering import WASH_IN_MM
from strawbell.agronomy.feeding.doses import (
    LARGEST_FEEDING_G,
    drench_dose,
    finishing_dose,
    nitrogen_dose,
)
from strawbell.agronomy.feeding.feeds import WHOLE_PERCENT, nitrogen_forms
from strawbell.model.feeds import Dose, Feed
from strawbell.model.garden import Bale, Batch
from strawbell.model.schedule import ScheduleDay, Work

TARGET_CARBON_TO_NITROGEN = 31.0
"""Ratio a sequence brings the bale to, counting what its feed frees in time [1]."""
CEILING_CARBON_TO_NITROGEN = 25.0
"""Ratio no sequence goes under, the lower end of the ideal [2]: 250 g N on 20 kg of wheat straw,
just above every published total."""
LEAST_DOSE_G_PER_KG = 0.3
LARGEST_DOSE_G_PER_KG = 12.0
"""Full doses outside this are slips of the pen [g N per kg of dry straw]: 5 and 210 g for 20 kg."""
MOST_AT_ONCE_G_PER_KG = 3.0
"""Unasked no single dose is larger [g N per kg of dry straw]: just above the largest published one,
1 US cup of ammonium sulfate on 20 kg [1]."""
DRENCH_MM = 3.785411784 / top_area_m2(BALES["two-string"])
"""Water in which a feed is poured [mm]: 1 US gallon on a two-string bale, as labels count it
(common practice)."""
LACK_COUNTS = 0.1
"""A sequence lacks nitrogen from this share of what it should free on (design choice)."""


def ceiling_g(bale: Bale) -> float:
    """Return the most nitrogen a bale is fed in its whole conditioning, lost or not.

    Args:
        bale: Mass as bought, 1 to 1000 [kg]; outside ValueError.

    Returns:
        g N per bale: about 250 for 20 kg of wheat straw.

    Source: "The composting handbook", Table 4.2.
    """
    return max(0.0, carbon_g(bale).value / CEILING_CARBON_TO_NITROGEN - nitrogen_g(bale).value)


def finishing_share(bale: Bale) -> float:
    """Return how large a last, balanced feeding is over that of a two-string bale.

    Args:
        bale: Mass as bought, 1 to 1000 [kg]; outside ValueError.

    Returns:
        1 for 20 kg.

    Source: design choice: by the straw, as the other doses.
    """
    return dry_matter_kg(bale) / dry_matter_kg(BALES["two-string"])


def feed_water_l(batch: Batch, feed: Feed) -> float:
    """Return the water that a feed is washed in with, or poured in.

    Args:
        batch: With its bale.
        feed: Dry, or poured.

    Returns:
        L per bale where nothing speaks against it: on a two-string bale 3.6 to wash in, and a US
        gallon, 3.8, as a drench.
    """
    return (DRENCH_MM if feed.form.is_poured else WASH_IN_MM) * top_area_m2(batch.bale)


def feed_of(batch: Batch, step: ScheduleDay) -> Feed | None:
    """Return what is fed on a day of the sequence.

    Args:
        batch: With its feeds.
        step: A day of its schedule.

    Returns:
        The feed of that day, else of the batch; None on a day of water, and for want of one.
    """
    if step.work is Work.WATER or step.feed is not None:
        return None if step.work is Work.WATER else step.feed
    return batch.finishing_feed if step.work is Work.FINISH else batch.feed


def dose_of(batch: Batch, step: ScheduleDay) -> Dose | None:
    """Return what one feeding of the sequence gives.

    Args:
        batch: With its full dose [g N per bale].
        step: A day of its schedule.

    Returns:
        None on a day of only water.
    """
    feed = feed_of(batch, step)
    if feed is None:
        return None
    litres = feed_water_l(batch, feed)
    if step.work is Work.DRENCH:
        return drench_dose(feed, batch.bales, litres, step.rate)
    if step.work is Work.FINISH:
        return finishing_dose(feed, batch.bales, litres, finishing_share(batch.bale))
    wanted_g = step.rate * batch.nitrogen_per_full_dose_g
    return nitrogen_dose(feed, wanted_g, batch.bales, litres)


def full_doses(batch: Batch) -> float:
    """Return how many full doses of nitrogen the sequence of a batch adds up to.

    Args:
        batch: With its schedule.

    Returns:
        Sum of the rates.
    """
    return sum(day.rate for day in batch.schedule.days if day.work is Work.FEED)


def dosed(batch: Batch) -> Batch:
    """Return a batch with the full dose that its straw and its feeds ask for.

    Args:
        batch: With its bale, schedule and feeds.

    Returns:
        With `nitrogen_per_full_dose_g` so that the whole sequence brings the bale to 31:1 by what
        is free in time, but never under 25:1, and no dose over 3 g N per kg of dry straw: about 41
        for urea on 20 kg and the soak-first sequence.

    Sources: [1] FS109E for the target. [2] "The composting handbook" for the limit. [3] Hartz and
        Johnstone (2006) for organic feeds.
    """
    straw_kg, doses = dry_matter_kg(batch.bale), max(1.0, full_doses(batch))
    beside = [each for each in _given(batch) if each[0].work is not Work.FEED]
    freed = [
        day.rate * _free_share(feed)
        for day in batch.schedule.days
        if day.work is Work.FEED and (feed := feed_of(batch, day)) is not None
    ]
    wanted = _wanted_free_g(batch.bale) - sum(grams * free for _, grams, free in beside)
    room = ceiling_g(batch.bale) - sum(grams for _, grams, _ in beside)
    at_once = min(MOST_AT_ONCE_G_PER_KG * straw_kg, _most_worked_in_g(batch))
    dose = min(wanted / max(sum(freed), _LEAST), room / doses, at_once)
    dose = round(max(LEAST_DOSE_G_PER_KG * straw_kg, dose), 1)
    return replace(batch, nitrogen_per_full_dose_g=dose)


_LEAST = 1e-9


def _most_worked_in_g(batch: Batch) -> float:
    """Return the largest full dose that can be worked into the top, by the weakest feed [g N]."""
    most_g = LARGEST_FEEDING_G * finishing_share(batch.bale) / WHOLE_PERCENT
    return min(
        (
            most_g * feed.label.nitrogen_percent / day.rate
            for day in batch.schedule.days
            if day.work is Work.FEED and (feed := feed_of(batch, day)) is not None
        ),
        default=inf,
    )


def planned_g(batch: Batch) -> float:
    """Return the nitrogen that a whole sequence gives a bale, drenches included.

    Args:
        batch: With its full dose.

    Returns:
        g N per bale.
    """
    return sum(_nitrogen_g(batch, day) for day in batch.schedule.days)


def lack_g(batch: Batch, carrier: Feed) -> float:
    """Return the nitrogen that a sequence falls short of heating a bale well, as another feed.

    Args:
        batch: With its full dose.
        carrier: What would carry the rest.

    Returns:
        g N of the carrier per bale, within the limit; 0 where less than a tenth is missing.
    """
    wanted = _wanted_free_g(batch.bale)
    missing = wanted - sum(grams * free for _, grams, free in _given(batch))
    if missing < LACK_COUNTS * wanted:
        return 0.0
    room = ceiling_g(batch.bale) - planned_g(batch)
    lack = max(0.0, min(missing / _free_share(carrier), room))
    return lack if lack >= LACK_COUNTS * wanted else 0.0


def _given(batch: Batch) -> list[tuple[ScheduleDay, float, float]]:
    """Return each feeding of a sequence with its nitrogen [g] and what share is free in time."""
    return [
        (day, _nitrogen_g(batch, day), _free_share(feed))
        for day in batch.schedule.days
        if (feed := feed_of(batch, day)) is not None
    ]


def _nitrogen_g(batch: Batch, day: ScheduleDay) -> float:
    """Return the nitrogen that a day of the sequence gives a bale [g]."""
    if day.work is Work.WATER:
        return 0.0
    if day.work is Work.FEED:
        return day.rate * batch.nitrogen_per_full_dose_g
    dose = dose_of(batch, day)
    return 0.0 if dose is None else dose.nitrogen_per_bale_g


def _wanted_free_g(bale: Bale) -> float:
    return carbon_g(bale).value / TARGET_CARBON_TO_NITROGEN - nitrogen_g(bale).value


def _free_share(feed: Feed) -> float:
    """Return the share of a feed's nitrogen that is set free while a bale is conditioned."""
    return 1.0 - nitrogen_forms(feed).organic * (1.0 - PARAMETERS["quick"].default)
