"""Keys of tasks: typed by hand, unique in a garden, the same every day."""

from __future__ import annotations

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from strawbell.model.brief import Action
from strawbell.season.task_keys import (
    alert_key,
    conditioning_key,
    dated_key,
    is_dated,
    once_key,
)

ON = date(2027, 5, 3)


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
