"""How far a planting has come, day by day."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date

import pytest
from msgspec.structs import replace

from strawbell.agronomy.growing import expected_emergence
from strawbell.model.forecast import DayWeather
from strawbell.model.garden import Method
from strawbell.season.harvesting import grown, killed_on, window
from strawbell.season.stage import Growth, last_harvest_key, planting_key
from support.gardens import TOMATO, planting
from support.planted import BEAN, PLANTED, after, row

CROP = planting(replace(TOMATO, days_to_maturity=(10, 12), harvest_days=5))
ROW = row(CROP)
KEY = planting_key(ROW, CROP)
IN = {KEY: PLANTED}
WARM = DayWeather(low_c=15.0, high_c=25.0, complete=True)
COOL = DayWeather(low_c=9.0, high_c=19.0, complete=True)
"""Half a day of a tender crop."""
COLD = DayWeather(low_c=2.0, high_c=12.0, complete=True)


def walked(
    days: int, weather: Mapping[int, DayWeather] | None = None, since: date = PLANTED
) -> Growth:
    """Return the growth after so many days; those without weather are unknown."""
    growth: Mapping[str, Growth] = {}
    for number in range(days):
        growth = grown(ROW, {KEY: since}, growth, (weather or {}).get(number), after(number))
    return growth[KEY]


def test_without_weather_every_day_counts() -> None:
    """Ripe on the tenth day, all of it on the twelfth, picked for five."""
    found = walked(9)
    assert found.days == 9.0
    assert found.ripe_on is None
    assert walked(10).ripe_on == after(10)
    assert walked(11).all_ripe_on is None
    assert walked(12).all_ripe_on == after(12)
    assert window(CROP, walked(12), PLANTED, after(12)).last == after(16)


@pytest.mark.parametrize(("weather", "first"), [(WARM, 10), (COOL, 13), (COLD, 16)])
def test_cool_days_put_the_harvest_off(weather: DayWeather, first: int) -> None:
    """Six of them, by half of that or by all."""
    known = dict.fromkeys(range(6), weather)
    assert window(CROP, walked(6, known), PLANTED, after(6)).first == after(first)
    assert walked(first, known).ripe_on == after(first)
    assert walked(first - 1, known).ripe_on is None


def test_a_date_once_reached_stays_however_cold_it_gets() -> None:
    """What is ripe is ripe."""
    known = dict.fromkeys(range(10, 40), COLD)
    found = walked(40, known)
    assert found.ripe_on == after(10)
    assert found.all_ripe_on is None
    assert window(CROP, found, PLANTED, after(40)).first == after(10)


def test_a_day_not_known_whole_counts_as_a_day() -> None:
    """Half a day of cold is no cold day."""
    assert walked(6, {3: replace(COLD, complete=False)}).days == 6.0


def test_what_is_planted_again_begins_again() -> None:
    """The days of the dead do not count."""
    growth = {KEY: Growth(PLANTED, 8.0)}
    assert grown(ROW, {KEY: after(9)}, growth, None, after(9))[KEY] == Growth(after(9), 1.0)
    assert window(CROP, growth[KEY], after(9), after(9)).first == after(19)


def test_before_planting_and_after_the_last_harvest_nothing_grows() -> None:
    """The mapping is left as it is."""
    growth = {KEY: Growth(PLANTED, 8.0)}
    assert grown(ROW, {}, growth, WARM, after(8)) is growth
    over = {**IN, last_harvest_key(ROW, CROP): after(7)}
    assert grown(ROW, over, growth, WARM, after(8)) is growth


def test_a_day_planted_before_the_journal_counts_its_days() -> None:
    """As a recorded planting of last week."""
    assert grown(ROW, IN, {}, None, after(6))[KEY].days == 7.0


@pytest.mark.parametrize("days", range(10, 18))
def test_a_freeze_spares_seed_that_a_bed_of_spring_has_not_brought_up(days: int) -> None:
    """In unknown weather it has 16 degC, the middle of 12 to 20 (design choice)."""
    sown = planting(BEAN, method=Method.SEED)
    own, on = row(sown), after(days)
    night = DayWeather(low_c=-3.0, high_c=3.0, rain_mm=0.0, complete=True)
    up = expected_emergence(BEAN, PLANTED, {on: 3.0}, 16.0)
    killed = killed_on(own, {planting_key(own, sown): PLANTED}, {on: night}, on)
    assert bool(killed) is (up is not None and up <= on)
