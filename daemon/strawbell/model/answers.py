"""What a grower answers, as values: every word of the closed vocabulary, in SI."""

from __future__ import annotations

from datetime import date
from enum import StrEnum

from msgspec import Struct


class Verdict(StrEnum):
    """What became of a piece of work."""

    DONE = "done"
    NOT_TODAY = "not-today"
    CANNOT = "cannot"
    MISSED = "missed"
    ALREADY_FED = "already-fed"
    """A feeding that was told to wait, and was given all the same."""
    COVERED = "covered"


IS_DONE = frozenset({Verdict.DONE, Verdict.ALREADY_FED, Verdict.COVERED})
"""The verdicts by which the work was done; by the others it was not."""


class Work(Struct, frozen=True):
    """A verdict on what was told: all of it, or what is called `about`; on `on`, else that day."""

    verdict: Verdict
    about: str = ""
    on: date | None = None


class Fed(Struct, frozen=True):
    """What each bale got instead of the told dose [g]."""

    per_bale_g: float
    about: str = ""


class Inside(Struct, frozen=True):
    """A reading of a probe in a bale [degC]."""

    celsius: float
    about: str = ""


class Picked(Struct, frozen=True):
    """A harvest: a mass [kg] or a number of pieces, the other None, of a crop."""

    kg: float | None
    pieces: int | None
    crop: str


class RainMeasured(Struct, frozen=True):
    """What stood in the rain gauge since the morning before [mm]; 0 is a measurement too."""

    mm: float


class LowMeasured(Struct, frozen=True):
    """The lowest temperature of the night, by the grower's own thermometer [degC]."""

    celsius: float


class Remark(Struct, frozen=True):
    """A note for the journal."""

    text: str


class Later(Struct, frozen=True):
    """Be told of it again later today."""


class How(Struct, frozen=True):
    """Be told the steps, of all of today's work or of what is called `about`."""

    about: str = ""


class Undo(Struct, frozen=True):
    """Take back the last word, or the last one about what is called `about`."""

    about: str = ""


class Away(Struct, frozen=True):
    """Nobody is in the garden from `first` to `last`, both included."""

    first: date
    last: date


class Back(Struct, frozen=True):
    """The grower is in the garden again."""


Answer = (
    Work
    | Fed
    | Inside
    | Picked
    | RainMeasured
    | LowMeasured
    | Remark
    | Later
    | How
    | Undo
    | Away
    | Back
)


class Doubt(StrEnum):
    """Why an answer cannot be taken; it is asked about."""

    NO_WORD = "no-word"
    """None of the words of the vocabulary, as a whole word."""
    TWO_WORDS = "two-words"
    """Words that contradict each other."""
    NO_AMOUNT = "no-amount"
    """A word that needs an amount, without one: never counted as zero."""


class Heard(Struct, frozen=True):
    """What was read out of an answer: all of `answers`, or a doubt and none of them.

    `said` is the line that it rests on, as typed.
    """

    answers: tuple[Answer, ...] = ()
    doubt: Doubt | None = None
    said: str = ""
