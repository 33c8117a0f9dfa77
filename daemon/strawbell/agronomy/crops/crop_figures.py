"""Write figures as their sources print them, in deg F and inches.

The printed figure stays in sight (`deg_f(28)`, `inches(18)`); what leaves the modules is SI.
"""

from __future__ import annotations

CM_PER_INCH = 2.54
"""Exact by definition."""
F_PER_C = 1.8
"""Exact by definition; also the step between deg F and deg C degree days."""
F_AT_FREEZING = 32.0


def deg_f(printed: float) -> float:
    """Convert a printed temperature [deg F] to [degC].

    Args:
        printed: Temperature [deg F], any finite value.

    Returns:
        Temperature [degC], rounded to 0.01 so that 33 F reads 0.56.

    Source: Definition of the Fahrenheit scale: C = (F - 32) / 1.8.
    """
    return round((printed - F_AT_FREEZING) / F_PER_C, 2)


def inches(printed: float) -> float:
    """Convert a printed length [in] to [cm].

    Args:
        printed: Length [in], any finite value.

    Returns:
        Length [cm], rounded to 0.01.

    Source: International yard and pound agreement (1959): 1 in = 2.54 cm.
    """
    return round(printed * CM_PER_INCH, 2)
