"""What is told to do while work waits, where it waits for several reasons."""

from __future__ import annotations

import pytest

from strawbell.decision.hold_judgement import INSTEAD, Thing, instead_of
from strawbell.model.brief import Action, Instead, Reason, ReasonCode


def told(action: Action, *codes: ReasonCode, soaked: bool = True) -> tuple[Instead, ...]:
    """Return what is told instead of work held for some reasons."""
    return instead_of(action, (Reason(code) for code in codes), soaked=soaked)


def test_before_a_freeze_no_water_and_a_drained_hose() -> None:
    """A hose full of ice bursts."""
    freeze = (Instead.NO_WATER_BEFORE_FREEZE, Instead.DRAIN_HOSE)
    assert told(Action.FEED, ReasonCode.FREEZE) == freeze


def test_a_bale_that_was_never_soaked_is_not_called_moist() -> None:
    """Its soaking waits for the freeze, and does not wait for rain."""
    dry = (Instead.SOAK_AFTER_FREEZE, Instead.DRAIN_HOSE)
    assert told(Action.FEED, ReasonCode.FREEZE, soaked=False) == dry
    assert told(Action.FEED, ReasonCode.HEAVY_RAIN, soaked=False) == ()


@pytest.mark.parametrize(
    ("codes", "line"),
    [
        ((ReasonCode.HEAVY_RAIN, ReasonCode.SELF_HEATING), Instead.LET_COOL),
        ((ReasonCode.FREEZE, ReasonCode.SELF_HEATING), Instead.LET_COOL),
        ((ReasonCode.HEAVY_RAIN, ReasonCode.FREEZE), Instead.NO_WATER_BEFORE_FREEZE),
        ((ReasonCode.TOO_HOT_INSIDE, ReasonCode.FREEZE), Instead.NO_WATER_BEFORE_FREEZE),
        ((ReasonCode.NOT_READY, ReasonCode.TOO_HOT_INSIDE), Instead.LET_COOL),
    ],
)
def test_of_bales_the_gravest_reason_speaks(codes: tuple[ReasonCode, ...], line: Instead) -> None:
    """Water and no water are never told of the same bale, in whatever order the reasons come."""
    for order in (codes, codes[::-1]):
        lines = told(Action.FEED, *order)
        assert lines[0] is line
        assert set(lines) <= {line, Instead.DRAIN_HOSE}


def test_young_plants_are_under_a_roof_or_out_by_day_but_not_both() -> None:
    """A frost goes before chilly nights."""
    both = (ReasonCode.FROST, ReasonCode.CHILLY_NIGHTS)
    assert told(Action.PLANT, *both) == (Instead.SHELTER_SEEDLINGS,)
    assert told(Action.PLANT, ReasonCode.CHILLY_NIGHTS) == (Instead.HARDEN_OFF,)


def test_seed_is_kept_dry_and_not_taken_under_a_roof() -> None:
    """Nothing stands in pots where seed is sown into the bale."""
    both = (ReasonCode.FROST, ReasonCode.COLD_BED)
    assert told(Action.SOW, *both) == told(Action.SOW, ReasonCode.FROST)
    assert told(Action.SOW, *both) == (Instead.KEEP_SEED_DRY,)


def test_bales_and_young_plants_each_have_their_own_line() -> None:
    """A freeze concerns the hose and the pots alike."""
    lines = told(Action.PLANT, ReasonCode.FREEZE, ReasonCode.FROST, ReasonCode.NOT_READY)
    assert lines == (
        Instead.NO_WATER_BEFORE_FREEZE,
        Instead.DRAIN_HOSE,
        Instead.SHELTER_SEEDLINGS,
    )


def test_a_reason_without_a_line_asks_for_nothing() -> None:
    """Rain that may fall on plants to come is of no matter to them."""
    assert told(Action.FEED, ReasonCode.KILLING_AHEAD) == ()


def test_the_bales_gravest_reasons_come_first() -> None:
    """The order is the rule: what may burn, what may burst, what washes out, what only waits."""
    assert tuple(INSTEAD[Thing.BALES]) == (
        ReasonCode.SELF_HEATING,
        ReasonCode.FREEZE,
        ReasonCode.HEAVY_RAIN,
        ReasonCode.TOO_HOT_INSIDE,
        ReasonCode.NOT_READY,
        ReasonCode.SHORT_OF_DAYS,
    )
