"""What is asked through the daemon's door, and how it is answered.

A request names what it asks for; words and rows cross as plain JSON values. Both sides of the
door read and write them with the functions here.
"""

from __future__ import annotations

from base64 import b64decode, b64encode
from collections.abc import Callable, Iterator, Mapping
from datetime import date, datetime

from msgspec import Struct
from msgspec.structs import fields

from strawbell.app.ports import AnswerCache, CachedAnswer, Clock, Store
from strawbell.app.word import take_word
from strawbell.app.word_parts import Word, WordKind
from strawbell.errors import GrowerError, Problem
from strawbell.model.garden import Garden
from strawbell.model.journal import EntryKind, Journal, JournalEntry

Line = dict[str, object]
Request = Mapping[str, object]


class Said(Struct, frozen=True):
    """What came back for a word."""

    said: str
    warnings: tuple[str, ...]
    store: str
    by_daemon: bool


class Doorman:
    """Answers each request with lines, the last of which has "end"."""

    def __init__(
        self,
        gardens: Callable[[], tuple[Garden, ...]],
        store: Store,
        kept: Callable[[str], Journal],
        answers: AnswerCache,
        clock: Clock,
        reload: Callable[[], None],
        where: str,
        report: Callable[[str], None],
    ) -> None:
        """Keep what is asked about; `where` is the store in words.

        `kept` gives the rows of a garden by its key, since a caller may read a newer configuration
        than the daemon, with other names.
        `reload` raises `strawbell.errors.GrowerError` where the configuration was refused.
        """
        self._gardens = gardens
        self._store = store
        self._kept = kept
        self._answers = answers
        self._clock = clock
        self._reload = reload
        self._where = where
        self._report = report

    def answer(self, request: Request, who: str) -> Iterator[Line]:
        """Yield the answer to a request of somebody."""
        wish, store = request.get("ask"), self._store
        if wish == "record":
            yield self._record(request, who)
        elif wish in ("journal", "known"):
            found = self._kept(str(request.get("key"))) if wish == "journal" else store.known()
            for entry in found:
                yield {"row": entry_json(entry)}
            yield {"end": "done"}
        elif wish == "forecast":
            answer = self._answers.load(str(request.get("url")))
            yield {"end": "done", "answer": answer and answer_json(answer)}
        elif wish == "reload":
            self._reload()
            yield {"end": "done", "gardens": [garden.name for garden in self._gardens()]}
        elif wish == "hello":
            yield {"end": "done", "store": self._where}
        else:
            raise _other_version()

    def _record(self, request: Request, who: str) -> Line:
        given = request.get("word")
        word = word_from(given if isinstance(given, dict) else {})
        taken = take_word(word, self._gardens(), self._store, self._clock.now())
        self._report(f"{who}: {taken.said}")
        return {
            "end": "done",
            "said": taken.said,
            "warnings": list(taken.warnings),
            "store": self._where,
        }


def said_from(line: Mapping[str, object]) -> Said:
    """Return what the daemon said to a word."""
    warnings = line.get("warnings")
    listed = warnings if isinstance(warnings, list) else []
    return Said(str(line.get("said")), tuple(map(str, listed)), str(line.get("store")), True)


def word_json(word: Word) -> Line:
    """Return a word as JSON values; what it does not say is left out."""
    said = {each.name: getattr(word, each.name) for each in fields(Word)}
    return {name: _plain(value) for name, value in said.items() if value not in (None, "", False)}


def word_from(given: Mapping[str, object]) -> Word:
    """Return the word of JSON values; raise `GrowerError` where they are none."""
    readers: dict[str, Callable[[str], object]] = {
        "kind": WordKind,
        "on": date.fromisoformat,
        "at": datetime.fromisoformat,
        "last": lambda text: text == "True",
    }
    try:
        return Word(**{name: readers.get(name, str)(str(value)) for name, value in given.items()})  # type: ignore[arg-type]
    except (TypeError, ValueError) as error:
        raise _other_version() from error


def entry_json(entry: JournalEntry) -> list[object]:
    """Return a row of the journal as JSON values, in the order of its fields."""
    values = [getattr(entry, each.name) for each in fields(JournalEntry)]
    return [dict(each) if isinstance(each, Mapping) else _plain(each) for each in values]


def entry_from(values: list[object]) -> JournalEntry:
    """Return the row of JSON values."""
    at, garden, on, kind, batch, task, state, value, text, data = values
    return JournalEntry(
        datetime.fromisoformat(str(at)),
        str(garden),
        date.fromisoformat(str(on)),
        EntryKind(str(kind)),
        _text(batch),
        _text(task),
        _text(state),
        float(value) if isinstance(value, int | float) else None,
        str(text),
        data if isinstance(data, dict) else {},
    )


def answer_json(answer: CachedAnswer) -> Line:
    """Return a kept answer of a forecast service as JSON values."""
    values = {each.name: _plain(getattr(answer, each.name)) for each in fields(CachedAnswer)}
    return {**values, "body": b64encode(answer.body).decode("ascii")}


def answer_from(values: Mapping[str, object]) -> CachedAnswer:
    """Return the kept answer of JSON values."""
    expires_at = values["expires_at"]
    return CachedAnswer(
        str(values["url"]),
        _text(values["etag"]),
        _text(values["last_modified"]),
        None if expires_at is None else datetime.fromisoformat(str(expires_at)),
        datetime.fromisoformat(str(values["fetched_at"])),
        b64decode(str(values["body"])),
    )


def _plain(value: object) -> object:
    return value.isoformat() if isinstance(value, date) else value


def _text(value: object) -> str | None:
    return None if value is None else str(value)


def _other_version() -> GrowerError:
    return GrowerError(
        Problem(
            what="the daemon that runs does not know this request; it is of another version",
            remedy="Start the daemon anew, so that both are the same.",
        )
    )
