"""A local day of the forecast in figures, and whether it is hot and dry."""

from __future__ import annotations

from datetime import datetime, tzinfo

from strawbell.model.brief import Reason, ReasonCode
from strawbell.model.forecast import DayWeather, Forecast
from strawbell.model.garden import Rules
from strawbell.weather.chance import hot_dry_chance
from strawbell.weather.findings import CLEAR, Finding, Standing
from strawbell.weather.windows import (
    highest_chance,
    highest_temperature,
    hours_between,
    lowest_temperature,
    rain_total,
    temperature_range,
)


def day_weather(
    forecast: Forecast | None, start: datetime, end: datetime, since: datetime | None = None
) -> DayWeather:
    """Return low, high, rain and chance of the day [start, end).

    Args:
        forecast: Hourly weather; None gives a day of unknowns.
        start, end: Bounds of the local day, aware; 23 to 25 h apart.
        since: Hours before it are over, and their absence does not make the day incomplete.

    Returns:
        low_c, high_c [degC], rain_mm [mm], rain_chance_percent; each is that of the known hours
        when `complete` is False, None when nothing is known.
    """
    if forecast is None:
        return DayWeather()
    hours = hours_between(forecast.hours, start, end)
    low, high = temperature_range(hours, start, end)
    rain = rain_total(hours, start, end)
    complete = low.complete and rain.complete
    if not complete and since is not None and since < end:
        complete = (
            lowest_temperature(hours, since, end).complete
            and rain_total(hours, since, end).complete
        )
    return DayWeather(
        low_c=low.value,
        high_c=high.value,
        rain_mm=rain.value,
        rain_chance_percent=highest_chance(hours, start, end),
        complete=complete,
    )


def hot_and_dry(
    forecast: Forecast,
    start: datetime,
    end: datetime,
    zone: tzinfo,
    rules: Rules,
) -> Finding:
    """Judge whether the day [start, end) dries out the top of the bales.

    Args:
        forecast: Hourly air temperature [degC] and rain [mm].
        start, end: The part of the local day that the decision is about, aware.
        zone: The garden's time zone, for the moment given in the reason.
        rules: `hot_day_c` [degC] (at or over counts), `dry_day_mm` [mm] (under counts).

    Returns:
        Reached when the high reaches `hot_day_c` and the known rain stays under `dry_day_mm`; an
        unknown amount of rain is said beside it, never taken for dry without a word.

    Source: common practice: top surfaces of bales are watered twice on days over 30 C (86 F).
    """
    high = highest_temperature(forecast.hours, start, end)
    if high.value is None or high.value < rules.hot_day_c:
        if high.complete:
            return CLEAR
        return Finding(
            Standing.UNKNOWN,
            (Reason(ReasonCode.TEMPERATURE_UNKNOWN, high.value, rules.hot_day_c, "degC"),),
        )
    rain = rain_total(forecast.hours, start, end)
    if rain.value is not None and rain.value >= rules.dry_day_mm:
        return CLEAR
    at = high.at.astimezone(zone) if high.at else None
    chance = hot_dry_chance(forecast, start, end, rules.hot_day_c, rules.dry_day_mm).value
    hot = Reason(ReasonCode.HOT_DRY, high.value, rules.hot_day_c, "degC", at, chance)
    if rain.complete:
        return Finding(Standing.REACHED, (hot,))
    unknown_rain = Reason(ReasonCode.RAIN_UNKNOWN, rain.value, rules.dry_day_mm, "mm")
    return Finding(Standing.REACHED, (hot, unknown_rain))
