"""A morning's decision costs little; measured beside plain Python work in the same run."""

from __future__ import annotations

from time import process_time

import pytest
from msgspec.structs import replace

from strawbell.decision.brief import brief
from strawbell.model.journal import Journal
from strawbell.season.journal_index import Record
from strawbell.words.html import page_html
from strawbell.words.json_v1 import brief_json
from strawbell.words.morning import morning_page
from strawbell.words.page import page_text
from support.gardens import at, batch, forecast, garden, on_day, planting, tell_whole
from support.yardstick import median_s, yardstick

ROUNDS = 60
BRIEF_OF_YARDSTICK = 2.4
"""A brief may cost 2.4 times a hundred thousand additions in plain Python, which took 2.5 ms where
this was written: the 2 ms that a decision is allowed, and 4 ms for the week ahead of its bales."""
WORDS_OF_YARDSTICK = 2.0
"""Text and page may cost 2 times that: the 5 ms that words are allowed."""

pytestmark = pytest.mark.benchmark


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
    page_html(morning_page(made, plan, typographic=True))
    # Time of the processor: what else runs on the machine is nobody's merit or fault.
    stick_s = median_s(yardstick, ROUNDS, process_time)
    # A forecast of its own each time: what neighbours share is not to flatter one garden.
    brief_s = median_s(lambda: brief(plan, journal, replace(seen), moment), ROUNDS, process_time)
    words_s = median_s(
        lambda: (
            page_text(morning_page(made, plan)),
            page_html(morning_page(made, plan, typographic=True)),
        ),
        ROUNDS,
        process_time,
    )
    json_s = median_s(lambda: brief_json(made, plan), ROUNDS, process_time)
    print(
        f"\nday {day}, {len(journal)} rows: brief {brief_s * 1e3:.2f} ms "
        f"({brief_s / stick_s:.2f}), text and page {words_s * 1e3:.2f} ms "
        f"({words_s / stick_s:.2f}), json {json_s * 1e3:.2f} ms, yardstick {stick_s * 1e3:.2f} ms"
    )
    assert brief_s / stick_s <= BRIEF_OF_YARDSTICK
    assert words_s / stick_s <= WORDS_OF_YARDSTICK


@pytest.mark.parametrize("day", [5, 9, 30])
def test_a_brief_from_the_index_that_the_daemon_keeps_costs_less(day: int) -> None:
    """From one look to the next the journal's index stays, and how far each batch was walked."""
    plan = garden(batch(plantings=(planting(),)))
    moment = at(on_day(day))
    record = Record.of(told_until(plan, day))
    seen = forecast(moment, days=7)
    stick_s = median_s(yardstick, ROUNDS, process_time)
    brief_s = median_s(lambda: brief(plan, record, replace(seen), moment), ROUNDS, process_time)
    print(f"\nday {day}, index kept: brief {brief_s * 1e3:.2f} ms ({brief_s / stick_s:.2f})")
    assert brief_s / stick_s <= BRIEF_OF_YARDSTICK
