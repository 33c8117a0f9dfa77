"""Which garden and batch of the configuration is which of those that the store knows.

A name is only a name: who changes it in mid-season goes on with the same bales. What the running
season knows and the configuration lost is asked about, since bales that are begun anew are fed
twice, and too much feed salts the roots.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from datetime import UTC, date, datetime, timedelta
from itertools import chain, count
from typing import TypeVar

from msgspec import Struct
from msgspec.structs import asdict, replace

from strawbell.app.ports import Journals
from strawbell.errors import Problem
from strawbell.model.brief import Action
from strawbell.model.garden import Batch, Garden, slug
from strawbell.model.identity import KeptNames, KnownBatch, KnownGarden
from strawbell.model.journal import EntryKind, Journal, JournalEntry
from strawbell.season.stage import once_key
from strawbell.words.catalogue import BRITISH

SEASON = timedelta(days=270)
"""How long after its start a batch without a spread is taken to be in use (common practice: one
season; no crop of the table stands longer)."""
SAME_PLACE_DEG = 0.001
"""Gardens nearer than this are at one place [degrees]: about 100 m."""


class Lost(Struct, frozen=True):
    """What the running season knows and the configuration lost; `batch` None for all a garden.

    `garden` and `batch` are keys; `asked_in` is the garden in whose brief it is asked about, None
    for that of every garden; `may_be` are new ones that it may have become.
    """

    garden: KnownGarden
    batch: KnownBatch | None
    asked_in: str | None
    may_be: tuple[str, ...] = ()

    @property
    def name(self) -> str:
        """Return what it was called last."""
        return self.garden.name if self.batch is None else self.batch.name

    def question(self) -> Problem:
        """Return the question to the grower."""
        known = self.garden if self.batch is None else self.batch
        section = "[[gardens]]" if self.batch is None else "[[gardens.batches]]"
        starts = [each.start_on for each in self.garden.batches if not each.is_over]
        since = min(starts) if self.batch is None else self.batch.start_on
        what = BRITISH.say(
            "lost.what",
            name=self.name,
            garden=None if self.batch is None else self.garden.name,
            since=str(since),
        )
        remedy = BRITISH.say(
            "lost.remedy",
            name=self.name,
            may_be=BRITISH.listing((f'"{name}"' for name in self.may_be), "or"),
            id=known.id or known.key,
        )
        return Problem(what, section, remedy=remedy)


class Settled(Struct, frozen=True):
    """What is which: the names, all that is known from now on, and what there is to say.

    `followed` are sentences on names that changed, by the key of their garden.
    """

    names: KeptNames
    known: tuple[KnownGarden, ...]
    changed: tuple[KnownGarden, ...]
    followed: tuple[tuple[str, str], ...]
    lost: tuple[Lost, ...]

    def questions(self, garden: str) -> tuple[str, ...]:
        """Return what is asked in the brief of a garden."""
        return tuple(
            each.question().sentence() for each in self.lost if each.asked_in in (None, garden)
        )

    def entries(self, now: datetime) -> tuple[JournalEntry, ...]:
        """Return the rows by which the store remembers what changed."""
        said = dict(self.followed)
        return tuple(known_entry(each, now, said.get(each.key, "")) for each in self.changed)

    def without(self, lost: Lost) -> KnownGarden:
        """Return a garden as it is known once the grower said that something of it is gone."""
        if lost.batch is None:
            return replace(lost.garden, is_over=True)
        garden = next(each for each in self.known if each.key == lost.garden.key)
        batches = tuple(
            replace(each, is_over=True) if each.key == lost.batch.key else each
            for each in garden.batches
        )
        return replace(garden, batches=batches)


def known_entry(garden: KnownGarden, now: datetime, text: str = "") -> JournalEntry:
    """Return the row by which the store remembers a garden."""
    batches = [asdict(each) | {"start_on": each.start_on.isoformat()} for each in garden.batches]
    data = asdict(garden) | {"batches": batches}
    on = now.astimezone(UTC).date()
    return JournalEntry(now, garden.key, on, EntryKind.KNOWN, text=text, data=data)


def known_in(entries: Iterable[JournalEntry]) -> tuple[KnownGarden, ...]:
    """Return the gardens that rows of the store remember, each by its last row."""
    last = {entry.garden: entry.data for entry in entries}
    return tuple(_known(data) for data in last.values())


def names_had(entries: Iterable[JournalEntry]) -> dict[str, tuple[str, ...]]:
    """Return every name that a garden had, by the last of them."""
    names: dict[str, list[str]] = {}
    for entry in entries:
        names.setdefault(entry.garden, [entry.garden]).append(str(entry.data.get("name", "")))
    return {each[-1]: tuple(dict.fromkeys(each)) for each in names.values()}


def _known(data: object) -> KnownGarden:
    fields = dict(data)  # type: ignore[call-overload]
    batches = [
        KnownBatch(**{**each, "start_on": date.fromisoformat(each["start_on"])})
        for each in fields["batches"]
    ]
    return KnownGarden(**{**fields, "batches": tuple(batches)})


def settled_in(store: Journals, gardens: Sequence[Garden], now: datetime) -> Settled:
    """Return which garden and batch of a configuration is which of those that a store knows."""
    return settle(gardens, known_in(store.known()), now.astimezone(UTC).date(), store.journal)


def settle(
    gardens: Sequence[Garden],
    known: Sequence[KnownGarden],
    today: date,
    journal: Callable[[str], Journal],
) -> Settled:
    """Return which garden and batch is which; `journal` gives the rows of a garden.

    Identities count first, then names; a rename is followed where it can only be one thing: the
    same place (or garden) and the same start.
    """
    pairs = _paired(gardens, known, _at_one_place)
    taken = {slug(each.key) for each in known}
    names: dict[str, str] = {}
    batch_names: dict[str, dict[str, str]] = {}
    after: dict[str, KnownGarden] = {each.key: each for each in known}
    said: dict[str, list[str]] = {}
    lost: list[Lost] = []
    for garden in gardens:
        before = pairs.get(garden.name)
        key = _free_key(garden.name, taken) if before is None else before.key
        fresh = KnownGarden(
            key, garden.name, garden.id, garden.place.latitude, garden.place.longitude
        )
        before = before or fresh
        batch_pairs = _paired(garden.batches, before.batches, _starts_together)
        now_known = _batches_known(garden.batches, before.batches, batch_pairs)
        names[garden.name] = key
        batch_names[garden.name] = {each.name: own.key for each, own in now_known}
        left = [each for each in before.batches if each not in batch_pairs.values()]
        after[key] = replace(
            fresh,
            id=garden.id or before.id,
            batches=(*(own for _, own in now_known), *left),
        )
        if before.name != garden.name:
            said.setdefault(key, []).append(_followed(before.name, garden.name))
        for batch in garden.batches:
            old = batch_pairs.get(batch.name)
            if old is not None and old.name != batch.name:
                said.setdefault(key, []).append(_followed(old.name, batch.name))
        new = tuple(each.name for each in garden.batches if each.name not in batch_pairs)
        rows = journal(garden.name) if any(_may_run(each, today) for each in left) else ()
        lost += (
            Lost(after[key], each, garden.name, new) for each in left if _runs(each, today, rows)
        )
    new_gardens = tuple(each.name for each in gardens if each.name not in pairs)
    for each in known:
        if each not in pairs.values() and not each.is_over:
            rows = journal(each.key)
            if any(_runs(batch, today, rows) for batch in each.batches):
                lost.append(Lost(each, None, None, new_gardens))
    before_by_key = {each.key: each for each in known}
    return Settled(
        names=KeptNames(
            {name: key for name, key in names.items() if name != key},
            {
                garden: keys
                for garden, keys in batch_names.items()
                if any(name != key for name, key in keys.items())
            },
        ),
        known=tuple(after.values()),
        changed=tuple(each for key, each in after.items() if each != before_by_key.get(key)),
        followed=tuple((key, " ".join(sentences)) for key, sentences in said.items()),
        lost=tuple(lost),
    )


Configured = TypeVar("Configured", Garden, Batch)
Known = TypeVar("Known", KnownGarden, KnownBatch)


def _paired(
    configured: Sequence[Configured],
    known: Sequence[Known],
    alike: Callable[[Configured, Known], bool],
) -> dict[str, Known]:
    """Return what each thing of the configuration is to the store, by its name of today."""
    found: dict[str, Known] = {}
    left = [each for each in known if not each.is_over]
    for fits in (_has_its_id, _has_its_name):
        for each in configured:
            match = next((other for other in left if fits(each, other)), None)
            if each.name not in found and match is not None:
                found[each.name] = match
                left.remove(match)
    new = [each for each in configured if each.name not in found]
    for each in new:
        fitting = [other for other in left if alike(each, other) and not _differ(each, other)]
        if len(fitting) == 1 and sum(alike(other, fitting[0]) for other in new) == 1:
            found[each.name] = fitting[0]
    return found


def _has_its_id(each: Garden | Batch, known: KnownGarden | KnownBatch) -> bool:
    if each.id is None:
        return False
    if known.id is not None:
        return each.id == known.id
    return each.id in (known.key, known.name)


def _has_its_name(each: Garden | Batch, known: KnownGarden | KnownBatch) -> bool:
    return each.name == known.name and not _differ(each, known)


def _differ(each: Garden | Batch, known: KnownGarden | KnownBatch) -> bool:
    """Return whether identities were given that are not the same."""
    return each.id is not None and known.id is not None and each.id != known.id


def _at_one_place(garden: Garden, known: KnownGarden) -> bool:
    starts = {batch.start_on for batch in garden.batches}
    together = not known.batches or any(batch.start_on in starts for batch in known.batches)
    return (
        together
        and abs(garden.place.latitude - known.latitude) <= SAME_PLACE_DEG
        and abs(garden.place.longitude - known.longitude) <= SAME_PLACE_DEG
    )


def _starts_together(batch: Batch, known: KnownBatch) -> bool:
    return batch.start_on == known.start_on


def _batches_known(
    batches: Sequence[Batch], before: Sequence[KnownBatch], pairs: dict[str, KnownBatch]
) -> list[tuple[Batch, KnownBatch]]:
    taken = {slug(each.key) for each in before}
    known = []
    for batch in batches:
        old = pairs.get(batch.name)
        key = _free_key(batch.name, taken) if old is None else old.key
        identity = batch.id or (None if old is None else old.id)
        known.append((batch, KnownBatch(key, batch.name, identity, batch.start_on)))
    return known


def _free_key(name: str, taken: set[str]) -> str:
    """Return a key for something new: its name, numbered where that is kept for another."""
    key = next(
        key
        for key in chain((name,), (f"{name} {number}" for number in count(2)))
        if slug(key) not in taken
    )
    taken.add(slug(key))
    return key


def _may_run(batch: KnownBatch, today: date) -> bool:
    return not batch.is_over and batch.start_on <= today < batch.start_on + SEASON


def _runs(batch: KnownBatch, today: date, rows: Journal) -> bool:
    """Return whether the season of a batch has begun and is not known to have ended."""
    spread = once_key(batch.key, Action.SPREAD).text()
    return _may_run(batch, today) and not any(
        entry.task == spread and entry.local_date >= batch.start_on for entry in rows
    )


def _followed(before: str, now: str) -> str:
    return BRITISH.say("lost.followed", before=before, now=now)
