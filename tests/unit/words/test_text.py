"""The text says the day in plain sentences: today's work first, then why, then what is coming."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest

from strawbell.model.brief import (
    Action,
    BatchOutlook,
    Brief,
    Question,
    Reason,
    ReasonCode,
    State,
    TaskKey,
)
from strawbell.model.details import BatchStage, CoreEstimate, DryTopDetail
from strawbell.model.forecast import DayWeather, ForecastStatus
from strawbell.model.garden import Units
from strawbell.words.brief_view import outline, outlook_words, subject_of
from strawbell.words.json_v1 import brief_json
from strawbell.words.text import brief_text
from strawbell.words.voice import Voice
from support.briefs import (
    brief,
    catch_up_brief,
    feeding,
    feeding_brief,
    fresh_use,
    frost_brief,
    garden,
    held_feeding,
    hot_brief,
    rain_reason,
    unjudged_brief,
    watering,
)

MORNINGS = (feeding_brief, frost_brief, unjudged_brief, hot_brief, catch_up_brief, brief)


def flat(text: str) -> str:
    """Return text with its line breaks undone."""
    return " ".join(text.split())


@pytest.mark.parametrize("morning", MORNINGS)
@pytest.mark.parametrize("units", Units)
def test_lines_fit_and_nothing_is_left_open(morning: object, units: Units) -> None:
    text = brief_text(morning(), garden(units))  # type: ignore[operator]
    assert all(len(line) <= 78 for line in text.split("\n"))
    assert text.endswith("\n")
    for flaw in ("None", "nan", "-0 ", "{", "\n\n\n", ".."):
        assert flaw not in text


def test_the_order_is_task_why_alerts_days_ahead_cautions_source() -> None:
    text = flat(brief_text(frost_brief(), garden()))
    order = (
        "Hold the feed on Row A",
        "Why: Frost: -3.1 °C",
        "Look out:",
        "Days ahead (a projection",
        "Take care",
        "Forecast: open-meteo, of Fri 9 Apr 06:06, 24 min old.",
        "Weather data by Open-Meteo.com (CC BY 4.0) https://open-meteo.com/",
    )
    places = [text.index(part) for part in order]
    assert places == sorted(places)


def test_a_feeding_says_dose_way_and_why_it_may_go_ahead() -> None:
    text = flat(brief_text(feeding_brief(), garden()))
    assert "Due: Feed Row A and Row C (day 5): 500 g of Blood meal a bale, 4.5 kg in all." in text
    assert "A good day to feed: heavy rain and frost are unlikely within 24 h." in text


@pytest.mark.parametrize("code", [ReasonCode.RAIN_POSSIBLE, ReasonCode.WARM_HOURS])
def test_a_feeding_with_a_word_about_the_weather_is_not_called_a_good_day(
    code: ReasonCode,
) -> None:
    text = brief_text(brief(feeding(reasons=(Reason(code, 9.0, 12.7, "mm"),))), garden())
    assert "A good day to feed" not in flat(text)


@pytest.mark.parametrize("code", [ReasonCode.RAIN_UNKNOWN, ReasonCode.TEMPERATURE_UNKNOWN])
def test_a_feeding_that_could_not_be_judged_whole_is_never_said_to_be_allowed(
    code: ReasonCode,
) -> None:
    text = brief_text(brief(feeding(reasons=(Reason(code),))), garden())
    assert "A good day to feed" not in flat(text)


@pytest.mark.parametrize("status", [ForecastStatus.MISSING, ForecastStatus.STALE])
def test_without_a_usable_forecast_the_work_is_told_and_the_grower_looks(
    status: ForecastStatus,
) -> None:
    made = unjudged_brief(forecast=fresh_use(status=status, age_h=26.0))
    text = flat(brief_text(made, garden()))
    assert "Due: Feed Row A" in text
    assert "Not checked against the weather" in text
    assert "A good day to feed" not in text
    assert text.count("Decide yourself: look at the sky") == 1, "said once, not for each task"
    if status is ForecastStatus.STALE:
        assert "The last forecast is 26 h old and can no longer be decided on." in text
    else:
        assert "No forecast could be had." in text


def test_unknown_weather_is_called_unknown_and_never_dry() -> None:
    text = flat(brief_text(feeding_brief(weather=DayWeather(low_c=8.0)), garden()))
    assert (
        "Today's weather: low 8 °C, high unknown, rain unknown, parts of the day unknown." in text
    )
    assert "Today's weather: unknown." in flat(brief_text(unjudged_brief(), garden()))


def test_after_a_downtime_the_grower_is_asked_with_both_answers() -> None:
    text = brief_text(catch_up_brief(), garden())
    assert "Nothing could be told on Wed 7 Apr and Thu 8 Apr" in flat(text)
    assert "Row A, day 3: could not be told on Wed 7 Apr. Was it fed?" in text
    assert "  yes: strawbell record done row-a-3-feed\n" in text
    assert "  no:  strawbell record missed row-a-3-feed\n" in text


def test_a_season_of_downtime_is_told_in_one_line_and_kept_date_by_date_in_json() -> None:
    """Half a year of dates, which nobody would read one by one; programs still get each."""
    dates = tuple(date(2027, 4, 8) - timedelta(days=number) for number in reversed(range(180)))
    made = catch_up_brief(not_told=dates)
    line = "Nothing could be told on Sun 11 Oct to Thu 8 Apr: Strawbell was not running"
    assert line in flat(brief_text(made, garden()))
    assert brief_json(made, garden())["not_told"] == [on.isoformat() for on in dates]
    gap = catch_up_brief(not_told=(*dates[:3], *dates[-1:]))
    assert "told on Sun 11 to Tue 13 Oct and Thu 8 Apr:" in flat(brief_text(gap, garden()))


def test_a_key_that_a_shell_would_take_apart_is_quoted() -> None:
    question = Question(TaskKey("row a; $HOME", Action.FEED, day=3), "Row A", 3, date(2027, 4, 7))
    text = brief_text(catch_up_brief(questions=(question,)), garden())
    assert "strawbell record done 'row a; $HOME-3-feed'" in text


def test_how_the_bales_stand_is_one_line_a_batch() -> None:
    text = flat(brief_text(catch_up_brief(), garden()))
    assert (
        "Row A, conditioning: Ready to plant about Mon 19 Apr, by Fri 23 Apr at the latest. Inside "
        "about 38 to 46 °C today, by the model alone, so the band is wide; a probe narrows it."
        in text
    )


def test_a_day_without_work_says_so() -> None:
    assert "Nothing to do today." in brief_text(brief(), garden())
    assert "Nothing planned." in brief_text(brief(), garden())


def test_what_is_done_is_said_after_what_is_due() -> None:
    text = brief_text(brief(feeding(state=State.DONE), watering("Row C", 3)), garden())
    assert text.index("Due: Water Row C") < text.index("Done: feed Row A")


def test_what_holds_two_kinds_of_work_is_explained_once() -> None:
    held_water = watering(
        "Row C",
        3,
        state=State.HELD,
        held_until=date(2027, 4, 10),
        reasons=held_feeding().reasons,
        instead=held_feeding().instead,
    )
    text = flat(brief_text(brief(held_feeding(), held_water), garden()))
    assert text.count("Frost: -3.1 °C expected") == 1
    assert text.count("Drain the hose") == 1
    assert "Why: For the same reason as above." in text


def test_a_lead_comes_before_the_tasks() -> None:
    text = brief_text(feeding_brief(), garden(), ("Read this first.",))
    assert text.index("Read this first.") < text.index("Due: Feed")


def test_a_link_that_is_not_plain_http_is_not_shown() -> None:
    use = fresh_use(attribution_url="javascript:alert(1)")
    assert "javascript" not in brief_text(feeding_brief(forecast=use), garden())


@pytest.mark.parametrize(
    ("made", "subject"),
    [
        (feeding_brief(), "Fri 9 Apr: feed 500 g of Blood meal a bale (Orchard corner)"),
        (
            frost_brief(),
            "Fri 9 Apr: hold the feed, frost tonight; cover tomato and basil (Orchard corner)",
        ),
        (
            brief(held_feeding(reasons=(rain_reason(),))),
            "Fri 9 Apr: hold the feed, heavy rain tonight (Orchard corner)",
        ),
        (
            unjudged_brief(),
            "Fri 9 Apr: feed 500 g of Blood meal a bale; no usable forecast (Orchard corner)",
        ),
        (
            hot_brief(),
            "Fri 9 Apr: water the top, 2.5 L a bale, twice; hot and dry this afternoon "
            "(Orchard corner)",
        ),
        (
            catch_up_brief(),
            "Fri 9 Apr: feed 500 g of Blood meal a bale; a question (Orchard corner)",
        ),
        (brief(), "Fri 9 Apr: nothing to do today (Orchard corner)"),
        (
            replace(frost_brief(), tasks=()),
            "Fri 9 Apr: nothing to do today; freeze tonight (Orchard corner)",
        ),
    ],
)
def test_the_subject_is_the_main_task_or_what_holds_it(made: Brief, subject: str) -> None:
    assert subject_of(outline(made, garden())) == subject


@pytest.mark.parametrize(
    ("units", "said"), [(Units.METRIC, "15 to 50 °C"), (Units.US, "59 to 121 °F")]
)
def test_a_wide_band_has_no_tenths(units: Units, said: str) -> None:
    """Tenths of a band of 35 degrees would claim what no model knows."""
    core = CoreEstimate(15.1, 30.0, 49.7, from_probe=False)
    outlook = BatchOutlook("Row A", BatchStage.CONDITIONING, core=core)
    voice = Voice.of(garden(units), date(2027, 4, 9))
    assert f"Inside about {said} today" in outlook_words(outlook, voice)


def test_one_bale_has_one_amount_of_water() -> None:
    """The task says how much; the warning below it names no other amount."""
    hot = hot_brief()
    (alert,), (task,) = hot.alerts, hot.tasks
    other = replace(alert, detail=DryTopDetail(2.1, 2, None))
    assert "2.1 L" not in flat(brief_text(replace(hot, alerts=(other,)), garden()))
    fed = feeding(batch="Row C", bales=3)
    assert "2.1 L" not in flat(brief_text(replace(hot, alerts=(other,), tasks=(fed,)), garden()))
    bare = replace(task, water_per_bale_l=None)
    assert "2.1 L" in flat(brief_text(replace(hot, alerts=(other,), tasks=(bare,)), garden()))
