"""What the draws of a bale say together; their walk is in `tests/published/test_balance.py`."""

from __future__ import annotations

import math

import pytest

from strawbell.agronomy.balance import Work
from strawbell.agronomy.bales import BALES
from strawbell.agronomy.ensemble import (
    Ensemble,
    begin,
    believe,
    core_band,
    held_l,
    spent_g,
    steps_of,
    unbound_g,
    weighted,
)

AIR_C = 12.0
TEN_PERCENT_Z = 1.2816
"""Where a normal curve has a tenth above it."""
BEGUN = begin(BALES["two-string"], AIR_C)
COUNT = len(BEGUN.states)


def drawn(*, hot_c: float = AIR_C, weights: tuple[float, ...] | None = None) -> Ensemble:
    """Return draws of one temperature, the first of which holds 2 L and 10 g more than the next."""
    states = tuple(
        each._replace(
            temperature_c=hot_c, top_l=20.0 - 2.0 * number, ammonium_1_g=50.0 - 10.0 * number
        )
        for number, each in enumerate(BEGUN.states)
    )
    return BEGUN._replace(states=states, weights=weights or (1.0 / COUNT,) * COUNT)


def test_what_a_bale_holds_is_the_mean_of_its_draws_by_their_weight() -> None:
    """Water, and the nitrogen that water may carry out."""
    dry_l = BEGUN.states[0].middle_l + BEGUN.states[0].bottom_l
    assert held_l(drawn()) == pytest.approx(dry_l + 20.0 - (COUNT - 1))
    assert unbound_g(drawn()) == pytest.approx(50.0 - 5.0 * (COUNT - 1))
    first = (1.0, *(0.0,) * (COUNT - 1))
    assert held_l(drawn(weights=first)) == pytest.approx(dry_l + 20.0)
    assert unbound_g(drawn(weights=first)) == pytest.approx(50.0)


def test_a_spent_bale_carries_from_what_is_bound_in_it_to_all_that_is_there() -> None:
    """The mean lies halfway between the means of the two."""
    band, bound_g = spent_g(drawn()), BEGUN.states[0].straw_g
    assert band.low == pytest.approx(bound_g)
    assert band.high == pytest.approx(bound_g + 50.0)
    assert band.mean == pytest.approx(bound_g + (50.0 - 5.0 * (COUNT - 1)) / 2.0)


@pytest.mark.parametrize(
    ("hot_c", "read_days_ago", "spread_c"),
    [
        (AIR_C, None, 4.0),
        (AIR_C + 40.0, None, 14.0),
        (AIR_C + 40.0, 0.0, 4.0),
        (AIR_C + 40.0, 4.0, math.sqrt(16.0 / math.e + 196.0 * (1.0 - 1.0 / math.e))),
    ],
)
def test_the_band_of_the_core_is_as_wide_as_what_is_not_known(
    hot_c: float, read_days_ago: float | None, spread_c: float
) -> None:
    """4 K of a reading, of a draw 0.35 of its rise and 4 K at least; a reading fades in 4 days."""
    band = core_band(drawn(hot_c=hot_c), AIR_C, read_days_ago)
    assert band.mean == pytest.approx(hot_c)
    assert band.high - hot_c == pytest.approx(TEN_PERCENT_Z * spread_c, abs=0.05)
    assert hot_c - band.low == pytest.approx(TEN_PERCENT_Z * spread_c, abs=0.05)


def test_a_reading_makes_likelier_the_draws_that_foresaw_it_and_rules_none_out() -> None:
    """What is left of it is kept as the error of each."""
    states = tuple(
        each._replace(temperature_c=20.0 + 15.0 * number)
        for number, each in enumerate(BEGUN.states)
    )
    read = believe(drawn()._replace(states=states), 35.0, AIR_C)
    assert max(read.weights) == read.weights[1]
    assert min(read.weights) > 0.0
    assert sum(read.weights) == pytest.approx(1.0)
    assert read.errors_c == tuple(35.0 - each.temperature_c for each in states)


@pytest.mark.parametrize(("weight", "low"), [(0.049, 1.0), (0.051, 0.0)])
def test_a_draw_that_is_all_but_ruled_out_is_no_end_of_a_band(weight: float, low: float) -> None:
    """Under a quarter of its even share."""
    rest = (1.0 - weight) / (COUNT - 1)
    told = weighted(drawn(weights=(weight, *(rest,) * (COUNT - 1))), map(float, range(COUNT)))
    assert told.low == low
    assert told.high == COUNT - 1
    assert told.mean == pytest.approx(rest * sum(range(COUNT)))


@pytest.mark.parametrize("whole", [True, False])
def test_the_steps_of_a_day_have_its_rain_its_drying_and_its_work(whole: bool) -> None:
    """All of each, once."""
    steps = steps_of(4.0, 20.0, 8.0, 3.0, Work(poured_l=5.0, taken_l=2.0), whole=whole)
    assert sum(weather.hours for weather, _ in steps) == 24.0
    assert sum(weather.rain_mm for weather, _ in steps) == pytest.approx(8.0)
    assert sum(weather.et0_mm for weather, _ in steps) == pytest.approx(3.0)
    assert sum(work.poured_l for _, work in steps) == 5.0
    assert sum(work.taken_l for _, work in steps) == pytest.approx(2.0)


def test_a_day_is_coldest_in_its_first_quarter_and_warmest_in_its_third() -> None:
    """Between its low and its high, and at their mean over all four."""
    airs_c = [weather.air_c for weather, _ in steps_of(4.0, 20.0, 0.0, 0.0, Work())]
    assert min(airs_c) == airs_c[0] >= 4.0
    assert max(airs_c) == airs_c[2] <= 20.0
    assert sum(airs_c) / 4 == pytest.approx(12.0)
