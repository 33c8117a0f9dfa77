"""What goes into the report of a rehearsal, date by date."""

from __future__ import annotations

from collections import Counter
from datetime import date, datetime, timedelta

import pytest
from msgspec.structs import replace

from strawbell.model.brief import State
from strawbell.model.journal import Journal
from strawbell.model.season import BatchReport, SeasonReport
from strawbell.rehearsal.recorded import Gap, Rejected, Report, Weather
from strawbell.rehearsal.rehearse import SimulatedClock, moments_of, rehearse
from strawbell.rehearsal.report import (
    Tally,
    kept_task_words,
    season_report,
    tally,
    weather_sentences,
)
from strawbell.rehearsal.skill import SKILLS
from strawbell.words.catalogue import BRITISH
from support.gardens import START, TIMES, batch, garden, planting
from support.recorded_weather import mild_weather
from tests.value.journal_only import JournalOnly

PLAN = garden(batch(plantings=(planting(),)), times=replace(TIMES, watch_every_min=360))
LAST = START + timedelta(days=24)


def day(number: int) -> date:
    """Return the date of a day of the schedule."""
    return START + timedelta(days=number - 1)


def played(truth: Weather) -> tuple[SeasonReport, Tally, Journal]:
    """Rehearse the plan with forecasts that know."""
    store = JournalOnly()
    known = {PLAN.place.time_zone: truth}
    assert list(rehearse((PLAN,), known, store, (), (START, LAST), "perfect", 1))
    journal = store.journal(PLAN.name)
    found = tally(PLAN, journal, truth, (START, LAST), Counter({day(1): 2}))
    return season_report(PLAN, journal, truth, found, "perfect", 1), found, journal


def of(report: SeasonReport) -> BatchReport:
    """Return its one batch."""
    (only,) = report.batches
    return only


def test_every_date_is_there_with_what_was_done_and_what_came() -> None:
    """Feedings, holds, the calendar's feedings and rain stand on their own dates."""
    report, found, _ = played(mild_weather({day(3): 40.0, day(4): 40.0}))
    days = {each.on: each for each in of(report).days}
    assert list(days) == [START + timedelta(days=number) for number in range(25)]
    (ours,), (plain,) = found.strawbell, found.calendar
    assert tuple(on for on, each in days.items() if each.fed) == ours.feedings_on
    assert tuple(on for on, each in days.items() if each.calendar_fed) == plain.feedings_on
    assert sum(each.held for each in days.values()) == ours.held_days > 0
    assert days[day(3)].rain_mm == pytest.approx(40.0)
    assert days[day(3)].messages == 0
    assert days[day(1)].messages == 2


def test_nitrogen_grows_with_feedings_and_never_exceeds_what_was_given() -> None:
    """What is left lies between the least and the most, and rain takes of it."""
    report, found, _ = played(mild_weather({day(7): 60.0}))
    days = of(report).days
    given = [each.nitrogen_given_g for each in days]
    assert given == sorted(given)
    assert given[-1] == pytest.approx(found.strawbell[0].nitrogen_given_g, abs=0.1)
    assert all(
        0.0 <= each.nitrogen_left_low_g <= each.nitrogen_left_high_g <= each.nitrogen_given_g
        for each in days
    )
    assert days[-1].nitrogen_left_low_g < days[-1].nitrogen_given_g


def test_the_core_is_that_of_the_mornings_and_ends_when_it_is_told_no_more() -> None:
    """A band while the batch conditions, nothing once it is planted."""
    report, _, _ = played(mild_weather(usual_c=16.0))
    days = of(report).days
    first, last = days[2], days[-1]
    assert first.core_low_c is not None
    assert first.core_high_c is not None
    assert first.core_low_c <= first.core_high_c
    assert (last.core_low_c, last.core_high_c) == (None, None)


def test_a_frost_is_on_its_night_and_told() -> None:
    """Planted tomatoes, a freeze past what the forecast knew on planting day."""
    report, _, _ = played(mild_weather(low_c={day(23): -2.0}, usual_c=16.0))
    assert of(report).planted == ((day(12), "tomato"),)
    frosts = [each for each in of(report).days if each.frost]
    assert [each.on for each in frosts] == [day(22)]
    assert frosts[0].covered
    assert "cover" in frosts[0].told
    assert "frost" in frosts[0].alerts


def test_the_dry_top_is_known_only_in_the_first_weeks() -> None:
    """Before planting nobody asks for it."""
    report, _, _ = played(mild_weather(usual_c=16.0))
    days = of(report).days
    planted, _ = of(report).planted[0]
    assert all(each.dry_top_h is None for each in days if each.on < planted)
    assert any(each.dry_top_h is not None for each in days if each.on >= planted)


def test_each_skill_has_its_sentence() -> None:
    """None is said as another."""
    said = {BRITISH.say("rehearsal.skill", skill=each, seed=1) for each in SKILLS}
    assert len(said) == len(SKILLS)


def test_tasks_are_said_in_words() -> None:
    """A held one says so; a feeding has its day, a planting its crop."""
    fed = {"key": "row-a-5-feed", "batch": "Row A", "action": "feed", "day": 5, "crop": None}
    assert kept_task_words(fed, State.DUE, BRITISH) == "feed (day 5)"
    assert kept_task_words(fed, State.HELD, BRITISH) == "feed (day 5): held"
    plant = {"key": "row-a-plant-tomato", "batch": "Row A", "action": "plant", "crop": "tomato"}
    assert kept_task_words(plant, State.DUE, BRITISH) == "planting tomato"
    cover = {"key": "row-a-protect-2027-05-20", "batch": "Row A", "action": "protect"}
    assert kept_task_words({**cover, "crop": "tomato, basil"}, State.DUE, BRITISH) == "cover"


def test_what_the_record_lacks_is_said() -> None:
    """Gaps with their hours, what was rejected, lines that came twice."""
    begins = datetime.fromisoformat("2013-05-09T02:00+00:00")
    gaps = tuple(
        Gap(begins + timedelta(days=n), begins + timedelta(days=n, hours=2)) for n in range(5)
    )
    said = " ".join(
        weather_sentences(
            Report(START, LAST, False, gaps, (Rejected(7, "wind_mph", "1048"),), doubles=2)
        )
    )
    assert "Unknown: 10 hours in 5 gaps" in said
    assert "and 2 more" in said
    assert "line 7, wind_mph: 1048" in said
    assert "passed over: 2" in said
    assert list(weather_sentences(Report(START, LAST, True, (), ()))) == [
        f"Weather by days, spread over their hours, {START} to {LAST}."
    ]


def test_the_clock_of_a_rehearsal_is_not_the_wall() -> None:
    """Moments of a day come in order and inside it."""
    moments = list(moments_of(PLAN, START, START))
    assert moments == sorted(moments)
    clock = SimulatedClock(moments[0])
    clock.set(moments[-1])
    assert clock.monotonic() == (moments[-1] - moments[0]).total_seconds()
