"""Whether a night hurts a crop, and which crop of several it hurts most."""

from __future__ import annotations

import math
from datetime import date, timedelta
from statistics import NormalDist

import pytest
from msgspec.structs import replace

from strawbell.agronomy.cold_and_heat import NightAir
from strawbell.decision.daily_weather import DailyWeather, Night, leaf_frost, to_cover
from strawbell.model.brief import ReasonCode
from strawbell.weather.chance import PLACE_ERROR_C
from support.gardens import RADISH, TOMATO, at, forecast, garden, hour_at

ON = date(2027, 5, 3)
COLDEST_AT = at(ON + timedelta(days=1), 5, 0)


def night(
    low_c: float | None, cloud_percent: float | None = 100.0, wind_m_s: float | None = 5.0
) -> Night:
    """Return a night, cloudy and windy unless said otherwise: plants 0 to 0.56 degC colder."""
    air = NightAir(low_c, cloud_percent, wind_m_s)
    begins, ends = at(ON, 18, 0), at(ON + timedelta(days=1), 9, 0)
    expected = forecast(begins, hour_at(COLDEST_AT, temperature_c=low_c))
    return Night(ON, air, COLDEST_AT, begins, ends, expected)


def test_the_reason_gives_the_coldest_expected_the_limit_the_chance_and_the_losses() -> None:
    """To a tenth of a degree."""
    frost = leaf_frost(night(-0.44), TOMATO)
    assert frost is not None
    why = frost.reason()
    assert (why.code, why.value, why.threshold, why.unit) == (
        ReasonCode.FROST,
        -0.7,
        0.6,
        "degC",
    )
    assert why.chance == frost.chance == pytest.approx(0.825, abs=0.01)
    assert why.loss_if_done == pytest.approx(1.8 + 0.1 * 20.0 * frost.chance)
    assert why.loss_if_waited == pytest.approx(20.0 * frost.chance)
    assert why.at == COLDEST_AT


def test_a_night_is_coldest_at_an_hour_of_the_garden() -> None:
    """Not at one of Greenwich."""
    expected = forecast(at(ON), hour_at(COLDEST_AT, temperature_c=-0.44))
    coldest_at = DailyWeather(garden(), expected, at(ON)).night(ON).coldest_at
    assert coldest_at is not None
    assert coldest_at.isoformat() == "2027-05-04T05:00:00+02:00"


def test_how_much_colder_leaves_get_spreads_as_an_even_band_does() -> None:
    """Its half-width over the root of 3 is its standard uncertainty (JCGM 100:2008, 4.3.7)."""
    clear = night(3.0, 0.0, 0.5)
    coldest_c, mildest_c = clear.leaf_band() or (math.nan, math.nan)
    half_c = (mildest_c - coldest_c) / 2.0
    leaves = NormalDist(
        (coldest_c + mildest_c) / 2.0, math.hypot(PLACE_ERROR_C, half_c / math.sqrt(3.0))
    )
    seen = forecast(
        clear.starts_at, hour_at(COLDEST_AT, temperature_c=3.0, temperature_sd_c=PLACE_ERROR_C)
    )
    for limit_c in (0.0, 0.6):
        chance = replace(clear, forecast=seen).leaf_chance(limit_c)
        assert chance == pytest.approx(leaves.cdf(limit_c), abs=1e-5)


class TestToCover:
    """Several crops in one night."""

    @pytest.mark.parametrize(
        ("low_c", "told", "covered"),
        [(2.61, False, True), (2.65, False, False), (3.12, True, True), (3.17, True, False)],
    )
    def test_a_cover_pays_from_one_in_ten_and_one_that_was_told_is_kept_to_half_of_that(
        self, low_c: float, told: bool, covered: bool
    ) -> None:
        """Cloudy, half a day ahead; tomatoes are hurt at 0.6 degC."""
        frost, names = to_cover(night(low_c), (TOMATO,), told=told)
        assert (frost is not None) is covered
        assert names == ("tomato",) * covered

    def test_a_clear_calm_night_is_covered_sooner(self) -> None:
        """Leaves are 1.7 degC colder than the air on the mean."""
        assert to_cover(night(3.8, 0.0, 0.0), (TOMATO,))[1] == ("tomato",)
        assert to_cover(night(3.8), (TOMATO,))[1] == ()

    def test_an_unknown_night_covers_nothing_by_itself(self) -> None:
        """Whoever asks has to say so."""
        assert to_cover(night(None), (TOMATO,)) == (None, ())
        assert leaf_frost(night(None), TOMATO) is None

    def test_nothing_planted_is_in_no_danger(self) -> None:
        """Nothing to cover."""
        assert to_cover(night(-8.0), ()) == (None, ())

    @pytest.mark.parametrize("turned", [False, True])
    def test_the_likeliest_frost_is_the_gravest(self, turned: bool) -> None:
        """Both are hurt at -3; whatever the order, the tomato's figure is told."""
        crops = (TOMATO, RADISH) if turned else (RADISH, TOMATO)
        frost, names = to_cover(night(-3.0), crops)
        assert set(names) == {"tomato", "radish"}
        assert frost is not None
        assert frost.crop is TOMATO

    def test_a_crop_that_comes_twice_is_named_once(self) -> None:
        """Sown and set out."""
        _, names = to_cover(night(-1.0), (TOMATO, replace(TOMATO, cover_at_c=1.0)))
        assert names == ("tomato",)


@pytest.mark.parametrize("count", [0, 1, 3])
def test_nights_follow_one_another(count: int) -> None:
    """The first begins on the date."""
    nights = DailyWeather(garden(), forecast(at(ON)), at(ON)).nights(ON, count)
    assert [each.on for each in nights] == [ON + timedelta(days=ahead) for ahead in range(count)]
