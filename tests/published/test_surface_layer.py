"""The drying surface of FAO-56, chapter 7: Examples 34 and 35.

FAO-56: R. G. Allen, L. S. Pereira, D. Raes, M. Smith, "Crop evapotranspiration", FAO Irrigation
and Drainage Paper 56, Rome 1998, https://www.fao.org/docrep/x0490e/x0490e00.htm. Example 35 is
quoted from the test data of the U.S. Geological Survey's soil-water-balance code
(FAO56_Example_35.txt, after the errata of 2006), looked up 2026-11-25. Tolerance: the last printed
digit.

The examples have plants: of the largest coefficient the part Kcb is transpired, and the rest is
spread over the wetted part that leaves do not shade, few. The bare top of a bale has neither, and
evaporates 1.2 of the reference; so it is given the reference that leaves the same to evaporate,
ET0 * (Kcmax - Kcb) / few / 1.2.
"""

from __future__ import annotations

import pytest

from strawbell.agronomy.surface import (
    WETTEST_COEFFICIENT,
    SurfaceLayer,
    depletion_after,
    total_evaporable_mm,
)

# Example 35: day, ET0, P-RO, I/fw, 1-fc, fw, few, Kcb, De start, Kr, Ke, E/few, DP, De end,
# Ke*ET0, Kc, ETc. TEW 18, REW 8; the largest coefficient is printed as 1.21.
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
LARGEST_35 = 1.21
LAYER_35 = SurfaceLayer(DRY_MM, READY_MM)

# Example 34, from memory; second route: the recurrence De += 1.05 Kr ET0 by hand. Bare loamy
# sand, TEW 12, REW 6, ET0 4.5: day, De end, Ke.
EXAMPLE_34 = [
    (1, 4.73, 1.05),
    (2, 9.45, 1.05),
    (3, 11.46, 0.45),
    (4, 11.88, 0.09),
    (5, 11.98, 0.02),
]


def walk_example_35() -> list[tuple[tuple[float, ...], float, float]]:
    """Return the printed rows with the depletion before drying and after it."""
    depletion_mm, walked = DRY_MM, []
    for row in EXAMPLE_35:
        et_mm, few, kcb = row[1], row[6], row[7]
        reference_mm = et_mm * (LARGEST_35 - kcb) / few / WETTEST_COEFFICIENT
        before = max(0.0, depletion_mm - row[2] - row[3])
        depletion_mm = depletion_after(LAYER_35, depletion_mm, reference_mm, row[2] + row[3])
        walked.append((row, before, depletion_mm))
    return walked


EXAMPLE_35_CASES = [pytest.param(*case, id=f"day {case[0][0]}") for case in walk_example_35()]


@pytest.mark.parametrize(("row", "before", "after"), EXAMPLE_35_CASES)
def test_example_35_comes_out_column_by_column(
    row: tuple[float, ...], before: float, after: float
) -> None:
    """Depletion before and after, E/few, and by it Kr, Ke, evaporation, Kc and ETc of every day."""
    et_mm, few, kcb = row[1], row[6], row[7]
    lost = after - before
    ke = lost * few / et_mm
    assert before == pytest.approx(row[8], abs=1.0)
    assert ke / (LARGEST_35 - kcb) == pytest.approx(row[9], abs=0.01)
    assert ke == pytest.approx(row[10], abs=0.01)
    assert lost == pytest.approx(row[11], abs=0.1)
    assert after == pytest.approx(row[13], abs=1.0)
    assert ke * et_mm == pytest.approx(row[14], abs=0.1)
    assert ke + kcb == pytest.approx(row[15], abs=0.01)
    assert (ke + kcb) * et_mm == pytest.approx(row[16], abs=0.1)


def test_example_34_a_bare_sand_dries_in_two_stages() -> None:
    """Depletion and Ke of five days; of 1.20 the example lets plants have 0.15."""
    total = total_evaporable_mm(0.15, 0.06, 0.10)
    assert total == pytest.approx(12.0, abs=0.5)
    layer = SurfaceLayer(total, 6.0)
    depletion_mm = 0.0
    for _day, depletion, ke in EXAMPLE_34:
        after = depletion_after(layer, depletion_mm, 4.5 * 1.05 / WETTEST_COEFFICIENT, 0.0)
        assert (after - depletion_mm) / 4.5 == pytest.approx(ke, abs=0.01)
        assert after == pytest.approx(depletion, abs=0.01)
        depletion_mm = after
