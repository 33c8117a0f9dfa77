"""Gardens that stand in two shards of a club by mistake, and would be told twice.

A shard is a configuration in a folder of its own, beside those of the others in a folder called
`strawbell`. Only what stands in the files is looked at; what cannot be read is for the `check` of
that shard to say.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path

from strawbell.config.places import CONFIG_FILE, PROGRAM, garden_files
from strawbell.errors import Problem

SAME_PLACE_DECIMALS = 3
"""Coordinates that are equal to so many decimals are of one place: about 100 m."""


def twice(configuration: Path) -> tuple[Problem, ...]:
    """Return a note for each garden of a shard that also stands in one beside it."""
    others = _beside(configuration)
    own = {key: found for found in _gardens(configuration) for key in found[2]} if others else {}
    notes = {}
    for other in others:
        for _, file, keys in _gardens(other):
            for name, here, _ in (own[key] for key in keys if key in own):
                notes[name, file] = Problem(
                    what=f'the garden "{name}" stands in two shards, and each would tell it',
                    where=_shown(here),
                    found=f"it in {_shown(file)} too",
                    remedy="Leave it where its journal is, and take it out of the other.",
                )
    return tuple(notes.values())


def _beside(configuration: Path) -> tuple[Path, ...]:
    """Return the configurations of the other shards of this machine."""
    own = configuration.resolve().parent
    if own.parent.name != PROGRAM:
        return ()
    files = sorted(own.parent.glob(f"*/{CONFIG_FILE}"))
    return tuple(file for file in files if file.parent != own)


def _gardens(configuration: Path) -> Iterator[tuple[str, Path, tuple[object, ...]]]:
    """Yield name, file and what a garden is known by: its id, and its name and place."""
    import tomllib  # only where there are shards

    for file in (configuration, *garden_files(configuration)):
        # A name may be anything's: a pipe would be waited for.
        with suppress(OSError, ValueError, RecursionError):
            text = file.read_text(encoding="utf-8") if file.is_file() else ""
            gardens = tomllib.loads(text).get("gardens")
            for garden in gardens if isinstance(gardens, list) else ():
                if isinstance(garden, dict):
                    yield str(garden.get("name")), file, tuple(_known_by(garden))


def _known_by(garden: dict[str, object]) -> Iterator[object]:
    if garden.get("id") is not None:
        yield str(garden["id"])
    place = [garden.get("latitude"), garden.get("longitude")]
    degrees = [round(each, SAME_PLACE_DECIMALS) for each in place if isinstance(each, int | float)]
    if len(degrees) == len(place):
        yield (str(garden.get("name")), *degrees)


def _shown(path: Path) -> str:
    return "".join(letter if letter.isprintable() else "?" for letter in str(path))
