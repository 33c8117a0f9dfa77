"""Whatever rows a journal holds, the season can be summed up, worded and drawn; sums come out."""

from __future__ import annotations

import json
from datetime import date, timedelta
from html.parser import HTMLParser

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from strawbell.decision.brief import brief
from strawbell.decision.projection import season_seen
from strawbell.model.garden import Method
from strawbell.model.journal import EntryKind, Journal, JournalEntry
from strawbell.season.journal_index import JournalIndex
from strawbell.season.season_summary import summarise
from strawbell.words.documents import summary_json
from strawbell.words.season_page import season_html
from strawbell.words.summary import summary_screen
from support.gardens import RADISH, START, TOMATO, at, batch, garden, planting

PLAN = garden(
    batch(
        plantings=(
            planting(TOMATO),
            planting(RADISH, Method.SEED),
            replace(planting(RADISH, Method.SEED), follows="radish"),
        )
    )
)
KEYS = (
    "row-a-1-feed",
    "row-a-3-feed",
    "row-a-4-water",
    "row-a-feed-season-1",
    "row-a-plant-tomato",
    "row-a-sow-radish",
    "row-a-harvest-tomato-1",
    "row-a-harvest-radish-last",
    "alert-frost-row-a",
    "alert-hot-dry-row-a",
)
AMOUNTS = st.none() | st.floats(0.001, 500.0)
DATA = st.fixed_dictionaries(
    {},
    optional={
        "pieces": st.integers(1, 50) | st.just("many"),
        "planting": st.sampled_from(["radish", "radish 2", "tomato", "gone"]),
        "nitrogen_per_bale_g": AMOUNTS,
        "total_g": AMOUNTS,
        "water_per_bale_l": AMOUNTS,
        "times_a_day": st.sampled_from([1, 2]),
        "action": st.sampled_from(["protect", "feed", "water"]),
        "reasons": st.lists(st.sampled_from(["freeze", "heavy-rain", "not-told", "unheard"]))
        | st.just("freeze"),
    },
)


@st.composite
def rows(draw: st.DrawFn) -> JournalEntry:
    """Return a row that the daemon or the grower may have written, of this version or another."""
    kind = draw(
        st.sampled_from(
            [
                EntryKind.TOLD,
                EntryKind.TAKEN_BACK,
                EntryKind.DONE,
                EntryKind.MISSED,
                EntryKind.ALERT,
                EntryKind.HARVEST,
                EntryKind.COST,
                EntryKind.TEMPERATURE,
                EntryKind.BRIEF,
                EntryKind.NOT_TOLD,
                EntryKind.NOTE,
            ]
        )
    )
    on = START + timedelta(days=draw(st.integers(-5, 130)))
    state = {EntryKind.ALERT: ["told", "passed"]}.get(kind, ["due", "held"])
    return JournalEntry(
        at(on, draw(st.integers(3, 22))),
        PLAN.name,
        on,
        kind,
        draw(st.sampled_from(["Row A", "Row A", "Shed", None])),
        draw(st.sampled_from(KEYS)),
        draw(st.sampled_from(state)),
        draw(AMOUNTS),
        draw(st.sampled_from(["tomato", "radish", "<b>", ""])),
        draw(DATA),
    )


def journals() -> st.SearchStrategy[Journal]:
    """Return journals, oldest row first."""
    return st.lists(rows(), max_size=60).map(
        lambda found: tuple(sorted(found, key=lambda row: row.at))
    )


@given(journals(), st.integers(0, 130))
def test_every_journal_can_be_summed_up(journal: Journal, days: int) -> None:
    """And what is noted comes out: masses, pieces, money, each once, none from another season."""
    today = START + timedelta(days=days)
    found = summarise(PLAN, journal, JournalIndex.of(journal), today)
    (row_a,) = found.batches
    keys = [each.key for each in row_a.given]
    assert len(keys) == len(set(keys)), "no feeding is given twice"
    assert all(START <= each.on <= today for each in row_a.given)
    assert not {(each.on, each.key) for each in row_a.held} & {
        (each.on, each.key) for each in row_a.given
    }
    counted = [
        entry
        for entry in journal
        if entry.kind is EntryKind.HARVEST
        and entry.batch == "Row A"
        and START <= entry.local_date <= today
        and str(entry.data.get("planting") or entry.text) in ("tomato", "radish", "radish 2")
    ]
    kg = sum(crop.kg or 0.0 for crop in row_a.crops)
    pieces = sum(crop.pieces or 0.0 for crop in row_a.crops)
    assert kg == pytest.approx(sum(entry.value or 0.0 for entry in counted))
    assert pieces == sum(
        each for entry in counted if isinstance(each := entry.data.get("pieces"), int)
    )
    spent = sum(
        entry.value or 0.0
        for entry in journal
        if entry.kind is EntryKind.COST and entry.local_date <= today
    )
    assert (found.cost_noted or 0.0) == pytest.approx(spent)
    json.dumps(summary_json(found, PLAN), allow_nan=False)
    assert "None" not in summary_screen(found, PLAN)


@settings(max_examples=settings.default.max_examples // 4)
@given(journals(), st.integers(-3, 130))
def test_every_journal_can_be_drawn(journal: Journal, days: int) -> None:
    """The page closes what it opens, whatever was written and whenever it is asked for."""
    on: date = START + timedelta(days=days)
    moment = at(on)
    known = tuple(row for row in journal if row.at <= moment)
    told = brief(PLAN, known, None, moment)
    html = season_html([(season_seen(PLAN, known, None, moment, told), told.forecast)])
    opened: list[str] = []

    class Balance(HTMLParser):
        def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
            if tag != "meta":
                opened.append(tag)

        def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
            return

        def handle_endtag(self, tag: str) -> None:
            assert opened.pop() == tag

    Balance().feed(html)
    assert opened == []
    assert "None" not in html
