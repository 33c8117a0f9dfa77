"""What the checks look at."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import date
from pathlib import Path as FilePath

from msgspec import Struct

from strawbell.config.gardens import BatchSection, GardenSection, PlantingSection
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
