"""The nitrogen of a batch, from what the journal says was given and what the plan still asks.

Rain is what came, where the service still knew it the next morning, else what the day's own
forecast expected; a date without a brief is unknown.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date, timedelta

from strawbell.agronomy.bale.make_up import MakeUp, make_up_dose, without_storm
from strawbell.agronomy.bale.nitrogen import Feeding, NitrogenLedger, ledger
from strawbell.agronomy.feeding.doses import MOST_NITROGEN_AT_ONCE_G, nitrogen_dose
from strawbell.model.feeds import Dose, Material
from strawbell.model.garden import Batch
from strawbell.model.schedule import ScheduleDay, Work
from strawbell.season.batch_state import BatchState
from strawbell.season.conditioning import dose_of, washing_l
from strawbell.season.extra_feedings import ExtraFeeding, extra_feedings
from strawbell.season.journal_index import Record
from strawbell.season.sequence import Given, is_feeding

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


def nitrogen_given_g(batch: Batch, record: Record, given: Given) -> float:
    """Return what a feeding gave a bale: as told or recorded, else as the plan asks [g]."""
    recorded = record.amounts.get(given.key, {}).get("nitrogen_per_bale_g")
    return float(recorded) if isinstance(recorded, (int, float)) else _planned_g(batch, given.step)


def book_of(
    batch: Batch, state: BatchState, record: Record, today: date, storm_mm: float
) -> Book | None:
    """Return the nitrogen of a batch on the morning of a date, None before any is planned.

    A day of `storm_mm` or more [mm] counts as a storm for the three days after it.
    """
    extra = extra_feedings(batch, record)
    feedings = (*_feedings(batch, state, record, today), *_beyond_the_plan(batch, extra))
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
        since = [each.nitrogen_per_bale_g for each in extra if each.on >= min(storms)]
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


def _feedings(batch: Batch, state: BatchState, record: Record, today: date) -> Iterator[Feeding]:
    for given in state.sequence.given:
        yield Feeding(
            on=given.on,
            feed=_feed_name(batch, given.step),
            nitrogen_per_bale_g=nitrogen_given_g(batch, record, given),
            given=True,
            urea=_is_urea(batch, given.step),
            planned_per_bale_g=_planned_g(batch, given.step),
            slow=_is_slow(batch, given.step),
        )
    for on, step in planned_steps(batch, state, today):
        if is_feeding(step):
            yield Feeding(
                on=on,
                feed=_feed_name(batch, step),
                nitrogen_per_bale_g=_planned_g(batch, step),
                given=False,
                urea=_is_urea(batch, step),
                slow=_is_slow(batch, step),
            )


def _beyond_the_plan(batch: Batch, extra: Iterable[ExtraFeeding]) -> Iterator[Feeding]:
    for each in extra:
        yield Feeding(
            on=each.on,
            feed=each.feed,
            nitrogen_per_bale_g=min(each.nitrogen_per_bale_g, MOST_NITROGEN_AT_ONCE_G),
            given=True,
            urea=batch.feed.material is Material.UREA,
            planned_per_bale_g=0.0,
            slow=batch.feed.material in ORGANIC,
        )


def _planned_g(batch: Batch, step: ScheduleDay) -> float:
    dose = dose_of(batch, step)
    return dose.nitrogen_per_bale_g if dose else 0.0


def _feed_name(batch: Batch, step: ScheduleDay) -> str:
    if step.work is Work.FINISH:
        return batch.finishing_feed.name if batch.finishing_feed else ""
    return batch.feed.name


def _is_urea(batch: Batch, step: ScheduleDay) -> bool:
    return step.work is Work.FEED and batch.feed.material is Material.UREA


def _is_slow(batch: Batch, step: ScheduleDay) -> bool:
    return step.work is Work.FEED and batch.feed.material in ORGANIC
