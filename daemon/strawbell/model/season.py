"""A season: what it came to by its journal, its course day by day, the report of a rehearsed one.

None is unknown, and unknown is said, never 0.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from enum import StrEnum

from msgspec import Struct, field

from strawbell.model.brief import ReasonCode, Task, TaskKey
from strawbell.model.forecast import DayWeather
from strawbell.model.garden import Garden, Units


class FeedingFate(StrEnum):
    """What became of a feeding on a date."""

    CONFIRMED = "confirmed"
    """The grower said that it was done."""
    TOLD = "told"
    """Told as due and not contradicted: it counts as given."""
    SUPPOSED = "supposed"
    """Of a date before the journal was kept: by plan it was given."""
    HELD = "held"
    MISSED = "missed"

    @property
    def given(self) -> bool:
        """Whether it counts as given."""
        return self not in (FeedingFate.HELD, FeedingFate.MISSED)


class FeedingDay(Struct, frozen=True):
    """A feeding on a date: of the conditioning (`day` of the sequence) or of the season (None).

    Masses in g; `reasons` are those it was held for.
    """

    on: date
    key: TaskKey
    day: int | None
    fate: FeedingFate
    reasons: tuple[ReasonCode, ...] = ()
    feed: str = ""
    nitrogen_per_bale_g: float | None = None
    total_g: float | None = None

    @property
    def held_for_rain(self) -> bool:
        """Whether rain held it."""
        return self.fate is FeedingFate.HELD and ReasonCode.HEAVY_RAIN in self.reasons

    @property
    def held_for_freeze(self) -> bool:
        """Whether a freeze held it."""
        return self.fate is FeedingFate.HELD and ReasonCode.FREEZE in self.reasons

    @property
    def unanswered(self) -> bool:
        """Whether it waited for the grower's answer about a feeding that may have been given."""
        asks = {ReasonCode.NOT_TOLD, ReasonCode.UNANSWERED}
        return self.fate is FeedingFate.HELD and bool(self.reasons) and asks >= set(self.reasons)


class CoreReading(Struct, frozen=True):
    """A probe reading of a bale's core [degC] on a garden-local date."""

    on: date
    temperature_c: float


class CoreReadings(Struct, frozen=True):
    """The readings of a batch in short."""

    count: int
    first: CoreReading
    highest: CoreReading
    last: CoreReading
    every: tuple[CoreReading, ...] = ()


class CropSummary(Struct, frozen=True):
    """A planting of a batch; `label` numbers a crop that comes twice.

    `kg` and `pieces` are what was noted of it, each None when none was; they are never added up.
    `over_on` is when its last harvest was told or recorded. `standing` says whether it is in the
    bales now.
    """

    label: str
    crop: str
    planted_on: date | None = None
    picking_told_on: date | None = None
    first_harvest_on: date | None = None
    last_harvest_on: date | None = None
    over_on: date | None = None
    harvests: int = 0
    kg: float | None = None
    pieces: float | None = None
    standing: bool = False


class HintCode(StrEnum):
    """What to do differently next year; worded in the table "hint" of the catalogue."""

    HELD_BY_FREEZE = "held-by-freeze"
    HELD_BY_RAIN = "held-by-rain"
    HELD_IN_A_ROW = "held-in-a-row"
    UNANSWERED = "unanswered"
    FEEDINGS_MISSED = "feedings-missed"
    PLANTED_LATE = "planted-late"
    AUTUMN_FROST = "autumn-frost"
    HOT_TOPS = "hot-tops"
    HOT_TOPS_MULCHED = "hot-tops-mulched"
    NOT_MEASURED = "not-measured"
    NOT_TOLD = "not-told"


class Hint(Struct, frozen=True):
    """One thing the journal shows, with the figures it rests on by name with the unit in it.

    `batch` is None where it holds for the garden; `on` is the date that shows it.
    """

    code: HintCode
    batch: str | None = None
    crop: str | None = None
    on: date | None = None
    figures: Mapping[str, float] = field(default_factory=dict)


class BatchSummary(Struct, frozen=True):
    """One batch from its first day on.

    `conditioned_on` is the last day of its conditioning, `conditioned_by_plan` when that would
    have been without a hold. `water_l` is what was advised for the whole batch [L], None where no
    amount was ever told. `frost_nights` are dates a night begins on that was warned of,
    `mild_nights` those of them that a cover was not needed in after all.
    """

    batch: str
    bales: int
    start_on: date
    conditioned_on: date | None = None
    conditioned_by_plan: date | None = None
    feedings: tuple[FeedingDay, ...] = ()
    water_l: float | None = None
    frost_nights: tuple[date, ...] = ()
    mild_nights: tuple[date, ...] = ()
    hot_dry_days: tuple[date, ...] = ()
    readings: CoreReadings | None = None
    crops: tuple[CropSummary, ...] = ()
    spread_on: date | None = None

    @property
    def given(self) -> tuple[FeedingDay, ...]:
        """Return the feedings that count as given."""
        return tuple(each for each in self.feedings if each.fate.given)

    @property
    def held(self) -> tuple[FeedingDay, ...]:
        """Return the days on which a feeding was held."""
        return tuple(each for each in self.feedings if each.fate is FeedingFate.HELD)

    @property
    def missed(self) -> tuple[FeedingDay, ...]:
        """Return the feedings that the grower could not do."""
        return tuple(each for each in self.feedings if each.fate is FeedingFate.MISSED)

    @property
    def nitrogen_per_bale_g(self) -> float | None:
        """Return the nitrogen given to each bale [g N], None where that of any is unknown."""
        doses = [each.nitrogen_per_bale_g for each in self.given]
        known = [dose for dose in doses if dose is not None]
        return sum(known) if doses and len(known) == len(doses) else None


class FeedUse(Struct, frozen=True):
    """How much of a feed was given [kg], and what that cost by its price, None where unknown."""

    feed: str
    kg: float | None
    cost: float | None


class CostNoted(Struct, frozen=True):
    """One cost that the grower noted, in the grower's own money; a refund is below 0."""

    on: date
    amount: float
    text: str
    batch: str | None = None


class ChanceKept(Struct, frozen=True):
    """How a chance of heavy rain or of a freeze came out that was told with work.

    `tenths` is the chance as it was told, `times` the mornings it was told on, `came` how many of
    them it came true after; `held` is how many of them held work, `needless` how many of those it
    did not come true after. What came is unknown of some days; they are left out.
    """

    tenths: int
    times: int
    came: int
    held: int
    needless: int


class Chances(Struct, frozen=True):
    """How the chances came out that were told: heavy rain on the day, a freeze in its night."""

    rain: tuple[ChanceKept, ...] = ()
    freeze: tuple[ChanceKept, ...] = ()


NO_CHANCES = Chances()


class Summary(Struct, frozen=True):
    """A garden's season from `first` through `last`, by its journal.

    `kept_since` is the date of its first brief, None while there is none. Noted costs and the
    cost of feed by price may be the same money and are never added up.
    """

    garden: str
    first: date | None
    last: date
    kept_since: date | None
    mornings_told: int
    not_told: tuple[date, ...]
    batches: tuple[BatchSummary, ...]
    feeds: tuple[FeedUse, ...] = ()
    costs: tuple[CostNoted, ...] = ()
    hints: tuple[Hint, ...] = ()
    chances: Chances = NO_CHANCES

    @property
    def cost_noted(self) -> float | None:
        """Return the sum of the noted costs, None where none was."""
        return sum(each.amount for each in self.costs) if self.costs else None


class SeasonDay(Struct, frozen=True):
    """One date of a season: its tasks, and its weather as far as a forecast knows it."""

    on: date
    tasks: tuple[Task, ...]
    weather: DayWeather
    projected: bool


class PhaseKind(StrEnum):
    """What goes on in a batch for a while."""

    CONDITIONING = "conditioning"
    WAITING = "waiting"
    GROWING = "growing"
    PICKING = "picking"


class Phase(Struct, frozen=True):
    """A part of a batch's season from `first` through `last`.

    `label` is the crop, numbered where it comes twice, "" before planting. `projected` says
    whether its last day is still to come.
    """

    kind: PhaseKind
    first: date
    last: date
    label: str = ""
    projected: bool = False


class BatchCourse(Struct, frozen=True):
    """A batch's season in phases, crop by crop as they begin, and the feedings still planned.

    `ends_on` is when its straw is spread, or its last known day.
    """

    batch: str
    bales: int
    start_on: date
    ends_on: date
    phases: tuple[Phase, ...]
    planned_feedings: tuple[date, ...] = ()
    spread_on: date | None = None


class SeasonSeen(Struct, frozen=True):
    """A garden's season as it is shown on a date; weather by date, kept or forecast."""

    garden: Garden
    today: date
    courses: tuple[BatchCourse, ...]
    found: Summary
    weather: Mapping[date, DayWeather]

    def went(self, batch: str) -> BatchSummary | None:
        """Return what the journal says of a batch, None before it began."""
        return next((each for each in self.found.batches if each.batch == batch), None)


class ReportDay(Struct, frozen=True):
    """One date of a batch: the weather that came, what was told, how the bale stood.

    The band of the core is the one told that morning; nitrogen is reckoned by the rain that came
    [g a bale]. Anything may be unknown.
    """

    on: date
    low_c: float | None
    high_c: float | None
    rain_mm: float | None
    told: tuple[str, ...] = ()
    """What was due that day by the last word of it, in a few words each."""
    held: bool = False
    """A feeding was held."""
    fed: bool = False
    calendar_fed: bool = False
    core_low_c: float | None = None
    core_high_c: float | None = None
    nitrogen_given_g: float = 0.0
    nitrogen_left_low_g: float = 0.0
    nitrogen_left_high_g: float = 0.0
    dry_top_h: float | None = None
    covered: bool = False
    """A cover was told, or a frost warned of, for the night after."""
    frost: bool = False
    """The night after asked for a cover."""
    alerts: tuple[str, ...] = ()
    messages: int = 0


class ReportFigure(Struct, frozen=True):
    """One row of the table: Strawbell beside the calendar, as text."""

    label: str
    strawbell: str
    calendar: str


class BatchReport(Struct, frozen=True):
    """One batch through a season."""

    name: str
    feed: str
    days: tuple[ReportDay, ...]
    figures: tuple[ReportFigure, ...]
    planted: tuple[tuple[date, str], ...] = ()
    calendar_planted: tuple[tuple[date, str], ...] = ()


class SeasonReport(Struct, frozen=True):
    """A garden through a rehearsed season."""

    garden: str
    units: Units
    first: date
    last: date
    forecast: str
    """How the forecasts were made, in a sentence."""
    weather: tuple[str, ...]
    """What the record held and did not hold, a sentence each."""
    notices: int
    notices_per_week: float
    batches: tuple[BatchReport, ...]
    plant_below_c: float
