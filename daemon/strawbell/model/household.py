"""Who is told beside the grower, and whether the gardens of one household share their mails."""

from __future__ import annotations

from msgspec import Struct

BY_MAIL = "email"
"""The channel by which helpers are told, and answer."""


class Helper(Struct, frozen=True):
    """Somebody who looks after the bales now and then, and is told by mail.

    `gardens` are names, none for all of them. One with `only_water` is told of watering and of
    nothing else; one with `only_while_away` only on days on which nobody is in the garden.
    """

    address: str
    name: str = ""
    gardens: tuple[str, ...] = ()
    only_water: bool = True
    only_while_away: bool = True

    def is_told(self, garden: str, *, is_away: bool) -> bool:
        """Return whether the helper is told of a garden on a day."""
        return self.looks_after(garden) and (is_away or not self.only_while_away)

    def looks_after(self, garden: str) -> bool:
        """Return whether the helper is ever told of a garden."""
        return not self.gardens or garden in self.gardens


class Household(Struct, frozen=True):
    """How a household is told: in one mail for all gardens due together, or in one each."""

    merge: bool = True
    helpers: tuple[Helper, ...] = ()


APART = Household(merge=False)
"""Each garden for itself, and nobody else."""
