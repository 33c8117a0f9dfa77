"""The journal and the outbox on disk."""

# ruff: noqa: S608 - only lists of our own columns and "?" are ever put into a statement

from __future__ import annotations

import os
import threading
import time
import zlib
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from datetime import date, datetime, timedelta
from pathlib import Path

from msgspec.structs import replace

from strawbell.app.ports import CachedAnswer, ClaimedElsewhere
from strawbell.edges.store.connection import TOUCH, files_in_sentences, in_sentences
from strawbell.edges.store.opening import open_database
from strawbell.edges.store.rows import (
    JOURNAL_COLUMNS,
    OUTBOX_COLUMNS,
    PLANNERS_COLUMNS,
    REPLACE_ANSWER,
    SELECT_ANSWER,
    WRITTEN_COLUMNS,
    answer_values,
    cached_answer,
    journal_entry,
    journal_values,
    moment,
    outbox_row,
    outbox_values,
    plain,
)
from strawbell.edges.store.safeguards import (
    IncidentFile,
    copy_of_the_day,
    holds_all,
    marker_of,
    write_marker,
)
from strawbell.errors import Defect
from strawbell.model.identity import KeptNames
from strawbell.model.journal import Journal, JournalEntry
from strawbell.model.notice import OutboxRow, OutboxState
from strawbell.words.catalogue import BRITISH

KEEP_BODIES_D = 30
"""How long the text of a finished message is kept [day]; the row itself stays for good."""

IMPLAUSIBLE_WAIT_D = 1
"""A next attempt farther ahead than this was written under a wrong clock and is due now [day];
no retry waits that long."""

MARK_EVERY_S = 0.5
"""The marker is written no oftener than this [s]: thousands of gardens in one morning would each
write it, and what comes after them, sending, writes it too."""

DUE_AT_ONCE = 100
"""Messages that are read at once with their texts: a few megabytes, however many wait."""


_ROWS = f"SELECT {OUTBOX_COLUMNS}, body"
_BODIES = "LEFT JOIN bodies USING (unique_key)"


class SqliteStore:
    """`strawbell.app.ports.Store` and `AnswerCache` in one SQLite file.

    One connection behind a lock: threads take turns, and a block of `together` is one turn.
    Other processes may use the file at the same time.
    """

    def __init__(self, path: Path, now: datetime, *, owner: bool = False) -> None:
        """Open the store at `path`; the `owner` (who holds the state lock) also mends it."""
        self.path = path.absolute()
        opened = open_database(self.path, now, owner=owner)
        self.incident = opened.incident
        """What was mended at the start, in sentences for the log; "" for nothing."""
        self.secret = opened.secret
        """What only this store and its copies know."""
        self.incidents = IncidentFile(self.path)
        self._connection = opened.connection
        self._turn = threading.RLock()
        self._inside = 0
        self._marker_is_old = False
        self._marked_s = float("-inf")
        self._own_token = own_token()
        self._names = KeptNames()
        self._open_from = 0
        """No message of a lower number is open; numbers only grow."""

    def close(self) -> None:
        """Close the file; the store cannot be used afterwards."""
        with self._turn:
            self._write_marker()
            self._connection.close()

    def __enter__(self) -> SqliteStore:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    @contextmanager
    def together(self) -> Iterator[None]:
        """Make all writes inside the block one transaction: all of them or none."""
        with self._turn, in_sentences(self.path):
            if self._inside:
                # The outer block decides; an error passes through it and undoes everything.
                yield
                return
            self._connection.execute("BEGIN IMMEDIATE")
            self._inside += 1
            try:
                yield
                self._connection.execute("COMMIT")
            except BaseException:
                if self._connection.in_transaction:
                    self._connection.execute("ROLLBACK")
                # Numbers that are undone are given again.
                self._open_from = 0
                raise
            finally:
                self._inside -= 1
        if self._marker_is_old and time.monotonic() - self._marked_s >= MARK_EVERY_S:
            self._write_marker()

    def call(self, names: KeptNames) -> None:
        """Take and give the names of today from now on; rows stay under their keys."""
        self._names = names

    def known(self) -> Journal:
        """Return the rows that remember gardens, of all of them, oldest first."""
        rows = self._read(
            f"SELECT {JOURNAL_COLUMNS} FROM journal INDEXED BY journal_of_known"
            " WHERE kind = 'known' ORDER BY number",
            (),
        )
        return tuple(journal_entry(row) for row in rows)

    def journal(self, garden: str, on: date | None = None) -> Journal:
        """Return all rows of a garden, or those of one local date, oldest first."""
        return tuple(map(self._names.called, self.kept_journal(self._names.key_of(garden), on)))

    def kept_journal(self, key: str, on: date | None) -> Journal:
        """Return all rows of a garden, or those of one local date, as they are kept."""
        of_date, values = (" AND local_date = ?", (on.isoformat(),)) if on else ("", ())
        rows = self._read(
            f"SELECT {JOURNAL_COLUMNS} FROM journal WHERE garden = ?{of_date} ORDER BY number",
            (plain(key), *values),
        )
        return tuple(journal_entry(row) for row in rows)

    def planners_rows(self, garden: str, after: int) -> tuple[Journal, int]:
        """Return the rows of a garden that the planner reads, and the number of the last.

        These are all but deliveries, numbered over `after`.
        """
        rows, last = self.kept_planners_rows(self._names.key_of(garden), after)
        return tuple(map(self._names.called, rows)), last

    def kept_planners_rows(self, key: str, after: int) -> tuple[Journal, int]:
        """Return the rows that the planner reads, as they are kept, and the number of the last."""
        rows = self._read(
            f"SELECT number, {PLANNERS_COLUMNS} FROM journal INDEXED BY journal_of_garden"
            " WHERE garden = ? AND kind <> 'delivery' AND number > ? ORDER BY number",
            (plain(key), after),
        )
        last = int(str(rows[-1][0])) if rows else after
        return tuple(journal_entry(row[1:]) for row in rows), last

    def write(self, entries: Iterable[JournalEntry]) -> None:
        """Append rows to the journal."""
        values = [journal_values(self._names.kept(entry)) for entry in entries]
        places = ", ".join("?" * (WRITTEN_COLUMNS.count(",") + 1))
        with self.together():
            self._connection.executemany(
                f"INSERT INTO journal ({WRITTEN_COLUMNS}) VALUES ({places})", values
            )

    def save_checkpoint(self, garden: str, last: int, content: bytes) -> None:
        """Replace what was made of the planner's rows of a garden up to the row `last`."""
        with self.together():
            self._connection.execute(
                "INSERT OR REPLACE INTO checkpoints (garden, called, number, content)"
                " VALUES (?, ?, ?, ?)",
                (self._key(garden), plain(self._names.all_of(garden)), last, content),
            )

    def checkpoint(self, garden: str) -> tuple[int, bytes] | None:
        """Return the checkpoint of a garden as it is called now, None for nothing."""
        return self.kept_checkpoint(self._names.key_of(garden), self._names.all_of(garden))

    def kept_checkpoint(self, key: str, called: str) -> tuple[int, bytes] | None:
        """Return the checkpoint of a garden while it was `called` so, None for nothing."""
        rows = self._read(
            "SELECT number, content FROM checkpoints WHERE garden = ? AND called = ?",
            (plain(key), plain(called)),
        )
        number, content = rows[0] if rows else (None, None)
        return (number, content) if isinstance(number, int) and isinstance(content, bytes) else None

    def enqueue(self, rows: Sequence[OutboxRow]) -> int:
        """Add rows that are not there yet (by unique_key); return how many were new."""
        places = ", ".join("?" * (OUTBOX_COLUMNS.count(",") + 1))
        new = 0
        with self.together():
            for row in rows:
                added = self._connection.execute(
                    f"INSERT INTO outbox ({OUTBOX_COLUMNS}) VALUES ({places})"
                    " ON CONFLICT (unique_key) DO NOTHING",
                    outbox_values(replace(row, garden=self._names.key_of(row.garden))),
                ).rowcount
                if added:
                    new += 1
                    self._connection.execute(
                        "INSERT INTO bodies (unique_key, body) VALUES (?, ?)",
                        (row.unique_key, zlib.compress(row.body)),
                    )
            if new:
                self._connection.execute(TOUCH)
                self._marker_is_old = True
        return new

    def due(self, now: datetime, channels: Sequence[str]) -> tuple[OutboxRow, ...]:
        """Return the oldest rows in state due, later or unknown whose next attempt is due.

        Rows left in state sending are returned too, unless their process still lives.
        """
        self._pass_over_ended()
        places = ", ".join("?" * len(channels))
        rows = self._read(
            f"{_ROWS}, claimed_by FROM outbox {_BODIES} WHERE number >= ?"
            f" AND channel IN ({places})"
            " AND (state = 'sending' OR (state IN ('due', 'later', 'unknown')"
            " AND (next_attempt_at <= ? OR next_attempt_at > ? OR expires_at <= ?)))"
            f" ORDER BY created_at, number LIMIT {DUE_AT_ONCE}",
            (
                self._open_from,
                *channels,
                moment(now),
                moment(now + timedelta(days=IMPLAUSIBLE_WAIT_D)),
                moment(now),
            ),
        )
        return tuple(self._outbox_row(row[:-1]) for row in rows if not self._is_being_sent(row))

    def _pass_over_ended(self) -> None:
        """Move on to the first message that has not come to its end, which is final.

        No index is kept of them: recording what became of a message would have to write its page.
        It is one question, so that no message can come in between and be passed over.
        """
        rows = self._read(
            "SELECT ifnull((SELECT number FROM outbox WHERE number >= ?"
            " AND state IN ('due', 'sending', 'later', 'unknown') ORDER BY number LIMIT 1),"
            " (SELECT ifnull(max(number), 0) + 1 FROM outbox))",
            (self._open_from,),
        )
        self._open_from = int(str(rows[0][0]))

    def _is_being_sent(self, row: tuple[object, ...]) -> bool:
        """Return whether another living process is sending a row; our own passes take turns."""
        token = row[-1]
        if row[8] != OutboxState.SENDING.value or not isinstance(token, str):
            return False
        return token != self._own_token and lives(token)

    def move(
        self,
        unique_key: str,
        state: OutboxState,
        *,
        attempts: int,
        next_attempt_at: datetime,
        detail: str,
    ) -> None:
        """Record the new state of a row; committed durably before it returns."""
        claim = state is OutboxState.SENDING
        condition = " AND attempts = ?" if claim else ""
        expected: tuple[object, ...] = (attempts - 1,) if claim else ()
        with self.together():
            changed = self._connection.execute(
                "UPDATE outbox SET state = ?, attempts = ?, next_attempt_at = ?, detail = ?,"
                f" claimed_by = ? WHERE unique_key = ?{condition}",
                (
                    state.value,
                    attempts,
                    moment(next_attempt_at),
                    plain(detail),
                    self._own_token if claim else None,
                    unique_key,
                    *expected,
                ),
            ).rowcount
            if changed == 0 and claim:
                raise ClaimedElsewhere(BRITISH.say("store.claimed"))
            if changed == 0:
                raise Defect(f"There is no message with the key {unique_key}.")

    def unsurfaced(self) -> tuple[OutboxRow, ...]:
        """Return rows that failed for good or expired and that nobody was told of yet."""
        rows = self._read(
            f"{_ROWS} FROM outbox {_BODIES}"
            " WHERE state IN ('for-good', 'expired') AND surfaced = 0 ORDER BY number",
            (),
        )
        return tuple(self._outbox_row(row) for row in rows)

    def mark_surfaced(self, unique_keys: Iterable[str]) -> None:
        """Record that the grower has been told of failed rows."""
        with self.together():
            self._connection.executemany(
                "UPDATE outbox SET surfaced = 1 WHERE unique_key = ?",
                [(key,) for key in unique_keys],
            )

    def outbox(self, garden: str, since: date) -> tuple[OutboxRow, ...]:
        """Return the rows of a garden from a local date on, oldest first."""
        rows = self._read(
            f"{_ROWS} FROM outbox {_BODIES} WHERE garden = ? AND local_date >= ? ORDER BY number",
            (self._key(garden), since.isoformat()),
        )
        return tuple(self._outbox_row(row) for row in rows)

    def backup(self, now: datetime) -> None:
        """Keep today's online copy beside the store, and let old message texts go.

        Where nothing has been added since the newest copy, that copy is as good as another.
        """
        with self._turn, in_sentences(self.path), files_in_sentences(self.path):
            if not holds_all(self._connection, self.path):
                copy_of_the_day(self._connection, self.path, now)
            with self.together():
                self._connection.execute(
                    "DELETE FROM bodies WHERE unique_key IN (SELECT unique_key FROM outbox"
                    " WHERE created_at < ? AND state IN ('accepted', 'for-good', 'expired'))",
                    (moment(now - timedelta(days=KEEP_BODIES_D)),),
                )
            self._write_marker()

    def mark(self, name: str) -> str:
        """Return what was last marked under a name, "" for nothing."""
        rows = self._read("SELECT value FROM marks WHERE name = ?", (plain(name),))
        return str(rows[0][0]) if rows else ""

    def set_mark(self, name: str, value: str) -> None:
        """Replace what is marked under a name."""
        with self.together():
            self._connection.execute(
                "INSERT INTO marks (name, value) VALUES (?, ?)"
                " ON CONFLICT (name) DO UPDATE SET value = excluded.value",
                (plain(name), plain(value)),
            )

    def load(self, url: str) -> CachedAnswer | None:
        """Return the last good answer of a URL, or None."""
        rows = self._read(SELECT_ANSWER, (plain(url),))
        return cached_answer(rows[0]) if rows else None

    def keep(self, answer: CachedAnswer) -> None:
        """Replace the last good answer of `answer.url`."""
        with self.together():
            self._connection.execute(REPLACE_ANSWER, answer_values(answer))

    def _key(self, garden: str) -> str:
        return plain(self._names.key_of(garden))

    def _outbox_row(self, row: tuple[object, ...]) -> OutboxRow:
        kept = outbox_row(row)
        return replace(kept, garden=self._names.name_of(kept.garden))

    def _read(self, sql: str, values: tuple[object, ...]) -> list[tuple[object, ...]]:
        with self._turn, in_sentences(self.path):
            return self._connection.execute(sql, values).fetchall()

    def _write_marker(self) -> None:
        with self._turn, in_sentences(self.path):
            write_marker(self.path, marker_of(self._connection))
            self._marker_is_old, self._marked_s = False, time.monotonic()


_START_TIME_FIELD = 19
"""Position of the start time after the command name in /proc/PID/stat (proc(5), field 22)."""


def _started(pid: int) -> str | None:
    """Return a mark of when a process started, None when there is no such process."""
    try:
        stat = Path(f"/proc/{pid}/stat").read_text(encoding="ascii", errors="replace")
    except OSError:
        return None
    fields = stat.rpartition(")")[2].split()
    return fields[_START_TIME_FIELD] if len(fields) > _START_TIME_FIELD else None


def own_token() -> str:
    """Return what this process signs its claims with; a reused process id is told apart."""
    pid = os.getpid()
    return f"{pid}:{_started(pid) or ''}"


def lives(token: str) -> bool:
    """Return whether the process that signed a claim is still there.

    Where the system does not tell, the claim counts as abandoned: a double is better than a
    reminder that never comes.
    """
    pid, _, started = token.partition(":")
    if not pid.isdigit() or not started:
        return False
    return _started(int(pid)) == started
