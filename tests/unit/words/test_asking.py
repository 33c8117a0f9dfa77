"""Every notice that asks says how to answer, and what silence means."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from strawbell.model.brief import Action, Also, State
from strawbell.model.garden import Units
from strawbell.model.notice import Notice, Silence, Useful
from strawbell.words import notices
from strawbell.words.asking import (
    PAGE_PLACE,
    TEXT_PLACE,
    addressed,
    asking_of,
    away_said,
)
from strawbell.words.catalogue import AMERICAN
from support.answered import buttons, opened
from support.briefs import (
    brief,
    feeding,
    feeding_brief,
    frost_brief,
    garden,
    held_feeding,
    watering,
)

NOW = datetime(2027, 4, 9, 4, 30, tzinfo=UTC)
USEFUL = Useful(NOW, NOW + timedelta(hours=12))
CODE = "[40V71-STNWB-1JNRB-RSP84]"
LONGEST_LINK = 1000
"""Some programs hand a link over by a way that takes about two thousand characters."""


def morning(made: object = None) -> Notice:
    return notices.morning_notice(made or feeding_brief(), garden(), USEFUL)  # type: ignore[arg-type]


class Page:
    """A page as if it were the mail's."""

    def __init__(self, html: str) -> None:
        self.html = html

    def get_body(self, _: object) -> Page:
        return self

    def get_content(self) -> str:
        return self.html


def test_work_that_was_told_counts_as_done() -> None:
    """The likeliest word goes first, another amount is an example in the units of the garden."""
    asked = asking_of([feeding()], garden())
    assert asked is not None
    assert (asked.silence, asked.words) == (Silence.DONE, ("done", "not today"))
    assert asked.example.startswith("fed ")
    assert asking_of([watering()], garden()).example == ""  # type: ignore[union-attr]


def test_work_that_waits_has_waited() -> None:
    """Unless somebody says that it was given all the same."""
    asked = asking_of([held_feeding()], garden())
    assert asked is not None
    assert (asked.silence, asked.words) == (Silence.WAITED, ("already fed",))


def test_work_that_came_up_after_noon_is_not_taken_for_done() -> None:
    """Nobody may have seen it in time."""
    asked = asking_of([feeding()], garden(), is_late=True)
    assert asked is not None
    assert asked.silence is Silence.NOT_YET


def test_a_notice_without_work_says_that_it_asks_nothing() -> None:
    """The grower's own words ("rain 12") still find the way back."""
    assert asking_of([], garden()) is None
    quiet = addressed(morning(brief()), "b@example.org", "T", CODE)
    assert "\nNothing to answer.\n" in quiet.text
    assert "Reply" not in quiet.text
    assert f"b@example.org, {CODE}" in quiet.text
    assert "Nothing to answer." in quiet.html
    assert "mailto:" not in quiet.html
    assert quiet.short.endswith(" Nothing to answer.")


def test_a_day_without_water_is_nothing_to_answer() -> None:
    """Nobody notes a can that was left; a rain that did not come is worth a word."""
    for why, hint in ((Also.RAIN_WATERS, 'reply "rain 0"'), (Also.MOIST_ENOUGH, "")):
        dry = watering(water_per_bale_l=0.0, also=(why,))
        said = addressed(morning(brief(dry)), "b@example.org", "T", CODE)
        assert "Nothing to answer." in said.text
        assert "done" not in said.text
        assert ("reply" in said.text.casefold()) is bool(hint)
        assert hint in said.text
        assert "strawbell" not in addressed(morning(brief(dry))).text
    held = asking_of([held_feeding(), watering(water_per_bale_l=0.0)], garden())
    assert held is not None
    assert held.silence is Silence.WAITED


@pytest.mark.parametrize("made", [feeding_brief, frost_brief])
def test_every_form_of_a_notice_says_what_silence_means(made) -> None:
    """By mail, by button and by command; nothing of the places is left."""
    told = morning(made())
    for said in (
        addressed(told, "b@example.org", "T", CODE),
        addressed(told, "", "T", CODE),
        addressed(told),
    ):
        for form in (said.text, said.html, said.short):
            assert "No reply means " in form
            assert TEXT_PLACE not in form
            assert PAGE_PLACE not in form


def test_a_button_opens_a_finished_mail() -> None:
    """Blanks and plus signs survive, the code stands in the subject, the link is short."""
    said = addressed(morning(), "bales+in@example.org", "T", CODE)
    page = Page(said.html)
    assert list(buttons(page)) == ["Done", "Not today", "Other amount"]  # type: ignore[arg-type]
    for label, link in buttons(page).items():  # type: ignore[arg-type]
        address, subject, body = opened(page, label)  # type: ignore[arg-type]
        assert address == "bales+in@example.org"
        assert subject.startswith(f"{label}: ")
        assert subject.endswith(CODE)
        assert len(body) < 40
        assert "bales%2Bin@" in link
        assert len(link) < LONGEST_LINK
    assert CODE in said.text


def test_a_name_cannot_break_out_of_a_button() -> None:
    """Whatever a batch is called, it is text in a subject."""
    task = feeding(batch='A" onclick=x&body=done <b>')
    asked = asking_of([task], garden())
    told = notices.answer_notice(garden(), NOW.date(), "x", "X", ("Y.",), USEFUL, asked)
    page = Page(addressed(told, "b@example.org", "T", CODE).html)
    _, subject, body = opened(page, "Done")  # type: ignore[arg-type]
    assert "onclick=x&body=done <b>" in subject
    assert body == "Send this mail as it is."
    assert "onclick=x&" not in page.html


def test_who_listens_to_nobody_names_the_command() -> None:
    """With the key of the task where there is one."""
    text = " ".join(addressed(morning()).text.split())
    assert "If it was not done: strawbell record missed" in text
    assert "mailto:" not in addressed(morning()).html


def test_covers_are_asked_about_in_their_own_words() -> None:
    """What cannot be put off until tomorrow can only be done or not."""
    asked = asking_of([feeding(action=Action.PROTECT, state=State.DUE)], garden())
    assert asked is not None
    assert asked.words == ("done", "can't")


def test_what_is_added_to_a_notice_is_in_the_locale_of_its_garden() -> None:
    """A button's subject and a time away have the month first in US units (CLDR, en-US)."""
    american = notices.morning_notice(feeding_brief(), garden(Units.US), USEFUL)
    page = Page(addressed(american, "b@example.org", "T", CODE).html)
    _, subject, _ = opened(page, "Done")  # type: ignore[arg-type]
    assert subject.endswith(f"Fri, Apr 9 {CODE}")
    on = feeding_brief().on
    said = away_said({on: on + timedelta(days=3)}, feeding_brief(), AMERICAN)
    assert "until Mon, Apr 12" in said
