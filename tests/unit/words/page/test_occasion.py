"""A morning shows one picture: what its main work asks to see, by figures, words and ground."""

from __future__ import annotations

from datetime import date, time

import pytest
from msgspec.structs import replace

from strawbell.model.brief import (
    Action,
    AlertCode,
    Also,
    BatchOutlook,
    Brief,
    Portion,
    Reason,
    ReasonCode,
    State,
    Task,
    TaskKey,
    Week,
)
from strawbell.model.details import BatchStage, CoreEstimate, PlantDetail, TopWaterDetail
from strawbell.model.forecast import DayWeather
from strawbell.model.garden import Units
from strawbell.words.morning import morning_page
from strawbell.words.notices import week_page
from strawbell.words.page import BAR_PX, Picture
from support.briefs import (
    brief,
    catch_up_brief,
    feeding_brief,
    freeze_alert,
    frost_brief,
    garden,
    held_feeding,
    hot_brief,
    rain_reason,
    unjudged_brief,
    watering,
)

WET = DayWeather(2.3, 14.1, 18.4, 80.0, True)
CORE = BatchOutlook("Row A", BatchStage.CONDITIONING, core=CoreEstimate(35.0, 46.0, 56.0, False))


def pictures(made: Brief, units: Units = Units.METRIC) -> tuple[Picture, ...]:
    """Return the pictures of a morning."""
    return morning_page(made, garden(units), typographic=True).pictures


def wet_brief(**changes: object) -> Brief:
    """Return a morning on which a feeding waits for rain."""
    return brief(held_feeding(reasons=(rain_reason(),)), **{"weather": WET, **changes})


def planting(*codes: ReasonCode) -> Task:
    """Return tomatoes that wait."""
    return Task(
        key=TaskKey("row-a", Action.PLANT, crop="tomato"),
        batch="Row A",
        bales=6,
        action=Action.PLANT,
        state=State.HELD,
        crops=("tomato",),
        plants=12,
        held_until=date(2027, 4, 10),
        reasons=tuple(Reason(code, 42.0, 37.5, "degC") for code in codes),
        detail=PlantDetail(61.0, 15.0),
    )


def watered_brief(dry_at: time | None) -> Brief:
    """Return a hot morning with the hour at which the top would be dry."""
    hot = hot_brief()
    return replace(hot, tasks=(replace(hot.tasks[0], detail=TopWaterDetail(dry_at)),))


def test_an_ordinary_morning_shows_what_is_due_when() -> None:
    (days,) = pictures(feeding_brief())
    assert [day.weekday for day in days.columns] == [
        "Sat",
        "Sun",
        "Mon",
        "Tue",
        "Wed",
        "Thu",
        "Fri",
    ]
    assert not any(day.figure for day in days.columns)


def test_a_feeding_that_waits_for_rain_shows_the_rain_and_the_day_of_feeding() -> None:
    (rain,) = pictures(wet_brief())
    assert rain.question == "How wet? Rain on each day, in mm"
    shown = [(day.figure, day.words, day.strong) for day in rain.columns]
    assert shown[:3] == [("18", ("Wait",), True), ("0", ("Feed",), False), ("2", (), False)]
    assert [day.above for day in rain.columns[:2]] == [BAR_PX, 0]


def test_rain_is_in_tenths_of_an_inch_where_the_gauge_is() -> None:
    (rain,) = pictures(wet_brief(), Units.US)
    assert (rain.question[-6:], rain.columns[0].figure) == ("inches", "0.7")


def test_rain_that_nobody_knows_is_a_question_and_never_none() -> None:
    (rain,) = pictures(wet_brief(weather=DayWeather()))
    assert (rain.columns[0].figure, rain.columns[0].above) == ("?", 0)


def test_a_drizzle_does_not_look_like_a_flood() -> None:
    (rain,) = pictures(wet_brief(weather=replace(WET, rain_mm=1.0), ahead=()))
    assert 0 < rain.columns[0].above < BAR_PX / 4


def test_frost_hangs_below_the_line_and_warmth_stands_on_it() -> None:
    (cold,) = pictures(brief(held_feeding()))
    tonight, sunday = cold.columns[1:3]
    assert (tonight.figure, tonight.strong, tonight.above) == ("\u22123", True, 0)
    assert tonight.under > 0
    assert (sunday.figure, sunday.strong, sunday.under) == ("1", False, 0)
    assert sunday.above > 0


def test_a_cover_shows_which_nights_are_too_cold_for_what_it_covers() -> None:
    """Tomatoes of the briefs are covered from 2 degC down."""
    (cold,) = pictures(frost_brief())
    assert [day.strong for day in cold.columns] == [False, True, True, False, False]


def test_a_hot_day_shows_from_when_an_unwatered_top_is_dry() -> None:
    top, days = pictures(watered_brief(time(13, 10)))
    assert days.columns
    dry, watered = top.strips
    assert [(each.share, each.words) for each in dry.pieces] == [(50, "damp"), (50, "dry")]
    assert [each.words for each in watered.pieces] == ["damp"]
    assert [each.words for each in top.ends] == ["06:00", "20:00"]
    assert dry.label == "Without water: dry from about 13:00"


@pytest.mark.parametrize("dry_at", [None, time(5), time(21)])
def test_a_top_that_stays_damp_through_the_day_has_no_picture(dry_at: time | None) -> None:
    assert len(pictures(watered_brief(dry_at))) == 1


@pytest.mark.parametrize("code", [ReasonCode.NOT_READY, ReasonCode.FEEL_FIRST])
def test_a_planting_that_waits_for_warm_bales_shows_how_warm_they_are(code: ReasonCode) -> None:
    inside, _ = pictures(brief(planting(code), outlooks=(CORE,)))
    now, roots = inside.strips
    assert now.label == "By my reckoning: 35 to 56\u00a0°C"
    assert [each.share for each in now.pieces] == [50, 30, 20]
    assert [each.words for each in roots.pieces] == ["plant", "too hot"]


def test_water_that_is_left_to_the_rain_shows_the_rain() -> None:
    task = watering(water_per_bale_l=0.0, also=(Also.RAIN_WATERS,))
    (rain,) = pictures(brief(task, weather=WET))
    assert rain.columns[0].figure == "18"
    (days,) = pictures(brief(replace(task, also=(Also.MOIST_ENOUGH,)), weather=WET))
    assert not any(day.figure for day in days.columns)


def test_a_bale_that_may_catch_fire_shows_its_warmth_and_not_the_rain() -> None:
    alert = freeze_alert(code=AlertCode.SELF_HEATING, batch="Row A", crops=())
    inside, _ = pictures(wet_brief(alerts=(alert,), outlooks=(CORE,)))
    assert inside.question == "How warm is it inside?"
    assert len(pictures(wet_brief(alerts=(alert,)))) == 1


def test_a_question_comes_without_a_picture_of_what_it_is_not_about() -> None:
    (days,) = pictures(wet_brief(questions=catch_up_brief().questions))
    assert not any(day.figure for day in days.columns)


def test_a_look_inside_shows_what_to_expect_and_a_walk_over_planted_bales_nothing() -> None:
    key = TaskKey("row-a", Action.INSPECT, on=date(2027, 4, 9))
    look = Task(key=key, batch="Row A", bales=6, action=Action.INSPECT, state=State.DUE)
    inside, _ = pictures(brief(look, outlooks=(CORE,)))
    assert inside.question == "How warm is it inside?"
    assert len(pictures(brief(look, outlooks=(replace(CORE, core=None),)))) == 1


def test_what_nothing_is_known_of_is_not_drawn() -> None:
    assert len(pictures(brief(planting(ReasonCode.NOT_READY)))) == 1
    (days,) = pictures(unjudged_brief())
    assert not any(day.figure for day in days.columns)
    assert pictures(brief(ahead=())) == ()


def test_the_word_for_a_week_and_the_text_have_no_picture() -> None:
    page = morning_page(feeding_brief(), garden(), typographic=True)
    made = feeding_brief()
    week = Week(made.on, date(2027, 4, 15), (Portion("Row A", Action.WATER, 2.0, 1),), ())
    assert week_page(page, week, made, garden(), typographic=True).pictures == ()
    assert morning_page(made, garden()).pictures == ()


@pytest.mark.parametrize(("also", "told"), [((), False), ((Also.LOOK_FIRST,), True)])
def test_the_word_for_a_week_tells_the_rain_of_its_first_day(
    also: tuple[Also, ...], told: bool
) -> None:
    """Three litres a bale on a day of 18 mm of rain would be false as it stands."""
    made = brief(watering(also=also), weather=WET)
    week = Week(made.on, date(2027, 4, 15), (Portion("Row A", Action.WATER, 3.0, 1),), ())
    page = week_page(morning_page(made, garden()), week, made, garden(), typographic=False)
    rain = "Rain is forecast today (18.4 mm): look first, and water only where the top is dry."
    assert page.lines == ("Row A: 3 L a bale, 18 L in all.", *((rain,) if told else ()))
