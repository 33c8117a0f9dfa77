"""The defaults of the judgement against what is published for each."""

from __future__ import annotations

import pytest

from strawbell.weather.thresholds import (
    CHANGE_OF_MIND_PERCENT,
    DEFAULT_RULES,
    FREEZE_HOLD_CHANCE_PERCENT,
)

MM_PER_INCH = 25.4


def celsius(fahrenheit: float) -> float:
    return (fahrenheit - 32.0) / 1.8


def test_a_feeding_waits_for_what_keeps_manure_off_the_fields() -> None:
    """Ohio State University Extension, ANR-0156: more than 50 % chance of 0.5 in within 24 h."""
    assert DEFAULT_RULES.rain_hold_mm == pytest.approx(0.5 * MM_PER_INCH)
    assert DEFAULT_RULES.rain_hold_chance_percent == 50.0
    assert DEFAULT_RULES.rain_look_ahead_h == 24.0


def test_a_freeze_is_the_one_of_the_weather_service_and_as_far_ahead_as_rain() -> None:
    """National Weather Service: 32 F; advisories go out 12 to 36 h ahead. The rest is chosen."""
    assert DEFAULT_RULES.freeze_hold_c == pytest.approx(celsius(32.0))
    assert DEFAULT_RULES.frost_look_ahead_h == 36.0
    assert DEFAULT_RULES.freeze_look_ahead_h == DEFAULT_RULES.rain_look_ahead_h
    assert DEFAULT_RULES.rain_hold_chance_percent == FREEZE_HOLD_CHANCE_PERCENT
    assert CHANGE_OF_MIND_PERCENT == 10.0


def test_a_hot_day_and_a_dry_one_are_those_of_common_practice() -> None:
    """86 F; by hand below about 0.1 in of rain a day (common practice)."""
    assert DEFAULT_RULES.hot_day_c == pytest.approx(celsius(86.0))
    assert DEFAULT_RULES.dry_day_mm == pytest.approx(0.1 * MM_PER_INCH, abs=0.05)


def test_a_core_is_safe_under_what_extensions_plant_at_and_hot_from_what_a_pile_is_kept_under() -> (
    None
):
    """WSU FS109E: at or under 99 F; Kansas State: under 100 F. Cornell: a pile under 65 C."""
    assert celsius(99.0) < DEFAULT_RULES.plant_below_c < celsius(100.0)
    assert DEFAULT_RULES.self_heating_c == 65.0


def test_a_forecast_is_old_after_two_issues_and_a_hold_is_asked_about_after_a_week() -> None:
    """Services issue one at least every 6 h; the week is common practice."""
    assert DEFAULT_RULES.stale_after_h == 2 * 6.0
    assert DEFAULT_RULES.ask_after_held_days == 7
