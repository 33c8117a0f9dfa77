"""Replace a file at once: whoever reads it sees the old one or the new one, never half of it."""

from __future__ import annotations

import os
import stat
from pathlib import Path

READABLE = 0o644
"""What is mostly written here is there for other programs to read, as far as the umask lets them.
"""


def replace_whole(
    path: Path, content: bytes, *, mode: int = READABLE, is_synced: bool = True
) -> None:
    """Write beside it under a passing name, sync, rename; `OSError` leaves nothing behind.

    A new file has `mode` without what the umask takes away; one that is there keeps its own.
    Without the sync a power cut may leave it empty.
    """
    unfinished = path.with_name(f".{path.name}-{os.urandom(4).hex()}")
    flags = os.O_WRONLY | os.O_CREAT | os.O_EXCL | os.O_NOFOLLOW
    descriptor = os.open(unfinished, flags, mode)
    try:
        with os.fdopen(descriptor, "wb") as file:
            file.write(content)
            if is_synced:
                file.flush()
                os.fsync(file.fileno())
        if path.is_file() and not path.is_symlink():
            unfinished.chmod(stat.S_IMODE(path.stat().st_mode))
        unfinished.replace(path)
    except OSError:
        unfinished.unlink(missing_ok=True)
        raise
