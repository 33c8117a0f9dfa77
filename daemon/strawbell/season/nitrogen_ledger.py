"""The nitrogen of a batch, from what the journal says was given and what the plan still asks.

Rain is what came, where the service still knew it the next morning, else what the day's own
forecast expected; a date without a brief is unknown.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta

from strawbell.agronomy.bale.make_up import MakeUp, make_up_dose, without_storm
from strawbell.agronomy.bale.nitrogen import Feeding, NitrogenLedger, ledger
from strawbell.agronomy.feeding.doses import MOST_NITROGEN_AT_ONCE_G, nitrogen_dose
from strawbell.model.feeds import Dose, Material
from strawbell.model.garden import Batch
from strawbell.model.schedule import ScheduleDay
from strawbell.season.batch_state import BatchState
from strawbell.season.conditioning import washing_l
from strawbell.season.feedings_given import (
    FeedingGiven,
    feed_of,
    feedings_given,
    planned_nitrogen_g,
)
from strawbell.season.journal_index import Record
from strawbell.season.sequence import is_feeding

DAY = timedelta(days=1)
STORM_COUNTS = timedelta(days=3)
"""How long after a storm making up for it is spoken of (design choice: afterwards the next
feeding has come, or planting)."""
ORGANIC = frozenset(
    {
        Material.BLOOD_MEAL,
        Material.BONE_MEAL,
        Material.FEATHER_MEAL,
        Material.FISH,
        Material.POULTRY_MANURE,
    }
)
"""Materials whose nitrogen is set free over weeks (Hartz and Johnstone 2006)."""


@dataclass(frozen=True, slots=True)
class Book:
    """The ledger of one bale of a batch, and what to give after a storm, if anything."""

    ledger: NitrogenLedger
    make_up: MakeUp | None
    make_up_dose: Dose | None


def planned_steps(
    batch: Batch, state: BatchState, today: date
) -> Iterator[tuple[date, ScheduleDay]]:
    """Yield the steps of the sequence that are still to come, each with its earliest date."""
    sequence = state.sequence
    line = (*sequence.again, *batch.schedule.days[sequence.position :])
    first = max(today, batch.start_on)
    for ahead, step in enumerate(line):
        yield first + DAY * ahead, step


def book_of(
    batch: Batch, state: BatchState, record: Record, today: date, storm_mm: float
) -> Book | None:
    """Return the nitrogen of a batch on the morning of a date, None before any is planned.

    A day of `storm_mm` or more [mm] counts as a storm for the three days after it.
    """
    given = feedings_given(batch, state, record)
    feedings = (*(_given(each) for each in given), *_planned(batch, state, today))
    if not feedings:
        return None
    rain = {
        on: weather.rain_mm if weather.complete else None
        for on, weather in record.weather.items()
        if batch.start_on <= on < today
    }
    now = ledger(batch.bale, feedings, rain, today)
    storms = [
        on
        for on, amount in rain.items()
        if amount is not None and amount >= storm_mm and today - on <= STORM_COUNTS
    ]
    make_up = None
    if storms and now.given_g > 0:
        before = ledger(batch.bale, feedings, without_storm(rain, storms), today)
        since = [
            each.nitrogen_per_bale_g
            for each in given
            if each.beyond_the_plan and each.on >= min(storms)
        ]
        make_up = make_up_dose(
            batch.bale,
            before,
            now,
            batch.nitrogen_per_full_dose_g,
            min(sum(since), MOST_NITROGEN_AT_ONCE_G),
        )
    dose = (
        nitrogen_dose(
            batch.feed, round(make_up.nitrogen_per_bale_g, 1), batch.bales, washing_l(batch)
        )
        if make_up
        else None
    )
    return Book(now, make_up, dose)


def _given(each: FeedingGiven) -> Feeding:
    material = None if each.feed is None else each.feed.material
    amount_g = each.nitrogen_per_bale_g
    return Feeding(
        on=each.on,
        feed="" if each.feed is None else each.feed.name,
        nitrogen_per_bale_g=min(amount_g, MOST_NITROGEN_AT_ONCE_G)
        if each.beyond_the_plan
        else amount_g,
        given=True,
        urea=material is Material.UREA,
        planned_per_bale_g=each.planned_per_bale_g,
        slow=material in ORGANIC,
    )


def _planned(batch: Batch, state: BatchState, today: date) -> Iterator[Feeding]:
    for on, step in planned_steps(batch, state, today):
        if is_feeding(step):
            feed = feed_of(batch, step)
            material = None if feed is None else feed.material
            yield Feeding(
                on=on,
                feed="" if feed is None else feed.name,
                nitrogen_per_bale_g=planned_nitrogen_g(batch, step),
                given=False,
                urea=material is Material.UREA,
                slow=material in ORGANIC,
            )
