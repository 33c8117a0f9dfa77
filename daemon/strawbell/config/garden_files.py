"""Gardens in files of their own: `gardens.d/*.toml` beside the configuration, in order of name.

A club has a file a garden, or a file a street. They are read one by one and judged together, as if
all stood in one file; a mistake names the file it is in.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path as FilePath

from msgspec.structs import replace

from strawbell.config import reading as files
from strawbell.config.mistakes import Mistake, clean
from strawbell.config.outline import Path
from strawbell.config.places import GARDENS_FOLDER
from strawbell.config.reading import Reading

SECTION = "gardens"


def join(reading: Reading, path: FilePath) -> None:
    """Put the gardens of a file behind those that were read."""
    name = f"{GARDENS_FOLDER}/{clean(path.name)}"
    own = files.read(path)
    gardens = reading.data.setdefault(SECTION, [])
    more = own.data.pop(SECTION, [])
    if not isinstance(gardens, list):
        return
    if not isinstance(more, list):
        reading.mistakes.append(Mistake("gardens are tables of their own", file=name, line=1))
        more = []
    begins = len(gardens)
    gardens.extend(more)
    for number in range(begins, len(gardens)):
        reading.files[SECTION, number] = name
    for other in own.data:
        where = own.positions.lines.get((other,))
        reading.mistakes.append(
            Mistake(
                f"{clean(other)!r} has no place in a file of gardens",
                allowed="[[gardens]] and what belongs to them",
                remedy="Write it into config.toml.",
                file=name,
                line=where,
            )
        )
    for place, line in own.positions.lines.items():
        reading.positions.lines.setdefault(_behind(place, begins), line)
    for each in own.mistakes:
        reading.mistakes.append(replace(each, path=_behind(each.path, begins), file=name))
    reading.tainted |= set(_all_behind(own.tainted, begins))
    reading.doubtful |= set(_all_behind(own.doubtful, begins))
    reading.complete = reading.complete and own.complete


def _all_behind(places: set[Path], begins: int) -> Iterator[Path]:
    for place in places:
        yield _behind(place, begins)


def _behind(place: Path, begins: int) -> Path:
    """Return the path of a value of a later file among all gardens."""
    if len(place) > 1 and place[0] == SECTION and isinstance(place[1], int):
        return (SECTION, place[1] + begins, *place[2:])
    return place
