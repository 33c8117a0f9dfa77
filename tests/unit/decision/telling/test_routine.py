"""Which mornings need a word; whole weeks are in `tests/unit/app/test_weekly_routine.py`."""

from __future__ import annotations

from datetime import timedelta

import pytest
from msgspec.structs import replace

from strawbell.decision.brief import brief
from strawbell.decision.telling import _is_calm, _is_plain, _wets
from strawbell.model.brief import (
    Action,
    Alert,
    AlertCode,
    Also,
    Caution,
    Reason,
    ReasonCode,
    State,
    Task,
)
from strawbell.model.details import Ending, HarvestDetail
from strawbell.model.forecast import DayWeather
from strawbell.season.journal_index import JournalIndex
from strawbell.season.stage import dated_key
from support.gardens import at, forecast, garden, on_day

TODAY = on_day(6)
NOW = at(TODAY)
MORNING = replace(brief(garden(), (), forecast(NOW), NOW), tasks=(), alerts=(), outlooks=())
FREEZE = Alert(AlertCode.FREEZE, "Row A", NOW, NOW, ())
HOT_DRY = Alert(AlertCode.HOT_DRY, "Row A", NOW, NOW, ())


def told_yesterday(*alerts: Alert) -> JournalIndex:
    index = JournalIndex()
    index.alerts[TODAY - timedelta(days=1)] = {each.key: True for each in alerts}
    return index


@pytest.mark.parametrize(
    ("ahead", "before", "calm"),
    [
        ((), (), True),
        ((FREEZE,), (FREEZE,), True),
        ((FREEZE,), (), False),
        ((FREEZE,), (HOT_DRY,), False),
        ((HOT_DRY,), (HOT_DRY,), False),
    ],
)
def test_only_one_more_night_of_the_same_frost_is_no_news(
    ahead: tuple[Alert, ...], before: tuple[Alert, ...], calm: bool
) -> None:
    """A hot dry day is news each time, and so is the first night."""
    assert _is_calm(replace(MORNING, alerts=ahead), told_yesterday(*before)) is calm


HOT = Reason(ReasonCode.HEAT, 36.0, 35.0, "degC")
LOOK = Task(
    key=dated_key("Row A", Action.INSPECT, TODAY),
    batch="Row A",
    bales=6,
    action=Action.INSPECT,
    state=State.DUE,
)
WATER = replace(LOOK, action=Action.WATER, water_per_bale_l=4.0)


@pytest.mark.parametrize(
    ("task", "plain"),
    [
        (LOOK, True),
        (replace(LOOK, reasons=(HOT,)), False),
        (replace(LOOK, cautions=(Caution.HOT_BALE,)), False),
        (replace(LOOK, detail=HarvestDetail(Ending.LAST)), False),
        (replace(LOOK, state=State.HELD), False),
        (replace(LOOK, note="Slugs"), False),
        (WATER, True),
        (replace(WATER, water_per_bale_l=0.0), False),
        (replace(WATER, also=(Also.LOOK_FIRST,)), True),
        (replace(WATER, also=(Also.SHADE,)), False),
        (replace(WATER, action=Action.FEED), False),
    ],
)
def test_work_is_told_by_the_week_where_nothing_about_it_is_of_one_day(
    task: Task, plain: bool
) -> None:
    """Water and looks alike; what has a reason, a caution or an end of its own is told then."""
    assert _is_plain(task) is plain


@pytest.mark.parametrize(
    ("rain_mm", "wets"), [(None, False), (0.0, False), (2.49, False), (2.5, True), (2.51, True)]
)
def test_rain_waters_bales_from_the_amount_on_that_makes_a_day_no_dry_one(
    rain_mm: float | None, wets: bool
) -> None:
    """`dry_day_mm`, a tenth of an inch; unknown rain waters nothing."""
    assert _wets(DayWeather(rain_mm=rain_mm), garden()) is wets
    assert not _wets(None, garden())
