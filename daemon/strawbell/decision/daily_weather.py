"""The weather of each local date, as the decision of that morning would see it, and its night.

A night is dangerous for what grows in a batch, or for what is about to go in, by its leaves: how
much colder than the air they get is told by cloud and wind.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from datetime import date, datetime, time
from zoneinfo import ZoneInfo

from msgspec import Struct

from strawbell.agronomy.cold_and_heat import NightAir, is_clear_and_calm, night_air, plant_low
from strawbell.agronomy.loss import COVER_FROM, KEEP_COVER_FROM, PLANTS_LOST, covered_loss
from strawbell.model.brief import Reason, ReasonCode
from strawbell.model.forecast import DayWeather, Forecast, ForecastStatus, ForecastUse
from strawbell.model.garden import Crop, Garden
from strawbell.season.local_time import DAY, bounds_of, moment_of
from strawbell.weather.chance import AS_FORECAST, USUAL_SITE, Colder, Site, low_chance
from strawbell.weather.judgement import (
    Finding,
    Standing,
    day_weather,
    freeze,
    heavy_rain,
    hot_and_dry,
    use_of,
)
from strawbell.weather.windows import HOUR, hours_between, lowest_temperature

LIKELY_PERCENT = 50.0
"""Chance from which rain is counted on to water bales (as the rule of the rain hold)."""
UNKNOWN = Finding(Standing.UNKNOWN)
"""What is judged of the weather where no forecast may be decided on."""
NIGHT_FROM = time(18)
NIGHT_TO = time(9)
"""Local hours between which plants may freeze: from sunset into the morning (common practice)."""


class DayConditions(Struct, frozen=True):
    """The weather of one local date, seen from `moment`.

    `rain`, `freezing` and `hot` are unknown when no forecast may be decided on; `weather` is shown
    even from a stale one.
    """

    on: date
    moment: datetime
    weather: DayWeather
    is_trusted: bool = False
    """Whether the forecast may be decided on."""
    rain: Finding = UNKNOWN
    freezing: Finding = UNKNOWN
    hot: Finding = UNKNOWN

    @property
    def counted_rain_mm(self) -> float:
        """The rain that is counted on: known, and likely enough; no chance says nothing."""
        chance = self.weather.rain_chance_percent
        likely = chance is None or chance >= LIKELY_PERCENT
        return self.weather.rain_mm or 0.0 if self.is_trusted and likely else 0.0


class Night(Struct, frozen=True):
    """The night that begins on a local date: its air, and when it is coldest (garden-local)."""

    on: date
    air: NightAir
    coldest_at: datetime | None
    starts_at: datetime
    ends_at: datetime
    forecast: Forecast | None = None
    place: Colder = AS_FORECAST
    """How much colder the garden is than forecast."""

    def leaf_band(self) -> tuple[float, float] | None:
        """Return the coldest and the mildest that leaves are expected to get [degC]."""
        if self.air.low_c is None:
            return None
        low_c = self.air.low_c - self.place.mean_c
        return plant_low(low_c, self.air.cloud_percent, self.air.wind_m_s)

    def leaf_chance(self, limit_c: float) -> float | None:
        """Return the chance that plants cool to a limit [degC], None where the low is unknown.

        How much colder than the air they get is a band by the kind of night, taken as even.
        """
        band = self.leaf_band()
        if self.forecast is None or self.air.low_c is None or band is None:
            return None
        coldest_c, mildest_c = band
        colder = Colder(
            self.air.low_c - (coldest_c + mildest_c) / 2.0,
            (mildest_c - coldest_c) / math.sqrt(12.0),
        )
        return low_chance(self.forecast, self.starts_at, self.ends_at, limit_c, colder).value


class LeafFrost(Struct, frozen=True):
    """How likely a night freezes a crop that is worth covering, and what that is worth."""

    crop: Crop
    chance: float
    plant_c: float
    """The lowest that its leaves are expected to cool to [degC]."""
    at: datetime | None

    def reason(self) -> Reason:
        """Return why plants have to be protected, with what it costs to cover them or not."""
        return Reason(
            ReasonCode.FROST,
            round(self.plant_c, 1),
            round(self.crop.cover_at_c, 1),
            "degC",
            self.at,
            self.chance,
            loss_if_done=covered_loss(self.chance),
            loss_if_waited=self.chance * PLANTS_LOST,
        )


def leaf_frost(night: Night, crop: Crop, limit_c: float | None = None) -> LeafFrost | None:
    """Return how likely a night is to freeze a crop, None where that is unknown.

    Or to cool its leaves to another limit than the one it is covered at [degC].
    """
    chance = night.leaf_chance(crop.cover_at_c if limit_c is None else limit_c)
    band = night.leaf_band()
    if chance is None or band is None:
        return None
    return LeafFrost(crop, chance, sum(band) / 2.0, night.coldest_at)


def to_cover(
    night: Night, crops: tuple[Crop, ...], *, told: bool = False
) -> tuple[LeafFrost | None, tuple[str, ...]]:
    """Return the likeliest frost of a night among crops, and the names of all worth covering.

    One that was `told` is kept until a night is much milder.
    """
    from_chance = KEEP_COVER_FROM if told else COVER_FROM
    known = (leaf_frost(night, crop) for crop in crops)
    found = [each for each in known if each is not None and each.chance >= from_chance]
    if not found:
        return None, ()
    gravest = max(found, key=lambda each: each.chance)
    return gravest, tuple(dict.fromkeys(each.crop.name for each in found))


def is_clear(air: NightAir) -> bool | None:
    """Return whether a night is clear and calm, None where that is not known."""
    return is_clear_and_calm(air.cloud_percent, air.wind_m_s)


def was_clear(forecast: Forecast | None, on: date, zone: ZoneInfo) -> bool | None:
    """Return whether the night that ends on a date is clear and calm by a forecast."""
    if forecast is None:
        return None
    start, end = bounds_of(on, zone)[0], moment_of(on, NIGHT_TO, zone)
    return is_clear(night_air(hours_between(forecast.hours, start, end)))


class DailyWeather:
    """The weather of gardens of one place from one forecast, each date judged once and kept."""

    def __init__(
        self,
        garden: Garden,
        forecast: Forecast | None,
        now: datetime,
        decided: datetime | None = None,
        site: Site = USUAL_SITE,
    ) -> None:
        """Judge from `forecast`, which may be None, at `now`; today was told first at `decided`.

        `site` is how the garden differs from what is forecast.
        """
        self._decided = decided
        self._site = site
        self._garden = garden
        self._forecast = forecast
        self.now = now
        self.zone = garden.place.zone
        self.use: ForecastUse = use_of(forecast, now, garden.rules)
        self.trusted = forecast if self.use.status is ForecastStatus.FRESH else None
        self.today = now.astimezone(self.zone).date()
        self._nights: dict[date, Night] = {}
        self._seen: dict[tuple[date, bool], DayConditions] = {}

    def on(self, on: date, *, told_hold: bool = False) -> DayConditions:
        """Return the conditions of a date; `told_hold` eases thresholds (see weather.holds)."""
        key = (on, told_hold)
        if key not in self._seen:
            self._seen[key] = self._look(on, told_hold=told_hold)
        return self._seen[key]

    def night(self, on: date) -> Night:
        """Return the night that begins on a date, from now on where it has begun already.

        All of it is unknown without a forecast that may be decided on.
        """
        if on not in self._nights:
            start = max(self.now, moment_of(on, NIGHT_FROM, self.zone))
            end = moment_of(on + DAY, NIGHT_TO, self.zone)
            hours = () if self.trusted is None else hours_between(self.trusted.hours, start, end)
            covered = len(hours) >= (end - start) // HOUR
            air = night_air(hours) if covered else NightAir(None, None, None)
            low = lowest_temperature(hours, start, end)
            at = None if low.at is None else low.at.astimezone(self.zone)
            place = self._colder_on(air)
            self._nights[on] = Night(on, air, at, start, end, self.trusted, place)
        return self._nights[on]

    def nights(self, on: date, count: int) -> Iterator[Night]:
        """Yield so many nights one after the other, the first begins on a date."""
        for ahead in range(count):
            yield self.night(on + DAY * ahead)

    def trouble(self) -> tuple[Reason, ...]:
        """Return why the forecast may not be decided on, nothing where it may."""
        if self.use.status is ForecastStatus.MISSING:
            return (Reason(ReasonCode.NO_FORECAST),)
        if self.use.status is ForecastStatus.STALE:
            limit_h = self._garden.rules.stale_after_h
            return (Reason(ReasonCode.STALE_FORECAST, self.use.age_h, limit_h, "h"),)
        return ()

    def _colder_on(self, air: NightAir | None) -> Colder:
        return self._site.on(clear=None if air is None else is_clear(air))

    def _look(self, on: date, *, told_hold: bool) -> DayConditions:
        start, end = bounds_of(on, self.zone)
        if on == self.today:
            moment = self.now
        else:
            moment = moment_of(on, self._garden.times.morning, self.zone)
        weather = day_weather(self._forecast, start, end, moment)
        if self.trusted is None:
            return DayConditions(on, moment, weather)
        rules = self._garden.rules
        decided = self._decided if on == self.today else None
        return DayConditions(
            on,
            moment,
            weather,
            True,
            heavy_rain(
                self.trusted,
                moment,
                self.zone,
                rules,
                told=told_hold,
                decided=decided,
                wetter=self._site.wetter,
            ),
            freeze(
                self.trusted,
                moment,
                self.zone,
                rules,
                told=told_hold,
                decided=decided,
                colder=self._colder_on(None if self._site.is_even else self.night(on).air),
            ),
            hot_and_dry(self.trusted, max(start, min(moment, end)), end, self.zone, rules),
        )


class SharedWeather:
    """The daily weather asked for last: neighbours with the same rules and times share it."""

    def __init__(self) -> None:
        """Start with none."""
        self._of: tuple[object, ...] = ()
        self._forecast: Forecast | None = None
        self._daily: DailyWeather | None = None

    def of(
        self,
        garden: Garden,
        forecast: Forecast | None,
        now: datetime,
        decided: datetime | None = None,
        site: Site = USUAL_SITE,
    ) -> DailyWeather:
        """Return the weather of a garden by date.

        A forecast is told apart by being the very same one: comparing its hours would cost more.
        """
        asked = now, decided, site, garden.rules, garden.times, garden.place.time_zone
        if self._daily is None or self._forecast is not forecast or self._of != asked:
            self._of, self._forecast = asked, forecast
            self._daily = DailyWeather(garden, forecast, now, decided, site)
        return self._daily
