"""A file is replaced whole, and who may read it is the grower's to say."""

from __future__ import annotations

import os
import stat
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from strawbell.edges.machine import replace_whole


@contextmanager
def umask(mask: int) -> Iterator[None]:
    """Work under another umask."""
    before = os.umask(mask)
    try:
        yield
    finally:
        os.umask(before)


def mode_of(path: Path) -> int:
    """Return the permissions of a file."""
    return stat.S_IMODE(path.stat().st_mode)


@pytest.mark.parametrize(
    ("mask", "mode"), [(0o022, 0o644), (0o027, 0o640), (0o077, 0o600), (0o000, 0o644)]
)
def test_a_new_file_has_what_the_umask_leaves(tmp_path: Path, mask: int, mode: int) -> None:
    with umask(mask):
        replace_whole(tmp_path / "season.html", b"page")
    assert mode_of(tmp_path / "season.html") == mode


@pytest.mark.parametrize("mode", [0o600, 0o640, 0o644])
def test_a_file_that_is_there_keeps_its_own_mode(tmp_path: Path, mode: int) -> None:
    path = tmp_path / "garden.ics"
    path.write_bytes(b"old")
    path.chmod(mode)
    with umask(0o027):
        replace_whole(path, b"new")
    assert (path.read_bytes(), mode_of(path)) == (b"new", mode)
    assert list(tmp_path.iterdir()) == [path]


def test_a_link_is_replaced_and_not_followed(tmp_path: Path) -> None:
    target, link = tmp_path / "target", tmp_path / "garden.ics"
    target.write_bytes(b"mine")
    link.symlink_to(target)
    replace_whole(link, b"new")
    assert (target.read_bytes(), link.is_symlink()) == (b"mine", False)
