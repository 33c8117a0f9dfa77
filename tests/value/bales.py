"""Bales unlike the one that is assumed, and what becomes of one of them under a policy.

Each bale is a draw from the ranges of the balance, heats or not among them; beside the balance runs
a second model of leaching that shares nothing with it but the water.
"""

from __future__ import annotations

import random
from collections.abc import Sequence
from typing import NamedTuple, Protocol

from strawbell.agronomy.balance import NOTHING, Body, State, Work, body_of, fresh, step
from strawbell.agronomy.ensemble import WORK_NEEDED_D, steps_of
from strawbell.agronomy.parameters import HEATS, PARAMETERS
from strawbell.model.garden import Bale
from tests.value.springs import GRAMS_DAYS, Sky

HOT_FAST, LUKEWARM_FAST = (0.10, 0.22), (0.01, 0.06)
"""Share of straw that rots in the first weeks: of bales that heat, and of those that do not."""
BOUND_PER_DAY = 0.06
"""Share of what is dissolved that the second model has bound or sorbed each day (design choice:
half of a dose in eleven days)."""
CM_PER_M = 100.0


class Deed(NamedTuple):
    """What a grower did on a date: to the bale, and whether plants went in or were covered."""

    work: Work = NOTHING
    held: bool = False
    """The day's step of the sequence was not done."""
    covers: bool = False
    puts_in: bool = False
    messages: int = 0


class Fate(NamedTuple):
    """What came of one bale: grams and litres to day 28, and when it was ready."""

    leached_g: float
    second_g: float
    air_g: float
    poured_l: float
    drained_l: float
    kept_g: float
    """Nitrogen on and in the bale when it was ready, or at the end."""
    ready_day: int | None
    """Mornings after the start from which the plan was done and the bale worked out."""


class Policy(Protocol):
    """What is done day by day, seeing the sky and feeling the bale."""

    over: int | None
    """Day of the season from which the plan allows planting, None while it is not done."""

    def day(self, day: int, sky: Sky, bale: State) -> Deed:
        """Return what is done on a day of the season."""
        ...


def drawn(bale: Bale, number: int, seed: int = 7) -> tuple[Body, ...]:
    """Return bales out of the ranges of the balance, three in five of which heat.

    Each figure is drawn from a triangle over its range with the default on top.
    """
    # The same bales come again for the same seed; nobody is to be kept from guessing them.
    dice = random.Random(seed)
    bodies = []
    for index in range(number):
        figures = {
            name: dice.triangular(each.low, each.high, each.default)
            for name, each in PARAMETERS.items()
        }
        heats = index < round(HEATS * number)
        figures["fast"] = dice.uniform(*(HOT_FAST if heats else LUKEWARM_FAST))
        bodies.append(body_of(bale, tuple(sorted(figures.items()))))
    return tuple(bodies)


class Burns:
    """The second model: each dose is followed by the water that has drained since it was given.

    Of a dose at the top, (P / (P + theta))^h has left a depth of h [cm] after P [cm] of drainage
    (Burns 1975); what is bound meanwhile stays.
    """

    def __init__(self, body: Body) -> None:
        """Begin with a bale that was never fed."""
        self._depth_cm = body.volume_m3 / body.top_m2 * CM_PER_M
        self._volume_l = body.volume_m3 * 1000.0
        self._per_l_cm = 0.1 / body.top_m2
        self._doses: list[list[float]] = []
        self.leached_g = 0.0

    def day(self, given_g: float, drained_l: float, water_l: float) -> None:
        """Take a day's feed, drainage and water held."""
        if given_g > 0.0:
            self._doses.append([given_g, 0.0])
        theta, moved_cm = water_l / self._volume_l, drained_l * self._per_l_cm
        for dose in self._doses:
            before, after = (
                (each / (each + theta)) ** self._depth_cm if each > 0.0 else 0.0
                for each in (dose[1], dose[1] + moved_cm)
            )
            gone = dose[0] * (after - before) / (1.0 - before) if before < 1.0 else 0.0
            self.leached_g += gone
            dose[0] = (dose[0] - gone) * (1.0 - BOUND_PER_DAY)
            dose[1] += moved_cm


def live(body: Body, skies: Sequence[Sky], policy: Policy) -> tuple[Fate, list[Deed]]:
    """Return what becomes of a bale, and what was done to it."""
    state = fresh(body, (skies[0].low_c + skies[0].high_c) / 2.0)
    second, deeds = Burns(body), []
    leached = air = poured = drained = worked = 0.0
    ready: int | None = None
    kept_g = 0.0
    for day, sky in enumerate(skies):
        over = policy.over
        if ready is None and over is not None and day >= over and worked >= WORK_NEEDED_D:
            ready, kept_g = day, state.nitrogen_g
        deed = policy.day(day, sky, state)
        deeds.append(deed)
        work, ran = deed.work, 0.0
        counts = day < GRAMS_DAYS
        for quarter, doing in steps_of(sky.low_c, sky.high_c, sky.rain_mm, sky.et0_mm, work):
            state, left = step(state, quarter, doing, body)
            worked += left.worked_d
            ran += left.drained_l + left.bypassed_l
            if counts:
                leached += left.leached_g
                air += left.air_g
        if counts:
            poured += work.poured_l
            drained += ran
            fed_g = work.urea_g + work.ammonium_g + work.nitrate_g + work.organic_g
            second.day(fed_g, ran, state.water_l)
    kept_g = kept_g if ready is not None else state.nitrogen_g
    return Fate(leached, second.leached_g, air, poured, drained, kept_g, ready), deeds
