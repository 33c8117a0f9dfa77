"""What it costs to be wrong, and the choice that costs least: planting, and covering at night.

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
"""

from __future__ import annotations

from collections.abc import Sequence

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
CHANGE_OF_MIND = 0.5
"""What telling the grower otherwise costs: a walk, and some trust (design choice)."""

COVER_FROM = COVERING / (PLANTS_LOST * (1.0 - COVER_FAILS))
"""Chance of frost at the leaf from which a cover costs less than what it saves: 0.1."""
KEEP_COVER_FROM = COVER_FROM / 2.0
"""Chance down to which a cover that was told is kept: whoever laid it has paid for it."""


def covered_loss(chance: float) -> float:
    """Return the expected loss of a night under a cover, `chance` of frost at the leaf 0 to 1."""
    return COVERING + COVER_FAILS * chance * PLANTS_LOST


def night_loss(chance: float) -> float:
    """Return the expected loss of a night for plants that are covered where that pays."""
    return min(chance * PLANTS_LOST, covered_loss(chance))


def planting_losses(chances: Sequence[float], worth: Sequence[float]) -> tuple[float, ...]:
    """Return the expected loss of planting today, tomorrow, and so on to after the last night.

    `chances` are those of a killing frost at the leaf in the nights from today on, 0 to 1; `worth`
    is what each of these days would grow, in whole days of the season: waiting through cold ones
    costs little.
    """
    losses = [night_loss(chance) for chance in chances]
    days = [DAY_LATER * max(LEAST_WORTH, min(1.0, each)) for each in worth]
    return tuple(sum(days[:wait]) + sum(losses[wait:]) for wait in range(len(losses) + 1))
