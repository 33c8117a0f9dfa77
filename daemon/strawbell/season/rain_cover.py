"""Whether a tarp lies over bales in conditioning."""

from __future__ import annotations

from datetime import date

from strawbell.model.brief import Action, State
from strawbell.model.garden import Batch, RainCover
from strawbell.model.names import slug
from strawbell.season.day_log import DayLog
from strawbell.season.stage import Day

PUTS_ON = {Action.LAY_TARP: True, Action.LIFT_TARP: False}
"""What work leaves a tarp on the bales, and what takes it off."""


def lies(day: Day, on: date) -> bool:
    """Return whether the tarp lies on the bales at the beginning of a date, `day.on` or later."""
    lying = day.state.tarped
    return lying if on == day.on else lies_after(day.batch, day.log, lying=lying)


def lies_after(batch: Batch, log: DayLog, *, lying: bool) -> bool:
    """Return whether the tarp lies after a date on which it was `lying` or not.

    What was told counts as done unless it was answered otherwise; before the journal was kept
    nothing was.
    """
    if batch.rain_cover is RainCover.NONE:
        return False
    done = {
        key: standing is State.DUE and not log.is_open(key)
        for key, standing in (log.told or {}).items()
    }
    own = slug(batch.name)
    for word in log.answers:
        if word.key.batch == own:
            done[word.key] = word.done
    put = [PUTS_ON[key.action] for key, was in done.items() if was and key.action in PUTS_ON]
    return put[-1] if put else lying
