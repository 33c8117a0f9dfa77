"""Install and start the unit of the grower's own login, and say what a sleeping machine means."""

from __future__ import annotations

import shutil
import subprocess
from collections.abc import Callable
from pathlib import Path

from strawbell.cli.unit import unit_text
from strawbell.edges.whole_file import replace_whole
from strawbell.model.garden import Times

UNIT = Path("~/.config/systemd/user/strawbell.service")
PATIENCE_S = 30.0
"""The service manager answers within a second; longer means that something hangs [s]."""
PORTABLE = (
    "No service manager of your login answers here. Let whatever starts programs at set times run"
    " `strawbell run --once` every quarter of an hour; it does what is due and ends."
)


def install(tell: Callable[[str], None], configuration: Path) -> int:
    """Write the unit, start it, and let it run while nobody is logged in; return the exit code."""
    manager = shutil.which("systemctl")
    if manager is None or not _did(manager, "--user", "show-environment"):
        tell(PORTABLE)
        return 0
    path = UNIT.expanduser()
    path.parent.mkdir(parents=True, exist_ok=True)
    if not path.exists():
        replace_whole(path, unit_text("user", configuration).encode())
    started = _did(manager, "--user", "daemon-reload") and _did(
        manager, "--user", "enable", "--now", "strawbell.service"
    )
    if not started:
        tell(
            f"The unit is in {path}, but it did not start; `systemctl --user status strawbell`"
            " says why."
        )
        return 1
    tell(f"It runs. The unit is {path}; `systemctl --user status strawbell` shows it.")
    lingering = shutil.which("loginctl")
    if lingering is None or not _did(lingering, "enable-linger"):
        tell("It stops when you log out, until an administrator allows `loginctl enable-linger`.")
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
    return (
        f"The morning comes at {times.morning:%H:%M}. A machine that sleeps then tells you when it"
        f" wakes, until {times.give_up:%H:%M}; after that the day is lost. A small board that is"
        " always on is best; else put [times] morning where your machine is awake."
    )
