"""What a grower types is read by whole words, or not at all."""

from __future__ import annotations

from datetime import date

import pytest

from strawbell.model.garden import Units
from strawbell.model.notice import (
    Answer,
    Away,
    Back,
    Doubt,
    Fed,
    Heard,
    How,
    Inside,
    Later,
    LowMeasured,
    Picked,
    RainMeasured,
    Remark,
    Undo,
    Verdict,
    Work,
)
from strawbell.words.answers import LANGUAGES, read_lines

FRIDAY = date(2027, 4, 9)


def read_answer(typed: str, units: Units, on: date) -> Heard:
    return read_lines([typed], units, on)


WORDS: list[tuple[str, Answer]] = [
    ("done", Work(Verdict.DONE)),
    ("Done!", Work(Verdict.DONE)),
    ("  DONE .", Work(Verdict.DONE)),
    ("done Row A", Work(Verdict.DONE, "row a")),
    ("done the water", Work(Verdict.DONE, "water")),
    ("done yesterday", Work(Verdict.DONE, "", date(2027, 4, 8))),
    ("Done: Feed Row A on Fri 9 Apr.", Work(Verdict.DONE)),
    ("not done", Work(Verdict.NOT_TODAY)),
    ("not today", Work(Verdict.NOT_TODAY)),
    ("Can\u2019t", Work(Verdict.CANNOT)),
    ("missed, hose burst", Work(Verdict.MISSED)),
    ("missed Thu", Work(Verdict.MISSED, "", date(2027, 4, 8))),
    ("missed Friday", Work(Verdict.MISSED, "", FRIDAY)),
    ("missed Saturday", Work(Verdict.MISSED, "", date(2027, 4, 3))),
    ("missed 2 Apr", Work(Verdict.MISSED, "", date(2027, 4, 2))),
    ("missed 10 Apr", Work(Verdict.MISSED, "", date(2026, 4, 10))),
    ("missed 2027-04-07", Work(Verdict.MISSED, "", date(2027, 4, 7))),
    ("missed Row A on Thu", Work(Verdict.MISSED, "row a", date(2027, 4, 8))),
    ("already fed", Work(Verdict.ALREADY_FED)),
    ("covered", Work(Verdict.COVERED)),
    ("Erledigt, danke", Work(Verdict.DONE)),
    ("nicht erledigt", Work(Verdict.NOT_TODAY)),
    ("fed 100 g", Fed(100.0)),
    ("fed 100g each bale", Fed(100.0)),
    ("fed 4 oz Row A", Fed(4 * 28.349523125, "row a")),
    ("54", Inside(54.0)),
    ("54 C", Inside(54.0)),
    ("54.5\u00b0C", Inside(54.5)),
    ("54 degrees", Inside(54.0)),
    ("54 C Row A", Inside(54.0, "row a")),
    ("2 kg tomatoes", Picked(2.0, None, "tomatoes")),
    ("2,5kg of pak choi", Picked(2.5, None, "pak choi")),
    ("12 cucumbers", Picked(None, 12, "cucumbers")),
    ("3 heads lettuce", Picked(None, 3, "lettuce")),
    ("rain 12", RainMeasured(12.0)),
    ("rain 0", RainMeasured(0.0)),
    ("rain 0.5 in", RainMeasured(12.7)),
    ("low -2", LowMeasured(-2.0)),
    ("low \u22122", LowMeasured(-2.0)),
    ("note: the slugs are back, not many", Remark("the slugs are back, not many")),
    ("later", Later()),
    ("Remind me.", Later()),
    ("how?", How()),
    ("how feed", How("feed")),
    ("undo", Undo()),
    ("undo feed", Undo("feed")),
    ("back", Back()),
    ("away 12 Jun to 20 Jun", Away(date(2027, 6, 12), date(2027, 6, 20))),
    ("away 2027-06-12/2027-06-20", Away(date(2027, 6, 12), date(2027, 6, 20))),
    ("away until Sunday", Away(FRIDAY, date(2027, 4, 11))),
    ("\u202edone\u202c\u200b", Work(Verdict.DONE)),
]


@pytest.mark.parametrize(("typed", "meant"), WORDS, ids=[typed for typed, _ in WORDS])
def test_a_word_of_the_vocabulary_is_read(typed: str, meant: Answer) -> None:
    """However it is spelled, spaced and punctuated."""
    assert read_answer(typed, Units.METRIC, FRIDAY).answers == (meant,)


@pytest.mark.parametrize(
    ("typed", "why"),
    [
        ("", Doubt.NO_WORD),
        ("undone", Doubt.NO_WORD),
        ("half of it done tmrw", Doubt.NO_WORD),
        ("I have done it", Doubt.NO_WORD),
        ("do\0ne", Doubt.NO_WORD),
        ("\U0001f44d", Doubt.NO_WORD),
        ("1,200 g kale", Doubt.NO_WORD),
        ("back later", Doubt.NO_WORD),
        ("x" * 300, Doubt.NO_WORD),
        ("away from 20 Jun to 12 Jun 2019", Doubt.NO_WORD),
        ("done, but not the water", Doubt.TWO_WORDS),
        ("done, no, missed", Doubt.TWO_WORDS),
        ("rain", Doubt.NO_AMOUNT),
        ("low", Doubt.NO_AMOUNT),
        ("fed", Doubt.NO_AMOUNT),
        ("fed  g a bale", Doubt.NO_AMOUNT),
        ("100 g", Doubt.NO_AMOUNT),
        ("note", Doubt.NO_AMOUNT),
        ("away", Doubt.NO_AMOUNT),
    ],
)
def test_what_is_not_sure_is_not_taken(typed: str, why: Doubt) -> None:
    """A word inside another, a denial after it, or an amount that is missing."""
    heard = read_answer(typed, Units.METRIC, FRIDAY)
    assert (heard.answers, heard.doubt) == ((), why)


def test_bare_numbers_are_in_the_units_of_the_garden() -> None:
    """Fahrenheit and inches where amounts are shown in US units; a unit that is typed wins."""
    assert read_answer("129", Units.US, FRIDAY).answers == (Inside((129 - 32) / 1.8),)
    assert read_answer("54 C", Units.US, FRIDAY).answers == (Inside(54.0),)
    assert read_answer("rain 1", Units.US, FRIDAY).answers == (RainMeasured(25.4),)
    assert read_answer("low 28", Units.US, FRIDAY).answers == (LowMeasured((28 - 32) / 1.8),)


def test_several_facts_may_stand_in_one_answer() -> None:
    """Each on a line of its own; thanks and a name under them are no words."""
    heard = read_lines(["done", "", "2 kg kale", "54", "Thanks, Ada"], Units.METRIC, FRIDAY)
    assert heard.answers == (Work(Verdict.DONE), Picked(2.0, None, "kale"), Inside(54.0))


@pytest.mark.parametrize(
    "lines",
    [
        ["done", "no wait, missed"],
        ["done", "missed"],
        ["done", "the water was not done"],
        ["fed 100 g", "fed 200 g"],
        ["rain 3", "rain 5"],
    ],
)
def test_two_words_that_contradict_each_other_are_asked_about(lines: list[str]) -> None:
    """Neither of them is taken."""
    heard = read_lines(lines, Units.METRIC, FRIDAY)
    assert (heard.answers, heard.doubt) == ((), Doubt.TWO_WORDS)


def test_all_but_one_may_be_said() -> None:
    """A verdict on everything and another on a part of it do not contradict each other."""
    heard = read_lines(["done", "not today Row B"], Units.METRIC, FRIDAY)
    assert heard.answers == (Work(Verdict.DONE), Work(Verdict.NOT_TODAY, "row b"))


def test_the_first_line_has_to_be_the_answer() -> None:
    """A letter in which a word stands somewhere further down is no answer."""
    heard = read_lines(["Dear Strawbell,", "done"], Units.METRIC, FRIDAY)
    assert (heard.answers, heard.doubt) == ((), Doubt.NO_WORD)
    assert heard.said == "Dear Strawbell,"


def test_no_phrase_means_two_things() -> None:
    """In whatever language."""
    phrases = [
        phrase for language in LANGUAGES for each in language.phrases.values() for phrase in each
    ]
    assert len(phrases) == len(set(phrases))
