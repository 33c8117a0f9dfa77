"""Keys of tasks: typed by hand, unique in a garden, the same every day."""

from __future__ import annotations

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from strawbell.model.brief import Action
from strawbell.planning.keys import (
    alert_key,
    conditioning_key,
    dated_key,
    is_dated,
    once_key,
    slug,
)

ON = date(2027, 5, 3)


@pytest.mark.parametrize(
    ("name", "short"),
    [
        ("Row A", "row-a"),
        ("row-a", "row-a"),
        ("Row Ä 1", "row-a-1"),
        ("  Row   A  ", "row-a"),
        ("(long) row!", "long-row"),
        ("Ⅳ", "iv"),
        ("crème brûlée", "creme-brulee"),
        ("北", "5317"),
        ("北南", "5317-5357"),
        ("🌱", "1f331"),
        ("", "unnamed"),
        ("   ", "unnamed"),
    ],
)
def test_a_name_becomes_words_that_can_be_typed(name: str, short: str) -> None:
    """Lower-case ASCII; other scripts keep their code points."""
    assert slug(name) == short


@given(st.text(max_size=40))
def test_a_key_is_one_word_of_the_shell(name: str) -> None:
    """Nothing in it has to be quoted, whatever the grower calls a row."""
    short = slug(name)
    assert short
    assert set(short) <= set("abcdefghijklmnopqrstuvwxyz0123456789-")
    assert not short.startswith("-")


def test_the_kinds_of_keys() -> None:
    """As they are shown beside the tasks."""
    assert conditioning_key("Row A", 5, Action.FEED) == "row-a-5-feed"
    assert once_key("Row A", Action.COVER_WITH_MIX) == "row-a-cover-with-mix"
    assert once_key("Row A", Action.PLANT, "paste tomato") == "row-a-plant-paste-tomato"
    assert dated_key("Row A", Action.WATER, ON) == "row-a-water-2027-05-03"
    assert dated_key("Row A", Action.HARVEST, ON, "kale 2") == "row-a-harvest-kale-2-2027-05-03"
    assert alert_key("frost", "Row A") == "alert-frost-row-a"
    assert alert_key("freeze", None) == "alert-freeze"


@pytest.mark.parametrize(
    ("key", "dated"),
    [
        ("row-a-water-2027-05-03", True),
        ("row-a-harvest-kale-2-2027-05-03", True),
        ("row-a-5-feed", False),
        ("row-a-feed-season-3", False),
        ("row-a-harvest-kale-12", False),
        ("row-a-plant-kale", False),
        ("row-a-harvest-bean-12-34", False),
        ("row-a-harvest-2027905-12", False),
        ("a", False),
        ("", False),
    ],
)
def test_only_keys_with_a_date_are_dated(key: str, dated: bool) -> None:
    """Counted ones come again with the next number."""
    assert is_dated(key) is dated


@given(st.dates(date(2000, 1, 1), date(2099, 12, 31)), st.sampled_from(Action))
def test_every_dated_key_is_known_as_one(on: date, action: Action) -> None:
    """Of every date a plan may lie in."""
    assert is_dated(dated_key("Row A", action, on))


@given(st.integers(1, 60), st.sampled_from(Action), st.sampled_from(["Row 2027-05", "7", "Row"]))
def test_no_key_of_a_conditioning_day_is_taken_for_a_dated_one(
    day: int, action: Action, name: str
) -> None:
    """Whatever digits the batch has in its name."""
    assert not is_dated(conditioning_key(name, day, action))
