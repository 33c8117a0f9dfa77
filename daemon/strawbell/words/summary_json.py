"""What a season came to as JSON: every number with its unit in its name, unknown is null."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date

from msgspec.structs import asdict

from strawbell.model.garden import Garden
from strawbell.model.summary import BatchSummary, Chances, CropSummary, FeedingDay, Summary
from strawbell.words.json_v1 import FINE_DIGITS, VERSION, Json
from strawbell.words.summary_text import hint_sentences
from strawbell.words.voice import Voice

MONEY_DIGITS = 2


def summary_json(found: Summary, garden: Garden) -> Json:
    """Return the summary as JSON; None is unknown, masses and pieces are apart."""
    advice = hint_sentences(found.hints, Voice.of(garden, found.last))
    return {
        "version": VERSION,
        "garden": found.garden,
        "date": found.last.isoformat(),
        "first": _date(found.first),
        "kept_since": _date(found.kept_since),
        "mornings_told": found.mornings_told,
        "not_told": _dates(found.not_told),
        "batches": [_batch_json(each) for each in found.batches],
        "feeds": [
            {"feed": use.feed, "kg": _round(use.kg, 3), "cost": _round(use.cost, MONEY_DIGITS)}
            for use in found.feeds
        ],
        **chances_json(found.chances),
        "costs": [
            {
                "date": each.on.isoformat(),
                "amount": _round(each.amount, MONEY_DIGITS),
                "text": each.text,
                "batch": each.batch,
            }
            for each in found.costs
        ],
        "cost_noted": _round(found.cost_noted, MONEY_DIGITS),
        "hints": [
            {
                "code": hint.code.value,
                "batch": hint.batch,
                "crop": hint.crop,
                "date": _date(hint.on),
                "figures": dict(hint.figures),
                "advice": said,
            }
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
    readings = each.readings
    return {
        "batch": each.batch,
        "bales": each.bales,
        "start_on": each.start_on.isoformat(),
        "conditioned_on": _date(each.conditioned_on),
        "conditioned_by_plan": _date(each.conditioned_by_plan),
        "feedings": [_feeding_json(one) for one in each.feedings],
        "given": len(each.given),
        "held_days": len(each.held),
        "held_days_rain": sum(one.held_for_rain for one in each.held),
        "held_days_freeze": sum(one.held_for_freeze for one in each.held),
        "missed": len(each.missed),
        "nitrogen_per_bale_g": _round(each.nitrogen_per_bale_g, 1),
        "water_l": _round(each.water_l, 1),
        "frost_nights": _dates(each.frost_nights),
        "mild_nights": _dates(each.mild_nights),
        "hot_dry_days": _dates(each.hot_dry_days),
        "readings": None
        if readings is None
        else {
            "count": readings.count,
            **{
                which: {
                    "date": one.on.isoformat(),
                    "temperature_c": _round(one.temperature_c, 1),
                }
                for which, one in (
                    ("first", readings.first),
                    ("highest", readings.highest),
                    ("last", readings.last),
                )
            },
        },
        "crops": [_crop_json(crop) for crop in each.crops],
        "spread_on": _date(each.spread_on),
    }


def _feeding_json(one: FeedingDay) -> Json:
    return {
        "date": one.on.isoformat(),
        "key": one.key.text(),
        "day": one.day,
        "fate": one.fate.value,
        "reasons": [code.value for code in one.reasons],
        "feed": one.feed,
        "nitrogen_per_bale_g": _round(one.nitrogen_per_bale_g, 1),
        "total_g": _round(one.total_g, 1),
    }


def _crop_json(crop: CropSummary) -> Json:
    return {
        "label": crop.label,
        "crop": crop.crop,
        "planted_on": _date(crop.planted_on),
        "picking_told_on": _date(crop.picking_told_on),
        "first_harvest_on": _date(crop.first_harvest_on),
        "last_harvest_on": _date(crop.last_harvest_on),
        "over_on": _date(crop.over_on),
        "standing": crop.standing,
        "harvests": crop.harvests,
        "kg": _round(crop.kg, 3),
        "pieces": _round(crop.pieces, 0),
    }


def _date(on: date | None) -> str | None:
    return None if on is None else on.isoformat()


def _dates(dates: Iterable[date]) -> list[str]:
    return [on.isoformat() for on in dates]


def _round(value: float | None, digits: int = FINE_DIGITS) -> float | None:
    return None if value is None else round(value, digits) + 0.0
