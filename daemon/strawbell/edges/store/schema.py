"""The layout of the store, as numbered steps; `layout.sql` holds their statements."""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import cache
from pkgutil import get_data

from msgspec import Struct

APPLICATION_ID = 0x53424C31
"""Marks a database as a Strawbell store ("SBL1"), so that no other program's is ever touched."""
TOUCH = "UPDATE identity SET touched = touched + 1"
"""Puts the identity into the write-ahead file, so that a file of another store is recognised."""
PLANNED_OF = "planned_of"
"""The function of ours that one of the statements calls: `strawbell.edges.store.rows.planned_of`.
"""
NEWEST_VERSION = 6
"""The number of the last step."""
_STEP = re.compile(r"^-- (\d+): .*$", re.MULTILINE)


class Migration(Struct, frozen=True):
    """One step from version `number` - 1 to `number`."""

    number: int
    statements: tuple[str, ...]


@cache
def migrations() -> tuple[Migration, ...]:
    """Return all steps, oldest first; only a store that lacks one has to read them."""
    return tuple(_steps((get_data(__package__, "layout.sql") or b"").decode()))


def _steps(text: str) -> Iterator[Migration]:
    _, *parts = _STEP.split(text)
    for number, statements in zip(parts[::2], parts[1::2], strict=True):
        yield Migration(int(number), tuple(statements.strip().split("\n\n")))
