"""Which process claimed a message, and whether it still lives."""

from __future__ import annotations

import os
from pathlib import Path

_START_TIME_FIELD = 19
"""Position of the start time after the command name in /proc/PID/stat (proc(5), field 22)."""


def _started(pid: int) -> str | None:
    """Return a mark of when a process started, None when there is no such process."""
    try:
        stat = Path(f"/proc/{pid}/stat").read_text(encoding="ascii", errors="replace")
    except OSError:
        return None
    fields = stat.rpartition(")")[2].split()
    return fields[_START_TIME_FIELD] if len(fields) > _START_TIME_FIELD else None


def own_token() -> str:
    """Return what this process signs its claims with; a reused process id is told apart."""
    pid = os.getpid()
    return f"{pid}:{_started(pid) or ''}"


def lives(token: str) -> bool:
    """Return whether the process that signed a claim is still there.

    Where the system does not tell, the claim counts as abandoned: a double is better than a
    reminder that never comes.
    """
    pid, _, started = token.partition(":")
    if not pid.isdigit() or not started:
        return False
    return _started(int(pid)) == started
