"""Figures that come by name are shown with their units, bands as one."""

from __future__ import annotations

import math

import pytest

from strawbell.model.garden import Units
from strawbell.words.figures import about_hour, band, figure_words, hour_words
from strawbell.words.units import Measures

METRIC = Measures()


@pytest.mark.parametrize(
    ("figures", "words"),
    [
        ({"core_c_low": 38.0, "core_c_high": 46.0}, "core 38 to 46 °C"),
        ({"core_low_c": 38.0, "core_high_c": 46.0}, "core 38 to 46 °C"),
        ({"core_c_low": 38.0}, "core at least 38 °C"),
        ({"core_c_high": 38.0}, "core at most 38 °C"),
        ({"core_c_low": 38.0, "core_c_high": 38.0}, "core 38 °C"),
        ({"nitrogen_lost_g_low": 5.0, "nitrogen_lost_g_high": 20.0}, "nitrogen lost 5 to 20 g"),
        ({"nitrogen_lost_g_low": 900.0, "nitrogen_lost_g_high": 1100.0},
         "nitrogen lost 900 g to 1.1 kg"),
        ({"water_l_per_bale": 2.5}, "water 2.5 L a bale"),
        ({"wet_mass_kg": 75.0}, "wet mass 75 kg"),
        ({"days_to_go_days_low": 1.0, "days_to_go_days_high": 1.0}, "days to go 1 day"),
        ({"dry_at_hour": 14.5}, "dry at 14:30"),
        ({"carbon_to_nitrogen": 30.4}, "carbon to nitrogen 30.4"),
        ({"share_percent": 40.2}, "share 40 %"),
        ({"core_c": math.nan}, "core unknown"),
        ({"Odd name!": 3.0}, "Odd name! 3"),
    ],
)  # fmt: skip
def test_each_figure_is_worded_by_its_name(figures: dict[str, float], words: str) -> None:
    assert figure_words(figures, METRIC) == (words,)


def test_figures_follow_the_growers_units() -> None:
    figures = {"core_c_low": 38.0, "core_c_high": 46.0}
    assert figure_words(figures, Measures(Units.US)) == ("core 100.4 to 114.8 °F",)


def test_a_figure_said_elsewhere_is_left_out() -> None:
    assert figure_words({"a_g": 1.0, "b_g": 2.0}, METRIC, frozenset({"a_g"})) == ("b 2 g",)


def test_a_band_that_is_not_there_is_nothing() -> None:
    assert band({}, "core_c", "c", METRIC) == ""


@pytest.mark.parametrize(
    ("hour", "said"), [(0.0, "00:00"), (14.5, "14:30"), (23.999, "00:00"), (6.25, "06:15")]
)
def test_an_hour_is_a_time_of_day(hour: float, said: str) -> None:
    assert hour_words(hour) == said


@pytest.mark.parametrize(
    ("hour", "said"), [(14.38, "14:15"), (14.5, "14:30"), (14.74, "14:30"), (0.1, "00:00")]
)
def test_a_computed_time_is_said_to_the_quarter_before(hour: float, said: str) -> None:
    """Earlier rather than later: the top is wetted before it is dry."""
    assert about_hour(hour) == said
