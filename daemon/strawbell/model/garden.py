"""The grower's plan: gardens, batches of bales, plantings, and the rules they are judged by."""

from __future__ import annotations

from datetime import date, time
from enum import StrEnum

from msgspec import Struct

from strawbell.model.crops import Crop
from strawbell.model.feeds import Feed
from strawbell.model.schedule import Schedule


class Units(StrEnum):
    """How amounts and temperatures are shown to the grower."""

    METRIC = "metric"
    US = "us"


class Straw(StrEnum):
    """The straw a bale is made of."""

    WHEAT = "wheat"
    OAT = "oat"
    BARLEY = "barley"
    RYE = "rye"


class RainCover(StrEnum):
    """What can be laid over bales to keep rain off."""

    NONE = "none"
    TARP = "tarp"


class Method(StrEnum):
    """How a crop gets into the bale."""

    TRANSPLANT = "transplant"
    SEED = "seed"


class Place(Struct, frozen=True):
    """Where a garden lies: degrees north and east, metres above sea, IANA zone name."""

    latitude: float
    longitude: float
    time_zone: str
    elevation_m: float | None = None


class Bale(Struct, frozen=True):
    """One dry bale as it is set out, cut ends up [cm, kg]."""

    kind: str
    length_cm: float
    width_cm: float
    height_cm: float
    dry_mass_kg: float
    straw: Straw = Straw.WHEAT
    weathered: bool = False
    """A bale that stood outdoors for a season; it heats less (UC ANR 8559)."""


class Planting(Struct, frozen=True):
    """A crop in a batch; without `plant_on` it is planted as soon as the batch is ready.

    A planting with `follows` set to the name of an earlier crop of the batch waits for that
    crop's harvest (succession).
    """

    crop: Crop
    plants: int
    method: Method
    plant_on: date | None = None
    follows: str | None = None


class Batch(Struct, frozen=True):
    """Bales started together and treated alike."""

    name: str
    bales: int
    bale: Bale
    start_on: date
    schedule: Schedule
    feed: Feed
    finishing_feed: Feed | None
    nitrogen_per_full_dose_g: float
    plantings: tuple[Planting, ...] = ()
    mulched: bool = False
    rain_cover: RainCover = RainCover.NONE
    id: str | None = None
    """What stays when the name changes, None where the grower gives none."""

    def feeds(self) -> tuple[Feed, ...]:
        """Return every feed that the batch is given, each once."""
        of_days = (each.feed for each in self.schedule.days)
        known = (self.feed, self.finishing_feed, *of_days)
        return tuple(dict.fromkeys(feed for feed in known if feed is not None))


class Rules(Struct, frozen=True):
    """Thresholds of the judgement; the defaults and their sources are in weather.thresholds."""

    rain_hold_mm: float
    rain_hold_chance_percent: float
    rain_look_ahead_h: float
    freeze_hold_c: float
    freeze_look_ahead_h: float
    hot_day_c: float
    dry_day_mm: float
    frost_look_ahead_h: float
    stale_after_h: float
    ask_after_held_days: int
    plant_below_c: float
    self_heating_c: float


class Times(Struct, frozen=True):
    """Garden-local times of day, and how often the weather is watched."""

    morning: time
    evening: time
    watch_every_min: int
    quiet_from: time
    quiet_to: time
    give_up: time
    away: tuple[tuple[date, date], ...] = ()
    """First and last days, both included, on which nobody is in the garden."""
    weekly_routine: bool = False
    """Whether the same watering is told once for the days ahead, and not every morning."""


class Garden(Struct, frozen=True):
    """One place with its batches; a garden gets one brief a morning."""

    name: str
    place: Place
    batches: tuple[Batch, ...]
    rules: Rules
    times: Times
    units: Units = Units.METRIC
    mix_layer_cm: float = 4.0
    first_freeze_on: date | None = None
    """The first freeze of autumn to reckon with, None where the grower gives none."""
    id: str | None = None
    """What stays when the name changes, None where the grower gives none."""
