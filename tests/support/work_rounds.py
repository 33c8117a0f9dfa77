"""Does a piece of a morning's work so many times: run as `python FILE WORK ROUNDS`."""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from msgspec.structs import replace

from strawbell.agronomy.balance import Work
from strawbell.agronomy.bales import BALES
from strawbell.agronomy.ensemble import begin, core_band, steps_of, walk
from strawbell.decision.brief import brief
from strawbell.season.fold import FoldCache
from strawbell.season.journal_index import JournalIndex
from strawbell.words.documents import brief_json
from strawbell.words.morning import morning_page
from strawbell.words.page import page_html, page_text
from support.gardens import at, batch, forecast, garden, on_day, planting, told_until
from support.yardstick import yardstick

Job = Callable[[], object]


def bale_and_week() -> None:
    """Walk a fed bale through a day as it was, and the week that is forecast, with its core."""
    draws = walk(
        begin(BALES["two-string"], 10.0),
        BALES["two-string"],
        steps_of(5.0, 15.0, 2.0, 3.0, Work(poured_l=30.0, urea_g=41.0)),
    )
    for _ in range(8):
        conditions = steps_of(5.0, 15.0, 4.0, 3.0, Work(poured_l=3.6, urea_g=20.0))
        draws = walk(draws, BALES["two-string"], conditions)
        core_band(draws, 10.0)


def decided(day: int, *, is_kept: bool) -> Job:
    """Return the making of a brief, from an index that is kept or from all rows.

    The forecast is one of its own each time: what neighbours share is not to flatter one garden.
    """
    plan = garden(batch(plantings=(planting(),)))
    journal, moment = told_until(plan, day), at(on_day(day))
    seen = forecast(moment, days=7)
    if not is_kept:
        return lambda: brief(plan, journal, replace(seen), moment)
    index, folds = JournalIndex.of(journal), FoldCache()
    return lambda: brief(plan, index, replace(seen), moment, folds=folds)


def worded(day: int, *, as_json: bool) -> Job:
    """Return the wording of a brief: as text and page, or as the journal keeps it."""
    plan = garden(batch(plantings=(planting(),)))
    moment = at(on_day(day))
    made = brief(plan, told_until(plan, day), forecast(moment, days=7), moment)
    if as_json:
        return lambda: brief_json(made, plan)
    return lambda: (
        page_text(morning_page(made, plan)),
        page_html(morning_page(made, plan, typographic=True)),
    )


WORKS: dict[str, Callable[[], Job]] = {
    "additions": lambda: yardstick,
    "bale": lambda: bale_and_week,
    **{f"kept-{day}": lambda day=day: decided(day, is_kept=True) for day in (5, 30)},
    **{f"anew-{day}": lambda day=day: decided(day, is_kept=False) for day in (5, 30)},
    "words": lambda: worded(9, as_json=False),
    "json": lambda: worded(9, as_json=True),
}


def main(what: str, rounds: int) -> None:
    """Do it so often."""
    job = WORKS[what]()
    for _ in range(rounds):
        job()


if __name__ == "__main__":
    main(sys.argv[1], int(sys.argv[2]))
