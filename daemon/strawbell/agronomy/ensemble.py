"""A bale as a few weighted draws of its balance: what it holds, lost and how warm it is, as bands.

Each draw is one choice from the ranges of `parameters`, walked by the same step; their weights say
how likely each is, and a probe reading moves them: a bale that stays cool while the hot draws rise
is a lukewarm one, and an early reading, when none has risen yet, says nothing. What is left of a
reading is kept as an error of its draw that fades in days.

References:
[1] Growers' logs: five of eight bales or batches got 20 K and more above the air; `parameters`.
[2] Bales of one batch differ by 15 to 20 K in the logs; a probe from place to place by some K.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from functools import lru_cache
from operator import add
from typing import NamedTuple

from strawbell.agronomy.balance import (
    NOTHING,
    Body,
    Left,
    State,
    Weather,
    Work,
    body_of,
    fresh,
    step,
)
from strawbell.agronomy.parameters import DRAWS, HEATS, WEATHERED_HEATS
from strawbell.model.garden import Bale

QUARTERS = ((0.12, 0.03), (0.45, 0.37), (0.92, 0.52), (0.51, 0.08))
"""Share of the day's range of temperature and of its evaporation by quarter from midnight on: a
plain sine with its highest in the afternoon (common practice)."""
READING_ERROR_C = 4.0
"""Error of a reading against the mean of a draw: the place of the probe, and what a draw leaves
out (design choice between [2] and the 2 K of a probe)."""
MODEL_ERROR_C = 4.0
MODEL_ERROR_SHARE = 0.35
"""Error of one draw: at least 4 K, and 0.35 of its rise over the air (design choice; the mean of a
hot bale in the logs varied by 8 K)."""
CARRIED_DAYS = 4.0
"""Time in which what a reading taught of the level fades to 1/e [d] (design choice)."""
LIKELY = 1e-3
"""No draw is ever ruled out wholly by readings: the next one may say otherwise."""
BAND = (0.1, 0.9)
"""The share of cases under the low and the high end of a band: four in five lie within."""
MILD_DAYS_NEEDED = 12.0
"""Days of mild weather that conditioning takes (common practice)."""
WORK_NEEDED_D = 6.0
"""Days of full speed that decomposers work in these: with it the draws come to common practice in
mild, cool, cold and hot weather alike (design choice)."""
HOURS_A_DAY = 24.0
QUARTER_H = HOURS_A_DAY / len(QUARTERS)
FINE_C = 0.05
"""To this an end of a band is found [K]."""
ROOT_TWO = math.sqrt(2.0)
ZERO = Left()


class Ensemble(NamedTuple):
    """The draws of one bale: by draw its state, what has left it, its weight and its error [K]."""

    states: tuple[State, ...]
    left: tuple[Left, ...]
    weights: tuple[float, ...]
    errors_c: tuple[float, ...]


class Band(NamedTuple):
    """A figure from low to high, four cases in five, and its mean."""

    low: float
    mean: float
    high: float


@lru_cache(maxsize=64)
def bodies(bale: Bale) -> tuple[Body, ...]:
    """Return the draws of a bale; a weathered one has the same, otherwise weighted.

    Args:
        bale: As `balance.body_of` takes it.

    Returns:
        One for each of `parameters.DRAWS`.
    """
    return tuple(body_of(bale, tuple(sorted(draw.changed.items()))) for draw in DRAWS)


def steps_of(
    low_c: float, high_c: float, rain_mm: float, et0_mm: float, work: Work, *, whole: bool = False
) -> tuple[tuple[Weather, Work], ...]:
    """Return a day as four steps, with its work in the morning, or as a whole.

    Args:
        low_c, high_c: Air of the day [degC].
        rain_mm, et0_mm: Rain and reference evapotranspiration of the day [mm].
        work: What is done that day; a cover lies all day, and plants drink as the air dries.
        whole: One step: enough for the water of a bale that has cooled under plants.

    Returns:
        Rain falls evenly; what the hours of a shower would change is within the ranges.

    Source: The shape of a day is common practice.
    """
    if whole:
        return ((Weather(HOURS_A_DAY, (low_c + high_c) / 2.0, rain_mm, et0_mm), work),)
    rest = Work(covered=work.covered) if work.covered else NOTHING
    done: tuple[Work, ...] = (rest, work, rest, rest)
    if work.taken_l:
        done = tuple(
            each._replace(taken_l=work.taken_l * evaporates)
            for each, (_, evaporates) in zip(done, QUARTERS, strict=True)
        )
    return tuple(
        (
            Weather(QUARTER_H, low_c + (high_c - low_c) * warm, rain_mm / 4, et0_mm * evaporates),
            doing,
        )
        for doing, (warm, evaporates) in zip(done, QUARTERS, strict=True)
    )


def begin(bale: Bale, air_c: float) -> Ensemble:
    """Return a dry bale, as warm as the air [degC].

    Args:
        bale: As `balance.body_of` takes it.
        air_c: Mean air of the day it is set out.

    Returns:
        With the weights of the logs [1].
    """
    heats = WEATHERED_HEATS if bale.weathered else HEATS
    hot = sum(draw.heats for draw in DRAWS)
    weights = tuple(
        heats / hot if draw.heats else (1.0 - heats) / (len(DRAWS) - hot) for draw in DRAWS
    )
    return Ensemble(
        states=tuple(fresh(body, air_c) for body in bodies(bale)),
        left=(ZERO,) * len(DRAWS),
        weights=weights,
        errors_c=(0.0,) * len(DRAWS),
    )


def walk(ensemble: Ensemble, bale: Bale, steps: Sequence[tuple[Weather, Work]]) -> Ensemble:
    """Return the draws after some steps, what left them summed up.

    Args:
        ensemble: The draws before.
        bale: The bale they are of.
        steps: In order, see `balance.step`.

    Returns:
        The draws after; the errors that readings taught have faded by the time gone.
    """
    states, totals = [], []
    for body, state, total in zip(bodies(bale), ensemble.states, ensemble.left, strict=True):
        gone: Iterable[float] = total
        for weather, work in steps:
            state, left = step(state, weather, work, body)  # noqa: PLW2901
            gone = map(add, gone, left)
        states.append(state)
        totals.append(Left._make(gone))
    faded = math.exp(-sum(weather.hours for weather, _ in steps) / HOURS_A_DAY / CARRIED_DAYS)
    return Ensemble(
        tuple(states),
        tuple(totals),
        ensemble.weights,
        tuple(error * faded for error in ensemble.errors_c),
    )


def believe(ensemble: Ensemble, reading_c: float, air_c: float) -> Ensemble:
    """Return the draws after a probe reading.

    Args:
        ensemble: The draws when it was read.
        reading_c: What the probe showed in the core [degC].
        air_c: Mean air of the day [degC]; a draw is the less sure the further it is above it.

    Returns:
        Weighted by how well each draw foresaw it, with the rest kept as its error.

    Source: Bayes' rule with a normal error.
    """
    weighed, errors = [], []
    for state, weight, error in zip(
        ensemble.states, ensemble.weights, ensemble.errors_c, strict=True
    ):
        spread = math.hypot(READING_ERROR_C, _spread_c(state, air_c))
        off = reading_c - state.temperature_c
        weighed.append(weight / spread * math.exp(-0.5 * ((off - error) / spread) ** 2))
        errors.append(off)
    whole = sum(weighed)
    if whole > 0.0:
        weighed = [max(LIKELY, weight / whole) for weight in weighed]
    else:
        weighed = list(ensemble.weights)
    whole = sum(weighed)
    return ensemble._replace(
        weights=tuple(weight / whole for weight in weighed), errors_c=tuple(errors)
    )


def core_band(ensemble: Ensemble, air_c: float, read_days_ago: float | None = None) -> Band:
    """Return the core temperature as a band [degC].

    Args:
        ensemble: The draws.
        air_c: Mean air of the day [degC].
        read_days_ago: How long ago the core was last read [d]; the band opens again as it grows.
            None: never.

    Returns:
        Quantiles of the mixture of the draws, each with its own error.
    """
    fresh_share = 0.0 if read_days_ago is None else math.exp(-read_days_ago / CARRIED_DAYS)
    parts = []
    for state, weight, error in zip(
        ensemble.states, ensemble.weights, ensemble.errors_c, strict=True
    ):
        wide = _spread_c(state, air_c)
        spread = math.sqrt(fresh_share * READING_ERROR_C**2 + (1.0 - fresh_share) * wide**2)
        parts.append((weight, state.temperature_c + error, spread))
    mean = sum(weight * centre for weight, centre, _ in parts)
    low, high = (_quantile(parts, share) for share in BAND)
    return Band(low, mean, high)


def weighted(ensemble: Ensemble, figures: Iterable[float]) -> Band:
    """Return a figure that each draw has as a band: its mean, and the ends that count.

    Args:
        ensemble: The draws.
        figures: One for each draw, in their order.

    Returns:
        The least and the most of the draws that are not all but ruled out, and the mean.

    Source: The draws stand for the ranges of `parameters`.
    """
    listed = list(figures)
    counting = [
        figure
        for figure, weight in zip(listed, ensemble.weights, strict=True)
        if weight > 1.0 / (4.0 * len(listed))
    ]
    mean = _mean(ensemble, listed)
    return Band(min(*counting, mean), mean, max(*counting, mean))


def held_l(ensemble: Ensemble) -> float:
    """Return the water a bale is expected to hold.

    Args:
        ensemble: The draws.

    Returns:
        The weighted mean [L].
    """
    return _mean(ensemble, (state.water_l for state in ensemble.states))


def unbound_g(ensemble: Ensemble) -> float:
    """Return the nitrogen of a bale that water may still carry out.

    Args:
        ensemble: The draws.

    Returns:
        The weighted mean of urea, ammonium and nitrate, on the top and in the straw [g N].
    """
    return _mean(ensemble, (state.mineral_g for state in ensemble.states))


def hot_c(ensemble: Ensemble) -> float:
    """Return how warm a bale would be if it is one of those that get hot.

    Args:
        ensemble: The draws.

    Returns:
        The mean of the draws that heat [degC].
    """
    hot = [
        state.temperature_c
        for draw, state in zip(DRAWS, ensemble.states, strict=True)
        if draw.heats
    ]
    return sum(hot) / len(hot)


def spent_g(ensemble: Ensemble) -> Band:
    """Return the nitrogen that a spent bale carries.

    Args:
        ensemble: The draws at the end of the season.

    Returns:
        From what is bound in straw and decomposers, as if plants had taken all the rest, to all
        that is there [g N]; the mean lies between.

    Source: by definition; what plants took was not measured.
    """
    low = weighted(ensemble, (each.nitrogen_g - each.mineral_g for each in ensemble.states))
    high = weighted(ensemble, (each.nitrogen_g for each in ensemble.states))
    return Band(low.low, (low.mean + high.mean) / 2.0, high.high)


def conditioned_days(ensemble: Ensemble) -> Band:
    """Return how far a bale is conditioned, in days of mild weather.

    Args:
        ensemble: The draws.

    Returns:
        Days, of which 12 are needed (`MILD_DAYS_NEEDED`): by what warmth, moisture and nitrogen
        inside the bale let decomposers do, its own heat with it.

    Source: common practice, 12 days in mild spring weather and 10 in hot; about three weeks at 7 C
        and up to six at 3 to 4 C, Montana State University Extension (2018).
    """
    share = MILD_DAYS_NEEDED / WORK_NEEDED_D
    return weighted(ensemble, (left.worked_d * share for left in ensemble.left))


def _mean(ensemble: Ensemble, figures: Iterable[float]) -> float:
    return sum(map(float.__mul__, figures, ensemble.weights))


def _spread_c(state: State, air_c: float) -> float:
    return max(MODEL_ERROR_C, MODEL_ERROR_SHARE * (state.temperature_c - air_c))


def _quantile(parts: Sequence[tuple[float, float, float]], share: float) -> float:
    """Return where the mixture of normal curves reaches a share, by halving."""
    low = min(centre - 3.0 * spread for _, centre, spread in parts)
    high = max(centre + 3.0 * spread for _, centre, spread in parts)
    curves = [(weight, centre, 1.0 / (spread * ROOT_TWO)) for weight, centre, spread in parts]
    sought = 2.0 * share - 1.0
    while high - low > FINE_C:
        middle = (low + high) / 2.0
        under = sum(
            [weight * math.erf((middle - centre) * scale) for weight, centre, scale in curves]
        )
        if under < sought:
            low = middle
        else:
            high = middle
    return (low + high) / 2.0
