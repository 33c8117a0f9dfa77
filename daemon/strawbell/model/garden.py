"""The grower's plan: gardens, batches of bales, the crops they carry, the schedule they follow.

And the rules they are judged by.
"""

from __future__ import annotations

import re
import unicodedata
from datetime import date, datetime, time
from enum import StrEnum
from functools import lru_cache
from zoneinfo import ZoneInfo

from msgspec import Struct

from strawbell.model.feeds import Feed

_NOT_A_WORD = re.compile(r"[^a-z0-9]+")


@lru_cache(maxsize=1024)
def slug(name: str) -> str:
    """Return a name as lower-case ASCII words joined by hyphens ("Row Ä 1" -> "row-a-1").

    A name without any Latin letter or digit keeps its code points in hexadecimal, so that two
    different names never share an empty slug.
    """
    plain = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode("ascii").lower()
    words = _NOT_A_WORD.sub("-", plain).strip("-")
    return words or "-".join(f"{ord(letter):x}" for letter in name.strip()) or "unnamed"


class Work(StrEnum):
    """What a day of conditioning asks for."""

    WATER = "water"
    FEED = "feed"
    """A share of the nitrogen that conditions the bale."""
    DRENCH = "drench"
    """A feed poured as strong as its label has it, counted for what that gives."""
    FINISH = "finish"
    """The last, balanced feeding."""


class ScheduleDay(Struct, frozen=True):
    """One day of the sequence; `rate` is the share of a full dose, 0 on a day of only water.

    Of a drench `rate` is the share of its label's strength. `feed` is what is given on that day,
    None for the feed of the batch.
    """

    day: int
    work: Work
    rate: float = 0.0
    feed: Feed | None = None


class Schedule(Struct, frozen=True):
    """A whole conditioning sequence.

    `days` run from 1 without gaps; planting is possible from `plant_from_day` on, once the
    bale has cooled.
    """

    name: str
    summary: str
    days: tuple[ScheduleDay, ...]
    plant_from_day: int
    sources: tuple[str, ...]


class FrostClass(StrEnum):
    """How a crop stands frost, in the classes of the extension services."""

    HARDY = "hardy"
    HALF_HARDY = "half-hardy"
    TENDER = "tender"
    VERY_TENDER = "very-tender"


class Support(StrEnum):
    """What holds a crop up."""

    NONE = "none"
    STAKE = "stake"
    TRELLIS = "trellis"
    CAGE = "cage"


class Appetite(StrEnum):
    """How much a crop is fed through the season."""

    LIGHT = "light"
    """Legumes and roots: no extra nitrogen, or little."""
    LEAFY = "leafy"
    FRUITING = "fruiting"
    HEAVY = "heavy"


class Crop(Struct, frozen=True):
    """What the advice must know of a crop; `None` is unknown.

    Temperatures in degC at plant level, lengths in cm, times in days.
    `cover_at_c`: cover the plants when the night's low is expected at or under it.
    `kill_at_c`: serious damage or death about here.
    `emergence`: (bale temperature, days from sowing to emergence) points, ascending.
    `days_to_maturity`: (shortest, longest), from transplanting when `maturity_from_transplant`.
    `per_bale`: (fewest, most) plants on a two-string bale.
    `advice_against`: why this crop does badly in a bale, by a row of the table "against" of the
    catalogue or in the grower's words; empty when it does well.
    `sources`: where the values come from; values from memory or common practice say so there.
    """

    name: str
    frost_class: FrostClass
    cover_at_c: float
    kill_at_c: float | None
    germination_min_c: float | None
    emergence: tuple[tuple[float, float], ...]
    depth_cm: float | None
    spacing_cm: float
    per_bale: tuple[int, int]
    days_to_maturity: tuple[int, int]
    maturity_from_transplant: bool
    mature_height_cm: float
    support: Support
    appetite: Appetite
    harvest_days: int = 30
    """How long it is picked, from the first harvest [days]; 1 for a crop taken at once."""
    heat_limit_c: float | None = None
    heat_effect: str = ""
    degree_day_base_c: float | None = None
    degree_days_to_maturity: float | None = None
    thin_to_cm: float | None = None
    advice_against: str = ""
    germination_max_c: float | None = None
    """Warmest bale it germinates in [degC]."""
    transplant_weeks: tuple[int, int] | None = None
    """(youngest, oldest) age of a transplant [weeks]; None where it is sown in place."""
    set_out_weeks: float | None = None
    """When it may be set out, from the average last 0 degC frost [weeks]; before is negative.

    None leaves it to the frost class.
    """
    sources: tuple[str, ...] = ()

    @property
    def tender(self) -> bool:
        """Whether a light frost kills it."""
        return self.frost_class in (FrostClass.TENDER, FrostClass.VERY_TENDER)


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

    @property
    def zone(self) -> ZoneInfo:
        """Return the zone, which Python reads once and keeps."""
        return ZoneInfo(self.time_zone)

    def date_at(self, moment: datetime) -> date:
        """Return the date at this place at a moment."""
        return moment.astimezone(self.zone).date()


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
