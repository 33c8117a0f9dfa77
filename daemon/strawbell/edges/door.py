"""One daemon for each state folder, and its door: one request and its answer over a Unix socket.

The lock is taken on the folder itself, not on a file in it: a lock file can be deleted while
its owner lives, and a second daemon would then lock a new one. It ends with its owner, however
the owner ends.

The daemon greets; a request is one line of JSON; the answer is any number of lines and a last one
with "end". A daemon that hangs greets nobody, so what it was not asked it has surely not done. Who
may connect is decided twice: by the modes of folder and socket, and by what the kernel tells of
the other side. Sizes, times and callers at once are bounded, so nobody can keep the daemon busy.
"""

from __future__ import annotations

import contextlib
import errno
import fcntl
import hashlib
import json
import os
import socket
import stat
import struct
import threading
import time
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path
from types import TracebackType

from msgspec import Struct
from msgspec.structs import asdict

from strawbell import __version__
from strawbell.errors import GrowerError, OperationalError, Problem
from strawbell.words.catalogue import BRITISH

REQUEST_BYTES_MAX = 65_536
"""Longest request [byte]; a long note takes a tenth."""
LINE_BYTES_MAX = 16_777_216
"""Longest line of an answer [byte]; a forecast of two weeks or a whole brief takes a tenth."""
REQUEST_WITHIN_S = 2.0
"""How long a caller may take to say what it wants [s]."""
ANSWER_WITHIN_S = 10.0
"""How long one line of an answer may wait for its caller to read it [s]."""
CALLERS_MAX = 64
"""Callers answered at once; the next one is asked to come again."""
CONNECT_WITHIN_S = 2.0
"""How long a daemon may take to let somebody in and to greet [s]; one that hangs never does."""
WAIT_WITHOUT_FILES_S = 1.0
_PEER_GROUPS = 59
"""SO_PEERGROUPS of Linux (socket(7)), which Python does not name."""
_GROUPS_BYTES = 1024
"""The most that Python asks for: 256 groups."""
_GROUP_MAY_SEARCH = 0o010

Request = Mapping[str, object]
Lines = Iterator[dict[str, object]]
Answer = Callable[[Request, str], Lines]
"""Yields the lines of an answer to a request of somebody, named for the log."""


class Peer(Struct, frozen=True):
    """Who is on the other side of a connection, as the kernel saw it when it was made."""

    user: int
    groups: frozenset[int]

    def __str__(self) -> str:
        """Return the user for the log."""
        return f"user {self.user}"


class NobodyThere(Exception):
    """No daemon listens at a door."""


class Busy(OperationalError):
    """As many as the daemon can answer at once ask it; surely nothing was done."""


class NotLetIn(Exception):
    """There is a door, and this user may not come in."""


def door_name(configuration: Path) -> str:
    """Return the file name of the door of the daemon of a configuration, by its real path."""
    real = os.path.realpath(configuration)
    return f"door-{hashlib.sha256(os.fsencode(real)).hexdigest()[:12]}"


class Door:
    """The daemon's side; opened under the state lock, so a door found there is an old one."""

    def __init__(self, place: Path, answer: Answer, report: Callable[[str], None]) -> None:
        """Name the place of the socket; nobody can come in yet."""
        self._place = place
        self._answer = answer
        self._report = report
        self._seats = threading.BoundedSemaphore(CALLERS_MAX)
        self._socket: socket.socket | None = None
        self._group: int | None = None

    def __enter__(self) -> Door:
        """Listen; where that fails it is reported, and the daemon works without a door."""
        try:
            self._socket = self._listen()
        except OSError as error:
            why = error.strerror or str(error)
            self._report(BRITISH.say("door.closed", place=str(self._place), why=why))
        else:
            threading.Thread(target=self._accept, args=(self._socket,), daemon=True).start()
        return self

    def __exit__(self, *_: object) -> None:
        """Let nobody in any more."""
        listening, self._socket = self._socket, None
        if listening is None:
            return
        with contextlib.suppress(OSError):
            self._place.unlink()
        with contextlib.suppress(OSError):
            listening.shutdown(socket.SHUT_RDWR)
        listening.close()

    def _listen(self) -> socket.socket:
        folder = self._place.parent
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        about = folder.lstat()
        if not stat.S_ISDIR(about.st_mode) or about.st_uid not in (0, os.geteuid()):
            raise OSError(errno.EPERM, BRITISH.say("door.not-our-folder"))
        shared = bool(about.st_mode & _GROUP_MAY_SEARCH)
        self._group = about.st_gid if shared else None
        with contextlib.suppress(FileNotFoundError):
            if not stat.S_ISSOCK(self._place.lstat().st_mode):
                raise OSError(errno.EEXIST, BRITISH.say("door.other-file"))
            self._place.unlink()
        listening = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
        try:
            with _short(self._place) as name:
                listening.bind(name)
                # Bound by the umask first, which is never wider than this.
                socket_file = Path(name)
                if shared and socket_file.stat().st_gid != about.st_gid:
                    # Only then: the sandbox of the unit refuses the call, and needs none.
                    os.chown(socket_file, -1, about.st_gid)
                socket_file.chmod(0o660 if shared else 0o600)
            listening.listen(CALLERS_MAX)
        except BaseException:
            listening.close()
            raise
        return listening

    def _accept(self, listening: socket.socket) -> None:
        while self._socket is listening:
            try:
                caller, _ = listening.accept()
            except OSError:
                if self._socket is not listening:
                    return
                # No files are left; somebody will close one.
                time.sleep(WAIT_WITHOUT_FILES_S)
                continue
            try:
                threading.Thread(target=self._serve, args=(caller,), daemon=True).start()
            except RuntimeError:
                caller.close()

    def _serve(self, caller: socket.socket) -> None:
        with caller, contextlib.suppress(OSError):
            caller.settimeout(ANSWER_WITHIN_S)
            if not self._seats.acquire(blocking=False):
                _send(caller, {"end": "busy"})
                return
            try:
                for line in self._lines(caller):
                    _send(caller, line)
            finally:
                self._seats.release()

    def _lines(self, caller: socket.socket) -> Lines:
        try:
            peer = peer_of(caller)
            if not self._may_enter(peer):
                what = BRITISH.say("door.stranger", user=str(peer.user))
                raise GrowerError(Problem(what, allowed=BRITISH.say("door.known")))
            yield {"here": __version__}
            yield from self._answer(_request(caller), str(peer))
        except GrowerError as error:
            yield {"end": "mend", "problems": [asdict(each) for each in error.problems]}
        except OperationalError as error:
            yield {"end": "not-now", "why": str(error)}
        except OSError:
            raise
        except Exception as error:
            self._report(BRITISH.say("door.report", why=repr(error)))
            yield {"end": "defect", "why": f"{type(error).__name__}: {error}"}

    def _may_enter(self, peer: Peer) -> bool:
        return peer.user in (0, os.geteuid()) or self._group in peer.groups


def peer_of(connection: socket.socket) -> Peer:
    """Return who is on the other side of a connection."""
    raw = connection.getsockopt(socket.SOL_SOCKET, socket.SO_PEERCRED, struct.calcsize("3i"))
    _, user, group = struct.unpack("3i", raw)
    more: tuple[int, ...] = ()
    with contextlib.suppress(OSError):
        listed = connection.getsockopt(socket.SOL_SOCKET, _PEER_GROUPS, _GROUPS_BYTES)
        more = struct.unpack(f"{len(listed) // 4}I", listed)
    return Peer(user, frozenset({group, *more}))


def ask(place: Path, request: Request, within_s: float) -> Lines:
    """Yield the lines of the answer of the daemon behind a door, the last one too.

    `within_s` is how long each line may take [s]. Raises `NobodyThere`, `NotLetIn`, `Busy`, what
    the daemon refused with, and `OperationalError` where it hangs, ends or answers something else;
    then nobody knows whether the request was fulfilled.
    """
    with socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as connection:
        _connect(connection, place)
        with connection.makefile("rb") as lines:
            try:
                _raise_refusal(_understood(lines.readline(LINE_BYTES_MAX)))
            except OSError as error:
                raise _hangs() from error
            connection.settimeout(within_s)
            if len(json.dumps(request)) > REQUEST_BYTES_MAX:
                raise GrowerError(Problem(BRITISH.say("door.too-long")))
            try:
                _send(connection, request)
                while True:
                    line = _understood(lines.readline(LINE_BYTES_MAX))
                    _raise_refusal(line)
                    yield line
                    if "end" in line:
                        return
            except OSError as error:
                raise _no_answer() from error


def _connect(connection: socket.socket, place: Path) -> None:
    connection.settimeout(CONNECT_WITHIN_S)
    try:
        with _short(place) as name:
            connection.connect(name)
    except (FileNotFoundError, NotADirectoryError, ConnectionRefusedError) as error:
        raise NobodyThere from error
    except PermissionError as error:
        raise NotLetIn from error
    except OSError as error:  # a time-out among them
        raise _hangs() from error


def _hangs() -> OperationalError:
    return OperationalError(BRITISH.say("door.hangs"))


def _no_answer() -> OperationalError:
    return OperationalError(BRITISH.say("door.no-answer"))


def _understood(line: bytes) -> dict[str, object]:
    try:
        read = json.loads(line)
    except (ValueError, RecursionError):
        read = None
    if not isinstance(read, dict):
        raise _no_answer()
    return read


def _raise_refusal(line: Mapping[str, object]) -> None:
    end = line.get("end")
    if end == "busy":
        raise Busy(BRITISH.say("door.busy"))
    if end == "mend":
        problems = line.get("problems")
        listed = problems if isinstance(problems, list) else []
        raise GrowerError([Problem(**{str(k): str(v) for k, v in each.items()}) for each in listed])
    why = str(line.get("why", ""))
    if end == "not-now":
        raise OperationalError(why)
    if end == "defect":
        raise OperationalError(BRITISH.say("door.defect", why=why))


def _request(caller: socket.socket) -> Request:
    """Read a request; raise `GrowerError` where it is none."""
    read, ends_s = bytearray(), time.monotonic() + REQUEST_WITHIN_S
    while not read.endswith(b"\n") and len(read) <= REQUEST_BYTES_MAX:
        caller.settimeout(max(0.001, ends_s - time.monotonic()))
        part = caller.recv(REQUEST_BYTES_MAX)
        if not part:
            # Who left in the middle of a request wants nothing done.
            raise ConnectionAbortedError
        read += part
    caller.settimeout(ANSWER_WITHIN_S)
    try:
        request = json.loads(read) if len(read) <= REQUEST_BYTES_MAX else None
    except (ValueError, RecursionError):
        request = None
    if not isinstance(request, dict):
        raise GrowerError(Problem(BRITISH.say("door.no-request")))
    return request


def _send(connection: socket.socket, line: Mapping[str, object]) -> None:
    connection.sendall(json.dumps(line, separators=(",", ":")).encode("ascii") + b"\n")


@contextlib.contextmanager
def _short(place: Path) -> Iterator[str]:
    """Give a name of a socket that fits its address, which holds 107 bytes (unix(7))."""
    folder = os.open(place.parent, os.O_PATH | os.O_DIRECTORY)
    try:
        yield f"/proc/self/fd/{folder}/{place.name}"
    finally:
        os.close(folder)


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
            why = "" if is_other else error.strerror
            raise GrowerError(
                Problem(
                    what=BRITISH.say("lock.not-opened", why=why),
                    where=str(self._folder),
                    remedy=BRITISH.say("lock.own-folder"),
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
    modes = BRITISH.say("lock.mend-modes", folder=str(folder))
    return GrowerError(
        Problem(
            what=BRITISH.say("lock.unsafe", owner=None if owner is None else str(owner)),
            where=str(folder),
            allowed=BRITISH.say("lock.safe"),
            remedy=modes if owner is None else BRITISH.say("lock.mend-owner"),
        )
    )


def _refusal(folder: Path) -> AlreadyRuns:
    owner = owner_of(folder)
    return AlreadyRuns(
        Problem(
            what=BRITISH.say("lock.taken", process=None if owner is None else str(owner)),
            where=str(folder),
            remedy=BRITISH.say("lock.stop"),
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
