"""The stage of season feeding, and what a batch was fed: by the plan, in the season, beyond both.

In the season what grows gets a soluble feed, as often as it asks for. Who needs what was given, as
a sum or by date, asks here; so nothing counts in one place only.

Decided 2026-11-26: A feeding beyond the plan is a word of the grower's with a key of its own date
(`record feed`): one sum a date, which a later word replaces or takes back. It counts in the
nitrogen book, in the spent straw, and against what a storm is made up for, so that nothing is
asked for twice.
"""

from __future__ import annotations

from datetime import date

from msgspec import Struct

from strawbell.agronomy.doses import dose_of, drench_dose, feed_of, feed_water_l, nitrogen_dose
from strawbell.agronomy.growing import grows_at
from strawbell.agronomy.schedules import (
    SEASON_NITROGEN_G,
    SeasonFeeding,
    bale_feeding,
    growth_stage,
    season_feeding,
)
from strawbell.model.brief import FeedSeries, Task, TaskKey
from strawbell.model.details import FeedDetail
from strawbell.model.feeds import Dose, Feed
from strawbell.model.garden import Batch, Planting, ScheduleDay
from strawbell.season.aftercare import lately_c
from strawbell.season.harvesting import ends_by_freeze, ends_on, window_of
from strawbell.season.journal_index import DayLog, figure
from strawbell.season.planting import predecessor
from strawbell.season.stage import (
    BatchState,
    Day,
    feed_cautions,
    next_number,
    season_feeding_key,
    simple_task,
)


def season_feeding_due(day: Day) -> tuple[Task, ...]:
    """Return the feeding that is due, with its interval counted from the last one given.

    A feeding that is held keeps its key until it is given. Nothing is fed while it is too cold to
    grow.
    """
    rule = feeding_rule(day)
    feed = season_feed(day.batch)
    if rule is None or feed is None:
        return ()
    number, last = next_number(day.state, season_feeding_key(day.batch.name, 1))
    if last is not None and (day.on - last).days < rule.every_days:
        return ()
    # Warmth is asked for only on the day a feeding would be due.
    rule = feeding_rule(day, closely=True)
    if rule is None or (last is not None and (day.on - last).days < rule.every_days):
        return ()
    key = season_feeding_key(day.batch.name, number)
    dose = season_dose(day.batch, feed, rule.nitrogen_per_bale_g)
    cautions = feed_cautions(feed, first_time=number == 1)
    detail = FeedDetail(rule.every_days)
    return (simple_task(day, key, dose=dose, cautions=cautions, detail=detail),)


def feeding_rule(day: Day, *, closely: bool = False) -> SeasonFeeding | None:
    """Return how the bales are fed on a date, as the hungriest crop in them asks.

    Looked at `closely`, a crop is fed no more when its last harvest is near, or when it has been
    too cold for it to grow.
    """
    inside = tuple(day.standing)
    if closely:
        air_c = lately_c(day)
        inside = tuple(
            (each, since) for each, since in inside if air_c is None or grows_at(each.crop, air_c)
        )
    return bale_feeding([_rule_of(day, each, since, closely=closely) for each, since in inside])


def season_feed(batch: Batch) -> Feed | None:
    """Return what a batch is fed with in the season: its balanced feed, else its nitrogen feed."""
    for feed in (batch.finishing_feed, batch.feed):
        if feed is not None and feed.label.nitrogen_percent > 0:
            return feed
    return None


def season_dose(batch: Batch, feed: Feed, nitrogen_per_bale_g: float) -> Dose:
    """Return one feeding of the season [g N per bale]: as its label has it where that is known."""
    litres = feed_water_l(batch, feed)
    if feed.form.is_poured and feed.rate is not None:
        return drench_dose(feed, batch.bales, litres)
    return nitrogen_dose(feed, nitrogen_per_bale_g, batch.bales, litres)


def last_season_feeding(batch: Batch, state: BatchState) -> date | None:
    """Return when a feeding of the season was given last, None while there was none."""
    return next_number(state, season_feeding_key(batch.name, 1))[1]


def _rule_of(day: Day, each: Planting, since: date, *, closely: bool) -> SeasonFeeding | None:
    ends = _fed_until(day, each, since) if closely else date.max
    follows = predecessor(day.batch, each) is not None
    stage = growth_stage(each.crop, since, day.on, each.method, ends_on=ends, follows=follows)
    return season_feeding(each.crop, stage)


def _fed_until(day: Day, each: Planting, since: date) -> date:
    """Return the end that feeding leads to: the last harvest, or a freeze that comes before.

    What cannot ripen before the freeze any more is fed for nothing from today on.
    """
    freeze = ends_by_freeze(day.garden, each.crop, day.on)
    ends = ends_on(day, each, since)
    if freeze is None:
        return ends
    return day.on if window_of(day, each, since).first >= freeze else min(ends, freeze)


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
        _planned(log, key, on, feed, dose)
        for key, on in state.done.items()
        if key.series is FeedSeries.SEASON
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
