"""The sun over a place at an hour, for tests that make up or read weather."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from strawbell.agronomy.evaporation import SolarDay, extraterrestrial_at, solar_angle, solar_day


def solar_date(starts_at: datetime, longitude: float) -> int:
    """Return the day of the year by the sundial of a longitude."""
    sundial = starts_at.astimezone(UTC) + timedelta(hours=longitude / 15.0)
    return sundial.timetuple().tm_yday


def sun_of(latitude: float, longitude: float, starts_at: datetime) -> tuple[SolarDay, float]:
    """Return the sun of the day and its hour angle in the middle of an hour."""
    day = solar_day(latitude, solar_date(starts_at, longitude))
    return day, solar_angle(starts_at, longitude, day)


def extraterrestrial(latitude: float, longitude: float, starts_at: datetime) -> float:
    """Return the radiation above the air in an hour [MJ/m2]."""
    return extraterrestrial_at(*sun_of(latitude, longitude, starts_at))


def clear_sky(latitude: float, longitude: float, starts_at: datetime, elevation_m: float) -> float:
    """Return the radiation of a cloudless hour [MJ/m2], by FAO-56, equation 37."""
    return (0.75 + 2e-5 * elevation_m) * extraterrestrial(latitude, longitude, starts_at)
