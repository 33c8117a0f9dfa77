"""Keys of tasks: typed by hand, unique in a garden, the same every day, and read back whole."""

from __future__ import annotations

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from strawbell.model.brief import Action, AlertCode, AlertKey, TaskKey
from strawbell.season.stage import (
    conditioning_key,
    dated_key,
    extra_key,
    once_key,
    picking_key,
    season_feeding_key,
)

ON = date(2027, 5, 3)
KEYS = {
    "row-a-5-feed": conditioning_key("Row A", 5, Action.FEED),
    "row-a-cover-with-mix": once_key("Row A", Action.COVER_WITH_MIX),
    "row-a-cover-with-mix-radish": once_key("Row A", Action.COVER_WITH_MIX, "radish"),
    "row-a-mulch": once_key("Row A", Action.MULCH),
    "row-a-plant-paste-tomato": once_key("Row A", Action.PLANT, "paste tomato"),
    "row-a-thin-beet": once_key("Row A", Action.THIN, "beet"),
    "row-a-water-2027-05-03": dated_key("Row A", Action.WATER, ON),
    "row-a-surface-water-2027-05-03": dated_key("Row A", Action.SURFACE_WATER, ON),
    "row-a-harvest-kale-2-2027-05-03": dated_key("Row A", Action.HARVEST, ON, "kale 2"),
    "row-a-harvest-kale-12": picking_key("Row A", "kale", 12),
    "row-a-harvest-kale-2-1": picking_key("Row A", "kale 2", 1),
    "row-a-harvest-kale-last": once_key("Row A", Action.HARVEST, "kale", last=True),
    "row-a-feed-season-3": season_feeding_key("Row A", 3),
    "row-a-feed-extra-2027-05-03": extra_key("Row A", ON),
}
"""As they are shown beside the tasks."""
NAMES = st.sampled_from(
    ["Row A", "Row 1", "7", "Row 2027-05", "Feed row", "1 plant", "Harvest 3 last", "ä", "畑"]
)
CROPS = st.sampled_from(["tomato", "kale 2", "tomato, cherry", "ice plant", "last", "season", "瓜"])


@pytest.mark.parametrize("text", KEYS)
def test_a_key_is_written_and_read_the_same_way(text: str) -> None:
    """With the name of its batch, and by its own words alone."""
    assert KEYS[text].text() == str(KEYS[text]) == text
    assert TaskKey.parse(text, ("Row A",)) == KEYS[text]
    assert TaskKey.parse(text) == KEYS[text]


@pytest.mark.parametrize(
    "text",
    [
        "",
        "a",
        "row-a",
        "row-a-dance",
        "row-a-feed",
        "row-a-feed-extra-someday",
        "row-a-feed-extra-2027-02-30",
        "row-a-5-feed-5",
        "row-a-harvest-kale",
        "row-a-harvest-last",
        "row-a-mulch-kale",
        "row-a-water-kale-2027-05-03",
        "-5-feed",
        "alert-frost-row-a",
    ],
)
def test_what_no_work_is_called_is_no_key(text: str) -> None:
    """A slip of the pen is nothing, and not something near it."""
    assert TaskKey.parse(text) is None
    assert TaskKey.parse(text, ("Row A",)) is None


@given(
    NAMES,
    CROPS,
    st.integers(1, 60),
    st.dates(date(2000, 1, 1), date(2099, 12, 31)),
    st.sampled_from([Action.PLANT, Action.SOW, Action.THIN, Action.SUPPORT]),
    st.sampled_from([Action.WATER, Action.SURFACE_WATER, Action.INSPECT, Action.PROTECT]),
)
def test_every_key_of_a_known_batch_is_read_back(
    name: str, crop: str, number: int, on: date, once: Action, daily: Action
) -> None:
    """Whatever words and digits batch and crop have in their names."""
    keys = (
        conditioning_key(name, number, Action.FEED),
        once_key(name, once, crop),
        once_key(name, Action.SPREAD),
        dated_key(name, daily, on),
        dated_key(name, Action.HARVEST, on, crop),
        picking_key(name, crop, number),
        once_key(name, Action.HARVEST, crop, last=True),
        season_feeding_key(name, number),
        extra_key(name, on),
    )
    for key in keys:
        assert TaskKey.parse(key.text(), (name,)) == key
        assert hash(TaskKey.parse(key.text(), (name,))) == hash(key)


@pytest.mark.parametrize(
    ("text", "batches", "batch"),
    [
        ("row-1-feed-season-1", ("Row", "Row 1"), "row-1"),
        ("row-1-feed", ("Row", "Row 1"), "row"),
        ("row-1-feed", (), "row"),
        ("other-1-feed", ("Row",), "other"),
    ],
)
def test_the_batch_of_a_key_is_the_one_that_makes_sense(
    text: str, batches: tuple[str, ...], batch: str
) -> None:
    """A day of the conditioning is not the end of a name."""
    key = TaskKey.parse(text, batches)
    assert key is not None
    assert key.batch == batch


@pytest.mark.parametrize("code", AlertCode)
@pytest.mark.parametrize("batch", ["", "row-a", "row-2"])
def test_an_alert_is_read_back_with_its_batch(code: AlertCode, batch: str) -> None:
    """One of the whole garden has none."""
    assert AlertKey.parse(AlertKey(code, batch).text()) == AlertKey(code, batch)
    assert AlertKey.parse(f"{code}-{batch}") is None


def test_the_keys_of_alerts_are_those_of_older_journals() -> None:
    """So that what was told before an update still stands."""
    assert AlertKey(AlertCode.FROST, "row-a").text() == "alert-frost-row-a"
    assert AlertKey(AlertCode.FREEZE).text() == "alert-freeze"
