"""What a rule of the weather found: a standing with its reasons."""

from __future__ import annotations

from enum import StrEnum

from msgspec import Struct

from strawbell.model.brief import Reason


class Standing(StrEnum):
    """What a rule says."""

    REACHED = "reached"
    CLEAR = "clear"
    UNKNOWN = "unknown"


class Finding(Struct, frozen=True):
    """The standing of one rule; `reasons` carry the numbers, also of what is unknown."""

    standing: Standing
    reasons: tuple[Reason, ...] = ()

    @property
    def reached(self) -> bool:
        """Whether the threshold is reached by what is known."""
        return self.standing is Standing.REACHED


CLEAR = Finding(Standing.CLEAR)
"""Everything in the window is known and under the threshold."""
