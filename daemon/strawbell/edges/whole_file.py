"""Replace a file at once: whoever reads it sees the old one or the new one, never half of it."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path

READABLE = 0o644
"""What is mostly written here is there for other programs to read."""


def replace_whole(path: Path, content: bytes, *, mode: int = READABLE) -> None:
    """Write beside it under a passing name, sync, rename; `OSError` leaves nothing behind."""
    descriptor, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}-")
    unfinished = Path(name)
    try:
        with os.fdopen(descriptor, "wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        unfinished.chmod(mode)
        unfinished.replace(path)
    except OSError:
        unfinished.unlink(missing_ok=True)
        raise
