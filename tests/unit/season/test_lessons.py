"""Every hint rests on what the journal shows, just at its threshold, and is silent below it."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta

import pytest
from msgspec.structs import replace

from strawbell.model.brief import ReasonCode
from strawbell.model.garden import Batch, Method
from strawbell.model.season import (
    BatchSummary,
    CoreReading,
    CoreReadings,
    CropSummary,
    FeedingDay,
    FeedingFate,
    Hint,
    HintCode,
)
from strawbell.season.lessons import (
    DELAY_DAYS,
    LATE_DAYS,
    LONG_HOLD_DAYS,
    MANY_HOT_DAYS,
    MANY_UNTOLD_DAYS,
    Past,
    garden_hints,
)
from support.gardens import RADISH, START, TOMATO, batch, planting

DONE_BY_PLAN = START + timedelta(days=10)
PLANTED = START + timedelta(days=14)


def on(days: int) -> date:
    """Return a date counted from the first soaking."""
    return START + timedelta(days=days)


def went(**changes: object) -> BatchSummary:
    """Return an eventless season of row A."""
    plain = BatchSummary(
        batch="Row A",
        bales=6,
        start_on=START,
        conditioned_on=DONE_BY_PLAN,
        conditioned_by_plan=DONE_BY_PLAN,
    )
    return replace(plain, **changes)  # type: ignore[arg-type]


def held(days: Sequence[int], *reasons: ReasonCode, key: str = "k") -> tuple[FeedingDay, ...]:
    """Return days on which a feeding of day 3 was held."""
    return tuple(FeedingDay(on(day), key, 3, FeedingFate.HELD, reasons) for day in days)


def hints(
    past: BatchSummary,
    plan: Batch | None = None,
    reasons: frozenset[ReasonCode] = frozenset(),
    not_told: tuple[date, ...] = (),
    latitude: float = 47.05,
) -> dict[HintCode, Hint]:
    """Return the hints of one batch by code."""
    own = plan or batch()
    found = garden_hints([Past(own, past, reasons, latitude >= 0)], not_told)
    return {hint.code: hint for hint in found}


def test_an_eventless_season_gives_no_hint() -> None:
    """Nothing is advised that the journal does not show."""
    assert hints(went()) == {}


@pytest.mark.parametrize(
    ("reason", "code"),
    [
        (ReasonCode.FREEZE, HintCode.HELD_BY_FREEZE),
        (ReasonCode.HEAVY_RAIN, HintCode.HELD_BY_RAIN),
    ],
)
@pytest.mark.parametrize("late", [DELAY_DAYS - 1, DELAY_DAYS])
def test_a_drawn_out_conditioning_names_what_held_it(
    reason: ReasonCode, code: HintCode, late: int
) -> None:
    """From two days on, with the days and the holds; the other weather is not blamed."""
    past = went(
        conditioned_on=DONE_BY_PLAN + timedelta(days=late), feedings=held([2, 5][:late], reason)
    )
    found = hints(past)
    assert set(found) == ({code} if late >= DELAY_DAYS else set())
    if found:
        assert found[code].figures == {"late_days": late, "held_days": late}


def test_a_late_conditioning_without_holds_blames_no_weather() -> None:
    """A downtime or missed feedings draw it out too."""
    assert hints(went(conditioned_on=on(20))) == {}
    assert hints(went(conditioned_on=None, feedings=held([2, 5], ReasonCode.FREEZE))) == {}


@pytest.mark.parametrize("days", [LONG_HOLD_DAYS - 1, LONG_HOLD_DAYS])
def test_a_feeding_held_for_days_in_a_row_is_named(days: int) -> None:
    """With its day of the sequence and the first date; a gap begins anew."""
    found = hints(went(feedings=held(range(2, 2 + days))))
    assert (HintCode.HELD_IN_A_ROW in found) == (days >= LONG_HOLD_DAYS)
    if found:
        hint = found[HintCode.HELD_IN_A_ROW]
        assert (hint.on, hint.figures) == (on(2), {"days": days, "day": 3})
    assert hints(went(feedings=held([1, 2, 4, 5]))) == {}


@pytest.mark.parametrize("days", [LONG_HOLD_DAYS - 1, LONG_HOLD_DAYS])
def test_waiting_for_an_answer_is_not_blamed_on_the_weather(days: int) -> None:
    """It has a hint of its own."""
    found = hints(went(feedings=held(range(2, 2 + days), ReasonCode.NOT_TOLD)))
    assert set(found) == ({HintCode.UNANSWERED} if days >= LONG_HOLD_DAYS else set())


def test_missed_feedings_are_counted_beside_those_given() -> None:
    """One is enough."""
    one = FeedingDay(on(4), "k", 5, FeedingFate.MISSED)
    given = FeedingDay(on(5), "k", 5, FeedingFate.TOLD)
    hint = hints(went(feedings=(one, given)))[HintCode.FEEDINGS_MISSED]
    assert hint.figures == {"missed": 1, "given": 1}


@pytest.mark.parametrize("late", [LATE_DAYS - 1, LATE_DAYS])
def test_a_crop_that_went_in_late_is_named(late: int) -> None:
    """Against the wished date; without one nothing is late."""
    wish = planting(TOMATO)
    crop = CropSummary("tomato", "tomato", PLANTED + timedelta(days=late))
    plan = batch(plantings=(replace(wish, plant_on=PLANTED),))
    found = hints(went(crops=(crop,)), plan)
    assert (HintCode.PLANTED_LATE in found) == (late >= LATE_DAYS)
    assert hints(went(crops=(crop,)), batch(plantings=(wish,))) == {}


def frosty(nights: Sequence[int], **changes: object) -> BatchSummary:
    """Return a season of tomatoes with warned nights, counted from planting."""
    crop = replace(
        CropSummary("tomato", "tomato", PLANTED, standing=True),
        **changes,  # type: ignore[arg-type]
    )
    dates = tuple(PLANTED + timedelta(days=night) for night in nights)
    return went(crops=(crop,), frost_nights=dates)


TOMATOES = batch(plantings=(planting(TOMATO),))


@pytest.mark.parametrize(
    ("night", "latitude", "autumn"),
    [
        (date(2027, 6, 20), 47.0, False),
        (date(2027, 6, 21), 47.0, True),
        (date(2027, 10, 9), 47.0, True),
        (date(2027, 12, 20), 47.0, True),
        (date(2027, 12, 21), 47.0, False),
        (date(2028, 3, 1), 47.0, False),
        (date(2027, 6, 20), -35.0, True),
        (date(2027, 10, 9), -35.0, False),
    ],
)
def test_only_a_frost_of_autumn_ends_a_crop(night: date, latitude: float, autumn: bool) -> None:
    """The half year after the longest day, north and south; others belong to the spring."""
    past = frosty([(night - PLANTED).days])
    assert (HintCode.AUTUMN_FROST in hints(past, TOMATOES, latitude=latitude)) == autumn


def test_how_long_a_crop_was_picked_after_the_frost_is_said() -> None:
    """By the last harvest noted, else by when it was over."""
    last = PLANTED + timedelta(days=110)
    found = hints(frosty([100, 104], last_harvest_on=last), TOMATOES)
    assert found[HintCode.AUTUMN_FROST].figures == {"days_after": 10}
    over = PLANTED + timedelta(days=103)
    found = hints(frosty([100], over_on=over, standing=False), TOMATOES)
    assert found[HintCode.AUTUMN_FROST].figures == {"days_after": 3}
    assert hints(frosty([100]), TOMATOES)[HintCode.AUTUMN_FROST].figures == {}


def test_a_crop_that_was_over_before_the_frost_gives_no_hint() -> None:
    """Nor does one that a light frost does not hurt."""
    over = PLANTED + timedelta(days=100)
    assert hints(frosty([100], over_on=over, standing=False), TOMATOES) == {}
    hardy = batch(plantings=(planting(RADISH, Method.SEED),))
    assert hints(frosty([100]), hardy) == {}


@pytest.mark.parametrize("days", [MANY_HOT_DAYS - 1, MANY_HOT_DAYS])
@pytest.mark.parametrize("mulched", [False, True])
def test_many_hot_days_ask_for_mulch_or_drip(days: int, mulched: bool) -> None:
    """Mulch is not advised to who has it."""
    past = went(hot_dry_days=tuple(on(60 + day) for day in range(days)))
    found = hints(past, batch(mulched=mulched))
    code = HintCode.HOT_TOPS_MULCHED if mulched else HintCode.HOT_TOPS
    assert set(found) == ({code} if days >= MANY_HOT_DAYS else set())


def test_a_probe_is_advised_where_planting_waited_for_a_guess() -> None:
    """Not where it was measured, nor where frost was the reason."""
    guess = frozenset({ReasonCode.TOO_HOT_INSIDE})
    assert HintCode.NOT_MEASURED in hints(went(), reasons=guess)
    one = CoreReading(on(12), 40.0)
    assert hints(went(readings=CoreReadings(1, one, one, one)), reasons=guess) == {}
    assert hints(went(), reasons=frozenset({ReasonCode.FROST})) == {}


@pytest.mark.parametrize("days", [MANY_UNTOLD_DAYS - 1, MANY_UNTOLD_DAYS])
def test_days_without_word_are_of_the_garden(days: int) -> None:
    """Said once, whatever the batches."""
    found = hints(went(), not_told=tuple(on(day) for day in range(days)))
    assert (HintCode.NOT_TOLD in found) == (days >= MANY_UNTOLD_DAYS)
    if found:
        assert found[HintCode.NOT_TOLD].batch is None
