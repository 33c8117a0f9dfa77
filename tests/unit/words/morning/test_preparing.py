"""What is said before the first soaking, and on a day without work."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from msgspec.structs import replace

from strawbell.decision.brief import brief
from strawbell.model.garden import Garden, Straw, Units
from strawbell.model.notice import Useful
from strawbell.season.conditioning import preparing
from strawbell.words.documents import brief_json
from strawbell.words.morning import coming_words, morning_page
from strawbell.words.notices import morning_notice
from strawbell.words.page import page_html, page_text
from support.gardens import START, at, batch, forecast, garden

BOTH = ("text", "html")


def said(plan: Garden, on: date, medium: str = "text") -> str:
    """Return a brief in one row of words."""
    moment = at(on)
    found = brief(plan, (), forecast(moment), moment)
    page = morning_page(found, plan)
    shown = page_text(page) if medium == "text" else page_html(page)
    return " ".join(shown.split())


@pytest.mark.parametrize("medium", BOTH)
def test_three_weeks_ahead_straw_beans_and_place_stand_where_nothing_to_do_would(
    medium: str,
) -> None:
    told = said(garden(), START - timedelta(days=21), medium)
    assert "buy 6 tight, dry bales of wheat straw, not hay" in told
    assert "mix two parts with one part of potting compost" in told
    assert "six to eight hours of sun" in told
    assert "ground and set out the bales" in told
    assert "Nothing to do today" not in told


@pytest.mark.parametrize("medium", BOTH)
def test_a_day_between_says_only_when_the_next_step_comes(medium: str) -> None:
    told = said(garden(), START - timedelta(days=40), medium)
    assert "Nothing to do today" in told
    assert "The first soaking is on Mon 5 Apr." in told
    assert "Then, on Mon 15 Mar: straw, bean test and place." in told
    assert "hay" not in told


def test_the_subject_counts_the_time_that_is_left() -> None:
    for days, left in ((21, "3 weeks"), (20, "20 days"), (7, "1 week")):
        moment = at(START - timedelta(days=days))
        notice = morning_notice(
            brief(garden(), (), forecast(moment), moment), garden(), Useful(moment, moment)
        )
        assert notice.subject.startswith(f"{left} to the first soaking")


def test_names_stand_only_where_there_are_several_batches() -> None:
    on = START - timedelta(days=21)
    assert "Row A" not in said(garden(), on)
    two = garden(batch(), batch(name="Row B", start_on=START + timedelta(days=30)))
    assert "The first soaking of Row A is on Mon 5 Apr." in said(two, on)


def test_masses_and_beds_are_in_the_units_of_the_grower() -> None:
    on = START - timedelta(days=21)
    rye = replace(batch().bale, straw=Straw.RYE)
    metric = said(garden(batch(bale=rye)), on)
    assert "6 tight, dry bales of rye straw" in metric
    assert "Dry, about 20 kg each, 120 kg in all." in metric
    assert "a bed of about 2.7 m² (six two-string bales: about 1.2 x 2.4 m)" in metric
    us = said(garden(units=Units.US), on)
    assert "Dry, about 44 lb each, 265 lb in all." in us
    assert "a bed of about 29 sq ft (six two-string bales: about 4 x 8 ft)" in us


def test_a_bean_test_that_cannot_end_before_the_soaking_says_so() -> None:
    late = "without a word on the spraying, soak later"
    assert late not in said(garden(), START - timedelta(days=21))
    assert late in said(garden(), START - timedelta(days=20))


def test_a_garden_without_bales_says_how_another_season_begins() -> None:
    resting = replace(garden(), batches=())
    told = said(resting, START)
    assert "This garden rests: it has no bales." in told
    assert "strawbell start-when" in told


def test_a_garden_that_runs_is_not_told_of_a_season_to_plan() -> None:
    assert "another season" not in said(garden(), START + timedelta(days=3))


def test_running_once_before_the_start_says_what_is_waited_for() -> None:
    def coming(plan: Garden, on: date) -> str:
        return coming_words(preparing(plan, {}, on), plan, on)

    assert coming(garden(), START - timedelta(days=30)) == (
        "Orchard corner: the first soaking is on Mon 5 Apr; the morning's brief says what to "
        "prepare before it from Mon 15 Mar on."
    )
    assert coming(garden(), START - timedelta(days=10)).endswith("prepare before it.")
    assert coming(garden(), START) == ""
    assert "rests" in coming(replace(garden(), batches=()), START)


def test_the_json_of_a_brief_has_the_steps_and_their_sentences() -> None:
    moment = at(START - timedelta(days=7))
    found = brief(garden(), (), forecast(moment), moment)
    kept = brief_json(found, garden())["preparing"]
    assert isinstance(kept, list)
    assert kept[0]["steps"] == ["straw", "bean-test", "place", "ground", "set-out"]
    assert len(kept[0]["advice"]) == 5
    assert kept[0]["start_on"] == "2027-04-05"
