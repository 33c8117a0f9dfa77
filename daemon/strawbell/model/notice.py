"""Notices, what becomes of them, and what a grower answers: a closed vocabulary, in SI."""

from __future__ import annotations

from datetime import date, datetime
from enum import StrEnum

from msgspec import Struct


class NoticeKind(StrEnum):
    """Why a notice goes out."""

    MORNING = "morning"
    EVENING = "evening"
    CHANGE = "change"
    TEST = "test"
    TROUBLE = "trouble"
    """Something of Strawbell's own needs the grower: delivery, forecast outage, disk."""
    ALL_CLEAR = "all-clear"
    ANSWER = "answer"
    """Something said back to an answer: a question, steps, a reminder."""


class Silence(StrEnum):
    """What it means when nobody answers a notice."""

    DONE = "done"
    WAITED = "waited"
    NOT_YET = "not-yet"
    MISSED = "missed"
    """From the next day on."""
    WATERED = "watered"
    """Every morning of the days it was told for."""
    ASKED = "asked"
    """Nothing yet: the next brief asks."""
    NOTHING = "nothing"
    """There is nothing to answer."""


class Asking(Struct, frozen=True):
    """What a notice asks, and by which words it is answered, the likeliest first.

    `about` names the work in a few words, `keys` are those of its tasks, `example` is an answer
    with an amount, "" for none.
    """

    silence: Silence
    words: tuple[str, ...]
    about: str
    keys: tuple[str, ...]
    example: str = ""


class Useful(Struct, frozen=True):
    """When a notice was made, or is to be sent, and until when it is worth sending."""

    since: datetime
    until: datetime


class Notice(Struct, frozen=True):
    """What is to be said, worded for every channel; frozen before the first attempt.

    `occasion` with garden, local date and kind makes the notice unique ("" for the one of a
    day). `html` may be empty. `expires_at` is when it stops being useful. `token` proves an
    answer to what `asking` asks; it is filled in for each recipient.
    """

    garden: str
    local_date: date
    kind: NoticeKind
    occasion: str
    subject: str
    text: str
    html: str
    short: str
    """A few plain sentences for a desktop or a phone: all work, or how much more there is."""
    created_at: datetime
    expires_at: datetime
    asking: Asking | None = None
    token: str = ""
    urgency: int = 0
    """How much a notice wants to be the first of several: 0 where there is nothing to do."""
    locale: str = "en_GB"
    """What it is worded in, and what is added to it as well."""


class Outcome(StrEnum):
    """What a channel says became of one attempt."""

    ACCEPTED = "accepted"
    LATER = "later"
    FOR_GOOD = "for-good"
    UNKNOWN = "unknown"


class Delivery(Struct, frozen=True):
    """The result of one attempt; `detail` is what to tell of it, in sentences without secrets.

    `settings_problem` marks a refusal that mending the configuration cures (login, TLS, sender);
    with `about_recipient` it meets one recipient, and others are still tried. `own_trouble` is an
    attempt that never left this machine, for want of files, memory or room. `stage` is where in
    the conversation it came to its end, `reply` the codes of the server's answer ("535 5.7.8");
    both are "" where there was none.
    """

    outcome: Outcome
    detail: str = ""
    settings_problem: bool = False
    own_trouble: bool = False
    about_recipient: bool = False
    stage: str = ""
    reply: str = ""


class OutboxState(StrEnum):
    """Where a message to one channel and recipient stands."""

    DUE = "due"
    SENDING = "sending"
    ACCEPTED = "accepted"
    LATER = "later"
    FOR_GOOD = "for-good"
    UNKNOWN = "unknown"
    EXPIRED = "expired"


class OutboxRow(Struct, frozen=True):
    """One frozen message for one channel and recipient, and its state.

    `unique_key` is derived from garden, local date, kind, occasion, channel and recipient;
    `message_id` is derived from it and never changes; `body` is the rendered message.
    """

    unique_key: str
    channel: str
    recipient: str
    message_id: str
    body: bytes
    subject: str
    garden: str
    local_date: date
    kind: NoticeKind
    state: OutboxState
    attempts: int
    created_at: datetime
    next_attempt_at: datetime
    expires_at: datetime
    detail: str = ""
    surfaced: bool = False


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
