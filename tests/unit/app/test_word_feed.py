"""A feeding beyond the plan is noted for each bale of a batch, or refused in a sentence."""

from __future__ import annotations

from datetime import timedelta

import pytest
from msgspec.structs import replace

from strawbell.agronomy.feeds import FEEDS
from strawbell.app.taking import understood
from strawbell.app.word import Word
from strawbell.cli.parser import parse
from strawbell.cli.reach import word_of
from strawbell.errors import GrowerError
from strawbell.model.garden import Work
from strawbell.model.journal import JournalEntry
from strawbell.season.journal_index import JournalIndex
from support.gardens import START, at, batch, garden

NOW = at(START + timedelta(days=7), 18)
PLAN = garden(batch(), batch(name="Row B"))


def word(*typed: str) -> Word:
    return word_of(parse(["record", "feed", *typed]))


def noted(*words: str) -> JournalEntry:
    (row,) = understood(word(*words), (PLAN,), lambda _: (), NOW).rows
    return row


@pytest.mark.parametrize(
    ("amount", "feed_g", "nitrogen_g"),
    [
        ("100g", 100.0, 12.0),  # by definition: 12 % of it is nitrogen, says its label
        ("0.1 kg", 100.0, 12.0),
        ("4oz", 113.4, 13.61),  # 1 oz is 28.349523125 g by definition (NIST Handbook 44)
    ],
)
def test_an_amount_a_bale_is_kept_with_its_nitrogen(
    amount: str, feed_g: float, nitrogen_g: float
) -> None:
    """And is found again by the planner."""
    row = noted(amount, "--batch", "Row A")
    assert row.data["feed_per_bale_g"] == feed_g
    assert row.data["nitrogen_per_bale_g"] == nitrogen_g
    index, own = JournalIndex.of((row,)), PLAN.batches[0]
    (extra,) = index.day(own, row.local_date).extra_feedings
    assert extra.nitrogen_per_bale_g == nitrogen_g


def test_a_feed_of_the_plan_may_be_named_and_poured() -> None:
    """60 ml of a liquid of 1.15 kg/L with 5 % is 3.45 g of nitrogen."""
    fish = FEEDS["Fish emulsion"]
    days = tuple(
        replace(day, work=Work.DRENCH, feed=fish) if day.day == 3 else day
        for day in PLAN.batches[0].schedule.days
    )
    row = PLAN.batches[0]
    plan = replace(PLAN, batches=(replace(row, schedule=replace(row.schedule, days=days)),))
    (noted_row,) = understood(word("60ml", "fish", "emulsion"), (plan,), lambda _: (), NOW).rows
    assert noted_row.data["feed"] == "Fish emulsion"
    assert noted_row.data["nitrogen_per_bale_g"] == pytest.approx(3.45)
    with pytest.raises(GrowerError, match='"Blood meal", "Balanced" and "Fish emulsion"'):
        understood(word("60g", "of", "fishmeal"), (plan,), lambda _: (), NOW)


def test_what_is_said_names_amount_batch_and_the_way_back() -> None:
    """Who typed a wrong number sees it, and how to undo it."""
    typed = word("100g", "--batch", "Row A")
    said = understood(typed, (PLAN,), lambda _: (), NOW).said
    assert "Row A got 100 g of Blood meal a bale" in said
    assert "12 g of it nitrogen" in said
    assert "record missed row-a-feed-extra-2027-04-12" in said


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("100",), "as 120g"),
        (("much",), "as 120g"),
        (("100l",), "as 120g"),
        (("0g",), "ore than nothing"),
        (("50kg",), "at most 8.33 kg"),
        (("100g", "--on", "2027-04-01"), "began later"),
        (("100g", "--on", "2027-05-01"), "still to come"),
    ],
)
def test_what_cannot_be_is_refused(words: tuple[str, ...], said: str) -> None:
    """With what is allowed; nothing is written."""
    with pytest.raises(GrowerError, match=said):
        noted(*words, "--batch", "Row A")


def test_with_several_batches_one_has_to_be_named() -> None:
    """Feed given to the wrong row would be reckoned twice."""
    with pytest.raises(GrowerError, match="--batch"):
        noted("100g")
