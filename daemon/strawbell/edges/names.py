"""Look names up within a deadline: the system's own call waits as long as it likes."""

from __future__ import annotations

import ipaddress
import socket
import threading
from collections.abc import Sequence
from queue import Empty, SimpleQueue
from typing import Any

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
