"""The one way of the commands to the store: through the daemon's door, or under its lock.

Where a daemon runs for the same configuration it owns the store, and is asked. Where none runs,
the command works on the store that it would open. A store that is not there yet is begun by the
first word only, and never beside that of a daemon.
"""

from __future__ import annotations

import argparse
import contextlib
import grp
import os
import time
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date, datetime
from pathlib import Path
from typing import Protocol

from strawbell.app.door import Checkpoint, Line, Said, line_of, value_in
from strawbell.app.identity import settled_in
from strawbell.app.ports import AnswerCache, CachedAnswer, Journals
from strawbell.app.word import Word, refusal
from strawbell.config.places import config_path
from strawbell.edges.door import Busy, NobodyThere, NotLetIn, ask
from strawbell.edges.lock import AlreadyRuns, StateLock
from strawbell.errors import GrowerError, OperationalError
from strawbell.model.configuration import Configuration
from strawbell.model.identity import KeptNames
from strawbell.model.journal import Journal, JournalEntry
from strawbell.wiring import (
    MemoryCache,
    doors,
    introduce,
    is_the_machines,
    machines_runtime,
    open_store,
    state_file,
)
from strawbell.words.catalogue import BRITISH

READ_WITHIN_S = 30.0
"""How long a daemon may take for one line of its answer [s]: a disk that is slow needs seconds."""
LOCK_WITHIN_S = 5.0
"""How long a word waits for another command, or for a daemon that is about to start [s]."""
LOOK_AGAIN_S = 0.1
RELOADED_WITHIN_S = 90.0
"""How long who asks to read the configuration anew is kept waiting [s]; reading may take 60 s."""
RELOAD_ANSWERED_WITHIN_S = RELOADED_WITHIN_S + 10.0
"""The daemon gives up first, in words [s]."""


class Reached(Journals, AnswerCache, Protocol):
    """What a reading command needs of the store."""


class _Behind(MemoryCache):
    """The daemon's store, read through its door; what a command asks for itself is not kept."""

    def __init__(self, configuration: Path) -> None:
        super().__init__()
        self._configuration = configuration
        self._names = KeptNames()

    def call(self, names: KeptNames) -> None:
        """Give the names of the configuration that was read here, which may be newer."""
        self._names = names

    def journal(self, garden: str, on: date | None = None) -> Journal:
        """Return all rows of a garden, or those of one local date, oldest first."""
        day = None if on is None else on.isoformat()
        rows, _ = self._rows({"ask": "journal", "key": self._names.key_of(garden), "on": day})
        return tuple(map(self._names.called, rows))

    def planners_rows(self, garden: str, after: int) -> tuple[Journal, int]:
        """Return the rows of a garden that the planner reads, and the number of the last."""
        key = self._names.key_of(garden)
        rows, end = self._rows({"ask": "planned", "key": key, "after": after})
        return tuple(map(self._names.called, rows)), int(str(end["last"]))

    def checkpoint(self, garden: str) -> tuple[int, bytes] | None:
        """Return the checkpoint of a garden as it is called here, None for nothing."""
        names = self._names
        key, called = names.key_of(garden), names.all_of(garden)
        *_, end = self._asked({"ask": "laid-by", "key": key, "called": called})
        laid = None if end.get("laid") is None else value_in(end["laid"], Checkpoint)
        return None if laid is None else (laid.last, laid.content)

    def known(self) -> Journal:
        """Return the rows of every garden that say what it is known by, oldest first."""
        return self._rows({"ask": "known"})[0]

    def _rows(self, request: Line) -> tuple[Journal, Line]:
        """Return the rows of an answer, and its last line."""
        *lines, end = self._asked(request)
        return tuple(value_in(line["row"], JournalEntry) for line in lines), end

    def load(self, url: str) -> CachedAnswer | None:
        """Return the last good answer of a URL, or None."""
        own = super().load(url)
        if own is not None:
            return own
        *_, last = self._asked({"ask": "forecast", "url": url})
        found = last.get("answer")
        return None if found is None else value_in(found, CachedAnswer)

    def _asked(self, request: Line) -> Iterator[Line]:
        try:
            yield from asked(self._configuration, request, READ_WITHIN_S)
        except NobodyThere:
            raise OperationalError(BRITISH.say("reach.ended")) from None


class _Nothing(MemoryCache):
    """A store that nobody has begun: to read is no reason to make one."""

    def journal(self, garden: str, on: date | None = None) -> Journal:
        """Return no rows."""
        del garden, on
        return ()

    def planners_rows(self, garden: str, after: int) -> tuple[Journal, int]:
        """Return no rows."""
        del garden
        return (), after

    def checkpoint(self, garden: str) -> None:
        """Return nothing."""
        del garden

    def known(self) -> Journal:
        """Return no rows."""
        return ()


def asked(configuration: Path, request: Line, within_s: float) -> Iterator[Line]:
    """Yield the answer of the daemon of a configuration; raise `NobodyThere` without one."""
    ends_s = time.monotonic() + LOCK_WITHIN_S
    places = list(doors(configuration))
    while places:
        try:
            yield from ask(places[0], request, within_s)
        except Busy:
            if time.monotonic() >= ends_s:
                raise
            time.sleep(LOOK_AGAIN_S)
            continue
        except NobodyThere:
            places.pop(0)
            continue
        except NotLetIn:
            if is_the_machines(configuration):
                raise _not_in_the_group(machines_runtime(configuration)) from None
            places.pop(0)
            continue
        return
    raise NobodyThere


def _not_in_the_group(folder: Path) -> GrowerError:
    group = "root"
    with contextlib.suppress(OSError, KeyError):
        group = grp.getgrgid(folder.stat().st_gid).gr_name
    return refusal(BRITISH.say("reach.not-in-group", group=group), str(folder))


def daemons_store(configuration: Path) -> str | None:
    """Return which store the daemon of a configuration keeps, None where none runs."""
    try:
        *_, last = asked(configuration, {"ask": "hello"}, READ_WITHIN_S)
    except NobodyThere:
        return None
    return str(last.get("store"))


@contextmanager
def reached(configuration: Configuration, now: datetime) -> Iterator[Reached]:
    """Give what a reading command reads; nothing is begun that is not there."""
    here = Path(configuration.path)
    if daemons_store(here) is not None:
        behind = _Behind(here)
        behind.call(settled_in(behind, configuration.gardens, now).names)
        yield behind
        return
    path = state_file(configuration)
    with _as_owner_left_it(path):
        if not any(path.parent.glob(f"{path.name}*")):
            yield _Nothing()
            return
        with open_store(configuration, now) as store:
            yield store


def tell(configuration: Configuration, word: Word, now: datetime) -> Said:
    """Record a word, once: through the door of the daemon, or into its store while none runs."""
    ends_s = time.monotonic() + LOCK_WITHIN_S
    while True:
        with contextlib.suppress(NobodyThere):
            request: Line = {"ask": "record", "word": line_of(word)}
            *_, last = asked(Path(configuration.path), request, READ_WITHIN_S)
            return value_in(last, Said)
        with contextlib.suppress(AlreadyRuns):
            return _tell_alone(configuration, word, now)
        if time.monotonic() >= ends_s:
            store = str(state_file(configuration))
            raise OperationalError(BRITISH.say("reach.busy", store=store))
        time.sleep(LOOK_AGAIN_S)


def _tell_alone(configuration: Configuration, word: Word, now: datetime) -> Said:
    path = state_file(configuration)
    with (
        _as_owner_left_it(path),
        StateLock(path.parent, owner=False),
        open_store(configuration, now) as store,
    ):
        introduce(configuration, store, now)
        # Here, not above: only this path needs the judgement that a word is taken with.
        from strawbell.app.taking import take_word

        taken = take_word(word, configuration.gardens, store, now)
    return Said(taken.said, taken.warnings, str(path), False)


@contextmanager
def _as_owner_left_it(path: Path) -> Iterator[None]:
    """Let root work on the store of a daemon that is not root's, and let the daemon keep it.

    Who may not even look is told whose store it is.
    """
    try:
        folder = path.parent.stat() if path.parent.exists() else None
        path.exists()
    except PermissionError as error:
        raise refusal(BRITISH.say("reach.not-yours"), str(path)) from error
    yield
    if folder is None or os.geteuid() != 0 or folder.st_uid == 0:
        return
    for file in os.scandir(path.parent):
        if file.stat(follow_symlinks=False).st_uid == 0:
            os.chown(file.path, folder.st_uid, folder.st_gid, follow_symlinks=False)


def reload(options: argparse.Namespace) -> int:
    """Have the daemon read its configuration anew, and say whether it took it.

    Mistakes are those that the daemon found; the old configuration stays then.
    """
    path = config_path(options.config, os.environ)
    try:
        *_, last = asked(path, {"ask": "reload"}, RELOAD_ANSWERED_WITHIN_S)
    except NobodyThere:
        raise OperationalError(BRITISH.say("reach.no-daemon", path=str(path))) from None
    gardens = last.get("gardens")
    names = BRITISH.listing(map(str, gardens)) if isinstance(gardens, list) else ""
    print(BRITISH.say("reach.reloaded", names=names))
    return 0
