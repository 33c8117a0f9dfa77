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
from strawbell.app.answer_words import About, words_of
from strawbell.app.identity import known_entry, known_in, settled_in
from strawbell.app.meant import (
    moment_meant,
    nearest,
    no_one_garden,
    one_garden,
    quoted,
    refusal,
    tongue_of,
)
from strawbell.app.ports import Store
from strawbell.app.word_feed import feed
from strawbell.app.word_harvest import cost, harvest, harvest_total
from strawbell.app.word_measured import away, low, rain, undo
from strawbell.app.word_parts import (
    FARTHEST_BACK,
    Word,
    WordKind,
    batch_named,
    entry_at,
    not_lately,
    refuse_before_start,
)
from strawbell.decision.brief import brief
from strawbell.errors import GrowerError
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
from strawbell.words.asking import fact_said
from strawbell.words.catalogue import Tongue
from strawbell.words.escaping import clean
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
        tongue = tongue_of(gardens[0])
        names = quoted((each.name for each in settled.lost), tongue)
        said = tongue.say("refusal.gone", several=bool(found), names=names)
        raise refusal(said, "record gone", word.text)
    (lost,) = found
    garden = next((each for each in gardens if each.name == lost.asked_in), gardens[0])
    said = tongue_of(garden).say("recorded.gone", name=clean(lost.name))
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
        tongue = tongue_of(gardens[0])
        words = quoted((f"{WordKind.GONE} {name}" for name, _ in found), tongue)
        said = tongue.say("refusal.not-gone", several=bool(fitting), words=words)
        raise refusal(said, "record undo", word.task)
    ((name, known),) = fitting
    garden = next((each for each in gardens if each.name == known.name), gardens[0])
    said = tongue_of(garden).say("recorded.not-gone", name=clean(name))
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
        said or tongue_of(garden).say("recorded.already"),
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
        typed = moment if word.at is None else word.at
        first = (now - FARTHEST_BACK).date()
        raise not_lately(garden, typed.isoformat(), first, now.date(), is_past=moment < now)
    if word.kind is WordKind.SAID:
        said = tuple(_said(word, garden, journal, moment))
        try:
            return tuple(rows for each in said for rows in _rows(each, garden, journal, now))
        except GrowerError as error:
            where = f'record "{clean(word.text)}"'
            raise GrowerError([replace(each, where=where) for each in error.problems]) from error
    return (_ENTRIES[word.kind](word, garden, journal, moment),)


def _said(word: Word, garden: Garden, journal: Journal, now: datetime) -> Iterator[Word]:
    """Yield the words that free ones come to, by the vocabulary of answers to notices."""
    today = local_date(now, zone_of(garden.place.time_zone))
    heard = read_lines([word.text], garden.units, today)
    if heard.doubt is not None:
        raise _not_heard(word.text, heard.doubt, tongue_of(garden))
    about = About(garden, word.on or today, JournalIndex.of(journal), now, word.batch)
    for answer in heard.answers:
        if isinstance(answer, (How, Later)):
            raise refusal(tongue_of(garden).say("refusal.nothing-to-record"), "record", word.text)
        for each in words_of(answer, about):
            yield replace(each, on=each.on or word.on, at=each.at or word.at)


def _not_heard(text: str, doubt: Doubt, tongue: Tongue) -> GrowerError:
    first = text.split(maxsplit=1)[0] if text.strip() else ""
    known = {each for phrases in ENGLISH.phrases.values() for each in phrases} | set(WordKind)
    near = get_close_matches(first, sorted(known), n=3)
    near.sort(key=lambda each: each[:1] != first[:1])
    remedy = tongue.say("question.ways")
    if near and doubt is Doubt.NO_WORD:
        remedy = tongue.say("refusal.near", near=near[0])
    return refusal(tongue.of("doubt", doubt), "record", text[:80], remedy)


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
        raise refusal(tongue_of(garden).say("refusal.no-fed-amount"), "fed", word.amount)
    share = given_g / float(each_g)  # type: ignore[arg-type]
    if float(nitrogen_g) * share > MOST_NITROGEN_AT_ONCE_G:  # type: ignore[arg-type]
        most = Measures(garden.units).mass(
            float(each_g) * MOST_NITROGEN_AT_ONCE_G / float(nitrogen_g)  # type: ignore[arg-type]
        )
        said = tongue_of(garden).say("refusal.too-much-feed", most=most)
        raise refusal(said, "fed", word.amount)
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
        said = tongue_of(garden).say("refusal.no-temperature", of="bale")
        raise refusal(said, "record temperature", word.amount)
    if not COLDEST_READING_C <= celsius <= HOTTEST_READING_C:
        shown = Measures(garden.units).temperature
        low, high = shown(COLDEST_READING_C), shown(HOTTEST_READING_C)
        said = tongue_of(garden).say("refusal.out-of-range", of="bale", low=low, high=high)
        raise refusal(said, "record temperature", word.amount)
    batch, today = batch_named(word.batch, garden), local_date(now, zone_of(garden.place.time_zone))
    refuse_before_start(batch, today, "temperature", tongue_of(garden))
    return (entry_at(garden, now, EntryKind.TEMPERATURE, batch=batch.name, value=celsius),)


def _note(word: Word, garden: Garden, journal: Journal, now: datetime) -> tuple[JournalEntry, ...]:
    del journal
    if not clean(word.text):
        raise refusal(tongue_of(garden).say("refusal.empty-note"), "record note")
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
    tongue = tongue_of(garden)
    tasks = tongue.listing(parts or current)
    said = tongue.say("refusal.which-task", several=bool(parts), tasks=tasks)
    raise refusal(said, "record", typed, "" if parts else nearest(wanted, known, tongue))


def _confirmation(rows: Sequence[JournalEntry], garden: Garden, journal: Journal) -> str:
    """Return what was understood, and what follows from it, in whole sentences."""
    entry, amounts = rows[0], JournalIndex.of(journal).amounts
    voice = Voice.of(garden, entry.local_date)
    facts = voice.tongue.listing(fact_said(row, amounts, voice) for row in _told(rows))
    said = voice.say(
        "recorded.row", garden=clean(garden.name), day=voice.day(voice.on), facts=facts
    )
    if entry.kind is EntryKind.HARVEST:
        return f"{said} {harvest_total(rows, garden, journal)}"
    if FEED_PER_BALE in entry.data:
        return f"{said} {voice.say('recorded.extra', task=str(entry.task))}"
    if entry.kind is EntryKind.AWAY and date.fromisoformat(entry.text) >= entry.at.date():
        return f"{said} {voice.say('recorded.away')}"
    if entry.kind is EntryKind.MISSED:
        return f"{said} {voice.say('recorded.missed')}"
    return said


def _told(rows: Sequence[JournalEntry]) -> Sequence[JournalEntry]:
    """Return the rows that are told back: of a last harvest not that the crop is over."""
    return rows[:1] if rows[0].kind is EntryKind.HARVEST else rows


def _warnings(entry: JournalEntry, garden: Garden) -> tuple[str, ...]:
    """Return what cannot wait for the next brief: a reading in the range of self-heating."""
    limit_c = garden.rules.self_heating_c
    if entry.kind is not EntryKind.TEMPERATURE or entry.value is None or entry.value < limit_c:
        return ()
    why = Reason(ReasonCode.SELF_HEATING, entry.value, limit_c, "degC")
    alert = Alert(AlertCode.SELF_HEATING, entry.batch, None, None, (why,))
    words = alert_words(alert, Voice.of(garden, entry.local_date))
    return (f"{words.headline}.", *words.why, words.advice)
