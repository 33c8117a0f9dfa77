"""A word of the grower as it was typed, and what little it says is taken to mean.

Which garden, batch, day and moment; which name of the plan; and how the rest is refused. Quick to
import: a command that asks the daemon needs no more.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import UTC, date, datetime, time, timedelta
from enum import StrEnum
from typing import TYPE_CHECKING

from msgspec import Struct
from msgspec.structs import replace

from strawbell.errors import GrowerError, Problem
from strawbell.model.garden import Batch, Garden, slug
from strawbell.model.journal import EntryKind, Journal, JournalEntry
from strawbell.season.local_time import moment_of
from strawbell.words.catalogue import BRITISH, Place, Tongue
from strawbell.words.escaping import clean
from strawbell.words.units import Measures

if TYPE_CHECKING:
    from strawbell.season.journal_index import JournalIndex

NOON = time(12)
"""When work of an earlier day is taken to have been done, where only the date is given."""

FARTHEST_BACK = timedelta(days=400)
"""What is older than a season and the winter before it is a slip of the pen in the year."""

SLACK = timedelta(minutes=5)
"""How far a row may lie ahead: a wall clock read a little fast."""

SYNONYMS = {
    "feeding": "feed",
    "fed": "feed",
    "watering": "water",
    "watered": "water",
    "soaking": "soak",
    "soaked": "soak",
    "planting": "plant",
    "planted": "plant",
    "sowing": "sow",
    "sowed": "sow",
    "cover": "protect",
    "covered": "protect",
    "covering": "protect",
    "thinning": "thin",
    "thinned": "thin",
    "picking": "harvest",
    "picked": "harvest",
    "pick": "harvest",
    "reading": "temperature",
    "gauge": "rain",
    "night": "low",
    "spent": "cost",
    "remark": "note",
    "holiday": "away",
    "back": "away",
}
"""How a grower calls work and words that the plan and the journal call otherwise."""
PHRASES = {"not-today": "missed", "not-done": "missed", "can-t": "missed", "cannot": "missed"}
"""The same of more than one word, and of answers that come to the same."""
ENDINGS = (("", ""), ("s", ""), ("es", ""), ("ies", "y"), ("ves", "f"))
"""How a plural ends, and its singular instead."""


class WordKind(StrEnum):
    """What a word is about."""

    DONE = "done"
    MISSED = "missed"
    TEMPERATURE = "temperature"
    NOTE = "note"
    HARVEST = "harvest"
    COST = "cost"
    FEED = "feed"
    GONE = "gone"
    RAIN = "rain"
    LOW = "low"
    UNDO = "undo"
    AWAY = "away"
    SAID = "said"
    """Free words, as one would answer a notice with them."""


class Word(Struct, frozen=True):
    """What the grower said, by whatever way it came; texts are as they were typed.

    `task` (done, missed, undo) is a key or a part of one. `amount` is a reading, a harvest, a cost,
    a feeding, rain or a low, degrees and depths without a unit in that of the garden; of work that
    is done what each bale got of the feed. `text` is a note, what a cost was for, what is gone, the
    last day away, or all that was said; `last` ends a crop with its harvest. `on` is a local date
    of the garden, `at` a moment, without an offset garden-local; neither means now. `garden` and
    `batch` may be left out where only one can be meant.
    """

    kind: WordKind
    task: str = ""
    amount: str = ""
    crop: str = ""
    text: str = ""
    last: bool = False
    on: date | None = None
    at: datetime | None = None
    garden: str | None = None
    batch: str | None = None


class Case(Struct, frozen=True):
    """A word as it is heard for one garden, with its journal, at the moment it is about."""

    word: Word
    garden: Garden
    journal: Journal
    index: JournalIndex
    now: datetime

    @property
    def tongue(self) -> Tongue:
        """Return the locale that the garden is spoken to in."""
        return tongue_of(self.garden)

    @property
    def today(self) -> date:
        """Return the local date of the moment."""
        return self.garden.place.date_at(self.now)

    @property
    def on(self) -> date:
        """Return the local date it is about, that of the moment where none is named."""
        return self.word.on or self.today

    def day(self) -> tuple[date, datetime]:
        """Return the local date a row belongs to and its moment; none is recorded ahead of time."""
        on, today = self.on, self.today
        if self.word.on and self.word.at:
            raise refusal(self.tongue.say("refusal.two-moments"), "--on")
        if not today - FARTHEST_BACK <= on <= today:
            raise self._not_lately(on.isoformat(), today - FARTHEST_BACK, today, is_past=on < today)
        zone = self.garden.place.zone
        return on, self.now if on == today else moment_of(on, NOON, zone)

    def at_its_moment(self) -> Case:
        """Return the case at the moment that the word names; `now` until then."""
        moment = moment_meant(self.word.at, self.garden, self.now)
        first, last = self.now - FARTHEST_BACK, self.now
        if not first <= moment <= last + SLACK:
            typed = (self.word.at or moment).isoformat()
            raise self._not_lately(typed, first.date(), last.date(), is_past=moment < last)
        return replace(self, now=moment)

    def _not_lately(self, typed: str, first: date, last: date, *, is_past: bool) -> GrowerError:
        """Return the refusal of a day or a moment that nothing can be recorded for.

        A row ahead of time would overrule all that is said until then, and one of years ago is a
        slip of the pen.
        """
        span = {"first": first.isoformat(), "last": last.isoformat()}
        said = self.tongue.say("refusal.not-lately", past=is_past, **span)
        return refusal(said, "record", typed)

    def batch(self) -> Batch:
        """Return the batch that is named, or the only one."""
        return batch_named(self.word.batch, self.garden)

    def begun(self, batch: Batch, on: date) -> None:
        """Refuse a word about bales that were not set up yet."""
        if on < batch.start_on:
            began, remedy = batch.start_on.isoformat(), self.tongue.say("refusal.start-again")
            raise self.refused(
                "refusal.before-start", on.isoformat(), remedy, batch=batch.name, began=began
            )

    def refused(
        self, message: str, typed: str | None = None, remedy: str = "", **values: Place
    ) -> GrowerError:
        """Return the refusal of a word of this kind, by a message of the catalogue."""
        said = self.tongue.say(message, **values)
        return refusal(said, f"record {self.word.kind}", typed, remedy)

    def entry(
        self,
        kind: EntryKind,
        *,
        at: datetime | None = None,
        batch: str | None = None,
        task: str | None = None,
        value: float | None = None,
        text: str = "",
        data: Mapping[str, object] | None = None,
        on: date | None = None,
    ) -> JournalEntry:
        """Return a row of the journal, of this moment and its date unless others are given."""
        at = at or self.now
        on = on or self.garden.place.date_at(at)
        name = self.garden.name
        return JournalEntry(at, name, on, kind, batch, task, None, value, text, data or {})


def tongue_of(garden: Garden) -> Tongue:
    """Return the locale that a garden is spoken to in."""
    return Measures(garden.units).tongue


def refusal(said: str, where: str, typed: str | None = None, remedy: str = "") -> GrowerError:
    """Return a refusal: a whole sentence, where and what was typed, and what may help."""
    shown = where if typed is None else f'{where} "{clean(typed)}"'
    return GrowerError(Problem(said, shown, remedy=remedy))


def quoted(names: Iterable[str], tongue: Tongue, style: str = "standard") -> str:
    """Return names as they are said in a sentence, each in quotation marks."""
    return tongue.listing((f'"{clean(each)}"' for each in names), style)


def nearest(typed: str, known: Iterable[str], tongue: Tongue) -> str:
    """Return the question whether the known name nearest to what was typed is meant, or ""."""
    from difflib import get_close_matches  # most names are known

    near = get_close_matches(typed, tuple(known), n=1)
    return tongue.say("refusal.near", near=near[0]) if near else ""


def gardens_meant(gardens: Sequence[Garden], name: str | None) -> tuple[Garden, ...]:
    """Return the garden of a name, or all; an unknown name is met with the nearest one."""
    if name is None:
        return tuple(gardens)
    found = tuple(garden for garden in gardens if garden.name.lower() == name.lower())
    if found:
        return found
    names = [garden.name for garden in gardens]
    tongue = tongue_of(gardens[0]) if gardens else BRITISH
    said = tongue.say("refusal.no-garden", names=quoted(names, tongue))
    raise refusal(said, "--garden", name, nearest(name, names, tongue))


def one_garden(gardens: Sequence[Garden], name: str | None) -> Garden:
    """Return the one garden a word is about; with several, its name has to be given."""
    found = gardens_meant(gardens, name)
    if len(found) == 1:
        return found[0]
    raise no_one_garden(found)


def no_one_garden(gardens: Sequence[Garden]) -> GrowerError:
    """Return the refusal of a word that may be about any of several gardens."""
    tongue = tongue_of(gardens[0]) if gardens else BRITISH
    names = quoted((garden.name for garden in gardens), tongue)
    return refusal(tongue.say("refusal.several-gardens", names=names), "--garden")


def moment_meant(at: datetime | None, garden: Garden, now: datetime) -> datetime:
    """Return the moment asked about, in UTC: `at`, without an offset garden-local; else `now`."""
    if at is None:
        return now
    if at.tzinfo is None:
        at = at.replace(tzinfo=garden.place.zone)
    return at.astimezone(UTC)


def batch_named(name: str | None, garden: Garden) -> Batch:
    """Return the batch of a name, or the only one; an unknown name is met with the nearest."""
    names = [batch.name for batch in garden.batches]
    if name is None and len(garden.batches) == 1:
        return garden.batches[0]
    found = [batch for batch in garden.batches if name and batch.name.lower() == name.lower()]
    if found:
        return found[0]
    tongue = tongue_of(garden)
    said = tongue.say("refusal.which-batch", typed=name, names=quoted(names, tongue))
    raise refusal(said, "--batch", name, nearest(name or "", names, tongue))


def is_called(about: str, *names: str) -> bool:
    """Return whether every word of `about` is one of the names, however it is inflected."""
    if not about:
        return True
    known = {part for each in names for part in slug(each).split("-") if each}
    wanted = PHRASES.get(slug(about), slug(about))
    return all(
        SYNONYMS.get(word, word) in known or any(each in known for each in singulars(word))
        for word in wanted.split("-")
    )


def singulars(word: str) -> Iterator[str]:
    """Yield what a word may be the plural of, itself first."""
    for ending, instead in ENDINGS:
        if word.endswith(ending):
            yield word.removesuffix(ending) + instead
