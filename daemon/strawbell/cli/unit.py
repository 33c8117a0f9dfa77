"""`strawbell unit`: the systemd unit, with the path of this installation filled in."""

from __future__ import annotations

import argparse
import shutil
import sys
from importlib.resources import files
from pathlib import Path

from strawbell.config.places import config_path

PLACEHOLDER = "@STRAWBELL@"
"""What stands in the shipped units for the path of the program."""
INSTANCE = "@INSTANCE@"
"""What stands in the system unit behind a folder of which each shard has its own."""
SERVICE = "[Service]"


def run(options: argparse.Namespace) -> int:
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
