"""The summary can be skimmed, says what is unknown, and shows hostile names literally."""

from __future__ import annotations

import json
from datetime import timedelta

import pytest
from msgspec.structs import replace

from strawbell.model.brief import Action, ReasonCode, TaskKey
from strawbell.model.garden import Units
from strawbell.model.season import (
    BatchSummary,
    ChanceKept,
    Chances,
    CoreReading,
    CoreReadings,
    CostNoted,
    CropSummary,
    FeedingDay,
    FeedingFate,
    FeedUse,
    Hint,
    HintCode,
    Summary,
)
from strawbell.words.documents import summary_json
from strawbell.words.escaping import LINE_WIDTH, columns
from strawbell.words.summary import (
    crop_words,
    feeding_words,
    hint_sentences,
    summary_screen,
)
from strawbell.words.voice import Voice
from support.gardens import START, garden
from support.made_up_locale import TYPED, english_left, made_up_locale

VOICE = Voice.of(garden(), START)
HOSTILE = "Row\x1b[31m <b>A</b>\n\u202e"


def test_a_crop_that_never_went_in_is_given_up_or_still_to_come() -> None:
    """What was left out for the year is not waited for."""
    left_out = CropSummary("tomato", "tomato", over_on=START + timedelta(days=162))
    assert crop_words(left_out, VOICE) == "not in the bales; given up on Tue 14 Sept"
    to_come = replace(left_out, over_on=None)
    assert crop_words(to_come, VOICE) == "not in the bales yet; harvest not noted"


def feeding(number: int, fate: FeedingFate, *reasons: ReasonCode) -> FeedingDay:
    """Return a feeding of a day of the sequence."""
    on = START + timedelta(days=number - 1)
    key = TaskKey("row-a", Action.FEED, day=number)
    return FeedingDay(on, key, number, fate, reasons, "Blood meal", 60.0, 3000.0)


ROW = BatchSummary(
    batch="Row A",
    bales=6,
    start_on=START,
    conditioned_on=START + timedelta(days=12),
    conditioned_by_plan=START + timedelta(days=10),
    feedings=(
        feeding(1, FeedingFate.CONFIRMED),
        feeding(2, FeedingFate.HELD, ReasonCode.FREEZE),
        feeding(3, FeedingFate.TOLD),
        feeding(4, FeedingFate.HELD, ReasonCode.HEAVY_RAIN),
        feeding(5, FeedingFate.HELD, ReasonCode.HEAVY_RAIN, ReasonCode.FREEZE),
        feeding(6, FeedingFate.HELD, ReasonCode.SELF_HEATING),
        feeding(7, FeedingFate.MISSED),
    ),
    water_l=480.0,
    frost_nights=(START + timedelta(days=22),),
    hot_dry_days=(START + timedelta(days=80), START + timedelta(days=88)),
    readings=CoreReadings(
        3,
        CoreReading(START, 21.0),
        CoreReading(START + timedelta(days=6), 55.0),
        CoreReading(START + timedelta(days=11), 30.0),
    ),
    crops=(
        CropSummary(
            "tomato",
            "tomato",
            START + timedelta(days=14),
            first_harvest_on=START + timedelta(days=80),
            last_harvest_on=START + timedelta(days=120),
            over_on=START + timedelta(days=121),
            harvests=9,
            kg=21.5,
            pieces=12.0,
        ),
        CropSummary("radish", "radish"),
    ),
)
FOUND = Summary(
    garden="Orchard corner",
    first=START,
    last=START + timedelta(days=130),
    kept_since=START,
    mornings_told=129,
    not_told=(START + timedelta(days=40), START + timedelta(days=41)),
    batches=(ROW,),
    feeds=(FeedUse("Blood meal", 6.0, 50.0), FeedUse("Urea", None, None)),
    costs=(CostNoted(START, 42.5, "Bales", None), CostNoted(START, -2.0, "Twine", "Row A")),
    hints=(Hint(HintCode.FEEDINGS_MISSED, "Row A", figures={"missed": 1.0, "given": 2.0}),),
)


def screen(found: Summary = FOUND, units: Units = Units.METRIC) -> str:
    """Return the text on one line each way blanks go."""
    return " ".join(summary_screen(found, garden(units=units)).split())


@pytest.mark.parametrize(
    "said",
    [
        "129 mornings told since Mon 5 Apr; nothing could be told on 2 days (the first Sat 15 May)",
        "Row A: 6 bales, begun Mon 5 Apr",
        "2 given (1 confirmed and 1 told); 1 missed; held on 4 days: 2 for rain, 2 for a freeze "
        "and 1 for other reasons, 1 of them for both",
        "Nitrogen 120 g to each bale",
        "done Sat 17 Apr, 2 days later than planned",
        "480 L advised",
        "1 night warned of, Tue 27 Apr",
        "2 days warned of, Thu 24 Jun to Fri 2 Jul",
        "3 readings: first 21 °C on Mon 5 Apr, highest 55 °C on Sun 11 Apr, last 30 °C",
        "in the bales Mon 19 Apr to Wed 4 Aug; first harvest Thu 24 Jun; last harvest Tue 3 Aug; "
        "21.5 kg and 12 pieces noted in 9 harvests",
        "radish not in the bales yet; harvest not noted",
        "Blood meal 6 kg, 50.00 by the price of its package",
        "Urea unknown, cost unknown",
        "42.50 Mon 5 Apr, Bales",
        "-2.00 Mon 5 Apr, Twine (Row A)",
        "40.50 in all, without the feed above",
        "Next year - Row A: 1 feeding missed beside 2 given.",
    ],
)
def test_everything_the_journal_shows_is_said(said: str) -> None:
    """One fact a line, each with its dates."""
    assert said in screen()


@pytest.mark.parametrize(
    "said", ["127 gal advised", "first 69.8 °F", "47.4 lb and 12 pieces", "4.2 oz to each bale"]
)
def test_us_units_are_used_where_they_are_wanted(said: str) -> None:
    """Gallons, degrees Fahrenheit, pounds and ounces."""
    assert said in screen(units=Units.US)


def test_an_eventless_season_says_what_is_unknown_and_what_is_none() -> None:
    """What was never measured or noted is not 0."""
    plain = Summary("Orchard corner", START, START, None, 0, (), (BatchSummary("R", 1, START),))
    text = screen(plain)
    for said in (
        "No morning has been told yet",
        "0 given; none missed; none held",
        "none given yet",
        "not done yet",
        "no amount was told",
        "no night warned of",
        "unknown: nothing was measured",
        "none; `strawbell record cost` keeps them",
        "Next year: the journal shows nothing that should be done differently.",
    ):
        assert said in text


def test_a_garden_that_has_not_begun_says_only_that() -> None:
    """There is no season yet."""
    nothing = Summary("Orchard corner", None, START, None, 0, (), ())
    assert screen(nothing) == "Orchard corner: no batch has begun yet."


def test_nitrogen_that_is_partly_unknown_says_so() -> None:
    """The known sum and how many feedings it leaves out."""
    one = replace(feeding(1, FeedingFate.TOLD), nitrogen_per_bale_g=None)
    text = screen(replace(FOUND, batches=(replace(ROW, feedings=(one, *ROW.feedings)),)))
    assert "120 g to each bale, and that of 1 feeding unknown" in text


def test_feedings_by_plan_alone_are_called_so() -> None:
    """Nobody was told them."""
    by_plan = replace(ROW, feedings=(feeding(1, FeedingFate.SUPPOSED),))
    assert "1 given (1 by plan before the journal)" in feeding_words(by_plan, VOICE)


@pytest.mark.parametrize("code", HintCode)
def test_every_hint_has_a_sentence_with_its_figures(code: HintCode) -> None:
    """A whole one, with what to do, and none of its names left over."""
    names = ("late_days", "held_days", "days", "missed", "given", "days_after")
    figures = dict.fromkeys(names, 3.0) | {"day": 5.0}
    hint = Hint(code, "Row A", "tomato", START, figures)
    (said,) = hint_sentences([hint], VOICE)
    assert said.startswith("Row A: ")
    assert said.endswith(".")
    assert "{" not in said
    if code is not HintCode.NOT_MEASURED:
        assert "3 " in said
    (bare,) = hint_sentences([Hint(code)], VOICE)
    assert bare


def test_lines_fit_a_terminal_and_hostile_names_cannot_steer_it() -> None:
    """Nothing but text and newlines, at most 78 columns."""
    found = replace(
        FOUND,
        garden=HOSTILE,
        batches=(replace(ROW, batch=HOSTILE, crops=(CropSummary(HOSTILE, HOSTILE),)),),
        costs=(CostNoted(START, 1.0, HOSTILE * 20, HOSTILE),),
        feeds=(FeedUse(HOSTILE, None, None),),
        hints=(Hint(HintCode.PLANTED_LATE, HOSTILE, HOSTILE, None, {"late_days": 4.0}),),
    )
    text = summary_screen(found, garden())
    assert "\x1b" not in text
    assert "\u202e" not in text
    assert "<b>A</b>" in text
    assert all(columns(line) <= LINE_WIDTH for line in text.splitlines())


def test_the_json_keeps_mass_and_pieces_apart_and_unknown_as_null() -> None:
    """Every number with its unit in the name."""
    document = json.loads(json.dumps(summary_json(FOUND, garden()), allow_nan=False))
    (row,) = document["batches"]
    assert (row["given"], row["held_days"], row["missed"]) == (2, 4, 1)
    assert (row["held_days_rain"], row["held_days_freeze"]) == (2, 2)
    assert [crop["kg"] for crop in row["crops"]] == [21.5, None]
    assert [crop["pieces"] for crop in row["crops"]] == [12.0, None]
    assert row["readings"]["highest"] == {"date": "2027-04-11", "temperature_c": 55.0}
    assert document["feeds"][1] == {"feed": "Urea", "kg": None, "cost": None}
    assert document["cost_noted"] == 40.5
    assert document["hints"][0]["code"] == "feedings-missed"
    assert document["hints"][0]["advice"].startswith("Row A: 1 feeding missed")


def test_covers_for_nothing_are_said_and_not_hidden() -> None:
    nights = (START + timedelta(days=22), START + timedelta(days=24))
    mild = replace(FOUND.batches[0], frost_nights=nights, mild_nights=nights[1:])
    found = replace(FOUND, batches=(mild,))
    said = " ".join(summary_screen(found, garden()).split())
    assert "2 nights warned of, Tue 27 Apr to Thu 29 Apr; 1 of them needless" in said
    assert summary_json(found, garden())["batches"][0]["mild_nights"] == [nights[1].isoformat()]


def test_how_chances_came_out_is_said_with_the_needless_holds() -> None:
    found = replace(
        FOUND,
        chances=Chances(
            rain=(
                ChanceKept(3, times=11, came=4, held=0, needless=0),
                ChanceKept(6, times=2, came=1, held=1, needless=1),
            ),
            freeze=(ChanceKept(8, times=5, came=4, held=3, needless=1),),
        ),
    )
    said = " ".join(summary_screen(found, garden()).split())
    assert "about 3 in 10" in said
    assert "told on 11 mornings, and it rained so on 4" in said
    assert "told on 2 mornings, and it rained so on 1; 1 hold, 1 of them needless" in said
    assert "told on 5 mornings, and it froze after 4; 3 holds, 1 of them needless" in said
    assert summary_json(found, garden())["freeze_chances"] == [
        {"tenths": 8, "times": 5, "came": 4, "held": 3, "needless": 1}
    ]
    assert summary_json(found, garden())["rain_chances"] == [
        {"tenths": 3, "times": 11, "came": 4, "held": 0, "needless": 0},
        {"tenths": 6, "times": 2, "came": 1, "held": 1, "needless": 1},
    ]


def test_a_summary_leaves_no_english() -> None:
    """But for names, what is to be typed and what a grower noted."""
    hints = tuple(
        Hint(code, "Row A", "tomato", START, {"late_days": 3.0, "days": 3.0}) for code in HintCode
    )
    with made_up_locale():
        said = screen(replace(FOUND, hints=hints))
    noted = {each.text for each in FOUND.costs} | {each.feed for each in FOUND.feeds}
    assert (
        english_left(said, f"Orchard corner Row A B tomato radish {TYPED} {' '.join(noted)}") == []
    )
