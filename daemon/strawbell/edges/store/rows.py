"""Rows of journal, outbox and kept answers to values and back."""

# ruff: noqa: S608 - only lists of our own columns and "?" are ever put into a statement

from __future__ import annotations

import json
import zlib
from collections.abc import Iterator, Mapping
from datetime import UTC, date, datetime

from strawbell.app.ports import CachedAnswer
from strawbell.model.journal import EntryKind, JournalEntry, planners_part
from strawbell.model.notice import NoticeKind, OutboxRow, OutboxState

COMPRESS_FROM_BYTES = 512
"""Data of a journal row from this size on is kept compressed; a brief shrinks to a fifth."""

JOURNAL_COLUMNS = "at, garden, local_date, kind, batch, task, state, value, text, data"
WRITTEN_COLUMNS = f"{JOURNAL_COLUMNS}, planned"
PLANNERS_COLUMNS = JOURNAL_COLUMNS.replace("data", "ifnull(planned, data)")
"""What the planner reads: of a brief only what later mornings rest on, not the whole of it."""
OUTBOX_COLUMNS = (
    "unique_key, channel, recipient, message_id, subject, garden, local_date, kind, state, "
    "attempts, created_at, next_attempt_at, expires_at, detail, surfaced"
)
ANSWER_COLUMNS = "url, etag, last_modified, expires_at, fetched_at, body"
_ANSWER_BYTES = ", ".join(f"CAST({column} AS BLOB)" for column in ANSWER_COLUMNS.split(", "))
SELECT_ANSWER = f"SELECT {_ANSWER_BYTES} FROM answers WHERE url = ?"
"""As bytes: SQLite refuses a text that is no text, and with it every look at the forecast."""
REPLACE_ANSWER = f"INSERT OR REPLACE INTO answers ({ANSWER_COLUMNS}) VALUES (?, ?, ?, ?, ?, ?)"


def moment(value: datetime) -> str:
    """Return a moment as text that sorts like time; a naive datetime is refused."""
    if value.tzinfo is None:
        raise ValueError(f"value must carry a time zone, not {value.isoformat()}")
    return value.astimezone(UTC).isoformat(timespec="microseconds")


def plain(text: str) -> str:
    """Return text that can be stored: a lone surrogate is not UTF-8 and becomes "?"."""
    return text.encode("utf-8", "replace").decode("utf-8")


def maybe(text: str | None) -> str | None:
    """Return `plain` text, or None for unknown."""
    return None if text is None else plain(text)


class StoredData(Mapping[str, object]):
    """The data of a journal row, unpacked when somebody looks; most readers never do."""

    __slots__ = ("_packed", "_unpacked")

    def __init__(self, packed: bytes) -> None:
        self._packed = packed
        self._unpacked: dict[str, object] | None = None

    def _all(self) -> dict[str, object]:
        if self._unpacked is None:
            self._unpacked = json.loads(zlib.decompress(self._packed))
        return self._unpacked

    def __getitem__(self, key: str) -> object:
        return self._all()[key]

    def __iter__(self) -> Iterator[str]:
        return iter(self._all())

    def __len__(self) -> int:
        return len(self._all())

    def __repr__(self) -> str:
        return repr(self._all())


def pack_data(data: Mapping[str, object]) -> str | bytes | None:
    """Return the data of a journal row for its column."""
    if not data:
        return None
    text = json.dumps(dict(data), ensure_ascii=True, separators=(",", ":"))
    if len(text) < COMPRESS_FROM_BYTES:
        return text
    return zlib.compress(text.encode("ascii"))


def planned(data: Mapping[str, object]) -> str:
    """Return what later mornings rest on of a brief that was told."""
    return json.dumps(planners_part(data), ensure_ascii=True, separators=(",", ":"))


def planned_of(stored: str | bytes | None) -> str:
    """Return the same of a brief as it lies in the store."""
    return planned(unpack_data(stored))


def unpack_data(stored: str | bytes | None) -> Mapping[str, object]:
    """Return the data of a journal row as it was written."""
    if stored is None:
        return {}
    if isinstance(stored, bytes):
        return StoredData(stored)
    unpacked: dict[str, object] = json.loads(stored)
    return unpacked


def journal_values(entry: JournalEntry) -> tuple[object, ...]:
    """Return a journal row in the order of `WRITTEN_COLUMNS`."""
    return (
        moment(entry.at),
        plain(entry.garden),
        entry.local_date.isoformat(),
        entry.kind.value,
        maybe(entry.batch),
        maybe(entry.task),
        maybe(entry.state),
        entry.value,
        plain(entry.text),
        pack_data(entry.data),
        planned(entry.data) if entry.kind is EntryKind.BRIEF else None,
    )


def journal_entry(row: tuple[object, ...]) -> JournalEntry:
    """Return the value of a row selected by `JOURNAL_COLUMNS`."""
    at, garden, local_date, kind, batch, task, state, value, text, data = row
    return JournalEntry(
        at=datetime.fromisoformat(str(at)),
        garden=str(garden),
        local_date=date.fromisoformat(str(local_date)),
        kind=EntryKind(str(kind)),
        batch=None if batch is None else str(batch),
        task=None if task is None else str(task),
        state=None if state is None else str(state),
        value=value if isinstance(value, float) else None,
        text=str(text),
        data=unpack_data(data if isinstance(data, str | bytes) else None),
    )


def outbox_values(row: OutboxRow) -> tuple[object, ...]:
    """Return an outbox row in the order of `OUTBOX_COLUMNS`."""
    return (
        row.unique_key,
        plain(row.channel),
        plain(row.recipient),
        row.message_id,
        plain(row.subject),
        plain(row.garden),
        row.local_date.isoformat(),
        row.kind.value,
        row.state.value,
        row.attempts,
        moment(row.created_at),
        moment(row.next_attempt_at),
        moment(row.expires_at),
        plain(row.detail),
        int(row.surfaced),
    )


def outbox_row(row: tuple[object, ...]) -> OutboxRow:
    """Return the value of a row selected by `OUTBOX_COLUMNS` and then its body."""
    packed = row[15]
    return OutboxRow(
        unique_key=str(row[0]),
        channel=str(row[1]),
        recipient=str(row[2]),
        message_id=str(row[3]),
        body=zlib.decompress(packed) if isinstance(packed, bytes) else b"",
        subject=str(row[4]),
        garden=str(row[5]),
        local_date=date.fromisoformat(str(row[6])),
        kind=NoticeKind(str(row[7])),
        state=OutboxState(str(row[8])),
        attempts=int(str(row[9])),
        created_at=datetime.fromisoformat(str(row[10])),
        next_attempt_at=datetime.fromisoformat(str(row[11])),
        expires_at=datetime.fromisoformat(str(row[12])),
        detail=str(row[13]),
        surfaced=bool(row[14]),
    )


def answer_values(answer: CachedAnswer) -> tuple[object, ...]:
    """Return an answer in the order of its columns."""
    return (
        plain(answer.url),
        maybe(answer.etag),
        maybe(answer.last_modified),
        None if answer.expires_at is None else moment(answer.expires_at),
        moment(answer.fetched_at),
        zlib.compress(answer.body),
    )


def cached_answer(row: tuple[object, ...]) -> CachedAnswer | None:
    """Return the answer of a row; one that cannot be read counts as none."""
    *texts, body = row
    url, etag, last_modified, expires_at, fetched_at = map(_stored_text, texts)
    try:
        return CachedAnswer(
            url=str(url),
            etag=etag,
            last_modified=last_modified,
            expires_at=None if expires_at is None else datetime.fromisoformat(expires_at),
            fetched_at=datetime.fromisoformat(str(fetched_at)),
            body=zlib.decompress(body) if isinstance(body, bytes) else b"",
        )
    except (ValueError, zlib.error):
        return None


def _stored_text(stored: object) -> str | None:
    return stored.decode("utf-8", "replace") if isinstance(stored, bytes) else None
