"""The journal: rows that are only ever added."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime
from enum import StrEnum

from msgspec import Struct, field


class EntryKind(StrEnum):
    """What a journal row says."""

    TOLD = "told"
    """A task told to the grower; `state` is due or held. One row a task and told date."""
    TAKEN_BACK = "taken-back"
    """A told task changed during the day; `state` is what holds from now on."""
    ALERT = "alert"
    """An alert told; `task` is its key, `state` "told" or "passed"."""
    DONE = "done"
    MISSED = "missed"
    TEMPERATURE = "temperature"
    """A probe reading; `value` in degC."""
    NOTE = "note"
    HARVEST = "harvest"
    """`value` in kg when weighed."""
    COST = "cost"
    RAIN = "rain"
    """What the grower's own gauge showed for a local date; `value` in mm."""
    LOW = "low"
    """The lowest temperature of a local date by the grower's own thermometer; `value` in degC."""
    AWAY = "away"
    """Nobody is in the garden from `local_date` to the date in `text`, both included; a later row
    from the same date says another end, and one that ends before it begins that nobody goes."""
    UNDONE = "undone"
    """A row of the grower's that is taken back; `data` says which."""
    BRIEF = "brief"
    """The brief of a local date as it was told, whole, in `data`."""
    WEATHER = "weather"
    """The weather of a local date in `data`: as its morning expected it, then as it came."""
    EVENING = "evening"
    """The evening of a local date was looked at, and a note told where there was one."""
    NOT_TOLD = "not-told"
    """A local date on which nothing could be told, and why."""
    DELIVERY = "delivery"
    """What became of a notice."""
    KNOWN = "known"
    """What a garden and its batches are known by, in `data`; `garden` is its key."""
    SERVICE = "service"
    """Something of the daemon's own: forecast outage, clock jump, restored store."""


class JournalEntry(Struct, frozen=True):
    """One row; nothing is ever edited or deleted, a correction is a new row.

    `at` in UTC is when the row was written or, with ``--at``, is meant to count; `local_date`
    is the garden's date it belongs to.
    """

    at: datetime
    garden: str
    local_date: date
    kind: EntryKind
    batch: str | None = None
    task: str | None = None
    state: str | None = None
    value: float | None = None
    text: str = ""
    data: Mapping[str, object] = field(default_factory=dict)


GROWERS_KINDS = frozenset(
    {
        EntryKind.DONE,
        EntryKind.MISSED,
        EntryKind.TEMPERATURE,
        EntryKind.NOTE,
        EntryKind.HARVEST,
        EntryKind.COST,
        EntryKind.RAIN,
        EntryKind.LOW,
        EntryKind.AWAY,
        EntryKind.UNDONE,
    }
)
"""The grower's own words; their moment may be chosen, so it does not show what the clock said."""


def crops_kept(data: Mapping[str, object]) -> tuple[str, ...]:
    """Return the crops that the data of a row are about, none where none were kept.

    Rows of an older version have all of them in one text, which is left as it is.
    """
    crops, written = data.get("crops"), data.get("crop")
    if isinstance(crops, (list, tuple)):
        return tuple(map(str, crops))
    return (written,) if isinstance(written, str) else ()


PLANNERS_PARTS = ("weather", "preparing", "week")
"""What later mornings rest on of a brief that was told. The store keeps it beside the whole brief,
so that no brief is unpacked for it; a part more needs a migration that fills it in."""


def planners_part(data: Mapping[str, object]) -> dict[str, object]:
    """Return what later mornings rest on of the data of a brief."""
    return {name: data[name] for name in PLANNERS_PARTS if name in data}


Journal = tuple[JournalEntry, ...]
"""All rows of one garden, oldest first."""
