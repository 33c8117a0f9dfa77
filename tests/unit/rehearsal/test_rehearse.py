"""A rehearsed season: the same pipeline, counted by the weather that came."""

from __future__ import annotations

import random
from collections import Counter
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

from msgspec.structs import replace

from strawbell.edges.folder import FolderChannel
from strawbell.edges.store.sqlite_store import SqliteStore
from strawbell.model.forecast import Hour
from strawbell.model.garden import Garden
from strawbell.rehearsal.recorded import Report, Weather
from strawbell.rehearsal.rehearse import merged_moments, rehearse
from strawbell.rehearsal.report import Tally, tally
from strawbell.season.local_time import bounds_of
from support.gardens import START, TIMES, ZONE, batch, garden

LAST = START + timedelta(days=19)
PLAN = garden(times=replace(TIMES, watch_every_min=360))


def weather(rain_mm: dict[date, float], low_c: dict[date, float] | None = None) -> Weather:
    """Return mild dry weather around the season with rain or cold written over dates."""
    zone = ZoneInfo(ZONE)
    hours = {}
    for day in range(-3, 40):
        on = START + timedelta(days=day)
        start, end = bounds_of(on, zone)
        count = int((end - start) / timedelta(hours=1))
        for number in range(count):
            at = start + timedelta(hours=number)
            cold = (low_c or {}).get(on, 12.0)
            hours[at] = Hour(at, temperature_c=cold, rain_mm=rain_mm.get(on, 0.0) / count)
    report = Report(START - timedelta(days=3), START + timedelta(days=39), True, (), ())
    return Weather(hours, report, zone)


def played(folder: Path, truth: Weather, plan: Garden = PLAN, skill: str = "perfect") -> Tally:
    """Rehearse a plan and count."""
    with SqliteStore(folder / "test.db", datetime(2027, 4, 1, tzinfo=UTC), owner=True) as store:
        told = list(
            rehearse(
                (plan,),
                {ZONE: truth},
                store,
                (FolderChannel(folder / "out"),),
                (START, LAST),
                skill,
                seed=1,
            )
        )
        notices: Counter[date] = Counter()
        for each in told:
            notices[each.on] += len(each.notices)
        return tally(plan, store.journal(plan.name), truth, (START, LAST), notices)


def test_in_mild_dry_weather_both_do_the_same(tmp_path: Path) -> None:
    """Nothing to hold, nothing washed out, and a file for every notice."""
    found = played(tmp_path, weather({}))
    (ours,), (plain,) = found.strawbell, found.calendar
    same = {"leached_low_g": 0.0, "leached_high_g": 0.0}
    assert replace(ours, **same) == replace(plain, **same)
    assert ours.feedings == 7
    assert ours.held_days == ours.moved_days == ours.before_heavy_rain == 0
    assert ours.leached_high_g < 0.01 * ours.nitrogen_given_g
    assert len(list((tmp_path / "out").glob("*.eml"))) == found.notices > 0


def test_a_downpour_known_ahead_is_not_fed_into(tmp_path: Path) -> None:
    """The calendar feeds into it on the third morning."""
    third = START + timedelta(days=2)
    found = played(tmp_path, weather({third: 40.0}))
    (ours,), (plain,) = found.strawbell, found.calendar
    assert (plain.before_heavy_rain, ours.before_heavy_rain) == (1, 0)
    assert plain.moved_days == 0
    assert third in plain.feedings_on


def test_rain_of_two_days_holds_the_feeding_and_saves_nitrogen(tmp_path: Path) -> None:
    """It takes the place of water later on, and the season is ready no later."""
    third = START + timedelta(days=2)
    found = played(tmp_path, weather({third: 60.0, third + timedelta(days=1): 60.0}))
    (ours,), (plain,) = found.strawbell, found.calendar
    assert ours.held_days >= 1
    assert ours.moved_days <= ours.held_days - 1
    assert third not in ours.feedings_on
    assert ours.leached_high_g < plain.leached_high_g


def test_a_freeze_known_ahead_holds_the_feeding(tmp_path: Path) -> None:
    """The calendar feeds frozen bales."""
    third = START + timedelta(days=2)
    found = played(tmp_path, weather({}, {third: -2.0}))
    assert found.calendar[0].on_freezing_nights >= 1
    assert found.strawbell[0].on_freezing_nights == 0


def test_a_forecast_that_does_not_know_feeds_into_the_rain(tmp_path: Path) -> None:
    """Persistence cannot see the downpour, and the count says so."""
    third = START + timedelta(days=2)
    found = played(tmp_path, weather({third: 40.0}), skill="persistence")
    assert found.strawbell[0].before_heavy_rain == 1


def test_a_rehearsal_comes_out_the_same_again(tmp_path: Path) -> None:
    """With the same seed, errors and all."""
    truth = weather({START + timedelta(days=4): 20.0})
    (tmp_path / "a").mkdir()
    (tmp_path / "b").mkdir()
    first = played(tmp_path / "a", truth, skill="usual")
    random.seed(99)
    assert played(tmp_path / "b", truth, skill="usual") == first


def test_moments_of_several_gardens_come_in_order_and_once() -> None:
    """As one daemon looks at all of them."""
    two = (PLAN, garden(batch(), name="Second", times=replace(TIMES, watch_every_min=60)))
    moments = list(merged_moments(two, START, START))
    assert moments == sorted(set(moments))
