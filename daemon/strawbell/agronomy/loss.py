"""What it costs to be wrong, and the choice that costs least.

Planting, covers, the tarp, and what is left out.

Money per bale, in whatever coin the grower counts: only the ratios decide, and every threshold is
derived from them. Of what is done again the next day (a feeding in rain) no more is known than the
rule that is published for it; here much is lost at once, or little is paid each night.

References:
[1] Price of a vegetable transplant in a pot: 3 to 5 in dollars or euros (common practice); two to
    four of them stand in a bale, and what is planted again bears two to three weeks later.
[2] Laying a cover at dusk and taking it off: a quarter of an hour for a row of six bales, twice, at
    what an hour of garden work is worth (common practice).
[3] University of Georgia and other extensions: a fleece or blanket keeps 1 to 3 degC; most nights
    that frost a garden in spring are no colder than that (from memory), so one in ten is not held.
[4] A bale bears 3 to 5 kg of vegetables worth 60 to 100 in some 90 days (common practice).
[5] Retail of urea in small bags 7 to 20, of blood meal 60 to 120 in dollars for a kg of nitrogen
    (from memory; farm prices of urea are a tenth).
[6] Laying a tarp over a row of six bales and weighing it down, or lifting it: four minutes, paid as
    in [2] (common practice).
[7] Seed of one crop for a bale, part of a packet: 2; some 18 L of potting mix to lay it in: 5, in
    dollars or euros (common practice).
[8] U.S. climate normals give the first freeze of autumn at 10 to 90 %: these dates lie some five
    weeks apart in most gardens, 2.56 standard deviations (from memory); see `frost_dates`.
"""

from __future__ import annotations

from collections.abc import Sequence
from statistics import NormalDist

PLANTS_LOST = 20.0
"""What frozen plants of a bale cost, with the weeks that are lost [1]."""
COVERING = 1.8
"""What covering a bale for a night costs [2]."""
COVER_FAILS = 0.1
"""Share of the plants lost under a cover when the frost comes [3]."""
DAY_LATER = 0.8
"""What a day of the season is worth [4]."""
LEAST_WORTH = 0.1
"""Part of a day that even one which grows nothing is worth: plants in pots get no better (design
choice)."""
MINERAL_G, ORGANIC_G = 0.02, 0.09
"""What a gram of nitrogen costs that does not stay, of a mineral and of an organic feed [5]."""
TARP_HANDLED = 0.2
"""What laying a tarp over a bale costs, or lifting it [6]."""
FED = 0.3
"""What giving a bale its feed costs beside the feed: six minutes for a row, paid as in [2]."""
HUNGRY = 0.1
"""Part of a day's growth that each day costs on which a feeding is overdue (design choice)."""
POTTED, SOWN = 12.0, 7.0
"""What a crop of a bale costs to put in, as plants in pots [1] and as seed in its mix [7]."""
FIRST_FREEZE_SD_DAYS = 13.0
"""Standard deviation of the first freeze of autumn from year to year [8] [day]."""
CHANGE_OF_MIND = 0.5
"""What telling the grower otherwise costs: a walk, and some trust (design choice)."""

COVER_FROM = COVERING / (PLANTS_LOST * (1.0 - COVER_FAILS))
"""Chance of frost at the leaf from which a cover costs less than what it saves: 0.1."""
KEEP_COVER_FROM = COVER_FROM / 2.0
"""Chance down to which a cover that was told is kept: whoever laid it has paid for it."""


def covered_loss(chance: float) -> float:
    """Return the expected loss of a night under a cover.

    Args:
        chance: Of frost at the leaf, 0 to 1.

    Returns:
        Money a bale.
    """
    return COVERING + COVER_FAILS * chance * PLANTS_LOST


def night_loss(chance: float) -> float:
    """Return the expected loss of a night for plants that are covered where that pays.

    Args:
        chance: As for `covered_loss`.

    Returns:
        Money a bale.
    """
    return min(chance * PLANTS_LOST, covered_loss(chance))


def planting_losses(chances: Sequence[float], worth: Sequence[float]) -> tuple[float, ...]:
    """Return the expected loss of planting today, tomorrow, and so on to after the last night.

    Args:
        chances: Of a killing frost at the leaf in the nights from today on, 0 to 1.
        worth: What each of these days would grow [whole days of the season]: waiting through cold
            ones costs little.

    Returns:
        Money a bale by days waited, one more than there are nights.
    """
    losses = [night_loss(chance) for chance in chances]
    days = [DAY_LATER * max(LEAST_WORTH, min(1.0, each)) for each in worth]
    return tuple(sum(days[:wait]) + sum(losses[wait:]) for wait in range(len(losses) + 1))


def is_fed_for_nothing(killed: float, days: int, nitrogen: float) -> bool:
    """Return whether a feeding of the season is left out for a night that may kill what is fed.

    Args:
        killed: Chance that the night does, 0 to 1.
        days: How many days later one would know: a plant that lives goes hungry so long [day].
        nitrogen: What the feed costs [money a bale].

    Returns:
        Whether giving it costs more than leaving it out.
    """
    return killed * (FED + nitrogen) > (1.0 - killed) * HUNGRY * DAY_LATER * days


def is_planted_for_nothing(
    ripe_days: float, bears_days: int, freeze_days: int, cost: float
) -> bool:
    """Return whether a crop is left out for the year: a freeze takes more than it is put in for.

    All that the bale's days are worth from planting on is picked on the days that it bears; each
    of these counts by the chance that the first freeze has not come.

    Args:
        ripe_days: From today to the first picking [day].
        bears_days: How long it is picked then, at least 1 [day].
        freeze_days: From today to the first freeze at even odds [day].
        cost: What it costs to put in, `POTTED` or `SOWN` [money a bale].

    Returns:
        Whether what is expected to be picked is worth less.
    """
    freeze = NormalDist(freeze_days, FIRST_FREEZE_SD_DAYS)
    picked = sum(1.0 - freeze.cdf(ripe_days + day) for day in range(bears_days))
    return DAY_LATER * (ripe_days + bears_days) / bears_days * picked < cost


def gram_lost(organic: float) -> float:
    """Return what a gram of nitrogen costs that does not stay.

    Args:
        organic: Share of it that is organic, 0 to 1.

    Returns:
        Money a gram.
    """
    return MINERAL_G + organic * (ORGANIC_G - MINERAL_G)


def tarp_pays(
    kept_g: Sequence[float], feedings: Sequence[int], gram: float, *, lying: bool
) -> bool:
    """Return whether a tarp saves anything over the open sky, lying for as many days as are best.

    One that lies is lifted some time, whatever is done; one that does not is laid and lifted for
    it, and not before the days until tomorrow's rain pay for the laying: later costs the same, and
    more is known.

    Args:
        kept_g: Nitrogen it keeps in a bale through the first day, the first two, and so on [g].
        feedings: How often it is lifted and laid again in each of these.
        gram: As `gram_lost` returns it.
        lying: Whether it lies today.

    Returns:
        Whether to have it lie.
    """
    if not lying and gram * max(kept_g[:2], default=0.0) < TARP_HANDLED:
        return False
    handled = 0 if lying else 2
    saved = max(
        (
            gram * kept - TARP_HANDLED * (handled + 2 * fed)
            for kept, fed in zip(kept_g, feedings, strict=True)
        ),
        default=0.0,
    )
    return saved > 0.0
