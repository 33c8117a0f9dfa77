"""What a forecast means for the day: what holds a feeding, what dries the top, whether it is fresh.

The day's window is decided once: without a told hold it ends one look-ahead after the moment the
day was told (`decided`), so rain further ahead is tomorrow's question, not a change of plan. A hold
that was told is looked at a whole look-ahead from now, so it is not taken back just before the
rain falls, and only when the chance has fallen by a margin, since a change of mind costs the
grower a walk.
"""

from __future__ import annotations

from datetime import datetime, timedelta, tzinfo
from enum import StrEnum

from msgspec import Struct
from msgspec.structs import replace

from strawbell.model.brief import Reason, ReasonCode
from strawbell.model.forecast import DayWeather, Forecast, ForecastStatus, ForecastUse
from strawbell.model.garden import Rules
from strawbell.weather.chance import (
    AS_FORECAST,
    Chance,
    Colder,
    hot_dry_chance,
    low_chance,
    rain_chance,
)
from strawbell.weather.thresholds import CHANGE_OF_MIND_PERCENT, FREEZE_HOLD_CHANCE_PERCENT
from strawbell.weather.windows import (
    highest_chance,
    highest_temperature,
    hours_between,
    lowest_temperature,
    rain_total,
    temperature_range,
)


class Standing(StrEnum):
    """What a rule says."""

    REACHED = "reached"
    CLEAR = "clear"
    UNKNOWN = "unknown"


class Finding(Struct, frozen=True):
    """The standing of one rule; `reasons` carry the numbers, also of what is unknown."""

    standing: Standing
    reasons: tuple[Reason, ...] = ()

    @property
    def reached(self) -> bool:
        """Whether the threshold is reached by what is known."""
        return self.standing is Standing.REACHED


CLEAR = Finding(Standing.CLEAR)
"""Everything in the window is known and under the threshold."""


FUTURE_TOLERANCE = timedelta(hours=1)
"""How far in the future a forecast may claim to be issued: clocks differ, CDNs more so."""


def use_of(forecast: Forecast | None, moment: datetime, rules: Rules) -> ForecastUse:
    """Return whether a forecast is fresh, stale or missing at a moment.

    Args:
        forecast: What could be had.
        moment: Moment of the decision, aware.
        rules: `stale_after_h` [h]: over this age a forecast is shown but not decided on.

    Returns:
        The age [h] is counted from the older of issue and fetch, so that an old answer served anew
        by a cache does not look young. Where the service says how often its model runs, a run of
        normal age is not stale, however old, until newer ones are overdue; the limit then holds for
        the fetch alone. A forecast from the future beyond an hour, or without an hour ahead of the
        moment, counts as stale.

    Source: Services issue a forecast at least every 6 h (their documentation); twice that is the
        default limit (design choice). A run of a world model is 7 to 11 h old before it can be had,
        and 15 to 17 h when the next one comes.
    """
    if forecast is None:
        return ForecastUse(ForecastStatus.MISSING)
    oldest = min(forecast.issued_at, forecast.fetched_at)
    age = moment - oldest
    ends = forecast.hours[-1].starts_at if forecast.hours else moment
    limit = timedelta(hours=rules.stale_after_h)
    if forecast.good_until is None:
        in_time = age <= limit
    else:
        in_time = moment <= forecast.good_until and moment - forecast.fetched_at <= limit
    fresh = age >= -FUTURE_TOLERANCE and in_time and ends > moment
    ensemble = forecast.ensemble
    return ForecastUse(
        status=ForecastStatus.FRESH if fresh else ForecastStatus.STALE,
        source=forecast.source,
        issued_at=forecast.issued_at,
        age_h=round(age / timedelta(hours=1), 2),
        attribution=forecast.attribution,
        attribution_url=forecast.attribution_url,
        members=0 if ensemble is None else len(ensemble.members),
        members_source=None if ensemble is None else ensemble.source,
    )


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

    Source: by definition: sums and extremes of `windows`.
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
