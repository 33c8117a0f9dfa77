"""What a batch was fed, counted in one place: by the plan, in the season, and beyond both.

Who needs what was given, as a sum or by date, asks here; so nothing counts in one place only.

Decided 2026-11-26: A feeding beyond the plan is a word of the grower's with a key of its own date
(`record feed`): one sum a date, which a later word replaces or takes back. It counts in the
nitrogen book, in the spent straw, and against what a storm is made up for, so that nothing is
asked for twice.
"""

from __future__ import annotations

from datetime import date

from msgspec import Struct

from strawbell.agronomy.feeding.dosing import dose_of, feed_of
from strawbell.agronomy.feeding.season_feeding import SEASON_NITROGEN_G
from strawbell.model.brief import TaskKey
from strawbell.model.feeds import Dose, Feed
from strawbell.model.garden import Batch
from strawbell.model.schedule import ScheduleDay
from strawbell.season.journal_index import DayLog, figure
from strawbell.season.season_feedings import season_dose, season_feed, season_feedings_given
from strawbell.season.stage import BatchState


class FeedingGiven(Struct, frozen=True):
    """A feeding that counts as given: when, of what, the nitrogen it gave a bale [g].

    `planned_per_bale_g` is what the plan asked for, 0 for one beyond it; `total_g` is the mass of
    feed for the whole batch; `step` is its day of the conditioning, None for one of the season or
    beyond the plan. `feed` is None only where the grower has none for it.
    """

    on: date
    key: TaskKey
    feed: Feed | None
    nitrogen_per_bale_g: float
    planned_per_bale_g: float
    total_g: float
    step: ScheduleDay | None = None

    @property
    def beyond_the_plan(self) -> bool:
        """Whether only the grower's word tells of it."""
        return self.step is None and self.planned_per_bale_g == 0.0


def feedings_given(batch: Batch, state: BatchState, log: DayLog) -> tuple[FeedingGiven, ...]:
    """Return every feeding of a batch that counts as given, in the order of their dates.

    The amount is the one recorded or told, else that of the plan.
    """
    found = []
    for given in state.sequence.given:
        step = given.step
        dose = dose_of(batch, step)
        found.append(_planned(log, given.key, given.on, feed_of(batch, step), dose, step))
    feed = season_feed(batch)
    dose = None if feed is None else season_dose(batch, feed, SEASON_NITROGEN_G)
    found += [
        _planned(log, key, on, feed, dose) for key, on in season_feedings_given(state).items()
    ]
    found += [
        FeedingGiven(
            each.on,
            each.key,
            next((feed for feed in batch.feeds() if feed.name == each.feed), batch.feed),
            each.nitrogen_per_bale_g,
            planned_per_bale_g=0.0,
            total_g=each.feed_per_bale_g * batch.bales,
        )
        for each in log.extra_feedings
    ]
    return tuple(sorted(found, key=lambda each: each.on))


def planned_nitrogen_g(batch: Batch, step: ScheduleDay) -> float:
    """Return what the plan gives a bale on a day of the conditioning [g N]."""
    dose = dose_of(batch, step)
    return dose.nitrogen_per_bale_g if dose else 0.0


def _planned(
    log: DayLog,
    key: TaskKey,
    on: date,
    feed: Feed | None,
    dose: Dose | None,
    step: ScheduleDay | None = None,
) -> FeedingGiven:
    told = log.amounts.get(key, {})
    planned_g, total_g = (dose.nitrogen_per_bale_g, dose.total_g) if dose else (0.0, 0.0)
    given_g, mass_g = figure(told, "nitrogen_per_bale_g"), figure(told, "total_g")
    return FeedingGiven(
        on,
        key,
        feed,
        planned_g if given_g is None else given_g,
        planned_g,
        total_g if mass_g is None else mass_g,
        step,
    )
