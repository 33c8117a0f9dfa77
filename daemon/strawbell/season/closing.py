"""The last stage: strings off, straw spread, once every crop of a batch is over."""

from __future__ import annotations

from strawbell.agronomy.bale.size_and_mass import (
    SPREAD_DEPTH_CM,
    STRINGS,
    STRINGS_OF_OTHERS,
    spread_area_m2,
)
from strawbell.model.brief import Action, Caution, Task
from strawbell.model.details import Band, SpreadDetail
from strawbell.season.stage import Day, over_on, planted_on, simple_task
from strawbell.season.task_keys import once_key


def spreading(day: Day) -> tuple[Task, ...]:
    """Return the spreading of the straw, the morning after the last crop was taken out.

    Bales that nothing was put into, since a freeze would have ended it, may still take something
    else until that freeze.
    """
    batch, state = day.batch, day.state
    key = once_key(batch.name, Action.SPREAD)
    if not batch.plantings or key in state.done:
        return ()
    for each in batch.plantings:
        over = over_on(batch, state, each)
        if over is None or over >= day.on:
            return ()
    freeze = day.garden.first_freeze_on
    grew = any(planted_on(batch, state, each) is not None for each in batch.plantings)
    if not grew and freeze is not None and day.on <= freeze:
        return ()
    least_m2, most_m2 = spread_area_m2(batch.bale, batch.bales)
    detail = SpreadDetail(
        strings=STRINGS.get(batch.bale.kind, STRINGS_OF_OTHERS) * batch.bales,
        depth_cm=SPREAD_DEPTH_CM,
        area_m2=Band(round(least_m2, 1), round(most_m2, 1)),
    )
    cautions = (Caution.DUST, Caution.HERBICIDE)
    return (simple_task(day, Action.SPREAD, key, cautions=cautions, detail=detail),)
