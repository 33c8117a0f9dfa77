"""What to look out for, beside the tasks: each watch has one signature and one subject.

That a bale was fed and stays cool only a probe tells: without a reading nobody knows. A reading
before a bale could have risen says nothing either, so it is held against what a bale that heats
would have come to by then.

References:
[1] Growers' logs: lukewarm bales stood 3 to 15 K over the air, hot ones 20 to 42 K (weak data).
[2] Fungi and bacteria on straw do little under 10 C (Summers, Blunk and Jenkins, 2003).
[3] "The composting handbook", Table 4.2: 40 to 65 % moisture acceptable; above it air is short.
[4] Ammonia stops compost whose nitrogen is in excess (phase I of mushroom compost).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from datetime import date, datetime, timedelta

from msgspec import Struct

from strawbell.agronomy.balance import body_of
from strawbell.agronomy.ensemble import held_l, hot_c, unbound_g
from strawbell.agronomy.heat_index import WORK_EARLY_F, HeatAdvice, heat_of_day
from strawbell.decision.daily_weather import DailyWeather, DayConditions, to_cover
from strawbell.decision.estimates import Estimates
from strawbell.decision.hold_judgement import last_reading, smoulders
from strawbell.decision.weather_tasks import dry_top, staying
from strawbell.model.brief import Action, Alert, AlertCode, AlertKey, Reason, ReasonCode, Task
from strawbell.model.forecast import Hour
from strawbell.model.garden import Batch, Crop, Garden, RainCover, slug
from strawbell.season.bale_course import Course, Ledger
from strawbell.season.conditioning import front
from strawbell.season.feedings import last_season_feeding
from strawbell.season.local_time import DAY, bounds_of
from strawbell.season.stage import Day, once_key
from strawbell.weather.windows import HOUR, hours_between

NEAR_FREEZING_C = 1.0
"""Hours up to so much over freezing count to the time of a freeze (design choice) [degC]."""
SAID_FOR_DAYS = 7
"""Days for which it is not said again that a bale stays cool (design choice)."""
FRESHLY_FED_DAYS = 2
"""How long after a feeding most of it still lies near the top (common practice)."""
LUKEWARM_K = 10.0
"""Excess over the air up to which a bale is not called warm [K]: between the two kinds of [1]."""
BEHIND_K = 12.0
"""So far under what a bale that heats would have come to, a reading means something [K]: three
times what a reading errs by (design choice)."""
DRY_KG_PER_KG = 1.0
"""Water under which straw is too dry to rot well [kg/kg dry]: 50 %, the lower end of [3]."""
FULL_SHARE = 0.9
"""Share of all that a bale keeps from which its pores lack air (design choice)."""
COLD_C = 10.0
"""Mean air under which little lives [2]."""
WASHED_SHARE = 0.25
"""Share of what was given that is missed when it is gone (design choice)."""
SHARP_G_PER_L = 3.0
"""Unbound nitrogen in a bale's water that smells and stings [g/L] (design choice; [4])."""


class Lookout(Struct, frozen=True):
    """A garden on a date: everything a watch is told."""

    garden: Garden
    days: tuple[Day, ...]
    told: Mapping[date, Mapping[AlertKey, bool]]
    """By date and alert, whether the one told last still stands."""
    daily: DailyWeather
    estimates: Estimates
    tasks: tuple[Task, ...] = ()
    """The work of the date."""

    @property
    def conditions(self) -> DayConditions:
        """The weather of the date."""
        return self.daily.on(self.daily.today)

    def stands(self, code: AlertCode, batch: Batch) -> bool:
        """Return whether an alert of a batch was told on the date and not taken back."""
        key = AlertKey(code, slug(batch.name))
        return self.told.get(self.daily.today, {}).get(key, False)


Watch = Callable[[Lookout], tuple[Alert, ...]]
"""Looks out for one thing."""


def forecast_trouble(lookout: Lookout) -> tuple[Alert, ...]:
    """Say that nothing could be judged, whenever there was something to judge."""
    trouble = lookout.daily.trouble() if _active(lookout) else ()
    return tuple(Alert(AlertCode(why.code), None, None, None, (why,)) for why in trouble)


def freeze_ahead(lookout: Lookout) -> tuple[Alert, ...]:
    """Warn of a freeze while bales are outside: hose, tap, and wet bales standing still."""
    finding = lookout.conditions.freezing
    if not finding.reached or not _active(lookout):
        return ()
    limit_c = lookout.garden.rules.freeze_hold_c + NEAR_FREEZING_C
    first, last = _span(
        lookout,
        lookout.garden.rules.freeze_look_ahead_h,
        lambda hour: hour.temperature_c is not None and hour.temperature_c <= limit_c,
    )
    return (Alert(AlertCode.FREEZE, None, first, last, finding.reasons),)


def heavy_rain_ahead(lookout: Lookout) -> tuple[Alert, ...]:
    """Warn of heavy rain on bales that were fed in the last days: the feed may be washed out.

    A warning that was told is taken back, as a hold is, only where the chance has fallen by a
    margin: two mails about one cloud help nobody.
    """
    first, last = _span(
        lookout, lookout.garden.rules.rain_look_ahead_h, lambda hour: bool(hour.rain_mm)
    )
    found = []
    for day in lookout.days:
        told = lookout.stands(AlertCode.HEAVY_RAIN, day.batch)
        rain = lookout.daily.on(day.on, told_hold=told).rain
        if rain.reached and day.batch.rain_cover is RainCover.NONE and _freshly_fed(day):
            found.append(Alert(AlertCode.HEAVY_RAIN, day.batch.name, first, last, rain.reasons))
    return tuple(found)


def hot_and_dry_day(lookout: Lookout) -> tuple[Alert, ...]:
    """Warn of a day that dries out the top of planted bales, and of bales in conditioning."""
    finding = lookout.conditions.hot
    if not finding.reached:
        return ()
    limit_c = lookout.garden.rules.hot_day_c
    daily = lookout.daily
    left_h = (bounds_of(daily.today, daily.zone)[1] - daily.now) / HOUR
    first, last = _span(
        lookout,
        left_h,
        lambda hour: hour.temperature_c is not None and hour.temperature_c >= limit_c,
    )
    return tuple(
        Alert(
            AlertCode.HOT_DRY,
            day.batch.name,
            first,
            last,
            finding.reasons,
            detail=dry_top(day, lookout.estimates.of(day.batch).surface),
        )
        for day in lookout.days
        if front(day.state.sequence, day.batch) is not None or day.standing
    )


def heat_on_the_person(lookout: Lookout) -> tuple[Alert, ...]:
    """Warn the person of a day too hot for work in the garden (heat index)."""
    daily = lookout.daily
    if daily.trusted is None or not _active(lookout):
        return ()
    _, ends = bounds_of(daily.today, daily.zone)
    heat = heat_of_day(hours_between(daily.trusted.hours, daily.now, ends))
    if heat is None or heat.advice is HeatAdvice.NONE:
        return ()
    at = heat.at.astimezone(daily.zone)
    why = Reason(
        ReasonCode.HEAT, round(heat.highest_c, 1), round((WORK_EARLY_F - 32) / 1.8, 1), "degC", at
    )
    starts, stops = (
        each.astimezone(daily.zone) if each else None for each in (heat.from_hour, heat.to_hour)
    )
    return (Alert(AlertCode.HEAT_PERSON, None, starts, stops, (why,)),)


def frost_on_plants(lookout: Lookout) -> tuple[Alert, ...]:
    """Warn of a night that hurts what stays in the bales, or that nothing is known of."""
    if lookout.daily.trusted is None:
        return ()
    found = []
    for day in lookout.days:
        crops = tuple(each.crop for each in staying(day, lookout.tasks))
        if crops:
            found += _frost_of(lookout, day.batch, crops)
    return tuple(found)


def _frost_of(lookout: Lookout, batch: Batch, crops: tuple[Crop, ...]) -> list[Alert]:
    daily, told = lookout.daily, lookout.stands(AlertCode.FROST, batch)
    until = daily.now + timedelta(hours=lookout.garden.rules.frost_look_ahead_h)
    for night in daily.nights(daily.today, 2):
        frost, names = to_cover(night, crops, told=told)
        if frost is not None and night.starts_at < until:
            ends_at = night.ends_at.astimezone(daily.zone)
            return [Alert(AlertCode.FROST, batch.name, frost.at, ends_at, (frost.reason(),), names)]
    if daily.night(daily.today).air.low_c is None:
        limit_c = max(crop.cover_at_c for crop in crops)
        why = Reason(ReasonCode.TEMPERATURE_UNKNOWN, None, round(limit_c, 1), "degC")
        return [Alert(AlertCode.NO_FORECAST, batch.name, None, None, (why,))]
    return []


def self_heating(lookout: Lookout) -> tuple[Alert, ...]:
    """Warn of a bale whose last reading is in the range of self-heating."""
    found = ((day.batch.name, smoulders(day, lookout.daily.now)) for day in lookout.days)
    return tuple(
        Alert(AlertCode.SELF_HEATING, batch, why.at, None, (why,))
        for batch, why in found
        if why is not None
    )


def not_heating(lookout: Lookout) -> tuple[Alert, ...]:
    """Say why a bale may stay cool, once a reading shows that it does; not every day again."""
    alerts = []
    for day in lookout.days:
        batch, reading = day.batch, last_reading(day, lookout.daily.now)
        course = lookout.estimates.course(batch)
        if course is None or reading is None:
            continue
        key = AlertKey(AlertCode.NOT_HEATING, slug(batch.name))
        lately = (day.on - DAY * back for back in range(1, SAID_FOR_DAYS + 1))
        if any(key in lookout.told.get(on, {}) for on in lately):
            continue
        ledger = lookout.estimates.ledger_of(batch)
        causes = why_cool(batch, course, ledger, reading.temperature_c)
        if causes:
            alerts.append(Alert(AlertCode.NOT_HEATING, batch.name, None, None, causes))
    return tuple(alerts)


def why_cool(
    batch: Batch, course: Course, ledger: Ledger | None, reading_c: float
) -> tuple[Reason, ...]:
    """Return why a bale with a reading may stay cool, the likeliest first, none where it does not.

    A dry core is always among them: no balance of water sees it.
    """
    cool = reading_c - _air_c(course) < LUKEWARM_K
    behind = hot_c(course.draws) - reading_c >= BEHIND_K
    return tuple(_causes(batch, course, ledger)) if cool and behind else ()


def _causes(batch: Batch, course: Course, ledger: Ledger | None) -> Iterator[Reason]:
    body, held = body_of(batch.bale), held_l(course.draws)
    dry = held < DRY_KG_PER_KG * body.dry_kg
    if dry:
        yield Reason(ReasonCode.DRY_CORE)
    if _air_c(course) < COLD_C:
        yield Reason(ReasonCode.COLD_AIR, round(_air_c(course), 1), COLD_C, "degC")
    if held >= FULL_SHARE * body.holds_l:
        yield Reason(ReasonCode.WATERLOGGED)
    if ledger is not None and ledger.leached_g.mean >= WASHED_SHARE * ledger.given_g > 0.0:
        yield Reason(ReasonCode.WASHED_AWAY, round(ledger.leached_g.mean), None, "g")
    if unbound_g(course.draws) >= SHARP_G_PER_L * held:
        yield Reason(ReasonCode.AMMONIA)
    if not dry:
        yield Reason(ReasonCode.DRY_CORE)


def _air_c(course: Course) -> float:
    return (course.low_c + course.high_c) / 2.0


WATCHES: tuple[Watch, ...] = (
    forecast_trouble,
    self_heating,
    not_heating,
    frost_on_plants,
    freeze_ahead,
    heavy_rain_ahead,
    hot_and_dry_day,
    heat_on_the_person,
)
"""Everything that is looked out for, the most urgent first."""


def alerts(lookout: Lookout) -> tuple[Alert, ...]:
    """Return every alert of a garden on a date."""
    return tuple(alert for watch in WATCHES for alert in watch(lookout))


def _active(lookout: Lookout) -> bool:
    """Return whether there are bales outside: a batch that began and is not spread yet."""
    return any(
        once_key(day.batch.name, Action.SPREAD) not in day.state.done for day in lookout.days
    )


def _freshly_fed(day: Day) -> bool:
    """Return whether feed of the conditioning or of the season still lies near the top."""
    fed = [given.on for given in day.state.sequence.given]
    in_season = last_season_feeding(day.batch, day.state)
    if in_season is not None:
        fed.append(in_season)
    return any((day.on - on).days <= FRESHLY_FED_DAYS for on in fed)


def _span(
    lookout: Lookout, look_ahead_h: float, touches: Callable[[Hour], bool]
) -> tuple[datetime | None, datetime | None]:
    """Return when the first hour of the look-ahead that is touched begins and the last ends."""
    daily = lookout.daily
    if daily.trusted is None:
        return None, None
    hours = hours_between(daily.trusted.hours, daily.now, daily.now + HOUR * look_ahead_h)
    touched = [hour.starts_at for hour in hours if touches(hour)]
    if not touched:
        return None, None
    first = max(touched[0], daily.now)
    return first.astimezone(daily.zone), (touched[-1] + HOUR).astimezone(daily.zone)
