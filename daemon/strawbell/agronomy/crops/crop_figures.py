"""Write crop tables as their sources print them: deg F, inches, days at 9 F steps.

The tables keep the printed figure in sight (`deg_f(28)`, `inches(18)`); what leaves them is SI.
"""

from __future__ import annotations

CM_PER_INCH = 2.54
"""Exact by definition."""
F_PER_C = 1.8
"""Exact by definition; also the step between deg F and deg C degree days."""
F_AT_FREEZING = 32.0
STEP_F = 9
"""The trials of Harrington and Minges stand 9 F (5 C) apart, from 32 to 104 F."""

PRACTICE = "practice"
MEMORY = "memory"

_USUAL_SOURCES = {
    "cover_at_c": PRACTICE,
    "depth_cm": MEMORY,
    "days_to_maturity": MEMORY,
    "mature_height_cm": MEMORY,
    "support": PRACTICE,
    "appetite": PRACTICE,
    "harvest_days": PRACTICE,
}


def deg_f(printed: float) -> float:
    """Convert a printed temperature [deg F] to [degC].

    Parameters
    ----------
    printed : float
        Temperature [deg F], any finite value.

    Returns
    -------
    float
        Temperature [degC], rounded to 0.01 so that 33 F reads 0.56.

    References
    ----------
    .. [1] Definition of the Fahrenheit scale: C = (F - 32) / 1.8.
    """
    return round((printed - F_AT_FREEZING) / F_PER_C, 2)


def inches(printed: float) -> float:
    """Convert a printed length [in] to [cm].

    Parameters
    ----------
    printed : float
        Length [in], any finite value.

    Returns
    -------
    float
        Length [cm], rounded to 0.01.

    References
    ----------
    .. [1] International yard and pound agreement (1959): 1 in = 2.54 cm.
    """
    return round(printed * CM_PER_INCH, 2)


def degree_days_f(printed: float) -> float:
    """Convert printed degree days [deg F day] to [degC day]: differences have no zero point.

    Parameters
    ----------
    printed : float
        Degree days [deg F day], any finite value.

    Returns
    -------
    float
        Degree days [degC day], rounded to 1.

    References
    ----------
    .. [1] Definition of the Fahrenheit degree: 1.8 F = 1 C.
    """
    return float(round(printed / F_PER_C))


def days_from_f(first_f: int, *days: int) -> tuple[tuple[float, float], ...]:
    """Pair a printed row of days to emerge with its temperatures.

    Parameters
    ----------
    first_f : int
        Temperature of the first figure [deg F]; the others follow in steps of 9 F.
    *days : int
        Days from sowing to emergence [day], as printed; the longer one where "4-5" is printed.

    Returns
    -------
    tuple of (float, float)
        (bale temperature [degC], days to emerge [day]), ascending.

    References
    ----------
    .. [1] Harrington, J. F. and Minges, P. A., "Vegetable Seed Germination", California
       Agricultural Extension Mimeo Leaflet (1954): trials at 32, 41, ... 104 F.
    """
    return tuple(
        (deg_f(first_f + STEP_F * step), float(figure)) for step, figure in enumerate(days)
    )


def cited(**keys: str) -> tuple[str, ...]:
    """Say for each figure of a crop where it comes from, as ``field: key key``.

    Parameters
    ----------
    **keys : str
        Field of `Crop` to keys of the bibliography, parted by spaces. Fields that are common
        practice or from memory for nearly every crop need not be repeated.

    Returns
    -------
    tuple of str
        One entry a field, in the order of the names.

    References
    ----------
    .. [1] No source: bookkeeping, not a fact.
    """
    return tuple(f"{name}: {key}" for name, key in sorted({**_USUAL_SOURCES, **keys}.items()))
