"""An answer becomes words for the journal's door, whether it came by mail, a button or a terminal.

Pure. A word of the closed vocabulary says little; what is meant with it follows from the garden,
the date it is about and what was told then.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import date, datetime, time
from functools import partial

from msgspec import Struct

from strawbell.app.word import Word, WordKind, batch_named, is_called, quoted, refusal, tongue_of
from strawbell.decision.brief import brief
from strawbell.model.answers import (
    IS_DONE,
    Answer,
    Away,
    Back,
    Fed,
    Inside,
    LowMeasured,
    Picked,
    RainMeasured,
    Remark,
    Undo,
    Verdict,
    Work,
)
from strawbell.model.brief import Action, Question, State, TaskKey
from strawbell.model.garden import Batch, Garden
from strawbell.model.journal import crops_kept
from strawbell.model.names import slug
from strawbell.season.journal_index import JournalIndex
from strawbell.season.local_time import DAY, local_date, moment_of, zone_of
from strawbell.words.answers import read_lines

END_OF_WORK = time(21)
"""When work of an earlier day is taken to have been done: after its brief, before its end."""


class About(Struct, frozen=True):
    """What an answer is about: a date of a garden, with its record, heard at `now`.

    `batch` is a batch that was named beside the answer.
    """

    garden: Garden
    on: date
    index: JournalIndex
    now: datetime
    batch: str | None = None


def words_of(answer: Answer, about: About) -> Iterable[Word]:
    """Return an answer as words for the door; none for one that is no matter of the journal.

    Raises `GrowerError` where it may mean several things, or none.
    """
    garden = about.garden
    word = partial(Word, garden=garden.name)
    if isinstance(answer, Work):
        return _work(answer, about)
    if isinstance(answer, Fed):
        keys = _keys(Work(Verdict.DONE, answer.about), about, {Action.FEED})
        amount, at = f"{answer.per_bale_g:.1f}g", _moment_on(about)
        return [word(WordKind.DONE, task=key.text(), amount=amount, at=at) for key in keys]
    if isinstance(answer, Inside):
        batch = _batch_of(answer.about, about).name
        return [word(WordKind.TEMPERATURE, amount=f"{answer.celsius:.1f}C", batch=batch)]
    if isinstance(answer, Picked):
        if answer.pieces is not None and _is_batch(answer.crop, garden):
            # "54 Row B" is a reading, in the degrees of the garden.
            typed = f"{answer.pieces} degrees {answer.crop}"
            (reading,) = read_lines([typed], garden.units, about.on).answers
            return words_of(reading, about)
        amount = f"{answer.kg}kg" if answer.kg is not None else str(answer.pieces)
        return [word(WordKind.HARVEST, amount=amount, crop=answer.crop, batch=about.batch)]
    if isinstance(answer, RainMeasured):
        return [word(WordKind.RAIN, amount=f"{answer.mm:.2f}mm")]
    if isinstance(answer, LowMeasured):
        return [word(WordKind.LOW, amount=f"{answer.celsius:.2f}C")]
    if isinstance(answer, Undo):
        return [word(WordKind.UNDO, task=answer.about)]
    if isinstance(answer, Remark):
        return [word(WordKind.NOTE, text=answer.text, batch=about.batch)]
    if isinstance(answer, Away):
        return [word(WordKind.AWAY, on=answer.first, text=answer.last.isoformat())]
    if isinstance(answer, Back):
        today = local_date(about.now, zone_of(garden.place.time_zone))
        return [word(WordKind.AWAY, on=today, text=(today - DAY).isoformat())]
    return ()


def _work(answer: Work, about: About) -> Iterator[Word]:
    on = answer.on or about.on
    kind = WordKind.DONE if answer.verdict in IS_DONE else WordKind.MISSED
    actions = {
        Verdict.ALREADY_FED: {Action.FEED},
        Verdict.COVERED: {Action.PROTECT, Action.LAY_TARP},
    }.get(answer.verdict, set())
    for key in _keys(answer, about, actions):
        word = about.index.word_on(key, on)
        if word is None or word.done is not (kind is WordKind.DONE):
            at = _moment_on(about, on)
            yield Word(kind, task=key.text(), garden=about.garden.name, at=at)


def _keys(answer: Work, about: About, actions: set[Action]) -> tuple[TaskKey, ...]:
    """Return the keys of the work that is meant: told on that date, and called so.

    What was told as due is meant; work that waits only where it is named, or alone.
    """
    on = answer.on or about.on
    questions = _questions(about) if answer.on is None else ()
    if questions and not actions:
        return tuple(
            each.key for each in questions if is_called(answer.about, each.batch, "feed")
        ) or nothing_due(about.garden, on, answer.about)
    fitting = [
        (key, state)
        for key, state, action, names in _told(about, on) or _not_told_yet(about, on)
        if (not actions or action in actions) and is_called(answer.about, *names, key.text())
    ]
    due = tuple(key for key, state in fitting if state is State.DUE)
    held = tuple(key for key, state in fitting if state is State.HELD)
    if due:
        return due
    if held and answer.verdict in IS_DONE:
        return held
    return nothing_due(about.garden, on, answer.about)


_Called = tuple[TaskKey, State, str, tuple[str, ...]]
"""Work of a date: its key, how it stands, its action, and what else it is called."""


def _told(about: About, on: date) -> list[_Called]:
    found: list[_Called] = []
    for batch in about.garden.batches:
        for key, state in about.index.batch(batch.name).told.get(on, {}).items():
            figures = about.index.amounts.get(key, {})
            action = str(figures.get("action", ""))
            found.append((key, state, action, (batch.name, action, *crops_kept(figures))))
    return found


def _not_told_yet(about: About, on: date) -> list[_Called]:
    """Return the work of today where no notice went out: without a daemon, or before its hour."""
    if on != local_date(about.now, zone_of(about.garden.place.time_zone)):
        return []
    tasks = brief(about.garden, about.index, None, about.now).tasks
    return [
        (each.key, each.state, each.action, (each.batch or "", each.action, *each.crops))
        for each in tasks
    ]


def _moment_on(about: About, on: date | None = None) -> datetime | None:
    """Return when work of a date is taken to have been done; None for now."""
    zone, on = zone_of(about.garden.place.time_zone), on or about.on
    return None if on >= local_date(about.now, zone) else moment_of(on, END_OF_WORK, zone)


def _questions(about: About) -> tuple[Question, ...]:
    if about.on != local_date(about.now, zone_of(about.garden.place.time_zone)):
        return ()
    return brief(about.garden, about.index, None, about.now).questions


def nothing_due(garden: Garden, on: date, about: str) -> tuple[TaskKey, ...]:
    """Refuse an answer about work that was not due on a date, or is called otherwise."""
    tongue = tongue_of(garden)
    names = quoted((batch.name for batch in garden.batches), tongue)
    day = tongue.date("date.month_day", on)
    raise refusal(tongue.say("refusal.nothing-due", about=about, day=day, names=names), "record")


def _is_batch(name: str, garden: Garden) -> bool:
    return any(slug(batch.name) == slug(name) for batch in garden.batches)


def _batch_of(name: str, about: About) -> Batch:
    garden = about.garden
    if about.batch:
        return batch_named(about.batch, garden)
    if not name and len(garden.batches) == 1:
        return garden.batches[0]
    found = [batch for batch in garden.batches if name and slug(batch.name) == slug(name)]
    if found:
        return found[0]
    tongue = tongue_of(garden)
    words = quoted((f"54 {batch.name}" for batch in garden.batches), tongue, "or")
    raise refusal(tongue.say("refusal.which-bales", words=words), "record")
