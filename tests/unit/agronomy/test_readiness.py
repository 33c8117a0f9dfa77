"""Claims about when a batch is cool enough to plant."""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import UTC, date, datetime, timedelta

import pytest

from strawbell.agronomy.readiness import (
    CoreDay,
    CoreOutlook,
    EffectiveDays,
    Progress,
    Readiness,
    ReadinessCode,
    Reading,
    Ready,
    Span,
    readiness,
)

TODAY = date(2027, 4, 17)
NOW = datetime(2027, 4, 17, 6, 30, tzinfo=UTC)
LIMIT_C = 37.5
COMPLETE = Progress(EffectiveDays(12.5, 12.5), 12.0, Span(0, 0, 0))
UNSURE = Progress(EffectiveDays(10.0, 13.0), 12.0, Span(0, 1, 3))
SHORT = Progress(EffectiveDays(5.0, 6.0), 12.0, Span(4, 6, 9))


def cores(
    bands: Sequence[tuple[float, float, float]],
    peak_days_ago: int | None = 5,
) -> CoreOutlook:
    """Return an outlook from today on."""
    return CoreOutlook(
        days=tuple(
            CoreDay(TODAY + timedelta(days=offset), *band) for offset, band in enumerate(bands)
        ),
        from_readings=False,
        peak_on=None if peak_days_ago is None else TODAY - timedelta(days=peak_days_ago),
    )


COOL = cores([(20.0, 25.0, 30.0)] * 6)
HOT = cores([(45.0, 50.0, 55.0)] * 6)
FALLING = cores(
    [(38.0, 45.0, 52.0), (33.0, 40.0, 47.0), (30.0, 36.0, 42.0), (26.0, 32.0, 37.4), (22, 27, 32)]
)


def hours_ago(hours: float, temperature_c: float) -> Reading:
    """Return a reading that many hours before now."""
    return Reading(NOW - timedelta(hours=hours), temperature_c)


def judged(
    progress: Progress | None = COMPLETE,
    outlook: CoreOutlook | None = COOL,
    readings: Sequence[Reading] = (),
    *,
    plan_day: int = 13,
) -> Readiness:
    """Return the readiness with the usual limits, planting from day 11."""
    return readiness(
        progress,
        outlook,
        readings,
        NOW,
        plan_day=plan_day,
        plant_from_day=11,
        plant_below_c=LIMIT_C,
        self_heating_c=65.0,
    )


@pytest.mark.parametrize(
    ("reading_c", "ready"), [(37.4, Ready.YES), (37.5, Ready.NO), (37.6, Ready.NO)]
)
def test_a_reading_under_the_limit_after_a_hot_one_is_cooled(
    reading_c: float, ready: Ready
) -> None:
    """At the limit it is not yet safe."""
    found = judged(readings=[hours_ago(96, 55.0), hours_ago(2, reading_c)])
    assert found.ready is ready
    assert found.reading_c == reading_c
    assert not found.ask_signs


def test_a_hot_reading_beats_a_model_that_expects_it_cool() -> None:
    """The probe is believed."""
    found = judged(outlook=COOL, readings=[hours_ago(2, 50.0)])
    assert found.ready is Ready.NO
    assert ReadinessCode.READING_TOO_HOT in found.reasons
    assert found.first_safe_on == TODAY + timedelta(days=1)


def test_a_cool_reading_after_a_hot_one_beats_a_model_that_expects_it_hot() -> None:
    """The probe is believed here too, and planting is open today."""
    found = judged(SHORT, HOT, [hours_ago(96, 55.0), hours_ago(2, 30.0)])
    assert found.ready is Ready.YES
    assert found.first_safe_on == found.latest_on == TODAY


def test_a_single_low_reading_before_the_peak_is_not_cooled() -> None:
    """A cold start: short of conditioning it is no, else unknown with the signs asked for."""
    ahead = cores([(15.0, 20.0, 30.0)] * 6, peak_days_ago=-3)
    short = judged(SHORT, ahead, [hours_ago(2, 15.0)])
    assert short.ready is Ready.NO
    assert ReadinessCode.NOT_HEATED_YET in short.reasons
    unsure = judged(UNSURE, ahead, [hours_ago(2, 15.0)])
    assert unsure.ready is Ready.UNKNOWN
    assert unsure.ask_signs


def test_a_low_reading_on_the_day_of_the_peak_is_not_cooled() -> None:
    """The peak has to lie before today."""
    today = cores([(15.0, 20.0, 30.0)] * 6, peak_days_ago=0)
    yesterday = cores([(15.0, 20.0, 30.0)] * 6, peak_days_ago=1)
    assert judged(outlook=today, readings=[hours_ago(2, 15.0)]).ready is Ready.UNKNOWN
    assert judged(outlook=yesterday, readings=[hours_ago(2, 15.0)]).ready is Ready.YES


def test_two_falling_readings_under_the_limit_are_cooled() -> None:
    """An old bale that never passed the limit is taken by its fall."""
    ahead = cores([(15.0, 20.0, 30.0)] * 6, peak_days_ago=None)
    assert judged(UNSURE, ahead, [hours_ago(48, 31.0), hours_ago(2, 27.0)]).ready is Ready.YES
    assert judged(UNSURE, ahead, [hours_ago(48, 27.0), hours_ago(2, 27.0)]).ready is Ready.UNKNOWN


def test_falling_readings_of_a_bale_surely_short_are_a_cold_night() -> None:
    """14 then 12 in a cold week is no conditioned bale."""
    ahead = cores([(8.0, 12.0, 20.0)] * 6, peak_days_ago=None)
    assert judged(SHORT, ahead, [hours_ago(30, 14.0), hours_ago(2, 12.0)]).ready is Ready.NO


def test_an_old_round_shows_no_fall() -> None:
    """Seven days between the rounds still count, more do not."""
    ahead = cores([(15.0, 20.0, 30.0)] * 6, peak_days_ago=None)
    near = [hours_ago(2 + 7 * 24, 31.0), hours_ago(2, 27.0)]
    far = [hours_ago(3 + 7 * 24, 31.0), hours_ago(2, 27.0)]
    assert judged(UNSURE, ahead, near).ready is Ready.YES
    assert judged(UNSURE, ahead, far).ready is Ready.UNKNOWN


def test_the_hottest_bale_of_a_round_counts() -> None:
    """Six bales probed within the hour are as ready as the hottest."""
    found = judged(readings=[hours_ago(96, 55.0), hours_ago(3, 40.0), hours_ago(2, 30.0)])
    assert found.ready is Ready.NO
    assert found.reading_c == 40.0


def test_rounds_twelve_hours_apart_are_one_and_later_ones_are_two() -> None:
    """At twelve hours it is the same round."""
    same = judged(readings=[hours_ago(13, 40.0), hours_ago(1, 30.0)])
    later = judged(readings=[hours_ago(13.1, 40.0), hours_ago(1, 30.0)])
    assert same.ready is Ready.NO
    assert later.ready is Ready.YES


def test_a_reading_ages_out_of_beating_the_model() -> None:
    """At 48 h it still counts, later the model speaks and the signs are asked for."""
    fresh = judged(readings=[hours_ago(48.0, 50.0)])
    old = judged(readings=[hours_ago(48.1, 50.0)])
    assert fresh.ready is Ready.NO
    assert old.ready is Ready.YES
    assert old.reading_c is None
    assert old.ask_signs


def test_readings_of_the_future_are_left_out() -> None:
    """Asked for a past moment, a later reading is as if it were not."""
    assert judged(readings=[hours_ago(-1, 70.0)]) == judged()


def test_the_plan_has_to_be_finished_first() -> None:
    """A day before its planting day it is no, on it the bale decides."""
    readings = [hours_ago(96, 55.0), hours_ago(2, 30.0)]
    before = judged(readings=readings, plan_day=10)
    assert before.ready is Ready.NO
    assert ReadinessCode.PLAN_NOT_FINISHED in before.reasons
    assert before.first_safe_on == TODAY + timedelta(days=1)
    assert judged(readings=readings, plan_day=11).ready is Ready.YES


@pytest.mark.parametrize(
    ("low_c", "high_c", "ready"),
    [
        (37.5, 50.0, Ready.NO),
        (37.4, 50.0, Ready.UNKNOWN),
        (30.0, 37.5, Ready.UNKNOWN),
        (30.0, 37.4, Ready.YES),
    ],
)
def test_without_a_reading_the_whole_band_has_to_lie_on_one_side(
    low_c: float, high_c: float, ready: Ready
) -> None:
    """Wholly at or over the limit no, wholly under yes, else unknown."""
    found = judged(outlook=cores([(low_c, (low_c + high_c) / 2.0, high_c)] * 4))
    assert found.ready is ready
    assert found.ask_signs


def test_without_a_reading_conditioning_has_to_be_surely_complete() -> None:
    """Surely short is no, unsure and unknown are unknown."""
    assert judged(SHORT).ready is Ready.NO
    assert judged(UNSURE).ready is Ready.UNKNOWN
    assert judged(None).ready is Ready.UNKNOWN
    assert judged(COMPLETE).ready is Ready.YES


def test_without_a_reading_the_peak_has_to_have_passed() -> None:
    """A cool band before the peak says nothing."""
    found = judged(outlook=cores([(15.0, 20.0, 25.0)] * 4, peak_days_ago=-4))
    assert found.ready is Ready.UNKNOWN
    assert ReadinessCode.NOT_HEATED_YET in found.reasons


def test_without_an_outlook_nothing_is_known() -> None:
    """Nor where it does not hold today."""
    for outlook in (None, CoreOutlook((), False, None)):
        found = judged(outlook=outlook)
        assert found.ready is Ready.UNKNOWN
        assert ReadinessCode.NO_OUTLOOK in found.reasons
        assert found.first_safe_on is None
        assert found.latest_on is None


def test_the_dates_are_where_expected_and_high_fall_under_the_limit_for_good() -> None:
    """Expected on the third day, the top of the band on the fourth."""
    found = judged(outlook=FALLING)
    assert found.ready is Ready.NO
    assert found.first_safe_on == TODAY + timedelta(days=2)
    assert found.latest_on == TODAY + timedelta(days=3)


def test_the_dates_wait_for_plan_and_progress() -> None:
    """The latest of the three counts."""
    assert judged(outlook=FALLING, plan_day=6).first_safe_on == TODAY + timedelta(days=5)
    found = judged(SHORT, FALLING)
    assert found.first_safe_on == TODAY + timedelta(days=6)
    assert found.latest_on == TODAY + timedelta(days=9)


def test_dates_that_cannot_be_foreseen_are_none() -> None:
    """Still hot at the end, no end of conditioning in sight, or nothing known of it."""
    hot = judged(outlook=HOT)
    assert hot.first_safe_on is None
    assert hot.latest_on is None
    endless = Progress(EffectiveDays(1.0, 1.0), 12.0, Span(30, 50, None))
    found = judged(endless, FALLING)
    assert found.first_safe_on == TODAY + timedelta(days=50)
    assert found.latest_on is None
    assert judged(None, FALLING).first_safe_on is None


def test_the_cool_days_before_the_peak_give_no_date() -> None:
    """Two cool days, then the peak on the third: the first safe day comes after it."""
    ahead = cores([(15.0, 20.0, 25.0)] * 6, peak_days_ago=-2)
    assert judged(outlook=ahead).first_safe_on == TODAY + timedelta(days=3)


def test_a_bale_that_heats_again_is_not_safe_before_the_last_hot_day() -> None:
    """Only a fall for good gives a date."""
    bands = [(20.0, 30.0, 36.0), (35.0, 40.0, 45.0), (20.0, 30.0, 36.0)]
    assert judged(SHORT, cores(bands)).first_safe_on == TODAY + timedelta(days=6)
    assert judged(UNSURE, cores(bands)).first_safe_on == TODAY + timedelta(days=2)


@pytest.mark.parametrize(("reading_c", "caution"), [(64.9, False), (65.0, True), (65.1, True)])
def test_a_reading_at_the_limit_of_self_heating_brings_the_caution(
    reading_c: float, caution: bool
) -> None:
    """At the threshold counts as reached."""
    found = judged(readings=[hours_ago(2, reading_c)])
    assert found.self_heating is caution
    assert (ReadinessCode.SELF_HEATING in found.reasons) is caution


@pytest.mark.parametrize("bad", [math.nan, math.inf])
def test_what_is_no_temperature_is_refused(bad: float) -> None:
    """The limits name what they refuse."""
    for name in ("plant_below_c", "self_heating_c"):
        limits = {"plant_below_c": 37.5, "self_heating_c": 65.0, name: bad}
        with pytest.raises(ValueError, match=name):
            readiness(COMPLETE, COOL, (), NOW, plan_day=1, plant_from_day=11, **limits)


def test_a_naive_moment_is_refused() -> None:
    """Without a zone the garden's date is not known."""
    with pytest.raises(ValueError, match="now"):
        readiness(
            COMPLETE, COOL, (), NOW.replace(tzinfo=None),
            plan_day=1, plant_from_day=11, plant_below_c=37.5, self_heating_c=65.0,
        )  # fmt: skip
