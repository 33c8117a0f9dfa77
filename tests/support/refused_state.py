"""Places of a store that an ordinary user cannot use, each made in a folder of the test's."""

from __future__ import annotations

import os
import shlex
import subprocess
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from support.used_store import NAME, fill, fill_and_kill

WAL = f"{NAME}-wal"
NOBODY = 65534
"""Somebody else than who runs the daemon."""
IS_ROOT = os.geteuid() == 0


@dataclass(frozen=True)
class Place:
    """A state folder made unusable; `make` returns the path that a refusal has to name.

    `theirs`: what of it belongs to somebody else. `mounted`: its file system is read-only.
    """

    name: str
    make: Callable[[Path], Path]
    theirs: tuple[str, ...] = ()
    mounted: bool = False


def used(state: Path) -> Path:
    """Return a store of some days' use."""
    fill(state / NAME)
    return state / NAME


def read_only_file(state: Path) -> Path:
    """Keep the user from writing the file."""
    path = used(state)
    path.chmod(0o444)
    return path


def read_only_folder(state: Path) -> Path:
    """Keep the user from making files beside it."""
    path = used(state)
    state.chmod(0o555)
    return path


def closed_folder(state: Path) -> Path:
    """Keep the user from looking into the folder."""
    used(state)
    state.chmod(0o000)
    return state


def parent_that_cannot_be_made(state: Path) -> Path:
    """Name a folder within one that cannot be written."""
    state.mkdir()
    state.chmod(0o555)
    return state / "deeper"


def folder_for_file(state: Path) -> Path:
    """Put a folder where the file belongs."""
    (state / NAME).mkdir(parents=True)
    return state / NAME


def file_for_folder(state: Path) -> Path:
    """Put a file where the folder belongs."""
    state.write_text("my notes\n", encoding="ascii")
    return state


def pipe_for_file(state: Path) -> Path:
    """Put a pipe where the file belongs; who opens it waits for ever."""
    state.mkdir()
    os.mkfifo(state / NAME)
    return state / NAME


def link_to_nowhere(state: Path) -> Path:
    """Let the folder be a link to a disk that is not there."""
    state.symlink_to(state.parent / "unplugged")
    return state


def used_folder(state: Path) -> Path:
    """Name the folder of a store of some days' use."""
    return used(state).parent


def with_changes(state: Path) -> Path:
    """Name the file with the last changes, which a command run by root leaves as its own."""
    fill_and_kill(state / NAME)
    return state / WAL


PLACES = (
    Place("file read-only", read_only_file),
    Place("folder read-only", read_only_folder),
    Place("folder closed", closed_folder),
    Place("mount read-only", used, mounted=True),
    Place("folder of somebody else", used_folder, theirs=("", NAME)),
    Place("file of somebody else", used, theirs=(NAME,)),
    Place("write-ahead file of somebody else", with_changes, theirs=(WAL,)),
    Place("parent that cannot be made", parent_that_cannot_be_made),
    Place("folder in the place of the file", folder_for_file),
    Place("file in the place of the folder", file_for_folder),
    Place("pipe in the place of the file", pipe_for_file),
    Place("link to nowhere in the place of the folder", link_to_nowhere),
)


def give_away(place: Place, state: Path) -> None:
    """Let somebody else own what is his."""
    for name in place.theirs:
        os.chown(state / name, NOBODY, NOBODY)


def may_be_made(place: Place) -> bool:
    """Return whether this user on this machine can make a place."""
    if place.mounted:
        done = subprocess.run(
            [*_APART, "mount -t tmpfs tmpfs /mnt"], capture_output=True, check=False
        )
        return done.returncode == 0
    return IS_ROOT or not place.theirs


def as_ordinary_user(place: Place, state: Path, words: Sequence[str]) -> list[str]:
    """Return a command that runs `words` without a privilege, where the place is.

    Root stays root by name, since who else may reach the interpreter is not known; without
    capabilities only owner and permissions count for it, as for every other user.
    """
    if place.mounted:
        folder = shlex.quote(str(state))
        mount = f"mount --bind {folder} {folder} && mount -o remount,bind,ro {folder}"
        return [*_APART, f"{mount} && exec {shlex.join([*_UNPRIVILEGED, *words])}"]
    return [*(_UNPRIVILEGED if IS_ROOT else ()), *words]


_APART = ("unshare", "--user", "--map-root-user", "--mount", "sh", "-c")
_UNPRIVILEGED = ("setpriv", "--bounding-set=-all", "--inh-caps=-all")
TOOLS = ("unshare", "setpriv")
"""Programs of util-linux that these tests need."""
