"""Claims about the radiation that reaches the ground."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from strawbell.agronomy.air import radiation


@pytest.mark.parametrize(
    ("cloud_percent", "share"), [(0.0, 1.0), (50.0, 0.929), (87.5, 0.524), (100.0, 0.25)]
)
def test_clouds_take_more_the_closer_they_are(cloud_percent: float, share: float) -> None:
    """Kasten and Czeplak 1980 by hand: 1 - 0.75 N^3.4; half a cover takes little."""
    assert radiation.radiation_from_cloud(20.0, cloud_percent) == pytest.approx(
        20.0 * share, abs=0.01
    )


def test_the_clearness_is_held_between_three_tenths_and_one() -> None:
    """Below, at and above the least share; one where the sun is down."""
    assert radiation.bounded_clearness(2.9, 10.0) == 0.3
    assert radiation.bounded_clearness(3.0, 10.0) == 0.3
    assert radiation.bounded_clearness(3.1, 10.0) == 0.31
    assert radiation.bounded_clearness(11.0, 10.0) == 1.0
    assert radiation.bounded_clearness(0.0, 0.0) == 1.0


def test_an_overcast_sky_keeps_the_warmth() -> None:
    """Long-wave loss falls with cloud and with humidity."""
    clear = radiation.net_longwave_daily(10.0, 20.0, 1.0, 1.0)
    assert radiation.net_longwave_daily(10.0, 20.0, 1.0, 0.3) < clear / 10.0
    assert radiation.net_longwave_daily(10.0, 20.0, 1.5, 1.0) < clear


def test_a_clear_sky_is_clearer_on_a_mountain() -> None:
    """Three quarters at sea level, more above."""
    assert radiation.clear_sky(40.0, 0.0) == 30.0
    assert radiation.clear_sky(40.0, 2000.0) == pytest.approx(31.6)


@pytest.mark.parametrize(
    ("named", "call"),
    [
        ("extraterrestrial_mj_m2", lambda: radiation.clear_sky(-0.1, 0.0)),
        ("elevation_m", lambda: radiation.clear_sky(10.0, 9500.0)),
        ("sunshine_h", lambda: radiation.radiation_from_sunshine(12.1, 12.0, 30.0)),
        ("daylight_h", lambda: radiation.radiation_from_sunshine(0.0, 0.0, 30.0)),
        ("cloud_percent", lambda: radiation.radiation_from_cloud(10.0, 100.1)),
        ("clear_sky_mj_m2", lambda: radiation.radiation_from_cloud(51.0, 10.0)),
        ("low_c", lambda: radiation.radiation_from_temperature_range(20.1, 20.0, 30.0)),
        ("coefficient", lambda: radiation.radiation_from_temperature_range(1.0, 2.0, 3.0, 0.31)),
        ("radiation_mj_m2", lambda: radiation.net_shortwave(-1.0)),
        ("clearness", lambda: radiation.net_longwave_daily(10.0, 20.0, 1.0, 0.29)),
        ("vapour_pressure_kpa", lambda: radiation.net_longwave_daily(10.0, 20.0, -1.0, 0.5)),
    ],
)
def test_what_lies_outside_is_refused_by_name(named: str, call: Callable[[], float]) -> None:
    """The refusal names the argument."""
    with pytest.raises(ValueError, match=named):
        call()


def test_sunshine_and_swing_give_a_share_of_the_extraterrestrial() -> None:
    """A quarter without sun, three quarters with it all day; 0.16 for each root of a degree."""
    assert radiation.radiation_from_sunshine(0.0, 12.0, 40.0) == 10.0
    assert radiation.radiation_from_sunshine(12.0, 12.0, 40.0) == 30.0
    assert radiation.radiation_from_temperature_range(10.0, 19.0, 40.0) == pytest.approx(19.2)


def test_grass_throws_back_less_than_a_quarter() -> None:
    """Albedo 0.23."""
    assert radiation.net_shortwave(10.0) == pytest.approx(7.7)
