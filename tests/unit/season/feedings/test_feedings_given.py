"""All that was fed is counted in one place: by the plan, in the season, and beyond both."""

from __future__ import annotations

from datetime import timedelta

import pytest
from msgspec.structs import replace

from strawbell.agronomy.schedules import SCHEDULES, SEASON_NITROGEN_G
from strawbell.model.garden import Batch
from strawbell.model.journal import EntryKind, JournalEntry
from strawbell.season.bale_course import ledger_of
from strawbell.season.conditioning import is_feeding
from strawbell.season.feedings import feedings_given
from strawbell.season.fold import course_at
from strawbell.season.journal_index import JournalIndex
from strawbell.season.stage import BatchState, Given, SequenceState, extra_key, season_feeding_key
from support.gardens import PLACE, START, at, batch
from support.keys import key_of

ROW = batch()
LATER = START + timedelta(days=60)
STEPS = [step for step in SCHEDULES["alternate-days"].days if is_feeding(step)]
NOTHING = JournalIndex()


def fed(feedings: int = 0) -> BatchState:
    """Return the state after the whole conditioning and so many feedings of the season."""
    keys = {season_feeding_key("Row A", each): LATER for each in range(1, feedings + 1)}
    given = tuple(Given(START, key_of(f"row-a-{step.day}-feed"), step) for step in STEPS)
    return BatchState(SequenceState(given=given, position=len(ROW.schedule.days)), done=keys)


def fed_g(own: Batch, state: BatchState, index: JournalIndex) -> float:
    """Return the nitrogen of all that counts as given [g per bale]."""
    return sum(
        each.nitrogen_per_bale_g for each in feedings_given(own, state, index.day(own, LATER))
    )


def beyond(feed_g: float = 100.0, nitrogen_g: float = 12.0) -> JournalIndex:
    """Return a journal with a feeding beyond the plan."""
    data = {"feed": "Blood meal", "feed_per_bale_g": feed_g, "nitrogen_per_bale_g": nitrogen_g}
    key = extra_key("Row A", LATER).text()
    entry = JournalEntry(
        at(LATER, 18), "Orchard corner", LATER, EntryKind.DONE, "Row A", key, data=data
    )
    return JournalIndex.of((entry,))


@pytest.mark.parametrize("feedings", [0, 1, 9])
def test_each_feeding_of_the_season_adds_its_own_dose_of_nitrogen(feedings: int) -> None:
    """The same three grams that are told when it is fed."""
    added = fed_g(ROW, fed(feedings), NOTHING) - fed_g(ROW, fed(), NOTHING)
    assert added == pytest.approx(feedings * SEASON_NITROGEN_G)


def test_conditioning_counts_with_every_feeding_that_was_given() -> None:
    """Rates of the schedule times the full dose, and the balanced feed at its end."""
    plain = replace(ROW, finishing_feed=None)
    rates = sum(step.rate for step in STEPS)
    conditioned_g = fed_g(plain, fed(), NOTHING)
    assert 0 < conditioned_g <= rates * ROW.nitrogen_per_full_dose_g + 1e-9
    assert fed_g(ROW, fed(), NOTHING) > conditioned_g
    assert fed_g(ROW, BatchState(), NOTHING) == 0.0


def test_what_was_fed_beyond_the_plan_counts_with_its_mass_for_the_whole_batch() -> None:
    (extra,) = feedings_given(ROW, BatchState(), beyond().day(ROW, LATER))
    assert extra.beyond_the_plan
    assert (extra.nitrogen_per_bale_g, extra.total_g) == (12.0, 100.0 * ROW.bales)


def test_an_amount_that_was_recorded_counts_before_that_of_the_plan() -> None:
    key = f"row-a-{STEPS[0].day}-feed"
    data = {"nitrogen_per_bale_g": 7.0, "total_g": 350.0}
    entry = JournalEntry(
        at(START, 18), "Orchard corner", START, EntryKind.DONE, "Row A", key, data=data
    )
    first = feedings_given(ROW, fed(), JournalIndex.of((entry,)).day(ROW, LATER))[0]
    assert (first.nitrogen_per_bale_g, first.total_g) == (7.0, 350.0)


@pytest.mark.parametrize("feedings", [0, 4])
@pytest.mark.parametrize("index", [NOTHING, beyond()], ids=["by plan", "and beyond"])
def test_the_nitrogen_line_tells_all_that_was_given(feedings: int, index: JournalIndex) -> None:
    """Feedings of the season and beyond the plan are in it too."""
    state = fed(feedings)
    today = LATER + timedelta(days=1)
    course = course_at(ROW, state, index, today, PLACE)
    ledger = ledger_of(ROW, state, index.day(ROW, today), 12.7, course)
    assert ledger is not None
    assert ledger.given_g == pytest.approx(fed_g(ROW, state, index))
