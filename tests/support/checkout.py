"""Where the checkout and the package lie."""

from __future__ import annotations

import subprocess
from functools import lru_cache
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
PACKAGE = ROOT / "daemon" / "strawbell"


@lru_cache(maxsize=1)
def modules() -> tuple[Path, ...]:
    """Return every module of the package."""
    return tuple(sorted(PACKAGE.rglob("*.py")))


def tracked_files() -> tuple[Path, ...]:
    """Return every file that git tracks, or every file where there is no git."""
    answer = subprocess.run(["git", "ls-files", "-z"], cwd=ROOT, capture_output=True, check=False)
    if answer.returncode == 0:
        return tuple(ROOT / name for name in answer.stdout.decode().split("\0") if name)
    return tuple(path for path in ROOT.rglob("*") if path.is_file() and ".venv" not in path.parts)
