"""The measure of what a grower reads counts as a reader would."""

from __future__ import annotations

from datetime import date

from strawbell.model.notice import NoticeKind
from tests.value.mornings import SEASON, TABLE, WANTED, Mail, repeated, sentences, words_of


def mail(text: str) -> Mail:
    """Return a mail of the season."""
    return Mail(date(2013, 5, 1), SEASON, NoticeKind.MORNING, "Water today", text, "")


def test_numbers_and_units_are_words_and_bullets_are_none() -> None:
    assert words_of("- Row A: 3.5 L each, 21 L in all.") == 9


def test_a_sentence_goes_on_over_a_line_that_is_broken_to_fit() -> None:
    assert sentences("Row A: water\nthe bales. Then rest.\n\n1. Stop.") == [
        "Row A: water the bales.",
        "Then rest.",
        "1.",
        "Stop.",
    ]


def test_only_whole_sentences_of_the_mail_before_are_repeated() -> None:
    mails = [mail("Water 3 L. No reply means done."), mail("Water 4 L. No reply means done.")]
    assert list(repeated(mails)) == [(7, 4)]


def test_the_table_has_every_phase_and_keeps_what_was_wanted() -> None:
    rows = {
        cells[1].strip(): cells
        for line in TABLE.read_text(encoding="utf-8").splitlines()
        if len(cells := line.split("|")) == 7
    }
    for phase, (middle, most) in WANTED.items():
        assert int(rows[phase][3]) <= middle
        assert int(rows[phase][4]) <= most
