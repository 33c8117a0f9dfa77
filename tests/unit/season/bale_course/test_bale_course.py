"""A bale through a season: what was told to it, what plants took, and what it still carries."""

from __future__ import annotations

from datetime import date, timedelta

import msgspec
import pytest
from msgspec.structs import replace

from strawbell.agronomy.balance import body_of
from strawbell.agronomy.doses import dose_of
from strawbell.agronomy.ensemble import held_l, spent_g
from strawbell.agronomy.watering import first_soak_l
from strawbell.model.brief import Action, State
from strawbell.model.forecast import DayWeather
from strawbell.model.garden import Batch
from strawbell.model.journal import EntryKind, Journal, JournalEntry
from strawbell.season.bale_course import Course, planned_work
from strawbell.season.conditioning import soak_key
from strawbell.season.fold import course_at
from strawbell.season.journal_index import JournalIndex
from strawbell.season.stage import BatchState, SequenceState, dated_key, planting_key
from support.gardens import PLACE, START, at, batch, planting

OWN = batch(plantings=(planting(plants=12),))
BODY = body_of(OWN.bale)
PLANTED = START + timedelta(days=11)


def planted(own: Batch = OWN, on: date | None = PLANTED) -> BatchState:
    """Return a batch past its conditioning, with its plants in since a date."""
    done = {} if on is None else {planting_key(own, own.plantings[0]): on}
    sequence = SequenceState(position=len(own.schedule.days), soaked=True)
    return BatchState(sequence, done)


def dry_days(days: int, high_c: float = 28.0) -> Journal:
    """Return the weather of rainless days from the start on."""
    rows = []
    for number in range(days):
        on = START + timedelta(days=number)
        sky = DayWeather(low_c=14.0, high_c=high_c, rain_mm=0.0, complete=True)
        data = {
            "low_c": sky.low_c, "high_c": sky.high_c, "rain_mm": 0.0,
            "rain_chance_percent": None, "complete": True,
        }  # fmt: skip
        rows.append(JournalEntry(at(on), "Orchard corner", on, EntryKind.WEATHER, data=data))
    return tuple(rows)


def told(on: date, action: Action, **amounts: object) -> JournalEntry:
    """Return work that was told as due on a date."""
    is_first = action is Action.SOAK
    key = (soak_key(OWN) if is_first else dated_key(OWN.name, action, on)).text()
    return JournalEntry(
        at(on), "Orchard corner", on, EntryKind.TOLD, OWN.name, key, State.DUE.value,
        data={"action": action.value, **amounts},
    )  # fmt: skip


def walked(days: int, where: BatchState, rows: Journal) -> Course:
    """Return a bale so many days after its start."""
    return course_at(OWN, where, JournalIndex.of(rows), START + timedelta(days=days), PLACE)


def test_grown_plants_drink_from_the_bale_that_they_shade() -> None:
    daily = tuple(
        told(START + timedelta(days=each), Action.WATER, water_per_bale_l=8.0)
        for each in range(1, 80)
    )
    rows = (told(START, Action.SOAK, water_per_bale_l=30.0), *dry_days(90), *daily)
    grown, bare = walked(80, planted(), rows), walked(80, planted(on=None), rows)
    for under, alone in zip(grown.draws.left, bare.draws.left, strict=True):
        assert under.taken_l > 50.0 > alone.taken_l == 0.0
        assert under.evaporated_l < alone.evaporated_l
    assert held_l(grown.draws) < held_l(bare.draws)


def test_a_bale_is_followed_to_the_end_of_its_season() -> None:
    last = START + timedelta(days=179)
    rows = (*dry_days(190), told(last, Action.WATER, water_per_bale_l=8.0))
    before, after = walked(179, planted(), rows), walked(180, planted(), rows)
    assert held_l(after.draws) > held_l(before.draws)


def test_water_on_a_young_top_counts_with_what_the_day_took_where_no_amount_was_told() -> None:
    """However often it was moistened: some 5 mm on a day of spring at 14 to 28 degC."""
    on = START + timedelta(days=20)
    soaked = told(START, Action.SOAK, water_per_bale_l=25.0)
    dry = walked(21, planted(), (*dry_days(25), soaked))
    once, thrice, full = (
        walked(21, planted(), (*dry_days(25), soaked, told(on, Action.SURFACE_WATER, **amounts)))
        for amounts in ({}, {"times_a_day": 3}, {"water_per_bale_l": 9.0 * BODY.top_m2})
    )
    assert held_l(dry.draws) < held_l(once.draws) < held_l(full.draws)
    assert held_l(once.draws) == held_l(thrice.draws)


def test_a_young_top_under_rain_takes_no_more_where_no_amount_was_told() -> None:
    on = START + timedelta(days=20)
    rows = tuple(
        replace(row, data={**row.data, "rain_mm": 9.0}) if row.local_date == on else row
        for row in (*dry_days(25), told(START, Action.SOAK, water_per_bale_l=25.0))
    )
    watered = walked(21, planted(), (*rows, told(on, Action.SURFACE_WATER)))
    assert held_l(watered.draws) == held_l(walked(21, planted(), rows).draws)


def test_spent_straw_carries_from_what_is_bound_to_all_that_is_there() -> None:
    rows = (told(START, Action.SOAK, water_per_bale_l=30.0), *dry_days(120))
    fed = walked(120, planted(), rows)
    band = spent_g(fed.draws)
    states = fed.draws.states
    assert band.low >= min(each.nitrogen_g - each.mineral_g for each in states) - 1e-9
    assert band.high <= max(each.nitrogen_g for each in states) + 1e-9
    assert band.low <= band.mean <= band.high
    straw_g = replace(OWN.bale).dry_mass_kg * 0.88 * 5.0
    assert band.low > 0.5 * straw_g


def test_a_bale_has_the_air_of_the_day_and_keeps_the_last_that_was_known_whole() -> None:
    """A low without its high says nothing of the mean."""
    start = DayWeather(low_c=3.0, high_c=15.0, rain_mm=0.0, complete=True)
    skies = (start, replace(start, low_c=6.0, high_c=19.0), replace(start, low_c=9.0, high_c=None))
    rows = tuple(
        JournalEntry(
            at(on), "Orchard corner", on, EntryKind.WEATHER, data=msgspec.structs.asdict(sky)
        )
        for number, sky in enumerate(skies)
        for on in [START + timedelta(days=number)]
    )
    air = [
        (found.low_c, found.high_c)
        for found in (walked(days, planted(), rows) for days in (1, 2, 3))
    ]
    assert air == [(3.0, 15.0), (6.0, 19.0), (6.0, 19.0)]


def test_a_reading_counts_on_the_garden_local_date_of_its_moment() -> None:
    """Half past midnight in the garden is the evening before in UTC."""
    read_on = START + timedelta(days=4)
    row = JournalEntry(
        at(read_on, 0, 30), "Orchard corner", read_on, EntryKind.TEMPERATURE, OWN.name, value=41.0
    )
    known = [walked(days, planted(on=None), (*dry_days(6), row)).read_on for days in (4, 5, 6)]
    assert known == [None, read_on, read_on]


def test_a_feeding_of_the_plan_brings_its_nitrogen_and_a_day_of_water_none() -> None:
    """The first soaking goes with it where both fall on one day."""
    course = walked(0, planted(on=None), ())
    for step in OWN.schedule.days:
        dose = dose_of(OWN, step)
        work = planned_work(OWN, step, course, 0.0, first=step.day == 1)
        nitrogen_g = work.urea_g + work.ammonium_g + work.nitrate_g + work.organic_g
        assert nitrogen_g == pytest.approx(0.0 if dose is None else dose.nitrogen_per_bale_g)
    soaked = planned_work(OWN, OWN.schedule.days[0], course, 0.0, first=True)
    assert soaked.poured_l == first_soak_l(OWN.bale)
