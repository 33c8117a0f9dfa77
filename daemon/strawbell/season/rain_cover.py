"""A tarp over bales in conditioning: whether it lies, and whether the plan wants it there.

One standing cover lies from the morning after the first feeding until three days after the last,
or until something is planted; it is lifted to feed and by heat, and laid again. By trial on
recorded springs that leaches a third of what bales in the open lose, and no hold comes near it.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, timedelta

from strawbell.model.brief import Action, State
from strawbell.model.garden import Batch, RainCover
from strawbell.model.names import slug
from strawbell.season.batch_state import BatchState
from strawbell.season.journal_index import JournalIndex
from strawbell.season.sequence import DAY, coming, is_feeding
from strawbell.season.stage import planted_on

STAYS_ON = timedelta(days=3)
"""How long after the last feeding the tarp stays: by then most of it is bound or in the straw (the
trial)."""
PUTS_ON = {Action.LAY_TARP: True, Action.LIFT_TARP: False}
"""What work leaves a tarp on the bales, and what takes it off."""


def is_wanted(batch: Batch, state: BatchState, on: date) -> bool:
    """Return whether the plan, without the weather, wants the tarp on the bales on a date."""
    given = [each.on for each in state.sequence.given]
    if any(map(is_feeding, coming(state.sequence, batch))):
        given.append(on)
    return stands(batch, given, on) and not any(
        planted_on(batch, state, each) for each in batch.plantings
    )


def stands(batch: Batch, fed_on: Iterable[date], on: date) -> bool:
    """Return whether the standing cover is wanted on a date by the dates of all feedings."""
    if batch.rain_cover is RainCover.NONE:
        return False
    dates = list(fed_on)
    return any(fed < on for fed in dates) and any(on <= fed + STAYS_ON for fed in dates)


def lies(batch: Batch, state: BatchState, index: JournalIndex, on: date) -> bool:
    """Return whether the tarp lies on the bales at the beginning of a date.

    What was told counts as done unless it was answered otherwise; before the journal was kept the
    plan counts.
    """
    if batch.rain_cover is RainCover.NONE:
        return False
    own = index.batch(batch.name)
    day = on - DAY
    while day >= batch.start_on:
        put = put_on(batch, index, day)
        if put is not None:
            return put
        if not own.kept_on(day, batch.start_on):
            return is_wanted(batch, state, day)
        day -= DAY
    return False


def put_on(batch: Batch, index: JournalIndex, on: date) -> bool | None:
    """Return whether the tarp was laid or lifted on a date, None where neither was."""
    told = index.batch(batch.name).told.get(on, {})
    done = {
        key: standing is State.DUE and not index.is_open(batch.name, key, on)
        for key, standing in told.items()
    }
    own = slug(batch.name)
    for word in index.answered_on.get(on, ()):
        if word.key.batch == own:
            done[word.key] = word.done
    put = [PUTS_ON[key.action] for key, was in done.items() if was and key.action in PUTS_ON]
    return put[-1] if put else None
