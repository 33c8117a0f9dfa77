"""Every task is a title, an amount and sentences that can be followed with the tool in hand."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, time

import pytest

from strawbell.model.brief import (
    Action,
    Also,
    Instead,
    Reason,
    ReasonCode,
    State,
    Suffering,
    Task,
    TaskKey,
)
from strawbell.model.details import (
    Band,
    Detail,
    Ending,
    FeedDetail,
    HarvestDetail,
    LookDetail,
    MixDetail,
    PlantDetail,
    SoakDetail,
    SpreadDetail,
    SupportDetail,
    ThinDetail,
    TopWaterDetail,
)
from strawbell.model.garden import Units
from strawbell.words.advice import TaskWords, beside, instead_sentences, short_word, task_words
from strawbell.words.merge import merge_tasks
from strawbell.words.voice import Voice
from support.briefs import (
    TODAY,
    dose,
    feeding,
    garden,
    held_feeding,
    hot_brief,
    liquid_dose,
    protecting,
    rain_reason,
    watering,
)

VOICE = Voice.of(garden(), TODAY)
US = Voice.of(garden(Units.US), TODAY)
PUT_IN = PlantDetail(
    spacing_cm=30.0,
    edge_cm=8.0,
    per_bale=Band(1, 2),
    rows=2,
    depth_cm=1.2,
    up_in_days=Band(5, 9),
    upright_cm=150.0,
)
DETAILS: dict[Action, Detail] = {
    Action.SOAK: SoakDetail(again=True),
    Action.FEED: FeedDetail(14),
    Action.INSPECT: LookDetail(3),
    Action.COVER_WITH_MIX: MixDetail(4.0, 17.0),
    Action.PLANT: PUT_IN,
    Action.SOW: PUT_IN,
    Action.SURFACE_WATER: TopWaterDetail(time(14, 30), Band(5, None)),
    Action.THIN: ThinDetail(5.0),
    Action.SUPPORT: SupportDetail(180.0, 230.0),
    Action.HARVEST: HarvestDetail(Ending.LAST),
    Action.SPREAD: SpreadDetail(12, 5.0, Band(4.0, 6.0), Band(300.0, 500.0)),
}
"""One of each kind of detail, by the work that has it."""
KEY = TaskKey("row-a", Action.HARVEST, crop="tomato", number=1)


def words(*tasks: Task, voice: Voice = VOICE) -> TaskWords:
    """Return the words of tasks that merge into one."""
    (merged,) = merge_tasks(tasks)
    return task_words(merged, voice)


@pytest.mark.parametrize(
    ("action", "word"),
    [(Action.HARVEST, "missed"), (Action.PLANT, "done"), (Action.SOW, "done")],
)
def test_what_a_freeze_killed_is_looked_at_first_and_the_word_for_what_lives_is_said(
    action: Action, word: str
) -> None:
    """Cleared or planted again; nobody is told to pick ripe fruit of it."""
    last = HarvestDetail(Ending.LAST) if action is Action.HARVEST else PUT_IN
    plain = Task(KEY, "Row A", 2, action, State.DUE, crops=("tomato",), plants=4, detail=last)
    frozen = (
        HarvestDetail(Ending.KILLED) if action is Action.HARVEST else replace(PUT_IN, again=True)
    )
    killed = replace(plain, detail=frozen)
    said = " ".join(words(killed).how)
    assert said.startswith("A freeze is likely to have killed")
    assert f"record this as {word}" in said
    assert "freeze" not in " ".join(words(plain).how)


@pytest.mark.parametrize("action", Action)
@pytest.mark.parametrize("state", State)
@pytest.mark.parametrize("crops", [(), ("kale",)])
def test_every_task_has_whole_words_in_every_state(
    action: Action, state: State, crops: tuple[str, ...]
) -> None:
    """With and without crop, plants and details, nothing is left open in a sentence."""
    bare = watering(action=action, state=state, crops=crops, water_per_bale_l=None)
    full = replace(bare, plants=8, detail=DETAILS.get(action), water_per_bale_l=2.0)
    for task in (bare, full):
        said = words(task)
        assert said.tag
        assert "Row A" in said.title
        assert said.headline
        assert bool(said.how) == (state is State.DUE)
        for sentence in (said.title, said.heading, said.headline, *said.how, said.until):
            for flaw in ("  ", "None", "{", "()", " ,", "..", ":."):
                assert flaw not in sentence


@pytest.mark.parametrize("action", Action)
def test_every_task_has_a_word_for_a_narrow_cell(action: Action) -> None:
    assert 3 <= len(short_word(watering(action=action))) <= 6
    assert short_word(watering(action=action, state=State.HELD)) == "Hold"


@pytest.mark.parametrize("instead", Instead)
def test_every_instead_has_its_sentence(instead: Instead) -> None:
    (sentence,) = instead_sentences((instead, instead), VOICE)
    assert sentence.endswith(".")


def test_two_rows_are_fed_from_one_bag() -> None:
    said = words(feeding(), feeding("Row C", 3))
    assert said.title == "Feed Row A and Row C (day 5): 500 g of Blood meal a bale, 4.5 kg in all"
    assert said.headline == "feed 500 g of Blood meal a bale"
    assert said.how == (
        "Scatter 500 g (about 8.3 dl) of Blood meal evenly over the top of each of the 9 bales.",
        "That takes 4.5 kg (about 7.5 L) for 9 bales.",
        "Wash it in slowly with 4 L of water a bale.",
    )
    assert said.why == ("The dose gives each bale 60 g of nitrogen.",)


def test_the_first_soaking_ends_when_it_drips_and_says_what_that_takes() -> None:
    said = words(watering(action=Action.SOAK, day=1, water_per_bale_l=56.0))
    assert said.how == (
        "Soak each of the 6 bales slowly until it drips from the bottom. It takes about 56 L a "
        "bale, 336 L in all.",
        "Dry straw sheds water at first: come back two or three times.",
    )
    assert said.why == (
        "Straw rots, and takes up feed, only once it is wet through; a dry bale does neither.",
    )


def test_a_later_soaking_ends_when_it_drips_too_and_takes_less() -> None:
    """The amount is what wet straw takes; that it drips decides."""
    again = SoakDetail(again=True)
    said = words(watering(action=Action.SOAK, day=3, water_per_bale_l=3.8, detail=again))
    assert said.how == (
        "Soak each of the 6 bales slowly again until it drips from the bottom. It takes about "
        "3.8 L a bale, 22.8 L in all; where more goes in before it drips, the middle was dry.",
    )
    assert said.why == (
        "One soaking seldom reaches the middle of a bale, and feed comes only to straw that is "
        "wet.",
    )


def test_a_soaking_that_is_held_says_only_what_holds_it() -> None:
    held = watering(action=Action.SOAK, state=State.HELD, reasons=(rain_reason(),))
    assert [sentence[:10] for sentence in words(held).why] == ["Heavy rain"]


def test_a_feeding_on_a_hot_day_speaks_of_one_watering() -> None:
    """The water of the feed is that of the day."""
    said = words(feeding(also=(Also.AGAIN_IF_DRY,)))
    assert said.how[-2] == "Wash it in slowly with 4 L of water a bale."
    assert said.how[-1].startswith("On this hot day the water that washes the feed in is also")


def test_a_crop_that_is_left_out_says_why_in_title_and_subject() -> None:
    over = Reason(ReasonCode.SEASON_OVER, 65.0, 28.0, "day")
    left_out = watering(
        action=Action.HARVEST,
        crops=("tomato",),
        day=None,
        water_per_bale_l=None,
        reasons=(over,),
        detail=HarvestDetail(Ending.TOO_LATE),
    )
    said = words(left_out)
    assert said.title == "Leave out the tomato in Row A"
    assert (said.headline, said.because) == ("leave out the tomato", "its season is over")
    assert said.why == (
        "Season over: put in now, it takes at least 65 days to the first picking, and the first "
        "freeze is reckoned with in 28 days.",
    )
    assert said.how[0].startswith("Sow something quick and hardy in its place")
    assert short_word(left_out) == "Skip"


def test_rows_on_different_days_keep_their_days() -> None:
    said = words(feeding(), feeding("Row C", 3, day=3))
    assert said.title.startswith("Feed Row A (day 5) and Row C (day 3): 500 g of Blood meal a bale")
    assert said.days == "Row A day 5 and Row C day 3"


def test_a_single_bale_needs_no_sum() -> None:
    said = words(feeding(bales=1, dose=dose(1)))
    assert said.title == "Feed Row A (day 5): 500 g of Blood meal a bale"
    assert "the bale." in said.how[0]


def test_a_feed_of_unknown_density_gets_no_kitchen_measure() -> None:
    unknown = replace(dose(), per_bale_ml=None, total_ml=None)
    assert "about" not in " ".join(words(feeding(dose=unknown)).how)


def test_a_dose_that_is_unknown_sends_to_the_label() -> None:
    said = words(feeding(dose=None))
    assert said.title == "Feed Row A (day 5)"
    assert "label" in said.how[0]


def test_a_liquid_is_stirred_at_its_rate() -> None:
    said = words(feeding(dose=liquid_dose(), water_per_bale_l=5.0))
    assert said.how == (
        "Stir 1 dl of Fish feed for each of the 6 bales into water, 20 ml to each litre of water.",
        "That takes 6 dl of feed for 6 bales.",
        "Pour it slowly over the whole top; with the water it makes 5 L a bale.",
    )


def test_a_us_grower_reads_pounds_cups_and_gallons() -> None:
    how = " ".join(words(feeding(), voice=US).how)
    for unit in ("1.1 lb", "3 1/2 cups", "6.61 lb", "1.1 gal"):
        assert unit in how


def test_a_hold_says_until_when_why_and_what_instead() -> None:
    said = words(held_feeding())
    assert said.title == "Hold the feed on Row A (day 5)"
    assert said.until == "Until tomorrow, Sat 10 Apr, at the earliest; decided again each morning."
    assert said.instead == (
        "Give no water before the freeze is over: the bales are moist enough.",
        "Drain the hose, open its ends and protect the tap.",
    )
    assert said.why[0].startswith("Frost: -3.1 °C")
    assert (said.amount, said.how) == ("", ())
    assert (said.headline, said.because) == ("hold the feed", "frost tonight")


def test_a_hold_of_days_says_how_long_it_has_been() -> None:
    said = words(held_feeding(held_days=2, held_until=date(2027, 4, 12)))
    assert said.until == (
        "Until Mon 12 Apr at the earliest; decided again each morning, held for 2 days so far."
    )


def test_a_hold_of_a_week_leaves_the_decision_to_the_grower() -> None:
    reasons = (rain_reason(), Reason(ReasonCode.HELD_LONG, 7.0, 7.0, "day"))
    said = words(held_feeding(held_days=7, reasons=reasons, instead=(Instead.DECIDE_YOURSELF,)))
    assert "your decision" in said.until
    assert said.instead[0].startswith("Decide yourself")


def test_a_feeding_that_could_not_be_told_waits_for_the_answer() -> None:
    said = words(held_feeding(reasons=(Reason(ReasonCode.NOT_TOLD),), held_until=None))
    assert said.until == "Until you have answered whether it was done."


def test_a_dry_top_is_watered_twice() -> None:
    said = words(*hot_brief().tasks)
    assert said.title == "Water the top of Row C: 2.5 L a bale, twice, 7.5 L in all each time"
    assert "Do it twice" in " ".join(said.how)


def test_a_top_without_a_reckoned_amount_is_watered_by_the_finger() -> None:
    """Nobody who is new to it knows how much "wet the top" is."""
    said = " ".join(words(watering(action=Action.SURFACE_WATER, water_per_bale_l=None)).how)
    assert "until it is moist a finger deep" in said
    assert "finger" not in " ".join(words(watering(action=Action.SURFACE_WATER)).how)


def test_a_top_says_by_when_it_would_be_dry() -> None:
    said = words(watering(action=Action.SURFACE_WATER, detail=TopWaterDetail(time(14, 30))))
    assert said.how[-1] == "Without it the top is dry by about 14:30."


def test_one_cover_names_all_its_crops() -> None:
    said = words(protecting("tomato"), protecting("basil"))
    assert said.title == "Cover tomato and basil in Row C"
    assert (said.headline, said.because) == ("cover tomato and basil", "frost tonight")


def test_different_crops_are_covered_where_they_stand() -> None:
    said = words(protecting("tomato", batch="Row A"), protecting("radish", batch="Row C"))
    assert said.title == "Cover tomato in Row A and radish in Row C"


def test_planting_names_number_and_crop() -> None:
    task = watering(action=Action.PLANT, crops=("kale",), plants=8, day=None, detail=PUT_IN)
    said = words(task)
    assert said.heading == "Plant 8 kale in Row A"
    assert "30 cm apart" in said.how[0]


def test_an_inspection_names_the_threshold_and_how_to_write_it_down() -> None:
    said = words(watering(action=Action.INSPECT))
    how = " ".join(said.how)
    assert "37.5 °C" in how
    assert 'strawbell record temperature 35C --batch "Row A"' in how
    us = " ".join(words(watering(action=Action.INSPECT), voice=US).how)
    assert "99.5 °F" in us
    assert "95F" in us


def test_a_note_is_said_last() -> None:
    assert words(watering(note="Mind\nthe nest")).how[-1] == "Mind the nest"


def test_what_heat_does_is_said_after_how_it_is_done() -> None:
    """Crop by crop with its own phrase, then what helps, then the note."""
    task = watering(
        suffering=(Suffering("Brandywine tomato", "drops its blossom"), Suffering("kale", "bolts")),
        also=(Also.SHADE, Also.WET_EDGES),
        note="Mind the nest",
    )
    assert words(task).how[1:] == (
        "Brandywine tomato drops its blossom.",
        "Kale bolts.",
        "Shade what stands in the heat with cloth from noon to evening.",
        "Wet the sides and the edges of the bales too: they dry out first.",
        "Mind the nest",
    )


@pytest.mark.parametrize("also", Also)
def test_everything_that_helps_has_a_sentence(also: Also) -> None:
    """A new code without words would be silence."""
    (said,) = beside(watering(also=(also,)))
    assert said.endswith(".")


def test_a_phrase_of_the_growers_cannot_steer_anything() -> None:
    """The effect of heat may come out of the configuration."""
    (said,) = beside(watering(suffering=(Suffering("kale", "bolts\x1b[2J\nand more"),)))
    assert "\x1b" not in said
    assert "\n" not in said


def test_many_covered_crops_are_listed_as_they_are_said() -> None:
    """However long the list, no name of what has to be covered is cut away."""
    crops = [f"crop number {number}" for number in range(1, 9)]
    for action in ("protect", "uncover"):
        title = words(protecting(*crops, action=Action(action))).title
        assert all(crop in title for crop in crops)
        assert "crop number 7 and crop number 8" in title


def test_a_crop_with_a_comma_in_its_name_is_one_crop() -> None:
    """The grower may call a crop as the seed packet does."""
    said = words(protecting("tomato, cherry", "basil"))
    assert said.title == "Cover tomato, cherry and basil in Row C"
    merged = merge_tasks((protecting("tomato, cherry"), protecting("basil")))[0]
    assert merged.crops == ("tomato, cherry", "basil")


def test_covered_batches_name_their_own_crops() -> None:
    """Tomatoes and basil here, beans there."""
    title = words(protecting("tomato", "basil"), protecting("bean", batch="Row A")).title
    assert title == "Cover tomato and basil in Row C and bean in Row A"


@pytest.mark.parametrize(
    ("detail", "title", "headline"),
    [
        (None, "Harvest tomato in Row A", "harvest tomato"),
        (
            HarvestDetail(Ending.LAST),
            "Clear the last of the tomato in Row A",
            "clear the last of the tomato",
        ),
        (
            HarvestDetail(Ending.KILLED),
            "Clear the frozen tomato in Row A",
            "clear the frozen tomato",
        ),
    ],
)
def test_taking_a_crop_out_has_words_of_its_own(
    detail: HarvestDetail | None, title: str, headline: str
) -> None:
    """A last harvest is no picking, and what a freeze killed is no harvest."""
    one = Task(KEY, "Row A", 6, Action.HARVEST, State.DUE, crops=("tomato",), detail=detail)
    said = words(one)
    assert (said.title, said.headline) == (title, headline)
