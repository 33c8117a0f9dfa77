"""The heat index chart of the U.S. National Weather Service.

Chart: NOAA's National Weather Service, "Heat Index", air temperature by relative humidity, deg F
(https://www.weather.gov/safety/heat-index; looked up in a reproduction on 2026-11-25). Equation:
L. P. Rothfusz, NWS Technical Attachment SR 90-23 (1990),
https://www.wpc.ncep.noaa.gov/html/heatindex_equation.shtml. Printed whole: tolerance half a degree.
"""

from __future__ import annotations

import pytest

from strawbell.agronomy.heat_index import heat_index_c

CHART = {
    40.0: (80, (80, 81, 83, 85, 88, 91, 94, 97, 101, 105, 109, 114, 119, 124, 130, 136)),
    50.0: (80, (81, 83, 85, 88, 91, 95, 99, 103, 108, 113, 118, 124, 131, 137)),
    60.0: (80, (82, 84, 88, 91, 95, 100, 105, 110, 116, 123)),
}
STEP_F = 2
ROWS = [
    (float(first + STEP_F * index), humidity, float(printed))
    for humidity, (first, values) in CHART.items()
    for index, printed in enumerate(values)
]

# By hand from the published equation and its two adjustments; tolerance: last digit.
BY_HAND = [
    (84.0, 95.0, 100.88, "adjustment for humid air"),
    (86.0, 90.0, 105.39, "adjustment for humid air"),
    (95.0, 10.0, 89.45, "adjustment for dry air"),
    (75.0, 50.0, 74.55, "simple formula"),
]


def index_f(air_f: float, humidity: float) -> float:
    return heat_index_c((air_f - 32.0) / 1.8, humidity) * 1.8 + 32.0


@pytest.mark.parametrize(("air_f", "humidity", "printed"), ROWS)
def test_the_chart_comes_out(air_f: float, humidity: float, printed: float) -> None:
    """Every printed cell of three rows of the chart."""
    assert index_f(air_f, humidity) == pytest.approx(printed, abs=0.5)


@pytest.mark.parametrize(("air_f", "humidity", "expected", "which"), BY_HAND)
def test_the_adjustments_come_out(
    air_f: float, humidity: float, expected: float, which: str
) -> None:
    """Dry, humid and cool air have their own formulas."""
    assert index_f(air_f, humidity) == pytest.approx(expected, abs=0.01), which


def test_the_chart_has_forty_cells() -> None:
    """A table that shrinks unnoticed checks nothing."""
    assert len(ROWS) == 40
