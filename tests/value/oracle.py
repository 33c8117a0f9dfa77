"""What could have been with the same options and the weather, and the bale, known ahead.

A search from the best of the other policies: each day more water or less, each feeding a day later
or sooner, the tarp off or on where there is one. Only what is better is taken, so that no policy it
began from beats it; that there is nothing better still is not proved.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from strawbell.agronomy.balance import Body, Work
from strawbell.agronomy.loss import DAY_LATER, TARP_HANDLED
from strawbell.agronomy.schedules import SCHEDULES
from tests.value.bales import Deed, Fate, live
from tests.value.measures import GRAM_LOST, LITRE, feeds, looks_of, missed
from tests.value.policies import AsTold
from tests.value.springs import DAYS, GRAMS_DAYS, Sky

ROUNDS = 2
"""How often all days are gone through (design choice: a third round found next to nothing)."""
SOONEST = SCHEDULES["alternate-days"].plant_from_day - 1
"""No plan is over sooner than the schedule has it [day of the season]."""
MORE_L = 3.0
"""What a day is given that had no water [L]."""

Plan = tuple[list[Deed], int | None]
"""The days of a season, and from which of them the plan allows planting."""


def foreseen(
    feed: str, body: Body, skies: Sequence[Sky], begun: Sequence[Plan], *, tarp: bool
) -> tuple[Fate, list[Deed]]:
    """Return the best that was found for a bale."""
    best = min(begun, key=lambda plan: _price(feed, body, skies, plan))
    least = _price(feed, body, skies, best)
    for _ in range(ROUNDS):
        before = least
        # What is poured once the bale is ready is for the plants, and stays.
        for day in range(min(DAYS, _ready(body, skies, best))):
            for other in _others(best, day, tarp=tarp):
                price = _price(feed, body, skies, other)
                if price < least:
                    best, least = other, price
        if least == before:
            break
    return live(body, skies, AsTold(*best))


def _others(plan: Plan, day: int, *, tarp: bool) -> Iterator[Plan]:
    deeds, over = plan
    work = deeds[day].work
    amounts = (0.0, 0.5 * work.poured_l, 1.5 * work.poured_l) if work.poured_l else (MORE_L,)
    for litres in amounts:
        yield _with(deeds, day, work._replace(poured_l=litres)), over
    if tarp:
        yield _with(deeds, day, work._replace(covered=not work.covered)), over
    if not feeds(work):
        return
    if day + 1 < DAYS and over is not None and over + 1 < DAYS:
        # This feeding and all after it a day later.
        rest = [Deed(Work(covered=work.covered)), *deeds[day:-1]]
        yield [*deeds[:day], *rest], over + 1
    if day > 0 and over is not None and over > SOONEST and not feeds(deeds[day - 1].work):
        yield [*deeds[: day - 1], *deeds[day:], Deed()], over - 1


def _with(deeds: list[Deed], day: int, work: Work) -> list[Deed]:
    return [*deeds[:day], deeds[day]._replace(work=work), *deeds[day + 1 :]]


def _price(feed: str, body: Body, skies: Sequence[Sky], plan: Plan) -> float:
    """Return what a plan costs of what it decides: nitrogen, days and water."""
    fate, deeds = live(body, skies[:GRAMS_DAYS], AsTold(*plan))
    if fate.ready_day is None:
        fate, deeds = live(body, skies, AsTold(*plan))
    ready = DAYS if fate.ready_day is None else fate.ready_day
    looks = TARP_HANDLED * looks_of(deeds)
    lost_g = fate.leached_g + fate.air_g
    return (
        GRAM_LOST[feed] * lost_g + DAY_LATER * missed(skies[:ready]) + LITRE * fate.poured_l + looks
    )


def _ready(body: Body, skies: Sequence[Sky], plan: Plan) -> int:
    fate, _ = live(body, skies, AsTold(*plan))
    return DAYS if fate.ready_day is None else fate.ready_day
