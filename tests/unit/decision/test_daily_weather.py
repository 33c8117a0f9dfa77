"""Neighbours share the weather of one forecast, and nobody else does."""

from __future__ import annotations

from datetime import time, timedelta

from msgspec.structs import replace

from strawbell.decision.daily_weather import daily_weather_of
from support.gardens import at, forecast, garden, on_day

NOW = at(on_day(5))
SEEN = forecast(NOW)
HERE = garden()


def test_the_same_forecast_rules_and_times_share_what_was_judged() -> None:
    """Whatever the garden is called and grows."""
    next_door = replace(HERE, name="Next door", batches=())
    assert daily_weather_of(next_door, SEEN, NOW) is daily_weather_of(HERE, SEEN, NOW)


def test_anything_that_could_judge_differently_has_skies_of_its_own() -> None:
    """Another forecast, an equal one, another moment, a brief told, a rule, a time, a zone."""
    mine = daily_weather_of(HERE, SEEN, NOW)
    others = [
        (HERE, replace(SEEN), NOW, None),
        (HERE, None, NOW, None),
        (HERE, SEEN, NOW + timedelta(minutes=1), None),
        (HERE, SEEN, NOW, NOW),
        (replace(HERE, rules=replace(HERE.rules, rain_hold_mm=5.0)), SEEN, NOW, None),
        (replace(HERE, times=replace(HERE.times, morning=time(7))), SEEN, NOW, None),
        (replace(HERE, place=replace(HERE.place, time_zone="Etc/UTC")), SEEN, NOW, None),
    ]
    for where, seen, now, decided in others:
        assert daily_weather_of(where, seen, now, decided) is not mine
        mine = daily_weather_of(HERE, SEEN, NOW)
