"""Every reason has its sentence, and the sentence has the numbers."""

from __future__ import annotations

from dataclasses import replace

import pytest

from strawbell.model.brief import Reason, ReasonCode
from strawbell.model.garden import Units
from strawbell.words.reasons import (
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
    for reason in (Reason(code), Reason(code, 7.0, 5.0, unit, local(10, 5), 80.0)):
        sentence = reason_sentence(reason, VOICE)
        assert sentence[0].isupper()
        assert sentence.endswith(".")
        for flaw in ("  ", "None", "()", " ,", " ;", " .", ";;", "unknown unknown"):
            assert flaw not in sentence


def test_no_two_reasons_share_a_sentence_or_a_headline() -> None:
    assert len({reason_sentence(Reason(code), VOICE) for code in ReasonCode}) == len(ReasonCode)
    bare = {reason_headline(Reason(code), VOICE) for code in ReasonCode}
    assert len(bare) == len(ReasonCode) - 1, "a freeze and a frost are both frost in a subject"


def test_a_journal_of_before_says_too_little_conditioning_by_the_older_code() -> None:
    older = Reason(ReasonCode.NOT_READY, 8.0, 12.0, "day")
    now = Reason(ReasonCode.SHORT_OF_DAYS, 8.0, 12.0, "day")
    assert reason_sentence(older, VOICE) == reason_sentence(now, VOICE)


@pytest.mark.parametrize(
    ("reason", "sentence"),
    [
        (
            frost_reason(),
            "Frost: -3.1 °C expected at 05:00 tomorrow; at or under 0 °C a feeding waits a day.",
        ),
        (
            rain_reason(),
            "Heavy rain: about 6 in 10 for 12.7 mm or more within 24 h (18.4 mm expected, heaviest "
            "at 02:00 tomorrow); from 5 in 10 on a feeding waits, so as not to be washed out.",
        ),
        (
            Reason(ReasonCode.STALE_FORECAST, 26.0, 12.0, "h"),
            "The last forecast is 26 h old; over 12 h it is not decided on, so nothing was held or "
            "warned of by the weather.",
        ),
        (
            Reason(ReasonCode.RAIN_UNKNOWN, 4.0, 12.7, "mm"),
            "Rain unknown: the forecast has no rain for some hours (4 mm in the hours that are "
            "known), so it could not be judged against 12.7 mm. Unknown is not dry: look at the "
            "sky.",
        ),
        (
            Reason(ReasonCode.NOT_READY, 41.0, 37.5, "degC"),
            "Not ready: 41 °C in the middle by the model; plant under 37.5 °C and falling.",
        ),
        (
            Reason(ReasonCode.SHORT_OF_DAYS, 8.0, 12.0, "day"),
            "Too little conditioning: so far it counts for at most 8 days of mild weather; 12 are "
            "needed.",
        ),
        (
            Reason(ReasonCode.FROST_LATER, -2.0, 0.6, "degC", local(16, 5)),
            "A frost further ahead: leaves may cool to -2 °C at 05:00 on Fri 16 Apr. To wait for "
            "it would cost more than a night under fleece: keep some at hand.",
        ),
        (
            Reason(ReasonCode.SEASON_OVER, 65.0, 0.0, "day"),
            "Season over: put in now, it takes at least 65 days to the first picking, and the "
            "first freeze is reckoned to be over.",
        ),
        (
            Reason(ReasonCode.SELF_HEATING, 67.0, 65.0, "degC"),
            "Self-heating: 67 °C in the middle of the bale; from 65 °C on straw is watched for "
            "self-heating.",
        ),
        (
            Reason(ReasonCode.HELD_LONG, 8.0, 7.0, "day"),
            "Held for 8 days; from 7 days on the decision is yours.",
        ),
    ],
)
def test_sentences_carry_their_numbers(reason: Reason, sentence: str) -> None:
    assert reason_sentence(reason, VOICE) == sentence


def test_numbers_follow_the_growers_units() -> None:
    assert "26.4 °F" in reason_sentence(frost_reason(), US)
    assert "0.72 in" in reason_sentence(rain_reason(), US)


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
    assert "up to 31.7 °C expected" in reason_sentence(plants, VOICE)
    assert reason_sentence(plants, VOICE).endswith("it strains these plants.")
    assert "may feel like 35.1 °C" in reason_sentence(people, VOICE)
    assert reason_sentence(people, VOICE).endswith("it strains people.")
