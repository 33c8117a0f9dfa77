"""What a season came to as JSON: every number with its unit in its name, unknown is null."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from types import MappingProxyType

from msgspec import Struct
from msgspec.structs import asdict

from strawbell.model.brief import TaskKey
from strawbell.model.garden import Garden
from strawbell.model.summary import BatchSummary, Chances, Summary
from strawbell.words.json_v1 import FINE_DIGITS, VERSION, Json
from strawbell.words.summary_text import hint_sentences
from strawbell.words.voice import Voice

DIGITS: Mapping[str, int] = MappingProxyType(
    {
        "kg": 3,
        "cost": 2,
        "amount": 2,
        "cost_noted": 2,
        "nitrogen_per_bale_g": 1,
        "total_g": 1,
        "water_l": 1,
        "temperature_c": 1,
        "pieces": 0,
    }
)
"""Decimals of the numbers, by their names; others have the finest."""
_RENAMED = {"on": "date", "last": "date"}
"""How a field of a summary is called in the document, where it is a date."""


def summary_json(found: Summary, garden: Garden) -> Json:
    """Return the summary as JSON; None is unknown, masses and pieces are apart."""
    advice = hint_sentences(found.hints, Voice.of(garden, found.last))
    plain = {name: each for name, each in _object(found).items() if name != "chances"}
    return {
        "version": VERSION,
        **plain,
        "batches": [_batch_json(each) for each in found.batches],
        **chances_json(found.chances),
        "cost_noted": _plain("cost_noted", found.cost_noted),
        "hints": [
            {**_object(hint), "figures": dict(hint.figures), "advice": said}
            for hint, said in zip(found.hints, advice, strict=True)
        ],
    }


def chances_json(kept: Chances) -> Json:
    """Return how the chances came out that were told."""
    return {
        "rain_chances": [asdict(each) for each in kept.rain],
        "freeze_chances": [asdict(each) for each in kept.freeze],
    }


def _batch_json(each: BatchSummary) -> Json:
    readings: Json | None = None
    if (found := each.readings) is not None:
        ends = {"first": found.first, "highest": found.highest, "last": found.last}
        readings = {"count": found.count, **{name: _object(one) for name, one in ends.items()}}
    return {
        **_object(each),
        "given": len(each.given),
        "held_days": len(each.held),
        "held_days_rain": sum(one.held_for_rain for one in each.held),
        "held_days_freeze": sum(one.held_for_freeze for one in each.held),
        "missed": len(each.missed),
        "nitrogen_per_bale_g": _plain("nitrogen_per_bale_g", each.nitrogen_per_bale_g),
        "readings": readings,
    }


def _object(value: Struct) -> Json:
    """Return the fields of a value by their names, a date by itself as "date"."""
    found: dict[str, object] = {}
    for name, each in asdict(value).items():
        is_date = each is None or isinstance(each, date)
        found[_RENAMED.get(name, name) if is_date else name] = _plain(name, each)
    return found


def _plain(name: str, value: object) -> object:
    if isinstance(value, float):
        return round(value, DIGITS.get(name, FINE_DIGITS)) + 0.0
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, TaskKey):
        return value.text()
    if isinstance(value, Struct):
        return _object(value)
    if isinstance(value, (list, tuple)):
        return [_plain(name, each) for each in value]
    return getattr(value, "value", value)
