"""The one way of the commands to configuration and store; and those that need no more than it.

Checking a configuration takes ten times what a command needs otherwise, and mostly nothing has
changed. What was checked is found again only where all that it came of is the same: program, file,
environment and day, and a password file by what the system tells of it. It holds no secret, and is
made anew on any doubt; nothing is lost with it.

The store is reached through the daemon's door, or under its lock. Where a daemon runs for the same
configuration it owns the store, and is asked. Where none runs, the command works on the store that
it would open. A store that is not there yet is begun by the first word only, and never beside that
of a daemon.
"""

from __future__ import annotations

import argparse
import contextlib
import grp
import hashlib
import os
import pickle
import re
import stat
import time
from collections.abc import Iterator, Mapping
from contextlib import contextmanager, suppress
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Protocol, TypeVar

from msgspec import Struct
from msgspec.structs import fields, replace

from strawbell.app.door import Checkpoint, Line, Said, line_of, value_in
from strawbell.app.identity import settled_in
from strawbell.app.ports import AnswerCache, CachedAnswer, Journals
from strawbell.app.word import Word, WordKind, refusal
from strawbell.cli.early_signals import loading
from strawbell.config.places import config_path, garden_files, kept_folder
from strawbell.edges.door import AlreadyRuns, Busy, NobodyThere, NotLetIn, StateLock, ask
from strawbell.edges.machine import SystemClock, replace_whole
from strawbell.errors import GrowerError, OperationalError
from strawbell.model.configuration import Configuration, Discreet
from strawbell.model.identity import KeptNames
from strawbell.model.journal import Journal, JournalEntry
from strawbell.wiring import (
    MemoryCache,
    build,
    doors,
    introduce,
    is_the_machines,
    machines_runtime,
    open_store,
    state_file,
)
from strawbell.words.catalogue import BRITISH
from strawbell.words.escaping import wrap

PRIVATE = 0o600
OTHERS_MAY_WRITE = stat.S_IWGRP | stat.S_IWOTH
S = TypeVar("S", bound=Struct)


def read_configuration(options: argparse.Namespace) -> Configuration:
    """Return the configuration without its secrets; mistakes are raised all at once.

    What is only odd in it is said by `check` and `run`: with every command it would be nagging.
    """
    return read_kept(options.config, os.environ)


def able_to_send(configuration: Configuration) -> Configuration:
    """Return a configuration with which notices can be sent; raise `GrowerError` otherwise."""
    if configuration.missing_secrets:
        raise GrowerError(configuration.missing_secrets)
    return configuration


def read_kept(
    path: Path | None, environ: Mapping[str, str], today: date | None = None
) -> Configuration:
    """Return the checked configuration without its secrets, for what reads and records.

    Raises `GrowerError` with every mistake, as `strawbell.config.load.read_plain` does.
    """
    chosen = config_path(path, environ)
    key = _key(chosen, environ, today or datetime.now(UTC).date())
    place = kept_folder(environ) / f"{hashlib.sha256(os.fsencode(chosen.absolute())).hexdigest()}"
    found = None if key is None else _find(place, key)
    if found is not None:
        return found
    # Here, not above: the libraries that check are what is saved.
    with loading():
        from strawbell.config.load import read_plain

    made = without_secrets(read_plain(path, environ))
    if key is not None:
        with suppress(OSError):
            place.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
            looks = tuple((each, _look(each)) for each in made.rests_on)
            replace_whole(place, pickle.dumps((key, looks, made)), mode=PRIVATE)
    return made


def without_secrets(settings: S) -> S:
    """Return settings without those of theirs that are in no representation."""
    secret = settings.secrets if isinstance(settings, Discreet) else ()
    changed: dict[str, object] = dict.fromkeys(secret)
    for name in settings.__struct_fields__:
        value = getattr(settings, name)
        if isinstance(value, Struct):
            changed[name] = without_secrets(value)
    return replace(settings, **changed)


def _key(path: Path, environ: Mapping[str, str], today: date) -> bytes | None:
    """Return a digest of all that a configuration comes of, None where it cannot be told."""
    if "CREDENTIALS_DIRECTORY" in environ:
        return None  # a unit reads it once; nothing is saved by keeping it
    try:
        content, about = path.read_bytes(), path.stat()
        gardens = [part for each in garden_files(path)
                   for part in (os.fsdecode(each.name), each.read_bytes())]  # fmt: skip
    except OSError:
        return None
    parts: tuple[str | bytes, ...] = (
        build(("model", "config")), os.fsdecode(path.absolute()), today.isoformat(), content,
        f"{about.st_mode} {about.st_uid}", *gardens, *_variables(environ),
    )  # fmt: skip
    digest = hashlib.sha256()
    for part in parts:
        text = part if isinstance(part, bytes) else part.encode("utf-8", "surrogateescape")
        digest.update(len(text).to_bytes(8, "big") + text)
    return digest.digest()


def _variables(environ: Mapping[str, str]) -> Iterator[str]:
    for name in sorted(environ):
        if name.upper().startswith("STRAWBELL_") or name in ("STATE_DIRECTORY", "HOME"):
            yield f"{name}={environ[name]}"


def _find(place: Path, key: bytes) -> Configuration | None:
    """Return what was kept under a key; None where there is any doubt about it."""
    try:
        descriptor = os.open(place, os.O_RDONLY | os.O_NOFOLLOW)
        with os.fdopen(descriptor, "rb") as file:
            about = os.fstat(file.fileno())
            if about.st_uid != os.geteuid() or about.st_mode & OTHERS_MAY_WRITE:
                return None  # somebody else could have put anything there
            kept = pickle.load(file)  # noqa: S301 - our own, and nobody else may write it
    except Exception:
        return None
    match kept:
        case (bytes() as under, tuple() as looks, made) if under == key:
            unchanged = all(_look(path) == before for path, before in looks)
            return made if unchanged else None
    return None


def _look(path: str) -> tuple[int, ...] | None:
    """Return what tells a file from another or a changed one, None where there is none."""
    try:
        about = Path(path).stat()
    except OSError:
        return None
    same = about.st_dev, about.st_ino, about.st_mode, about.st_uid, about.st_gid
    return *same, about.st_size, about.st_mtime_ns, about.st_ctime_ns


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


_PART = {
    WordKind.DONE: "task",
    WordKind.MISSED: "task",
    WordKind.UNDO: "task",
    WordKind.NOTE: "text",
    WordKind.GONE: "text",
    WordKind.SAID: "text",
}
"""Which part of a word it is that was typed; else its amount."""
_FED = re.compile(r"([\d.,]+\s*[A-Za-z]+)(?:\s+(?:of\s+)?(\S.*))?")
_PICKED = re.compile(r"(.+) ([+-]?\d[\d.,]*\s*[^\W\d]*)")
"""A crop, which may have a number of its own, and how much."""

QUOTED = 2
"""A crop and an amount that are one argument each are taken as they stand."""


def record(options: argparse.Namespace) -> int:
    """Have one word written into the journal, and say what was written and where."""
    return say(options, word_of(options))


def away(options: argparse.Namespace) -> int:
    """Have it written from when to when nobody is in the garden, and say what that means."""
    last = options.last_day.isoformat()
    return say(options, Word(WordKind.AWAY, text=last, on=options.on, garden=options.garden))


def say(options: argparse.Namespace, word: Word) -> int:
    """Have a word written into the journal, and print what was understood."""
    configuration = read_configuration(options)
    answer = tell(configuration, word, SystemClock().now())
    print(answer.said)
    print(BRITISH.say("reach.where", daemon=answer.by_daemon, store=answer.store))
    for warning in answer.warnings:
        print(wrap(warning))
    return 0


def word_of(options: argparse.Namespace) -> Word:
    """Return what was typed; words need no quotes, and a kind has only some of the options."""
    typed = {each.name: getattr(options, each.name, None) for each in fields(Word)}
    given = {name: value for name, value in typed.items() if value is not None}
    return Word(**{**given, **_parts(WordKind(options.kind), options.words)})


def _parts(kind: WordKind, typed: list[str]) -> dict[str, str]:
    """Return the parts of a word of a kind."""
    words = " ".join(typed)
    if kind in (WordKind.DONE, WordKind.MISSED) and not words:
        return {"kind": WordKind.SAID, "text": kind.value}  # all of today's, as in a reply
    if kind is WordKind.HARVEST:
        if words[:1].isdigit():
            return {"kind": WordKind.SAID, "text": words}
        picked = _PICKED.fullmatch(words) if len(typed) != QUOTED else None
        crop, amount = picked.groups() if picked else (" ".join(typed[:-1]), typed[-1])
        return {"kind": kind, "crop": crop, "amount": amount}
    if kind is WordKind.COST:
        amount, _, text = words.partition(" ")
        return {"kind": kind, "amount": amount, "text": text}
    if kind is WordKind.FEED and (fed := _FED.fullmatch(words)) is not None:
        return {"kind": kind, "amount": fed[1], "text": fed[2] or ""}
    return {"kind": kind, _PART.get(kind, "amount"): words}
