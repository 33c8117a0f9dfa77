"""Claims about thinning."""

from __future__ import annotations

from datetime import date

from strawbell.agronomy.crop_table import CROPS
from strawbell.agronomy.growing import Thinning, thinning
from strawbell.model.garden import Method

EMERGED = date(2027, 4, 24)


def test_seedlings_are_thinned_ten_days_after_they_came_up() -> None:
    """Carrots to 3 in."""
    found = thinning(CROPS["carrot"], EMERGED, Method.SEED)
    assert found == Thinning(date(2027, 5, 4), CROPS["carrot"].spacing_cm)


def test_transplants_are_not_thinned() -> None:
    """Nor crops sown at their distance, nor while nothing has come up."""
    assert thinning(CROPS["lettuce"], EMERGED, Method.TRANSPLANT) is None
    assert thinning(CROPS["bean"], EMERGED, Method.SEED) is None
    assert thinning(CROPS["carrot"], None, Method.SEED) is None
