"""Doses: how much nitrogen a bale is fed, and from that and the label to grams, volume and water.

Published sequences give 22 to 248 g of nitrogen a bale, whatever it weighs; by what the straw
needs they differ far less. A bale is fed by its straw, to a target, under a limit.

References:
[1] By definition: mass of feed = mass of nutrient / share of the nutrient in the feed.
[2] University of Georgia CAES (1997) and Orangeburg County, South Carolina: 1 US cup of 10-10-10
    per bale on the last feeding day.
[3] Washington State University Extension FS109E: 4.5 full doses of 1/2 US cup of urea, 184 g N on a
    bale of about 20 kg, which brings it to 31:1; of 1 US cup of ammonium sulfate 224 g, 27:1.
[4] "The composting handbook", Table 4.2: 25 to 40 parts of carbon to one of nitrogen are ideal;
    under 20 nitrogen escapes as ammonia.
[5] T. K. Hartz, P. R. Johnstone (2006): of organic feeds 60 to 66 % is free within eight weeks.
"""

from __future__ import annotations

from functools import lru_cache
from math import inf

from msgspec.structs import replace

from strawbell.agronomy.bales import (
    BALES,
    MOST_BALES,
    carbon_g,
    dry_matter_kg,
    nitrogen_g,
    top_area_m2,
)
from strawbell.agronomy.feeds import (
    PHOSPHORUS_IN_PHOSPHATE,
    POTASSIUM_IN_POTASH,
    WHOLE_PERCENT,
    label_g_per_l,
    nitrogen_forms,
)
from strawbell.agronomy.figures import within
from strawbell.agronomy.parameters import PARAMETERS
from strawbell.agronomy.watering import WASH_IN_MM
from strawbell.model.feeds import Dose, Feed
from strawbell.model.garden import Bale, Batch, ScheduleDay, Work

FINISHING_NITROGEN_G = 22.7
"""Nitrogen of 1 US cup (227 g) of 10-10-10, the last feeding of a bale [g] [2]."""
LARGEST_FEEDING_G = 1500.0
"""More feed than this at once cannot be worked into a bale's top (common practice) [g]; the
last feeding is cut to it when a label is weak."""
MOST_NITROGEN_AT_ONCE_G = 1000.0
"""More nitrogen in one feeding of one bale is a slip of the pen: four times any published whole
sequence [g]."""
MOST_WATER_L = 1000.0
"""More water for one bale is a slip of the pen [L]."""


@lru_cache(maxsize=512)
def nitrogen_dose(
    feed: Feed,
    nitrogen_per_bale_g: float,
    bales: int,
    water_per_bale_l: float = 0.0,
) -> Dose:
    """Return what one feeding with a wanted mass of nitrogen takes.

    Args:
        feed: With its label [percent] and, for a kitchen measure, its density [kg/L].
        nitrogen_per_bale_g: Wanted nitrogen [g per bale], over 0 to 1000.
        bales: Bales of the batch, 1 to 10 000.
        water_per_bale_l: Water to wash it in [L per bale], 0 to 1000 (`watering`); none by
            default. A feed that is poured gets what its label's rate needs when that is more, so
            that it is never stronger.

    Returns:
        Masses [g], volumes [mL], nitrogen, phosphorus and potassium as elements [g per bale].

    Raises:
        ValueError: When the feed has no nitrogen, or an argument is out of range.

    Source: by definition: mass of feed = mass of nitrogen / share of nitrogen.
    """
    if nitrogen_per_bale_g == 0:
        raise ValueError("nitrogen_per_bale_g must be over 0 g, got 0")
    within("nitrogen_per_bale_g", nitrogen_per_bale_g, 0.0, MOST_NITROGEN_AT_ONCE_G, "g")
    if feed.label.nitrogen_percent <= 0:
        raise ValueError(f"feed {feed.name!r} has no nitrogen on its label")
    per_bale_g = nitrogen_per_bale_g * WHOLE_PERCENT / feed.label.nitrogen_percent
    return _dose(feed, per_bale_g, bales, water_per_bale_l)


@lru_cache(maxsize=512)
def drench_dose(feed: Feed, bales: int, water_per_bale_l: float, strength: float = 1.0) -> Dose:
    """Return a feed poured as strong as its label has it.

    Args:
        feed: Liquid or soluble, with the rate of its label.
        bales: Bales of the batch, 1 to 10 000.
        water_per_bale_l: Water it is stirred into [L per bale], over 0 to 1000.
        strength: Share of the label's strength, 0 to 1.

    Returns:
        Fish emulsion 5-1-1 at 15 mL/L in 3.8 L: 57 mL, 3.3 g of nitrogen.

    Raises:
        ValueError: When the feed is not poured or has no rate, or an argument is out of range.

    Source: by definition; the label decides.
    """
    g_per_l = label_g_per_l(feed)
    if g_per_l is None or not feed.form.is_poured:
        raise ValueError(f"feed {feed.name!r} has no rate at which it is poured")
    within("water_per_bale_l", water_per_bale_l, 0.0, MOST_WATER_L, "L")
    within("strength", strength, 0.0, 1.0, "")
    dose = _dose(feed, g_per_l * water_per_bale_l * strength, bales, water_per_bale_l)
    if feed.rate is None or feed.rate.ml_per_l is None:
        return dose
    # By the label's own measure, whatever the feed weighs.
    per_bale_ml = feed.rate.ml_per_l * water_per_bale_l * strength
    return replace(dose, per_bale_ml=per_bale_ml, total_ml=per_bale_ml * bales)


@lru_cache(maxsize=512)
def finishing_dose(
    feed: Feed, bales: int, water_per_bale_l: float = 0.0, share: float = 1.0
) -> Dose:
    """Return the last, balanced feeding by its own rule.

    Args:
        feed: A balanced feed; of one without nitrogen the phosphate, else the potash is matched.
        bales: Bales of the batch, at least 1.
        water_per_bale_l: As for `nitrogen_dose`.
        share: How large it is over that of a two-string bale, by the straw
            (`finishing_share`).

    Returns:
        As much nutrient as 1 US cup of 10-10-10, 22.7 g of N per bale, but never more than 1.5 kg
        of feed; of one with a label's rate a drench.

    Raises:
        ValueError: When the label shows no nutrient at all.

    Source: University of Georgia CAES news (2 June 1997); Orangeburg County (SC) Master Gardeners
        (2011): 1 cup of 10-10-10 per bale on day 10.
    """
    if feed.rate is not None and feed.form.is_poured:
        return drench_dose(feed, bales, water_per_bale_l)
    label = feed.label
    shares = (label.nitrogen_percent, label.phosphate_percent, label.potash_percent)
    percent = next((share for share in shares if share > 0), None)
    if percent is None:
        raise ValueError(f"feed {feed.name!r} has no nutrient on its label")
    wanted_g = FINISHING_NITROGEN_G * WHOLE_PERCENT / percent
    per_bale_g = min(wanted_g, LARGEST_FEEDING_G) * share
    return _dose(feed, per_bale_g, bales, water_per_bale_l)


def scaled(dose: Dose, share: float, water_share: float = 1.0) -> Dose:
    """Return a part of a dose, in the same water or in a part of it.

    Args:
        dose: The whole.
        share: 0 to 1; outside ValueError.
        water_share: 0 to 1; outside ValueError.

    Returns:
        All masses and volumes of feed times `share`, the water times `water_share`.
    """
    within("share", share, 0.0, 1.0, "")
    within("water_share", water_share, 0.0, 1.0, "")
    return replace(
        dose,
        water_per_bale_l=dose.water_per_bale_l * water_share,
        per_bale_g=dose.per_bale_g * share,
        total_g=dose.total_g * share,
        per_bale_ml=None if dose.per_bale_ml is None else dose.per_bale_ml * share,
        total_ml=None if dose.total_ml is None else dose.total_ml * share,
        nitrogen_per_bale_g=dose.nitrogen_per_bale_g * share,
        phosphorus_per_bale_g=dose.phosphorus_per_bale_g * share,
        potassium_per_bale_g=dose.potassium_per_bale_g * share,
    )


def _dose(feed: Feed, per_bale_g: float, bales: int, water_per_bale_l: float) -> Dose:
    within("bales", bales, 1, MOST_BALES, "")
    rate = feed.rate if feed.form.is_poured else None
    per_bale_ml = None if feed.density_kg_per_l is None else per_bale_g / feed.density_kg_per_l
    label = feed.label
    phosphorus = per_bale_g * label.phosphate_percent / WHOLE_PERCENT * PHOSPHORUS_IN_PHOSPHATE
    potassium = per_bale_g * label.potash_percent / WHOLE_PERCENT * POTASSIUM_IN_POTASH
    return Dose(
        feed=feed.name,
        form=feed.form,
        bales=bales,
        per_bale_g=per_bale_g,
        total_g=per_bale_g * bales,
        per_bale_ml=per_bale_ml,
        total_ml=None if per_bale_ml is None else per_bale_ml * bales,
        nitrogen_per_bale_g=per_bale_g * label.nitrogen_percent / WHOLE_PERCENT,
        phosphorus_per_bale_g=phosphorus,
        potassium_per_bale_g=potassium,
        water_per_bale_l=_water(feed, per_bale_g, water_per_bale_l),
        rate=rate,
        material=feed.material,
    )


def _water(feed: Feed, per_bale_g: float, wanted_l: float) -> float:
    """Return the water of a feeding [L per bale]; what is poured is no stronger than its label."""
    within("water_per_bale_l", wanted_l, 0.0, MOST_WATER_L, "L")
    g_per_l = label_g_per_l(feed) if feed.form.is_poured else None
    return max(wanted_l, per_bale_g / g_per_l) if g_per_l else wanted_l


TARGET_CARBON_TO_NITROGEN = 31.0
"""Ratio a sequence brings the bale to, counting what its feed frees in time [3]."""
CEILING_CARBON_TO_NITROGEN = 25.0
"""Ratio no sequence goes under, the lower end of the ideal [4]: 250 g N on 20 kg of wheat straw,
just above every published total."""
LEAST_DOSE_G_PER_KG = 0.3
LARGEST_DOSE_G_PER_KG = 12.0
"""Full doses outside this are slips of the pen [g N per kg of dry straw]: 5 and 210 g for 20 kg."""
MOST_AT_ONCE_G_PER_KG = 3.0
"""Unasked no single dose is larger [g N per kg of dry straw]: just above the largest published one,
1 US cup of ammonium sulfate on 20 kg [3]."""
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

    Sources: [3] FS109E for the target. [4] "The composting handbook" for the limit. [5] Hartz and
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
