"""The reasons of the weather to hold a feeding: heavy rain, and a freeze ahead.

The day's window is decided once: without a told hold it ends one look-ahead after the moment the
day was told (`decided`), so rain further ahead is tomorrow's question, not a change of plan. A hold
that was told is looked at a whole look-ahead from now, so it is not taken back just before the
rain falls, and only when the chance has fallen by a margin, since a change of mind costs the
grower a walk.
"""

from __future__ import annotations

from datetime import datetime, timedelta, tzinfo

from msgspec.structs import replace

from strawbell.model.brief import Reason, ReasonCode
from strawbell.model.forecast import Forecast
from strawbell.model.garden import Rules
from strawbell.weather.chance import AS_FORECAST, Chance, Colder, low_chance, rain_chance
from strawbell.weather.findings import CLEAR, Finding, Standing
from strawbell.weather.thresholds import CHANGE_OF_MIND_PERCENT, FREEZE_HOLD_CHANCE_PERCENT
from strawbell.weather.windows import lowest_temperature, rain_total

WORTH_SAYING = 0.2
"""Chance of heavy rain from which it is told though nothing waits for it (design choice): who is
told to feed at 3 in 10 for half an inch may still think better of it."""


def heavy_rain(
    forecast: Forecast,
    moment: datetime,
    zone: tzinfo,
    rules: Rules,
    *,
    told: bool = False,
    decided: datetime | None = None,
    wetter: float = 1.0,
) -> Finding:
    """Judge whether rain would wash a feeding out of the bales.

    Args:
        forecast: Hourly rain [mm], and members where it has them.
        moment: Moment of the decision, aware.
        zone: The garden's time zone, for the moment given in the reason.
        rules: `rain_hold_mm` [mm], `rain_hold_chance_percent`, `rain_look_ahead_h` [h].
        told: A hold was told today; it is kept until the chance is a margin under the threshold.
        decided: When the day was told first; without a told hold the window ends one look-ahead
            later.
        wetter: What the garden gets of the rain that is said, as a share.

    Returns:
        Reached when the chance of at least `rain_hold_mm` in the window reaches its threshold;
        unknown when a missing value could change the answer. Its reason has what is expected [mm],
        the amount, the wettest hour and the chance. From a chance of 0.2 on it is given with a
        clear finding too.

    Source: Ohio State University Extension, ANR-0156: more than 50 % chance of more than 0.5 in
        within 24 h.
    """
    end = _begins(moment, decided, told=told) + timedelta(hours=rules.rain_look_ahead_h)
    # What has fallen since the hold was told counts on: else half a downpour would release it.
    start = decided if told and decided is not None else moment
    rain = rain_total(forecast.hours, start, end)
    chance = rain_chance(forecast, start, end, rules.rain_hold_mm, wetter)
    why = Reason(
        ReasonCode.HEAVY_RAIN,
        rain.value,
        rules.rain_hold_mm,
        "mm",
        _local(rain.at, zone),
        chance=chance.value,
    )
    unknown = Reason(ReasonCode.RAIN_UNKNOWN, rain.value, rules.rain_hold_mm, "mm")
    found = _found(chance, rules.rain_hold_chance_percent, why, unknown, told=told)
    if found is CLEAR and chance.value is not None and chance.value >= WORTH_SAYING:
        return Finding(Standing.CLEAR, (replace(why, code=ReasonCode.RAIN_POSSIBLE),))
    return found


def freeze(
    forecast: Forecast,
    moment: datetime,
    zone: tzinfo,
    rules: Rules,
    *,
    told: bool = False,
    decided: datetime | None = None,
    colder: Colder = AS_FORECAST,
) -> Finding:
    """Judge whether a freeze lies ahead.

    Args:
        forecast: Hourly air temperature [degC], and members where it has them.
        moment: Moment of the decision, aware.
        zone: The garden's time zone, for the moment given in the reason.
        rules: `freeze_hold_c` [degC], `freeze_look_ahead_h` [h].
        told: A hold was told today; it is kept until the chance is a margin under the threshold.
        decided: When the day was told first; without a told hold the window ends one look-ahead
            later.
        colder: How much colder the garden is than forecast [degC].

    Returns:
        Reached when a low at or under the threshold is as likely as not. Its reason has the lowest
        expected [degC], the threshold, when it comes and the chance.

    Source: National Weather Service: a freeze is a shelter temperature at or under 32 F.
    """
    end = _begins(moment, decided, told=told) + timedelta(hours=rules.freeze_look_ahead_h)
    low = lowest_temperature(forecast.hours, moment, end)
    chance = low_chance(forecast, moment, end, rules.freeze_hold_c, colder)
    why = Reason(
        ReasonCode.FREEZE,
        None if low.value is None else round(low.value - colder.mean_c, 1),
        rules.freeze_hold_c,
        "degC",
        _local(low.at, zone),
        chance=chance.value,
    )
    unknown = Reason(ReasonCode.TEMPERATURE_UNKNOWN, low.value, rules.freeze_hold_c, "degC")
    return _found(chance, FREEZE_HOLD_CHANCE_PERCENT, why, unknown, told=told)


def _found(
    chance: Chance, from_percent: float, why: Reason, unknown: Reason, *, told: bool
) -> Finding:
    """Return whether a chance is reached, with the reason, or with what is not known."""
    if chance.value is not None and holds_at(chance.value, from_percent, told=told):
        return Finding(Standing.REACHED, (why,))
    return CLEAR if chance.complete else Finding(Standing.UNKNOWN, (unknown,))


def holds_at(chance: float, from_percent: float, *, told: bool) -> bool:
    """Return whether a chance holds work.

    Args:
        chance: Of the event, 0 to 1.
        from_percent: From what chance on it holds, 0 to 100.
        told: Whether it was told as held today: then it is kept until a margin under that.

    Returns:
        True where it holds.

    Source: [1] of `heavy_rain`; the margin is a design choice.
    """
    return chance * 100.0 >= from_percent - (CHANGE_OF_MIND_PERCENT if told else 0.0)


def _begins(moment: datetime, decided: datetime | None, *, told: bool) -> datetime:
    """Return from when the look-ahead is counted."""
    return moment if told or decided is None else decided


def _local(moment: datetime | None, zone: tzinfo) -> datetime | None:
    return None if moment is None else moment.astimezone(zone)
