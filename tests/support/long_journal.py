"""A store of many days for one garden: run as `python FILE build DAYS STORE`, `... morning`.

`morning` opens the store as a start does and makes the brief of the next morning, ROUNDS times:
`python FILE morning DAYS STORE ROUNDS`.
"""

from __future__ import annotations

import sys
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from strawbell.app.looks import KeptIndexes
from strawbell.app.pipeline import Pipeline
from strawbell.decision.brief import brief
from strawbell.edges.store.sqlite_store import SqliteStore
from strawbell.model.garden import Garden
from support.fake_clock import sender
from support.gardens import batch, forecast, garden, mild, planting

FIRST = date(2027, 4, 5)
HOURS = (4, 10, 17)
"""Moments of a day that are looked at [h UTC]: morning, watch, evening."""
PLANNED_FROM_MONTH = 11
"""From November on the next season is what the configuration tells of."""
BUILD = "one build"


def garden_on(on: date) -> Garden:
    """Return the garden as it is configured on a date: one batch each spring."""
    year = on.year + (on.month >= PLANNED_FROM_MONTH)
    started = date(year, FIRST.month, FIRST.day)
    return garden(batch(start_on=started, plantings=(planting(),)))


def moment(on: date, hour: int) -> datetime:
    """Return half past an hour of a date, UTC."""
    return datetime(on.year, on.month, on.day, hour, 30, tzinfo=UTC)


def build(days: int, path: Path) -> None:
    """Tell that many days into a store."""
    with SqliteStore(path, moment(FIRST, 0), owner=True) as store:
        pipeline: Pipeline | None = None
        for number in range(days):
            on = FIRST + timedelta(days=number)
            plan = garden_on(on)
            if pipeline is None or pipeline.gardens != (plan,):
                pipeline = Pipeline(
                    (plan,),
                    store,
                    (),
                    lambda _, now: (forecast(now, mild, 8), ()),
                    sender(),
                    build=BUILD,
                )
            for hour in HOURS:
                pipeline.tick(moment(on, hour))


def main(what: str, days: int, path: Path, rounds: int = 1) -> None:
    """Build the store, or make the morning after it."""
    if what == "build":
        build(days, path)
        return
    on = FIRST + timedelta(days=days)
    plan, now = garden_on(on), moment(on, HOURS[0])
    seen = forecast(now, mild, 8)
    with SqliteStore(path, now) as store:
        for _ in range(rounds):
            kept = KeptIndexes(store, BUILD)
            index = kept.of(plan)
            brief(plan, index, seen, now, folds=kept.folds(plan))


if __name__ == "__main__":
    main(sys.argv[1], int(sys.argv[2]), Path(sys.argv[3]), *map(int, sys.argv[4:]))
