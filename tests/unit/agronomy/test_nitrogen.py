"""The nitrogen ledger: what is counted, what is lost, what is left."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from strawbell.agronomy.bale import BALES
from strawbell.agronomy.nitrogen import Feeding, batch_nitrogen, ledger

BALE = BALES["two-string"]
START = date(2027, 4, 5)
DAY = timedelta(days=1)


def fed(day: int, grams: float = 41.0, *, given: bool = True, urea: bool = False) -> Feeding:
    """Return a feeding on a day of the sequence."""
    return Feeding(START + DAY * (day - 1), "Feed", grams, given, urea)


def rain(*millimetres: float | None) -> dict[date, float | None]:
    """Return rain by day from the start on."""
    return {START + DAY * number: amount for number, amount in enumerate(millimetres)}


def test_what_the_plan_asks_and_what_was_given_are_two_things() -> None:
    """A recorded amount counts as given; the plan stays what it was."""
    recorded = Feeding(START, "Feed", 50.0, given=True, planned_per_bale_g=41.0)
    book = ledger(BALE, [recorded, fed(3, given=False)], rain(0, 0), START + DAY * 2)
    assert (book.planned_g, book.given_g, book.remaining_g) == (82.0, 50.0, 41.0)
    assert book.given_by_day_g() == {START: 50.0}
    assert book.given_by_feed_g() == {"Feed": 50.0}


def test_dry_weather_loses_nothing_of_a_nitrate() -> None:
    """No rain, no urea: all of it is there."""
    book = ledger(BALE, [fed(1)], rain(0, 0, 0), START + DAY * 3)
    assert book.lost_high_g == 0.0
    assert book.left_low_g == book.left_high_g == 41.0


def test_masses_balance_in_every_line() -> None:
    """To the air, leached and kept add up to what was given, in both reckonings."""
    book = ledger(
        BALE, [fed(1, urea=True), fed(3), fed(5)], rain(0, 25, None, 3, 40), START + DAY * 6
    )
    for line in book.lines:
        for fate in (line.least, line.most):
            assert fate is not None
            total = fate.volatilised_g + fate.leached_g + fate.kept_g
            assert total == pytest.approx(41.0, abs=1e-9)
    assert 0 <= book.lost_low_g <= book.lost_high_g <= book.given_g


def test_more_rain_never_loses_less() -> None:
    """Monotone in the rain of the day after a feeding."""
    losses = [
        ledger(BALE, [fed(1)], rain(0, amount), START + DAY * 2).lost_high_g
        for amount in (0.0, 5.0, 12.7, 25.0, 50.0, 100.0)
    ]
    assert losses == sorted(losses)
    assert losses[-1] > losses[0]


def test_unknown_rain_widens_the_range_and_is_counted() -> None:
    """The least takes it for dry, the most for a wet day."""
    known = ledger(BALE, [fed(1)], rain(0, 0), START + DAY * 2)
    unknown = ledger(BALE, [fed(1)], rain(0, None), START + DAY * 2)
    assert unknown.lost_low_g == known.lost_low_g
    assert unknown.lost_high_g > known.lost_high_g
    assert unknown.lost_known_rain_high_g == pytest.approx(known.lost_high_g)
    assert unknown.unknown_rain_days == 1


def test_feeding_narrows_carbon_to_nitrogen() -> None:
    """Straw as bought 80:1 to 160:1; the FS109E total of 184 g brings wheat straw near 30:1."""
    before = ledger(BALE, [], {}, START)
    after = ledger(BALE, [fed(1, 184.0)], rain(0), START + DAY)
    assert before.carbon_to_nitrogen_now.low == pytest.approx(80, abs=1)
    assert before.carbon_to_nitrogen_now.high == pytest.approx(160, abs=1)
    assert after.carbon_to_nitrogen_now.value == pytest.approx(30.4, abs=2.0)


def test_a_batch_is_its_bales_times_one() -> None:
    """Bales of a batch are treated alike."""
    book = ledger(BALE, [fed(1)], rain(0), START + DAY)
    assert batch_nitrogen(book, 6).given_g == 246.0


def test_what_cannot_be_is_refused_by_name() -> None:
    """A feeding given tomorrow, and a negative amount."""
    with pytest.raises(ValueError, match="feedings"):
        ledger(BALE, [fed(3)], {}, START)
    with pytest.raises(ValueError, match="nitrogen_per_bale_g"):
        fed(1, -1.0)
    with pytest.raises(ValueError, match="daily_rain_mm"):
        ledger(BALE, [fed(1)], rain(-1.0), START + DAY)
