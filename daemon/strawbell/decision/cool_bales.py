"""A bale that was fed and stays cool: why it may, what shows it, and what helps.

Only a probe tells: without a reading nobody knows. A reading before a bale could have risen says
nothing either, so it is held against what a bale that heats would have come to by then.

References:
[1] Growers' logs: lukewarm bales stood 3 to 15 K over the air, hot ones 20 to 42 K (weak data).
[2] Fungi and bacteria on straw do little under 10 C (Summers, Blunk and Jenkins, 2003).
[3] "The composting handbook", Table 4.2: 40 to 65 % moisture acceptable; above it air is short.
[4] Ammonia stops compost whose nitrogen is in excess (phase I of mushroom compost).
"""

from __future__ import annotations

from collections.abc import Iterator

from strawbell.agronomy.bale.balance import body_of
from strawbell.agronomy.bale.ensemble import held_l, hot_c, unbound_g
from strawbell.model.brief import Reason, ReasonCode
from strawbell.model.garden import Batch
from strawbell.season.bale_course import Course, Ledger

LUKEWARM_K = 10.0
"""Excess over the air up to which a bale is not called warm [K]: between the two kinds of [1]."""
BEHIND_K = 12.0
"""So far under what a bale that heats would have come to, a reading means something [K]: three
times what a reading errs by (design choice)."""
DRY_KG_PER_KG = 1.0
"""Water under which straw is too dry to rot well [kg/kg dry]: 50 %, the lower end of [3]."""
FULL_SHARE = 0.9
"""Share of all that a bale keeps from which its pores lack air (design choice)."""
COLD_C = 10.0
"""Mean air under which little lives [2]."""
WASHED_SHARE = 0.25
"""Share of what was given that is missed when it is gone (design choice)."""
SHARP_G_PER_L = 3.0
"""Unbound nitrogen in a bale's water that smells and stings [g/L] (design choice; [4])."""


def why_cool(
    batch: Batch, course: Course, ledger: Ledger | None, reading_c: float
) -> tuple[Reason, ...]:
    """Return why a bale with a reading may stay cool, the likeliest first, none where it does not.

    A dry core is always among them: no balance of water sees it.
    """
    cool = reading_c - _air_c(course) < LUKEWARM_K
    behind = hot_c(course.draws) - reading_c >= BEHIND_K
    return tuple(_causes(batch, course, ledger)) if cool and behind else ()


def _causes(batch: Batch, course: Course, ledger: Ledger | None) -> Iterator[Reason]:
    body, held = body_of(batch.bale), held_l(course.draws)
    dry = held < DRY_KG_PER_KG * body.dry_kg
    if dry:
        yield Reason(ReasonCode.DRY_CORE)
    if _air_c(course) < COLD_C:
        yield Reason(ReasonCode.COLD_AIR, round(_air_c(course), 1), COLD_C, "degC")
    if held >= FULL_SHARE * body.holds_l:
        yield Reason(ReasonCode.WATERLOGGED)
    if ledger is not None and ledger.leached_g.mean >= WASHED_SHARE * ledger.given_g > 0.0:
        yield Reason(ReasonCode.WASHED_AWAY, round(ledger.leached_g.mean), None, "g")
    if unbound_g(course.draws) >= SHARP_G_PER_L * held:
        yield Reason(ReasonCode.AMMONIA)
    if not dry:
        yield Reason(ReasonCode.DRY_CORE)


def _air_c(course: Course) -> float:
    return (course.low_c + course.high_c) / 2.0
