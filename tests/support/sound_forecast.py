"""What must hold of every forecast, whatever the answer it was read from."""

from __future__ import annotations

import math
from datetime import timedelta
from itertools import pairwise

from msgspec.structs import fields

from strawbell.model.forecast import Forecast, Hour

LIMITS = {
    "temperature_c": (-90.0, 60.0),
    "rain_mm": (0.0, 500.0),
    "rain_chance_percent": (0.0, 100.0),
    "relative_humidity_percent": (0.0, 100.0),
    "dew_point_c": (-90.0, 60.0),
    "wind_m_s": (0.0, 120.0),
    "radiation_w_m2": (0.0, 1500.0),
    "cloud_percent": (0.0, 100.0),
    "snow_cm": (0.0, 100.0),
    "temperature_sd_c": (0.0, 15.0),
    "rain_most_mm": (0.0, 500.0),
}


def assert_sound(forecast: Forecast) -> None:
    """Hours ascend without overlap, in UTC; each value is None or one that can be."""
    assert forecast.hours
    assert forecast.attribution
    for moment in (forecast.issued_at, forecast.fetched_at):
        assert moment.utcoffset() == timedelta(0)
    for before, after in pairwise(forecast.hours):
        assert after.starts_at - before.starts_at >= timedelta(hours=1)
    for hour in forecast.hours:
        assert hour.starts_at.utcoffset() == timedelta(0)
        for name in (field.name for field in fields(Hour) if field.name != "starts_at"):
            value = getattr(hour, name)
            low, high = LIMITS[name]
            assert value is None or (
                type(value) is float and math.isfinite(value) and low <= value <= high
            ), (hour, name)
