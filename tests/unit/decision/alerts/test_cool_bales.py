"""A bale that stays cool: told once a reading shows it, with each cause that the case allows."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from strawbell.agronomy.balance import body_of
from strawbell.agronomy.ensemble import Band, begin
from strawbell.agronomy.parameters import DRAWS
from strawbell.decision.alerts import (
    BEHIND_K,
    COLD_C,
    DRY_KG_PER_KG,
    FULL_SHARE,
    LUKEWARM_K,
    SAID_FOR_DAYS,
    SHARP_G_PER_L,
    WASHED_SHARE,
    not_heating,
    why_cool,
)
from strawbell.model.brief import AlertCode, ReasonCode
from strawbell.model.journal import EntryKind, Journal, JournalEntry
from strawbell.season.bale_course import Course, Ledger
from strawbell.season.conditioning import is_feeding, step_key
from strawbell.season.stage import BatchState, Given, SequenceState
from support.gardens import at, batch, forecast, on_day, planting
from support.standing import lookout, state

OWN = batch()
BODY = body_of(OWN.bale)
MOIST_L = 26.4


def course(
    held: float = MOIST_L, air_c: float = 14.0, hot_c: float = 50.0, unbound_g: float = 0.0
) -> Course:
    """Return a bale with so much water, whose hot draws have come to a temperature."""
    draws = begin(OWN.bale, air_c)
    third = held / 3.0
    states = tuple(
        each._replace(
            top_l=third, middle_l=third, bottom_l=third, ammonium_1_g=unbound_g,
            temperature_c=hot_c if draw.heats else air_c + 5.0,
        )
        for draw, each in zip(DRAWS, draws.states, strict=True)
    )  # fmt: skip
    return Course(draws._replace(states=states), air_c - 5.0, air_c + 5.0)


def ledger(given_g: float, leached_g: float) -> Ledger:
    """Return the nitrogen of a bale of which so much was washed out."""
    band = Band(leached_g, leached_g, leached_g)
    return Ledger(given_g, 0.0, band, band, band, 0, None)


def codes(of: Course, reading_c: float = 17.0, kept: Ledger | None = None) -> list[ReasonCode]:
    """Return the causes that are named."""
    return [why.code for why in why_cool(OWN, of, kept, reading_c)]


@pytest.mark.parametrize(
    ("reading_c", "told"), [(14.0 + LUKEWARM_K - 0.1, True), (14.0 + LUKEWARM_K, False)]
)
def test_a_bale_is_cool_while_it_is_hardly_warmer_than_the_air(
    reading_c: float, told: bool
) -> None:
    assert bool(codes(course(), reading_c)) is told


@pytest.mark.parametrize(
    ("hot_c", "told"), [(17.0 + BEHIND_K, True), (17.0 + BEHIND_K - 0.1, False)]
)
def test_before_a_bale_could_have_heated_a_reading_means_nothing(hot_c: float, told: bool) -> None:
    assert bool(codes(course(hot_c=hot_c))) is told


def test_a_dry_core_is_always_to_be_looked_for_and_first_where_little_water_is_in_the_bale() -> (
    None
):
    dry_l = DRY_KG_PER_KG * BODY.dry_kg
    assert codes(course()) == [ReasonCode.DRY_CORE]
    assert codes(course(dry_l - 0.1, air_c=5.0), 10.0)[0] is ReasonCode.DRY_CORE
    assert codes(course(dry_l + 0.1, air_c=5.0), 10.0)[-1] is ReasonCode.DRY_CORE


@pytest.mark.parametrize(("air_c", "named"), [(COLD_C - 0.1, True), (COLD_C, False)])
def test_cold_days_are_named(air_c: float, named: bool) -> None:
    assert (ReasonCode.COLD_AIR in codes(course(air_c=air_c), air_c + 3.0)) is named


@pytest.mark.parametrize(("more_l", "named"), [(0.01, True), (-0.01, False)])
def test_a_bale_that_is_nearly_full_lacks_air(more_l: float, named: bool) -> None:
    full = course(FULL_SHARE * BODY.holds_l + more_l)
    assert (ReasonCode.WATERLOGGED in codes(full)) is named


@pytest.mark.parametrize(("share", "named"), [(WASHED_SHARE, True), (WASHED_SHARE - 0.01, False)])
def test_nitrogen_that_ran_out_is_missed(share: float, named: bool) -> None:
    assert (ReasonCode.WASHED_AWAY in codes(course(), kept=ledger(100.0, 100.0 * share))) is named


@pytest.mark.parametrize(("more_g", "named"), [(0.1, True), (-0.1, False)])
def test_more_feed_than_the_straw_takes_smells(more_g: float, named: bool) -> None:
    sharp = course(unbound_g=SHARP_G_PER_L * MOIST_L + more_g)
    assert (ReasonCode.AMMONIA in codes(sharp)) is named


FED = BatchState(
    SequenceState(
        position=9,
        soaked=True,
        given=tuple(
            Given(on_day(step.day), step_key(OWN, step), step)
            for step in OWN.schedule.days
            if is_feeding(step) and step.day < 9
        ),
    )
)


def reading(on: date, celsius: float) -> JournalEntry:
    """Return a reading of a morning."""
    return JournalEntry(
        at(on, 5), "Orchard corner", on, EntryKind.TEMPERATURE, batch=OWN.name, value=celsius
    )


def said(rows: Journal, where: BatchState = FED, day: int = 9) -> bool:
    """Return whether a bale is said to stay cool on a day."""
    now = at(on_day(day))
    found = not_heating(lookout(OWN, where, forecast(now), now, rows))
    assert all(each.code is AlertCode.NOT_HEATING for each in found)
    return bool(found)


def test_only_a_reading_tells() -> None:
    assert not said(())
    assert said((reading(on_day(9), 13.0),))
    assert not said((reading(on_day(9), 45.0),))
    assert not said((reading(on_day(9) - timedelta(days=4), 13.0),))


def test_on_the_second_day_no_bale_has_heated() -> None:
    assert not said((reading(on_day(2), 11.0),), day=2)


@pytest.mark.parametrize(("ago", "again"), [(SAID_FOR_DAYS, False), (SAID_FOR_DAYS + 1, True)])
def test_it_is_not_said_again_within_a_week(ago: int, again: bool) -> None:
    on = on_day(9) - timedelta(days=ago)
    row = JournalEntry(
        at(on), "Orchard corner", on, EntryKind.ALERT, batch=OWN.name,
        task="alert-not-heating-row-a", state="told",
    )  # fmt: skip
    assert said((row, reading(on_day(9), 13.0))) is again


def test_nothing_is_said_of_planted_bales() -> None:
    own = batch(plantings=(planting(),))
    now = at(on_day(14))
    rows = (reading(on_day(14), 13.0),)
    planted = lookout(own, state(own, on_day(12)), forecast(now), now, rows)
    assert not_heating(planted) == ()
