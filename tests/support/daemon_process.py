"""A real Strawbell process over loopback: configuration written, started, watched, stopped."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path

DAYTIME_HOUR = 12
PATIENCE_S = 60.0
"""How long a test waits for something to happen, in small steps; never a measure of speed."""


def zone_where_it_is_noon(now: datetime) -> str:
    """Return a fixed zone of the tz database where it is about noon, between 00:30 and 23:30."""
    offset = DAYTIME_HOUR - now.astimezone(UTC).hour
    return f"Etc/GMT{-offset:+d}" if offset else "Etc/GMT"


@dataclass
class Setup:
    """A garden on its fifth conditioning day, in a zone where it is about noon."""

    folder: Path
    forecast_url: str = "http://127.0.0.1:9"
    smtp_port: int | None = None
    extra: str = ""
    day: int = 5
    environ: dict[str, str] = field(default_factory=dict)
    under: tuple[str, ...] = ()
    """A command that starts the daemon in its stead, such as a tracer."""

    def __post_init__(self) -> None:
        now = datetime.now(UTC)
        self.zone = zone_where_it_is_noon(now)
        offset = timedelta(hours=DAYTIME_HOUR - now.hour)
        self.today = (now + offset).date()
        self.write()

    @property
    def config(self) -> Path:
        """The configuration file."""
        return self.folder / "config.toml"

    def write(self, text: str | None = None) -> None:
        """Write the configuration, or other text in its place."""
        start = self.today - timedelta(days=self.day - 1)
        mail = ""
        if self.smtp_port is not None:
            mail = (
                f'[email]\nhost = "127.0.0.1"\nport = {self.smtp_port}\nsecurity = "none"\n'
                'recipients = ["grower@example.org"]\n'
            )
        self.config.write_text(
            text
            if text is not None
            else f"""
[[gardens]]
name = "Orchard corner"
latitude = 47.05
longitude = 8.31
time_zone = "{self.zone}"
  [[gardens.batches]]
  name = "Row A"
  bales = 6
  start_on = {start.isoformat()}
  feed = "Blood meal"
[times]
morning = 00:00:00
evening = 23:58:00
quiet_from = 23:59:00
quiet_to = 00:00:00
give_up = 23:59:00
[weather]
sources = ["open-meteo"]
[weather.base_urls]
open-meteo = "{self.forecast_url}"
[state]
path = "{self.folder / "state"}"
{mail}
{self.extra}
""",
            encoding="utf-8",
        )

    def command(self, *arguments: str) -> subprocess.CompletedProcess[str]:
        """Run one command to its end."""
        return subprocess.run(
            self._line(*arguments),
            capture_output=True,
            text=True,
            check=False,
            timeout=60,
            env=self._environment(),
        )

    def today_json(self, *arguments: str) -> dict[str, object]:
        """Return what `today --json` prints."""
        answer = self.command("today", "--json", *arguments)
        assert answer.returncode == 0, answer.stderr
        read: dict[str, object] = json.loads(answer.stdout)
        return read

    def start(self, command: str = "run") -> subprocess.Popen[str]:
        """Start the daemon, or another command."""
        return subprocess.Popen(
            [*self.under, *self._line(command)],
            stderr=subprocess.PIPE,
            stdout=subprocess.DEVNULL,
            text=True,
            env=self._environment(),
        )

    def _line(self, *arguments: str) -> list[str]:
        return [sys.executable, "-m", "strawbell", "--config", str(self.config), *arguments]

    def _environment(self) -> dict[str, str]:
        kept = {key: value for key, value in os.environ.items() if "STRAWBELL" not in key}
        return {**kept, "RUNTIME_DIRECTORY": str(self.folder / "runtime"), **self.environ}


def wait_until(happened: Callable[[], bool]) -> bool:
    """Wait in small steps until something has happened; False when it does not."""
    seconds_until(happened, PATIENCE_S)
    return happened()


def seconds_until(happened: Callable[[], bool], patience_s: float) -> float:
    """Return how long something took to happen, about the patience when it did not [s]."""
    began = time.monotonic()
    while not happened() and time.monotonic() - began < patience_s:
        time.sleep(0.05)
    return time.monotonic() - began


def stop(process: subprocess.Popen[str], how: signal.Signals = signal.SIGTERM) -> tuple[int, str]:
    """End a daemon and return its exit code and what it said."""
    process.send_signal(how)
    try:
        _, said = process.communicate(timeout=PATIENCE_S)
    except subprocess.TimeoutExpired:
        process.kill()
        _, said = process.communicate()
    return process.returncode, said
