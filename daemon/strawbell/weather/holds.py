"""What holds a feeding: heavy rain that would wash it out, a freeze that makes bales stand still.

Each rule looks at [moment, end) and counts a threshold as reached when it is met exactly. The end
is one look-ahead from the moment; for work that was told as due it stays where it was when the
day was first decided (`decided`), so that only a changed forecast makes a hold of it, not the
passing of hours. For work that was told as held (`told`) the whole look-ahead counts from now, so
that a hold is never taken back just before the downpour, and the threshold is eased by a margin,
so that advice does not flip from one forecast to the next.
"""

from __future__ import annotations

from datetime import datetime, timedelta, tzinfo

from strawbell.model.brief import Reason, ReasonCode
from strawbell.model.forecast import Forecast
from strawbell.model.garden import Rules
from strawbell.weather.findings import CLEAR, Finding, Standing
from strawbell.weather.windows import Figure, highest_chance, lowest_temperature, rain_total


def heavy_rain(
    forecast: Forecast,
    moment: datetime,
    zone: tzinfo,
    rules: Rules,
    *,
    told: bool = False,
    decided: datetime | None = None,
) -> Finding:
    """Judge whether rain would wash a feeding out of the bales.

    Parameters
    ----------
    forecast : Forecast
        Hourly rain [mm] and chance of rain [percent].
    moment : datetime
        Moment of the decision, aware.
    zone : tzinfo
        The garden's time zone, for the moment given in the reason.
    rules : Rules
        `rain_hold_mm` [mm], `rain_hold_chance_percent`, `rain_look_ahead_h` [h].
    told : bool
        A hold was told today; it is kept until the rain is `rain_take_back_mm` under the
        threshold.
    decided : datetime, optional
        When the day was told first; without a told hold the window ends one look-ahead later.

    Returns
    -------
    Finding
        Reached when the sum reaches the threshold and the highest chance, where the service gives
        one, reaches its own; unknown when a missing value could change the answer.

    References
    ----------
    .. [1] Ohio State University Extension, ANR-0156: more than 50 % chance of more than 0.5 in
       within 24 h.
    """
    end = _begins(moment, decided, told=told) + timedelta(hours=rules.rain_look_ahead_h)
    threshold_mm = rules.rain_hold_mm - (rules.rain_take_back_mm if told else 0.0)
    rain = rain_total(forecast.hours, moment, end)
    if rain.value is None or rain.value < threshold_mm:
        return CLEAR if rain.complete else _rain_unknown(rain, rules)
    chance = highest_chance(forecast.hours, moment, end)
    if chance.value is not None and chance.value < rules.rain_hold_chance_percent:
        return CLEAR if chance.complete and rain.complete else _rain_unknown(rain, rules)
    reason = Reason(
        ReasonCode.HEAVY_RAIN,
        rain.value,
        rules.rain_hold_mm,
        "mm",
        _local(rain.at, zone),
        chance.value,
    )
    return Finding(Standing.REACHED, (reason,))


def freeze(
    forecast: Forecast,
    moment: datetime,
    zone: tzinfo,
    rules: Rules,
    *,
    told: bool = False,
    decided: datetime | None = None,
) -> Finding:
    """Judge whether the bales will freeze; they are then neither fed nor watered.

    Parameters
    ----------
    forecast : Forecast
        Hourly air temperature [degC].
    moment : datetime
        Moment of the decision, aware.
    zone : tzinfo
        The garden's time zone, for the moment given in the reason.
    rules : Rules
        `freeze_hold_c` [degC], `freeze_look_ahead_h` [h].
    told : bool
        A hold was told today; it is kept until the low is `freeze_take_back_c` over the threshold.
    decided : datetime, optional
        When the day was told first; without a told hold the window ends one look-ahead later.

    Returns
    -------
    Finding
        Reached when the lowest known temperature is at or under the threshold.

    References
    ----------
    .. [1] National Weather Service: a freeze is a shelter temperature at or under 32 F.
    """
    end = _begins(moment, decided, told=told) + timedelta(hours=rules.freeze_look_ahead_h)
    threshold_c = rules.freeze_hold_c + (rules.freeze_take_back_c if told else 0.0)
    low = lowest_temperature(forecast.hours, moment, end)
    if low.value is not None and low.value <= threshold_c:
        reason = Reason(
            ReasonCode.FREEZE, low.value, rules.freeze_hold_c, "degC", _local(low.at, zone)
        )
        return Finding(Standing.REACHED, (reason,))
    if low.complete:
        return CLEAR
    return Finding(
        Standing.UNKNOWN,
        (Reason(ReasonCode.TEMPERATURE_UNKNOWN, low.value, rules.freeze_hold_c, "degC"),),
    )


def _rain_unknown(rain: Figure, rules: Rules) -> Finding:
    reason = Reason(ReasonCode.RAIN_UNKNOWN, rain.value, rules.rain_hold_mm, "mm")
    return Finding(Standing.UNKNOWN, (reason,))


def _begins(moment: datetime, decided: datetime | None, *, told: bool) -> datetime:
    """Return from when the look-ahead is counted."""
    return moment if told or decided is None else decided


def _local(moment: datetime | None, zone: tzinfo) -> datetime | None:
    return None if moment is None else moment.astimezone(zone)
