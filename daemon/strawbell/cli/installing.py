"""Install and start the unit of the grower's own login, and say what a sleeping machine means."""

from __future__ import annotations

import shutil
import subprocess
from collections.abc import Callable
from pathlib import Path

from strawbell.cli.unit import unit_text
from strawbell.edges.whole_file import replace_whole
from strawbell.model.garden import Times
from strawbell.words.catalogue import BRITISH
from strawbell.words.voice import clock

UNIT = Path("~/.config/systemd/user/strawbell.service")
PATIENCE_S = 30.0
"""The service manager answers within a second; longer means that something hangs [s]."""


def install(tell: Callable[[str], None], configuration: Path) -> int:
    """Write the unit, start it, and let it run while nobody is logged in; return the exit code."""
    manager = shutil.which("systemctl")
    if manager is None or not _did(manager, "--user", "show-environment"):
        tell(BRITISH.say("installing.portable"))
        return 0
    path = UNIT.expanduser()
    path.parent.mkdir(parents=True, exist_ok=True)
    if not path.exists():
        replace_whole(path, unit_text("user", configuration).encode())
    started = _did(manager, "--user", "daemon-reload") and _did(
        manager, "--user", "enable", "--now", "strawbell.service"
    )
    if not started:
        tell(BRITISH.say("installing.not-started", path=str(path)))
        return 1
    tell(BRITISH.say("installing.runs", path=str(path)))
    lingering = shutil.which("loginctl")
    if lingering is None or not _did(lingering, "enable-linger"):
        tell(BRITISH.say("installing.no-linger"))
    return 0


def _did(*command: str) -> bool:
    try:
        done = subprocess.run(  # noqa: S603 - fixed words and the service manager's own path
            command, capture_output=True, timeout=PATIENCE_S, check=False
        )
    except (OSError, subprocess.TimeoutExpired):
        return False
    return done.returncode == 0


def what_sleep_means(times: Times) -> str:
    """Return what becomes of the morning on a machine that sleeps through it."""
    morning, until = (clock(each, BRITISH) for each in (times.morning, times.give_up))
    return BRITISH.say("installing.sleep", morning=morning, until=until)
