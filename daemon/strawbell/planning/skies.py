"""The weather of each local date, as the decision of that morning would see it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from strawbell.model.forecast import DayWeather, Forecast, ForecastStatus, ForecastUse
from strawbell.model.garden import Garden
from strawbell.planning.local_time import bounds_of, moment_of, zone_of
from strawbell.weather.days import day_weather, hot_and_dry
from strawbell.weather.findings import Finding
from strawbell.weather.holds import freeze, heavy_rain
from strawbell.weather.trust import use_of


@dataclass(frozen=True, slots=True)
class Sky:
    """The weather of one local date, seen from `moment`.

    `rain`, `freezing` and `hot` are None when no forecast may be decided on; `weather` is shown
    even from a stale one.
    """

    on: date
    moment: datetime
    weather: DayWeather
    rain: Finding | None
    freezing: Finding | None
    hot: Finding | None


class Skies:
    """The skies of a garden from one forecast, each judged once and kept."""

    def __init__(self, garden: Garden, forecast: Forecast | None, now: datetime) -> None:
        """Judge from `forecast`, which may be None, at `now`."""
        self._garden = garden
        self._forecast = forecast
        self._now = now
        self._zone = zone_of(garden.place.time_zone)
        self.use: ForecastUse = use_of(forecast, now, garden.rules)
        self.trusted = forecast if self.use.status is ForecastStatus.FRESH else None
        self.today = now.astimezone(self._zone).date()
        self._seen: dict[tuple[date, bool], Sky] = {}

    def on(self, on: date, *, told_hold: bool = False) -> Sky:
        """Return the sky of a date; with `told_hold` thresholds are eased (see weather.holds)."""
        key = (on, told_hold)
        if key not in self._seen:
            self._seen[key] = self._look(on, told_hold=told_hold)
        return self._seen[key]

    def _look(self, on: date, *, told_hold: bool) -> Sky:
        start, end = bounds_of(on, self._zone)
        if on == self.today:
            moment = self._now
        else:
            moment = moment_of(on, self._garden.times.morning, self._zone)
        weather = day_weather(self._forecast, start, end)
        if self.trusted is None:
            return Sky(on, moment, weather, None, None, None)
        rules = self._garden.rules
        return Sky(
            on,
            moment,
            weather,
            heavy_rain(self.trusted, moment, self._zone, rules, told=told_hold),
            freeze(self.trusted, moment, self._zone, rules, told=told_hold),
            hot_and_dry(self.trusted, max(start, min(moment, end)), end, self._zone, rules),
        )
