"""`strawbell unit`: the systemd unit, with the path of this installation filled in."""

from __future__ import annotations

import argparse
import shutil
import sys
from importlib.resources import files
from pathlib import Path

PLACEHOLDER = "@STRAWBELL@"
"""What stands in the shipped units for the path of the program."""


def run(options: argparse.Namespace) -> int:
    """Print the unit."""
    unit = _shipped(f"strawbell-{options.kind}.service")
    program = shutil.which("strawbell", path=str(Path(sys.executable).parent)) or "strawbell"
    print(unit.replace(PLACEHOLDER, program), end="")
    return 0


def _shipped(name: str) -> str:
    """Return a unit from the package, or from the checkout of an editable installation."""
    packaged = files("strawbell") / "units" / name
    if packaged.is_file():
        return packaged.read_text(encoding="utf-8")
    checkout = Path(__file__).resolve().parents[3] / "systemd" / name
    return checkout.read_text(encoding="utf-8")
