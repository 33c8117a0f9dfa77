"""The JSON keeps its names, its offsets and its unknowns."""

from __future__ import annotations

import json
import math
from datetime import UTC, datetime

import pytest
from msgspec.structs import replace

from strawbell.model.brief import Also, Brief, Suffering
from strawbell.model.details import Band, SpreadDetail
from strawbell.model.journal import EntryKind, JournalEntry
from strawbell.words.documents import brief_json, journal_json, task_json
from strawbell.words.voice import Voice
from support.briefs import (
    TODAY,
    ZONE,
    brief,
    catch_up_brief,
    dose,
    feeding,
    feeding_brief,
    frost_brief,
    garden,
    hot_brief,
    unjudged_brief,
    watering,
)

PROMISED_TASK = {
    "key", "batch", "day", "action", "state", "feed", "per_bale_g", "total_g",
    "nitrogen_per_bale_g", "water_per_bale_l", "held_until", "reasons", "cautions",
}  # fmt: skip


@pytest.mark.parametrize(
    "made", [feeding_brief(), frost_brief(), unjudged_brief(), hot_brief(), catch_up_brief()]
)
def test_every_promised_name_is_there_and_the_whole_is_json(made: Brief) -> None:
    data = json.loads(json.dumps(brief_json(made, garden()), allow_nan=False))
    promised = {"version", "garden", "date", "as_of", "forecast", "tasks", "alerts", "ahead"}
    assert promised <= set(data)
    assert {"status", "source", "issued_at", "age_h"} <= set(data["forecast"])
    for task in (*data["tasks"], *(task for day in data["ahead"] for task in day["tasks"])):
        assert set(task) >= PROMISED_TASK
        for reason in task["reasons"]:
            assert {"code", "value", "threshold", "unit", "at"} <= set(reason)
    for alert in data["alerts"]:
        names = {"code", "batch", "starts_at", "ends_at", "reasons", "advice"}
        assert names <= set(alert)
        assert alert["advice"].endswith(".")


def test_a_feeding_is_as_the_contract_shows_it() -> None:
    data = brief_json(feeding_brief(), garden())
    assert (data["version"], data["date"]) == (2, "2027-04-09")
    assert data["as_of"] == "2027-04-09T06:30:00+02:00"
    (task, _) = data["tasks"]  # type: ignore[misc]
    assert task["state"] == "due"
    assert task["action"] == "feed"
    assert (task["feed"], task["per_bale_g"], task["total_g"]) == ("Blood meal", 500.0, 3000.0)
    assert (task["nitrogen_per_bale_g"], task["water_per_bale_l"]) == (60.0, 4.0)
    assert task["held_until"] is None


def test_a_held_feeding_has_its_reason_with_number_threshold_and_offset() -> None:
    data = brief_json(frost_brief(), garden())
    task = data["tasks"][0]  # type: ignore[index]
    assert (task["state"], task["held_until"]) == ("held", "2027-04-10")
    assert task["reasons"] == [
        {
            "code": "freeze",
            "value": -3.1,
            "threshold": 0.0,
            "unit": "degC",
            "at": "2027-04-10T05:00:00+02:00",
            "chance": None,
            "loss_if_done": None,
            "loss_if_waited": None,
            "wait_costs_days": None,
            "turns_by": None,
            "turns_at": None,
        }
    ]


def test_masses_are_rounded_to_a_tenth_of_a_gram_and_never_to_minus_zero() -> None:
    odd = replace(dose(), per_bale_g=88.7203, phosphorus_per_bale_g=-0.001)
    data = brief_json(brief(feeding(dose=odd)), garden())
    task = data["tasks"][0]  # type: ignore[index]
    assert task["per_bale_g"] == 88.7
    assert math.copysign(1.0, task["phosphorus_per_bale_g"]) == 1.0


def test_what_is_unknown_or_not_a_number_is_null() -> None:
    odd = SpreadDetail(2, math.nan, Band(1.0, None), Band(math.inf, None))
    made = brief(watering(water_per_bale_l=None, detail=odd))
    task = brief_json(made, garden())["tasks"][0]  # type: ignore[index]
    assert task["water_per_bale_l"] is None
    assert task["per_bale_g"] is None
    assert task["figures"] == {
        "strings": 2.0,
        "spread_cm": None,
        "area_m2_low": 1.0,
        "nitrogen_g_low": None,
    }


def test_a_missing_forecast_is_missing_in_every_number() -> None:
    data = brief_json(unjudged_brief(), garden())
    assert data["forecast"]["status"] == "missing"  # type: ignore[index]
    assert data["forecast"]["age_h"] is None  # type: ignore[index]
    assert data["weather"]["rain_mm"] is None  # type: ignore[index]


def test_names_of_the_growers_go_through_as_they_are() -> None:
    """JSON escapes for itself; a machine needs the true name."""
    name = "Row \x1b[31m <b> \u202e"
    data = json.loads(json.dumps(brief_json(brief(feeding(name)), garden())))
    assert data["tasks"][0]["batch"] == name
    assert "\x1b" not in json.dumps(data)


def test_journal_rows_keep_everything_on_the_gardens_clock() -> None:
    at = datetime(2027, 4, 9, 4, 30, tzinfo=UTC)
    entry = JournalEntry(
        at,
        "Orchard corner",
        TODAY,
        EntryKind.TEMPERATURE,
        batch="Row A",
        value=54.0,
        data={"depth_cm": 15.0, "list": [1, TODAY]},
    )
    (row,) = journal_json((entry,), ZONE)
    assert row == {
        "at": "2027-04-09T06:30:00+02:00",
        "garden": "Orchard corner",
        "date": "2027-04-09",
        "kind": "temperature",
        "batch": "Row A",
        "task": None,
        "state": None,
        "value": 54.0,
        "text": "",
        "data": {"depth_cm": 15.0, "list": [1, "2027-04-09"]},
    }


def test_what_heat_does_stands_in_the_note() -> None:
    """In words, as on the page."""
    task = watering(suffering=(Suffering("kale", "bolts"),), also=(Also.SHADE,), note="Mind it")
    assert task_json(task, Voice.of(garden(), TODAY))["note"] == (
        "In the heat kale bolts. Shade the plants from noon to evening. Mind it"
    )
