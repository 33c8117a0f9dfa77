"""What to do while work waits: of several reasons to wait, the gravest for each thing speaks.

A bale cannot be kept dry before a freeze and moist while it cools, nor young plants be taken under
a roof and put out by day. So each thing that needs care has one list, the gravest reason first, and
only the first that holds is told; see `INSTEAD`.

Decided 2026-11-26: Of several reasons to wait the gravest speaks, for bales, young plants and seed
each: a bale cannot be kept dry before a freeze and moist while it cools.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from enum import StrEnum

from strawbell.model.brief import Action, Instead, Reason, ReasonCode


class Thing(StrEnum):
    """What is cared for while work waits."""

    BALES = "bales"
    DRY_BALES = "dry-bales"
    """Never soaked: they are not moist, and the first soaking goes on in rain."""
    YOUNG_PLANTS = "young-plants"
    SEED = "seed"


INSTEAD: Mapping[Thing, Mapping[ReasonCode, tuple[Instead, ...]]] = {
    Thing.BALES: {
        ReasonCode.SELF_HEATING: (Instead.LET_COOL,),
        ReasonCode.FREEZE: (Instead.NO_WATER_BEFORE_FREEZE, Instead.DRAIN_HOSE),
        ReasonCode.HEAVY_RAIN: (Instead.LEAVE_TO_RAIN,),
        ReasonCode.TOO_HOT_INSIDE: (Instead.LET_COOL,),
        ReasonCode.NOT_READY: (Instead.LET_COOL,),
        ReasonCode.SHORT_OF_DAYS: (Instead.GIVE_TIME,),
    },
    Thing.DRY_BALES: {
        ReasonCode.FREEZE: (Instead.SOAK_AFTER_FREEZE, Instead.DRAIN_HOSE),
    },
    Thing.YOUNG_PLANTS: {
        ReasonCode.FROST: (Instead.SHELTER_SEEDLINGS,),
        ReasonCode.CHILLY_NIGHTS: (Instead.HARDEN_OFF,),
    },
    Thing.SEED: {
        ReasonCode.COLD_BED: (Instead.KEEP_SEED_DRY,),
        ReasonCode.FROST: (Instead.KEEP_SEED_DRY,),
    },
}
"""What is told of each thing, by the reason its work is held for, the gravest reason first.

A reason that is not here asks for nothing."""

PUT_IN: Mapping[Action, Thing] = {Action.PLANT: Thing.YOUNG_PLANTS, Action.SOW: Thing.SEED}
"""What work puts into the bales, and so has to be kept until it goes on."""


def instead_of(action: Action, holding: Iterable[Reason], *, soaked: bool) -> tuple[Instead, ...]:
    """Return what to do instead of held work: for each thing what its gravest reason asks."""
    held_for = {why.code for why in holding}
    things = [Thing.BALES if soaked else Thing.DRY_BALES]
    if action in PUT_IN:
        things.append(PUT_IN[action])
    return tuple(line for thing in things for line in _of_the_gravest(INSTEAD[thing], held_for))


def _of_the_gravest(
    lines: Mapping[ReasonCode, tuple[Instead, ...]], held_for: set[ReasonCode]
) -> tuple[Instead, ...]:
    return next((lines[code] for code in lines if code in held_for), ())
