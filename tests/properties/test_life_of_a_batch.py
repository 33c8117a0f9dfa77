"""Whatever the weather and the words of the grower, a batch comes to its end, in order."""

from __future__ import annotations

import math
import random
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from strawbell.agronomy.crop_table import CROPS
from strawbell.agronomy.growing import days_to_harvest, usual_method
from strawbell.model.brief import State
from strawbell.model.garden import Batch, Garden, Planting
from strawbell.model.journal import EntryKind, Journal, JournalEntry
from strawbell.season.fold import ONCE, begin, candidates, state_at, step
from strawbell.season.harvesting import GIVE_UP_AFTER_DAYS
from strawbell.season.journal_index import JournalIndex
from strawbell.season.planting import predecessor
from strawbell.season.stage import BatchState, Day, last_harvest_key, planting_key
from support.gardens import batch, garden
from support.keys import key_of

DAY = timedelta(days=1)
START = date(2027, 3, 20)
LONGEST_DAY = date(2027, 6, 21)
"""Until then what a freeze kills young is planted again."""
GARDEN = "Orchard corner"
NAMES = sorted(CROPS)


@dataclass(frozen=True)
class Climate:
    """A year's weather: mean and swing of the air, its daily noise, and how often it is known."""

    mean_c: float
    swing_c: float
    noise_c: float
    known: float
    seed: int


climates = st.builds(
    Climate,
    mean_c=st.floats(-6.0, 22.0),
    swing_c=st.floats(0.0, 14.0),
    noise_c=st.floats(0.0, 6.0),
    known=st.sampled_from([0.0, 0.8, 1.0]),
    seed=st.integers(0, 10_000),
)


@st.composite
def batches(draw: st.DrawFn) -> Batch:
    """Draw one to three crops, one after the other or side by side."""
    plantings: list[Planting] = []
    for number in range(draw(st.integers(1, 3))):
        crop = CROPS[draw(st.sampled_from(NAMES))]
        follows = plantings[-1].crop.name if number and draw(st.booleans()) else None
        plantings.append(Planting(crop, 6, usual_method(crop), None, follows))
    return batch(start_on=START, plantings=tuple(plantings))


def weather_row(climate: Climate, on: date, dice: random.Random) -> JournalEntry:
    """Return the brief of a date with its weather, or with none."""
    yearly = -math.cos((on.timetuple().tm_yday - 20) / 365.0 * 2.0 * math.pi)
    mean_c = climate.mean_c + climate.swing_c * yearly + dice.gauss(0.0, climate.noise_c)
    low_c, high_c = max(-40.0, mean_c - 5.0), min(50.0, mean_c + 5.0)
    kept = {"low_c": low_c, "high_c": high_c, "rain_mm": 0.0, "complete": True}
    data = {"weather": kept} if dice.random() < climate.known else {}
    return JournalEntry(moment(on), GARDEN, on, EntryKind.BRIEF, data=data)


def moment(on: date, hour: int = 5) -> datetime:
    """Return an instant of a date."""
    return datetime.fromisoformat(f"{on.isoformat()}T{hour:02}:00:00+00:00")


def longest_life(own: Batch) -> date:
    """Return by when the straw is spread at the latest, with nothing missed."""
    days = sum(
        days_to_harvest(each.crop, each.method)[1]
        + each.crop.harvest_days * 2
        + GIVE_UP_AFTER_DAYS
        + 2
        for each in own.plantings
    )
    return max(START + own.schedule.plant_from_day * DAY, LONGEST_DAY) + days * DAY


@dataclass
class Lived:
    """A batch from its first soaking until its straw was spread."""

    plan: Garden
    own: Batch
    state: BatchState
    index: JournalIndex
    journal: Journal
    ended: date
    told: dict[str, list[date]]
    missed: int

    def keys(self, each: Planting) -> tuple[date, date, date]:
        """Return when a crop was told to go in first and last, and when it was over."""
        put_in = self.told[planting_key(self.own, each)]
        return min(put_in), max(put_in), self.state.done[last_harvest_key(self.own, each)]


def lived(own: Batch, climate: Climate, missing: float) -> Lived:
    """Tell every day what is due, until nothing is left; some of it is recorded as missed."""
    plan = garden(own)
    dice = random.Random(climate.seed)
    found = Lived(plan, own, BatchState(), JournalIndex(), (), START, {}, 0)
    until = longest_life(own) + (150 if missing else 0) * DAY
    on = START
    while key_of("row-a-spread") not in found.state.done:
        assert on <= until, (sorted(found.state.done), found.state.frozen)
        log = found.index.day(own, on)
        state = begin(found.state, own, log)
        rows = [weather_row(climate, on, dice)]
        for task in candidates(Day(plan, own, state, log)):
            due = JournalEntry(
                moment(on), GARDEN, on, EntryKind.TOLD, own.name, task.key.text(), State.DUE.value
            )
            rows.append(due)
            if task.action not in ONCE or task.day is not None:
                continue
            found.told.setdefault(task.key, []).append(on)
            if dice.random() < missing:
                found.missed += 1
                rows.append(replace(due, at=moment(on, 12), kind=EntryKind.MISSED, state=None))
        found.index.take(rows)
        found.journal = (*found.journal, *rows)
        found.state = step(state, plan, own, found.index.day(own, on))
        on += DAY
    found.ended = on
    return found


@settings(max_examples=settings.default.max_examples // 4)
@given(own=batches(), climate=climates, missing=st.sampled_from([0.0, 0.05]))
def test_every_batch_comes_to_its_end_and_then_nothing_is_left(
    own: Batch, climate: Climate, missing: float
) -> None:
    """Cold, frost, unknown days and missed work may put it off, and not for ever."""
    found = lived(own, climate, missing)
    for each in own.plantings:
        _, last_in, out = found.keys(each)
        assert last_in < out < found.ended
    log = found.index.day(own, found.ended)
    assert candidates(Day(found.plan, own, found.state, log)) == ()


@settings(max_examples=settings.default.max_examples // 4)
@given(own=batches(), climate=climates)
def test_crops_wait_for_each_other_and_nothing_is_told_twice_but_after_a_freeze(
    own: Batch, climate: Climate
) -> None:
    """A follower goes in after the crop before it is over."""
    found = lived(own, climate, 0.0)
    for each in own.plantings:
        before = predecessor(own, each)
        if before is not None:
            assert found.keys(before)[2] < found.keys(each)[0]
    twice = {key for key, dates in found.told.items() if len(dates) > 1}
    assert twice <= set(found.state.frozen)


@settings(max_examples=settings.default.max_examples // 4)
@given(own=batches(), climate=climates, missing=st.sampled_from([0.0, 0.05]))
def test_what_was_walked_day_by_day_is_what_the_journal_says_anew(
    own: Batch, climate: Climate, missing: float
) -> None:
    """Nothing is remembered that is not written."""
    found = lived(own, climate, missing)
    anew = state_at(found.plan, own, JournalIndex.of(found.journal), found.ended)
    assert anew == found.state
