"""The choice between an early crop and the one that waits for its bales, in words."""

from __future__ import annotations

from datetime import date

from msgspec.structs import replace

from strawbell.model.brief import Crowding
from strawbell.words.morning import crowding_sentences
from strawbell.words.voice import Voice
from support.gardens import garden
from support.keys import key_of

CHOICE = Crowding(
    batch="Row A",
    early="lettuce",
    late="tomato",
    late_key=key_of("row-a-plant-tomato"),
    wanted_on=date(2027, 5, 8),
    pick_on=date(2027, 4, 26),
    over_on=date(2027, 6, 9),
    late_pick_on=date(2027, 8, 14),
    late_pick_latest=date(2027, 8, 29),
    freeze_on=date(2027, 10, 12),
)


def said(on: date, **changes: object) -> str:
    """Return the sentences of a date."""
    choice = replace(CHOICE, **changes)  # type: ignore[arg-type]
    return crowding_sentences(choice, Voice.of(garden(), on))


def test_each_choice_has_its_date_and_the_words_that_tell_it() -> None:
    told = said(date(2027, 5, 1))
    assert "lettuce is expected to stand until Wed 9 Jun" in told
    assert "(1) Pull the lettuce on Fri 7 May and plant tomato the next day; it is ripe." in told
    assert (
        "strawbell record harvest lettuce 12 --batch 'Row A' --last (12 pieces, or 1.5kg)." in told
    )
    assert "(2) Plant tomato on Sat 8 May between the lettuce" in told
    assert "strawbell record done row-a-plant-tomato" in told
    assert "(3) Let tomato wait: it goes in about Wed 9 Jun" in told
    assert told.endswith("picked from about Sat 14 Aug to Sun 29 Aug on.")


def test_from_its_day_on_the_choice_begins_today() -> None:
    for on in (date(2027, 5, 8), date(2027, 5, 15)):
        assert "(1) Pull the lettuce today and plant tomato tomorrow" in said(on)


def test_an_early_crop_that_is_not_ripe_yet_says_when_it_will_be() -> None:
    later = said(date(2027, 5, 1), pick_on=date(2027, 5, 2))
    assert "it is ripe from about Sun 2 May on." in later


def test_a_late_crop_that_a_freeze_would_end_is_better_left_out() -> None:
    on = date(2027, 5, 1)
    assert "leave it out" not in said(on, freeze_on=date(2027, 8, 30))
    assert "may end it before all is ripe: better leave it out" in said(
        on, freeze_on=date(2027, 8, 29)
    )
    assert "before any is ripe" in said(on, freeze_on=date(2027, 8, 14))
    assert "freeze" not in said(on, freeze_on=None)
