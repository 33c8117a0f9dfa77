"""A disk of a few hundred KiB: a file system in memory that only one process tree sees."""

from __future__ import annotations

import contextlib
import shlex
import shutil
import subprocess
from pathlib import Path

import pytest

BALLAST = "ballast"
CHUNKS_BYTES = (65536, 4096, 512, 1)


def on_a_disk_of(size_kib: int, folder: Path, words: list[str]) -> list[str]:
    """Return a command that runs `words` with a disk of that size at `folder`, or skip."""
    program = shutil.which("unshare")
    if program is None:
        pytest.skip("unshare is not installed")
    mount = f"mount -t tmpfs -o size={size_kib}k tmpfs {shlex.quote(str(folder))}"
    apart = [program, "--user", "--map-root-user", "--mount", "sh", "-c"]
    if subprocess.run([*apart, mount], capture_output=True, check=False).returncode != 0:
        pytest.skip("this machine allows no file system of one's own")
    return [*apart, f"{mount} && exec {shlex.join(words)}"]


def fill_up(folder: Path) -> None:
    """Leave not a byte free on the disk of a folder."""
    with (folder / BALLAST).open("ab", buffering=0) as file:
        for size in CHUNKS_BYTES:
            with contextlib.suppress(OSError):
                while True:
                    file.write(b"x" * size)


def make_room(folder: Path) -> None:
    """Take away what filled the disk."""
    (folder / BALLAST).unlink(missing_ok=True)
