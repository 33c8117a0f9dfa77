"""The configuration that a command works with, checked, and kept from one command to the next.

Checking takes ten times what a command needs otherwise, and mostly nothing has changed. What is
kept is found again only where all that it came of is the same: program, file, environment and day,
and a password file by what the system tells of it. It holds no secret, and is made anew on any
doubt; nothing is lost with it.
"""

from __future__ import annotations

import argparse
import hashlib
import os
import pickle
import stat
from collections.abc import Iterator, Mapping
from contextlib import suppress
from datetime import UTC, date, datetime
from pathlib import Path
from typing import TypeVar

from msgspec import Struct
from msgspec.structs import replace

from strawbell.cli.early_signals import loading
from strawbell.config.places import config_path, garden_files, kept_folder
from strawbell.edges.whole_file import replace_whole
from strawbell.errors import GrowerError
from strawbell.model.configuration import Configuration, Discreet
from strawbell.wiring import build

PRIVATE = 0o600
OTHERS_MAY_WRITE = stat.S_IWGRP | stat.S_IWOTH
S = TypeVar("S", bound=Struct)


def read_configuration(options: argparse.Namespace) -> Configuration:
    """Return the configuration without its secrets; mistakes are raised all at once.

    What is only odd in it is said by `check` and `run`: with every command it would be nagging.
    """
    return read_kept(options.config, os.environ)


def able_to_send(configuration: Configuration) -> Configuration:
    """Return a configuration with which notices can be sent; raise `GrowerError` otherwise."""
    if configuration.missing_secrets:
        raise GrowerError(configuration.missing_secrets)
    return configuration


def read_kept(
    path: Path | None, environ: Mapping[str, str], today: date | None = None
) -> Configuration:
    """Return the checked configuration without its secrets, for what reads and records.

    Raises `GrowerError` with every mistake, as `strawbell.config.plain.read_plain` does.
    """
    chosen = config_path(path, environ)
    key = _key(chosen, environ, today or datetime.now(UTC).date())
    place = kept_folder(environ) / f"{hashlib.sha256(os.fsencode(chosen.absolute())).hexdigest()}"
    found = None if key is None else _find(place, key)
    if found is not None:
        return found
    # Here, not above: the libraries that check are what is saved.
    with loading():
        from strawbell.config.plain import read_plain

    made = without_secrets(read_plain(path, environ))
    if key is not None:
        with suppress(OSError):
            place.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
            looks = tuple((each, _look(each)) for each in made.rests_on)
            replace_whole(place, pickle.dumps((key, looks, made)), mode=PRIVATE)
    return made


def without_secrets(settings: S) -> S:
    """Return settings without those of theirs that are in no representation."""
    secret = settings.secrets if isinstance(settings, Discreet) else ()
    changed: dict[str, object] = dict.fromkeys(secret)
    for name in settings.__struct_fields__:
        value = getattr(settings, name)
        if isinstance(value, Struct):
            changed[name] = without_secrets(value)
    return replace(settings, **changed)


def _key(path: Path, environ: Mapping[str, str], today: date) -> bytes | None:
    """Return a digest of all that a configuration comes of, None where it cannot be told."""
    if "CREDENTIALS_DIRECTORY" in environ:
        return None  # a unit reads it once; nothing is saved by keeping it
    try:
        content, about = path.read_bytes(), path.stat()
        gardens = [part for each in garden_files(path)
                   for part in (os.fsdecode(each.name), each.read_bytes())]  # fmt: skip
    except OSError:
        return None
    parts: tuple[str | bytes, ...] = (
        build(("model", "config")), os.fsdecode(path.absolute()), today.isoformat(), content,
        f"{about.st_mode} {about.st_uid}", *gardens, *_variables(environ),
    )  # fmt: skip
    digest = hashlib.sha256()
    for part in parts:
        text = part if isinstance(part, bytes) else part.encode("utf-8", "surrogateescape")
        digest.update(len(text).to_bytes(8, "big") + text)
    return digest.digest()


def _variables(environ: Mapping[str, str]) -> Iterator[str]:
    for name in sorted(environ):
        if name.upper().startswith("STRAWBELL_") or name in ("STATE_DIRECTORY", "HOME"):
            yield f"{name}={environ[name]}"


def _find(place: Path, key: bytes) -> Configuration | None:
    """Return what was kept under a key; None where there is any doubt about it."""
    try:
        descriptor = os.open(place, os.O_RDONLY | os.O_NOFOLLOW)
        with os.fdopen(descriptor, "rb") as file:
            about = os.fstat(file.fileno())
            if about.st_uid != os.geteuid() or about.st_mode & OTHERS_MAY_WRITE:
                return None  # somebody else could have put anything there
            kept = pickle.load(file)  # noqa: S301 - our own, and nobody else may write it
    except Exception:
        return None
    match kept:
        case (bytes() as under, tuple() as looks, made) if under == key:
            unchanged = all(_look(path) == before for path, before in looks)
            return made if unchanged else None
    return None


def _look(path: str) -> tuple[int, ...] | None:
    """Return what tells a file from another or a changed one, None where there is none."""
    try:
        about = Path(path).stat()
    except OSError:
        return None
    same = about.st_dev, about.st_ino, about.st_mode, about.st_uid, about.st_gid
    return *same, about.st_size, about.st_mtime_ns, about.st_ctime_ns
