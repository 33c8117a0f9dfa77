"""Strawbell without its lock, as if something had taken it away: `unlocked.py WORDS...`."""

from __future__ import annotations

import sys

from strawbell.cli.main import run
from strawbell.edges.door import StateLock

if __name__ == "__main__":
    StateLock.acquire = lambda self: None  # type: ignore[method-assign]
    sys.exit(run(sys.argv[1:]))
