"""What the checks look at, and how they say what they find.

What can be found stands in `findings.toml`, one table for each: what is wrong, what is allowed,
what to do, and whether it is only worth a look. It is read when there is something to tell.
"""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Iterable, Iterator, Mapping
from datetime import date
from functools import cache
from importlib.resources import files
from pathlib import Path as FilePath
from typing import Any

from msgspec import Struct

from strawbell.config.gardens import BatchSection, GardenSection, PlantingSection
from strawbell.config.mistakes import Mistake
from strawbell.config.outline import Path
from strawbell.config.reading import Readers
from strawbell.config.schema import Settings
from strawbell.config.supplies_at_hand import Supplies


class Context(Struct, frozen=True):
    """The settings, what they can name, today, and facts about the file.

    `file_holds_password` is true when the password stands in the file itself; `readers` are
    the others who may read that file; relative paths count from `folder`.
    """

    settings: Settings
    supplies: Supplies
    today: date
    folder: FilePath
    readers: Readers | None = None
    file_holds_password: bool = False
    doubtful: Callable[[tuple[Path, ...]], bool] = lambda _: False
    """Whether values at these paths are wrong themselves and stand for something unknown."""

    def gardens(self) -> Iterator[tuple[Path, GardenSection]]:
        """Yield every garden with its path."""
        for number, garden in enumerate(self.settings.gardens):
            yield ("gardens", number), garden

    def batches(self) -> Iterator[tuple[Path, BatchSection]]:
        """Yield every batch with its path."""
        for path, garden in self.gardens():
            for number, batch in enumerate(garden.batches):
                yield (*path, "batches", number), batch

    def plantings(self) -> Iterator[tuple[Path, BatchSection, PlantingSection]]:
        """Yield every planting with its path and its batch."""
        for path, batch in self.batches():
            for number, planting in enumerate(batch.plantings):
                yield (*path, "plantings", number), batch, planting

    def names_in(self, section: str) -> tuple[Path, ...]:
        """Return the paths of the names of the grower's own entries of a section."""
        count = len(getattr(self.settings, section))
        return tuple((section, number, "name") for number in range(count))


def finding(
    name: str, path: Path, found: str = "", *, reads: Iterable[str | Path] = (), **places: object
) -> Mistake:
    """Return a finding of the table at a path, with what stands in its `{places}`.

    It rests on the value at the path and on those that it `reads`; one given by its key alone
    stands in the same table. It is not told where one of them is wrong itself.
    """
    said = _findings()[name]
    texts = {key: said.get(key, "").format(**places) for key in ("what", "allowed", "remedy")}
    rests_on = tuple((*path[:-1], each) if isinstance(each, str) else each for each in reads)
    is_warning = said.get("warning", False)
    return Mistake(path=path, found=found, warning=is_warning, reads=rests_on, **texts)


@cache
def _findings() -> Mapping[str, Mapping[str, Any]]:
    table = files("strawbell.config").joinpath("findings.toml")
    return tomllib.loads(table.read_text(encoding="utf-8"))
