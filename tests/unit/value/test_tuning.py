"""The kept result of the scoreboard: the table is that of the figures."""

from __future__ import annotations

import json

from tests.value.tuning import DEVELOPMENT, HELD_OUT, RESULT, TABLE, rendered


def test_the_table_is_rendered_from_the_kept_figures() -> None:
    """Neither is changed by hand."""
    kept = json.loads(RESULT.read_text(encoding="utf-8"))
    assert rendered(kept) == TABLE.read_text(encoding="utf-8")


def test_nothing_held_out_was_tuned_on() -> None:
    """No season is in both sets; every station of the records is in one."""
    development, held_out = set(DEVELOPMENT), set(HELD_OUT)
    assert not development & held_out
    assert {station for station, _ in development | held_out} == {"Seattle", "EWR", "JFK", "LGA"}
