"""What a service manager hears: a datagram socket as systemd has it for its services."""

from __future__ import annotations

import socket
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from support.daemon_process import PATIENCE_S

LONGEST_WORD = 4096


class ManagerSocket:
    """Receives the words of one daemon; put `environ` into its environment."""

    def __init__(self, link: socket.socket, place: str) -> None:
        self._link = link
        self.environ = {"NOTIFY_SOCKET": place}

    def watch(self, limit_s: float) -> None:
        """Ask for pings, as WatchdogSec= does."""
        self.environ["WATCHDOG_USEC"] = str(round(limit_s * 1_000_000))

    def hear(self, word: str, patience_s: float = PATIENCE_S) -> float | None:
        """Return when (monotonic, s) a word came that begins so; None when it does not come."""
        ends = time.monotonic() + patience_s
        while (left := ends - time.monotonic()) > 0:
            self._link.settimeout(left)
            try:
                heard = self._link.recv(LONGEST_WORD).decode()
            except TimeoutError:
                return None
            if any(line.startswith(word) for line in heard.splitlines()):
                return time.monotonic()
        return None

    def forget(self) -> None:
        """Drop what was said up to now."""
        self._link.setblocking(False)
        try:
            while True:
                self._link.recv(LONGEST_WORD)
        except BlockingIOError:
            return


@contextmanager
def manager_socket(folder: Path) -> Iterator[ManagerSocket]:
    """Listen in a folder for as long as a test lasts."""
    place = str(folder / "notify")
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as link:
        link.bind(place)
        yield ManagerSocket(link, place)
