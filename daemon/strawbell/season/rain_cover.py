"""Whether a tarp lies over bales in conditioning."""

from __future__ import annotations

from datetime import date

from strawbell.model.brief import Action, State
from strawbell.model.garden import Batch, RainCover
from strawbell.model.names import slug
from strawbell.season.journal_index import JournalIndex
from strawbell.season.local_time import DAY

PUTS_ON = {Action.LAY_TARP: True, Action.LIFT_TARP: False}
"""What work leaves a tarp on the bales, and what takes it off."""


def lies(batch: Batch, index: JournalIndex, on: date) -> bool:
    """Return whether the tarp lies on the bales at the beginning of a date.

    What was told counts as done unless it was answered otherwise; before the journal was kept
    nothing was.
    """
    if batch.rain_cover is RainCover.NONE:
        return False
    day = on - DAY
    while day >= batch.start_on:
        put = put_on(batch, index, day)
        if put is not None:
            return put
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
