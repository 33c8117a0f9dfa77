"""What a season came to under one policy, and what it cost in one sum.

Smaller is better but for the nitrogen kept. The sum has everything that somebody has a price for;
what nobody priced (messages, dry tops) stands beside it.

References
----------
[1] Water and the time to carry it: a cubic metre 1 to 3, a can of 9 L half a minute (from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from strawbell.agronomy.balance import Work
from strawbell.agronomy.bales import nitrogen_g
from strawbell.agronomy.doses import planned_g
from strawbell.agronomy.growing import degree_days
from strawbell.agronomy.loss import (
    COVER_FAILS,
    COVERING,
    DAY_LATER,
    PLANTS_LOST,
    TARP_HANDLED,
    gram_lost,
)
from tests.value.bales import Deed, Fate
from tests.value.springs import DAYS, TOMATO, Sky, batch_on

GRAM_LOST = {"Urea": gram_lost(0.0), "Blood meal": gram_lost(1.0)}
"""What a gram of nitrogen costs that did not stay."""
LITRE = 0.01
"""What a litre poured costs [1]."""
GROWING_K = 10.0
"""Degree days of a whole day of the growing season: 1250 degF from planting to fruit in 70 days are
10 degC a day (Montana State University for the first, common practice for the second)."""
PLANTED_AGAIN_AFTER = 7
"""Days after which frozen plants are replaced (design choice)."""


@dataclass(frozen=True, slots=True)
class Measures:
    """One bale in one season."""

    leached_g: float
    second_g: float
    air_g: float
    kept_percent: float
    """Nitrogen there when it was ready, over what the plan would bring it to."""
    poured_l: float
    drained_l: float
    ready_day: float
    unfinished: int
    planted_day: float
    growing_days_missed: float
    """Days of growing weather before it was planted; cold days grow nothing and count less."""
    held_days: int
    plants_lost: float
    covers: int
    covers_for_nothing: int
    frosts_uncovered: int
    messages_conditioning: float
    """A week, until planting."""
    messages_season: float
    """A week, from planting on."""
    loss: float

    @property
    def lost_g(self) -> float:
        """Return what left by water and air [g N]."""
        return self.leached_g + self.air_g


def measured(
    feed: str, fate: Fate, deeds: Sequence[Deed], skies: Sequence[Sky], *, ideal: bool = False
) -> Measures:
    """Return what a season came to; an `ideal` grower plants and covers as it turns out best."""
    ready = DAYS if fate.ready_day is None else fate.ready_day
    told = next((day for day, deed in enumerate(deeds) if deed.puts_in), DAYS)
    covered = [deed.covers for deed in deeds]
    planted = max(ready, told)
    if ideal:
        covered = [frost(sky) for sky in skies]
        planted = min(
            range(ready, DAYS + 1),
            key=lambda day: DAY_LATER * missed(skies[:day]) + sum(_nights(day, covered, skies)[:2]),
        )
    lost, paid, needless, uncovered = _nights(planted, covered, skies)
    loss = (
        GRAM_LOST[feed] * (fate.leached_g + fate.air_g)
        + DAY_LATER * missed(skies[:planted])
        + lost
        + paid
        + LITRE * fate.poured_l
        + TARP_HANDLED * looks_of(deeds)
    )
    messages = [deed.messages for deed in deeds]
    return Measures(
        leached_g=fate.leached_g,
        second_g=fate.second_g,
        air_g=fate.air_g,
        kept_percent=fate.kept_g / target_g(feed) * 100.0,
        poured_l=fate.poured_l,
        drained_l=fate.drained_l,
        ready_day=float(ready),
        unfinished=int(fate.ready_day is None),
        planted_day=float(planted),
        growing_days_missed=missed(skies[:planted]),
        held_days=sum(deed.held for deed in deeds),
        plants_lost=lost / PLANTS_LOST,
        covers=round(paid / COVERING),
        covers_for_nothing=needless,
        frosts_uncovered=uncovered,
        messages_conditioning=_weekly(messages[:told]),
        messages_season=_weekly(messages[told:]),
        loss=loss,
    )


def missed(skies: Sequence[Sky]) -> float:
    """Return how many days of growing weather some days were, none of them more than one."""
    base_c = TOMATO.crop.degree_day_base_c or 0.0
    days = 0.0
    for sky in skies:
        grown = degree_days(max(sky.low_c, sky.high_c), sky.low_c, base_c)
        days += min(1.0, grown / GROWING_K)
    return days


def frost(sky: Sky) -> bool:
    """Return whether a night cools tomato leaves to the limit at which they are covered."""
    return sky.leaf_c <= TOMATO.crop.cover_at_c


def target_g(feed: str) -> float:
    """Return the nitrogen a bale has when all of the plan was given and nothing was lost [g]."""
    batch = batch_on(feed)
    return planned_g(batch) + nitrogen_g(batch.bale).value


def looks_of(deeds: Sequence[Deed]) -> int:
    """Return how often a tarp was laid or lifted, to feed under it among that."""
    lies = [False, *(deed.work.covered for deed in deeds)]
    fed = (
        before and deed.work.covered and feeds(deed.work)
        for before, deed in zip(lies, deeds, strict=False)
    )
    return sum(one != other for one, other in pairwise(lies)) + 2 * sum(fed)


def feeds(work: Work) -> bool:
    """Return whether a day's work brings feed."""
    return work.urea_g + work.ammonium_g + work.nitrate_g + work.organic_g > 0.0


def _nights(
    planted: int, covered: Sequence[bool], skies: Sequence[Sky]
) -> tuple[float, float, int, int]:
    """Return plants lost and covers paid for, covers for nothing and frosts without one."""
    limit_c, kills_c = TOMATO.crop.cover_at_c, TOMATO.crop.kill_at_c or 0.0
    lost = paid = 0.0
    needless = uncovered = 0
    bare_until = 0
    for day in range(planted, len(skies)):
        leaf_c = skies[day].leaf_c
        if covered[day]:
            paid += COVERING
            needless += leaf_c > limit_c
        elif leaf_c <= limit_c:
            uncovered += 1
        if leaf_c <= kills_c and day >= bare_until:
            lost += PLANTS_LOST * (COVER_FAILS if covered[day] else 1.0)
            bare_until = day if covered[day] else day + PLANTED_AGAIN_AFTER
    return lost, paid, needless, uncovered


def _weekly(messages: Sequence[int]) -> float:
    return sum(messages) / len(messages) * 7.0 if messages else 0.0
