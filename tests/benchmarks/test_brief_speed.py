"""A morning's decision costs little; measured beside plain Python work in the same run."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from statistics import median
from time import perf_counter

import pytest

from strawbell.model.journal import Journal
from strawbell.planning.brief import brief
from strawbell.wording.html import brief_html
from strawbell.wording.json_v1 import brief_json
from strawbell.wording.text import brief_text
from support.gardens import at, batch, forecast, garden, on_day, planting, tell_whole

ROUNDS = 60
YARDSTICK_ADDITIONS = 100_000
BRIEF_OF_YARDSTICK = 0.8
"""A brief may cost 0.8 times a hundred thousand additions in plain Python, which took 2.5 ms where
this was written: the 2 ms that a decision is allowed."""
WORDS_OF_YARDSTICK = 2.0
"""Text and page may cost 2 times that: the 5 ms that words are allowed."""

pytestmark = pytest.mark.benchmark


def median_s(work: Callable[[], object]) -> float:
    """Return the median duration of a piece of work [s]."""
    times = []
    for _ in range(ROUNDS):
        begin = perf_counter()
        work()
        times.append(perf_counter() - begin)
    return median(times)


def yardstick() -> int:
    """Do a fixed amount of plain Python work."""
    total = 0
    for number in range(YARDSTICK_ADDITIONS):
        total += number
    return total


def told_until(plan: object, day: int) -> Journal:
    """Return the journal of a daemon that told every morning before a day."""
    journal: Journal = ()
    for past in range(1, day):
        moment = at(on_day(past))
        journal = tell_whole(journal, plan, forecast(moment, days=7), moment)
    return journal


@pytest.mark.parametrize("day", [5, 9, 30])
def test_a_brief_and_its_words_cost_little_beside_the_yardstick(day: int) -> None:
    """From a kept journal and a 7-day hourly forecast, in conditioning and after planting."""
    plan = garden(batch(plantings=(planting(),)))
    journal = told_until(plan, day)
    moment = at(on_day(day))
    seen = forecast(moment, days=7)
    made = brief(plan, journal, seen, moment)
    brief_html(made, plan)
    stick_s = median_s(yardstick)
    # A forecast of its own each time: what neighbours share is not to flatter one garden.
    brief_s = median_s(lambda: brief(plan, journal, replace(seen), moment))
    words_s = median_s(lambda: (brief_text(made, plan), brief_html(made, plan)))
    json_s = median_s(lambda: brief_json(made, plan))
    print(
        f"\nday {day}, {len(journal)} rows: brief {brief_s * 1e3:.2f} ms "
        f"({brief_s / stick_s:.2f}), text and page {words_s * 1e3:.2f} ms "
        f"({words_s / stick_s:.2f}), json {json_s * 1e3:.2f} ms, yardstick {stick_s * 1e3:.2f} ms"
    )
    assert brief_s / stick_s <= BRIEF_OF_YARDSTICK
    assert words_s / stick_s <= WORDS_OF_YARDSTICK
