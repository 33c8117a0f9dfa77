"""Claims about frost on plants."""

from __future__ import annotations

import math
from datetime import UTC, datetime, timedelta

import pytest
from msgspec.structs import replace

from strawbell.agronomy.cold_and_heat import (
    Danger,
    NightKind,
    dies_in_a_freeze,
    kind_of_night,
    night_air,
    night_risk,
    plant_low,
)
from strawbell.agronomy.crop_table import CROPS
from strawbell.model.forecast import Hour

TOMATO, KALE, PEA, BASIL = (CROPS[name] for name in ("tomato", "kale", "pea", "basil"))
EVENING = datetime(2027, 5, 1, 18, tzinfo=UTC)


@pytest.mark.parametrize(
    ("cloud", "wind", "night"),
    [
        (29.9, 2.23, NightKind.CLEAR_CALM),
        (30.0, 2.23, NightKind.CLOUDY_OR_WINDY),
        (29.9, 2.24, NightKind.CLOUDY_OR_WINDY),
        (None, 5.0, NightKind.CLOUDY_OR_WINDY),
        (90.0, None, NightKind.CLOUDY_OR_WINDY),
        (None, 1.0, NightKind.UNKNOWN),
        (10.0, None, NightKind.UNKNOWN),
        (None, None, NightKind.UNKNOWN),
    ],
)
def test_a_night_is_mild_only_when_cloud_or_wind_is_known_to_make_it_so(
    cloud: float | None, wind: float | None, night: NightKind
) -> None:
    """Unknown is never taken for cloudy or windy."""
    assert kind_of_night(cloud, wind) is night


def test_plants_are_two_to_four_f_colder_on_a_clear_calm_night() -> None:
    """1.11 to 2.22 degC."""
    plants = plant_low(3.0, 10.0, 1.0)
    assert (plants.coldest_c, plants.mildest_c) == (pytest.approx(0.78), pytest.approx(1.89))


def test_plants_are_up_to_one_f_colder_on_another_night() -> None:
    """0 to 0.56 degC."""
    plants = plant_low(3.0, 100.0, 6.0)
    assert (plants.coldest_c, plants.mildest_c) == (pytest.approx(2.44), pytest.approx(3.0))


def test_an_unknown_night_is_judged_as_a_clear_calm_one_and_says_so() -> None:
    """The careful offset, under its own name."""
    unknown, clear = plant_low(3.0, None, None), plant_low(3.0, 0.0, 0.0)
    assert (unknown.coldest_c, unknown.mildest_c) == (clear.coldest_c, clear.mildest_c)
    assert unknown.night is NightKind.UNKNOWN


@pytest.mark.parametrize(
    ("low_c", "danger"),
    [(2.79, Danger.SAFE), (2.78, Danger.COVER), (2.23, Danger.COVER), (2.22, Danger.KILLING)],
)
def test_tomatoes_are_covered_and_killed_at_plant_level(low_c: float, danger: Danger) -> None:
    """Clear and calm: cover at 0.56 degC, killed at 0, both 2.22 degC under the forecast."""
    risk = night_risk(TOMATO, low_c, 0.0, 0.0)
    assert risk is not None
    assert risk.danger is danger


def test_the_same_forecast_is_safe_under_cloud() -> None:
    """2 degC: cover on a clear calm night, no need on a windy one."""
    clear, windy = night_risk(TOMATO, 2.0, 0.0, 0.0), night_risk(TOMATO, 2.0, 0.0, 5.0)
    assert clear is not None
    assert windy is not None
    assert (clear.danger, windy.danger) == (Danger.KILLING, Danger.SAFE)


def test_kale_needs_no_cover_where_basil_does() -> None:
    """5 degC on a clear night."""
    kale, basil = night_risk(KALE, 5.0, 0.0, 0.0), night_risk(BASIL, 5.0, 0.0, 0.0)
    assert kale is not None
    assert basil is not None
    assert (kale.danger, basil.danger) == (Danger.SAFE, Danger.COVER)


def test_an_unknown_low_is_no_judgement() -> None:
    """Missing is not warm."""
    assert night_risk(TOMATO, None, 0.0, 0.0) is None


@pytest.mark.parametrize(
    ("low_c", "cloud", "wind", "name"),
    [
        (math.nan, 0.0, 0.0, "low_c"),
        (-90.1, 0.0, 0.0, "low_c"),
        (0.0, 100.1, 0.0, "cloud_percent"),
        (0.0, -0.1, 0.0, "cloud_percent"),
        (0.0, 0.0, -0.1, "wind_m_s"),
        (0.0, 0.0, 120.1, "wind_m_s"),
    ],
)
def test_values_out_of_range_are_refused_by_name(
    low_c: float, cloud: float, wind: float, name: str
) -> None:
    """The argument is named."""
    with pytest.raises(ValueError, match=name):
        plant_low(low_c, cloud, wind)


def hours(*values: tuple[float | None, float | None, float | None]) -> list[Hour]:
    return [
        Hour(EVENING + timedelta(hours=n), temperature_c=t, cloud_percent=c, wind_m_s=w)
        for n, (t, c, w) in enumerate(values)
    ]


def test_a_night_is_its_low_and_its_mean_cloud_and_wind() -> None:
    """Three full hours."""
    air = night_air(hours((5.0, 0.0, 1.0), (2.0, 30.0, 2.0), (4.0, 60.0, 3.0)))
    assert (air.low_c, air.cloud_percent, air.wind_m_s) == (2.0, 30.0, 2.0)


def test_a_gap_makes_a_figure_unknown() -> None:
    """An unknown hour may have been the coldest, the clearest, the calmest."""
    air = night_air(hours((5.0, None, 1.0), (None, 30.0, 2.0), (4.0, 60.0, None)))
    assert (air.low_c, air.cloud_percent, air.wind_m_s) == (None, None, None)


def test_a_freeze_seen_beside_a_gap_is_not_thrown_away() -> None:
    """At 0 degC it stands; just over it the gap wins."""
    assert night_air(hours((0.0, 0.0, 0.0), (None, 0.0, 0.0))).low_c == 0.0
    assert night_air(hours((0.1, 0.0, 0.0), (None, 0.0, 0.0))).low_c is None


def test_no_hours_are_an_unknown_night() -> None:
    """Nothing is known of it."""
    air = night_air([])
    assert (air.low_c, air.cloud_percent, air.wind_m_s) == (None, None, None)


def test_a_plant_level_low_at_the_covering_temperature_is_covered() -> None:
    """Lettuce at -2.22 degC: exactly 0 degC forecast on a clear calm night, and just over it."""
    at, over = (
        night_risk(CROPS["lettuce"], 0.0, 0.0, 0.0),
        night_risk(CROPS["lettuce"], 0.01, 0.0, 0.0),
    )
    assert at is not None
    assert over is not None
    assert (at.danger, over.danger) == (Danger.COVER, Danger.SAFE)


def test_a_light_freeze_ends_what_it_kills_and_what_is_tender() -> None:
    """Kale lives; a tender crop without a figure of its own does not."""
    assert dies_in_a_freeze(TOMATO)
    assert not dies_in_a_freeze(KALE)
    assert dies_in_a_freeze(replace(TOMATO, kill_at_c=None))
    assert not dies_in_a_freeze(replace(TOMATO, kill_at_c=-0.1))
