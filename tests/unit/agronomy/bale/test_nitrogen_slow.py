"""The nitrogen ledger of slow organic feeds, which rain can only take once it is set free."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest

from strawbell.agronomy.bale.make_up import make_up_dose, without_storm
from strawbell.agronomy.bale.nitrogen import SLOW_PER_DAY_MOST, Feeding, NitrogenLedger, ledger
from strawbell.agronomy.bale.size_and_mass import BALES

BALE = BALES["two-string"]
START = date(2027, 4, 5)
DAY = timedelta(days=1)
QUICK = Feeding(START, "Feed", 60.0, given=True)
SLOW = replace(QUICK, slow=True)


def book(feeding: Feeding, *rain_mm: float | None) -> NitrogenLedger:
    rain = {START + DAY * number: amount for number, amount in enumerate(rain_mm)}
    return ledger(BALE, [feeding], rain, START + DAY * len(rain_mm))


def test_a_storm_takes_little_of_a_slow_feed_on_its_day() -> None:
    """At most a tenth of blood meal is dissolved when 25 mm fall at once."""
    quick, slow = book(QUICK, 25.0), book(SLOW, 25.0)
    assert slow.leached_high_g == pytest.approx(0.1 * quick.leached_high_g)
    assert slow.leached_low_g == 0.0


def test_a_slow_feed_still_has_something_to_lose_when_a_quick_one_is_bound() -> None:
    """Two weeks on, it is set free while the quick one was long taken up."""
    storm = (*[0.0] * 14, 40.0)
    assert book(SLOW, *storm).leached_high_g > book(QUICK, *storm).leached_high_g > 0.0


def test_at_most_sixty_percent_of_a_slow_feed_is_set_free_in_two_weeks() -> None:
    """Hartz and Johnstone (2006), as given by the University of California."""
    shut = (1 - SLOW_PER_DAY_MOST) ** 14
    assert shut == pytest.approx(0.40)


def test_an_unknown_day_widens_the_range_of_a_slow_feed_too() -> None:
    """Though by less."""
    quick, slow = book(QUICK, 0.0, None), book(SLOW, 0.0, None)
    assert 0.0 < slow.leached_high_g < quick.leached_high_g


def test_a_storm_on_a_slow_feed_calls_for_no_making_up() -> None:
    """60 mm take enough of a nitrate to make up for, and hardly any blood meal."""
    rain = {START: 60.0}

    def suggested(feeding: Feeding) -> bool:
        before = ledger(BALE, [feeding], without_storm(rain, [START]), START + DAY)
        after = ledger(BALE, [feeding], rain, START + DAY)
        return make_up_dose(BALE, before, after, 60.0) is not None

    assert suggested(QUICK)
    assert not suggested(SLOW)
