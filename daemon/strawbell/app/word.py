"""A word of the grower becomes rows of the journal and a sentence back, by whatever way it came.

`take_word` is the one door for the command, the daemon's socket and answers to a notice.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from datetime import date, datetime, timedelta
from difflib import get_close_matches

from msgspec import Struct
from msgspec.structs import replace

from strawbell.agronomy.feeding.doses import MOST_NITROGEN_AT_ONCE_G
from strawbell.app.answer_words import About, UnclearError, words_of
from strawbell.app.identity import known_entry, known_in, settled_in
from strawbell.app.meant import moment_meant, no_one_garden, one_garden
from strawbell.app.ports import Store
from strawbell.app.word_feed import feed, feed_said
from strawbell.app.word_harvest import cost, harvest, harvest_said
from strawbell.app.word_measured import away, low, rain, undo
from strawbell.app.word_parts import (
    FARTHEST_BACK,
    Word,
    WordKind,
    batch_named,
    entry_at,
    refuse_before_start,
)
from strawbell.decision.brief import brief
from strawbell.errors import GrowerError, Problem
from strawbell.model.answers import Doubt, How, Later
from strawbell.model.brief import Alert, AlertCode, Reason, ReasonCode, TaskKey
from strawbell.model.garden import Garden
from strawbell.model.identity import KnownGarden
from strawbell.model.journal import EntryKind, Journal, JournalEntry
from strawbell.season.extra_feedings import FEED_PER_BALE
from strawbell.season.journal_index import JournalIndex
from strawbell.season.local_time import local_date, zone_of
from strawbell.season.stage import planting_key
from strawbell.words.alerts import alert_words
from strawbell.words.answers import read_degrees, read_lines, read_mass_g
from strawbell.words.escaping import clean, listing
from strawbell.words.units import Measures
from strawbell.words.vocabulary import ENGLISH
from strawbell.words.voice import Voice

COLDEST_READING_C, HOTTEST_READING_C = -40.0, 110.0
"""Range of what a probe in straw can show [degC]; outside it is a slip of the pen."""
SLACK = timedelta(minutes=5)
"""How far a row may lie ahead: a wall clock read a little fast."""


class Taken(Struct, frozen=True):
    """What became of a word: for which garden, what is written, and what is said back."""

    garden: Garden
    rows: tuple[JournalEntry, ...]
    said: str
    """One sentence that repeats what was understood."""
    warnings: tuple[str, ...]
    """Sentences that cannot wait for the next brief."""


def take_word(word: Word, gardens: Sequence[Garden], store: Store, now: datetime) -> Taken:
    """Write what a word means into the journal, and return what to say back.

    `now` is the moment the word came. Raises `GrowerError` with what is allowed where it cannot
    be understood, and `OperationalError` where the store does not take it; nothing is written then.
    """
    with store.together():
        if word.kind is WordKind.GONE:
            taken = _gone(word, gardens, store, now)
        elif word.kind is WordKind.UNDO and word.task.partition(" ")[0] == WordKind.GONE:
            taken = _not_gone(word, gardens, store, now)
        else:
            taken = understood(word, gardens, store.journal, now)
        store.write(taken.rows)
    return taken


def _gone(word: Word, gardens: Sequence[Garden], store: Store, now: datetime) -> Taken:
    """Return that something the configuration lost is gone indeed, and asked about no more."""
    settled = settled_in(store, gardens, now)
    wanted = word.text.strip().casefold()
    found = [each for each in settled.lost if each.name.casefold() == wanted]
    if len(found) != 1:
        names = ", ".join(f'"{each.name}"' for each in settled.lost)
        raise GrowerError(
            Problem(
                "several have that name" if found else "nothing of that name is missing",
                "record gone",
                repr(word.text),
                names or "nothing: the configuration has everything that the season knows",
                "Nothing was recorded; strawbell check shows what is missing.",
            )
        )
    (lost,) = found
    garden = next((each for each in gardens if each.name == lost.asked_in), gardens[0])
    said = f'Recorded: "{clean(lost.name)}" is gone. Its journal is kept; nothing more is asked.'
    return Taken(garden, (known_entry(settled.without(lost), now),), said, ())


def _not_gone(word: Word, gardens: Sequence[Garden], store: Store, now: datetime) -> Taken:
    """Return that what was said to be gone is there, and is asked about again."""
    wanted = word.task.partition(" ")[2].strip().casefold()
    found: list[tuple[str, KnownGarden]] = []
    for known in known_in(store.known()):
        if known.is_over:
            found.append((known.name, replace(known, is_over=False)))
        for batch in known.batches:
            if batch.is_over:
                back = replace(batch, is_over=False)
                others = (back if each is batch else each for each in known.batches)
                found.append((batch.name, replace(known, batches=tuple(others))))
    fitting = [each for each in found if not wanted or each[0].casefold() == wanted]
    if len(fitting) != 1:
        raise GrowerError(
            Problem(
                "several are gone by that word" if fitting else "nothing of that name is gone",
                "record undo",
                repr(word.task),
                ", ".join(f'"gone {name}"' for name, _ in found) or "nothing: nothing is gone",
                "Nothing was recorded.",
            )
        )
    ((name, known),) = fitting
    garden = next((each for each in gardens if each.name == known.name), gardens[0])
    said = f'Recorded: "{clean(name)}" is not gone.'
    return Taken(garden, (known_entry(known, now),), said, ())


def understood(
    word: Word,
    gardens: Sequence[Garden],
    journal_of: Callable[[str], Journal],
    now: datetime,
) -> Taken:
    """Return what a word means, for the garden named, else for the only one it fits. Pure."""
    garden, meant, journal = _meant(word, gardens, journal_of, now)
    said = " ".join(_confirmation(rows, garden, journal) for rows in meant)
    return Taken(
        garden,
        tuple(row for rows in meant for row in rows),
        said or "That is recorded already; nothing was changed.",
        tuple(warning for rows in meant for warning in _warnings(rows[0], garden)),
    )


_Meant = tuple[tuple[JournalEntry, ...], ...]
"""The rows of each thing that was said: one, or several in free words."""


def _meant(
    word: Word,
    gardens: Sequence[Garden],
    journal_of: Callable[[str], Journal],
    now: datetime,
) -> tuple[Garden, _Meant, Journal]:
    if word.garden or len(gardens) == 1:
        garden = one_garden(gardens, word.garden)
        journal = journal_of(garden.name)
        return garden, _rows(word, garden, journal, now), journal
    fitting, problems = [], []
    for garden in gardens:
        journal = journal_of(garden.name)
        try:
            fitting.append((garden, _rows(word, garden, journal, now), journal))
        except GrowerError as error:
            problems += [
                replace(each, where=f"{garden.name}, {each.where}") for each in error.problems
            ]
    if not fitting:
        raise GrowerError(problems)
    (found,) = fitting if len(fitting) == 1 else (None,)
    if found is None or not _names_its_garden(word, found[1]):
        raise no_one_garden(gardens)
    return found


def _names_its_garden(word: Word, meant: _Meant) -> bool:
    """Return whether a word holds a task, a crop or a batch, by which a garden can be known."""
    if word.kind is WordKind.SAID:
        return all(row.task or row.kind is EntryKind.HARVEST for rows in meant for row in rows)
    return bool(word.task or word.crop or word.batch)


def _rows(word: Word, garden: Garden, journal: Journal, now: datetime) -> _Meant:
    moment = moment_meant(word.at, garden, now)
    if not now - FARTHEST_BACK <= moment <= now + SLACK:
        raise _not_lately(moment if word.at is None else word.at, now)
    if word.kind is WordKind.SAID:
        said = tuple(_said(word, garden, journal, moment))
        try:
            return tuple(rows for each in said for rows in _rows(each, garden, journal, now))
        except GrowerError as error:
            typed = repr(word.text)
            raise GrowerError([replace(each, found=typed) for each in error.problems]) from error
    return (_ENTRIES[word.kind](word, garden, journal, moment),)


def _not_lately(at: datetime, now: datetime) -> GrowerError:
    """Return the refusal of a row ahead of time, which would overrule all that is said until then.

    One of years ago is a slip of the pen as well.
    """
    return GrowerError(
        Problem(
            what="that time is long past" if at.date() < now.date() else "that time is to come",
            where="--at",
            found=at.isoformat(),
            allowed=f"{(now - FARTHEST_BACK).date()} until now, by the clocks of the garden",
            remedy="Nothing was recorded.",
        )
    )


def _said(word: Word, garden: Garden, journal: Journal, now: datetime) -> Iterator[Word]:
    """Yield the words that free ones come to, by the vocabulary of answers to notices."""
    today = local_date(now, zone_of(garden.place.time_zone))
    heard = read_lines([word.text], garden.units, today)
    if heard.doubt is not None:
        raise _not_heard(word.text, heard.doubt)
    about = About(garden, word.on or today, JournalIndex.of(journal), now, word.batch)
    for answer in heard.answers:
        if isinstance(answer, (How, Later)):
            raise GrowerError(
                Problem(
                    "that is nothing to record", "record", repr(word.text),
                    remedy="`strawbell how` shows the steps, `strawbell today` the work.",
                )
            )  # fmt: skip
        try:
            for each in words_of(answer, about):
                yield replace(each, on=each.on or word.on, at=each.at or word.at)
        except UnclearError as error:
            what = f"{error.sentence[:1].lower()}{error.sentence[1:]}".rstrip(".")
            raise GrowerError(Problem(what, "record", repr(word.text))) from error


def _not_heard(text: str, doubt: Doubt) -> GrowerError:
    first = text.split(maxsplit=1)[0] if text.strip() else ""
    known = {each for phrases in ENGLISH.phrases.values() for each in phrases} | set(WordKind)
    near = get_close_matches(first, sorted(known), n=3)
    near.sort(key=lambda each: each[:1] != first[:1])
    what = {
        Doubt.NO_WORD: "that is no word for the journal",
        Doubt.NO_AMOUNT: "it needs an amount",
        Doubt.TWO_WORDS: "it says two things at once",
    }[doubt]
    return GrowerError(
        Problem(
            what,
            "record",
            repr(text[:80]),
            "such as: done, not today, fed 400 g, 54, 2 kg tomatoes, rain 12, low -2, undo",
            f"Did you mean {near[0]!r}?" if near and doubt is Doubt.NO_WORD else "",
        )
    )


def _answer(
    word: Word, garden: Garden, journal: Journal, now: datetime
) -> tuple[JournalEntry, ...]:
    batch, key = _task(word.task, garden, journal, now)
    kind = EntryKind.DONE if word.kind is WordKind.DONE else EntryKind.MISSED
    data = _given(word, garden, batch, key, journal) if word.amount else {}
    return (entry_at(garden, now, kind, batch=batch, task=key, data=data),)


def _given(
    word: Word, garden: Garden, batch: str | None, key: str, journal: Journal
) -> Mapping[str, object]:
    """Return what each bale got instead of the told dose, with the nitrogen in it."""
    known_key = TaskKey.parse(key, (batch,) if batch else ())
    told = {} if known_key is None else JournalIndex.of(journal).amounts.get(known_key, {})
    each_g, nitrogen_g = told.get("per_bale_g"), told.get("nitrogen_per_bale_g")
    known = isinstance(each_g, (int, float)) and isinstance(nitrogen_g, (int, float)) and each_g > 0
    given_g = read_mass_g(word.amount)
    if not known or given_g is None or given_g <= 0:
        raise GrowerError(
            Problem(
                what="not an amount that this work can have had",
                where="fed",
                found=repr(word.amount),
                allowed="a mass for each bale, such as 400g or 14oz, of a feeding that was told",
                remedy="Nothing was recorded.",
            )
        )
    share = given_g / float(each_g)  # type: ignore[arg-type]
    if float(nitrogen_g) * share > MOST_NITROGEN_AT_ONCE_G:  # type: ignore[arg-type]
        raise GrowerError(
            Problem("nobody gives a bale that", "fed", repr(word.amount), remedy="Look again.")
        )
    bales = next((each.bales for each in garden.batches if each.name == batch), 1)
    return {
        **told,
        "per_bale_g": round(given_g, 1),
        "total_g": round(given_g * bales, 1),
        "nitrogen_per_bale_g": round(float(nitrogen_g) * share, 2),  # type: ignore[arg-type]
    }


def _temperature(
    word: Word, garden: Garden, journal: Journal, now: datetime
) -> tuple[JournalEntry, ...]:
    del journal
    celsius = read_degrees(word.amount, garden.units)
    if celsius is None:
        raise GrowerError(
            Problem(
                what="not a temperature",
                where="record temperature",
                found=repr(word.amount),
                allowed="a number, such as 54C or 129F",
            )
        )
    if not COLDEST_READING_C <= celsius <= HOTTEST_READING_C:
        shown = Measures(garden.units).temperature
        raise GrowerError(
            Problem(
                what="no probe in straw shows that",
                where="record temperature",
                found=word.amount,
                allowed=f"{shown(COLDEST_READING_C)} to {shown(HOTTEST_READING_C)}",
            )
        )
    batch = batch_named(word.batch, garden)
    refuse_before_start(batch, local_date(now, zone_of(garden.place.time_zone)), "temperature")
    return (entry_at(garden, now, EntryKind.TEMPERATURE, batch=batch.name, value=celsius),)


def _note(word: Word, garden: Garden, journal: Journal, now: datetime) -> tuple[JournalEntry, ...]:
    del journal
    if not clean(word.text):
        raise GrowerError(Problem("the note is empty", "record note", allowed="a few words"))
    batch = batch_named(word.batch, garden).name if word.batch else None
    return (entry_at(garden, now, EntryKind.NOTE, batch=batch, text=word.text),)


_Entries = Callable[[Word, Garden, Journal, datetime], tuple[JournalEntry, ...]]
_ENTRIES: dict[WordKind, _Entries] = {
    WordKind.DONE: _answer,
    WordKind.MISSED: _answer,
    WordKind.TEMPERATURE: _temperature,
    WordKind.NOTE: _note,
    WordKind.HARVEST: harvest,
    WordKind.COST: cost,
    WordKind.FEED: feed,
    WordKind.RAIN: rain,
    WordKind.LOW: low,
    WordKind.UNDO: undo,
    WordKind.AWAY: away,
}


def _task(typed: str, garden: Garden, journal: Journal, now: datetime) -> tuple[str | None, str]:
    """Return batch and key of the task meant: by its key, or by a part that only one has."""
    today = brief(garden, journal, None, now)
    index = JournalIndex.of(journal)
    known: dict[str, str | None] = {}
    for name, batch_log in index.batches.items():
        for told in batch_log.told.values():
            known.update((key.text(), name) for key in told)
    known.update({key.text(): words[-1].batch for key, words in index.answers.items()})
    known.update({each.key.text(): each.batch for each in today.questions})
    # What the plan would put in counts also where it was never told, as when it is too late.
    known.update(
        {
            planting_key(batch, each).text(): batch.name
            for batch in garden.batches
            for each in batch.plantings
        }
    )
    current = {task.key.text(): task.batch for task in today.tasks}
    known.update(current)
    wanted = typed.strip().lower()
    if wanted in known:
        return known[wanted], wanted
    parts = [key for key in current if wanted in key]
    if len(parts) == 1:
        return current[parts[0]], parts[0]
    near = get_close_matches(wanted, known, n=1)
    raise GrowerError(
        Problem(
            what="several tasks of today fit" if parts else "there is no such task",
            where="TASK",
            found=repr(typed),
            allowed=", ".join(parts or current) or "nothing is due today",
            remedy=f"Did you mean {near[0]!r}?" if near and not parts else "",
        )
    )


def _confirmation(rows: Sequence[JournalEntry], garden: Garden, journal: Journal) -> str:
    entry = rows[0]
    on = f"{entry.local_date.isoformat()}, {clean(garden.name)}"
    if entry.kind is EntryKind.HARVEST:
        return f"Recorded for {on}: {harvest_said(rows, garden, journal)}."
    if FEED_PER_BALE in entry.data:
        return f"Recorded for {on}: {feed_said(entry, garden)}."
    if entry.kind is EntryKind.AWAY:
        return f"Recorded for {clean(garden.name)}: {_away_said(entry)}."
    inside = Measures(garden.units).temperature(entry.value)
    what = {
        EntryKind.DONE: f"{entry.task} is done",
        EntryKind.MISSED: (
            f"{entry.task} was missed; a feeding or the first soaking is due again on the next "
            "fit day"
        ),
        EntryKind.TEMPERATURE: f"{entry.batch}: {inside} inside",
        EntryKind.NOTE: "the note",
        EntryKind.COST: f"{entry.value or 0.0:.2f} for {entry.text}",
        EntryKind.RAIN: f"{Measures(garden.units).rain(entry.value)} of rain",
        EntryKind.LOW: f"a low of {inside}",
        EntryKind.UNDONE: f"{_undone_said(rows)} no longer counts",
    }[entry.kind]
    return f"Recorded for {on}: {what}."


def _away_said(entry: JournalEntry) -> str:
    first, last = entry.local_date, date.fromisoformat(entry.text)
    if last < first or last < entry.at.date():
        return "you are back"
    return (
        f"you are away from {first} to {last}; what is told meanwhile counts as not yet done "
        "unless somebody says it was"
    )


def _undone_said(rows: Sequence[JournalEntry]) -> str:
    """Return what is taken back: each by its task, else by its kind."""
    return listing(row.task or f"the last {row.data.get('kind', 'word')}" for row in rows)


def _warnings(entry: JournalEntry, garden: Garden) -> tuple[str, ...]:
    """Return what cannot wait for the next brief: a reading in the range of self-heating."""
    limit_c = garden.rules.self_heating_c
    if entry.kind is not EntryKind.TEMPERATURE or entry.value is None or entry.value < limit_c:
        return ()
    why = Reason(ReasonCode.SELF_HEATING, entry.value, limit_c, "degC")
    alert = Alert(AlertCode.SELF_HEATING, entry.batch, None, None, (why,))
    words = alert_words(alert, Voice.of(garden, entry.local_date))
    return (f"{words.headline}.", *words.why, words.advice)
