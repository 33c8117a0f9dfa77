"""Claims about thinning."""

from __future__ import annotations

from datetime import date

from strawbell.agronomy.crop_table import CROPS
from strawbell.agronomy.growing import thin_on

EMERGED = date(2027, 4, 24)


def test_seedlings_are_thinned_ten_days_after_they_came_up() -> None:
    """When they carry their first true leaves."""
    assert thin_on(CROPS["carrot"], EMERGED) == date(2027, 5, 4)


def test_what_is_sown_at_its_distance_or_not_up_yet_is_not_thinned() -> None:
    """Beans stand as they were sown."""
    assert thin_on(CROPS["bean"], EMERGED) is None
    assert thin_on(CROPS["carrot"], None) is None
