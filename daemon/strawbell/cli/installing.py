"""For who installs it: `strawbell settings` lists what can be set, `unit` prints the unit.

The unit has the path of this installation filled in. `strawbell setup` installs and starts that of
the grower's own login, and says what sleep means.
"""

from __future__ import annotations

import argparse
import shutil
import subprocess
import sys
from collections.abc import Callable
from importlib.resources import files
from pathlib import Path

from strawbell.app.word import refusal
from strawbell.cli.main import print_json, text_width
from strawbell.config.places import config_path
from strawbell.edges.machine import replace_whole
from strawbell.model.garden import Times
from strawbell.words.catalogue import BRITISH
from strawbell.words.escaping import wrap

PLACEHOLDER = "@STRAWBELL@"
"""What stands in the shipped units for the path of the program."""
INSTANCE = "@INSTANCE@"
"""What stands in the system unit behind a folder of which each shard has its own."""
SERVICE = "[Service]"
UNIT = Path("~/.config/systemd/user/strawbell.service")
PATIENCE_S = 30.0
"""The service manager answers within a second; longer means that something hangs [s]."""


def unit(options: argparse.Namespace) -> int:
    """Print the unit."""
    print(unit_text(options.kind, options.config), end="")
    return 0


def unit_text(kind: str, configuration: Path | None = None) -> str:
    """Return the unit of a kind ("user", "system" or "shard") for this installation.

    A shard is a system unit with folders of its own, so the template has only its own head.

    A configuration is named in it where it is not the one that is found by itself.
    """
    program = shutil.which("strawbell", path=str(Path(sys.executable).parent)) or "strawbell"
    if configuration is not None and configuration.absolute() != config_path(None, {}):
        program = f'{program} "--config={configuration.absolute()}"'
    if kind == "shard":
        _, section, service = _shipped("strawbell-system.service").partition(SERVICE)
        text = _shipped("strawbell@.service") + section + service.replace(INSTANCE, "/%i")
    else:
        text = _shipped(f"strawbell-{kind}.service").replace(INSTANCE, "")
    return text.replace(PLACEHOLDER, program)


def _shipped(name: str) -> str:
    """Return a unit from the package, or from the checkout of an editable installation."""
    packaged = files("strawbell") / "units" / name
    if packaged.is_file():
        return packaged.read_text(encoding="utf-8")
    checkout = Path(__file__).resolve().parents[3] / "systemd" / name
    return checkout.read_text(encoding="utf-8")


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
    morning, until = (BRITISH.clock(each) for each in (times.morning, times.give_up))
    return BRITISH.say("installing.sleep", morning=morning, until=until)


def settings(options: argparse.Namespace) -> int:
    """Print the settings that have all the words in them."""
    # Here, not above: `unit` need not load every setting.
    from strawbell.config import example

    found = list(example.settings(options.words))
    if not found:
        raise refusal(BRITISH.say("written.no-setting"), "settings", " ".join(options.words))
    if options.json:
        rows = [
            {"name": name, "allowed": allowed, "meaning": said} for name, allowed, said in found
        ]
        print_json([{"version": 1, "settings": rows}])
        return 0
    for name, allowed, meaning in found:
        print(name)
        print(wrap(f"{allowed}.", "    ", width=text_width()))
        print(wrap(meaning, "    ", width=text_width()))
    return 0
