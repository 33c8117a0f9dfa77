"""How fast decomposers work at a given temperature and moisture, as a share of their best."""

from __future__ import annotations

import math

COLD_LIMIT_C = 0.0
"""At or under it nothing is decomposed: the water is frozen [2]."""
FULL_RATE_FROM_C = 30.0
FULL_RATE_TO_C = 55.0
HOT_LIMIT_C = 75.0
"""Corners of the heat response of [2] (from memory)."""
DRY_LIMIT_FRACTION = 0.20
MOIST_FROM_FRACTION = 0.40
"""Corners of the moisture response of [2] (from memory)."""


def cardinal_response(
    temperature_c: float, minimum_c: float, optimum_c: float, maximum_c: float
) -> float:
    """Return the share of the best growth rate at a temperature: the cardinal model [1].

    g = (T - Tmax)(T - Tmin)^2 / {(Topt - Tmin)[(Topt - Tmin)(T - Topt)
    - (Topt - Tmax)(Topt + Tmin - 2T)]}, and 0 outside Tmin to Tmax.

    Parameters
    ----------
    temperature_c : float
        Temperature of what grows [degC], finite; outside minimum to maximum the result is 0.
    minimum_c, optimum_c, maximum_c : float
        The three cardinal temperatures [degC], finite and rising. The model asks for an optimum
        above the middle of minimum and maximum, since its divisor passes through zero between
        minimum and optimum otherwise; anything else is refused with ValueError.

    Returns
    -------
    float
        Share of the rate at the optimum [0 to 1]: 1 at the optimum, rising up to it, falling
        after it.

    References
    ----------
    [1] L. Rosso, J. R. Lobry, J. P. Flandrois, "An unexpected correlation between cardinal
        temperatures of microbial growth highlighted by a new model", Journal of Theoretical
        Biology 162(4):447-463 (1993).
    """
    for name, value in (
        ("temperature_c", temperature_c),
        ("minimum_c", minimum_c),
        ("optimum_c", optimum_c),
        ("maximum_c", maximum_c),
    ):
        if not math.isfinite(value):
            raise ValueError(f"{name} must be a finite temperature, got {value}")
    if not minimum_c < optimum_c < maximum_c:
        raise ValueError(
            f"optimum_c must lie between minimum_c and maximum_c, got {minimum_c:g}, "
            f"{optimum_c:g}, {maximum_c:g}"
        )
    if optimum_c <= (minimum_c + maximum_c) / 2.0:
        raise ValueError(
            f"optimum_c must lie above the middle of minimum_c and maximum_c, got {minimum_c:g}, "
            f"{optimum_c:g}, {maximum_c:g}"
        )
    if not minimum_c < temperature_c < maximum_c:
        return 0.0
    share = _cardinal_formula(temperature_c, minimum_c, optimum_c, maximum_c)
    return min(1.0, max(0.0, share))


def _cardinal_formula(
    temperature_c: float, minimum_c: float, optimum_c: float, maximum_c: float
) -> float:
    """Return the bare formula, which has a pole where the optimum is under the middle.

    Divided through by the span so that neither huge nor tiny spans overflow or vanish.
    """
    span = optimum_c - minimum_c
    above_minimum = (temperature_c - minimum_c) / span
    below_maximum = (maximum_c - temperature_c) / span
    past_optimum = (temperature_c - optimum_c) / span
    headroom = (maximum_c - optimum_c) / span
    shape = headroom * (1.0 - 2.0 * above_minimum) + past_optimum
    # Only rounding, next to the minimum, brings the divisor of a valid optimum to zero.
    return -below_maximum * above_minimum**2 / shape if shape != 0.0 else 0.0


def decomposition_temperature_response(temperature_c: float) -> float:
    """Return the share of the best decomposition rate at a temperature inside a bale.

    T/30 from 0 to 30, 1 from 30 to 55, 3.75 - T/20 from 55 to 75 degC, else 0 [2]. It is taken
    for the heat of a bale instead of one cardinal curve because a bale is worked first by
    moulds and bacteria of mild temperatures and then by those of heat: a single curve with its
    best at 58 degC would leave a bale at 10 degC practically asleep, while bales fed in
    mid-March were seen to heat within five days [3].

    Parameters
    ----------
    temperature_c : float
        Temperature inside the bale [degC], finite (ValueError otherwise).

    Returns
    -------
    float
        Share of the best rate [0 to 1].

    References
    ----------
    [2] J. S. Stombaugh, S. E. Nokes, "Development of a biologically based aerobic composting
        simulation model", Transactions of the ASAE 39:239-250 (1996); corners from memory.
    [3] Oregon State University, "Response of tomato and lettuce to straw bales and plastic
        cover", 1985 trial (1986).
    """
    if not math.isfinite(temperature_c):
        raise ValueError(f"temperature_c must be a finite temperature, got {temperature_c}")
    if temperature_c <= COLD_LIMIT_C or temperature_c >= HOT_LIMIT_C:
        return 0.0
    if temperature_c < FULL_RATE_FROM_C:
        return temperature_c / FULL_RATE_FROM_C
    if temperature_c <= FULL_RATE_TO_C:
        return 1.0
    return (HOT_LIMIT_C - temperature_c) / (HOT_LIMIT_C - FULL_RATE_TO_C)


def decomposition_moisture_response(moisture_fraction: float) -> float:
    """Return the share of the best decomposition rate at a moisture content.

    0 up to 20 %, 5 M - 1 from 20 to 40 %, 1 above [2]; Cornell says the same in words: strongly
    slowed under 35 to 40 %, practically stopped under 30 % [4] (this line still gives 0.5 there).
    Want of air in a drowned bale is not part of it: bales drain.

    Parameters
    ----------
    moisture_fraction : float
        Water as a share of the wet mass [0 to 1]; outside it is refused with ValueError.

    Returns
    -------
    float
        Share of the best rate [0 to 1].

    References
    ----------
    [2] Stombaugh and Nokes 1996, as above; corners from memory.
    [4] Cornell Waste Management Institute, "Getting the right mix" (moisture content).
    """
    if not 0.0 <= moisture_fraction <= 1.0:
        raise ValueError(f"moisture_fraction must lie between 0 and 1, got {moisture_fraction}")
    rise = (moisture_fraction - DRY_LIMIT_FRACTION) / (MOIST_FROM_FRACTION - DRY_LIMIT_FRACTION)
    return min(1.0, max(0.0, rise))
