"""Cold springs told day by day: dry frost stalls nothing, and an April frost costs a day of water.

The very pipeline of the daemon, with forecasts that know what comes, in a garden whose grower does
as is told and answers nothing but a probe.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, time, timedelta

import pytest
from msgspec.structs import replace

from strawbell.model.brief import Action, ReasonCode, State, TaskKey
from strawbell.model.journal import EntryKind, Journal, JournalEntry
from strawbell.rehearsal.recorded import Weather
from strawbell.rehearsal.rehearse import rehearse
from strawbell.season.due_times import Occasion
from strawbell.season.local_time import moment_of
from support.gardens import START, TIMES, batch, garden
from support.recorded_weather import mild_weather
from tests.value.journal_only import JournalOnly

PLAN = garden(batch(), times=replace(TIMES, watch_every_min=360))
FED_ON = (1, 3, 5, 7, 8, 9, 10)
"""Days of the schedule that feed."""
RAIN_FROM = 22
"""Day of the season on which the cold ends in weeks of rain."""
CONTINENTAL: Mapping[str, float] = {"usual_c": 1.5, "swing_c": 6.5}
"""Nights of -5 degC, and +8 by day."""


@dataclass(frozen=True, slots=True)
class Told:
    """What was said of a feeding on a day of the season, counted from 1."""

    day: int
    step: int
    state: State
    reasons: tuple[str, ...]


def played(weather: Weather, days: int, probe_c: float | None = None) -> Journal:
    """Return the journal of so many days; the probe is read every evening from the fourth on."""
    store, last = JournalOnly(), START + timedelta(days=days - 1)
    known = {PLAN.place.time_zone: weather}
    for told in rehearse((PLAN,), known, store, (), (START, last), "perfect", 1):
        if probe_c is None or Occasion.EVENING not in told.occasions or day_of(told.on) <= 3:
            continue
        at = moment_of(told.on, time(20), weather.zone).astimezone(UTC)
        row = JournalEntry(at, PLAN.name, told.on, EntryKind.TEMPERATURE, "Row A", value=probe_c)
        store.write((row,))
    return store.journal(PLAN.name)


def day_of(on: date) -> int:
    """Return the day of the season."""
    return (on - START).days + 1


def feedings(journal: Journal) -> list[Told]:
    """Return what each morning said of the feeding in front."""
    found = []
    for row in journal:
        key = TaskKey.parse(row.task, ["Row A"]) if row.task else None
        if row.kind is EntryKind.TOLD and key and key.action is Action.FEED and row.state:
            reasons = tuple(map(str, row.data.get("reasons", ())))  # type: ignore[call-overload]
            found.append(Told(day_of(row.local_date), key.day or 0, State(row.state), reasons))
    return found


def fed(told: Sequence[Told]) -> dict[int, int]:
    """Return by day of the schedule on which day of the season it was fed."""
    return {each.step: each.day for each in told if each.state is State.DUE}


@pytest.fixture(scope="module")
def continental() -> Weather:
    """Return three weeks of dry frost by night and mild noons, and then rain on every day."""
    rain = {START + timedelta(days=day - 1): 12.0 for day in range(RAIN_FROM, 60)}
    return mild_weather(rain, **CONTINENTAL)


class TestAContinentalSpring:
    """Weeks of nights at -5, days at +8, then rain."""

    def test_cold_bales_wait_a_day_with_each_feeding_and_no_longer(
        self, continental: Weather
    ) -> None:
        """Then they are fed in the warm hours: all of it is over a week before the rain."""
        told = feedings(played(continental, 20))
        for step in FED_ON:
            states = [each.state for each in told if each.step == step]
            assert states == [State.HELD, State.DUE]
        for each in told:
            expected = ReasonCode.FREEZE if each.state is State.HELD else ReasonCode.WARM_HOURS
            assert each.reasons == (expected.value,)
        assert list(fed(told)) == list(FED_ON)
        assert max(fed(told).values()) == 14 < RAIN_FROM - 7

    def test_bales_of_50_degrees_by_the_probe_wait_for_nothing(self, continental: Weather) -> None:
        """From the first reading on; what was held before it takes the days of water."""
        told = feedings(played(continental, 16, probe_c=50.0))
        assert [each.day for each in told if each.state is State.HELD and each.day > 4] == []
        assert fed(told) == {1: 2, 3: 4, 5: 5, 7: 7, 8: 8, 9: 9, 10: 10}

    def test_dry_bales_are_soaked_at_the_mild_noon_of_the_first_day(
        self, continental: Weather
    ) -> None:
        """Whatever the nights do."""
        brief = next(row for row in played(continental, 1) if row.kind is EntryKind.BRIEF)
        tasks = brief.data["tasks"]
        assert isinstance(tasks, list)
        (soak,) = (task for task in tasks if task["action"] == Action.SOAK)
        assert soak["state"] == State.DUE
        assert [why["code"] for why in soak["reasons"]] == [ReasonCode.WARM_HOURS.value]

    def test_bales_that_stand_still_wait_as_long_as_the_days_stay_cold(self) -> None:
        """At 0 to +3 by day nothing lives in them; the feeding goes in when it warms."""
        cold = {START + timedelta(days=day): -4.0 for day in range(2, 8)}
        told = feedings(played(mild_weather({}, cold), 12))
        waited = [each.day for each in told if each.state is State.HELD]
        assert waited == list(range(waited[0], waited[-1] + 1))
        assert len(waited) >= 4
        assert max(fed(told).values()) > waited[-1]


@pytest.fixture(scope="module")
def april_frost() -> list[Told]:
    """Return what is told of the feedings around one night of -2 in a mild April."""
    weather, after = mild_weather(), START + timedelta(days=3)
    hours = {}
    for at, hour in weather.hours.items():
        there = at.astimezone(weather.zone)
        frosty = there.date() == after and there.hour < 7
        hours[at] = replace(hour, temperature_c=-2.0) if frosty else hour
    return feedings(played(Weather(hours, weather.report, weather.zone), 13))


class TestAnOrdinaryAprilFrost:
    """The night before the fourth day, whose feeding is that of the third."""

    def test_it_postpones_one_feeding_by_a_day(self, april_frost: list[Told]) -> None:
        """Of a bale that nobody knows to be warm."""
        held = [each for each in april_frost if each.state is State.HELD]
        assert [(each.day, each.step, each.reasons) for each in held] == [(3, 3, ("freeze",))]
        assert fed(april_frost)[3] == 4

    def test_it_costs_the_sequence_no_day(self, april_frost: list[Told]) -> None:
        """The feeding takes a day of water."""
        mild = fed(feedings(played(mild_weather(), 13)))
        assert fed(april_frost) == {**mild, 3: mild[3] + 1}
