"""How commands write a file: whole or not at all."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path

from strawbell.errors import GrowerError, Problem


def write_whole(path: Path, content: bytes, what: str) -> None:
    """Replace the file at once, so that a program that reads it never sees half of it.

    `what` is what a failure is said about, such as "the calendar".
    """
    try:
        descriptor, name = tempfile.mkstemp(dir=path.parent or ".", prefix=f".{path.name}-")
        with os.fdopen(descriptor, "wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        Path(name).chmod(0o644)
        Path(name).replace(path)
    except OSError as error:
        raise GrowerError(
            Problem(
                what=f"{what} cannot be written: {error.strerror}",
                where=str(path),
                remedy="Name a file in a folder you may write to.",
            )
        ) from error
