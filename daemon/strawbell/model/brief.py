"""The day's brief: what is due, what waits and why, what to look out for, what lies ahead."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from enum import StrEnum

from strawbell.model.feeds import Dose
from strawbell.model.forecast import DayWeather, ForecastUse


class Action(StrEnum):
    """What a task asks the grower to do."""

    SOAK = "soak"
    WATER = "water"
    FEED = "feed"
    INSPECT = "inspect"
    COVER_WITH_MIX = "cover-with-mix"
    PLANT = "plant"
    SOW = "sow"
    SURFACE_WATER = "surface-water"
    PROTECT = "protect"
    UNCOVER = "uncover"
    THIN = "thin"
    MULCH = "mulch"
    SUPPORT = "support"
    HARVEST = "harvest"
    SPREAD = "spread"


class State(StrEnum):
    """Where a task stands."""

    DUE = "due"
    HELD = "held"
    DONE = "done"
    MISSED = "missed"


class ReasonCode(StrEnum):
    """Why a decision came out as it did."""

    HEAVY_RAIN = "heavy-rain"
    RAIN_POSSIBLE = "rain-possible"
    """Heavy rain that is not likely enough to wait for, and worth a word."""
    FREEZE = "freeze"
    FROZEN = "frozen"
    FROST = "frost"
    FROST_LATER = "frost-later"
    """A night further ahead than a planting waits for."""
    HOT_DRY = "hot-dry"
    HEAT = "heat"
    NO_FORECAST = "no-forecast"
    STALE_FORECAST = "stale-forecast"
    RAIN_UNKNOWN = "rain-unknown"
    TEMPERATURE_UNKNOWN = "temperature-unknown"
    TOO_HOT_INSIDE = "too-hot-inside"
    SELF_HEATING = "self-heating"
    NOT_TOLD = "not-told"
    MISSED = "recorded-missed"
    TAKEN_BACK = "taken-back"
    """Told as due in the morning of an earlier day and held later that day."""
    HELD_LONG = "held-long"
    FIRST_WEEKS = "first-weeks"
    NOT_READY = "not-ready"
    """By the model the core is surely too hot to plant."""
    SHORT_OF_DAYS = "short-of-days"
    """The bale has surely not had its days of conditioning."""
    FEEL_FIRST = "feel-first"
    """By the model the core may still be too hot; nobody has measured."""
    WASHED_OUT = "washed-out"
    CHILLY_NIGHTS = "chilly-nights"
    """Nights do not freeze, but set a tender crop back."""
    COLD_BED = "cold-bed"
    """Seed would not come up, and rot."""
    SEASON_OVER = "season-over"
    """Put in now, a crop would not ripen before the first freeze of autumn."""
    KILLING_AHEAD = "killing-ahead"
    """A night of the forecast would kill what is fed."""


@dataclass(frozen=True, slots=True)
class Reason:
    """One machine-readable reason with the number it rests on.

    `value` was compared with `threshold`, both in `unit` ("mm", "degC", "percent", "day", "h");
    `at` is the moment of the extreme, garden-local.
    """

    code: ReasonCode
    value: float | None = None
    threshold: float | None = None
    unit: str = ""
    at: datetime | None = None
    chance: float | None = None
    """How likely it is that `threshold` is reached, 0 to 1; None where that was not asked."""


class Caution(StrEnum):
    """A usual caution; the sentence is in words.cautions."""

    FEED_HANDLING = "feed-handling"
    AMMONIUM_NITRATE = "ammonium-nitrate"
    PETS = "pets"
    WATERCOURSE = "watercourse"
    BACKFLOW = "backflow"
    DUST = "dust"
    WET_WEIGHT = "wet-weight"
    HERBICIDE = "herbicide"
    HOT_BALE = "hot-bale"
    SELF_HEATING = "self-heating"
    LOCAL_RULES = "local-rules"
    SALT = "salt"
    SLOW_RELEASE = "slow-release"
    HEAT_PERSON = "heat-person"
    STAKES = "stakes"
    FROST_COVER = "frost-cover"


class Instead(StrEnum):
    """What to do on a held day instead; the sentence is in words.advice."""

    NO_WATER_BEFORE_FREEZE = "no-water-before-freeze"
    DRAIN_HOSE = "drain-hose"
    LEAVE_TO_RAIN = "leave-to-rain"
    DECIDE_YOURSELF = "decide-yourself"
    LET_COOL = "let-cool"
    GIVE_TIME = "give-time"
    SHELTER_SEEDLINGS = "shelter-seedlings"
    HARDEN_OFF = "harden-off"
    KEEP_SEED_DRY = "keep-seed-dry"
    DECIDE_PLANTING = "decide-planting"
    SOAK_AFTER_FREEZE = "soak-after-freeze"
    """Before a freeze, of bales that were never soaked."""


class Also(StrEnum):
    """What helps beside the task itself; the sentence is in words.advice."""

    SHADE = "shade"
    WET_EDGES = "wet-edges"
    LOOK_FIRST = "look-first"
    AGAIN_IF_DRY = "again-if-dry"
    """Of a feeding on a hot dry day: its water is that of the day."""
    MOIST_ENOUGH = "moist-enough"
    RAIN_WATERS = "rain-waters"
    FULL = "full"
    """Why no water is given: the bale has enough, rain brings it, or it holds no more."""
    SMALLER_DOSE = "smaller-dose"
    """Of a feeding that is cut, since more was fed than planned."""
    RAIN_WASHES_IN = "rain-washes-in"
    TOO_FULL_TO_WASH_IN = "too-full-to-wash-in"
    """Why a feed is not washed in."""


@dataclass(frozen=True, slots=True)
class Suffering:
    """A crop that the day's heat harms; `effect` is its own phrase, which follows the name."""

    crop: str
    effect: str


@dataclass(frozen=True, slots=True)
class Task:
    """One thing to do for one batch on one local date.

    `key` is unique in a garden and stable: the conditioning day of a held feeding keeps its
    key until it is done. `day` is the day of the conditioning sequence, None outside it.
    `times_a_day` is above 1 where the top surface has to be watered again the same day.
    `figures` holds further numbers for the wording, by name with the unit in it.
    """

    key: str
    batch: str
    bales: int
    action: Action
    state: State
    day: int | None = None
    dose: Dose | None = None
    crop: str | None = None
    plants: int | None = None
    water_per_bale_l: float | None = None
    times_a_day: int = 1
    held_until: date | None = None
    held_days: int = 0
    reasons: tuple[Reason, ...] = ()
    instead: tuple[Instead, ...] = ()
    cautions: tuple[Caution, ...] = ()
    figures: Mapping[str, float] = field(default_factory=dict)
    note: str = ""
    suffering: tuple[Suffering, ...] = ()
    also: tuple[Also, ...] = ()


class AlertCode(StrEnum):
    """What an alert warns of."""

    FREEZE = "freeze"
    FROST = "frost"
    HEAVY_RAIN = "heavy-rain"
    HOT_DRY = "hot-dry"
    HEAT_PERSON = "heat-person"
    SELF_HEATING = "self-heating"
    NO_FORECAST = "no-forecast"
    STALE_FORECAST = "stale-forecast"


@dataclass(frozen=True, slots=True)
class Alert:
    """Something to look out for; `batch` is None when it holds for the whole garden.

    Times garden-local. `advice` is worded in words.advice from `code` and `figures`.
    """

    code: AlertCode
    batch: str | None
    starts_at: datetime | None
    ends_at: datetime | None
    reasons: tuple[Reason, ...]
    crops: tuple[str, ...] = ()
    figures: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class DayAhead:
    """A projected day: its weather as forecast and what would be due."""

    on: date
    weather: DayWeather
    tasks: tuple[Task, ...]


@dataclass(frozen=True, slots=True)
class Question:
    """A feeding that could not be told and that the grower is asked about.

    `day` of the sequence, `on` the local date it would have been told.
    """

    key: str
    batch: str
    day: int
    on: date


@dataclass(frozen=True, slots=True)
class BatchOutlook:
    """What is computed for a batch beside its tasks; any part may be unknown.

    `figures` by name with the unit in it, each a number; bands as `..._low` and `..._high`.
    """

    batch: str
    stage: str
    figures: Mapping[str, float] = field(default_factory=dict)
    ready_on: date | None = None
    ready_on_latest: date | None = None


@dataclass(frozen=True, slots=True)
class Brief:
    """What one garden is told on one local date."""

    garden: str
    on: date
    as_of: datetime
    forecast: ForecastUse
    weather: DayWeather
    tasks: tuple[Task, ...]
    alerts: tuple[Alert, ...]
    ahead: tuple[DayAhead, ...]
    questions: tuple[Question, ...] = ()
    outlooks: tuple[BatchOutlook, ...] = ()
    not_told: tuple[date, ...] = ()
    """Local dates before this one that nothing could be told on (downtime)."""
