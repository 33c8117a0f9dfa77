"""The day's brief: what is due, what waits and why, what to look out for, what lies ahead."""

from __future__ import annotations

import re
from collections.abc import Iterable
from datetime import date, datetime
from enum import StrEnum

from msgspec import Struct

from strawbell.model.details import (
    BatchStage,
    ConditioningEstimate,
    CoreEstimate,
    Detail,
    DryTopDetail,
    MakeUpEstimate,
    NitrogenEstimate,
)
from strawbell.model.feeds import Dose
from strawbell.model.forecast import DayWeather, ForecastUse
from strawbell.model.garden import Straw, slug


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
    LAY_TARP = "lay-tarp"
    LIFT_TARP = "lift-tarp"
    """A tarp over bales in conditioning, and off again."""
    PROTECT = "protect"
    UNCOVER = "uncover"
    THIN = "thin"
    MULCH = "mulch"
    SUPPORT = "support"
    HARVEST = "harvest"
    SPREAD = "spread"


class FeedSeries(StrEnum):
    """Feedings that are not of a day of the conditioning."""

    SEASON = "season"
    EXTRA = "extra"
    """Beyond the plan, as to make up for a storm: one sum a date."""


PLANTS = frozenset({Action.PLANT, Action.SOW})
"""Work by which a crop comes into a bale."""
PUTS_IN = PLANTS | {Action.COVER_WITH_MIX}
"""Work with which something goes in: plants, seed, or the mix for them."""
_OF_A_CROP = PLANTS | {Action.THIN, Action.SUPPORT, Action.HARVEST}
_OF_A_BATCH = frozenset({Action.COVER_WITH_MIX, Action.MULCH, Action.SPREAD})
_OF_A_DATE = frozenset(
    {
        Action.WATER,
        Action.SURFACE_WATER,
        Action.INSPECT,
        Action.LAY_TARP,
        Action.LIFT_TARP,
        Action.PROTECT,
        Action.UNCOVER,
    }
)
_LAST = "last"
_WORK = re.compile(rf"(?:(?P<day>\d+)-)?(?P<action>{'|'.join(Action)})(?:-(?P<rest>.+))?")
_DATED = re.compile(r"(?:(?P<what>.+)-)?(?P<on>\d{4}-\d\d-\d\d)")
_NUMBERED = re.compile(r"(?P<what>.+)-(?P<number>\d+)")


class WorkKind(Struct, frozen=True):
    """What the steps and the cautions of work depend on: its action, and what is in hand with it.

    `of` is the feed of a feeding and the crop of a planting, as it is typed; of a look into a bale
    that is getting ready it is "core", of the last harvest of a crop "last", else "".
    """

    action: Action
    of: str = ""


class TaskKey(Struct, frozen=True):
    """Which piece of work a task is: unique in a garden, and the same until the work is done.

    `batch` and `crop` are the names of a batch and of a planting as they are typed (see
    `strawbell.model.garden.slug`); no two batches of a garden share one. Beside them stands what
    tells the work from other work of its action: the `day` of the conditioning, which a held
    feeding keeps; the `crop`; the `series` of a feeding; the `number` of work that comes again
    after a while; `last` for the harvest that ends a crop; the date `on` which it is due.
    """

    batch: str
    action: Action
    day: int | None = None
    crop: str = ""
    series: FeedSeries | None = None
    number: int | None = None
    last: bool = False
    on: date | None = None

    def text(self) -> str:
        """Return the key as it is kept, shown and typed: "row-a-5-feed"."""
        parts = (
            self.batch,
            "" if self.day is None else str(self.day),
            self.action.value,
            "" if self.series is None else self.series.value,
            self.crop,
            "" if self.number is None else str(self.number),
            _LAST if self.last else "",
            "" if self.on is None else self.on.isoformat(),
        )
        return "-".join(part for part in parts if part)

    def __str__(self) -> str:
        return self.text()

    def kind(self, feed: str = "") -> WorkKind:
        """Return which kind of work it is, with the name of the feed where there is one."""
        if self.action is Action.INSPECT:
            return WorkKind(self.action, "" if self.day is None else "core")
        if self.action is Action.HARVEST:
            return WorkKind(self.action, _LAST if self.last else "")
        series = "" if self.series is None else f"{self.series} "
        return WorkKind(self.action, f"{series}{feed}" or self.crop)

    @classmethod
    def parse(cls, text: str, batches: Iterable[str] = ()) -> TaskKey | None:
        """Return the key that a text stands for, None when it is none.

        `batches` are the names of batches it may be of; without any of them its own words tell
        where the name of the batch ends.
        """
        for batch in map(slug, batches):
            if text.startswith(f"{batch}-"):
                found = cls._parse_work(batch, text[len(batch) + 1 :])
                if found is not None:
                    return found
        found = None
        end = len(text)
        while (end := text.rfind("-", 0, end)) > 0:
            longer = cls._parse_work(text[:end], text[end + 1 :])
            if found is None:
                found = longer
            elif longer is not None and longer.action.endswith(f"-{found.action}"):
                return longer  # "surface-water" and not water of a batch that ends in "surface"
        return found

    @classmethod
    def _parse_work(cls, batch: str, text: str) -> TaskKey | None:
        """Return the key of a batch from all that follows the batch in its text."""
        work = _WORK.fullmatch(text)
        if work is None:
            return None
        action, rest = Action(work["action"]), work["rest"] or ""
        if work["day"]:
            return None if rest else cls(batch, action, day=int(work["day"]))
        if not rest:
            return cls(batch, action) if action in _OF_A_BATCH else None
        if action in _OF_A_DATE or action is Action.FEED or action is Action.HARVEST:
            return cls._parse_recurring(batch, action, rest)
        if action in _OF_A_CROP or action is Action.COVER_WITH_MIX:
            return cls(batch, action, crop=rest)
        return None

    @classmethod
    def _parse_recurring(cls, batch: str, action: Action, rest: str) -> TaskKey | None:
        """Return the key of work that comes again: with a date, a number, or for the last time."""
        dated, numbered = _DATED.fullmatch(rest), _NUMBERED.fullmatch(rest)
        on = _date_of(dated["on"]) if dated else None
        what = (dated["what"] or "") if dated else ""
        if action in _OF_A_DATE:
            return cls(batch, action, on=on) if on and not what else None
        if action is Action.FEED:
            if on and what == FeedSeries.EXTRA:
                return cls(batch, action, series=FeedSeries.EXTRA, on=on)
            if numbered and numbered["what"] == FeedSeries.SEASON:
                number = int(numbered["number"])
                return cls(batch, action, series=FeedSeries.SEASON, number=number)
            return None
        if on and what:
            return cls(batch, action, crop=what, on=on)
        if numbered:
            return cls(batch, action, crop=numbered["what"], number=int(numbered["number"]))
        crop, _, last = rest.rpartition("-")
        return cls(batch, action, crop=crop, last=True) if crop and last == _LAST else None


def _date_of(text: str) -> date | None:
    """Return the date of a text in ISO form; one that no calendar has is None."""
    try:
        return date.fromisoformat(text)
    except ValueError:
        return None


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
    UNDER_TARP = "under-tarp"
    """Heavy rain that holds nothing, since a tarp keeps it off."""
    FREEZE = "freeze"
    WARM_HOURS = "warm-hours"
    """A freeze that holds nothing: the work is done in the warm hours of the day."""
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
    UNANSWERED = "unanswered"
    """Told after noon, or while nobody was there, and nobody said that it was done."""
    HELD_LONG = "held-long"
    FIRST_WEEKS = "first-weeks"
    NOT_READY = "not-ready"
    """By the model the core is surely too hot to plant."""
    SHORT_OF_DAYS = "short-of-days"
    """The bale has surely not had its days of conditioning."""
    FEEL_FIRST = "feel-first"
    """By the model the core may still be too hot; nobody has measured."""
    CHILLY_NIGHTS = "chilly-nights"
    """Nights do not freeze, but set a tender crop back."""
    COLD_BED = "cold-bed"
    """Seed would not come up, and rot."""
    SEASON_OVER = "season-over"
    """Put in now, a crop would not ripen before the first freeze of autumn."""
    DRY_CORE = "dry-core"
    COLD_AIR = "cold-air"
    WATERLOGGED = "waterlogged"
    WASHED_AWAY = "washed-away"
    AMMONIA = "ammonia"
    """Why a bale may stay cool, each with what shows it and what helps."""
    KILLING_AHEAD = "killing-ahead"
    """A night of the forecast would kill what is fed."""


class TurnsBy(StrEnum):
    """What would change a decision; it is worded in the table "turn" of the catalogue."""

    CHANCE_UNDER = "chance-under"
    READING_OVER = "reading-over"
    READING_UNDER = "reading-under"
    NIGHTS_OVER = "nights-over"


class Turn(Struct, frozen=True):
    """At what the decision about held work would turn: a chance of 0 to 1, or degC."""

    by: TurnsBy
    at: float


class Reason(Struct, frozen=True):
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
    loss_if_done: float | None = None
    loss_if_waited: float | None = None
    """Money per bale that is expected to be lost if the advice is followed, and if it is not."""
    wait_costs_days: int | None = None
    """By how many days a day of waiting moves what follows, None where nothing follows."""
    turn: Turn | None = None
    """What would bring the work back today, None where no one thing would."""


class Caution(StrEnum):
    """A usual caution; it is worded in the table "caution" of the catalogue."""

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
    SLOW_RELEASE = "slow-release"
    RAW_MANURE = "raw-manure"
    HEAT_PERSON = "heat-person"
    STAKES = "stakes"
    FROST_COVER = "frost-cover"
    TARP = "tarp"


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
    LITTLE_ROOM = "little-room"
    """Of a feed in water, of which the bale cannot hold all."""
    SMALLER_DOSE = "smaller-dose"
    """Of a feeding that is cut, since more was fed than planned."""
    LIME = "lime"
    """Of a look at bales whose feed has soured them."""
    RAIN_WASHES_IN = "rain-washes-in"
    TOO_FULL_TO_WASH_IN = "too-full-to-wash-in"
    """Why a feed is not washed in."""
    UNDER_TARP = "under-tarp"
    """The tarp is lifted for the work, and laid again after it."""
    WATER_AGAIN = "water-again"
    """Of a sowing whose bed dries before the evening."""


class Suffering(Struct, frozen=True):
    """A crop that the day's heat harms; `effect` is its own phrase, which follows the name."""

    crop: str
    effect: str


_IF_THE_SKY_ALLOWS = PLANTS | {Action.FEED}
"""Work that rain, frost or cold may forbid; water is given all the same."""
NOT_JUDGED = frozenset({ReasonCode.NO_FORECAST, ReasonCode.STALE_FORECAST})
"""Reasons of work that the sky decides and nobody could judge."""


def is_conditional(action: Action, reasons: Iterable[ReasonCode | str]) -> bool:
    """Return whether due work was told on a condition, by the codes that were told with it."""
    return action in _IF_THE_SKY_ALLOWS and not NOT_JUDGED.isdisjoint(reasons)


class Task(Struct, frozen=True):
    """One thing to do for one batch on one local date.

    `day` is the day of the conditioning sequence, None outside it. `crops` is what it is about:
    one crop for work on a planting, all that a cover covers, none for work on whole bales.
    `times_a_day` is above 1 where the top surface has to be watered again the same day.
    `detail` is what only its action has.
    """

    key: TaskKey
    batch: str
    bales: int
    action: Action
    state: State
    day: int | None = None
    dose: Dose | None = None
    crops: tuple[str, ...] = ()
    plants: int | None = None
    water_per_bale_l: float | None = None
    times_a_day: int = 1
    held_until: date | None = None
    held_days: int = 0
    reasons: tuple[Reason, ...] = ()
    instead: tuple[Instead, ...] = ()
    cautions: tuple[Caution, ...] = ()
    detail: Detail | None = None
    note: str = ""
    suffering: tuple[Suffering, ...] = ()
    also: tuple[Also, ...] = ()

    @property
    def is_conditional(self) -> bool:
        """Whether it is due if the sky allows it, which nobody could judge."""
        is_due = self.state is State.DUE
        return is_due and is_conditional(self.action, (each.code for each in self.reasons))

    @property
    def pour_l(self) -> float | None:
        """Return the water that a bale gets with it [L], that of its dose where it has no own."""
        if self.water_per_bale_l is None and self.dose is not None:
            return self.dose.water_per_bale_l
        return self.water_per_bale_l

    @property
    def kind(self) -> WorkKind:
        """Return which kind of work it is: what was explained of it once need not be again."""
        return self.key.kind("" if self.dose is None else self.dose.feed)


class AlertCode(StrEnum):
    """What an alert warns of."""

    FREEZE = "freeze"
    FROST = "frost"
    HEAVY_RAIN = "heavy-rain"
    HOT_DRY = "hot-dry"
    HEAT_PERSON = "heat-person"
    SELF_HEATING = "self-heating"
    NOT_HEATING = "not-heating"
    NO_FORECAST = "no-forecast"
    STALE_FORECAST = "stale-forecast"


_ALERT = re.compile(rf"alert-(?P<code>{'|'.join(AlertCode)})(?:-(?P<batch>.+))?")


class AlertKey(Struct, frozen=True):
    """Which alert of a date: what it warns of, and the batch as it is typed, "" for the garden."""

    code: AlertCode
    batch: str = ""

    def text(self) -> str:
        """Return the key as it is kept: "alert-frost-row-a"."""
        return f"alert-{self.code}-{self.batch}" if self.batch else f"alert-{self.code}"

    @classmethod
    def parse(cls, text: str) -> AlertKey | None:
        """Return the key that a text stands for, None when it is none."""
        found = _ALERT.fullmatch(text)
        return None if found is None else cls(AlertCode(found["code"]), found["batch"] or "")


class Alert(Struct, frozen=True):
    """Something to look out for; `batch` is None when it holds for the whole garden.

    Times garden-local. `detail` is what a hot dry day alone has.
    """

    code: AlertCode
    batch: str | None
    starts_at: datetime | None
    ends_at: datetime | None
    reasons: tuple[Reason, ...]
    crops: tuple[str, ...] = ()
    detail: DryTopDetail | None = None

    @property
    def key(self) -> AlertKey:
        """Return which alert of its date it is."""
        return AlertKey(self.code, slug(self.batch) if self.batch else "")


class Step(StrEnum):
    """What has to happen before bales are soaked; worded in the table "step" of the catalogue."""

    STRAW = "straw"
    BEAN_TEST = "bean-test"
    PLACE = "place"
    GROUND = "ground"
    SET_OUT = "set-out"
    READ_BEANS = "read-beans"


class Preparation(Struct, frozen=True):
    """Bales whose first soaking lies ahead, and what of it is told today.

    `bales` are those of all `batches` that begin on `start_on`: together of `dry_kg` as bought
    [kg], a bed of `bed_m2` [m2], of these straws. `steps` are told on this date, none on most;
    `next_steps` come after it, on `next_on`, None where all is told.
    """

    batches: tuple[str, ...]
    bales: int
    start_on: date
    straws: tuple[Straw, ...]
    dry_kg: float
    bed_m2: float
    steps: tuple[Step, ...]
    next_on: date | None
    next_steps: tuple[Step, ...]
    weathered: bool = False
    """Whether some of them have stood outdoors for a season already."""


class Crowding(Struct, frozen=True):
    """An early crop that is expected to stand in the bales past the time of the one after it.

    `late` is wanted on `wanted_on`; `early` may be picked from `pick_on` and is over on `over_on`.
    A late crop that waits for that is first picked from `late_pick_on` to `late_pick_latest`;
    `freeze_on` kills it, None where none is known or it does no harm. `late_key` is its planting.
    """

    batch: str
    early: str
    late: str
    late_key: TaskKey
    wanted_on: date
    pick_on: date
    over_on: date
    late_pick_on: date
    late_pick_latest: date
    freeze_on: date | None


class DayAhead(Struct, frozen=True):
    """A projected day: its weather as forecast and what would be due."""

    on: date
    weather: DayWeather
    tasks: tuple[Task, ...]


class Question(Struct, frozen=True):
    """A feeding that the grower is asked about, since no silence says whether it was given.

    `day` of the sequence, `on` the local date it would have been told; `is_told` when it was, on
    the condition that the sky allows it.
    """

    key: TaskKey
    batch: str
    day: int
    on: date
    is_told: bool = False


class BatchOutlook(Struct, frozen=True):
    """What is computed for a batch beside its tasks; any part may be unknown.

    `evaporation_mm` is what the top would lose today [mm].
    """

    batch: str
    stage: BatchStage
    conditioning: ConditioningEstimate | None = None
    core: CoreEstimate | None = None
    nitrogen: NitrogenEstimate | None = None
    make_up: MakeUpEstimate | None = None
    evaporation_mm: float | None = None
    ready_on: date | None = None
    ready_on_latest: date | None = None


class Brief(Struct, frozen=True):
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
    preparing: tuple[Preparation, ...] = ()
    """Bales that begin after this date, soonest first."""
    crowding: tuple[Crowding, ...] = ()
    """Choices between two crops that are told today."""


class Portion(Struct, frozen=True):
    """What each bale of a batch is given every morning [L]; None is as much as its top wants.

    Of a top that dries by the afternoon that may be more than once, `times_a_day`.
    """

    batch: str
    action: Action
    litres: float | None
    times_a_day: int = 1


class Extra(Struct, frozen=True):
    """A picking or a look that falls on a day of the week, by the key of its task."""

    on: date
    key: str


class Week(Struct, frozen=True):
    """What was told on `since` for every morning up to `until`, both included."""

    since: date
    until: date
    portions: tuple[Portion, ...]
    extras: tuple[Extra, ...] = ()
