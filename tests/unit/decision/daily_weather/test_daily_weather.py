"""Neighbours share the weather of one forecast, and nobody else does."""

from __future__ import annotations

from datetime import time, timedelta

from msgspec.structs import replace

from strawbell.decision.daily_weather import SharedWeather
from support.gardens import at, forecast, garden, on_day

NOW = at(on_day(5))
SEEN = forecast(NOW)
HERE = garden()


def test_the_same_forecast_rules_and_times_share_what_was_judged() -> None:
    """Whatever the garden is called and grows."""
    next_door = replace(HERE, name="Next door", batches=())
    shared = SharedWeather()
    assert shared.of(next_door, SEEN, NOW) is shared.of(HERE, SEEN, NOW)


def test_anything_that_could_judge_differently_has_weather_of_its_own() -> None:
    """Another forecast, an equal one, another moment, a brief told, a rule, a time, a zone."""
    shared = SharedWeather()
    mine = shared.of(HERE, SEEN, NOW)
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
        assert shared.of(where, seen, now, decided) is not mine
        mine = shared.of(HERE, SEEN, NOW)
