"""The step of the sequence: a smaller dose where more was fed than planned."""

from __future__ import annotations

import pytest
from msgspec.structs import replace

from strawbell.agronomy.doses import ceiling_g, planned_g
from strawbell.agronomy.feeds import FEEDS
from strawbell.agronomy.schedules import SCHEDULES
from strawbell.model.brief import Action, Also, Caution, Task
from strawbell.model.garden import Work
from strawbell.season.conditioning import ROUNDED_G, conditioning, resting
from strawbell.season.journal_index import DayLog, ExtraFeeding
from strawbell.season.stage import BatchState, SequenceState, extra_key
from support.gardens import batch, garden, on_day
from support.standing import day

ROW = batch()
PLANNED_G = planned_g(ROW)
ROOM_G = ceiling_g(ROW.bale) + ROUNDED_G - PLANNED_G


def fed(extra_g: float) -> Task:
    """Return the feeding of day 5 after so much was fed beyond the plan."""
    where = BatchState(SequenceState(position=4, soaked=True))
    on = on_day(5)
    extra = ExtraFeeding(extra_key(ROW.name, on), on, "Blood meal", 100.0, extra_g)
    today = day(ROW, where, on, garden(ROW), DayLog(on, extra_feedings=(extra,)))
    (task,) = conditioning(today)
    assert task.action is Action.FEED
    return task


@pytest.mark.parametrize(
    ("extra_g", "smaller"), [(0.0, False), (ROOM_G - 0.1, False), (ROOM_G + 0.1, True)]
)
def test_a_dose_shrinks_once_the_straw_can_take_no_more(extra_g: float, smaller: bool) -> None:
    task = fed(extra_g)
    assert task.dose is not None
    assert (task.dose.nitrogen_per_bale_g < ROW.nitrogen_per_full_dose_g) is smaller
    assert task.also == ((Also.SMALLER_DOSE,) if smaller else ())


def test_what_is_over_is_taken_off_all_feedings_to_come() -> None:
    """Full on day 5, three halves, and the balanced one: 142.7 g are still to come."""
    task, left_g = fed(ROOM_G + 30.0), 48.0 * 2.5 + 22.7
    assert task.dose is not None
    assert task.dose.nitrogen_per_bale_g == pytest.approx(48.0 * (1.0 - 30.0 / left_g))
    assert task.dose.per_bale_g == pytest.approx(task.dose.nitrogen_per_bale_g / 0.12)


@pytest.mark.parametrize(
    ("feed", "days_since", "limed"),
    [
        ("Ammonium sulfate", 1, True),
        ("Ammonium sulfate", 2, False),
        ("Urea", 1, False),
        ("Blood meal", 1, False),
    ],
)
def test_ammonium_is_followed_by_lime_once_and_never_with_feed(
    feed: str, days_since: int, limed: bool
) -> None:
    """A cup of dolomitic lime at the end (Alabama Cooperative Extension)."""
    own = batch(feed=FEEDS[feed])
    sequence = SequenceState(position=len(own.schedule.days), soaked=True, finished_on=on_day(11))
    today = day(own, BatchState(sequence), on_day(11 + days_since), garden(own))
    look = next(task for task in resting(today) if task.action is Action.INSPECT)
    assert (Also.LIME in look.also) is limed


def test_the_first_day_of_each_feed_has_its_cautions() -> None:
    """What is poured for the first time on day 3 needs a word about the hose then."""
    fish = FEEDS["Fish emulsion"]
    days = tuple(
        replace(each, work=Work.DRENCH, feed=fish) if each.day in (3, 5) else each
        for each in ROW.schedule.days
    )
    own = batch(schedule=replace(ROW.schedule, days=days))
    told = {}
    for position in (0, 2, 4):
        where = BatchState(SequenceState(position=position, soaked=True))
        (task,) = conditioning(day(own, where, on_day(position + 1), garden(own)))
        told[position + 1] = task
    assert {at: Caution.BACKFLOW in task.cautions for at, task in told.items()} == {
        1: False,
        3: True,
        5: False,
    }
    assert [task.dose and task.dose.feed for task in told.values()] == [
        "Blood meal",
        "Fish emulsion",
        "Fish emulsion",
    ]


def test_some_of_a_dose_is_always_left() -> None:
    task = fed(2000.0)
    assert task.dose is not None
    assert task.dose.nitrogen_per_bale_g == pytest.approx(4.8)


@pytest.mark.parametrize(("position", "warns"), [(0, True), (1, False)])
def test_only_the_first_soaking_warns_of_weight_dust_and_herbicide(
    position: int, warns: bool
) -> None:
    """Afterwards nobody moves the bales; the water of day 2 needs no warning."""
    own = batch(schedule=SCHEDULES["soak-first"])
    where = BatchState(SequenceState(position=position, soaked=position > 0))
    (task,) = conditioning(day(own, where, on_day(position + 1)))
    assert (task.action, task.day) == (Action.SOAK, position + 1)
    expected = {Caution.WET_WEIGHT, Caution.DUST, Caution.HERBICIDE} if warns else set()
    assert set(task.cautions) == expected
