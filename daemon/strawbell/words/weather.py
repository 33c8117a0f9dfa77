"""Weather and forecast in words: a day's figures, and what they rest on."""

from __future__ import annotations

from strawbell.model.forecast import DayWeather, ForecastStatus, ForecastUse
from strawbell.words.escaping import clean, name
from strawbell.words.voice import Voice

LINK_LIMIT = 300
"""Longest link of an attribution that is shown [characters]."""


def weather_words(weather: DayWeather, voice: Voice) -> str:
    """Return a day's weather as "-3 to 9 °C, 2 mm of rain", "" when all of it is unknown."""
    measures = voice.measures
    low, high, rain = weather.low_c, weather.high_c, weather.rain_mm
    if low is None and high is None and rain is None:
        return ""
    if low is None and high is None:
        warm = "temperature unknown"
    elif low is None or high is None:
        warm = f"low {measures.temperature(low, 0)}, high {measures.temperature(high, 0)}"
    else:
        warm = f"{measures.whole_degrees(low)} to {measures.whole_degrees(high)}"
        warm = measures.joined(measures.degree, warm)
    wet = "no rain" if rain == 0 else f"{measures.rain(rain)} of rain"
    if rain is None:
        wet = "rain unknown"
    partly = "" if weather.complete else ", parts of the day unknown"
    return f"{warm}, {wet}{partly}"


def forecast_words(use: ForecastUse, voice: Voice) -> str:
    """Return which forecast the brief rests on, and how old it is."""
    if use.source is None:
        return "Forecast: none."
    issued = ""
    if use.issued_at is not None:
        local = voice.local(use.issued_at)
        issued = f", of {voice.day(local.date())} {voice.clock(local)}"
    age = "" if use.age_h is None else f", {voice.measures.hours(max(use.age_h, 0.0))} old"
    stale = ", too old to decide on" if use.status is not ForecastStatus.FRESH else ""
    return f"Forecast: {name(use.source)}{issued}{age}{stale}."


def attribution_words(use: ForecastUse) -> tuple[str, str]:
    """Return the attribution a service asks for and its link, "" for what there is none of.

    A link that is not plain http or https, or holds a blank, is not shown as one.
    """
    link = use.attribution_url
    whole = link == clean(link) and " " not in link and len(link) <= LINK_LIMIT
    safe = whole and link.startswith(("https://", "http://"))
    return clean(use.attribution)[:LINK_LIMIT], link if safe else ""
