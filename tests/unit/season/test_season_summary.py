"""The summary adds up what the journal says, keeps apart what is apart, and guesses nothing."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from datetime import date, timedelta

import pytest
from msgspec.structs import replace

from strawbell.model.brief import ReasonCode
from strawbell.model.forecast import Hour
from strawbell.model.garden import Garden, Method
from strawbell.model.journal import EntryKind, Journal, JournalEntry
from strawbell.model.season import ChanceKept, FeedingFate, Summary
from strawbell.season.journal_index import JournalIndex
from strawbell.season.season_summary import BOUGHT_BEFORE, PIECES, harvested_so_far, summarise
from strawbell.season.stage import extra_key
from support.gardens import (
    RADISH,
    START,
    TOMATO,
    at,
    batch,
    done,
    forecast,
    garden,
    mild,
    missed,
    on_day,
    planting,
    tell_whole,
)

PLAN = garden(batch(plantings=(planting(TOMATO), planting(RADISH, Method.SEED))))


def mornings(
    plan: Garden,
    days: Iterable[int],
    journal: Journal = (),
    change: Callable[[Hour], Hour] = mild,
) -> Journal:
    """Return the journal after the mornings of these days of the sequence were told."""
    for number in days:
        moment = at(on_day(number))
        journal = tell_whole(journal, plan, forecast(moment, change), moment)
    return journal


def summed(journal: Journal, today: date, plan: Garden = PLAN) -> Summary:
    """Return the summary on a date."""
    return summarise(plan, journal, JournalIndex.of(journal), today)


def freezing_on(*days: int) -> Callable[[Hour], Hour]:
    """Return weather with a freeze in the first hours of days of the sequence."""
    cold = {at(on_day(day), 5, 0) for day in days}
    return lambda hour: replace(hour, temperature_c=-3.0) if hour.starts_at in cold else hour


def raining_on(*days: int) -> Callable[[Hour], Hour]:
    """Return weather with a downpour at noon of days of the sequence."""
    wet = {at(on_day(day), 12, 0) for day in days}
    return lambda hour: (
        replace(hour, rain_mm=20.0, rain_chance_percent=90.0) if hour.starts_at in wet else hour
    )


def row(kind: EntryKind, on: date, **values: object) -> JournalEntry:
    """Return a row of the grower's own."""
    return JournalEntry(at(on, 19), PLAN.name, on, kind, **values)  # type: ignore[arg-type]


def picked(on: date, crop: str = "tomato", kg: float | None = None, **data: object) -> JournalEntry:
    """Return a harvest."""
    return row(EntryKind.HARVEST, on, batch="Row A", value=kg, text=crop, data=data)


def test_an_empty_journal_says_that_nothing_was_told() -> None:
    """What the plan supposes is marked as supposed, and no amount is invented."""
    found = summed((), on_day(6))
    (row_a,) = found.batches
    assert found.kept_since is None
    assert found.mornings_told == 0
    assert {each.fate for each in row_a.feedings} == {FeedingFate.SUPPOSED}
    assert {each.feed for each in row_a.feedings} == {batch().feed.name}
    assert row_a.water_l is None
    assert row_a.readings is None
    assert found.cost_noted is None
    assert found.hints == ()


def test_a_batch_that_has_not_begun_is_left_out() -> None:
    """The day before its first soaking there is nothing to say."""
    found = summed((), START - timedelta(days=1))
    assert (found.first, found.batches) == (None, ())
    assert len(summed((), START).batches) == 1


def test_told_and_confirmed_feedings_are_told_apart() -> None:
    """Both count as given."""
    journal = mornings(PLAN, range(1, 6))
    keys = [each.key for each in summed(journal, on_day(5)).batches[0].given]
    journal = (*journal, done(keys[0], at(on_day(5), 20), on_day(5)))
    (row_a,) = summed(journal, on_day(5)).batches
    fates = {each.key: each.fate for each in row_a.given}
    assert fates[keys[0]] is FeedingFate.CONFIRMED
    assert {fates[key] for key in keys[1:]} == {FeedingFate.TOLD}
    assert len(row_a.given) == 3


def test_the_nitrogen_is_that_of_the_doses_told() -> None:
    """Three full doses of the alternate-days schedule by day 5, from their rows."""
    (row_a,) = summed(mornings(PLAN, range(1, 6)), on_day(5)).batches
    full = batch().nitrogen_per_full_dose_g
    assert [each.day for each in row_a.given] == [1, 3, 5]
    assert row_a.nitrogen_per_bale_g == pytest.approx(3 * full, rel=0.01)


def test_nitrogen_of_which_any_is_unknown_is_unknown() -> None:
    """Never counted as 0."""
    (row_a,) = summed(mornings(PLAN, range(1, 6)), on_day(5)).batches
    given = row_a.given
    lost = replace(row_a, feedings=(*given, replace(given[0], nitrogen_per_bale_g=None)))
    assert lost.nitrogen_per_bale_g is None
    assert replace(row_a, feedings=()).nitrogen_per_bale_g is None


def test_today_counts_once_its_brief_was_told() -> None:
    """Before it, the feeding of today is not among the given."""
    journal = mornings(PLAN, range(1, 5))
    assert [each.day for each in summed(journal, on_day(5)).batches[0].given] == [1, 3]
    journal = mornings(PLAN, [5], journal)
    assert [each.day for each in summed(journal, on_day(5)).batches[0].given] == [1, 3, 5]


def test_holds_for_rain_and_for_a_freeze_are_counted_apart() -> None:
    """Each held day with its own reason, and the feeding given once."""
    journal = mornings(PLAN, range(1, 3))
    journal = mornings(PLAN, [3], journal, freezing_on(4))
    journal = mornings(PLAN, [4], journal, raining_on(4))
    journal = mornings(PLAN, [5], journal)
    (row_a,) = summed(journal, on_day(5)).batches
    assert [(each.on, each.held_for_freeze, each.held_for_rain) for each in row_a.held] == [
        (on_day(3), True, False),
        (on_day(4), False, True),
    ]
    assert [each.on for each in row_a.given] == [on_day(1), on_day(5)]


def test_a_hold_that_was_taken_back_the_same_day_is_no_hold() -> None:
    """The last word of the date counts."""
    journal = mornings(PLAN, range(1, 3))
    journal = mornings(PLAN, [3], journal, raining_on(3))
    (held,) = summed(journal, on_day(3)).batches[0].held
    back = row(EntryKind.TAKEN_BACK, on_day(3), batch="Row A", task=held.key.text(), state="due")
    (row_a,) = summed((*journal, back), on_day(3)).batches
    assert row_a.held == ()
    assert row_a.given[-1].on == on_day(3)


def test_a_missed_feeding_is_of_the_day_it_was_told() -> None:
    """It was told on day 5 and answered on day 6; once given it is in both lists."""
    journal = mornings(PLAN, range(1, 6))
    key = summed(journal, on_day(5)).batches[0].given[-1].key
    journal = (*journal, missed(key, at(on_day(6), 5), on_day(6)))
    (row_a,) = summed(journal, on_day(6)).batches
    assert [(each.key, each.on) for each in row_a.missed] == [(key, on_day(5))]
    journal = mornings(PLAN, [6], journal)
    (row_a,) = summed(journal, on_day(6)).batches
    assert row_a.given[-1].key == key
    assert len(row_a.missed) == 1


def test_a_word_that_was_taken_back_the_same_day_does_not_count() -> None:
    """The last word of a date is believed."""
    journal = mornings(PLAN, range(1, 6))
    key = summed(journal, on_day(5)).batches[0].given[-1].key
    words = (missed(key, at(on_day(5), 9), on_day(5)), done(key, at(on_day(5), 10), on_day(5)))
    (row_a,) = summed((*journal, *words), on_day(5)).batches
    assert row_a.missed == ()


def test_days_that_nothing_could_be_told_on_are_named() -> None:
    """Between the first brief and today."""
    journal = mornings(PLAN, [1, 2, 5])
    found = summed(journal, on_day(5))
    assert found.not_told == (on_day(3), on_day(4))
    assert found.mornings_told == 3
    assert found.kept_since == on_day(1)


def test_water_is_that_of_all_bales_on_days_it_was_due() -> None:
    """A held day advises none, and twice a day is twice as much."""
    told = {"water_per_bale_l": 2.0, "times_a_day": 2, "action": "water"}
    rows = (
        row(EntryKind.TOLD, START, batch="Row A", task="row-a-4-water", state="due", data=told),
        row(
            EntryKind.TOLD,
            START,
            batch="Row A",
            task="row-a-water-2027-04-05",
            state="held",
            data=told,
        ),
        row(EntryKind.TOLD, START, batch="Row B", task="row-b-4-water", state="due", data=told),
    )
    assert summed(rows, START).batches[0].water_l == 2.0 * 2 * 6


def test_frost_nights_are_counted_once_by_cover_and_alert() -> None:
    """An alert of the evening before a cover is the same night."""
    cover = {"action": "protect"}
    night = START + timedelta(days=30)
    rows = (
        row(EntryKind.ALERT, night - timedelta(days=1), batch="Row A", task="alert-frost-row-a",
            state="told"),
        row(EntryKind.ALERT, night, batch="Row A", task="alert-frost-row-a", state="told"),
        row(EntryKind.TOLD, night, batch="Row A", task=f"row-a-protect-{night}", state="due",
            data=cover),
        row(EntryKind.ALERT, night + timedelta(days=5), batch="Row A", task="alert-frost-row-a",
            state="told"),
        row(EntryKind.ALERT, night + timedelta(days=9), batch="Row A", task="alert-frost-row-a",
            state="told"),
        row(EntryKind.ALERT, night + timedelta(days=9), batch="Row A", task="alert-frost-row-a",
            state="passed"),
    )  # fmt: skip
    (row_a,) = summed(rows, night + timedelta(days=20)).batches
    assert row_a.frost_nights == (night, night + timedelta(days=5))


@pytest.mark.parametrize(("low_c", "mild"), [(2.7, False), (2.9, True), (None, False)])
def test_a_cover_for_nothing_is_counted_by_the_low_that_was_read(
    low_c: float | None, mild: bool
) -> None:
    """Leaves cool 2.2 degC under the air at most, and a tomato is covered at 0.56."""
    night = START + timedelta(days=30)
    told = row(EntryKind.TOLD, night, batch="Row A", task=f"row-a-protect-{night}", state="due",
               data={"action": "protect"})  # fmt: skip
    weather = row(EntryKind.WEATHER, night + timedelta(days=1))
    read = () if low_c is None else (row(EntryKind.LOW, night + timedelta(days=1), value=low_c),)
    (row_a,) = summed((told, weather, *read), night + timedelta(days=20)).batches
    assert row_a.frost_nights == (night,)
    assert row_a.mild_nights == ((night,) if mild else ())
    (row_a,) = summed((told, weather, *read), night + timedelta(days=1)).batches
    assert row_a.mild_nights == ()


def test_readings_are_first_highest_and_last() -> None:
    """Of this season only."""
    values = [(-3, 60.0), (2, 31.0), (4, 52.0), (9, 24.5)]
    rows = [
        row(EntryKind.TEMPERATURE, START + timedelta(days=days), batch="Row A", value=value)
        for days, value in values
    ]
    readings = summed(tuple(rows), START + timedelta(days=10)).batches[0].readings
    assert readings is not None
    assert readings.count == 3
    shown = (readings.first, readings.highest, readings.last)
    assert [each.temperature_c for each in shown] == [31.0, 52.0, 24.5]


def test_mass_and_pieces_of_a_crop_are_never_added_up() -> None:
    """Each is None where none was noted, and crops are kept apart."""
    on = START + timedelta(days=90)
    rows = (
        picked(on, kg=1.5),
        picked(on + timedelta(days=7), kg=0.5),
        picked(on, "radish", **{PIECES: 20}),
        picked(START - timedelta(days=1), kg=9.0),
    )
    tomato, radish = summed(rows, on + timedelta(days=8)).batches[0].crops
    assert (tomato.kg, tomato.pieces, tomato.harvests) == (2.0, None, 2)
    assert (radish.kg, radish.pieces) == (None, 20)
    assert (tomato.first_harvest_on, tomato.last_harvest_on) == (on, on + timedelta(days=7))
    (row_a,) = PLAN.batches
    assert harvested_so_far(rows, row_a, row_a.plantings[0]) == (2.0, None)


def test_a_harvest_later_than_the_date_asked_about_is_not_in_it() -> None:
    """A summary of yesterday knows nothing of today."""
    on = START + timedelta(days=90)
    tomato, _ = summed((picked(on, kg=1.5),), on - timedelta(days=1)).batches[0].crops
    assert tomato.kg is None


def test_costs_of_the_winter_before_are_of_the_season() -> None:
    """Older ones are not; a refund is taken off."""
    since = START - BOUGHT_BEFORE
    rows = (
        row(EntryKind.COST, since - timedelta(days=1), value=99.0, text="last year"),
        row(EntryKind.COST, since, value=40.0, text="bales"),
        row(EntryKind.COST, START, value=-4.5, text="one bale back"),
    )
    found = summed(rows, START)
    assert [each.text for each in found.costs] == ["bales", "one bale back"]
    assert found.cost_noted == pytest.approx(35.5)


def test_feed_is_priced_by_its_package_or_unknown() -> None:
    """A feed without a price costs an unknown amount, never 0."""
    feed = replace(batch().feed, package_kg=1.5, price=12.0)
    plan = garden(batch(feed=feed))
    found = summed(mornings(plan, range(1, 12)), on_day(11), plan)
    priced, plain = found.feeds
    used = sum(each.total_g or 0 for each in found.batches[0].given if each.feed == feed.name)
    assert priced.kg == pytest.approx(used / 1000)
    assert priced.cost == pytest.approx(used / 1000 / 1.5 * 12.0)
    assert plain.kg is not None
    assert plain.cost is None


def test_reasons_that_a_newer_strawbell_wrote_are_passed_over() -> None:
    """The journal of any version can be summed up."""
    key = summed(mornings(PLAN, range(1, 4)), on_day(3)).batches[0].given[-1].key
    data = {"reasons": ["freeze", "a-plague-of-newts"]}
    rows = (
        *mornings(PLAN, range(1, 3)),
        row(EntryKind.TOLD, on_day(3), batch="Row A", task=key.text(), state="held", data=data),
    )
    (held,) = summed(rows, on_day(3)).batches[0].held
    assert held.reasons == (ReasonCode.FREEZE,)


def test_what_was_fed_beyond_the_plan_is_in_the_sums() -> None:
    """In the feedings, in the nitrogen of each bale, and in what was used of the feed."""
    journal = mornings(PLAN, range(1, 7))
    today = on_day(6)
    extra = row(
        EntryKind.DONE,
        today,
        batch="Row A",
        task=extra_key("Row A", today).text(),
        data={"feed": "Blood meal", "feed_per_bale_g": 100.0, "nitrogen_per_bale_g": 12.0},
    )
    (before,), (after,) = (summed(rows, today).batches for rows in (journal, (*journal, extra)))
    assert len(after.given) == len(before.given) + 1
    assert before.nitrogen_per_bale_g is not None
    assert after.nitrogen_per_bale_g == pytest.approx(before.nitrogen_per_bale_g + 12.0)
    used = [summed(rows, today).feeds[0].kg for rows in (journal, (*journal, extra))]
    assert used[0] is not None
    assert used[1] == pytest.approx(used[0] + 0.1 * after.bales)


def test_each_chance_of_heavy_rain_is_kept_with_how_often_it_came() -> None:
    """Held at 6 in 10 for a rain that stayed away, fed at 2 in 10 before one that came."""
    noon = {at(on_day(3), 12, 0): 20.0, at(on_day(5), 12, 0): 11.5}

    def showers(hour: Hour) -> Hour:
        return replace(hour, rain_mm=noon.get(hour.starts_at, 0.0))

    gauge = (
        row(EntryKind.RAIN, on_day(3), value=0.0),
        row(EntryKind.RAIN, on_day(5), value=12.7),
    )
    journal = (*mornings(PLAN, range(1, 7), change=showers), *gauge)
    assert summed(journal, on_day(6)).chances.rain == (
        ChanceKept(2, times=1, came=1, held=0, needless=0),
        ChanceKept(6, times=1, came=0, held=1, needless=1),
    )


def test_a_day_whose_rain_is_not_over_counts_to_no_chance() -> None:
    """Today's is judged tomorrow."""
    journal = mornings(PLAN, range(1, 4), change=raining_on(3))
    assert summed(journal, on_day(3)).chances.rain == ()


@pytest.mark.parametrize(("low_c", "came"), [(-0.1, 1), (0.0, 1), (0.1, 0)])
def test_a_chance_of_a_freeze_is_kept_with_whether_the_night_froze(low_c: float, came: int) -> None:
    """By the grower's own thermometer, read the next morning; a freeze is 0 degC (NWS)."""

    def cold(hour: Hour) -> Hour:
        freezes = at(on_day(4), 1) <= hour.starts_at <= at(on_day(4), 5)
        return replace(hour, temperature_c=-6.0) if freezes else hour

    journal = (
        *mornings(PLAN, range(1, 6), change=cold),
        row(EntryKind.LOW, on_day(4), value=low_c),
    )
    (kept,) = summed(journal, on_day(5)).chances.freeze
    assert (kept.times, kept.came, kept.held, kept.needless) == (1, came, 1, 1 - came)
    assert summed(journal, on_day(4)).chances.freeze == ()


@pytest.mark.parametrize(("days", "standing"), [(5, False), (60, True), (200, False)])
def test_only_what_went_in_and_is_not_over_stands_in_the_bales(days: int, standing: bool) -> None:
    """By plan tomatoes go in on the day after conditioning, and are over in August."""
    tomato, _ = summed((), START + timedelta(days=days)).batches[0].crops
    assert tomato.standing is standing
    assert (tomato.planted_on is None, tomato.over_on is None) == (days < 10, days < 100)
