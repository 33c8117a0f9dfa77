"""Claims about the band of core temperatures, its calibration and the probe readings in it."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta, timezone

import pytest

from strawbell.agronomy.air.constants import DayTemperature
from strawbell.agronomy.bale.core_outlook import (
    MOST_DAYS_AHEAD,
    READING_HOLDS_DAYS,
    CoreDay,
    CoreOutlook,
    Reading,
    core_temperature,
)
from strawbell.agronomy.bale.heat import BaleHeatInputs, Feeding
from strawbell.model.garden import Bale

TWO_STRING = Bale("two-string", 100.0, 46.0, 36.0, 20.0)
THREE_STRING = Bale("three-string", 112.0, 56.0, 41.0, 38.0)
START = date(2027, 4, 5)
MILD_C = 14.0
FULL_DOSE_G = 40.8  # half a cup of urea a bale (WSU FS109E; 0.75 kg/L)
SOAK_FIRST = ((3, 1.0), (4, 1.0), (5, 1.0), (6, 0.5), (7, 0.5), (8, 0.5))


def feedings(dose_g: float = FULL_DOSE_G, *, organic: bool = False) -> tuple[Feeding, ...]:
    """Return the feedings of UC ANR 8559, Table 2: days 4 to 6 full, 7 to 9 half."""
    return tuple(
        Feeding(START + timedelta(days=day), dose_g * share, organic) for day, share in SOAK_FIRST
    )


def steady(mean_c: float, days: int = 90) -> dict[date, DayTemperature]:
    """Return days of one mean, 5 K to either side."""
    return {
        START + timedelta(days=day): DayTemperature(mean_c - 5.0, mean_c + 5.0)
        for day in range(days)
    }


def moment(day: float, hour: float = 7.0) -> datetime:
    """Return a moment on the day of the sequence counted from 0."""
    return datetime(2027, 4, 5, tzinfo=UTC) + timedelta(days=day, hours=hour)


def outlook(
    bale: Bale = TWO_STRING,
    fed: tuple[Feeding, ...] | None = None,
    *,
    air: Mapping[date, DayTemperature | None] | None = None,
    readings: Sequence[Reading] = (),
    day: int = 0,
    ahead: int = 40,
) -> CoreOutlook:
    """Return the outlook of a bale fed after UC ANR 8559, Table 2, in mild weather."""
    return core_temperature(
        BaleHeatInputs(bale, feedings() if fed is None else fed, START),
        steady(MILD_C) if air is None else air,
        readings,
        moment(day),
        ahead,
    )


def peak(found: CoreOutlook) -> CoreDay:
    """Return the hottest day expected."""
    return max(found.days, key=lambda core: core.expected_c)


def day_of(core: CoreDay) -> int:
    """Return the day of the sequence, the first being 1."""
    return (core.on - START).days + 1


def test_a_fresh_three_string_bale_passes_60_in_mild_spring() -> None:
    """UC ANR 8559: over 140 F; and the hay table's 65 degC is not reached."""
    assert 60.0 < peak(outlook(THREE_STRING)).expected_c < 65.0


def test_a_two_string_bale_on_organic_feed_peaks_where_it_was_measured() -> None:
    """UC Master Gardeners Sacramento 2015: 43 degC, lower than in other years; at most 60."""
    found = peak(outlook(fed=feedings(organic=True)))
    assert 43.0 <= found.expected_c <= 60.0
    weak = peak(outlook(fed=feedings(17.6, organic=True)))  # a cup of blood meal as full dose
    assert weak.low_c <= 43.0 <= weak.high_c


@pytest.mark.parametrize("bale", [TWO_STRING, THREE_STRING])
@pytest.mark.parametrize("mean_c", [5.0, 12.0, 20.0, 28.0])
def test_a_weathered_bale_does_not_pass_38(bale: Bale, mean_c: float) -> None:
    """UC ANR 8559: old bales may not pass 100 F."""
    found = outlook(replace(bale, weathered=True), air=steady(mean_c))
    assert peak(found).expected_c <= 38.0


def test_a_frozen_bale_does_not_heat() -> None:
    """In steady frost the core stays at the air's mean, and no peak is seen."""
    found = outlook(air=steady(-8.0))
    assert peak(found).expected_c == pytest.approx(-8.0, abs=1e-9)
    assert found.peak_on is None


def test_bales_fed_once_in_mid_march_heat_within_five_days() -> None:
    """Oregon State 1986: out 12 March, 147 g N on 13 March, heating by 18 March (mean 8 degC)."""
    once = (Feeding(START + timedelta(days=1), 147.0),)
    found = outlook(fed=once, air=steady(8.0))
    assert found.days[6].expected_c > 8.0 + 5.0
    assert found.days[2].expected_c < 8.0 + 5.0


def test_colder_air_means_a_later_and_lower_peak() -> None:
    """Each colder spring peaks later and no hotter."""
    peaks = [peak(outlook(air=steady(mean))) for mean in (28.0, 20.0, 14.0, 8.0, 5.0)]
    assert [core.expected_c for core in peaks] == sorted(
        (core.expected_c for core in peaks), reverse=True
    )
    assert [core.on for core in peaks] == sorted(core.on for core in peaks)
    assert peaks[0].on < peaks[-1].on


def test_a_fed_bale_in_mild_spring_can_be_planted_about_two_weeks_after_wetting() -> None:
    """UC ANR 8559: about two weeks; WSU FS109E: from day 11."""
    for bale in (TWO_STRING, THREE_STRING):
        found = outlook(bale)
        hot = [day_of(core) for core in found.days if core.expected_c >= 37.5]
        assert 10 <= hot[-1] + 1 <= 16


def test_without_readings_the_band_is_wide_and_says_so() -> None:
    """At the peak it spans over 20 K."""
    found = outlook()
    assert not found.from_readings
    assert peak(found).high_c - peak(found).low_c > 20.0


def test_a_reading_narrows_the_band() -> None:
    """The band of the same evening is under half as wide with a reading."""
    without = outlook(day=8).days[0]
    reading = Reading(moment(8, 6.0), 56.0)
    found = outlook(day=8, readings=[reading])
    assert found.from_readings
    assert not found.contradicted
    assert found.days[0].high_c - found.days[0].low_c < (without.high_c - without.low_c) * 0.6


def test_the_band_widens_with_the_time_since_the_reading() -> None:
    """In air that keeps a bale steady, each day after a reading is less sure."""
    found = outlook(
        replace(TWO_STRING, weathered=True), day=30, readings=[Reading(moment(30, 6.0), 17.0)],
        ahead=8,
    )  # fmt: skip
    widths = [core.high_c - core.low_c for core in found.days]
    assert widths == sorted(widths)
    assert widths[-1] > widths[0] + 2.0


def test_what_a_reading_taught_is_forgotten() -> None:
    """Six days on, today's band is wider than on the day itself, and not yet the model's own."""
    bale = replace(TWO_STRING, weathered=True)
    readings = [Reading(moment(20, 6.0), 17.0)]
    widths = [
        found.days[0].high_c - found.days[0].low_c
        for found in (
            outlook(bale, day=20, readings=readings, ahead=0),
            outlook(bale, day=26, readings=readings, ahead=0),
            outlook(bale, day=26, ahead=0),
        )
    ]
    assert widths[0] + 2.0 < widths[1] < widths[2]


@pytest.mark.parametrize("reading_c", [20.0, 38.0, 70.0])
def test_a_reading_far_outside_the_band_is_believed(reading_c: float) -> None:
    """The day's expected value starts at what the probe showed, not at the model's 56."""
    found = outlook(day=7, readings=[Reading(moment(7, 18.0) - timedelta(hours=12), reading_c)])
    plain = outlook(day=7).days[0].expected_c
    ours = found.days[0].expected_c
    assert abs(ours - reading_c) < abs(plain - reading_c) / 2.0
    assert found.contradicted == (abs(reading_c - 55.0) > 25.0)


def test_a_bale_that_was_hot_and_reads_cool_is_not_expected_to_heat_again() -> None:
    """60, then 30: what rots fast is taken as used up."""
    readings = [Reading(moment(6, 18.0), 60.0), Reading(moment(8, 18.0), 30.0)]
    found = outlook(day=9, readings=readings, ahead=10)
    assert all(core.expected_c < 32.0 for core in found.days)


def test_a_bale_that_reads_cool_before_it_was_hot_is_expected_to_heat_later() -> None:
    """A cold start: the peak comes after the one of the model alone, and still comes."""
    found = outlook(day=7, readings=[Reading(moment(7, 6.0), 15.0)], ahead=10)
    assert found.days[0].expected_c < 25.0
    assert peak(found).on > peak(outlook()).on
    assert peak(found).expected_c > 40.0


def test_a_reading_that_agrees_changes_little() -> None:
    """The model's own value as a reading leaves the days ahead where they were."""
    plain = outlook(day=8, ahead=6)
    same = Reading(moment(8, 0.0), 55.0)
    agreed = outlook(day=8, readings=[same], ahead=6)
    for before, after in zip(plain.days, agreed.days, strict=True):
        assert after.expected_c == pytest.approx(before.expected_c, abs=4.0)


def test_a_warm_reading_of_a_bale_thought_cold_raises_the_days_after() -> None:
    """An unfed bale read at 50 degC stays warmer than thought for days."""
    plain = outlook(fed=(), day=8, ahead=3)
    found = outlook(fed=(), day=8, readings=[Reading(moment(8, 6.0), 50.0)], ahead=3)
    assert found.contradicted
    assert found.days[2].expected_c > plain.days[2].expected_c + 5.0


def test_a_cold_reading_of_a_bale_at_the_airs_temperature_changes_nothing_else() -> None:
    """Where there is no warmth above the air there is nothing to scale."""
    found = outlook(fed=(), day=0, readings=[Reading(moment(0, 6.0), 13.5)], ahead=3)
    plain = outlook(fed=(), day=0, ahead=3)
    assert found.days[3].expected_c == pytest.approx(plain.days[3].expected_c, abs=0.2)


def test_a_reading_of_a_frozen_bale_is_taken() -> None:
    """With nothing at work the temperature alone is corrected."""
    air = steady(-12.0)
    found = outlook(day=4, air=air, readings=[Reading(moment(4, 6.0), -3.0)], ahead=2)
    assert -12.0 < found.days[0].expected_c < -3.0


def test_a_scorching_reading_stops_the_work_and_the_band_still_holds_it() -> None:
    """Over 75 degC nothing decomposes in the model; the reading stands above its usual cap."""
    found = outlook(day=7, readings=[Reading(moment(7, 6.0), 120.0)], ahead=1)
    assert found.contradicted
    assert found.days[0].high_c >= found.days[0].expected_c > 75.0


def test_readings_age_out_of_the_flag() -> None:
    """Seven days after the reading the band rests on it, a quarter day later no more."""
    readings = [Reading(moment(10, 0.0), 40.0)]
    assert outlook(day=10 + READING_HOLDS_DAYS, readings=readings).from_readings
    assert not outlook(day=11 + READING_HOLDS_DAYS, readings=readings).from_readings


def test_readings_of_the_future_and_of_before_the_start_are_left_out() -> None:
    """Asked for a past moment, later readings are as if they were not."""
    readings = [Reading(moment(8), 20.0), Reading(moment(-2), 60.0)]
    assert outlook(day=7, readings=readings) == outlook(day=7)


def test_the_order_of_readings_does_not_matter() -> None:
    """They are taken by their moments."""
    readings = [Reading(moment(6), 58.0), Reading(moment(8), 40.0), Reading(moment(8, 6.9), 44.0)]
    assert outlook(day=8, readings=readings) == outlook(day=8, readings=readings[::-1])


def test_readings_in_another_zone_count_at_the_same_moment() -> None:
    """The garden's zone is that of `now`."""
    here = Reading(moment(8, 6.0), 40.0)
    there = Reading(here.at.astimezone(timezone(timedelta(hours=9))), 40.0)
    assert outlook(day=8, readings=[here]) == outlook(day=8, readings=[there])


def test_unknown_air_is_stood_in_for_counted_and_widens_the_band() -> None:
    """The last known week's mean carries on; where nothing is known 12 degC is taken."""
    known = outlook(day=5, ahead=5)
    partly = outlook(day=5, ahead=5, air=dict(list(steady(MILD_C).items())[:7]))
    nothing = outlook(day=5, ahead=5, air={})
    assert known.air_assumed_days == 0
    assert partly.air_assumed_days == 4
    assert nothing.air_assumed_days == 11
    assert partly.days[-1].expected_c == pytest.approx(known.days[-1].expected_c)
    width = [found.days[-1].high_c - found.days[-1].low_c for found in (known, partly)]
    assert width[1] > width[0]


def test_the_first_known_day_stands_in_for_those_before_it() -> None:
    """Days before any known one take the mean of the first that is known."""
    late = {on: day for on, day in steady(MILD_C).items() if on >= START + timedelta(days=3)}
    found = outlook(air={START: None, **late}, ahead=10)
    assert found.air_assumed_days == 3
    assert found.days[10].expected_c == pytest.approx(outlook(ahead=10).days[10].expected_c)


def test_the_outlook_starts_today_and_has_a_day_for_each_day_ahead() -> None:
    """Today is the first."""
    found = outlook(day=9, ahead=7)
    assert [core.on for core in found.days] == [
        START + timedelta(days=9 + offset) for offset in range(8)
    ]


def test_days_before_the_first_wetting_are_left_out() -> None:
    """Asked three days early, the outlook starts with the wetting; asked too early, it is empty."""
    early = core_temperature(
        BaleHeatInputs(TWO_STRING, feedings(), START), steady(MILD_C), (), moment(-3), 5
    )
    assert early.days[0].on == START
    assert len(early.days) == 3
    empty = core_temperature(
        BaleHeatInputs(TWO_STRING, feedings(), START), steady(MILD_C), (), moment(-9), 5
    )
    assert empty.days == ()
    assert empty.peak_on is None


def test_feedings_before_the_first_wetting_work_from_it_on() -> None:
    """Dry feed on dry straw waits for water."""
    early = (Feeding(START - timedelta(days=5), 100.0),)
    assert outlook(fed=early) == outlook(fed=(Feeding(START, 100.0),))


def test_a_peak_that_is_still_ahead_at_the_end_is_not_named() -> None:
    """Asked only for the first days, the heat still rises."""
    assert outlook(ahead=0).peak_on is None
    assert outlook(ahead=20).peak_on is not None


@pytest.mark.parametrize("bad", [-40.1, 150.1, math.nan])
def test_impossible_readings_are_refused(bad: float) -> None:
    """-40 and 150 degC are in, beyond them is out."""
    outlook(day=1, readings=[Reading(moment(0), 150.0), Reading(moment(1, 1.0), -40.0)])
    with pytest.raises(ValueError, match="temperature_c"):
        outlook(readings=[Reading(moment(0), bad)])


@pytest.mark.parametrize("bad", [-1, MOST_DAYS_AHEAD + 1])
def test_days_ahead_outside_the_range_are_refused(bad: int) -> None:
    """0 and 60 are in."""
    outlook(ahead=MOST_DAYS_AHEAD)
    with pytest.raises(ValueError, match="days_ahead"):
        outlook(ahead=bad)


def test_a_naive_moment_is_refused() -> None:
    """Without a zone the garden's date is not known."""
    with pytest.raises(ValueError, match="now"):
        core_temperature(
            BaleHeatInputs(TWO_STRING, (), START), {}, (), datetime(2027, 4, 6), 3
        )  # fmt: skip
