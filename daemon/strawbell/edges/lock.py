"""One daemon for each state folder.

The lock is taken on the folder itself, not on a file in it: a lock file can be deleted while
its owner lives, and a second daemon would then lock a new one. It ends with its owner, however
the owner ends.
"""

from __future__ import annotations

import contextlib
import fcntl
import os
import time
from pathlib import Path
from types import TracebackType

from strawbell.errors import GrowerError, Problem

PID_FILE = "strawbell.pid"


OWNER_WRITES_WITHIN_S = 0.5
"""How long who is refused waits for the owner's number; only the words depend on it [s]."""
LOOK_AGAIN_S = 0.02


class StateLock:
    """The right to send from one state folder; hold it as long as the daemon runs."""

    def __init__(self, folder: Path) -> None:
        """Name the state folder; nothing is locked yet."""
        self._folder = folder
        self._descriptor: int | None = None

    def acquire(self) -> None:
        """Take the lock at once or raise `GrowerError` with the owner's process id."""
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
        try:
            fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError as error:
            os.close(descriptor)
            raise self._refusal() from error
        except OSError:
            os.close(descriptor)
            raise
        self._descriptor = descriptor
        self._write_pid()

    def release(self) -> None:
        """Give the lock back; harmless when it is not held."""
        if self._descriptor is None:
            return
        # The pid file goes first: without the lock it could be the next owner's.
        with contextlib.suppress(OSError):
            # On a disk that became read-only it stays; whoever reads it sees that nobody lives.
            (self._folder / PID_FILE).unlink(missing_ok=True)
        os.close(self._descriptor)
        self._descriptor = None

    @property
    def held(self) -> bool:
        """Return whether this object holds the lock."""
        return self._descriptor is not None

    def owner(self) -> int | None:
        """Return the process id the owner wrote down, None when there is none to read."""
        try:
            return int((self._folder / PID_FILE).read_text(encoding="ascii").strip())
        except (OSError, ValueError):
            return None

    def _write_pid(self) -> None:
        try:
            (self._folder / PID_FILE).write_text(f"{os.getpid()}\n", encoding="ascii")
        except OSError:
            # The number only makes the refusal of a second daemon more helpful.
            return

    def _owner_soon(self) -> int | None:
        """Return the owner, who may have taken the lock just now and not written yet."""
        ends = time.monotonic() + OWNER_WRITES_WITHIN_S
        while True:
            owner = self.owner()
            if (owner is not None and _lives(owner)) or time.monotonic() >= ends:
                return owner
            time.sleep(LOOK_AGAIN_S)

    def _refusal(self) -> GrowerError:
        owner = self._owner_soon()
        who = f"process {owner}" if owner is not None else "another process"
        return GrowerError(
            Problem(
                what=f"Strawbell already runs for this state folder as {who}",
                where=str(self._folder),
                remedy="Stop that one first, or give this one another [state] path.",
            )
        )

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


def _lives(process: int) -> bool:
    """Return whether a process exists; the number of a killed owner may still be written."""
    try:
        os.kill(process, 0)
    except (ProcessLookupError, OverflowError):
        return False
    except OSError:
        return True
    return True
