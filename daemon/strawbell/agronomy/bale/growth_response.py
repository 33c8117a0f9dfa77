"""How fast what grows works at a temperature, as a share of its best."""

from __future__ import annotations

import math


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
