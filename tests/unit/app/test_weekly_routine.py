"""The same watering is told once for the days ahead, and what differs on its own morning."""

from __future__ import annotations

import itertools
import math
from datetime import date
from zoneinfo import ZoneInfo

import pytest
from msgspec.structs import replace

from strawbell.agronomy.crop_table import CROPS
from strawbell.model.forecast import Hour
from strawbell.model.journal import EntryKind
from strawbell.model.notice import NoticeKind
from support.answered import Answered, day_of, soaked_first, text_of
from support.gardens import TIMES, ZONE, at, batch, forecast, garden, planting

FIRST = 49
"""A day of the season on which nothing but watering is due, the days after it too."""
ORDINARY = {
    "temperature_c": 19.0,
    "wind_m_s": 4.0,
    "radiation_w_m2": 260.0,
    "relative_humidity_percent": 40.0,
}
SWING_C = 7.0
WARMEST_HOUR = 15


def swinging(hour: Hour) -> Hour:
    """Nights cooler and afternoons warmer: what a day evaporates is told from its range."""
    clock = hour.starts_at.astimezone(ZoneInfo(ZONE)).hour
    change_c = SWING_C * math.cos((clock - WARMEST_HOUR) / 24 * 2 * math.pi)
    return replace(hour, temperature_c=(hour.temperature_c or 0.0) + change_c)


def planted(weekly: bool = True) -> Answered:
    """Return bales whose crop has grown, in the second morning of an ordinary week."""
    times = replace(TIMES, weekly_routine=weekly)
    days = Answered(garden(soaked_first(plantings=(planting(CROPS["kale"]),)), times=times))
    days.weather = lambda now: forecast(now, swinging, **ORDINARY)
    for day in range(FIRST, FIRST + 2):
        days.morning(day)
    return days


def mornings(days: Answered) -> list[date]:
    return [row.local_date for row in days.rows() if row.kind is NoticeKind.MORNING]


def watered_l(days: Answered, day: int) -> float:
    (row,) = (
        row
        for row in days.store.journal(days.plan.name)
        if row.kind is EntryKind.TOLD and row.local_date == day_of(day) and "water" in str(row.task)
    )
    return float(str(row.data["water_per_bale_l"]))


def test_the_second_morning_of_the_same_watering_is_told_for_the_week() -> None:
    """With its last day, one amount, and what silence means; then nothing more is said."""
    days = planted()
    mail = days.mails()[-1]
    assert str(mail["Subject"]).startswith("This week: ")
    said = " ".join(text_of(mail).split())
    assert "Water every morning until" in said
    assert "No reply means you watered every morning." in said
    for day in range(FIRST + 2, FIRST + 7):
        days.morning(day)
    assert mornings(days)[-1] == day_of(FIRST + 1)
    assert "pick the kale" in said


def test_what_was_told_for_the_week_is_what_counts_as_given() -> None:
    """In halves of a litre, on every silent morning."""
    days = planted()
    days.morning(FIRST + 2)
    told_l = watered_l(days, FIRST + 1)
    assert told_l % 0.5 == 0.0
    assert watered_l(days, FIRST + 2) == told_l


@pytest.mark.parametrize(
    ("weather", "differs"),
    [
        ({"temperature_c": 33.0, "relative_humidity_percent": 20.0}, True),
        ({"rain_mm": 0.6, "rain_chance_percent": 95.0}, True),
        ({"temperature_c": 19.5}, False),
    ],
    ids=["heat", "rain", "nearly the same"],
)
def test_what_differs_is_told_on_its_own_morning(weather: dict[str, float], differs: bool) -> None:
    """Heat and rain are; the same again is not."""
    days = planted()
    days.weather = lambda now: forecast(now, swinging, **{**ORDINARY, **weather})
    days.morning(FIRST + 2)
    assert (mornings(days)[-1] == day_of(FIRST + 2)) is differs


def test_an_answer_is_confirmed_on_a_morning_that_would_be_silent() -> None:
    """Whoever left a morning out is told that it was heard."""
    days = planted()
    days.morning(FIRST + 2)
    days.reply(days.mails()[-1], "missed yesterday", at(day_of(FIRST + 3), 5))
    days.morning(FIRST + 3)
    assert "You told me" in text_of(days.mails()[-1])


def test_who_wants_it_is_told_every_morning() -> None:
    days = planted(weekly=False)
    days.morning(FIRST + 2)
    assert mornings(days) == [day_of(day) for day in range(FIRST, FIRST + 3)]


def test_what_is_told_for_the_week_is_no_more_than_the_last_mornings_needed() -> None:
    """By their mean, in halves of a litre: the rest would wash feed out of the bales."""
    days = planted()
    needed_l, told_l = watered_l(days, FIRST), watered_l(days, FIRST + 1)
    assert abs(told_l - needed_l) <= 1.0


@pytest.mark.parametrize("weekly", [True, False])
def test_a_morning_on_which_a_bale_in_conditioning_needs_nothing_is_silent(weekly: bool) -> None:
    """The one before said what comes next; who wants it is told every morning."""
    times = replace(TIMES, weekly_routine=weekly)
    days = Answered(garden(batch(), times=times))
    days.weather = lambda now: forecast(now, swinging, **{**ORDINARY, "temperature_c": 12.0})
    for day in range(1, 11):
        days.pipeline.tick(at(day_of(day), 6, 30))
    idle = [
        entry.local_date
        for entry in days.store.journal(days.plan.name)
        if entry.kind is EntryKind.TOLD and entry.data.get("water_per_bale_l") == 0.0
    ]
    assert idle
    told = mornings(days)
    assert all((on in told) is not weekly for on in idle)
    assert [day_of(day) for day in range(1, 11) if day_of(day) not in {*told, *idle}] == []


def test_a_planting_that_waits_is_told_again_only_when_its_date_has_come() -> None:
    """With the thermometer to look at meanwhile; a week of frosty nights is one word a week."""
    start = replace(batch(plantings=(planting(),)), start_on=at(day_of(1)).date())
    days = Answered(garden(start, times=replace(TIMES, weekly_routine=True)))
    days.weather = lambda now: forecast(now, temperature_c=3.0)
    for day in range(1, 26):
        days.pipeline.tick(at(day_of(day), 6, 30))
    journal = days.store.journal(days.plan.name)
    waits = [
        entry
        for entry in journal
        if entry.kind is EntryKind.TOLD and "plant" in str(entry.task) and entry.state == "held"
    ]
    told = [entry for entry in waits if entry.local_date in mornings(days)]
    assert len(waits) > 8 > 2 * len(told)
    assert all(
        str(before.data["held_until"]) <= after.local_date.isoformat()
        or (after.local_date - before.local_date).days >= 7
        for before, after in itertools.pairwise(told)
    )
