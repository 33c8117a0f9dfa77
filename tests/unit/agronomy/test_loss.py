"""The table of losses, and the choice that costs least."""

from __future__ import annotations

import pytest

from strawbell.agronomy.loss import (
    COVER_FAILS,
    COVER_FROM,
    COVERING,
    DAY_LATER,
    LEAST_WORTH,
    PLANTS_LOST,
    POTTED,
    SOWN,
    covered_loss,
    gram_lost,
    is_fed_for_nothing,
    is_planted_for_nothing,
    night_loss,
    planting_losses,
    tarp_pays,
)


def test_a_cover_pays_from_one_in_ten() -> None:
    """Derived: what it costs by what it saves."""
    assert pytest.approx(0.1) == COVER_FROM


@pytest.mark.parametrize(
    ("chance", "loss"), [(0.0, 0.0), (0.05, 1.0), (0.1, 2.0), (0.5, 2.8), (1.0, 3.8)]
)
def test_a_night_costs_the_less_of_covering_and_of_leaving_open(chance: float, loss: float) -> None:
    """At one in ten both cost the same."""
    assert night_loss(chance) == pytest.approx(loss)
    assert covered_loss(1.0) == COVERING + COVER_FAILS * PLANTS_LOST


@pytest.mark.parametrize(
    ("chances", "best"),
    [
        ([0.0, 0.0], 0),
        ([0.039, 0.0], 0),
        ([0.041, 0.0], 1),
        ([1.0, 0.0, 0.0], 1),
        ([0.0, 0.0, 0.0, 0.0, 1.0], 0),
        ([0.0, 0.0, 0.0, 1.0], 4),
        ([0.5] * 7, 7),
        ([], 0),
    ],
)
def test_planting_waits_for_what_it_saves(chances: list[float], best: int) -> None:
    """A day is worth a night of one in 25; a frost in five nights is covered, not waited for."""
    losses = planting_losses(chances, [1.0] * len(chances))
    assert len(losses) == len(chances) + 1
    assert losses.index(min(losses)) == best
    assert losses[-1] == pytest.approx(DAY_LATER * len(chances))


@pytest.mark.parametrize(("grows", "waits"), [(1.0, False), (0.5, False), (0.4, True), (0.0, True)])
def test_waiting_through_days_that_grow_little_costs_little(grows: float, waits: bool) -> None:
    """A chance of 2 in 100 costs 0.4, half of a day of the season."""
    now, later = planting_losses([0.0199], [grows])
    assert (now > later) is waits


def test_even_a_day_that_grows_nothing_is_worth_something() -> None:
    """Else one chance in a thousand would hold for ever."""
    now, later = planting_losses([0.001], [0.0])
    assert now < later
    assert later == pytest.approx(DAY_LATER * LEAST_WORTH)
    assert planting_losses([0.0], [3.0])[1] == DAY_LATER


@pytest.mark.parametrize(
    ("kept_g", "feedings", "lying", "pays"),
    [
        ([21.0], [0], False, True),
        ([19.0], [0], False, False),
        ([1.0], [0], True, True),
        ([0.0], [0], True, False),
        ([12.0, 39.0], [0, 1], False, False),
        ([12.0, 41.0], [0, 1], False, True),
        ([0.0, 0.0, 60.0], [0, 0, 0], False, False),
        ([], [], False, False),
    ],
)
def test_a_tarp_pays_where_it_keeps_more_than_its_handling_costs(
    kept_g: list[float], feedings: list[int], lying: bool, pays: bool
) -> None:
    """0.4 to lay and lift it, as much for each feeding under it; a gram of urea costs 0.02."""
    assert tarp_pays(kept_g, feedings, gram_lost(0.0), lying=lying) is pays


def test_nitrogen_of_an_organic_feed_is_worth_a_tarp_sooner() -> None:
    assert tarp_pays([5.0], [0], gram_lost(1.0), lying=False)
    assert not tarp_pays([5.0], [0], gram_lost(0.0), lying=False)


@pytest.mark.parametrize(
    ("killed", "days", "waits"),
    [(0.25, 1, True), (0.15, 1, False), (0.35, 2, True), (0.3, 2, False), (0.6, 7, False)],
)
def test_a_feeding_is_left_out_where_it_is_likely_for_nothing(
    killed: float, days: int, waits: bool
) -> None:
    """0.36 that is fed for nothing, against 0.08 for each day that a crop goes hungry."""
    assert is_fed_for_nothing(killed, days, 0.06) is waits


@pytest.mark.parametrize(("left", "leaves"), [(28, True), (29, False), (30, False)])
def test_a_crop_is_left_out_where_what_it_costs_is_more_than_even_odds_of_its_worth(
    left: int, leaves: bool
) -> None:
    """Picked on one day, the thirtieth: 24 at 0.8 a day, so plants for 12 want even odds."""
    assert is_planted_for_nothing(29.0, 1, left, POTTED) is leaves


def test_seed_costs_less_than_plants_in_pots_and_is_worth_a_later_try() -> None:
    """Between the two a week or so is left."""

    def last_fit(cost: float) -> int:
        return next(left for left in range(200) if not is_planted_for_nothing(72.5, 30, left, cost))

    assert 3 <= last_fit(POTTED) - last_fit(SOWN) <= 10


def test_long_before_any_freeze_nothing_is_left_out() -> None:
    """The whole season is picked then."""
    assert not is_planted_for_nothing(72.5, 30, 200, POTTED)
