"""Where a configuration lies, and what is done with it without the library that checks it.

* Where it is looked for when the grower does not say.
* Gardens that stand in two shards of a club by mistake, and would be told twice. A shard is a
  configuration in a folder of its own, beside those of the others in a folder called `strawbell`.
  Only what stands in the files is looked at; what cannot be read is for the `check` of that shard
  to say.
* Read in a process of its own: the libraries that check a configuration take more memory than all
  of an idle daemon; there they are gone when they have done their work. The answer comes back as
  plain values over a pipe that only the two processes see.

Every command loads this module; what only one of them needs is imported where it is needed.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator, Mapping
from contextlib import suppress
from pathlib import Path

from strawbell.errors import Defect, GrowerError, OperationalError, Problem
from strawbell.model.configuration import Configuration
from strawbell.words.catalogue import BRITISH

PROGRAM = "strawbell"
CONFIG_FILE = "config.toml"
CONFIG_VARIABLE = "STRAWBELL_CONFIG"
MACHINES_CONFIG = Path("/etc") / PROGRAM / CONFIG_FILE
"""The configuration of the system unit, which is everybody's who has none of their own."""

GARDENS_FOLDER = "gardens.d"
"""Where gardens lie in files of their own, beside the configuration."""
SAME_PLACE_DECIMALS = 3
"""Coordinates that are equal to so many decimals are of one place: about 100 m."""
READ_WITHIN_S = 300.0
"""A slow board needs seconds, thousands of gardens minutes; longer means that it hangs [s]."""


def config_path(path: Path | None, environ: Mapping[str, str]) -> Path:
    """Return the configuration file: the argument's, the variable's, the grower's, the machine's.

    Without any, that of the grower is returned, which is not there.
    """
    if path is not None:
        return path
    named = environ.get(CONFIG_VARIABLE)
    if named:
        return Path(named)
    own = _own("XDG_CONFIG_HOME", ".config", environ) / CONFIG_FILE
    return MACHINES_CONFIG if not own.exists() and MACHINES_CONFIG.exists() else own


def kept_folder(environ: Mapping[str, str]) -> Path:
    """Return where checked configurations are kept: beside the grower's store, or a unit's."""
    folder = environ.get("STATE_DIRECTORY", "").split(":")[0]
    state = Path(folder) if folder else own_state(environ)
    return state / "checked"


def own_state(environ: Mapping[str, str]) -> Path:
    """Return the folder of a grower's own stores."""
    return _own("XDG_STATE_HOME", ".local/state", environ)


def _own(variable: str, usual: str, environ: Mapping[str, str]) -> Path:
    """Return our folder in one of the base directories (XDG Base Directory Specification 0.8).

    What is not an absolute path in the variable is passed over, as it says.
    """
    named = Path(environ.get(variable, ""))
    return (named if named.is_absolute() else Path.home() / usual) / PROGRAM


def garden_files(configuration: Path) -> tuple[Path, ...]:
    """Return the files of gardens that belong to a configuration, in order of name."""
    folder = configuration.parent / GARDENS_FOLDER
    return tuple(sorted(folder.glob("*.toml"))) if folder.is_dir() else ()


def twice(configuration: Path) -> tuple[Problem, ...]:
    """Return a note for each garden of a shard that also stands in one beside it."""
    others = _beside(configuration)
    own = {key: found for found in _gardens(configuration) for key in found[2]} if others else {}
    notes = {}
    for other in others:
        for _, file, keys in _gardens(other):
            for name, here, _ in (own[key] for key in keys if key in own):
                notes[name, file] = Problem(
                    what=BRITISH.say("mistake.in-two-shards.what", name=name),
                    where=_shown(here),
                    found=BRITISH.say("mistake.in-two-shards.found", other=_shown(file)),
                    remedy=BRITISH.say("mistake.in-two-shards.remedy"),
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


def read_apart(path: Path | None) -> Configuration:
    """Return the checked configuration; raise `GrowerError` with every mistake in it."""
    import pickle
    import subprocess

    try:
        child = subprocess.run(  # noqa: S603 - our own module, no shell
            [sys.executable, "-m", "strawbell.config.places", str(path or "")],
            stdout=subprocess.PIPE,
            stdin=subprocess.DEVNULL,
            timeout=READ_WITHIN_S,
            # Ctrl-C is for us; we end the child.
            start_new_session=True,
            check=False,
        )
    except subprocess.TimeoutExpired as error:
        slow = BRITISH.say("configuration.too-slow", seconds=READ_WITHIN_S)
        raise OperationalError(slow) from error
    if child.returncode != 0:
        raise Defect(f"reading the configuration ended with code {child.returncode}")
    answer = pickle.loads(child.stdout)  # noqa: S301 - written by our own child just now
    if isinstance(answer, Configuration):
        return answer
    raise GrowerError(answer)


def main(arguments: list[str]) -> int:
    """Write the configuration, or the problems in it, to the pipe."""
    import pickle

    from strawbell.config.load import read_plain

    path = Path(arguments[0]) if arguments and arguments[0] else None
    answer: object
    try:
        answer = read_plain(path, os.environ)
    except GrowerError as error:
        answer = error.problems
    sys.stdout.buffer.write(pickle.dumps(answer))
    return 0


if __name__ == "__main__":
    import signal

    # Who asked may have been stopped meanwhile; then nobody wants the answer, nor a traceback.
    signal.signal(signal.SIGPIPE, signal.SIG_DFL)
    sys.exit(main(sys.argv[1:]))
