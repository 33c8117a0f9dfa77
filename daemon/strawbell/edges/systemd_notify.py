"""Tell systemd how the daemon is, in the datagrams of sd_notify(3); silent without systemd."""

from __future__ import annotations

import contextlib
import os
import socket
from collections.abc import Mapping

_USEC_PER_S = 1_000_000

STATUS_LIMIT_CHARACTERS = 200


class SystemdNotify:
    """The service manager that started this process, if one did."""

    def __init__(self, environ: Mapping[str, str] | None = None, pid: int | None = None) -> None:
        """Read what systemd put into the environment."""
        environ = os.environ if environ is None else environ
        pid = os.getpid() if pid is None else pid
        place = environ.get("NOTIFY_SOCKET", "")
        self._place = "\0" + place[1:] if place.startswith("@") else place
        self._ping_every_s = _ping_interval(environ, pid)

    @property
    def watchdog_interval_s(self) -> float | None:
        """Return how often to call `watchdog` [s]: half of the limit; None when unwatched."""
        return self._ping_every_s

    def ready(self, status: str = "") -> None:
        """Say that the daemon works: after start and after a reload."""
        self._send("READY=1", *_status(status))

    def status(self, text: str) -> None:
        """Show one line in `systemctl status`."""
        self._send(*_status(text))

    def watchdog(self) -> None:
        """Say that the main loop still turns."""
        self._send("WATCHDOG=1")

    def reloading(self, monotonic_s: float) -> None:
        """Say that the configuration is being read again; `ready` ends it."""
        self._send("RELOADING=1", f"MONOTONIC_USEC={int(monotonic_s * _USEC_PER_S)}")

    def stopping(self, status: str = "") -> None:
        """Say that the daemon ends on purpose."""
        self._send("STOPPING=1", *_status(status))

    def _send(self, *lines: str) -> None:
        if not self._place:
            return
        # Whoever does not listen must not stop the daemon.
        with (
            contextlib.suppress(OSError),
            socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM | socket.SOCK_CLOEXEC) as link,
        ):
            link.setblocking(False)
            link.sendto("\n".join(lines).encode("utf-8", "replace"), self._place)


def _status(text: str) -> tuple[str, ...]:
    line = " ".join(text.split())[:STATUS_LIMIT_CHARACTERS]
    return (f"STATUS={line}",) if line else ()


def _ping_interval(environ: Mapping[str, str], pid: int) -> float | None:
    limit, watched = environ.get("WATCHDOG_USEC", ""), environ.get("WATCHDOG_PID", "")
    if watched and watched != str(pid):
        return None
    if not limit.isdigit() or int(limit) == 0:
        return None
    return int(limit) / _USEC_PER_S / 2
