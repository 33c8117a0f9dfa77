"""The drying surface of FAO-56, chapter 7: Examples 33 to 35 and equation 72.

FAO-56: R. G. Allen, L. S. Pereira, D. Raes, M. Smith, "Crop evapotranspiration", FAO Irrigation
and Drainage Paper 56, Rome 1998, https://www.fao.org/docrep/x0490e/x0490e00.htm. Example 35 and
the rows of equation 72 are quoted from the test data of the U.S. Geological Survey's
soil-water-balance code (FAO56_Example_35.txt, after the errata of 2006, and
FAO56_equation_72_calcs.txt), looked up 2026-11-25. Tolerance: the last printed digit.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from strawbell.agronomy.surface import (
    SurfaceLayer,
    SurfaceState,
    SurfaceStep,
    largest_coefficient,
    step,
    total_evaporable_mm,
)

START = datetime(2027, 6, 1, tzinfo=UTC)
DAY = timedelta(days=1)

# Example 35: day, ET0, P-RO, I/fw, 1-fc, fw, few, Kcb, De start, Kr, Ke, E/few, DP, De end,
# Ke*ET0, Kc, ETc. TEW 18, REW 8, u2 1.6, RHmin 35, h 0.3.
EXAMPLE_35 = [
    (1, 4.5, 0, 50, 0.92, 0.8, 0.80, 0.30, 0, 1.00, 0.91, 5.1, 32, 5, 4.1, 1.21, 5.5),
    (2, 5.0, 0, 0, 0.91, 0.8, 0.80, 0.31, 5, 1.00, 0.90, 5.6, 0, 11, 4.5, 1.21, 6.1),
    (3, 3.9, 0, 0, 0.91, 0.8, 0.80, 0.32, 11, 0.72, 0.64, 3.1, 0, 14, 2.5, 0.97, 3.8),
    (4, 4.2, 0, 0, 0.90, 0.8, 0.80, 0.33, 14, 0.41, 0.36, 1.9, 0, 16, 1.5, 0.69, 2.9),
    (5, 4.8, 0, 0, 0.89, 0.8, 0.80, 0.34, 16, 0.22, 0.19, 1.1, 0, 17, 0.9, 0.54, 2.6),
    (6, 2.7, 6, 0, 0.89, 1.0, 0.89, 0.36, 11, 0.71, 0.60, 1.8, 0, 13, 1.6, 0.96, 2.6),
    (7, 5.8, 0, 0, 0.88, 1.0, 0.88, 0.37, 13, 0.52, 0.44, 2.9, 0, 16, 2.6, 0.81, 4.7),
    (8, 5.1, 0, 0, 0.87, 1.0, 0.87, 0.38, 16, 0.23, 0.19, 1.1, 0, 17, 1.0, 0.57, 2.9),
    (9, 4.7, 0, 0, 0.87, 1.0, 0.87, 0.39, 17, 0.12, 0.10, 0.5, 0, 17, 0.5, 0.49, 2.3),
    (10, 5.2, 0, 0, 0.86, 1.0, 0.86, 0.40, 17, 0.07, 0.05, 0.3, 0, 18, 0.3, 0.45, 2.4),
]
DRY_MM, READY_MM = 18.0, 8.0
LARGEST_35 = largest_coefficient(1.6, 35.0, 0.3)

# Equation 72: u2, RHmin -> Kcmax at heights of 1, 3, 5, 7, 9 m, here rounded to seven digits.
EQUATION_72_ROWS = {
    (1.0, 40.0): (1.1856155, 1.18, 1.1766877, 1.1742117, 1.1721922),
    (1.0, 80.0): (1.0705398, 1.02, 0.9901895, 0.9679051, 0.9497299),
    (2.0, 40.0): (1.2143845, 1.22, 1.2233123, 1.2257883, 1.2278078),
    (3.0, 60.0): (1.1856155, 1.18, 1.1766877, 1.1742117, 1.1721922),
    (5.0, 40.0): (1.3006912, 1.34, 1.3631859, 1.3805182, 1.3946545),
}
HEIGHTS_M = (1.0, 3.0, 5.0, 7.0, 9.0)
EQUATION_72 = [
    (wind, humidity, height, printed)
    for (wind, humidity), row in EQUATION_72_ROWS.items()
    for height, printed in zip(HEIGHTS_M, row, strict=True)
]

# Example 34, from memory; second route: the recurrence De += 1.05 Kr ET0 by hand. Bare loamy
# sand, TEW 12, REW 6, ET0 4.5: day, De end, Ke.
EXAMPLE_34 = [
    (1, 4.73, 1.05),
    (2, 9.45, 1.05),
    (3, 11.46, 0.45),
    (4, 11.88, 0.09),
    (5, 11.98, 0.02),
]


def walk_example_35() -> list[tuple[tuple[float, ...], float, SurfaceStep]]:
    """Return the printed rows with the depletion before drying and the step computed."""
    state = SurfaceState(START, DRY_MM)
    walked = []
    for row in EXAMPLE_35:
        layer = SurfaceLayer(DRY_MM, READY_MM, exposed_share=row[6], basal_coefficient=row[7])
        taken = step(layer, state, row[1], row[2], row[3], LARGEST_35, DAY)
        before = max(0.0, state.depletion_mm - row[2] - row[3])
        walked.append((row, before, taken))
        state = taken.state
    return walked


EXAMPLE_35_CASES = [pytest.param(*case, id=f"day {case[0][0]}") for case in walk_example_35()]


@pytest.mark.parametrize(("row", "before", "taken"), EXAMPLE_35_CASES)
def test_example_35_comes_out_column_by_column(
    row: tuple[float, ...], before: float, taken: SurfaceStep
) -> None:
    """Depletion, Kr, Ke, E/few, percolation, evaporation, Kc and ETc of every day."""
    et_mm, kcb = row[1], row[7]
    ke = taken.evaporation_coefficient
    assert before == pytest.approx(row[8], abs=1.0)
    assert taken.reduction == pytest.approx(row[9], abs=0.01)
    assert ke == pytest.approx(row[10], abs=0.01)
    assert taken.evaporation_mm == pytest.approx(row[11], abs=0.1)
    assert taken.drained_mm == pytest.approx(row[12], abs=1.0)
    assert taken.state.depletion_mm == pytest.approx(row[13], abs=1.0)
    assert ke * et_mm == pytest.approx(row[14], abs=0.1)
    assert ke + kcb == pytest.approx(row[15], abs=0.01)
    assert (ke + kcb) * et_mm == pytest.approx(row[16], abs=0.1)


def test_the_largest_coefficient_of_example_35() -> None:
    """1.21 is printed."""
    assert pytest.approx(1.21, abs=0.005) == LARGEST_35


@pytest.mark.parametrize(("wind", "humidity", "height", "printed"), EQUATION_72)
def test_equation_72(wind: float, humidity: float, height: float, printed: float) -> None:
    """The largest coefficient in five kinds of weather, at five heights."""
    assert largest_coefficient(wind, humidity, height) == pytest.approx(printed, abs=1e-7)


def test_example_33_a_sprinkled_field() -> None:
    """Kcmax 1.30, exposed 0.47, Ke 0.40 (from memory; by algebra from eq. 71-75)."""
    largest = largest_coefficient(3.0, 20.0, 1.0, 0.9)
    layer = SurfaceLayer(DRY_MM, READY_MM, exposed_share=0.47, basal_coefficient=0.9)
    wet = step(layer, SurfaceState(START, 0.0), 7.0, largest=largest, lasting=DAY)
    assert largest == pytest.approx(1.30, abs=0.005)
    assert wet.evaporation_coefficient == pytest.approx(0.40, abs=0.005)


def test_example_34_a_bare_sand_dries_in_two_stages() -> None:
    """Depletion and Ke of five days."""
    total = total_evaporable_mm(0.15, 0.06, 0.10)
    layer = SurfaceLayer(total, 6.0, basal_coefficient=0.15)
    assert total == pytest.approx(12.0, abs=0.5)
    state = SurfaceState(START, 0.0)
    for _day, depletion, ke in EXAMPLE_34:
        taken = step(layer, state, 4.5, largest=1.20, lasting=DAY)
        assert taken.evaporation_coefficient == pytest.approx(ke, abs=0.01)
        assert taken.state.depletion_mm == pytest.approx(depletion, abs=0.01)
        state = taken.state
