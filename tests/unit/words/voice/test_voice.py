"""Moments are said the way a grower says them, on the garden's own clock."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, date, datetime, time, timedelta

import pytest
from msgspec.structs import replace

from strawbell.model.garden import Units
from strawbell.words.catalogue import BRITISH
from strawbell.words.voice import Voice, days_joined
from support.briefs import TODAY, garden, local

VOICE = Voice.of(garden(), TODAY)
US = Voice.of(garden(Units.US), TODAY)


def test_dates_and_times_are_short_and_english() -> None:
    assert BRITISH.day(date(2027, 4, 9)) == "Fri 9 Apr"
    assert BRITISH.long_day(date(2027, 4, 9)) == "Friday 9 April 2027"
    assert BRITISH.clock(time(6, 30)) == "06:30"


@pytest.mark.parametrize(
    ("moment", "said"),
    [
        (local(8, 22), "at 22:00 yesterday"),
        (local(9, 15), "at 15:00 today"),
        (local(10, 5), "at 05:00 tomorrow"),
        (local(11, 5), "at 05:00 on Sun 11 Apr"),
        (datetime(2027, 4, 10, 3, 0, tzinfo=UTC), "at 05:00 tomorrow"),
    ],
)
def test_moments_are_said_from_today(moment: datetime, said: str) -> None:
    assert VOICE.at(moment) == said


@pytest.mark.parametrize(
    ("moment", "said"),
    [
        (local(8, 12), "yesterday"),
        (local(9, 11, 59), "this morning"),
        (local(9, 12), "this afternoon"),
        (local(9, 17, 59), "this afternoon"),
        (local(9, 18), "tonight"),
        (local(10, 8, 59), "tonight"),
        (local(10, 9), "tomorrow"),
        (local(11, 5), "on Sun 11 Apr"),
    ],
)
def test_headlines_say_roughly_when(moment: datetime, said: str) -> None:
    assert VOICE.about(moment) == said


@pytest.mark.parametrize(
    ("on", "metric", "us"),
    [
        (date(2027, 4, 9), "today", "today"),
        (date(2027, 4, 10), "tomorrow", "tomorrow"),
        (date(2027, 4, 8), "yesterday", "yesterday"),
        (date(2027, 4, 15), "Thursday", "Thursday"),
        (date(2027, 4, 3), "Saturday", "Saturday"),
        (date(2027, 4, 16), "16 April", "April 16"),
        (date(2027, 4, 2), "2 April", "April 2"),
    ],
)
def test_a_near_date_is_a_weekday_and_a_far_one_a_date(on: date, metric: str, us: str) -> None:
    assert (VOICE.near_day(on), US.near_day(on)) == (metric, us)


@pytest.mark.parametrize(
    ("at", "metric", "us"),
    [
        (time(0, 5), "00:05", "12:05 AM"),
        (time(6, 30), "06:30", "6:30 AM"),
        (time(12), "12:00", "12 PM"),
        (time(17), "17:00", "5 PM"),
    ],
)
def test_clocks_have_twelve_hours_in_us_words(at: time, metric: str, us: str) -> None:
    assert (VOICE.clock(at), US.clock(at)) == (metric, us)


def test_dates_follow_the_growers_order() -> None:
    assert (VOICE.day(TODAY), US.day(TODAY)) == ("Fri 9 Apr", "Fri, Apr 9")
    assert (VOICE.heading(TODAY), US.heading(TODAY)) == ("Friday 9 April", "Friday, April 9")


@pytest.mark.parametrize(
    ("hours", "said"),
    [
        (4.4, "this morning"),
        (4.5, "this noon"),
        (12, "this evening"),
        (24, "tomorrow morning"),
        (30, "tomorrow noon"),
        (48, "Sunday morning"),
    ],
)
def test_hours_ahead_are_said_as_the_part_of_a_day_they_end_in(hours: float, said: str) -> None:
    """Mail is read late: "within 24 h" would mean another hour then. The morning is at 06:30."""
    assert VOICE.horizon(hours) == said


@pytest.mark.parametrize(
    ("moment", "said"),
    [
        (local(9, 3), "dark"),
        (local(10, 5), "dark"),
        (local(9, 22), "dark"),
        (local(11, 3), "dark tomorrow"),
        (local(12, 3), "dark on Sun 11 Apr"),
    ],
)
def test_the_dark_is_the_one_before_the_night(moment: datetime, said: str) -> None:
    assert VOICE.dark_before(moment) == said


@pytest.mark.parametrize(
    ("days", "said"),
    [
        ([], []),
        ([5], ["Mon 5 Apr"]),
        ([5, 6], ["Mon 5 Apr", "Tue 6 Apr"]),
        ([5, 6, 7], ["Mon 5 to Wed 7 Apr"]),
        ([7, 5, 6, 6], ["Mon 5 to Wed 7 Apr"]),
        ([1, 5, 6, 7, 8, 10, 11], ["Thu 1 Apr", "Mon 5 to Thu 8 Apr", "Sat 10 Apr", "Sun 11 Apr"]),
        (range(29, 33), ["Thu 29 Apr to Sun 2 May"]),
        (range(0, 181), ["Wed 31 Mar to Mon 27 Sept"]),
    ],
)
def test_dates_in_a_row_are_said_as_their_first_and_last(
    days: Iterable[int], said: list[str]
) -> None:
    """Three or more; two are as short as they are. Days count from the end of March."""
    march = date(2027, 3, 31)
    assert days_joined((march + timedelta(days=number) for number in days), BRITISH) == said


def test_dates_in_a_row_over_a_new_year_name_both_months() -> None:
    dates = [date(2027, 12, 30) + timedelta(days=number) for number in range(5)]
    assert days_joined(dates, BRITISH) == ["Thu 30 Dec to Mon 3 Jan"]


def test_dates_near_are_named_by_their_nearness() -> None:
    assert VOICE.date_said(TODAY) == "today"
    assert VOICE.date_said(date(2027, 4, 10)) == "tomorrow, Sat 10 Apr"
    assert VOICE.date_said(date(2027, 4, 12)) == "Mon 12 Apr"


def test_the_clock_is_the_gardens_across_a_change_of_it() -> None:
    """On 28 March 2027 clocks in Zurich jump from 02:00 to 03:00."""
    voice = replace(VOICE, on=date(2027, 3, 28))
    assert voice.at(datetime(2027, 3, 28, 0, 59, tzinfo=UTC)) == "at 01:59 today"
    assert voice.at(datetime(2027, 3, 28, 1, 0, tzinfo=UTC)) == "at 03:00 today"
