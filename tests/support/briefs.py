"""Builders of realistic gardens and briefs for the wording tests: our own Orchard corner.

Everything is a plain value with a default; a test states only what it is about.
"""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from msgspec.structs import replace

from strawbell.model.brief import (
    Action,
    Alert,
    AlertCode,
    BatchOutlook,
    Brief,
    Caution,
    DayAhead,
    Instead,
    Question,
    Reason,
    ReasonCode,
    State,
    Task,
    TaskKey,
)
from strawbell.model.details import (
    Band,
    BatchStage,
    CoreEstimate,
    Detail,
    DryTopDetail,
    Ending,
    FeedDetail,
    HarvestDetail,
    LookDetail,
    MixDetail,
    PlantDetail,
    SoakDetail,
    SpreadDetail,
    SupportDetail,
    ThinDetail,
    TopWaterDetail,
)
from strawbell.model.feeds import Dose, Feed, FeedForm, Label, LabelRate, Material
from strawbell.model.forecast import DayWeather, ForecastStatus, ForecastUse
from strawbell.model.garden import (
    Bale,
    Batch,
    Garden,
    Place,
    Schedule,
    ScheduleDay,
    Times,
    Units,
    Work,
    slug,
)
from strawbell.weather.thresholds import DEFAULT_RULES

TODAY = date(2027, 4, 9)
ZONE = ZoneInfo("Europe/Zurich")
BLOOD_MEAL = Feed("Blood meal", Label(12, 0, 0), material=Material.BLOOD_MEAL, density_kg_per_l=0.6)


def local(day: int, hour: int, minute: int = 0) -> datetime:
    """Return a moment of April 2027 on the garden's clock."""
    return datetime(2027, 4, day, hour, minute, tzinfo=ZONE)


def garden(units: Units = Units.METRIC, name: str = "Orchard corner") -> Garden:
    """Return the garden: rows A and C of six and three bales."""
    schedule = Schedule("test", "", (ScheduleDay(1, Work.FEED, 1.0),), 12, ())
    bale = Bale("two-string", 91.0, 46.0, 36.0, 18.0)
    return Garden(
        name=name,
        place=Place(47.05, 8.31, "Europe/Zurich", 440.0),
        batches=tuple(
            Batch(row, bales, bale, date(2027, 4, 5), schedule, BLOOD_MEAL, None, 48.0)
            for row, bales in (("Row A", 6), ("Row C", 3))
        ),
        rules=DEFAULT_RULES,
        times=Times(time(6, 30), time(18, 30), 60, time(21, 30), time(6), time(20)),
        units=units,
    )


def dose(bales: int = 6, per_bale_g: float = 500.0, feed: str = "Blood meal") -> Dose:
    """Return a dose of dry feed of 0.6 kg/L with 12 % nitrogen."""
    return Dose(
        feed=feed,
        form=FeedForm.DRY,
        bales=bales,
        per_bale_g=per_bale_g,
        total_g=per_bale_g * bales,
        per_bale_ml=per_bale_g / 0.6,
        total_ml=per_bale_g * bales / 0.6,
        nitrogen_per_bale_g=per_bale_g * 0.12,
        phosphorus_per_bale_g=0.0,
        potassium_per_bale_g=0.0,
        water_per_bale_l=4.0,
    )


def liquid_dose(bales: int = 6) -> Dose:
    """Return a dose of a liquid feed at 20 mL to a litre of water."""
    return Dose(
        feed="Fish feed",
        form=FeedForm.LIQUID,
        bales=bales,
        per_bale_g=110.0,
        total_g=110.0 * bales,
        per_bale_ml=100.0,
        total_ml=100.0 * bales,
        nitrogen_per_bale_g=5.5,
        phosphorus_per_bale_g=0.5,
        potassium_per_bale_g=0.9,
        water_per_bale_l=5.0,
        rate=LabelRate(ml_per_l=20.0),
    )


def feeding(batch: str = "Row A", bales: int = 6, **changes: object) -> Task:
    """Return a feeding that is due on day 5."""
    task = Task(
        key=TaskKey(slug(batch), Action.FEED, day=5),
        batch=batch,
        bales=bales,
        action=Action.FEED,
        state=State.DUE,
        day=5,
        dose=dose(bales),
        cautions=(Caution.FEED_HANDLING, Caution.PETS, Caution.WATERCOURSE),
    )
    return replace(task, **changes)  # type: ignore[arg-type]


def watering(batch: str = "Row A", bales: int = 6, **changes: object) -> Task:
    """Return a watering that is due on day 6."""
    task = Task(
        key=TaskKey(slug(batch), Action.WATER, day=6),
        batch=batch,
        bales=bales,
        action=Action.WATER,
        state=State.DUE,
        day=6,
        water_per_bale_l=4.0,
    )
    return replace(task, **changes)  # type: ignore[arg-type]


def frost_reason() -> Reason:
    """Return a freeze of the coming night."""
    return Reason(ReasonCode.FREEZE, -3.1, 0.0, "degC", local(10, 5))


def rain_reason() -> Reason:
    """Return heavy rain of the coming night."""
    return Reason(ReasonCode.HEAVY_RAIN, 18.4, 12.7, "mm", local(10, 2), 0.6)


def held_feeding(batch: str = "Row A", bales: int = 6, **changes: object) -> Task:
    """Return a feeding that is held for the coming night's freeze."""
    return feeding(
        batch,
        bales,
        **{
            "state": State.HELD,
            "held_until": date(2027, 4, 10),
            "reasons": (frost_reason(),),
            "instead": (Instead.NO_WATER_BEFORE_FREEZE, Instead.DRAIN_HOSE),
            **changes,
        },
    )


def protecting(*crops: str, batch: str = "Row C", **changes: object) -> Task:
    """Return a cover for the night over tender crops, tomatoes where none is named."""
    task = Task(
        key=TaskKey(slug(batch), Action.PROTECT, on=TODAY),
        batch=batch,
        bales=3,
        action=Action.PROTECT,
        state=State.DUE,
        crops=crops or ("tomato",),
        plants=6,
        reasons=(Reason(ReasonCode.FROST, 0.8, 2.0, "degC", local(10, 5)),),
        cautions=(Caution.FROST_COVER,),
    )
    return replace(task, **changes)  # type: ignore[arg-type]


def freeze_alert(**changes: object) -> Alert:
    """Return the alert that goes with the coming night's freeze."""
    alert = Alert(
        code=AlertCode.FREEZE,
        batch=None,
        starts_at=local(10, 2),
        ends_at=local(10, 8),
        reasons=(frost_reason(),),
        crops=("tomato", "basil"),
    )
    return replace(alert, **changes)  # type: ignore[arg-type]


def fresh_use(**changes: object) -> ForecastUse:
    """Return a forecast of this morning."""
    use = ForecastUse(
        status=ForecastStatus.FRESH,
        source="open-meteo",
        issued_at=datetime(2027, 4, 9, 4, 6, tzinfo=UTC),
        age_h=0.4,
        attribution="Weather data by Open-Meteo.com (CC BY 4.0)",
        attribution_url="https://open-meteo.com/",
    )
    return replace(use, **changes)  # type: ignore[arg-type]


MISSING_USE = ForecastUse(ForecastStatus.MISSING)


def days_ahead() -> tuple[DayAhead, ...]:
    """Return seven days: a freeze, rain, an unknown day, heat, and the work of the sequence."""
    weather = (
        DayWeather(-3.1, 9.2, 0.0, 5.0, True),
        DayWeather(1.4, 11.0, 2.4, 40.0, True),
        DayWeather(4.8, 12.6, 16.2, 85.0, True),
        DayWeather(6.0, 15.5, 0.6, 30.0, True),
        DayWeather(7.2, 18.1, 0.0, 0.0, True),
        DayWeather(8.0, None, None, None, False),
        DayWeather(19.5, 31.4, 0.0, 0.0, True),
    )
    tasks = (
        (feeding(), feeding("Row C", 3)),
        (watering(day=6), watering("Row C", 3, day=6)),
        (held_feeding(day=7, reasons=(rain_reason(),), held_until=date(2027, 4, 13)),),
        (feeding(day=7, dose=dose(6, 250.0)),),
        (watering(day=8), protecting()),
        (),
        (replace(protecting(), action=Action.UNCOVER, reasons=()), watering(day=9)),
    )
    return tuple(
        DayAhead(TODAY + timedelta(days=number + 1), weather[number], tasks[number])
        for number in range(7)
    )


def brief(*tasks: Task, **changes: object) -> Brief:
    """Return a brief of Friday 9 April 2027, 06:30, with the given tasks and seven days ahead."""
    made = Brief(
        garden="Orchard corner",
        on=TODAY,
        as_of=datetime(2027, 4, 9, 4, 30, tzinfo=UTC),
        forecast=fresh_use(),
        weather=DayWeather(2.3, 14.1, 0.4, 20.0, True),
        tasks=tasks,
        alerts=(),
        ahead=days_ahead(),
    )
    return replace(made, **changes)  # type: ignore[arg-type]


def feeding_brief(**changes: object) -> Brief:
    """Return an ordinary feeding morning."""
    return brief(feeding(), feeding("Row C", 3), **changes)


def frost_brief(**changes: object) -> Brief:
    """Return the morning that holds the feed for a freeze and covers the tomatoes."""
    tasks = (held_feeding(), protecting("tomato"), protecting("basil"))
    return brief(*tasks, **{"alerts": (freeze_alert(),), **changes})


def unjudged_brief(**changes: object) -> Brief:
    """Return a morning without a forecast."""
    task = feeding(reasons=(Reason(ReasonCode.NO_FORECAST),), instead=(Instead.DECIDE_YOURSELF,))
    return brief(
        task,
        **{
            "forecast": MISSING_USE,
            "weather": DayWeather(),
            "alerts": (Alert(AlertCode.NO_FORECAST, None, None, None, ()),),
            "ahead": tuple(replace(day, weather=DayWeather()) for day in days_ahead()),
            **changes,
        },
    )


def hot_brief(**changes: object) -> Brief:
    """Return a hot dry morning with planted bales."""
    hot = Reason(ReasonCode.HOT_DRY, 33.2, 30.0, "degC", local(9, 15))
    task = Task(
        key=TaskKey("row-c", Action.SURFACE_WATER, on=TODAY),
        batch="Row C",
        bales=3,
        action=Action.SURFACE_WATER,
        state=State.DUE,
        water_per_bale_l=2.5,
        times_a_day=2,
        reasons=(hot, Reason(ReasonCode.FIRST_WEEKS, 9, 21, "day")),
        cautions=(Caution.HEAT_PERSON,),
    )
    alert = Alert(
        AlertCode.HOT_DRY,
        "Row C",
        local(9, 12),
        local(9, 19),
        (hot,),
        detail=DryTopDetail(2.5, 2, time(14, 30)),
    )
    return brief(task, **{"alerts": (alert,), **changes})


def catch_up_brief(**changes: object) -> Brief:
    """Return the morning after two days of downtime."""
    question = Question(TaskKey("row-a", Action.FEED, day=3), "Row A", 3, date(2027, 4, 7))
    return brief(
        feeding(day=3, reasons=(Reason(ReasonCode.NOT_TOLD),)),
        **{
            "questions": (question,),
            "not_told": (date(2027, 4, 7), date(2027, 4, 8)),
            "outlooks": (
                BatchOutlook(
                    "Row A",
                    BatchStage.CONDITIONING,
                    core=CoreEstimate(38.0, 42.0, 46.0, from_probe=False),
                    ready_on=date(2027, 4, 19),
                    ready_on_latest=date(2027, 4, 23),
                ),
            ),
            **changes,
        },
    )


PUT_IN = PlantDetail(
    spacing_cm=30.0,
    edge_cm=8.0,
    per_bale=Band(1, 2),
    rows=2,
    depth_cm=1.2,
    up_in_days=Band(5, 9),
    upright_cm=150.0,
)
DETAILS: dict[Action, Detail] = {
    Action.SOAK: SoakDetail(again=True),
    Action.FEED: FeedDetail(14),
    Action.INSPECT: LookDetail(3),
    Action.COVER_WITH_MIX: MixDetail(4.0, 17.0),
    Action.PLANT: PUT_IN,
    Action.SOW: PUT_IN,
    Action.SURFACE_WATER: TopWaterDetail(time(14, 30), Band(5, None)),
    Action.THIN: ThinDetail(5.0),
    Action.SUPPORT: SupportDetail(180.0, 230.0),
    Action.HARVEST: HarvestDetail(Ending.LAST),
    Action.SPREAD: SpreadDetail(12, 5.0, Band(4.0, 6.0), Band(300.0, 500.0)),
}
"""One of each kind of detail, by the work that has it."""
