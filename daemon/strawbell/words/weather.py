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
    span = None
    if low is not None and high is not None:
        lowest, highest = map(measures.whole_degrees, (low, high))
        span = voice.say("weather.span", low=lowest, high=highest)
        span = measures.joined(measures.degree, span)
    partly = low is not None or high is not None
    return voice.say(
        "weather.day",
        span=span,
        low=measures.temperature(low, 0) if partly else None,
        high=measures.temperature(high, 0),
        dry=rain == 0,
        rain=None if rain is None else measures.rain(rain),
        complete=weather.complete,
    )


def forecast_words(use: ForecastUse, voice: Voice) -> str:
    """Return which forecast the brief rests on, and how old it is."""
    issued = None if use.issued_at is None else voice.local(use.issued_at)
    return voice.say(
        "weather.forecast",
        source=use.source and name(use.source),
        day=None if issued is None else voice.day(issued.date()),
        clock=None if issued is None else voice.clock(issued),
        age=None if use.age_h is None else voice.measures.hours(max(use.age_h, 0.0)),
        fresh=use.status is ForecastStatus.FRESH,
    )


def attribution_words(use: ForecastUse) -> tuple[str, str]:
    """Return the attribution a service asks for and its link, "" for what there is none of.

    A link that is not plain http or https, or holds a blank, is not shown as one.
    """
    link = use.attribution_url
    whole = link == clean(link) and " " not in link and len(link) <= LINK_LIMIT
    safe = whole and link.startswith(("https://", "http://"))
    return clean(use.attribution)[:LINK_LIMIT], link if safe else ""
