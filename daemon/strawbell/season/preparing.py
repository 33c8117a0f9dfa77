"""What has to happen before the first soaking, told once and in time.

A wet bale is not moved again and sprayed straw is not mended, so all of it comes before the water.

Decided 2026-11-28: A step is told on the first morning from its date on that has not told it,
and then not again: the days between say only when the next one comes.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date, timedelta

from strawbell.agronomy.bale.size_and_mass import bed_area_m2
from strawbell.model.brief import Preparation, Step
from strawbell.model.garden import Batch, Garden
from strawbell.season.journal_index import JournalIndex

STEPS: Mapping[Step, int] = {
    Step.STRAW: 21,
    Step.BEAN_TEST: 21,
    Step.PLACE: 21,
    Step.GROUND: 7,
    Step.SET_OUT: 7,
    Step.READ_BEANS: 2,
}
"""How many days before the first soaking each step is told, in order: beans in suspect straw take
two to three weeks to three leaves (Oregon State University Extension's test); a week for the
delivery and the ground, two days for a last look (common practice) [days]."""
BEANS_READ_AFTER_DAYS = 14
"""Beans sown later have not three leaves yet: the test says nothing (source as above) [days]."""
OF_ANOTHER_SEASON_DAYS = 120
"""What was told so long before a first soaking was told for the bales of another season (design
choice) [days]."""


def preparing(garden: Garden, index: JournalIndex, on: date) -> tuple[Preparation, ...]:
    """Return the bales that begin after a date, soonest first, and what of it is told that day."""
    starts: dict[date, list[Batch]] = {}
    for batch in garden.batches:
        if batch.start_on > on:
            starts.setdefault(batch.start_on, []).append(batch)
    return tuple(_prepare(each, index, on) for _, each in sorted(starts.items()))


def steps_kept(prepared: Iterable[Preparation]) -> list[dict[str, object]]:
    """Return what was told, as the row of a brief keeps it."""
    return [{"batches": list(each.batches), "steps": list(each.steps)} for each in prepared]


def _prepare(batches: list[Batch], index: JournalIndex, on: date) -> Preparation:
    start_on = batches[0].start_on
    dates = {step: start_on - timedelta(days=days) for step, days in STEPS.items()}
    sown_on = _beans_sown_on(batches, index, max(on, dates[Step.BEAN_TEST]))
    if (dates[Step.READ_BEANS] - sown_on).days < BEANS_READ_AFTER_DAYS:
        del dates[Step.READ_BEANS]
    next_on = min((when for when in dates.values() if when > on), default=None)
    return Preparation(
        batches=tuple(each.name for each in batches),
        bales=sum(each.bales for each in batches),
        start_on=start_on,
        straws=tuple(dict.fromkeys(each.bale.straw for each in batches)),
        dry_kg=sum(each.bales * each.bale.dry_mass_kg for each in batches),
        bed_m2=sum(bed_area_m2(each.bale, each.bales) for each in batches),
        steps=tuple(
            step
            for step, when in dates.items()
            if when <= on and not _was_told(batches, index, step, on)
        ),
        next_on=next_on,
        next_steps=tuple(step for step, when in dates.items() if when == next_on),
        weathered=any(each.bale.weathered for each in batches),
    )


def _was_told(batches: list[Batch], index: JournalIndex, step: Step, on: date) -> bool:
    """Return whether mornings before a date told a step for all the bales."""
    told = [_told_on(index, each, step) for each in batches]
    return all(when is not None and when < on for when in told)


def _beans_sown_on(batches: list[Batch], index: JournalIndex, otherwise: date) -> date:
    """Return when the bean test was told for the last of the bales, or else will be."""
    told = [_told_on(index, each, Step.BEAN_TEST) or otherwise for each in batches]
    return max(told)


def _told_on(index: JournalIndex, batch: Batch, step: Step) -> date | None:
    """Return when a step was told for these bales, None where only for those of another season."""
    told = index.prepared.get((batch.name, step))
    if told is None or told < batch.start_on - timedelta(days=OF_ANOTHER_SEASON_DAYS):
        return None
    return told
