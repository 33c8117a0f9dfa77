"""The core temperature of a bale for the days ahead, as a band, corrected by probe readings.

The heat balance of `bale_heat` runs from the first wetting. A reading moves the temperature by
its weight against the model (a scalar Kalman gain [1]) and, so that the model does not run back
to its own opinion the next day, also moves what drives it: how far decomposers have taken hold,
and the matter left to rot. A reading far outside the band is believed as it is.

The band is the expected value and 1.28 standard errors to either side, nominally four cases in
five; no published series was found to check that share against. Without readings the error is
0.3 of the strongest heating expected within four days to either side (the peak may come earlier or
later) and at least 4 K; right after a reading it is that of the probe, and it goes back to the
former over some days.

References
----------
[1] R. E. Kalman, "A new approach to linear filtering and prediction problems", Journal of Basic
    Engineering 82:35-45 (1960).
[2] I. G. Mason, Waste Management 26:3-21 (2006): no model of composting predicts temperature
    within a few degrees.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from strawbell.agronomy.air.constants import DayTemperature
from strawbell.agronomy.bale.growth_response import HOT_LIMIT_C
from strawbell.agronomy.bale.heat import (
    FAST_RATE_PER_DAY,
    HEAT_OF_DECOMPOSITION_J_KG,
    HOLD_AT_START,
    SLOW_RATE_PER_DAY,
    STEPS_PER_DAY,
    BaleHeatInputs,
    BaleThermal,
    Feeding,
    HeatState,
    advance,
    bale_thermal,
    feed,
    start_state,
    working_rate,
)

PROBE_ERROR_C = 2.0
"""Error of a reading, mostly from place to place in the bale (common practice)."""
MODEL_ERROR_FLOOR_C = 4.0
MODEL_ERROR_SHARE = 0.3
MODEL_PEAK_WINDOW_DAYS = 4
"""Error of the model without readings; chosen, in keeping with [2]."""
PRIOR_ERROR_C = 8.0
"""Least error the model is given when it is weighed against a reading; chosen."""
READING_MEMORY_DAYS = 4.0
"""Days in which what a reading has taught is forgotten to 1/e; chosen."""
READING_HOLDS_DAYS = 7
"""Days for which a band is said to rest on a reading."""
CONTRADICTION_ERRORS = 2.0
"""A reading further off than this many standard errors is believed as it is."""
BAND_ERRORS = 1.28
"""Standard errors to either side of the expected value: 80 % of a normal distribution."""
AIR_ERROR_PER_DAY_C = 0.4
AIR_ERROR_UNKNOWN_C = 5.0
"""Error of the air's mean: growing along the forecast; where it is unknown (from memory)."""
DEFAULT_AIR_C = 12.0
"""Mean air taken where nothing at all is known of the weather: spring (common practice)."""
CARRIED_DAYS = 7
"""Known days whose mean stands in for a day that is not known."""
MOST_DAYS_AHEAD = 60
COLDEST_READING_C, HOTTEST_READING_C = -40.0, 150.0
"""Readings beyond these are slips of writing, not temperatures of straw."""

_LEAST_EXCESS_C = 1.0
_LARGEST_CHANGE = 20.0
_EVAPORATION_CHILL_C = 3.0


@dataclass(frozen=True, slots=True)
class Reading:
    """A probe reading in the core of a bale: when, and what it showed [degC]."""

    at: datetime
    temperature_c: float


@dataclass(frozen=True, slots=True)
class CoreDay:
    """The core temperature expected on a local date, with its band [degC]."""

    on: date
    low_c: float
    expected_c: float
    high_c: float


@dataclass(frozen=True, slots=True)
class CoreOutlook:
    """The core temperature for the days ahead, today first.

    `from_readings`: a reading of the last seven days is in it; without one the band is wide.
    `contradicted`: the latest reading lay far outside what the model expected, and was believed.
    `peak_on`: the date on which the fast rotting gives the most heat; None when it never starts
    or is still rising at the end. `air_assumed_days`: how many of the days from first wetting to
    the last one asked for had no known air temperature.
    """

    days: tuple[CoreDay, ...]
    from_readings: bool
    contradicted: bool
    peak_on: date | None
    air_assumed_days: int


@dataclass(slots=True)
class _Knowledge:
    """What readings have taught so far."""

    at_step: int | None = None
    error_c: float = 0.0
    hottest_c: float = -math.inf
    contradicted: bool = False


def core_temperature(
    inputs: BaleHeatInputs,
    air: Mapping[date, DayTemperature | None],
    readings: Sequence[Reading],
    now: datetime,
    days_ahead: int,
) -> CoreOutlook:
    """Return the expected core temperature of a bale from today on, as a band per day.

    Parameters
    ----------
    inputs : BaleHeatInputs
        The bale, its feedings [g N] and the date of its first wetting.
    air : Mapping[date, DayTemperature | None]
        Low and high of the air by local date [degC], past and forecast. Where a day is missing
        or None, the mean of the last seven known days stands in (12 degC when none is known)
        and the band is widened.
    readings : Sequence[Reading]
        Probe readings of the batch in any order, -40 to 150 [degC] (ValueError otherwise).
        Those before the first wetting or after `now` are left out.
    now : datetime
        The moment it is asked for, aware and garden-local (ValueError for a naive one).
    days_ahead : int
        How many days after today, 0 to 60 (ValueError otherwise).

    Returns
    -------
    CoreOutlook
        A band for today and each day ahead [degC]; days before the first wetting are left out.

    References
    ----------
    See the module, and `bale_heat` for the model and its calibration.
    """
    if now.tzinfo is None:
        raise ValueError("now must be aware and garden-local, got a naive datetime")
    if not 0 <= days_ahead <= MOST_DAYS_AHEAD:
        raise ValueError(f"days_ahead must lie between 0 and {MOST_DAYS_AHEAD}, got {days_ahead}")
    start, today = inputs.started_on, now.date()
    last = today + timedelta(days=days_ahead)
    length = (last - start).days + 1
    if length <= 0:
        return CoreOutlook((), False, False, None, 0)
    means, assumed = _air_means(air, start, length + MODEL_PEAK_WINDOW_DAYS)
    thermal = bale_thermal(inputs.bale, inputs.water_litres)
    knowledge = _Knowledge()
    temperatures, powers = _run(inputs, thermal, means, _by_step(readings, start, now), knowledge)
    days = _bands(
        temperatures, means, assumed, knowledge, start, max(0, (today - start).days), length
    )
    from_readings = (
        knowledge.at_step is not None
        and (today - start).days - knowledge.at_step / STEPS_PER_DAY <= READING_HOLDS_DAYS
    )
    return CoreOutlook(
        days=days,
        from_readings=from_readings,
        contradicted=from_readings and knowledge.contradicted,
        peak_on=_peak(powers, start),
        air_assumed_days=sum(assumed[:length]),
    )


def _air_means(
    air: Mapping[date, DayTemperature | None], start: date, length: int
) -> tuple[list[float], list[bool]]:
    """Return the mean of each day's air, with a stand-in and a mark where it is unknown."""
    known: list[float] = []
    means: list[float] = []
    assumed: list[bool] = []
    first_known = next(
        (
            day.mean_c
            for offset in range(length)
            if (day := air.get(start + timedelta(days=offset))) is not None
        ),
        DEFAULT_AIR_C,
    )
    for offset in range(length):
        day = air.get(start + timedelta(days=offset))
        assumed.append(day is None)
        if day is not None:
            known.append(day.mean_c)
            means.append(day.mean_c)
        else:
            recent = known[-CARRIED_DAYS:]
            means.append(sum(recent) / len(recent) if recent else first_known)
    return means, assumed


def _by_step(readings: Sequence[Reading], start: date, now: datetime) -> dict[int, list[float]]:
    """Return the readings that count, oldest first, by the step they are nearest to."""
    chosen: dict[int, list[float]] = {}
    for reading in sorted(readings, key=lambda reading: reading.at):
        value = reading.temperature_c
        if not COLDEST_READING_C <= value <= HOTTEST_READING_C:
            raise ValueError(
                f"temperature_c must lie between {COLDEST_READING_C:g} and "
                f"{HOTTEST_READING_C:g}, got {value}"
            )
        local = reading.at.astimezone(now.tzinfo)
        if reading.at > now or local.date() < start:
            continue
        days = (local.date() - start).days + (local.hour * 60 + local.minute) / 1440.0
        chosen.setdefault(round(days * STEPS_PER_DAY), []).append(value)
    return chosen


def _run(
    inputs: BaleHeatInputs,
    thermal: BaleThermal,
    means: Sequence[float],
    readings: Mapping[int, Sequence[float]],
    knowledge: _Knowledge,
) -> tuple[list[float], list[float]]:
    """Return temperature after each step and the fast heat of each day; fill `knowledge`."""
    feedings: dict[int, list[Feeding]] = {}
    for feeding in inputs.fed:
        # Feedings given before the first wetting work from it on.
        offset = max(0, (feeding.on - inputs.started_on).days)
        feedings.setdefault(offset, []).append(feeding)
    state = start_state(thermal, means[0])
    temperatures: list[float] = [means[0]]
    powers: list[float] = []
    step = 0
    for offset, air_c in enumerate(means):
        for feeding in feedings.get(offset, ()):
            feed(state, feeding)
        power = 0.0
        for _ in range(STEPS_PER_DAY):
            for value in readings.get(step, ()):
                _believe(state, thermal, air_c, value, step, knowledge)
                temperatures[step] = state.temperature_c
            advance(state, thermal, air_c, 1.0 / STEPS_PER_DAY)
            step += 1
            power += state.fast_power_w
            temperatures.append(state.temperature_c)
        powers.append(power / STEPS_PER_DAY)
    return temperatures, powers


def _believe(
    state: HeatState,
    thermal: BaleThermal,
    air_c: float,
    reading_c: float,
    step: int,
    knowledge: _Knowledge,
) -> None:
    """Move the state to the reading by its weight, and what drives it accordingly."""
    before = state.temperature_c
    alone = max(PRIOR_ERROR_C, MODEL_ERROR_SHARE * (before - air_c))
    prior = _error_after(alone, knowledge, step)
    surprise = reading_c - before
    spread = math.hypot(prior, PROBE_ERROR_C)
    knowledge.contradicted = abs(surprise) > CONTRADICTION_ERRORS * spread
    gain = 1.0 if knowledge.contradicted else (prior / spread) ** 2
    power = _power(state, thermal)
    state.temperature_c = before + gain * surprise
    state.correction_j += thermal.heat_capacity_j_k * gain * surprise
    knowledge.error_c = PROBE_ERROR_C if knowledge.contradicted else prior * PROBE_ERROR_C / spread
    knowledge.at_step = step
    seen_hotter = knowledge.hottest_c > reading_c + PROBE_ERROR_C
    knowledge.hottest_c = max(knowledge.hottest_c, reading_c)
    _drive(state, thermal, power, (before - air_c, state.temperature_c - air_c), seen_hotter)


def _drive(
    state: HeatState,
    thermal: BaleThermal,
    power_w: float,
    excess_c: tuple[float, float],
    seen_hotter: bool,
) -> None:
    """Scale what drives the heat as the reading scaled the warmth above the air.

    Too cool: what rots fast is used up when an earlier reading was hotter, else the decomposers
    have not yet taken hold (a cold start, which will still heat). Too warm: they have taken hold
    further, and more is left to rot, up to all that a fresh bale has.
    """
    before, after = excess_c
    if before < _LEAST_EXCESS_C:
        wanted = thermal.loss_w_k * max(0.0, after)
        if after < _LEAST_EXCESS_C:
            return
    else:
        change = min(_LARGEST_CHANGE, max(1.0 / _LARGEST_CHANGE, after / before))
        wanted = power_w * change
    full = HEAT_OF_DECOMPOSITION_J_KG * working_rate(state, thermal) / 86_400.0
    if full <= 0.0:
        return
    now_w = _power(state, thermal)
    if wanted < now_w and not seen_hotter:
        state.hold = max(HOLD_AT_START, state.hold * wanted / now_w)
        return
    if wanted > now_w > 0.0:
        state.hold = min(1.0, state.hold * wanted / now_w)
    left = (wanted / (full * state.hold) - SLOW_RATE_PER_DAY * state.slow_kg) / FAST_RATE_PER_DAY
    state.fast_kg = min(thermal.fast_kg, max(0.0, left))


def _power(state: HeatState, thermal: BaleThermal) -> float:
    """Return the heat given off right now [W]."""
    matter = FAST_RATE_PER_DAY * state.fast_kg + SLOW_RATE_PER_DAY * state.slow_kg
    rate = working_rate(state, thermal) * state.hold
    return HEAT_OF_DECOMPOSITION_J_KG * rate * matter / 86_400.0


def _error_after(alone_c: float, knowledge: _Knowledge, step: int) -> float:
    """Return the standard error at a step: the reading's, going over into the model's own."""
    if knowledge.at_step is None:
        return alone_c
    days = max(0.0, (step - knowledge.at_step) / STEPS_PER_DAY)
    kept = math.exp(-2.0 * days / READING_MEMORY_DAYS)
    return math.sqrt(alone_c**2 * (1.0 - kept) + knowledge.error_c**2 * kept)


def _bands(
    temperatures: Sequence[float],
    means: Sequence[float],
    assumed: Sequence[bool],
    knowledge: _Knowledge,
    start: date,
    first: int,
    length: int,
) -> tuple[CoreDay, ...]:
    """Return the band of each day from `first` on."""
    expected: list[float] = []
    for offset in range(len(means)):
        begin, end = offset * STEPS_PER_DAY, (offset + 1) * STEPS_PER_DAY
        if knowledge.at_step is not None and begin < knowledge.at_step <= end:
            begin = knowledge.at_step  # what was expected earlier that day is overtaken
        span = temperatures[begin : end + 1]
        expected.append(sum(span) / len(span))
    days = []
    for offset in range(first, length):
        window = range(
            max(0, offset - MODEL_PEAK_WINDOW_DAYS),
            min(len(means), offset + MODEL_PEAK_WINDOW_DAYS + 1),
        )
        strongest = max(0.0, *(expected[near] - means[near] for near in window))
        alone = math.hypot(MODEL_ERROR_FLOOR_C, MODEL_ERROR_SHARE * strongest)
        error = _error_after(alone, knowledge, offset * STEPS_PER_DAY + STEPS_PER_DAY // 2)
        air_error = (
            AIR_ERROR_UNKNOWN_C if assumed[offset] else AIR_ERROR_PER_DAY_C * (offset - first)
        )
        half = BAND_ERRORS * math.hypot(error, air_error)
        middle = expected[offset]
        days.append(
            CoreDay(
                on=start + timedelta(days=offset),
                low_c=max(middle - half, min(middle, means[offset] - _EVAPORATION_CHILL_C)),
                expected_c=middle,
                high_c=min(middle + half, max(middle, HOT_LIMIT_C)),
            )
        )
    return tuple(days)


def _peak(powers: Sequence[float], start: date) -> date | None:
    """Return the date of the strongest fast heat, None when there is none or it still rises."""
    best = max(range(len(powers)), key=lambda offset: powers[offset])
    if powers[best] <= 0.0 or best == len(powers) - 1:
        return None
    return start + timedelta(days=best)
