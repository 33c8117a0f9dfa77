"""Every reason is one short sentence, with the number that decides."""

from __future__ import annotations

import pytest
from msgspec.structs import replace

from strawbell.model.brief import Reason, ReasonCode, Turn, TurnsBy
from strawbell.model.garden import Units
from strawbell.words.reasons import (
    below,
    gravest,
    number_of,
    reason_headline,
    reason_sentence,
    reason_sentences,
)
from strawbell.words.voice import Voice
from support.briefs import TODAY, frost_reason, garden, local, rain_reason

VOICE = Voice.of(garden(), TODAY)
US = Voice.of(garden(Units.US), TODAY)
UNITS = ("mm", "degC", "percent", "day", "h", "")


@pytest.mark.parametrize("code", ReasonCode)
@pytest.mark.parametrize("unit", UNITS)
def test_every_reason_has_a_sentence_of_its_own(code: ReasonCode, unit: str) -> None:
    """With numbers and without: one that starts large, ends with a stop and has no gap."""
    for reason in (Reason(code), Reason(code, 7.0, 5.0, unit, local(10, 5), 0.8)):
        sentence = reason_sentence(reason, VOICE)
        assert not sentence[0].islower()
        assert sentence.endswith(".")
        assert len(sentence.split()) <= 28
        for flaw in ("  ", "None", "()", " ,", " ;", " .", ";;", "unknown unknown"):
            assert flaw not in sentence


def test_no_two_reasons_share_a_sentence_or_a_headline() -> None:
    assert len({reason_sentence(Reason(code), VOICE) for code in ReasonCode}) == len(ReasonCode)
    bare = [reason_headline(Reason(code), VOICE) for code in ReasonCode]
    twice = {word for word in bare if bare.count(word) > 1}
    assert twice == {"frost", "no forecast"}, "of these a subject needs no more"


def test_a_journal_of_before_says_too_little_conditioning_by_the_older_code() -> None:
    older = Reason(ReasonCode.NOT_READY, 8.0, 12.0, "day")
    now = Reason(ReasonCode.SHORT_OF_DAYS, 8.0, 12.0, "day")
    assert reason_sentence(older, VOICE) == reason_sentence(now, VOICE)


@pytest.mark.parametrize(
    ("reason", "sentence"),
    [
        (
            frost_reason(),
            "Frost (-3 °C) at 05:00 tomorrow; frozen straw takes up neither feed nor water.",
        ),
        (
            rain_reason(),
            "About 6 in 10 for heavy rain (13 mm or more) by tomorrow morning; it would wash feed "
            "out of the bales.",
        ),
        (Reason(ReasonCode.STALE_FORECAST, 26.0, 12.0, "h"), "My last forecast is 26 h old."),
        (
            Reason(ReasonCode.RAIN_UNKNOWN, 4.0, 12.7, "mm"),
            "Part of the rain forecast is missing: look at the sky first.",
        ),
        (
            Reason(ReasonCode.NOT_READY, 41.0, 37.5, "degC"),
            "Probably still about 41 °C inside; wait until it's below 37 °C.",
        ),
        (
            Reason(ReasonCode.SHORT_OF_DAYS, 8.0, 12.0, "day"),
            "The straw has had at most 8 of the 12 mild days it needs.",
        ),
        (
            Reason(ReasonCode.FROST_LATER, -2.0, 0.6, "degC", local(16, 5)),
            "Frost is possible on Fri 16 Apr, too far off to wait for, but keep fleece handy.",
        ),
        (
            Reason(ReasonCode.SEASON_OVER, 65.0, 0.0, "day"),
            "It needs 65 days to the first picking, and the first frost is past.",
        ),
        (
            Reason(ReasonCode.SELF_HEATING, 67.0, 65.0, "degC"),
            "67 °C inside: hot enough to smoulder.",
        ),
        (Reason(ReasonCode.HELD_LONG, 8.0, 7.0, "day"), "It has waited 8 days."),
        (
            Reason(ReasonCode.CHILLY_NIGHTS, 6.2, 10.0, "degC"),
            "Nights near 6 °C would set them back for weeks.",
        ),
    ],
)
def test_sentences_carry_the_number_that_decides(reason: Reason, sentence: str) -> None:
    assert reason_sentence(reason, VOICE) == sentence


def test_of_a_long_wait_that_is_not_counted_the_other_reasons_speak() -> None:
    chilly = Reason(ReasonCode.CHILLY_NIGHTS, 6.2, 10.0, "degC")
    waited = Reason(ReasonCode.HELD_LONG, None, 7.0, "day")
    assert reason_sentences((chilly, waited), VOICE) == (reason_sentence(chilly, VOICE),)


@pytest.mark.parametrize(
    ("chance", "said"),
    [(0.04, "Fewer than 1 in 10"), (0.06, "About 1 in 10"), (0.94, "About 9 in 10"),
     (0.96, "More than 9 in 10")],
)  # fmt: skip
def test_a_chance_is_told_in_tens_and_never_as_none_or_all(chance: float, said: str) -> None:
    for reason in (rain_reason(), frost_reason()):
        assert reason_sentence(replace(reason, chance=chance), VOICE).startswith(said)


@pytest.mark.parametrize(("limit_c", "metric", "us"), [(37.5, "37 °C", "99 °F"), (37.0, "37 °C",
    "98 °F")])  # fmt: skip
def test_a_temperature_to_stay_below_is_never_rounded_up(
    limit_c: float, metric: str, us: str
) -> None:
    assert (below(limit_c, VOICE), below(limit_c, US)) == (metric, us)


def test_numbers_follow_the_growers_units() -> None:
    assert "26 °F" in reason_sentence(frost_reason(), US)
    assert "0.5 in" in reason_sentence(rain_reason(), US)


def test_a_headline_says_when() -> None:
    assert reason_headline(frost_reason(), VOICE) == "frost tonight"
    assert reason_headline(replace(frost_reason(), at=None), VOICE) == "frost"


def test_a_reason_given_twice_is_said_once() -> None:
    assert len(reason_sentences((frost_reason(), frost_reason()), VOICE)) == 1


def test_a_unit_that_is_not_known_is_shown_as_it_stands() -> None:
    assert number_of(3.25, "hPa", VOICE) == "3.2 hPa"
    assert number_of(None, "hPa", VOICE) == "unknown"


def test_heat_says_whom_it_strains() -> None:
    """What the air feels like to people is not the air in which plants stand."""
    plants = Reason(ReasonCode.HEAT, 31.7, 26.7, "degC")
    people = Reason(ReasonCode.HEAT, 35.1, 32.8, "degC", local(9, 12))
    assert reason_sentence(plants, VOICE) == "32 °C is hotter than these plants like."
    assert reason_sentence(people, VOICE) == "It may feel like 35 °C at 12:00 today."


@pytest.mark.parametrize("costs", [(None, 0, 1), (1, 0, None), (0, 1, 1)])
def test_one_rain_is_told_once_with_what_waiting_costs_most(costs: tuple[int | None, ...]) -> None:
    """However many batches wait for it."""
    told = [replace(rain_reason(), wait_costs_days=each) for each in costs]
    another = replace(rain_reason(), chance=0.9)
    assert gravest([*told, another]) == (replace(rain_reason(), wait_costs_days=1), another)


@pytest.mark.parametrize(
    ("by", "at", "metric", "us"),
    [
        (TurnsBy.CHANCE_UNDER, 0.4, "drops under 4 in 10", "drops under 4 in 10"),
        (TurnsBy.CHANCE_UNDER, 0.29, "drops under 2 in 10", "drops under 2 in 10"),
        (TurnsBy.CHANCE_UNDER, 0.06, "all but vanishes", "all but vanishes"),
        (TurnsBy.READING_OVER, 27.2, "over 28 °C inside", "over 81 °F inside"),
        (TurnsBy.READING_UNDER, 37.5, "of 37 °C or less", "of 99 °F or less"),
        (TurnsBy.NIGHTS_OVER, 5.5, "of 6 °C or more", "of 42 °F or more"),
    ],
)
def test_what_would_turn_it_is_never_less_than_it_takes(
    by: TurnsBy, at: float, metric: str, us: str
) -> None:
    """Chances are rounded down, readings to the side that is sure."""
    for said, voice in ((metric, VOICE), (us, US)):
        sentence = reason_sentence(replace(rain_reason(), turn=Turn(by, at)), voice)
        assert sentence.startswith(reason_sentence(rain_reason(), voice) + " ")
        assert said in sentence
