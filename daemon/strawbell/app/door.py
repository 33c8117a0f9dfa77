"""The daemon's door: how words, rows and answers cross it, and how what is asked is answered.

They cross it as plain JSON values, read strictly.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from datetime import date
from typing import TypeVar

import msgspec
from msgspec import Struct

from strawbell.app.ports import Clock, DoorStore
from strawbell.app.word import Word
from strawbell.errors import GrowerError, Problem
from strawbell.model.garden import Garden
from strawbell.model.journal import Journal
from strawbell.words.catalogue import BRITISH

Line = dict[str, object]
S = TypeVar("S", bound=Struct)


class Said(Struct, frozen=True):
    """What came back for a word."""

    said: str
    warnings: tuple[str, ...]
    store: str
    by_daemon: bool = True


class Checkpoint(Struct, frozen=True):
    """The checkpoint of a garden's journal, up to its row `last`."""

    last: int
    content: bytes


def line_of(value: Struct) -> Line:
    """Return a value as JSON values; dates in ISO 8601, bytes in base 64."""
    line: Line = msgspec.to_builtins(
        value, enc_hook=dict
    )  # rows hold mappings that wait to be read
    return line


def value_in(line: object, kind: type[S]) -> S:
    """Return the value of JSON values; raise `GrowerError` where they are none of its kind."""
    try:
        return msgspec.convert(line, kind)
    except msgspec.ValidationError as error:
        raise other_version() from error


def other_version() -> GrowerError:
    """Return what is said where the two sides of the door do not understand each other."""
    return GrowerError(
        Problem(what=BRITISH.say("daemon.other-version"), remedy=BRITISH.say("daemon.start-anew"))
    )


class Doorman:
    """Answers each request with lines, the last of which has "end"."""

    def __init__(
        self,
        gardens: Callable[[], tuple[Garden, ...]],
        store: DoorStore,
        clock: Clock,
        reload: Callable[[], None],
        where: str,
        report: Callable[[str], None],
    ) -> None:
        """Keep what is asked about; `where` is the store in words.

        Rows are read by the keys of gardens: a caller may have read a newer configuration.
        `reload` raises `strawbell.errors.GrowerError` where the configuration was refused.
        """
        self._gardens = gardens
        self._store = store
        self._clock = clock
        self._reload = reload
        self._where = where
        self._report = report

    def answer(self, request: Mapping[str, object], who: str) -> Iterator[Line]:
        """Yield the answer to a request of somebody."""
        wish = request.get("ask")
        if wish == "record":
            yield self._record(request, who)
        elif wish in ("journal", "known", "planned"):
            found, last = self._rows(request)
            for entry in found:
                yield {"row": line_of(entry)}
            yield {"end": "done", "last": last}
        elif wish == "laid-by":
            laid = self._store.kept_checkpoint(str(request.get("key")), str(request.get("called")))
            yield {"end": "done", "laid": laid and line_of(Checkpoint(*laid))}
        elif wish == "forecast":
            answer = self._store.load(str(request.get("url")))
            yield {"end": "done", "answer": answer and line_of(answer)}
        elif wish == "reload":
            self._reload()
            yield {"end": "done", "gardens": [garden.name for garden in self._gardens()]}
        elif wish == "hello":
            yield {"end": "done", "store": self._where}
        else:
            raise other_version()

    def _rows(self, request: Mapping[str, object]) -> tuple[Journal, int]:
        """Return the rows that are asked for, and the number of the last where it counts."""
        key, on, after = str(request.get("key")), request.get("on"), request.get("after")
        if request["ask"] == "known":
            return self._store.known(), 0
        if request["ask"] == "planned":
            return self._store.kept_planners_rows(key, after if isinstance(after, int) else 0)
        return self._store.kept_journal(key, None if on is None else date.fromisoformat(str(on))), 0

    def _record(self, request: Mapping[str, object], who: str) -> Line:
        # Here, not above: who asks through the door need not load how a word is taken.
        from strawbell.app.taking import take_word

        word = value_in(request.get("word"), Word)
        taken = take_word(word, self._gardens(), self._store, self._clock.now())
        self._report(f"{who}: {taken.said}")
        return {
            "end": "done",
            "said": taken.said,
            "warnings": list(taken.warnings),
            "store": self._where,
        }
