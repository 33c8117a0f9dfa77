"""What the grower says becomes rows of the journal and a sentence back, by whatever way it came.

`take_word` is the one door for the command and the daemon's socket; answers to a notice come
through `answered`, which writes nothing. A word of the closed vocabulary says
little; what is meant with it follows from the garden, the date it is about and what was told then.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from datetime import date, datetime, time
from difflib import get_close_matches

from msgspec import Struct
from msgspec.structs import replace

from strawbell.agronomy.doses import MOST_NITROGEN_AT_ONCE_G
from strawbell.agronomy.feeds import UNKNOWN_KG_PER_L
from strawbell.app.identity import known_entry, known_in, settled_in
from strawbell.app.ports import Store
from strawbell.app.word import (
    Case,
    Word,
    WordKind,
    batch_named,
    is_called,
    nearest,
    no_one_garden,
    one_garden,
    quoted,
    refusal,
    singulars,
    tongue_of,
)
from strawbell.decision.brief import brief
from strawbell.errors import GrowerError
from strawbell.model.brief import (
    Action,
    Alert,
    AlertCode,
    Question,
    Reason,
    ReasonCode,
    State,
    TaskKey,
)
from strawbell.model.feeds import Feed
from strawbell.model.garden import Batch, Garden, Planting, slug
from strawbell.model.identity import KnownGarden
from strawbell.model.journal import GROWERS_KINDS, EntryKind, Journal, JournalEntry, crops_kept
from strawbell.model.notice import (
    IS_DONE,
    Answer,
    Away,
    Back,
    Doubt,
    Fed,
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
from strawbell.season.fold import state_at
from strawbell.season.journal_index import (
    FEED_PER_BALE,
    JournalIndex,
    last_words,
    standing,
    taken_back,
)
from strawbell.season.local_time import DAY, moment_of
from strawbell.season.season_summary import PIECES, PLANTING, harvested_so_far
from strawbell.season.stage import (
    BatchState,
    extra_key,
    last_harvest_key,
    over_on,
    planted_on,
    planting_key,
    planting_label,
)
from strawbell.words.answers import (
    ENGLISH,
    MASS_G,
    read_degrees,
    read_depth_mm,
    read_lines,
    read_mass_g,
)
from strawbell.words.answers import PIECES as PIECES_SAID
from strawbell.words.asking import fact_said
from strawbell.words.catalogue import Tongue
from strawbell.words.escaping import clean
from strawbell.words.reasons import alert_words
from strawbell.words.summary import harvest_amounts
from strawbell.words.units import Measures
from strawbell.words.voice import Voice

Rows = tuple[JournalEntry, ...]
END_OF_WORK = time(21)
"""When work of an earlier day is taken to have been done: after its brief, before its end."""


_AMOUNT = re.compile(r"\s*([+-]?\d+(?:[.,]\d+)?)\s*([A-Za-z]*)\s*")
_MONEY = re.compile(r"\s*([+-]?\d+(?:[.,]\d{1,2})?)\s*")
_THOUSANDS = re.compile(r"[+-]?\d{1,3},\d{3}")
"""Whether the comma parts thousands or is the decimal one, nobody can tell."""
MOST_KG, MOST_PIECES, MOST_MONEY = 2000.0, 100_000.0, 10_000_000.0
"""More in one line is a slip of the pen."""
READING_C = (-40.0, 110.0)
"""Range of what a probe in straw can show [degC]; outside it is a slip of the pen."""
NIGHT_C = (-50.0, 45.0)
"""Range of a night's low that a garden sees [degC]; outside it is a slip of the pen."""
MOST_RAIN_MM = 500.0
"""More in a day is a slip of the pen; a gauge does not hold it."""
LONGEST_AWAY_D = 92
"""Longest time away [day]: a summer; longer is a slip of the pen."""
NOON = time(12)
"""A gauge read before it holds the rain of the day before (common practice: read at breakfast)."""
G_PER_KG, PER_CENT = 1000.0, 100.0
_VOLUME = re.compile(r"\s*(\d+(?:[.,]\d+)?)\s*(ml|l)\s*")


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


def answered(answer: Answer, case: Case) -> Iterator[tuple[Rows, tuple[str, ...]]]:
    """Yield what each thing comes to that an answer to a notice says: rows, and warnings. Pure."""
    for word in words_of(answer, case):
        (rows,) = _rows(replace(case, word=word))
        yield rows, _warnings(rows[0], case.garden)


def understood(
    word: Word,
    gardens: Sequence[Garden],
    journal_of: Callable[[str], Journal],
    now: datetime,
) -> Taken:
    """Return what a word means, for the garden named, else for the only one it fits. Pure."""
    case, meant = _meant(word, gardens, journal_of, now)
    garden, journal = case.garden, case.journal
    said = " ".join(_confirmation(rows, garden, journal) for rows in meant)
    return Taken(
        garden,
        tuple(row for rows in meant for row in rows),
        said or case.tongue.say("recorded.already"),
        tuple(warning for rows in meant for warning in _warnings(rows[0], garden)),
    )


_Meant = tuple[Rows, ...]
"""The rows of each thing that was said: one, or several in free words."""


def _meant(
    word: Word,
    gardens: Sequence[Garden],
    journal_of: Callable[[str], Journal],
    now: datetime,
) -> tuple[Case, _Meant]:
    if word.garden or len(gardens) == 1:
        garden = one_garden(gardens, word.garden)
        case = _case(word, garden, journal_of(garden.name), now)
        return case, _rows(case)
    fitting, problems = [], []
    for garden in gardens:
        case = _case(word, garden, journal_of(garden.name), now)
        try:
            fitting.append((case, _rows(case)))
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


def _case(word: Word, garden: Garden, journal: Journal, now: datetime) -> Case:
    return Case(word, garden, journal, JournalIndex.of(journal), now)


def _names_its_garden(word: Word, meant: _Meant) -> bool:
    """Return whether a word holds a task, a crop or a batch, by which a garden can be known."""
    if word.kind is WordKind.SAID:
        return all(row.task or row.kind is EntryKind.HARVEST for rows in meant for row in rows)
    return bool(word.task or word.crop or word.batch)


def _rows(case: Case) -> _Meant:
    there, word = case.at_its_moment(), case.word
    if word.kind is not WordKind.SAID:
        return (_ROWS[word.kind](there),)
    said = tuple(_said(there))
    try:
        return tuple(rows for each in said for rows in _rows(replace(case, word=each)))
    except GrowerError as error:
        where = f'record "{clean(word.text)}"'
        raise GrowerError([replace(each, where=where) for each in error.problems]) from error


def _said(case: Case) -> Iterator[Word]:
    """Yield the words that free ones come to, by the vocabulary of answers to notices."""
    word, garden = case.word, case.garden
    heard = read_lines([word.text], garden.units, case.today)
    if heard.doubt is not None:
        raise _not_heard(word.text, heard.doubt, case.tongue)
    for answer in heard.answers:
        if isinstance(answer, (How, Later)):
            raise refusal(case.tongue.say("refusal.nothing-to-record"), "record", word.text)
        for each in words_of(answer, case):
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


def words_of(answer: Answer, case: Case) -> Iterable[Word]:
    """Return an answer as words for the door; none for one that is no matter of the journal.

    Raises `GrowerError` where it may mean several things, or none.
    """
    if isinstance(answer, Work):
        return _work(answer, case)
    if isinstance(answer, Fed):
        keys = _keys(Work(Verdict.DONE, answer.about), case, {Action.FEED})
        amount, at = f"{answer.per_bale_g:.1f}g", _moment_on(case, case.on)
        return [Word(WordKind.DONE, task=key.text(), amount=amount, at=at) for key in keys]
    if isinstance(answer, Inside):
        batch = _batch_of(answer.about, case).name
        return [Word(WordKind.TEMPERATURE, amount=f"{answer.celsius:.1f}C", batch=batch)]
    if isinstance(answer, Picked):
        if answer.pieces is not None and _is_batch(answer.crop, case.garden):
            # "54 Row B" is a reading, in the degrees of the garden.
            typed = f"{answer.pieces} degrees {answer.crop}"
            (reading,) = read_lines([typed], case.garden.units, case.on).answers
            return words_of(reading, case)
        amount = f"{answer.kg}kg" if answer.kg is not None else str(answer.pieces)
        return [Word(WordKind.HARVEST, amount=amount, crop=answer.crop, batch=case.word.batch)]
    if isinstance(answer, RainMeasured):
        return [Word(WordKind.RAIN, amount=f"{answer.mm:.2f}mm")]
    if isinstance(answer, LowMeasured):
        return [Word(WordKind.LOW, amount=f"{answer.celsius:.2f}C")]
    if isinstance(answer, Undo):
        return [Word(WordKind.UNDO, task=answer.about)]
    if isinstance(answer, Remark):
        return [Word(WordKind.NOTE, text=answer.text, batch=case.word.batch)]
    if isinstance(answer, Away):
        return [Word(WordKind.AWAY, on=answer.first, text=answer.last.isoformat())]
    if isinstance(answer, Back):
        return [Word(WordKind.AWAY, on=case.today, text=(case.today - DAY).isoformat())]
    return ()


def _work(answer: Work, case: Case) -> Iterator[Word]:
    on = answer.on or case.on
    kind = WordKind.DONE if answer.verdict in IS_DONE else WordKind.MISSED
    actions = {
        Verdict.ALREADY_FED: {Action.FEED},
        Verdict.COVERED: {Action.PROTECT, Action.LAY_TARP},
    }.get(answer.verdict, set())
    for key in _keys(answer, case, actions):
        word = case.index.word_on(key, on)
        if word is None or word.done is not (kind is WordKind.DONE):
            yield Word(kind, task=key.text(), at=_moment_on(case, on))


def _keys(answer: Work, case: Case, actions: set[Action]) -> tuple[TaskKey, ...]:
    """Return the keys of the work that is meant: told on that date, and called so.

    What was told as due is meant; work that waits only where it is named, or alone.
    """
    on = answer.on or case.on
    questions = _questions(case) if answer.on is None else ()
    if questions and not actions:
        return tuple(
            each.key for each in questions if is_called(answer.about, each.batch, "feed")
        ) or nothing_due(case.garden, on, answer.about)
    fitting = [
        (key, state)
        for key, state, action, names in _work_told(case, on) or _not_told_yet(case, on)
        if (not actions or action in actions) and is_called(answer.about, *names, key.text())
    ]
    due = tuple(key for key, state in fitting if state is State.DUE)
    held = tuple(key for key, state in fitting if state is State.HELD)
    if due:
        return due
    if held and answer.verdict in IS_DONE:
        return held
    return nothing_due(case.garden, on, answer.about)


_Called = tuple[TaskKey, State, str, tuple[str, ...]]
"""Work of a date: its key, how it stands, its action, and what else it is called."""


def _work_told(case: Case, on: date) -> list[_Called]:
    found: list[_Called] = []
    for batch in case.garden.batches:
        for key, state in case.index.batch(batch.name).told.get(on, {}).items():
            figures = case.index.amounts.get(key, {})
            action = str(figures.get("action", ""))
            found.append((key, state, action, (batch.name, action, *crops_kept(figures))))
    return found


def _not_told_yet(case: Case, on: date) -> list[_Called]:
    """Return the work of today where no notice went out: without a daemon, or before its hour."""
    if on != case.today:
        return []
    tasks = brief(case.garden, case.index, None, case.now).tasks
    return [
        (each.key, each.state, each.action, (each.batch or "", each.action, *each.crops))
        for each in tasks
    ]


def _moment_on(case: Case, on: date) -> datetime | None:
    """Return when work of a date is taken to have been done; None for now."""
    zone = case.garden.place.zone
    return None if on >= case.today else moment_of(on, END_OF_WORK, zone)


def _questions(case: Case) -> tuple[Question, ...]:
    if case.on != case.today:
        return ()
    return brief(case.garden, case.index, None, case.now).questions


def nothing_due(garden: Garden, on: date, about: str) -> tuple[TaskKey, ...]:
    """Refuse an answer about work that was not due on a date, or is called otherwise."""
    tongue = tongue_of(garden)
    names = quoted((batch.name for batch in garden.batches), tongue)
    day = tongue.date("date.month_day", on)
    raise refusal(tongue.say("refusal.nothing-due", about=about, day=day, names=names), "record")


def _is_batch(name: str, garden: Garden) -> bool:
    return any(slug(batch.name) == slug(name) for batch in garden.batches)


def _batch_of(name: str, case: Case) -> Batch:
    garden = case.garden
    if case.word.batch:
        return batch_named(case.word.batch, garden)
    if not name and len(garden.batches) == 1:
        return garden.batches[0]
    found = [batch for batch in garden.batches if name and slug(batch.name) == slug(name)]
    if found:
        return found[0]
    tongue = tongue_of(garden)
    words = quoted((f"54 {batch.name}" for batch in garden.batches), tongue, "or")
    raise refusal(tongue.say("refusal.which-bales", words=words), "record")


def _answer(case: Case) -> Rows:
    """Return that work is done or missed, and what each bale got of the feed where that is said."""
    batch, key = _task(case)
    kind = EntryKind.DONE if case.word.kind is WordKind.DONE else EntryKind.MISSED
    data = _given(case, batch, key) if case.word.amount else {}
    return (case.entry(kind, batch=batch, task=key, data=data),)


def _given(case: Case, batch: str | None, key: str) -> Mapping[str, object]:
    """Return what each bale got instead of the told dose, with the nitrogen in it."""
    known_key = TaskKey.parse(key, (batch,) if batch else ())
    told = {} if known_key is None else case.index.amounts.get(known_key, {})
    each_g, nitrogen_g = told.get("per_bale_g"), told.get("nitrogen_per_bale_g")
    known = isinstance(each_g, (int, float)) and isinstance(nitrogen_g, (int, float)) and each_g > 0
    given_g = read_mass_g(case.word.amount)
    if not known or given_g is None or given_g <= 0:
        raise refusal(case.tongue.say("refusal.no-fed-amount"), "fed", case.word.amount)
    share = given_g / float(each_g)  # type: ignore[arg-type]
    if float(nitrogen_g) * share > MOST_NITROGEN_AT_ONCE_G:  # type: ignore[arg-type]
        most = Measures(case.garden.units).mass(
            float(each_g) * MOST_NITROGEN_AT_ONCE_G / float(nitrogen_g)  # type: ignore[arg-type]
        )
        said = case.tongue.say("refusal.too-much-feed", most=most)
        raise refusal(said, "fed", case.word.amount)
    bales = next((each.bales for each in case.garden.batches if each.name == batch), 1)
    return {
        **told,
        "per_bale_g": round(given_g, 1),
        "total_g": round(given_g * bales, 1),
        "nitrogen_per_bale_g": round(float(nitrogen_g) * share, 2),  # type: ignore[arg-type]
    }


def _temperature(case: Case) -> Rows:
    celsius = _degrees(case, READING_C, "bale")
    batch = case.batch()
    case.begun(batch, case.today)
    return (case.entry(EntryKind.TEMPERATURE, batch=batch.name, value=celsius),)


def _low(case: Case) -> Rows:
    """Return the row of the lowest temperature of the night that ended on a date."""
    celsius = _degrees(case, NIGHT_C, "night")
    on, _ = case.day()
    return (case.entry(EntryKind.LOW, value=round(celsius, 2), on=on),)


def _degrees(case: Case, sane_c: tuple[float, float], of: str) -> float:
    """Return a temperature that was typed [degC]; one out of range is refused."""
    typed, units = case.word.amount, case.garden.units
    celsius = read_degrees(typed, units)
    if celsius is None:
        raise case.refused("refusal.no-temperature", typed, of=of)
    if not sane_c[0] <= celsius <= sane_c[1]:
        low, high = map(Measures(units).temperature, sane_c)
        raise case.refused("refusal.out-of-range", typed, of=of, low=low, high=high)
    return celsius


def _note(case: Case) -> Rows:
    text = case.word.text
    if not clean(text):
        raise case.refused("refusal.empty-note")
    batch = case.batch().name if case.word.batch else None
    return (case.entry(EntryKind.NOTE, batch=batch, text=text),)


def _rain(case: Case) -> Rows:
    """Return the row of what stood in the rain gauge."""
    word, units = case.word, case.garden.units
    mm = read_depth_mm(word.amount, units)
    if mm is None:
        raise case.refused("refusal.no-rain", word.amount)
    if mm > MOST_RAIN_MM:
        most = Measures(units).rain(MOST_RAIN_MM)
        raise case.refused("refusal.too-much-rain", word.amount, most=most)
    here = case.now.astimezone(case.garden.place.zone)
    told, _ = case.day()
    on = told if word.on or here.time() >= NOON else told - DAY
    return (case.entry(EntryKind.RAIN, value=round(mm, 2), on=on),)


def _feed(case: Case) -> Rows:
    """Return the row of what each bale of a batch was fed beyond the plan on a date."""
    word, (on, at), batch = case.word, case.day(), case.batch()
    case.begun(batch, on)
    given = _feed_meant(case, batch)
    feed_g = read_mass_g(word.amount)
    if feed_g is None and given.form.is_poured:
        feed_g = _poured_g(word.amount, given)
    if feed_g is None:
        raise case.refused("refusal.no-feed-amount", word.amount)
    nitrogen_g = round(feed_g * given.label.nitrogen_percent / PER_CENT, 2)
    if not 0 < nitrogen_g <= MOST_NITROGEN_AT_ONCE_G:
        most = Measures(case.garden.units).mass(
            MOST_NITROGEN_AT_ONCE_G * PER_CENT / max(given.label.nitrogen_percent, 1.0)
        )
        raise case.refused("refusal.too-much-feed", word.amount, most=most)
    data = {
        "feed": given.name,
        FEED_PER_BALE: round(feed_g, 2),
        "nitrogen_per_bale_g": nitrogen_g,
    }
    key = extra_key(batch.name, on).text()
    return (case.entry(EntryKind.DONE, at=at, batch=batch.name, task=key, data=data, on=on),)


def _feed_meant(case: Case, batch: Batch) -> Feed:
    """Return the feed of a batch that has a name, whatever its capitals; "" means its own."""
    known = {"": batch.feed, **{each.name.casefold(): each for each in batch.feeds()}}
    name = case.word.text
    found = known.get(name.casefold())
    if found is None:
        feeds = quoted((each.name for each in batch.feeds()), case.tongue)
        raise case.refused("refusal.no-such-feed", name, batch=batch.name, feeds=feeds)
    return found


def _poured_g(text: str, feed: Feed) -> float | None:
    """Return a volume of a poured feed in grams, by its density, else as water."""
    found = _VOLUME.fullmatch(text.lower())
    if found is None:
        return None
    litres = float(found[1].replace(",", ".")) * (1.0 if found[2] == "l" else 1e-3)
    return litres * (feed.density_kg_per_l or UNKNOWN_KG_PER_L) * G_PER_KG


def _away(case: Case) -> Rows:
    """Return the rows of a time away, from `on` (else today) to the date in `text`.

    One that ends before it begins is no time away: whoever is away by now is back.
    """
    word, today = case.word, case.today
    first, last = word.on or today, _date(word.text)
    if last is None or last < today - DAY or (last - first).days > LONGEST_AWAY_D:
        typed = f"{word.on or ''} {word.text}".strip()
        first_on = today.isoformat()
        raise case.refused("refusal.no-time-away", typed, today=first_on, days=LONGEST_AWAY_D)
    begun = [first]
    if last < today:
        known = case.index.away
        begun = [begin for begin, end in known.items() if end >= today] or [today]
    return tuple(case.entry(EntryKind.AWAY, text=last.isoformat(), on=on) for on in begun)


def _date(text: str) -> date | None:
    try:
        return date.fromisoformat(text.strip())
    except ValueError:
        return None


def _undo(case: Case) -> Rows:
    """Return the rows that take back the last word, or the last one about what is named."""
    rows = last_words(case.journal)
    wanted = case.word.task.strip()
    if wanted:
        named = [row for row in standing(case.journal) if _is_about(row, wanted)]
        rows = tuple(row for row in named if row.at == named[-1].at) if named else ()
    if not rows:
        raise case.refused("refusal.nothing-to-undo", wanted or None, named=bool(wanted))
    marker = case.entry(EntryKind.UNDONE)
    return tuple(taken_back(row, marker) for row in rows)


def _is_about(row: JournalEntry, wanted: str) -> bool:
    """Return whether a row of the grower's is about what was named: kind, batch, task or crop."""
    if row.kind not in GROWERS_KINDS:
        return False
    return is_called(wanted, row.kind.value, row.batch or "", row.task or "", row.text)


def harvest(case: Case) -> tuple[JournalEntry, ...]:
    """Return the row of a harvest, and with --last the row that the crop is over."""
    on, at = case.day()
    kg, pieces = _amount(case)
    batch, planting = _planting(case, on)
    case.begun(batch, on)
    if (kg or pieces or 0.0) > 0:
        _refuse_unplanted(case, batch, planting, on)
    _refuse_less_than_nothing(case, batch, planting, kg, pieces)
    data: dict[str, object] = {PLANTING: planting_label(batch, planting)}
    if pieces is not None:
        data[PIECES] = pieces
    row = case.entry(
        EntryKind.HARVEST, at=at, batch=batch.name, value=kg, text=planting.crop.name,
        data=data, on=on,
    )  # fmt: skip
    if not case.word.last:
        return (row,)
    key = last_harvest_key(batch, planting).text()
    return row, case.entry(EntryKind.DONE, at=at, batch=batch.name, task=key, on=on)


def cost(case: Case) -> tuple[JournalEntry, ...]:
    """Return the row of what something cost; a refund or a correction is below 0."""
    on, at = case.day()
    typed, text = case.word.amount, clean(case.word.text)
    found = _MONEY.fullmatch(typed)
    money = float(found[1].replace(",", ".")) if found else 0.0
    if found is None or money == 0.0 or abs(money) > MOST_MONEY:
        raise case.refused("refusal.no-money", typed)
    if not text:
        raise case.refused("refusal.cost-of-what")
    batch = case.batch().name if case.word.batch else None
    return (case.entry(EntryKind.COST, at=at, batch=batch, value=money, text=text, on=on),)


def harvest_total(rows: Sequence[JournalEntry], garden: Garden, journal: Journal) -> str:
    """Return what a crop came to with a harvest, masses and pieces apart; and whether it ended."""
    row = rows[0]
    voice = Voice.of(garden, row.local_date)
    batch, planting = next(
        pair
        for pair in _plantings(garden.batches)
        if pair[0].name == row.batch and planting_label(*pair) == row.data[PLANTING]
    )
    kg, pieces = harvested_so_far((*journal, row), batch, planting)
    return voice.say(
        "recorded.harvest",
        batch=clean(batch.name),
        total=voice.tongue.listing(harvest_amounts(kg, pieces, voice)),
        over=len(rows) > 1,
    )


def _amount(case: Case) -> tuple[float | None, float | None]:
    """Return a harvest as kg or as pieces; the other is unknown."""
    text = case.word.amount

    def refused(most_kg: float | None = None, remedy: str = "") -> GrowerError:
        return case.refused("refusal.no-harvest", text, remedy, most=most_kg)

    found = _AMOUNT.fullmatch(text)
    unit = found[2].lower() if found else ""
    if found is None or _THOUSANDS.fullmatch(found[1]):
        raise refused()
    value = float(found[1].replace(",", "."))
    if unit in MASS_G:
        kg = round(value * MASS_G[unit] / 1000, 6)
        if not 0 < abs(kg) <= MOST_KG:
            raise refused(MOST_KG)
        return kg, None
    if unit and unit not in PIECES_SAID:
        raise refused(remedy=nearest(unit, (*MASS_G, "pieces"), case.tongue))
    if value != int(value) or not 0 < abs(value) <= MOST_PIECES:
        raise refused()
    return None, value


def _planting(case: Case, on: date) -> tuple[Batch, Planting]:
    """Return the planting that is meant: in the batch named, else in the only one that has it."""
    word, garden, tongue = case.word, case.garden, case.tongue
    batches = (case.batch(),) if word.batch else garden.batches
    wanted = clean(_crop_of(word.crop, garden)).casefold()
    by_label = [pair for pair in _plantings(batches) if planting_label(*pair).casefold() == wanted]
    by_crop = [pair for pair in _plantings(batches) if pair[1].crop.name.casefold() == wanted]
    # "radish 2" is the second sowing; plain "radish" may be either of them.
    found = by_crop if len(by_crop) > 1 else by_label or by_crop
    if not found:
        raise _no_crop(case, batches)
    if len(found) == 1:
        return found[0]
    if len({batch.name for batch, _ in found}) == 1:
        # A sowing that is in the bales on that day goes before one that is over or still to come.
        inside = [pair for pair in found if _is_standing(case, *pair, on)]
        return inside[0] if len(inside) == 1 else by_label[0]
    plantings = tongue.listing(
        tongue.say("refusal.planting-in", crop=planting_label(batch, each), batch=batch.name)
        for batch, each in found
    )
    raise case.refused("refusal.several-plantings", word.crop, plantings=plantings)


def _crop_of(typed: str, garden: Garden) -> str:
    """Return the crop of the plan that is meant, in the singular too; else as typed."""
    crops = {
        each.crop.name.casefold(): each.crop.name
        for batch in garden.batches
        for each in batch.plantings
    }
    return next((crops[each] for each in singulars(typed.casefold()) if each in crops), typed)


def _no_crop(case: Case, batches: Iterable[Batch]) -> GrowerError:
    typed, tongue = case.word.crop, case.tongue
    here = [planting_label(*pair) for pair in _plantings(batches)]
    elsewhere = [
        batch.name
        for batch, each in _plantings(case.garden.batches)
        if each.crop.name.casefold() == clean(typed).casefold()
    ]
    remedy = nearest(clean(typed).casefold(), [each.casefold() for each in here], tongue)
    if elsewhere:
        remedy = tongue.say("refusal.grows-in", batches=quoted(elsewhere, tongue))
    return case.refused("refusal.no-crop", typed, remedy, crops=quoted(here, tongue))


def _plantings(batches: Iterable[Batch]) -> list[tuple[Batch, Planting]]:
    return [(batch, planting) for batch in batches for planting in batch.plantings]


def _state_after(case: Case, batch: Batch, on: date) -> BatchState:
    return state_at(case.garden, batch, case.index, on + DAY)


def _is_standing(case: Case, batch: Batch, planting: Planting, on: date) -> bool:
    state = _state_after(case, batch, on)
    since, over = planted_on(batch, state, planting), over_on(batch, state, planting)
    return since is not None and since <= on and (over is None or over >= on)


def _refuse_unplanted(case: Case, batch: Batch, planting: Planting, on: date) -> None:
    if planted_on(batch, _state_after(case, batch, on), planting) is None:
        crop, task = planting_label(batch, planting), planting_key(batch, planting).text()
        raise case.refused("refusal.not-planted", on.isoformat(), crop=crop, task=task)


def _refuse_less_than_nothing(
    case: Case, batch: Batch, planting: Planting, kg: float | None, pieces: float | None
) -> None:
    """Refuse a correction that takes away more than was ever noted."""
    had_kg, had_pieces = harvested_so_far(case.journal, batch, planting)
    if min((had_kg or 0.0) + (kg or 0.0), (had_pieces or 0.0) + (pieces or 0.0)) < 0:
        raise case.refused("refusal.less-than-nothing", crop=planting.crop.name)


_ROWS: dict[WordKind, Callable[[Case], Rows]] = {
    WordKind.DONE: _answer,
    WordKind.MISSED: _answer,
    WordKind.TEMPERATURE: _temperature,
    WordKind.NOTE: _note,
    WordKind.HARVEST: harvest,
    WordKind.COST: cost,
    WordKind.FEED: _feed,
    WordKind.RAIN: _rain,
    WordKind.LOW: _low,
    WordKind.UNDO: _undo,
    WordKind.AWAY: _away,
}


def _task(case: Case) -> tuple[str | None, str]:
    """Return batch and key of the task meant: by its key, or by a part that only one has."""
    garden, typed = case.garden, case.word.task
    index = case.index
    today = brief(garden, index, None, case.now)
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
    tongue = case.tongue
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
