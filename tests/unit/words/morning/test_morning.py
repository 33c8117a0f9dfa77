"""A morning is read at a glance: work, what to leave, why, the answer, and what is next."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import date, timedelta

import pytest
from msgspec.structs import replace

from strawbell.model.brief import (
    Action,
    AlertCode,
    BatchOutlook,
    Brief,
    Instead,
    Question,
    Reason,
    ReasonCode,
    State,
    TaskKey,
    WorkKind,
)
from strawbell.model.details import BatchStage, MakeUpEstimate
from strawbell.model.forecast import DayWeather, ForecastStatus
from strawbell.model.garden import Units
from strawbell.words.documents import brief_json
from strawbell.words.morning import morning_page
from strawbell.words.page import Mood, page_text
from support.briefs import (
    TODAY,
    brief,
    catch_up_brief,
    days_ahead,
    feeding,
    feeding_brief,
    freeze_alert,
    fresh_use,
    frost_brief,
    garden,
    held_feeding,
    hot_brief,
    local,
    rain_reason,
    unjudged_brief,
    watering,
)

MORNINGS = (feeding_brief, frost_brief, unjudged_brief, hot_brief, catch_up_brief, brief)
BLOOD_MEAL_ON_MONDAY: Mapping[WorkKind, date] = {
    WorkKind(Action.FEED, "Blood meal"): date(2027, 4, 5)
}


def text_of(made: Brief, units: Units = Units.METRIC, **given: object) -> str:
    """Return a brief as text."""
    return page_text(morning_page(made, garden(units), **given))  # type: ignore[arg-type]


def flat(text: str) -> str:
    """Return text with its line breaks undone."""
    return " ".join(text.split())


@pytest.mark.parametrize("morning", MORNINGS)
@pytest.mark.parametrize("units", Units)
def test_lines_fit_and_nothing_is_left_open(morning: Callable[[], Brief], units: Units) -> None:
    text = text_of(morning(), units)
    assert all(len(line) <= 78 for line in text.split("\n"))
    assert text.endswith("\n")
    for flaw in ("None", "nan", "-0 ", "{", "\n\n\n", "..", " %", " dl"):
        assert flaw not in text


def test_the_order_is_work_why_answer_next_how_care_source() -> None:
    page = morning_page(feeding_brief(), garden())
    text = flat(page_text(page, "{{here}}"))
    order = (
        "Orchard corner, Fri 9 Apr",
        "Feed all 9 bales: 500 g of blood meal each, 4.5 kg in all. Then 4 L of water each.",
        "Keep dogs and cats away",
        "Why: No heavy rain or frost",
        "{{here}}",
        "Next:",
        "How 1. Gloves on.",
        "Care (labels and local rules come first)",
        "Today 2 to 14 °C, 0.4 mm of rain (forecast of 06:06).",
        "Weather data by Open-Meteo.com (CC BY 4.0) https://open-meteo.com/",
    )
    places = [text.index(part) for part in order]
    assert places == sorted(places)


def test_steps_and_care_are_told_once_and_then_pointed_at() -> None:
    text = text_of(feeding_brief(), explained=BLOOD_MEAL_ON_MONDAY)
    assert "Steps and care as on Monday." in text
    for part in ("Gloves", "Care", "Keep dogs"):
        assert part not in text
    assert len(text.split()) < 80


def test_work_that_everybody_knows_points_nowhere() -> None:
    water = watering()
    text = text_of(brief(water), explained={water.kind: TODAY})
    assert "Steps" not in text


def test_what_is_to_do_comes_before_what_is_to_leave() -> None:
    text = text_of(frost_brief())
    assert text.index("cover the tomatoes") < text.index("don't feed today")
    page = morning_page(frost_brief(), garden())
    assert page.band.mood is Mood.URGENT
    assert page.band.above == "Urgent today, Friday 9 April"


def test_one_night_is_told_once_by_the_crop_that_it_hurts_first() -> None:
    """A second chance of the same night, for a hardier crop, tells a grower nothing to do."""
    nights = [
        Reason(ReasonCode.FROST, 0.8, limit_c, "degC", local(10, 3), chance)
        for limit_c, chance in ((-2.0, 0.4), (2.0, 0.96))
    ]
    held = [
        watering(action=Action.PLANT, crops=(crop,), state=State.HELD, reasons=(night,))
        for crop, night in zip(("kale", "basil"), nights, strict=True)
    ]
    page = morning_page(brief(*held), garden())
    assert page.why == ("More than 9 in 10 for frost on the leaves at 03:00 tomorrow.",)


def test_a_sentence_that_two_tasks_share_is_said_once() -> None:
    held = held_feeding()
    other = replace(
        watering("Row C", 3, state=State.HELD, reasons=held.reasons, instead=held.instead),
        held_until=held.held_until,
    )
    text = flat(text_of(brief(held, other)))
    assert text.count("Frost (-3 °C)") == 1
    assert text.count("Empty the hose") == 1


@pytest.mark.parametrize("status", [ForecastStatus.MISSING, ForecastStatus.STALE])
def test_without_a_usable_forecast_the_work_is_told_and_the_grower_looks(
    status: ForecastStatus,
) -> None:
    made = unjudged_brief(forecast=fresh_use(status=status, age_h=26.0))
    page = morning_page(made, garden())
    text = flat(page_text(page))
    assert page.subject == "Feed today if the sky allows: no forecast"
    assert text.index("Look at the sky first") < text.index("Row A: feed the bales")
    assert text.count("Look at the sky first") == 1, "said once, not for each task"
    assert "heavy rain or frost before" not in text
    stale = status is ForecastStatus.STALE
    assert ("My last forecast is 26 h old." in text) is stale
    assert ("I've had no forecast." in text) is not stale


def test_unknown_weather_is_called_unknown_and_never_dry() -> None:
    text = flat(text_of(feeding_brief(weather=DayWeather(low_c=8.0))))
    assert "Today low 8 °C, high unknown, rain unknown, parts of the day unknown (" in text
    assert "Today's weather is unknown." in flat(text_of(unjudged_brief()))


def test_after_a_downtime_the_grower_is_asked_first() -> None:
    page = morning_page(catch_up_brief(), garden())
    text = page_text(page)
    assert page.subject == "Did you feed Row A on Wednesday?"
    assert "I couldn't reach you on Wed 7 Apr and Thu 8 Apr." in flat(text)
    assert text.index("Did you feed Row A on Wednesday?") < text.index("Row A: feed the bales")
    assert "  strawbell record done row-a-3-feed\n" in text
    assert "  strawbell record missed row-a-3-feed\n" in text


def test_a_season_of_downtime_is_told_in_one_line_and_kept_date_by_date_in_json() -> None:
    """Half a year of dates, which nobody would read one by one; programs still get each."""
    dates = tuple(date(2027, 4, 8) - timedelta(days=number) for number in reversed(range(180)))
    made = catch_up_brief(not_told=dates)
    assert "I couldn't reach you on Sun 11 Oct to Thu 8 Apr." in flat(text_of(made))
    assert brief_json(made, garden())["not_told"] == [on.isoformat() for on in dates]


def test_a_key_that_a_shell_would_take_apart_is_quoted() -> None:
    question = Question(TaskKey("row a; $HOME", Action.FEED, day=3), "Row A", 3, date(2027, 4, 7))
    text = text_of(catch_up_brief(questions=(question,)))
    assert "strawbell record done 'row a; $HOME-3-feed'" in text


def test_only_days_on_which_something_changes_are_told_ahead() -> None:
    """The same water as today is no news; heavy rain, frost and a feeding are."""
    assert morning_page(feeding_brief(), garden()).next == (
        "Next: tomorrow, feed; frost. Monday, heavy rain. Tuesday, feed."
    )
    quiet = tuple(
        replace(day, weather=DayWeather(5.0, 15.0, 0.0, 0.0, True), tasks=(watering(day=None),))
        for day in days_ahead()
    )
    assert morning_page(brief(watering(), ahead=quiet), garden()).next == ""


@pytest.mark.parametrize(
    ("rain_mm", "chance", "heavy"),
    [(12.6, 90.0, False), (12.7, 90.0, True), (12.7, 49.0, False), (12.7, None, True)],
)
def test_heavy_rain_is_told_ahead_by_the_gardens_own_rule(
    rain_mm: float, chance: float | None, heavy: bool
) -> None:
    weather = DayWeather(5.0, 9.0, rain_mm, chance, True)
    made = brief(ahead=(replace(days_ahead()[0], weather=weather, tasks=()),))
    assert ("heavy rain" in morning_page(made, garden()).next) is heavy


def test_a_page_draws_the_days_and_has_the_planting_in_words() -> None:
    page = morning_page(catch_up_brief(), garden(), typographic=True)
    assert [(day.weekday, day.words, day.is_work) for day in page.pictures[0].columns[:3]] == [
        ("Sat", ("Feed", "Frost"), True),
        ("Sun", (), False),
        ("Mon", ("Rain", "Wait"), False),
    ]
    assert page.next == "Ready to plant around 19 April."


def test_figures_of_the_model_stay_out_of_a_morning() -> None:
    text = text_of(catch_up_brief())
    for word in ("model", "core", "nitrogen", "probe", "computation", "projection"):
        assert word not in text


def test_a_storm_that_took_feed_is_told_with_what_makes_up_for_it() -> None:
    outlook = BatchOutlook(
        "Row A", BatchStage.CONDITIONING, make_up=MakeUpEstimate(nitrogen_g=20.0, feed_g=160.0)
    )
    text = flat(text_of(feeding_brief(outlooks=(outlook,))))
    assert "Once it's dry, 160 g a bale would make up for it, if local rules allow" in text


def test_a_bale_that_may_catch_fire_goes_before_everything() -> None:
    alert = freeze_alert(code=AlertCode.SELF_HEATING, batch="Row A", crops=())
    page = morning_page(brief(feeding(), alerts=(alert,)), garden())
    assert page.subject == "A bale is very hot inside"
    assert page.line.startswith("Row A: measure it morning and evening.")
    assert any("feed the bales" in line for line in page.lines)


def test_a_day_of_planting_has_it_in_its_subject_and_the_thermometer_first() -> None:
    look = watering(action=Action.INSPECT, water_per_bale_l=None)
    plant = watering(action=Action.PLANT, crops=("tomato",), plants=12, water_per_bale_l=None)
    page = morning_page(brief(plant, look), garden())
    assert page.subject == "Plant today: tomatoes"
    assert page.work[0].startswith("Row A: check how warm the bales are inside.")
    assert page.work[1].startswith("Row A: plant 12 tomatoes.")


@pytest.mark.parametrize(("days", "told"), [(0, True), (3, False), (7, True), (8, False)])
def test_what_helps_while_a_planting_waits_is_told_when_it_is_new(days: int, told: bool) -> None:
    """On the first morning, and on the one that leaves it to the grower."""
    held = watering(
        action=Action.PLANT,
        state=State.HELD,
        crops=("tomato",),
        held_days=days,
        instead=(Instead.DECIDE_PLANTING,),
    )
    assert ("you may plant now" in flat(text_of(brief(held)))) is told


def test_a_day_without_work_says_so() -> None:
    assert "Nothing to do today." in text_of(brief())


def test_what_is_done_is_said_last() -> None:
    text = text_of(brief(feeding(state=State.DONE), watering("Row C", 3)))
    assert text.index("Row C: water the bales") < text.index("Row A: noted as done: feed.")


def test_a_lead_comes_before_the_work() -> None:
    text = text_of(feeding_brief(), lead=("Read this first.",))
    assert text.index("Read this first.") < text.index("Feed all 9 bales")


def test_a_link_that_is_not_plain_http_is_not_shown() -> None:
    use = fresh_use(attribution_url="javascript:alert(1)")
    assert "javascript" not in text_of(feeding_brief(forecast=use))


def test_us_growers_read_their_own_dates_clocks_and_measures() -> None:
    text = flat(text_of(feeding_brief(), Units.US))
    for part in ("Orchard corner, Fri, Apr 9", "forecast of 6:06 AM", "36 to 57 °F", "in of rain"):
        assert part in text


@pytest.mark.parametrize(
    ("made", "subject"),
    [
        (feeding_brief(), "Feed today: 500 g blood meal a bale"),
        (frost_brief(), "Cover the tomatoes and the basil tonight: frost"),
        (brief(held_feeding()), "Don't feed today: frost tonight"),
        (
            brief(held_feeding(reasons=(rain_reason(),))),
            "Don't feed today: heavy rain on the way",
        ),
        (hot_brief(), "Hot today: water by 09:00 and at 15:00"),
        (brief(), "Nothing to do today"),
        (replace(frost_brief(), tasks=()), "Frost tonight"),
        (
            brief(held_feeding(reasons=(Reason(ReasonCode.HELD_LONG, 7.0),))),
            "Don't feed today: up to you now",
        ),
    ],
)
def test_the_subject_is_the_one_thing(made: Brief, subject: str) -> None:
    assert morning_page(made, garden()).subject == subject
    assert len(subject) < 52
