"""One daemon for each state folder.

The lock is taken on the folder itself, not on a file in it: a lock file can be deleted while
its owner lives, and a second daemon would then lock a new one. It ends with its owner, however
the owner ends.
"""

from __future__ import annotations

import contextlib
import fcntl
import os
import stat
import time
from pathlib import Path
from types import TracebackType

from strawbell.errors import GrowerError, Problem

COMMANDS_WITHIN_S = 15.0
"""How long an owner waits until commands are through with the store [s]; each takes a moment."""
LOOK_AGAIN_S = 0.02
LOCKS = Path("/proc/locks")
"""Where the kernel tells who holds a lock (proc(5)); hidden from some sandboxes."""


class AlreadyRuns(GrowerError):
    """Another process of Strawbell works on the state folder."""


class StateLock:
    """The right to send from one state folder; hold it as long as the daemon runs."""

    def __init__(self, folder: Path, *, owner: bool = True) -> None:
        """Name the state folder; nothing is locked yet.

        Who is not the `owner` shares it with others of that kind, for a moment, and only while
        nobody owns it; root may do that in a folder of another user.
        """
        self._folder = folder
        self._as_owner = owner
        self._descriptor: int | None = None

    def acquire(self) -> None:
        """Take the lock or raise `AlreadyRuns` with the process id of the owner.

        An owner waits for commands, which have it for a moment, but not for another owner.
        """
        if self._descriptor is not None:
            return
        try:
            self._folder.mkdir(parents=True, exist_ok=True, mode=0o700)
            descriptor = os.open(self._folder, os.O_RDONLY | os.O_DIRECTORY)
        except OSError as error:
            is_other = isinstance(error, FileExistsError | NotADirectoryError)
            why = "it is not a folder" if is_other else error.strerror
            raise GrowerError(
                Problem(
                    what=f"the state folder cannot be opened: {why}",
                    where=str(self._folder),
                    remedy="Give Strawbell a folder of its own in [state] path.",
                )
            ) from error
        about = os.fstat(descriptor)
        is_root_passing_by = os.geteuid() == 0 and not self._as_owner
        foreign = about.st_uid not in (0, os.geteuid()) and not is_root_passing_by
        if foreign or about.st_mode & stat.S_IWOTH:
            os.close(descriptor)
            raise _unsafe(self._folder, about.st_uid if foreign else None)
        try:
            _take(descriptor, as_owner=self._as_owner)
        except BlockingIOError as error:
            refusal = _refusal(self._folder)
            os.close(descriptor)
            raise refusal from error
        except OSError:
            os.close(descriptor)
            raise
        self._descriptor = descriptor

    def release(self) -> None:
        """Give the lock back; harmless when it is not held."""
        if self._descriptor is None:
            return
        os.close(self._descriptor)
        self._descriptor = None

    @property
    def held(self) -> bool:
        """Return whether this object holds the lock."""
        return self._descriptor is not None

    def __enter__(self) -> StateLock:
        """Take the lock."""
        self.acquire()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """Give the lock back."""
        self.release()


def _take(descriptor: int, *, as_owner: bool) -> None:
    """Lock a folder; raise `BlockingIOError` where somebody owns it."""
    ends_s = time.monotonic() + COMMANDS_WITHIN_S
    while True:
        try:
            fcntl.flock(descriptor, (fcntl.LOCK_EX if as_owner else fcntl.LOCK_SH) | fcntl.LOCK_NB)
        except BlockingIOError:
            if not as_owner or time.monotonic() >= ends_s:
                raise
            # Refused as well where there is an owner; what can be shared, only commands have.
            fcntl.flock(descriptor, fcntl.LOCK_SH | fcntl.LOCK_NB)
            fcntl.flock(descriptor, fcntl.LOCK_UN)
            time.sleep(LOOK_AGAIN_S)
        else:
            return


def _unsafe(folder: Path, owner: int | None) -> GrowerError:
    """Return the refusal of a folder in which others could put files in the place of ours."""
    return GrowerError(
        Problem(
            what="the state folder is not safe: "
            + ("anybody may write into it" if owner is None else f"it belongs to user {owner}"),
            where=str(folder),
            allowed="a folder of the user Strawbell runs as, into which nobody else may write",
            remedy=f"Say chmod 700 {folder}."
            if owner is None
            else "Run Strawbell as its owner, or give it to this user with chown.",
        )
    )


def _refusal(folder: Path) -> AlreadyRuns:
    owner = owner_of(folder)
    who = f"process {owner}" if owner is not None else "another process"
    return AlreadyRuns(
        Problem(
            what=f"Strawbell already runs for this state folder as {who}",
            where=str(folder),
            remedy="Stop that one first, or give this one another [state] path.",
        )
    )


def owner_of(folder: Path) -> int | None:
    """Return the process that holds the lock on a state folder, None where nobody tells."""
    with contextlib.suppress(OSError):
        inode = folder.stat().st_ino
        for line in LOCKS.read_text(encoding="ascii").splitlines():
            _, kind, _, _, process, file, *_ = line.split()
            if kind == "FLOCK" and file.endswith(f":{inode}"):
                return int(process)
    return None
