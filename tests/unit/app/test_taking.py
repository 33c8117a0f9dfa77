"""A word of the grower becomes rows and a sentence, or nothing at all and a refusal."""

from __future__ import annotations

from datetime import timedelta

import pytest
from msgspec.structs import replace

from strawbell.app.identity import known_entry, settled_in
from strawbell.app.taking import Taken, take_word, understood
from strawbell.app.word import Word, WordKind
from strawbell.errors import GrowerError
from strawbell.model.garden import Garden, Units
from strawbell.model.identity import KnownBatch, KnownGarden
from strawbell.model.journal import EntryKind
from strawbell.season.journal_index import standing
from support.gardens import START, at, batch, garden, planting
from support.memory_store import MemoryStore

NOW = at(START + timedelta(days=4), 9)
PLANTED = garden(batch(plantings=(planting(),)))
ROW_A, HEDGE = garden(), garden(batch(name="Hedge"), name="Hill")


def test_a_word_is_written_and_repeated_in_one_sentence() -> None:
    """For the garden that it fits, of two."""
    store = MemoryStore()
    taken = take_word(Word(WordKind.MISSED, task="hedge-5-feed"), (ROW_A, HEDGE), store, NOW)
    (row,) = store.journal("Hill")
    assert (row.kind, row.batch, row.task) == (EntryKind.MISSED, "Hedge", "hedge-5-feed")
    assert taken.garden is HEDGE
    assert "hedge-5-feed was not done" in taken.said
    assert "Hill" in taken.said
    assert store.journal(ROW_A.name) == ()


@pytest.mark.parametrize(
    "word",
    [
        Word(WordKind.DONE, task="nonsense"),
        Word(WordKind.TEMPERATURE, amount="54 X"),
        Word(WordKind.NOTE, text=" "),
        Word(WordKind.NOTE, text="Slugs", at=NOW + timedelta(minutes=6)),
    ],
)
def test_what_cannot_be_understood_leaves_no_row(word: Word) -> None:
    """A refusal is a sentence, and the journal stays as it was."""
    store = MemoryStore()
    with pytest.raises(GrowerError):
        take_word(word, (ROW_A,), store, NOW)
    assert store.journal(ROW_A.name) == ()


def test_a_wall_clock_read_a_little_fast_is_taken() -> None:
    """Up to five minutes ahead."""
    word = Word(WordKind.NOTE, text="Slugs", at=NOW + timedelta(minutes=5))
    assert understood(word, (ROW_A,), lambda _: (), NOW).rows[0].at == word.at


def test_a_reading_in_the_range_of_self_heating_is_answered_with_a_warning() -> None:
    """It cannot wait for the next brief."""
    warm, hot = (
        understood(Word(WordKind.TEMPERATURE, amount=each), (ROW_A,), lambda _: (), NOW)
        for each in ("64.9C", "65C")
    )
    assert warm.warnings == ()
    assert hot.warnings


@pytest.mark.parametrize(("days", "refused"), [(-200, True), (-1, True), (0, False)])
def test_a_reading_from_before_the_bales_were_set_up_is_refused(days: int, refused: bool) -> None:
    """Of which bales it is, nobody could say; the refusal says what to do."""
    word = Word(WordKind.TEMPERATURE, amount="54C", at=at(START + timedelta(days=days), 12))
    if not refused:
        assert understood(word, (ROW_A,), lambda _: (), NOW).rows[0].value == 54.0
        return
    with pytest.raises(GrowerError, match=r"Row A began later.*mend start_on"):
        understood(word, (ROW_A,), lambda _: (), NOW)


UNDOABLE = {
    "done": Word(WordKind.DONE, task="row-a-5-feed"),
    "fed": Word(WordKind.DONE, task="row-a-5-feed"),
    "not today": Word(WordKind.MISSED, task="row-a-5-feed"),
    "feeding": Word(WordKind.MISSED, task="row-a-5-feed"),
    "reading": Word(WordKind.TEMPERATURE, amount="54C"),
    "temperature row a": Word(WordKind.TEMPERATURE, amount="54C"),
    "note": Word(WordKind.NOTE, text="Slugs"),
    "picked": Word(WordKind.HARVEST, crop="tomato", amount="2kg"),
    "tomatoes": Word(WordKind.HARVEST, crop="tomato", amount="2kg"),
    "spent": Word(WordKind.COST, amount="12", text="straw"),
    "feed": Word(WordKind.FEED, amount="50g"),
    "gauge": Word(WordKind.RAIN, amount="12mm"),
    "night": Word(WordKind.LOW, amount="-2C"),
    "holiday": Word(WordKind.AWAY, text=(START + timedelta(days=6)).isoformat()),
}


@pytest.mark.parametrize("called", UNDOABLE)
def test_every_word_is_taken_back_by_its_name(called: str) -> None:
    """As the grower calls it, and nothing else with it; what stands apart stays."""
    store = MemoryStore()
    planted = Word(WordKind.DONE, task="row-a-plant-tomato")
    take_word(planted, (PLANTED,), store, NOW - timedelta(minutes=1))
    other = WordKind.RAIN if "reading" in called or "temp" in called else WordKind.TEMPERATURE
    amount = "3mm" if other is WordKind.RAIN else "31C"
    take_word(UNDOABLE[called], (PLANTED,), store, NOW)
    take_word(Word(other, amount=amount), (PLANTED,), store, NOW + timedelta(minutes=1))
    word = Word(WordKind.UNDO, task=called)
    take_word(word, (PLANTED,), store, NOW + timedelta(minutes=2))
    left = [row.kind.value for row in standing(store.journal(PLANTED.name))]
    assert left == [WordKind.DONE, other]


def test_what_was_said_to_be_gone_can_come_back() -> None:
    """It is asked about again."""
    store = MemoryStore()
    known = KnownGarden("Old", "Old", None, 47.0, 8.3, (KnownBatch("Row", "Row", None, START),))
    store.write([known_entry(known, NOW)])
    take_word(Word(WordKind.GONE, text="Old"), (ROW_A,), store, NOW)
    assert settled_in(store, (ROW_A,), NOW).lost == ()
    take_word(Word(WordKind.UNDO, task="gone Old"), (ROW_A,), store, NOW)
    assert [each.name for each in settled_in(store, (ROW_A,), NOW).lost] == ["Old"]


def said(text: str, *gardens: Garden, **parts: object) -> Taken:
    """Return what free words come to."""
    word = Word(WordKind.SAID, text=text, **parts)  # type: ignore[arg-type]
    return understood(word, gardens or (ROW_A,), lambda _: (), NOW)


@pytest.mark.parametrize(
    ("text", "kind", "value"),
    [
        ("54", EntryKind.TEMPERATURE, 54.0),
        ("129F", EntryKind.TEMPERATURE, 53.9),
        ("rain 12", EntryKind.RAIN, 12.0),
        ("low -2", EntryKind.LOW, -2.0),
        ("done", EntryKind.DONE, None),
        ("not today", EntryKind.MISSED, None),
        ("note slugs", EntryKind.NOTE, None),
    ],
)
def test_free_words_mean_at_a_terminal_what_they_mean_in_a_reply(
    text: str, kind: EntryKind, value: float | None
) -> None:
    """Though nothing was told: what the plan has for today is meant."""
    (row,) = said(text).rows
    assert (row.kind, row.value) == (kind, value)


def test_a_bare_number_is_in_the_unit_of_the_garden() -> None:
    """129 °F and half an inch, by their definitions (NIST Handbook 44, Appendix C)."""
    american = replace(ROW_A, units=Units.US)
    for word, value in (
        (Word(WordKind.SAID, text="129"), 53.9),
        (Word(WordKind.TEMPERATURE, amount="129"), 53.89),
        (Word(WordKind.RAIN, amount="0.5"), 12.7),
        (Word(WordKind.LOW, amount="28"), -2.22),
    ):
        (row,) = understood(word, (american,), lambda _: (), NOW).rows
        assert row.value == pytest.approx(value, abs=0.01)


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("dnoe", 'Did you mean "done"'),
        ("fed", "amount is missing"),
        ("done, but not Row A", "two things at once"),
        ("how feed", "strawbell how"),
        ("done hedge", "Nothing that I told of"),
        ("540", "-40 °C to 110 °C"),
        ("rain 900", "at most 500 mm"),
    ],
)
def test_free_words_that_cannot_be_taken_say_what_can(text: str, why: str) -> None:
    with pytest.raises(GrowerError, match=why):
        said(text)


def test_free_words_find_their_garden_by_the_work_alone() -> None:
    """A reading fits both gardens, and is taken for neither."""
    assert said("done hedge", ROW_A, HEDGE).garden is HEDGE
    for text in ("54", "done", "rain 12"):
        with pytest.raises(GrowerError, match="several gardens"):
            said(text, ROW_A, HEDGE)


@pytest.mark.parametrize("days", [401, 4000])
def test_what_is_long_past_is_a_slip_of_the_pen(days: int) -> None:
    """The range is said with it."""
    then = NOW - timedelta(days=days)
    for word in (
        Word(WordKind.RAIN, amount="12mm", on=then.date()),
        Word(WordKind.COST, amount="12", text="twine", on=then.date()),
        Word(WordKind.NOTE, text="slugs", at=then),
    ):
        with pytest.raises(GrowerError, match=rf"long past.*{NOW.year - 1}-\d\d-\d\d"):
            understood(word, (ROW_A,), lambda _: (), NOW)
