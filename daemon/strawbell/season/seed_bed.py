"""How warm the seed bed on top of a conditioned bale is, by the weather that is kept."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, timedelta

from strawbell.model.forecast import DayWeather

BED_WARMER_C = (0.0, 6.0)
"""How much warmer than the air a conditioned bale is at seed depth, least and most (common
practice: bales are ahead of the soil; no measurement found)."""
BED_UNKNOWN_C = (12.0, 20.0)
"""Seed bed of a conditioned bale where no weather is kept (design choice: spring)."""

DAY = timedelta(days=1)


def mean_air_c(weather: DayWeather | None) -> float | None:
    """Return the mean air of a day, None where it is not known whole [degC]."""
    if weather is None or not weather.complete:
        return None
    if weather.low_c is None or weather.high_c is None:
        return None
    return (weather.low_c + weather.high_c) / 2.0


def bed_since(
    weather: Mapping[date, DayWeather], since: date, most_days: int
) -> tuple[tuple[date, float], ...]:
    """Return how warm the bed was on the days from a sowing on, where that is known [degC]."""
    warmer_c = sum(BED_WARMER_C) / 2.0
    bed = []
    for ahead in range(most_days + 1):
        on = since + DAY * ahead
        air_c = mean_air_c(weather.get(on))
        if air_c is not None:
            bed.append((on, air_c + warmer_c))
    return tuple(bed)
