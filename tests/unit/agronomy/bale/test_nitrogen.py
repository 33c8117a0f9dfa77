"""The nitrogen ledger: what is counted, what is lost, what is left."""

from __future__ import annotations

import math
from datetime import date, timedelta

import pytest

from strawbell.agronomy.bale.ammonia import MOST_IN_A_WEEK, WASHED_IN_MOST
from strawbell.agronomy.bale.leaching import EXCLUDED_SHARE, bale_water
from strawbell.agronomy.bale.nitrogen import (
    BINDING_DAYS,
    FOLLOWED_DAYS,
    SLOW_AT_ONCE_MOST,
    SLOW_PER_DAY_MOST,
    UNKNOWN_DAY_MM,
    Feeding,
    ledger,
)
from strawbell.agronomy.bale.size_and_mass import BALES

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


def test_what_cannot_be_is_refused_by_name() -> None:
    """A feeding given tomorrow, and a negative amount."""
    with pytest.raises(ValueError, match="feedings"):
        ledger(BALE, [fed(3)], {}, START)
    with pytest.raises(ValueError, match="nitrogen_per_bale_g"):
        fed(1, -1.0)
    with pytest.raises(ValueError, match="daily_rain_mm"):
        ledger(BALE, [fed(1)], rain(-1.0), START + DAY)


def test_the_most_an_inch_takes_the_morning_after_follows_the_mixed_layer() -> None:
    """1 - exp(-25.4 / 48.9), nothing being bound on the day itself."""
    water = bale_water(BALE)
    share = 1 - math.exp(-25.4 / ((1 - EXCLUDED_SHARE) * water.held_mm))
    book = ledger(BALE, [fed(1)], rain(25.4), START + DAY)
    assert book.lost_high_g == pytest.approx(41 * share)
    assert book.lost_low_g == 0.0


def test_the_same_storm_a_week_later_takes_less() -> None:
    """exp(-1) of it: the decomposers have bound the rest."""
    at_once = ledger(BALE, [fed(1)], rain(30, *[0] * 7), START + DAY * 8)
    later = ledger(BALE, [fed(1)], rain(*[0] * 7, 30), START + DAY * 8)
    assert later.lost_high_g == pytest.approx(at_once.lost_high_g * math.exp(-1))


def test_rain_of_the_day_of_a_feeding_may_have_come_before_it() -> None:
    """The least leaves it out even in a deluge, the most counts it."""
    same_day = ledger(BALE, [fed(1)], rain(300), START + DAY)
    next_day = ledger(BALE, [fed(1)], rain(0, 300), START + DAY * 2)
    assert same_day.lost_low_g == 0.0
    assert same_day.lost_high_g > 40.0
    assert next_day.lost_low_g > 10.0


def test_rain_before_a_feeding_and_rain_of_today_take_nothing() -> None:
    """Only what fell from its day on, up to this morning."""
    book = ledger(BALE, [fed(3)], rain(50, 50, 0, 50), START + DAY * 3)
    assert book.lost_high_g == 0.0


@pytest.mark.parametrize(("beyond_mm", "drains"), [(-0.1, False), (0.0, False), (10.0, True)])
def test_the_least_drains_only_once_the_bale_has_filled_up(beyond_mm: float, drains: bool) -> None:
    """Just under, at and over the room of a bale at 60 % moisture; first drops carry little."""
    room = bale_water(BALE).room_mm
    book = ledger(BALE, [fed(1)], rain(0, room + beyond_mm), START + DAY * 2)
    assert (book.lost_low_g > 0.0) is drains


def test_an_unknown_day_may_have_been_a_wet_one_and_no_more() -> None:
    """As much as the rain at which feeding is held."""
    known = ledger(BALE, [fed(1)], rain(0, UNKNOWN_DAY_MM, 0), START + DAY * 3)
    unknown = ledger(BALE, [fed(1)], rain(0, None, 0), START + DAY * 3)
    assert unknown.lost_high_g == pytest.approx(known.lost_high_g)


def test_a_missing_day_is_an_unknown_day_and_counts_once_for_all_feedings() -> None:
    """Days, not feedings; today is not missed while it is not over."""
    book = ledger(BALE, [fed(1), fed(1), fed(2)], {START: 0.0}, START + DAY * 3)
    assert book.unknown_rain_days == 2
    assert ledger(BALE, [fed(1)], {}, START).unknown_rain_days == 0


def test_a_feeding_is_followed_for_six_weeks() -> None:
    """A deluge on the 42nd day still counts, on the 43rd no more."""
    dry: dict[date, float | None] = {START + DAY * day: 0.0 for day in range(60)}
    last = START + DAY * (FOLLOWED_DAYS - 1)
    today = START + DAY * 59
    assert ledger(BALE, [fed(1)], {**dry, last: 500.0}, today).lost_high_g > 0.0
    assert ledger(BALE, [fed(1)], {**dry, last + DAY: 500.0}, today).lost_high_g == 0.0


def test_only_urea_goes_to_the_air_and_how_much_depends_on_its_washing_in() -> None:
    """A dry week: washed in, not washed in, and nobody said."""
    week, dry = START + DAY * 7, rain(*[0] * 7)

    def to_air(urea: bool, washed_in: bool | None) -> tuple[float, float]:
        feeding = Feeding(START, "Feed", 100.0, given=True, urea=urea, washed_in=washed_in)
        book = ledger(BALE, [feeding], dry, week)
        return book.volatilised_low_g, book.volatilised_high_g

    assert to_air(False, False) == (0.0, 0.0)
    assert to_air(True, True) == pytest.approx((0.0, 100 * WASHED_IN_MOST))
    assert to_air(True, False) == pytest.approx((8.0, 100 * MOST_IN_A_WEEK))
    assert to_air(True, None) == pytest.approx((0.0, 100 * MOST_IN_A_WEEK))


def test_a_soaking_on_the_day_urea_was_given_may_have_come_before_it() -> None:
    """So it ends the loss in the least only."""
    urea = Feeding(START, "Urea", 100.0, given=True, urea=True, washed_in=False)
    book = ledger(BALE, [urea], rain(20, *[0] * 6), START + DAY * 7)
    assert book.volatilised_low_g == 0.0
    assert book.volatilised_high_g == pytest.approx(100 * MOST_IN_A_WEEK)


def test_the_ratio_after_the_plan_counts_what_remains() -> None:
    """8448 g C over 88 g of the straw and 184 g of the plan, in part still ahead."""
    book = ledger(BALE, [fed(1, 100.0), fed(9, 84.0, given=False)], rain(0), START + DAY)
    assert book.carbon_to_nitrogen_now.value == pytest.approx(8448 / 188)
    assert book.carbon_to_nitrogen_after.value == pytest.approx(8448 / 272)
    assert book.carbon_to_nitrogen_before.value == pytest.approx(96.0)


def test_at_most_sixty_percent_of_a_slow_feed_is_set_free_in_two_weeks() -> None:
    """Hartz and Johnstone (2006)."""
    assert pytest.approx(0.60) == 1 - (1 - SLOW_PER_DAY_MOST) ** 14


def test_of_a_slow_feed_a_storm_on_its_day_takes_at_most_what_dissolves_at_once() -> None:
    """A tenth of the share that a nitrate would lose, and perhaps nothing."""
    nitrate = ledger(BALE, [fed(1)], rain(25.4), START + DAY)
    slow = ledger(BALE, [Feeding(START, "Feed", 41.0, True, slow=True)], rain(25.4), START + DAY)
    assert slow.lost_high_g == pytest.approx(nitrate.lost_high_g * SLOW_AT_ONCE_MOST)
    assert slow.lost_low_g == 0.0


def test_a_slow_feed_loses_more_to_a_storm_once_some_of_it_is_set_free() -> None:
    """The other way round than a nitrate, which is bound meanwhile."""
    feeding = Feeding(START, "Feed", 41.0, True, slow=True)
    at_once = ledger(BALE, [feeding], rain(30, *[0] * 5), START + DAY * 6)
    later = ledger(BALE, [feeding], rain(*[0] * 5, 30), START + DAY * 6)
    assert later.lost_high_g > at_once.lost_high_g


def test_a_second_rain_takes_its_share_of_what_is_still_open() -> None:
    """The mixed layer has no memory: the second takes of what neither rain nor straw has."""
    held = (1 - EXCLUDED_SHARE) * bale_water(BALE).held_mm
    first, second = 1 - math.exp(-10 / held), 1 - math.exp(-15 / held)
    book = ledger(BALE, [fed(1)], rain(10, 15), START + DAY * 2)
    lost = first + (1 - first) * math.exp(-1 / BINDING_DAYS) * second
    assert book.lost_high_g == pytest.approx(41 * lost)
