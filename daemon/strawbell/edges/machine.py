"""This machine: its clock, alarms, errors and service manager, and files replaced whole.

Only this module asks what time it is.

Decided 2026-11-25: APScheduler only rings. Its jobs may come late, twice or not at all (a clock
put back stops them); the journal and the beat of the main loop (app.daemon) make that harmless.
"""

from __future__ import annotations

import contextlib
import errno
import os
import socket
import stat
from collections.abc import Callable, Iterable, Mapping
from datetime import UTC, datetime, time, timedelta
from pathlib import Path
from time import monotonic
from zoneinfo import ZoneInfo

from strawbell.model.garden import Garden


class SystemClock:
    """The wall clock in UTC, and seconds that never jump."""

    def now(self) -> datetime:
        """Return the wall clock as an aware datetime in UTC."""
        return datetime.now(UTC)

    def monotonic(self) -> float:
        """Return seconds that never jump [s]; they stand still while the machine sleeps."""
        return monotonic()


_WATCH_JITTER_S = 120
"""Spread of the watch [s]: weather services ask their users not to come on the full hour."""


class Alarms:
    """Rings at each distinct local time of the gardens, and every so often for the watch."""

    def __init__(self, gardens: Iterable[Garden], ring: Callable[[], object]) -> None:
        """Prepare the jobs; nothing rings before `start`."""
        import logging

        from apscheduler.schedulers.background import BackgroundScheduler  # the daemon's alone

        # A late job always runs (the default drops it after a second), several become one.
        defaults = {"misfire_grace_time": None, "coalesce": True, "max_instances": 1}
        self._scheduler = BackgroundScheduler(timezone=UTC, job_defaults=defaults)
        self._ring = ring
        self._gardens = tuple(gardens)
        self._every_min = min((each.times.watch_every_min for each in self._gardens), default=60)
        logging.getLogger("apscheduler").setLevel(logging.ERROR)

    def start(self) -> None:
        """Start ringing, in a thread of APScheduler's own."""
        from apscheduler.triggers.cron import CronTrigger
        from apscheduler.triggers.interval import IntervalTrigger

        for at, zone_name in sorted(self._local_times()):
            trigger = CronTrigger(
                hour=at.hour, minute=at.minute, second=at.second, timezone=ZoneInfo(zone_name)
            )
            self._scheduler.add_job(self._ring, trigger, id=f"{at} {zone_name}")
        watch = IntervalTrigger(minutes=self._every_min, jitter=_WATCH_JITTER_S, timezone=UTC)
        self._scheduler.add_job(self._ring, watch, id="watch")
        self._scheduler.start()

    def clock_moved(self, now: datetime) -> None:
        """Look at the wall clock again after it jumped; sleeping jobs would oversleep."""
        again = now + timedelta(minutes=self._every_min)
        self._scheduler.modify_job("watch", next_run_time=again)
        self._scheduler.wakeup()

    def stop(self) -> None:
        """Stop ringing; a job that runs is not waited for, the daemon does that itself."""
        if self._scheduler.running:
            self._scheduler.shutdown(wait=False)

    def _local_times(self) -> set[tuple[time, str]]:
        return {
            (at.replace(tzinfo=None), garden.place.time_zone)
            for garden in self._gardens
            for at in (garden.times.morning, garden.times.evening)
        }


OWN_ERRORS = frozenset(
    {errno.EMFILE, errno.ENFILE, errno.ENOMEM, errno.ENOBUFS, errno.EIO, errno.ENOSPC, errno.EDQUOT}
)
"""No files, memory or room are left, or a disk fails (errno(3)): nobody else was asked yet, and
it may be over in a moment."""


def is_own(error: BaseException) -> bool:
    """Return whether an error is about this machine alone."""
    return isinstance(error, OSError) and error.errno in OWN_ERRORS


_USEC_PER_S = 1_000_000

STATUS_LIMIT_CHARACTERS = 200


class SystemdNotify:
    """The service manager that started this process, if one did (sd_notify(3))."""

    def __init__(self, environ: Mapping[str, str] | None = None, pid: int | None = None) -> None:
        """Read what systemd put into the environment."""
        environ = os.environ if environ is None else environ
        pid = os.getpid() if pid is None else pid
        place = environ.get("NOTIFY_SOCKET", "")
        self._place = "\0" + place[1:] if place.startswith("@") else place
        self.watchdog_interval_s = _ping_interval(environ, pid)
        """How often to call `watchdog` [s]: half of the limit; None when unwatched."""

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


READABLE = 0o644
"""What is mostly written here is there for other programs to read, as far as the umask lets them.
"""


def replace_whole(
    path: Path, content: bytes, *, mode: int = READABLE, is_synced: bool = True
) -> None:
    """Write beside it under a passing name, sync, rename; `OSError` leaves nothing behind.

    A new file has `mode` without what the umask takes away; one that is there keeps its own.
    Without the sync a power cut may leave it empty.
    """
    unfinished = path.with_name(f".{path.name}-{os.urandom(4).hex()}")
    flags = os.O_WRONLY | os.O_CREAT | os.O_EXCL | os.O_NOFOLLOW
    descriptor = os.open(unfinished, flags, mode)
    try:
        with os.fdopen(descriptor, "wb") as file:
            file.write(content)
            if is_synced:
                file.flush()
                os.fsync(file.fileno())
        if path.is_file() and not path.is_symlink():
            unfinished.chmod(stat.S_IMODE(path.stat().st_mode))
        unfinished.replace(path)
    except OSError:
        unfinished.unlink(missing_ok=True)
        raise
