"""How likely rain, a low and a hot dry day are."""

from __future__ import annotations

import math
from collections.abc import Callable
from datetime import timedelta
from statistics import NormalDist

import pytest
from msgspec.structs import replace

from strawbell.model.forecast import Ensemble, Forecast, Hour, Member, PastError, Readings
from strawbell.weather.chance import (
    LOW_ERROR_C,
    OF_A_SINGLE,
    PLACE_ERROR_C,
    SKILL_OF_THE_FIT,
    USUAL_SITE,
    Chance,
    Colder,
    garden_site,
    high_chance,
    hot_dry_chance,
    low_chance,
    low_error_c,
    rain_chance,
    rain_skill,
)
from strawbell.weather.windows import HOUR
from support.gardens import at, forecast, hour_at, on_day

NOW = at(on_day(5), 6, 0)
DAY_ON = NOW + 24 * HOUR
HALF_INCH_MM = 12.7


def single(
    rain_mm: float = 0.0, *, ahead: int = 9, change: Callable[[Hour], Hour] | None = None
) -> Forecast:
    """Return a forecast of one wet hour."""
    return forecast(NOW, change or hour_at(NOW + ahead * HOUR, rain_mm=rain_mm))


def members(*amounts_mm: float, low_c: float = 10.0, weights: tuple[float, ...] = ()) -> Ensemble:
    """Return members that each have their rain in one hour of 48, and one low."""
    hours = 48
    return Ensemble(
        "made to measure",
        NOW,
        tuple(
            Member(
                weights[number] if weights else 1.0,
                tuple(low_c + number if at == 12 else 20.0 for at in range(hours)),
                tuple(amount if at == 9 else 0.0 for at in range(hours)),
            )
            for number, amount in enumerate(amounts_mm)
        ),
    )


def chance_of_half_an_inch(seen: Forecast) -> float:
    """Return the chance of half an inch in 24 h."""
    value = rain_chance(seen, NOW, DAY_ON, HALF_INCH_MM).value
    assert value is not None
    return value


class TestRain:
    """An amount over a window, dressed with the error of its forecast."""

    @pytest.mark.parametrize(
        ("said_mm", "observed"),
        [(1.0, 0.013), (3.5, 0.031), (6.5, 0.101), (10.0, 0.149), (16.0, 0.282), (25.0, 0.556)],
    )
    def test_it_comes_near_what_was_observed_after_forecasts_of_an_amount(
        self, said_mm: float, observed: float
    ) -> None:
        """Innsbruck, 2000 to 2016, by classes of the forecast; sampling errors up to 0.07."""
        found = OF_A_SINGLE.chance(said_mm, HALF_INCH_MM, SKILL_OF_THE_FIT)
        assert found == pytest.approx(observed, abs=0.07)

    @pytest.mark.parametrize(("skill", "even_mm"), [(0.70, 25.07), (0.84, 19.5), (0.999, 15.6)])
    def test_the_better_forecasts_are_the_nearer_even_chances_are_to_the_amount(
        self, skill: float, even_mm: float
    ) -> None:
        """Half an inch is 12.7 mm; forecasts that are too wet on the mean keep some distance."""
        assert OF_A_SINGLE.chance(even_mm, HALF_INCH_MM, skill) == pytest.approx(0.5, abs=0.01)

    @pytest.mark.parametrize(
        ("days", "skill"), [(0.0, 0.81), (1.0, 0.77), (2.0, 0.73), (15.25, 0.2), (30.0, 0.2)]
    )
    def test_skill_is_lost_by_the_day(self, days: float, skill: float) -> None:
        """Down to what is always known."""
        assert rain_skill(days) == pytest.approx(skill)

    def test_the_place_s_own_errors_count_the_more_days_there_are_of_them(self) -> None:
        """45 days of them as much as what is usual; a gauge is known by the newest run to 0.81."""
        none_known = rain_skill(2.0, (PastError(45, None, None),))
        assert none_known == pytest.approx(0.73)
        known = (PastError(45, None, 0.9), PastError(45, None, 0.5))
        assert rain_skill(2.0, known) == pytest.approx((0.73 + 0.81 * 0.5) / 2.0)
        assert rain_skill(1.5, known) == pytest.approx((0.75 + 0.81 * 0.7) / 2.0)
        assert rain_skill(9.0, (PastError(4500, None, -0.5),)) == 0.2
        fewer = (PastError(45, None, 0.9), PastError(5, None, 0.5))
        assert rain_skill(2.0, fewer) == rain_skill(2.0, known)

    def test_it_grows_with_what_is_said_and_shrinks_with_the_amount_asked(self) -> None:
        """It is never 0 and never 1."""
        by_said = [chance_of_half_an_inch(single(mm)) for mm in (0.0, 5.0, 12.7, 25.0, 60.0)]
        assert by_said == sorted(by_said)
        assert 0.0 < by_said[0] < 0.02
        assert 0.8 < by_said[-1] < 1.0
        seen = single(10.0)
        by_asked = [rain_chance(seen, NOW, DAY_ON, mm).value or 0.0 for mm in (1.0, 6.0, 20.0)]
        assert by_asked == sorted(by_asked, reverse=True)

    def test_further_ahead_the_same_words_say_less(self) -> None:
        """Much rain becomes less likely, much from a dry forecast more so."""
        later = timedelta(days=5)
        wet, dry = single(40.0, ahead=9 + 120), single(0.0)
        for seen, less in ((wet, True), (dry, False)):
            ahead = rain_chance(seen, NOW + later, DAY_ON + later, HALF_INCH_MM).value
            near = chance_of_half_an_inch(single(40.0) if less else dry)
            assert ahead is not None
            assert (ahead < near) is less

    def test_all_members_together_are_not_believed_blindly(self) -> None:
        """Each at half an inch comes true in three of ten cases."""
        seen = replace(single(), ensemble=members(*(HALF_INCH_MM,) * 51))
        assert chance_of_half_an_inch(seen) == pytest.approx(0.29, abs=0.02)

    def test_a_few_wet_members_count_though_the_forecast_is_dry(self) -> None:
        """A quarter of them have 40 mm."""
        some = replace(single(0.0), ensemble=members(*(40.0,) * 10, *(0.0,) * 30))
        assert chance_of_half_an_inch(some) == pytest.approx(0.25 * 0.98, abs=0.02)
        assert rain_chance(some, NOW, DAY_ON, HALF_INCH_MM).members == 40

    def test_members_count_by_their_weight(self) -> None:
        """Two models have the same say, however many members they have."""
        seen = replace(single(), ensemble=members(40.0, 0.0, 0.0, weights=(1.0, 0.5, 0.5)))
        assert chance_of_half_an_inch(seen) == pytest.approx(0.49, abs=0.01)

    def test_the_sum_is_that_of_the_window_and_its_parts_of_hours(self) -> None:
        """Half of the wet hour lies inside."""
        seen = replace(single(), ensemble=members(*(40.0,) * 5))
        cut = rain_chance(seen, NOW, NOW + 9.5 * HOUR, HALF_INCH_MM).value
        whole = replace(single(), ensemble=members(*(20.0,) * 5))
        assert cut == pytest.approx(chance_of_half_an_inch(whole), abs=0.03)
        late = rain_chance(seen, NOW + 9.25 * HOUR, NOW + 30 * HOUR, HALF_INCH_MM)
        most = replace(single(), ensemble=members(*(30.0,) * 5))
        assert late.members == 5
        assert late.value == pytest.approx(chance_of_half_an_inch(most), abs=0.03)

    @pytest.mark.parametrize(("knowing", "asked"), [(5, 5), (4, 0)])
    def test_members_that_do_not_know_the_window_are_left_out(
        self, knowing: int, asked: int
    ) -> None:
        """With fewer than half the forecast alone is asked."""
        full = members(*(30.0,) * 10)
        cut = tuple(
            each if number < knowing else replace(each, rain_mm=each.rain_mm[:20])
            for number, each in enumerate(full.members)
        )
        seen = replace(single(5.0), ensemble=replace(full, members=cut))
        assert rain_chance(seen, NOW, DAY_ON, HALF_INCH_MM).members == asked

    def test_a_window_before_or_behind_the_members_is_asked_of_the_forecast(self) -> None:
        """They begin now and last for two days."""
        seen = replace(single(), ensemble=members(*(30.0,) * 10))
        for start in (NOW - HOUR, NOW + 25 * HOUR):
            assert rain_chance(seen, start, start + 24 * HOUR, HALF_INCH_MM).members == 0

    def test_of_a_part_known_it_is_the_least_that_it_may_be(self) -> None:
        """And says that it is not all."""
        gap = hour_at(NOW + 3 * HOUR, rain_mm=None)
        found = rain_chance(single(change=gap), NOW, DAY_ON, HALF_INCH_MM)
        assert found.value is not None
        assert not found.complete

    def test_without_any_rain_known_it_is_unknown(self) -> None:
        """Unknown is not dry."""
        blank = forecast(NOW, lambda hour: replace(hour, rain_mm=None))
        assert rain_chance(blank, NOW, DAY_ON, HALF_INCH_MM) == Chance(None, complete=False)

    @pytest.mark.parametrize(("most_mm", "limited"), [(12.6, True), (12.8, False)])
    def test_more_than_a_service_calls_likely_is_unlikely(
        self, most_mm: float, limited: bool
    ) -> None:
        """One in ten at most, where it says so for the whole window."""

        def change(hour: Hour) -> Hour:
            wet = hour.starts_at == NOW + 9 * HOUR
            return replace(hour, rain_mm=12.6 * wet, rain_most_mm=most_mm * wet)

        assert (chance_of_half_an_inch(single(change=change)) == 0.1) is limited
        silent = hour_at(NOW + 3 * HOUR, rain_most_mm=None)
        partly = single(change=lambda hour: silent(change(hour)))
        assert chance_of_half_an_inch(partly) > 0.1

    @pytest.mark.parametrize(("most_mm", "limited"), [(9.9, True), (10.1, False)])
    def test_the_most_of_a_wetter_garden_is_what_its_gauge_gets(
        self, most_mm: float, limited: bool
    ) -> None:
        """Where a gauge catches half as much again, 10 mm of the service are 15 there."""

        def change(hour: Hour) -> Hour:
            wet = hour.starts_at == NOW + 9 * HOUR
            return replace(hour, rain_mm=9.0 * wet, rain_most_mm=most_mm * wet)

        found = rain_chance(single(change=change), NOW, DAY_ON, 15.0, 1.5).value
        assert (found == 0.1) is limited


class TestLow:
    """A lowest temperature, dressed with the error of its forecast."""

    @pytest.mark.parametrize(
        ("days", "error_c"),
        [(0.0, 1.34), (1.0, 1.4), (2.5, 1.7), (5.0, 2.2), (6.0, 2.5), (9.0, 3.3), (20.0, 3.3)],
    )
    def test_the_error_grows_with_the_days_ahead(self, days: float, error_c: float) -> None:
        """Read off the table, in straight lines between."""
        assert low_error_c(days) == pytest.approx(error_c)
        assert LOW_ERROR_C[0][1] == 1.34

    @pytest.mark.parametrize(("low_c", "expected"), [(0.0, 0.5), (2.0, 0.07), (-2.0, 0.93)])
    def test_at_the_limit_it_is_even(self, low_c: float, expected: float) -> None:
        """Half a day ahead."""
        seen = forecast(NOW, hour_at(NOW + 23 * HOUR, temperature_c=low_c))
        found = low_chance(seen, NOW, DAY_ON, 0.0)
        assert found.value == pytest.approx(expected, abs=0.01)
        assert found.complete

    def test_the_place_s_own_errors_widen_it(self) -> None:
        """Half of the way after 45 days, the error of a place beside them."""
        known = (PastError(45, 1.0, None), PastError(45, 3.0, None))
        expected = (1.6 + math.hypot(PLACE_ERROR_C, 3.0)) / 2.0
        assert low_error_c(2.0, known) == pytest.approx(expected)
        seen = forecast(NOW, hour_at(NOW + 23 * HOUR, temperature_c=2.0))
        unsure = replace(seen, past=(PastError(90, 4.0, None),))
        near, wide = (low_chance(each, NOW, DAY_ON, 0.0).value for each in (seen, unsure))
        assert near is not None
        assert wide is not None
        assert near < wide

    def test_colder_leaves_freeze_sooner(self) -> None:
        """Three degrees colder than two is one below zero."""
        seen = forecast(NOW, hour_at(NOW + 23 * HOUR, temperature_c=2.0))
        found = low_chance(seen, NOW, DAY_ON, 0.0, Colder(3.0, 0.0)).value
        assert found == pytest.approx(NormalDist().cdf(1.0 / low_error_c(23 / 24)), abs=1e-6)

    def test_the_error_that_the_service_says_counts(self) -> None:
        """Percentiles 3.0 and 8.0 make 1.951 degC; no service knows a place to under 1.25."""
        said = forecast(NOW, hour_at(NOW + 23 * HOUR, temperature_c=5.5, temperature_sd_c=1.951))
        assert low_chance(said, NOW, DAY_ON, 0.0).value == pytest.approx(0.0024, abs=0.0001)
        sure = forecast(NOW, hour_at(NOW + 23 * HOUR, temperature_c=1.25, temperature_sd_c=0.1))
        expected = NormalDist().cdf(-1.25 / PLACE_ERROR_C)
        assert low_chance(sure, NOW, DAY_ON, 0.0).value == pytest.approx(expected)

    def test_members_are_dressed_with_the_error_of_the_place(self) -> None:
        """Lows of -1, 0, 1 and 2 degC."""
        seen = replace(single(), ensemble=members(0.0, 0.0, 0.0, 0.0, low_c=-1.0))
        expected = sum(NormalDist().cdf(-low / PLACE_ERROR_C) for low in (-1, 0, 1, 2)) / 4
        found = low_chance(seen, NOW, DAY_ON, 0.0)
        assert found.value == pytest.approx(expected)
        assert found.members == 4

    def test_without_temperatures_it_is_unknown(self) -> None:
        """Unknown is not warm."""
        blank = forecast(NOW, lambda hour: replace(hour, temperature_c=None))
        assert low_chance(blank, NOW, DAY_ON, 0.0).value is None
        assert high_chance(blank, NOW, DAY_ON, 0.0).value is None


class TestPlace:
    """A garden that is colder than forecast, by its grower's own readings."""

    def test_three_nights_three_degrees_colder_are_two_thirds_believed(self) -> None:
        """The published worked figure: -3 degC on the mean of three make -2.027."""
        nights = ((2.0, -1.0, None), (5.0, 2.0, None), (1.0, -2.0, None))
        assert garden_site(Readings(nights)).any_night.mean_c == pytest.approx(2.027, abs=0.001)

    def test_without_readings_the_forecast_stands(self) -> None:
        """Neither colder nor milder, wetter nor drier."""
        assert garden_site(Readings()) == USUAL_SITE

    def test_many_readings_are_believed(self) -> None:
        """A milder place too."""
        site = garden_site(Readings(((0.0, 2.0, False),) * 50))
        assert site.other_night.mean_c == pytest.approx(-2.0, abs=0.01)

    def test_a_hollow_is_colder_in_clear_nights_than_in_others(self) -> None:
        """Of an unknown kind a night counts as any, of which it was said before."""
        nights = ((3.0, -1.0, True),) * 12 + ((3.0, 3.0, False),) * 12
        site = garden_site(Readings(nights))
        assert site.on(clear=True).mean_c == pytest.approx(3.8, abs=0.1)
        assert site.on(clear=False).mean_c == pytest.approx(0.2, abs=0.1)
        assert site.on(clear=None).mean_c == pytest.approx(1.9, abs=0.1)
        few = garden_site(Readings(nights[:1]))
        assert 0.0 < few.on(clear=False).mean_c < few.on(clear=True).mean_c < 4.0

    @pytest.mark.parametrize(
        ("said_mm", "came_mm", "wetter"), [(50.0, 100.0, 1.5), (50.0, 0.0, 0.5), (10.0, 500.0, 2.0)]
    )
    def test_a_gauge_corrects_rain_the_more_it_has_caught(
        self, said_mm: float, came_mm: float, wetter: float
    ) -> None:
        """By half at as much as 50 mm, never beyond twice; the chance goes with it."""
        site = garden_site(Readings(rains=((said_mm / 2, came_mm / 2),) * 2))
        assert site.wetter == pytest.approx(wetter)
        chance = rain_chance(single(10.0), NOW, DAY_ON, HALF_INCH_MM, site.wetter).value
        assert chance == pytest.approx(chance_of_half_an_inch(single(10.0 * wetter)))


class TestHotAndDry:
    """A day that dries out the top."""

    def test_it_needs_heat_and_no_rain(self) -> None:
        """The chances of both are multiplied."""
        seen = forecast(NOW, hour_at(NOW + 9 * HOUR, temperature_c=33.0))
        hot = high_chance(seen, NOW, DAY_ON, 30.0).value
        wet = rain_chance(seen, NOW, DAY_ON, 2.5).value
        assert hot is not None
        assert wet is not None
        found = hot_dry_chance(seen, NOW, DAY_ON, 30.0, 2.5)
        assert found.value == pytest.approx(hot * (1.0 - wet))
        assert found.complete

    def test_members_speak_for_the_heat(self) -> None:
        """All of them reach 20 degC."""
        seen = replace(single(), ensemble=members(0.0, 0.0))
        assert high_chance(seen, NOW, DAY_ON, 20.0).value == pytest.approx(0.5)

    @pytest.mark.parametrize(("high_c", "expected"), [(30.0, 0.5), (32.0, 0.93), (28.0, 0.07)])
    def test_heat_at_its_limit_is_even(self, high_c: float, expected: float) -> None:
        """Nine hours ahead, of a single forecast; 1.36 degC is its error."""
        seen = forecast(NOW, hour_at(NOW + 9 * HOUR, temperature_c=high_c))
        found = high_chance(seen, NOW, DAY_ON, 30.0)
        assert found.value == pytest.approx(expected, abs=0.01)

    def test_unknown_rain_is_said(self) -> None:
        """The heat alone is its most."""
        hot = forecast(NOW, lambda hour: replace(hour, temperature_c=33.0, rain_mm=None))
        found = hot_dry_chance(hot, NOW, DAY_ON, 30.0, 2.5)
        assert found.value == high_chance(hot, NOW, DAY_ON, 30.0).value
        assert not found.complete
        cold = forecast(NOW, lambda hour: replace(hour, temperature_c=None))
        assert hot_dry_chance(cold, NOW, DAY_ON, 30.0, 2.5).value is None
