"""A wheel of the checkout, as it would be released, and what is in it."""

from __future__ import annotations

import os
import subprocess
import sys
import zipfile
from pathlib import Path

from support.checkout import ROOT


def wheel_in(folder: Path, **environ: str) -> Path:
    """Return a wheel that is built into a folder."""
    build = [sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", str(folder)]
    subprocess.run(build, cwd=ROOT, check=True, capture_output=True, env={**os.environ, **environ})
    (built,) = folder.glob("*.whl")
    return built


def unpacked(wheel: Path, folder: Path) -> Path:
    """Return the folder for PYTHONPATH in which the content of a wheel lies now."""
    with zipfile.ZipFile(wheel) as parts:
        parts.extractall(folder)
    return folder
