"""One SMTP conversation in which every wait is bound by one deadline and can be broken off.

The library's timeout is for each read; a server that drips a byte at a time would hold it for
ever. Here each read and write gets only what is left until the deadline, and so does the look-up
of the server's name.
"""

from __future__ import annotations

import contextlib
import errno
import io
import ipaddress
import smtplib
import socket
import ssl
import threading
import time
from collections.abc import Callable, Sequence
from queue import Empty, SimpleQueue
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from _typeshed import ReadableBuffer, WriteableBuffer

LINE_LIMIT_BYTES = 8192
REPLY_LIMIT_LINES = 128
"""More than any server says in one answer (common practice)."""

SLACK_S = 0.05
"""A limit this close to the wanted one is good enough."""

CHUNK_BYTES = 16384

OWN_NAME = "[127.0.0.1]"
"""What is said at EHLO: an address literal as RFC 5321, section 4.1.4 allows, so that neither
the name of the grower's machine is told nor a name service asked for it."""


LOOKUPS_AT_MOST = 8
"""Look-ups that may be under way at once; each one that hangs keeps a thread."""

_places = threading.BoundedSemaphore(LOOKUPS_AT_MOST)

Address = tuple[socket.AddressFamily, socket.SocketKind, int, str, tuple[Any, ...]]
"""One answer of `socket.getaddrinfo`."""


class Lookup:
    """The look-up of one host, in a thread that nobody has to wait for."""

    def __init__(self, host: str, port: int) -> None:
        """Keep what is asked; nothing is asked yet."""
        self._host, self._port = host, port
        self._answer: SimpleQueue[Sequence[Address] | OSError] = SimpleQueue()

    def addresses(self, seconds: float) -> Sequence[Address]:
        """Return the addresses, or raise OSError, within `seconds`."""
        if _is_numeric(self._host):
            return self._ask()
        if not _places.acquire(blocking=False):
            raise _silent("it has not answered earlier questions either")
        try:
            threading.Thread(target=self._run, name=f"name {self._host}", daemon=True).start()
        except RuntimeError:
            _places.release()
            raise _silent("the system gives no thread to ask it") from None
        try:
            answer = self._answer.get(timeout=max(seconds, 0.0))
        except Empty:
            raise _silent("it did not answer in time") from None
        if isinstance(answer, OSError):
            raise answer
        return answer

    def interrupt(self) -> None:
        """End the wait of another thread; safe to call from a signal handler."""
        self._answer.put(ConnectionAbortedError("broken off"))

    def _run(self) -> None:
        try:
            self._answer.put(self._ask())
        except OSError as error:
            self._answer.put(error)
        except (UnicodeError, ValueError):
            self._answer.put(socket.gaierror(socket.EAI_NONAME, "that is no name of a host"))
        finally:
            _places.release()

    def _ask(self) -> Sequence[Address]:
        return socket.getaddrinfo(self._host, self._port, type=socket.SOCK_STREAM)


def _is_numeric(host: str) -> bool:
    try:
        ipaddress.ip_address(host)
    except ValueError:
        return False
    return True


def _silent(why: str) -> socket.gaierror:
    return socket.gaierror(socket.EAI_AGAIN, f"the name service cannot be asked: {why}")


class SenselessReplyError(Exception):
    """The server said something that is not SMTP."""


class Deadline:
    """A moment after which nothing is waited for."""

    def __init__(self, seconds: float, monotonic: Callable[[], float] = time.monotonic) -> None:
        self._monotonic = monotonic
        self._end_s = monotonic() + seconds

    def left_s(self) -> float:
        """Return what is left [s]; raise TimeoutError when nothing is."""
        left = self._end_s - self._monotonic()
        if left <= 0:
            raise TimeoutError("the deadline has passed")
        return left


class _Reader(io.RawIOBase):
    """Reads a socket within whatever deadline the wire has at the moment."""

    def __init__(self, wire: Wire) -> None:
        self._wire = wire

    def readable(self) -> bool:
        return True

    def readinto(self, buffer: WriteableBuffer) -> int:
        return self._wire.bounded_socket().recv_into(buffer)


class Wire(smtplib.SMTP):
    """The library's client with deadlines, and without its own connecting."""

    def __init__(self, deadline: Deadline) -> None:
        super().__init__(local_hostname=OWN_NAME)
        self.deadline = deadline
        self._broken_off = False
        self._lookup: Lookup | None = None

    def reach(self, host: str, port: int) -> None:
        """Connect to the first address of the host that answers."""
        self._lookup = Lookup(host, port)
        self._go_on()
        addresses = self._lookup.addresses(self.deadline.left_s())
        failure: OSError = OSError(f"{host} has no address")
        for number, (family, kind, protocol, _, address) in enumerate(addresses):
            # Known before it waits, so that `break_off` finds it.
            reached = self.sock = socket.socket(family, kind, protocol)
            try:
                self._go_on()
                # Text and final dot go out apart; were the dot held back for an acknowledgement
                # (RFC 1122, section 4.2.3.4), each mail would take 40 ms longer.
                reached.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
                # One silent address must not use up the time of the others.
                reached.settimeout(self.deadline.left_s() / (len(addresses) - number))
                reached.connect(address)
            except OSError as error:
                self.drop()
                failure = error
                continue
            self.file = None
            self._host = host
            return
        raise failure

    def break_off(self) -> None:
        """End whatever another thread waits for; safe to call from a signal handler."""
        self._broken_off = True
        lookup, link = self._lookup, self.sock
        if lookup is not None:
            lookup.interrupt()
        if link is not None:
            with contextlib.suppress(OSError):
                # The base class's: that of a TLS socket would take it from under its reader.
                socket.socket.shutdown(link, socket.SHUT_RDWR)

    def _go_on(self) -> None:
        """Raise when the conversation was broken off; asked before every wait."""
        if self._broken_off:
            # Not InterruptedError: buffered readers take that for a reason to try again at once.
            raise ConnectionAbortedError(errno.ECONNABORTED, "Strawbell broke it off")

    def secure(self, context: ssl.SSLContext) -> None:
        """Put TLS on the connection; whatever the server said in the clear is forgotten."""
        plain = self.bounded_socket()
        secured = context.wrap_socket(
            plain, server_hostname=self._host, do_handshake_on_connect=False
        )
        # Known before it waits, so that `break_off` finds it.
        self.sock = secured
        self.bounded_socket()
        secured.do_handshake()
        self.file = None
        self.helo_resp = self.ehlo_resp = None
        self.esmtp_features = {}
        self.does_esmtp = False

    def bounded_socket(self) -> socket.socket:
        """Return the socket, its next operation bound by the deadline."""
        if self.sock is None:
            raise ConnectionResetError("not connected")
        self._go_on()
        left = self.deadline.left_s()
        # A system call less between the server's acceptance and its record.
        if abs((self.sock.gettimeout() or 0.0) - left) > SLACK_S:
            self.sock.settimeout(left)
        return self.sock

    def send(self, s: ReadableBuffer | str) -> None:
        """Send all of it before the deadline."""
        whole = memoryview(s.encode("ascii") if isinstance(s, str) else s)
        for start in range(0, len(whole), CHUNK_BYTES):
            self.bounded_socket().sendall(whole[start : start + CHUNK_BYTES])

    def getreply(self) -> tuple[int, bytes]:
        """Return code and text of one answer."""
        if self.file is None:
            self.file = io.BufferedReader(_Reader(self))
        said: list[bytes] = []
        while len(said) < REPLY_LIMIT_LINES:
            line = self.file.readline(LINE_LIMIT_BYTES + 1)
            if not line:
                raise ConnectionResetError("the server closed the connection")
            if not line.endswith(b"\n") or not line[:3].isdigit() or line[3:4] not in b" -\r\n":
                raise SenselessReplyError
            said.append(line[4:].strip())
            if line[3:4] != b"-":
                return int(line[:3]), b"\n".join(said)
        raise SenselessReplyError

    def drop(self) -> None:
        """Close without a word."""
        if self.sock is not None:
            self.sock.close()
        self.sock = None
        self.file = None
