"""Start and size of the process, as ratios to bare ones measured in the same run."""

from __future__ import annotations

import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from support.daemon_process import Setup, wait_until
from support.forecast_server import FakeOpenMeteo, calm
from support.speed import figure
from support.yardstick import median_s

ROUNDS = 15
VERSION_OF_BARE = 3.0
"""`strawbell --version` may take this many bare interpreter starts."""
MEMORY_OF_BARE = 1.3
"""The idle daemon may take this much of a bare process with the four libraries."""
GOAL = "1, **missed**: our own code, the CLDR library and that of the values"
SETTLE_S = 2.0

BARE_FOUR = """
import signal, sys
import requests, pydantic_settings, jinja2
from apscheduler.schedulers.background import BackgroundScheduler
scheduler = BackgroundScheduler(timezone="UTC")
scheduler.add_job(print, "interval", hours=1)
scheduler.start()
print("ready", flush=True)
signal.pause()
"""

pytestmark = pytest.mark.benchmark


def median_start_s(*line: str) -> float:
    """Return the median duration of a whole process [s]."""
    return median_s(lambda: subprocess.run(line, check=True, capture_output=True), ROUNDS)


def memory_kib(pid: int) -> int:
    """Return the resident memory of a process [KiB], from the kernel's own accounting."""
    for line in Path(f"/proc/{pid}/status").read_text(encoding="ascii").splitlines():
        if line.startswith("VmRSS:"):
            return int(line.split()[1])
    raise AssertionError("the kernel gives no VmRSS")


def test_the_version_comes_within_three_bare_starts() -> None:
    """Nothing heavy is imported to say the version."""
    bare_s = median_start_s(sys.executable, "-c", "pass")
    version_s = median_start_s(sys.executable, "-m", "strawbell", "--version")
    help_s = median_start_s(sys.executable, "-m", "strawbell", "--help")
    starts = "starts of a bare interpreter"
    figure("`strawbell --version`", version_s / bare_s, starts, most=VERSION_OF_BARE)
    figure("`strawbell --help`", help_s / bare_s, starts)


def test_the_idle_daemon_is_not_much_larger_than_its_libraries(tmp_path: Path) -> None:
    """After its first brief from a real forecast, written to the folder."""
    bare = subprocess.Popen([sys.executable, "-c", BARE_FOUR], stdout=subprocess.PIPE, text=True)
    assert bare.stdout is not None
    assert bare.stdout.readline() == "ready\n"
    with FakeOpenMeteo(calm) as service:
        daemon = Setup(tmp_path, service.base_url).start()
        assert wait_until(lambda: any((tmp_path / "state").glob("notices/*.eml")))
        time.sleep(SETTLE_S)
        bare_kib, daemon_kib = memory_kib(bare.pid), memory_kib(daemon.pid)
        daemon.send_signal(signal.SIGTERM)
        daemon.communicate()
    bare.kill()
    bare.communicate()
    ratio = daemon_kib / bare_kib
    figure("memory of an idle daemon", daemon_kib / 1024, "MiB")
    what = "memory of an idle daemon beside a bare process with the four libraries"
    figure(what, ratio, "times", most=MEMORY_OF_BARE, goal=GOAL)
