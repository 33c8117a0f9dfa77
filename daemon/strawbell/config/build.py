"""Turn checked settings into the vocabulary of the plan."""

from __future__ import annotations

from datetime import date

from msgspec.structs import replace

from strawbell.agronomy.bales import dry_matter_kg
from strawbell.agronomy.doses import dosed
from strawbell.agronomy.schedules import start_for
from strawbell.config.gardens import BatchSection, GardenSection, PlantingSection
from strawbell.config.schema import Settings
from strawbell.config.services import RulesSection, TimesSection
from strawbell.config.supplies_at_hand import Supplies, Thing, bale_of, find
from strawbell.errors import Defect
from strawbell.model.garden import Batch, Garden, Place, Planting, Rules, Times

MIX_LAYER_CM = 4.0
"""Planting mix on top for sown crops: 1 to 2 in (common practice)."""


def gardens_of(settings: Settings, supplies: Supplies) -> tuple[Garden, ...]:
    """Return the gardens of settings that every check has passed."""
    rules = rules_of(settings.rules, settings.weather.stale_after_h)
    times = times_of(settings.times)
    return tuple(_garden(each, settings, supplies, rules, times) for each in settings.gardens)


def rules_of(section: RulesSection, stale_after_h: float) -> Rules:
    """Return the thresholds of the judgement."""
    return Rules(stale_after_h=stale_after_h, **dict(section))


def times_of(section: TimesSection) -> Times:
    """Return the times of day."""
    away = tuple(
        (date.fromisoformat(first), date.fromisoformat(last))
        for first, last in (each.split("/") for each in section.away)
    )
    given = dict(section)
    weekly = given.pop("routine") == "weekly"
    return Times(**{**given, "away": away, "weekly_routine": weekly})


def _garden(
    section: GardenSection, settings: Settings, supplies: Supplies, rules: Rules, times: Times
) -> Garden:
    mix_layer_cm = MIX_LAYER_CM if section.mix_layer_cm is None else section.mix_layer_cm
    return Garden(
        name=section.name,
        place=Place(section.latitude, section.longitude, section.time_zone, section.elevation_m),
        batches=tuple(_batch(each, supplies) for each in section.batches),
        rules=rules,
        times=times,
        units=settings.units,
        mix_layer_cm=mix_layer_cm,
        first_freeze_on=section.first_freeze_on,
        id=section.id,
    )


def _batch(section: BatchSection, supplies: Supplies) -> Batch:
    start_on = section.start_on
    if start_on is None and section.plant_on is not None:
        schedule = _sure(find(supplies.schedules, section.schedule), section.schedule)
        start_on = start_for(section.plant_on, schedule)
    batch = fed_batch(section, supplies, _sure(start_on, "start_on"))
    plantings = tuple(_planting(each, section, supplies) for each in section.plantings)
    return replace(_sure(batch, "feed"), plantings=plantings)


def fed_batch(section: BatchSection, supplies: Supplies, start_on: date) -> Batch | None:
    """Return a batch with its full dose, without its plantings; None where a name is unknown."""
    bale, schedule = bale_of(section), supplies.schedule_of(section)
    feed, finishing = supplies.feed_of(section), supplies.finishing_feed_of(section)
    if bale is None or schedule is None or feed is None or finishing is None:
        return None
    per_kg_g = section.dose_per_kg_straw_g
    batch = Batch(
        name=section.name,
        bales=section.bales,
        bale=bale,
        start_on=start_on,
        schedule=schedule,
        feed=feed,
        finishing_feed=finishing,
        nitrogen_per_full_dose_g=(per_kg_g or 1.0) * dry_matter_kg(bale),
        mulched=section.mulched,
        rain_cover=section.rain_cover,
        id=section.id,
    )
    return batch if per_kg_g is not None else dosed(batch)


def _planting(section: PlantingSection, batch: BatchSection, supplies: Supplies) -> Planting:
    # A batch counted back from its planting day is meant to be planted on it, not before.
    plant_on = section.plant_on
    if plant_on is None and section.follows is None:
        plant_on = batch.plant_on
    crop = _sure(find(supplies.crops, section.crop), section.crop)
    followed = find(supplies.crops, section.follows) if section.follows else None
    return Planting(
        crop=crop,
        plants=section.plants,
        method=section.method,
        plant_on=plant_on,
        follows=followed.name if followed else None,
    )


def _sure(value: Thing | None, name: str) -> Thing:
    if value is None:
        raise Defect(f"The checks let an unknown {name} pass.")
    return value
