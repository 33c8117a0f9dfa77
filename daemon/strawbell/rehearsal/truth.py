"""The weather that really came, looked at the way every policy is judged by.

The thresholds here are the published defaults, not the rules of the garden that is judged: a grower
who holds at other figures is still judged by the same ones.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime, timedelta

from msgspec import Struct

from strawbell.agronomy.bale.surface import largest_coefficient
from strawbell.agronomy.bale.surface_outlook import surface_weather
from strawbell.decision.daily_weather import DailyWeather
from strawbell.model.forecast import DayWeather, Forecast
from strawbell.model.garden import Garden
from strawbell.rehearsal.recorded import Weather
from strawbell.season.local_time import DAY, bounds_of, moment_of
from strawbell.weather.days import day_weather
from strawbell.weather.thresholds import FREEZE_HOLD_C, RAIN_HOLD_MM
from strawbell.weather.windows import hours_between, lowest_temperature, rain_total

AFTER_FEEDING = timedelta(hours=24)
"""How long after a feeding rain and frost are charged to it (as the holds look ahead)."""
WIND_HEIGHT_M = 10.0
"""Height at which stations measure wind (WMO standard, from memory) [m]."""


class Aftermath(Struct, frozen=True):
    """What the 24 h after a moment brought; None where it is not known whole and not reached."""

    washed: bool | None
    """12.7 mm of rain or more."""
    frozen: bool | None
    """0 degC or less."""


class TopHour(Struct, frozen=True):
    """What an hour did to a bare top [mm], and the largest coefficient of its day."""

    starts_at: datetime
    et_mm: float | None
    rain_mm: float | None
    wind_m_s: float
    driest_percent: float

    def largest(self, crop_height_m: float, basal: float) -> float:
        """Return the largest evaporation coefficient under a crop (FAO-56, equation 72)."""
        return largest_coefficient(self.wind_m_s, self.driest_percent, crop_height_m, basal)


class Truth:
    """The record of one garden; each date and moment is looked at once."""

    def __init__(self, garden: Garden, weather: Weather) -> None:
        """Look at `weather` from where a garden lies."""
        self.garden = garden
        self.weather = weather
        self.zone = weather.zone
        self._hours = tuple(weather.hours.values())
        self._days: dict[date, DayWeather] = {}
        self._daily: dict[date, DailyWeather] = {}
        self._after: dict[datetime, Aftermath] = {}
        self._tops: dict[date, tuple[TopHour, ...]] = {}

    def morning(self, on: date) -> datetime:
        """Return when the morning brief of a date is due."""
        return moment_of(on, self.garden.times.morning, self.zone)

    def day(self, on: date) -> DayWeather:
        """Return the weather of a local date."""
        if on not in self._days:
            start, end = bounds_of(on, self.zone)
            self._days[on] = day_weather(self._forecast(start, start, end), start, end)
        return self._days[on]

    def conditions(self, on: date) -> DailyWeather:
        """Return the conditions as a morning would see them that knows what comes."""
        if on not in self._daily:
            now = self.morning(on)
            known = self._forecast(now, now - DAY * 2, now + DAY * 12)
            self._daily[on] = DailyWeather(self.garden, known, now)
        return self._daily[on]

    def after(self, at: datetime) -> Aftermath:
        """Return what the 24 h after a moment brought."""
        if at not in self._after:
            rain = rain_total(self._hours, at, at + AFTER_FEEDING)
            low = lowest_temperature(self._hours, at, at + AFTER_FEEDING)
            washed = rain.value is not None and rain.value >= RAIN_HOLD_MM
            frozen = low.value is not None and low.value <= FREEZE_HOLD_C
            self._after[at] = Aftermath(
                washed=True if washed else False if rain.complete else None,
                frozen=True if frozen else False if low.complete else None,
            )
        return self._after[at]

    def top_hours(self, on: date) -> Sequence[TopHour]:
        """Return the hours of a date as a bare top feels them."""
        if on not in self._tops:
            start, end = bounds_of(on, self.zone)
            around = hours_between(self._hours, start - DAY, end + DAY)
            weather = surface_weather(around, self.garden.place, WIND_HEIGHT_M)
            wind, driest = weather.wind_2m_m_s, weather.driest_percent
            self._tops[on] = tuple(
                TopHour(hour.starts_at, hour.et_mm, hour.rain_mm, wind, driest)
                for hour in weather.hours
                if start <= hour.starts_at < end
            )
        return self._tops[on]

    def _forecast(self, issued: datetime, start: datetime, end: datetime) -> Forecast:
        hours = tuple(hours_between(self._hours, start, end))
        return Forecast("record", issued, issued, hours, "", wind_height_m=WIND_HEIGHT_M)
