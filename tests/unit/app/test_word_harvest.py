"""A harvest or a cost is noted for the crop and batch meant, or refused in a sentence."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from msgspec.structs import replace

from strawbell.app.taking import cost, harvest, harvest_total
from strawbell.app.word import Case, Word
from strawbell.cli.parser import parse
from strawbell.cli.reach import word_of
from strawbell.decision.brief import brief
from strawbell.errors import GrowerError
from strawbell.model.garden import Garden, Method, Units
from strawbell.model.journal import EntryKind, Journal, JournalEntry
from strawbell.season.journal_index import JournalIndex
from strawbell.season.season_summary import PIECES
from support.gardens import RADISH, START, TOMATO, at, batch, garden, planting

NOW = at(START + timedelta(days=80), 18)
TODAY = START + timedelta(days=80)
PLAN = garden(
    batch(plantings=(planting(TOMATO), planting(RADISH, Method.SEED))),
    batch(name="Row B", plantings=(planting(RADISH, Method.SEED),)),
)
TWICE = garden(
    batch(
        plantings=(
            planting(RADISH, Method.SEED),
            replace(planting(RADISH, Method.SEED), follows="radish"),
        )
    )
)


def word(*typed: str) -> Word:
    """Return what the command line makes of the words after `strawbell record`."""
    return word_of(parse(["record", *typed]))


def case(*typed: str, plan: Garden = PLAN, journal: Journal = ()) -> Case:
    """Return what is typed as it is heard for a garden."""
    return Case(word(*typed), plan, journal, JournalIndex.of(journal), NOW)


def noted(*words: str, plan: Garden = PLAN, journal: Journal = ()) -> tuple[JournalEntry, ...]:
    """Return the rows a harvest gives."""
    return harvest(case("harvest", *words, plan=plan, journal=journal))


def refusal(*words: str, plan: Garden = PLAN, journal: Journal = ()) -> str:
    """Return the sentence with which a harvest is refused."""
    with pytest.raises(GrowerError) as caught:
        noted(*words, plan=plan, journal=journal)
    return str(caught.value)


@pytest.mark.parametrize(
    ("amount", "kg"),
    [
        ("2.4kg", 2.4),
        ("2,4 kg", 2.4),
        ("850g", 0.85),
        ("5lb", 2.26796185),  # 1 lb is 0.45359237 kg by definition (NIST Handbook 44)
        ("12oz", 0.340194),
        ("0.1g", 0.0001),
        ("2000kg", 2000.0),
    ],
)
def test_a_mass_is_kept_in_kilograms(amount: str, kg: float) -> None:
    """Whatever it was weighed in; pieces stay unknown."""
    (row,) = noted("tomato", amount)
    assert row.value == pytest.approx(kg, abs=1e-6)
    assert PIECES not in row.data
    assert (row.kind, row.batch, row.text) == (EntryKind.HARVEST, "Row A", "tomato")


@pytest.mark.parametrize("amount", ["12", "12 pieces", "12pcs", "12 Heads"])
def test_pieces_are_counted_and_never_weighed(amount: str) -> None:
    """The mass stays unknown."""
    (row,) = noted("tomato", amount)
    assert row.value is None
    assert row.data[PIECES] == 12


@pytest.mark.parametrize(
    "amount",
    [
        "",
        "some",
        "0",
        "0kg",
        "1.5",
        "2001kg",
        "100001",
        "1e3",
        "nan",
        "inf",
        "2 kg 300 g",
        "1,234kg",
    ],
)
def test_what_is_no_amount_is_refused(amount: str) -> None:
    """With what is allowed; a comma that may part thousands is not guessed at."""
    sentence = refusal("tomato", amount)
    assert f'"{amount}"' in sentence
    assert "2.4kg" in sentence or "at most" in sentence


def test_a_mistyped_unit_is_met_with_the_nearest() -> None:
    """A slip of the pen names what was meant."""
    assert 'Did you mean "lbs"?' in refusal("tomato", "5lbss")


def test_a_mistyped_crop_is_met_with_the_nearest() -> None:
    """And with every crop of the plan."""
    sentence = refusal("tomatoe", "2kg")
    assert 'Did you mean "tomato"?' in sentence
    assert '"radish"' in sentence


def test_a_mistyped_batch_is_met_with_the_nearest() -> None:
    """As for a reading."""
    assert '"Row B"' in refusal("radish", "2kg", "--batch", "Rov B")


def test_a_crop_of_another_batch_says_where_it_grows() -> None:
    """It is never noted for a batch that has no such crop."""
    assert 'It grows in "Row A"' in refusal("tomato", "2kg", "--batch", "Row B")


def test_a_crop_in_two_batches_asks_which() -> None:
    """Unless the batch is named, in any case of letters; even where one of them is over."""
    for on in (START + timedelta(days=20), START + timedelta(days=78)):
        sentence = refusal("radish", "2kg", "--on", on.isoformat())
        assert "--batch" in sentence
        assert '"Row A"' in sentence
    (row,) = noted("RADISH", "2kg", "--batch", "row b")
    assert (row.batch, row.text) == ("Row B", "radish")


def test_a_crop_that_comes_twice_is_the_one_in_the_bales() -> None:
    """By the plan the first sowing stands on that day; its number names the second."""
    early = START + timedelta(days=30)
    (row,) = noted("radish", "10", "--on", early.isoformat(), plan=TWICE)
    assert row.data["planting"] == "radish"
    said = refusal("radish 2", "10", "--on", early.isoformat(), plan=TWICE)
    assert "radish 2 isn't in the bales yet" in said


@pytest.mark.parametrize("crop", ["radish", "radish 2"])
def test_nothing_is_picked_that_is_not_in_the_bales(crop: str) -> None:
    """The refusal names the sowing that is meant, and the word that would put it in."""
    said = refusal(crop, "10", "--on", START.isoformat(), plan=TWICE)
    assert f"By the journal {crop} isn't in the bales yet" in said
    assert f"strawbell record done row-a-sow-{crop.replace(' ', '-')}" in said


def test_another_day_is_the_day_it_counts_for() -> None:
    """It belongs to that local date and to a moment of it."""
    yesterday = TODAY - timedelta(days=1)
    (row,) = noted("tomato", "2kg", "--on", yesterday.isoformat())
    assert row.local_date == yesterday
    assert row.at < NOW


@pytest.mark.parametrize(
    ("on", "said"),
    [(TODAY + timedelta(days=1), "still to come"), (START - timedelta(days=1), "began later")],
)
def test_a_day_outside_the_season_is_refused(on: date, said: str) -> None:
    """Neither tomorrow nor before the first soaking."""
    assert said in refusal("tomato", "2kg", "--on", on.isoformat())


def test_two_moments_are_one_too_many() -> None:
    """--on and --at cannot both be meant."""
    assert "not both" in refusal("tomato", "2kg", "--on", "2027-06-01", "--at", "2027-06-02")


def test_the_last_harvest_ends_the_crop_before_it_was_told() -> None:
    """The second row says so under the key that the plan itself will tell."""
    early = START + timedelta(days=40)
    rows = noted("radish", "30", "--on", early.isoformat(), "--last", plan=TWICE)
    assert [row.kind for row in rows] == [EntryKind.HARVEST, EntryKind.DONE]
    assert rows[1].task == "row-a-harvest-radish-last"
    assert rows[1].local_date == early


def test_after_an_early_last_harvest_the_follower_goes_in_earlier() -> None:
    """Without it the first sowing would stay in the bales until its last picking is told."""

    def sown_on(journal: Journal) -> date | None:
        days = [START + timedelta(days=number) for number in range(36, 60)]
        for on in days:
            tasks = brief(TWICE, journal, None, at(on)).tasks
            if any(task.key.text() == "row-a-sow-radish-2" for task in tasks):
                return on
        return None

    early = START + timedelta(days=40)
    rows = noted("radish", "30", "--on", early.isoformat(), "--last", plan=TWICE)
    with_word, without = sown_on(rows), sown_on(())
    assert with_word == early + timedelta(days=1)
    assert without is None or without > with_word


def test_a_crop_that_is_not_in_the_bales_cannot_be_over() -> None:
    """The sentence names the word that puts it there, and nothing is recorded."""
    sentence = refusal("radish 2", "30", "--on", "2027-04-20", "--last", plan=TWICE)
    assert "strawbell record done row-a-sow-radish-2" in sentence


def test_too_much_can_be_taken_back_but_never_more_than_was_noted() -> None:
    """Nothing is edited: a correction is a row of its own."""
    first = noted("tomato", "2kg")
    (row,) = noted("tomato", "--", "-0.5kg", journal=first)
    assert row.value == -0.5
    assert "less than nothing" in refusal("tomato", "--", "-2.1kg", journal=first)
    assert "less than nothing" in refusal("tomato", "--", "-1", journal=first)


def test_the_confirmation_adds_up_mass_and_pieces_apart() -> None:
    """In the grower's own units."""
    before = noted("tomato", "2kg") + noted("tomato", "3")
    rows = noted("tomato", "500g")
    said = harvest_total(rows, PLAN, before)
    assert said == "That makes 2.5 kg and 3 pieces from Row A in all."
    us = replace(PLAN, units=Units.US)
    assert "5 lb from Row A" in harvest_total(noted("tomato", "5lb", plan=us), us, ())


@pytest.mark.parametrize(
    ("amount", "money"), [("12.50", 12.5), ("12,50", 12.5), ("7", 7.0), ("-3", -3.0)]
)
def test_a_cost_is_a_plain_number(amount: str, money: float) -> None:
    """With a point or a comma; a refund is below 0."""
    (row,) = cost(case("cost", "--on", "2027-03-01", "--", amount, "Bales"))
    assert (row.kind, row.value, row.text) == (EntryKind.COST, money, "Bales")
    assert (row.local_date, row.batch) == (date(2027, 3, 1), None)


@pytest.mark.parametrize(
    ("amount", "text"),
    [("$12", "x"), ("1,234", "x"), ("0", "x"), ("1e9", "x"), ("10000001", "x"), ("5", "  ")],
)
def test_what_is_no_cost_is_refused(amount: str, text: str) -> None:
    """No currency is assumed, no thousands are guessed, and what for has to be said."""
    with pytest.raises(GrowerError, match="record cost"):
        cost(case("cost", amount, text))


def test_a_cost_can_be_of_a_batch_that_there_is() -> None:
    """An unknown one is refused."""
    (row,) = cost(case("cost", "5", "Twine", "--batch", "row b"))
    assert row.batch == "Row B"
    with pytest.raises(GrowerError, match="No bales are called that"):
        cost(case("cost", "5", "Twine", "--batch", "Shed"))
