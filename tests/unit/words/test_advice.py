"""A task is one sentence: what, how much, where; why; and what to leave till when."""

from __future__ import annotations

from datetime import date, time

import pytest
from msgspec.structs import replace

from strawbell.agronomy.doses import scaled
from strawbell.model.brief import (
    Action,
    Also,
    Caution,
    Instead,
    Reason,
    ReasonCode,
    State,
    Suffering,
    Task,
    TaskKey,
    WorkKind,
)
from strawbell.model.details import (
    Band,
    Ending,
    FeedDetail,
    HarvestDetail,
    LookDetail,
    PlantDetail,
    SoakDetail,
    TopWaterDetail,
)
from strawbell.model.feeds import FeedForm, LabelRate, Material
from strawbell.model.garden import Units
from strawbell.words.advice import TaskWords, beside, instead_sentences, short_word, task_words
from strawbell.words.catalogue import BRITISH
from strawbell.words.merge import merge_tasks
from strawbell.words.voice import Voice
from support.briefs import (
    DETAILS,
    PUT_IN,
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


def words(*tasks: Task, voice: Voice = VOICE, **given: object) -> TaskWords:
    """Return the words of tasks that merge into one."""
    (merged,) = merge_tasks(tasks)
    return task_words(merged, voice, **given)  # type: ignore[arg-type]


@pytest.mark.parametrize("action", Action)
@pytest.mark.parametrize("state", State)
@pytest.mark.parametrize("crops", [(), ("kale",)])
@pytest.mark.parametrize("voice", [VOICE, US], ids=["metric", "us"])
def test_every_task_has_whole_words_in_every_state(
    action: Action, state: State, crops: tuple[str, ...], voice: Voice
) -> None:
    """With and without crop, plants and details, nothing is left open in a sentence."""
    bare = watering(action=action, state=state, crops=crops, water_per_bale_l=None)
    full = replace(bare, plants=8, detail=DETAILS.get(action), water_per_bale_l=2.0)
    for task in (bare, full):
        said = words(task, voice=voice)
        assert said.line.startswith("Row A: ")
        assert said.line.endswith((".", "?"))
        assert 1 <= len(said.subject) <= 52
        assert bool(said.steps) == (state is State.DUE)
        for sentence in (said.line, said.heading, said.brief, said.subject, *said.steps):
            for flaw in ("  ", "None", "{", "()", " ,", "..", ":.", ": ,"):
                assert flaw not in sentence


@pytest.mark.parametrize("action", Action)
def test_every_task_has_a_word_for_a_narrow_cell(action: Action) -> None:
    assert 3 <= len(short_word(watering(action=action), BRITISH)) <= 6
    assert short_word(watering(action=action, state=State.HELD), BRITISH) == "Wait"


@pytest.mark.parametrize("instead", Instead)
def test_every_instead_has_its_sentence(instead: Instead) -> None:
    (sentence,) = instead_sentences((instead, instead), VOICE)
    assert sentence.endswith(".")


def test_two_rows_are_fed_from_one_bag() -> None:
    said = words(feeding(), feeding("Row C", 3))
    assert said.line == (
        "Feed all 9 bales: 500 g of Blood Meal each, 4.5 kg in all. Then 4 L of water each."
    ).replace("Blood Meal", "blood meal")
    assert said.subject == "Feed today: 500 g blood meal a bale"
    assert said.figures == (("500 g", "blood meal each"), ("then 4 L", "water each"))
    assert said.below == "4.5 kg and 36 L in all."
    assert said.why == ("No heavy rain or frost before tomorrow morning.",)


def test_a_row_of_several_stands_before_its_work_as_a_label() -> None:
    """Growers name things freely, so a name is never inside the grammar."""
    said = words(feeding())
    assert said.line.startswith("Row A: feed the bales, 500 g of blood meal each, ")
    assert said.subject == "Feed Row A today: 500 g blood meal a bale"


def test_a_subject_that_a_phone_would_cut_says_less() -> None:
    long = feeding(dose=dose(feed="Granulated organic poultry manure pellets"))
    assert words(long).subject == "Feed Row A today: 500 g a bale"


def test_a_feed_of_the_growers_own_keeps_its_name() -> None:
    assert "500 g of NoName Gro each" in words(feeding(dose=dose(feed="NoName Gro"))).line


def test_a_single_bale_needs_no_sum() -> None:
    said = words(feeding(bales=1, dose=dose(1)))
    assert said.line == "Row A: feed the bale, 500 g of blood meal. Then 4 L of water."


def test_a_liquid_is_its_own_water() -> None:
    said = words(feeding(dose=liquid_dose(), water_per_bale_l=5.0))
    assert said.line == (
        "Row A: feed the bales, 100 ml of Fish feed in 5 L of water each, 600 ml in all."
    )


def test_a_dose_that_is_unknown_sends_to_the_label() -> None:
    said = words(feeding(dose=None))
    assert said.line == "Row A: feed the bales."
    assert "label" in said.steps[0]


def test_a_feeding_that_was_not_judged_whole_is_never_called_good() -> None:
    for code in (ReasonCode.RAIN_UNKNOWN, ReasonCode.TEMPERATURE_UNKNOWN, ReasonCode.RAIN_POSSIBLE):
        assert "heavy rain or frost before" not in " ".join(
            words(feeding(reasons=(Reason(code),))).why
        )
    assert words(feeding(), judged=False).why == ()


def test_the_first_soaking_ends_when_it_drips() -> None:
    said = words(watering(action=Action.SOAK, day=1, water_per_bale_l=56.0))
    assert said.line == ("Row A: soak the bales until they drip, about 56 L each, 336 L in all.")
    assert said.subject == "Soak Row A today: about 56 L a bale"


def test_a_later_soaking_says_so() -> None:
    said = words(watering(action=Action.SOAK, water_per_bale_l=3.8, detail=SoakDetail(again=True)))
    assert said.line.startswith("Row A: soak the bales again until they drip, about 3.8 L each")


@pytest.mark.parametrize(
    ("also", "why"),
    [
        (Also.MOIST_ENOUGH, "they're damp enough"),
        (Also.RAIN_WATERS, "rain will do it"),
        (Also.FULL, "they hold all they can"),
    ],
)
def test_a_day_without_water_says_why(also: Also, why: str) -> None:
    both = [watering(batch, bales, water_per_bale_l=0.0, also=(also,))
            for batch, bales in (("Row A", 6), ("Row C", 3))]  # fmt: skip
    said = words(*both)
    assert said.line == "No watering today."
    assert said.subject == f"No watering today: {why}"
    assert short_word(both[0], BRITISH) == "Leave"


def test_what_was_explained_before_is_not_told_again() -> None:
    new = words(feeding())
    known = words(feeding(), explained={WorkKind(Action.FEED, "Blood meal"): date(2027, 4, 5)})
    assert new.steps
    assert new.cautions
    assert (known.steps, known.cautions, known.since) == ((), (), date(2027, 4, 5))
    assert known.line == new.line


def test_another_feed_is_explained_anew() -> None:
    """But for the cautions that every feed has, which came with the other one."""
    said = words(feeding(), explained={WorkKind(Action.FEED, "Urea"): TODAY})
    assert said.steps
    assert [each.code for each in said.cautions] == [Caution.PETS]
    other = words(feeding(), explained={WorkKind(Action.SOAK): TODAY})
    assert Caution.FEED_HANDLING in [each.code for each in other.cautions]


def test_what_a_freeze_killed_is_explained_whenever_it_is_planted_again() -> None:
    again = replace(PUT_IN, again=True)
    task = watering(action=Action.PLANT, crops=("kale",), detail=again)
    said = words(task, explained={task.kind: TODAY})
    assert said.steps[0].startswith("Frost has probably killed the first ones.")


def test_young_roots_are_spoken_of_once() -> None:
    young = Reason(ReasonCode.FIRST_WEEKS, 9, 21, "day")
    task = watering(action=Action.SURFACE_WATER, reasons=(young,))
    assert "Young roots" in words(task).why[0]
    assert words(task, explained={task.kind: TODAY}).why == ()


def test_a_hold_says_until_when_why_and_what_instead() -> None:
    said = words(held_feeding())
    assert said.line == "Row A: don't feed today. Tomorrow at the earliest."
    assert said.beside == ("No water either until it has thawed.", "Empty the hose before dark.")
    assert said.subject == "Don't feed today: frost tonight"
    assert (said.steps, said.cautions) == ((), ())


def test_a_chance_that_holds_work_is_its_second_large_figure() -> None:
    said = words(held_feeding(reasons=(rain_reason(),), held_until=date(2027, 4, 12)))
    assert said.figures == (("Monday", "at the earliest"), ("6 in 10", "for heavy rain"))


def test_water_that_waits_does_not_say_so_twice() -> None:
    held = watering(state=State.HELD, instead=(Instead.LEAVE_TO_RAIN, Instead.DRAIN_HOSE))
    assert words(held).beside == ("Empty the hose before dark.",)


@pytest.mark.parametrize(
    ("reasons", "until", "said"),
    [
        ((), date(2027, 4, 12), "Monday at the earliest."),
        ((), date(2027, 4, 19), "19 April at the earliest."),
        ((), None, "I'll look again tomorrow."),
        (
            (Reason(ReasonCode.HELD_LONG, 7.0, 7.0, "day"),),
            date(2027, 4, 10),
            "It's up to you now.",
        ),
        ((Reason(ReasonCode.NOT_TOLD),), None, "Answer first: was it done?"),
    ],
)
def test_a_hold_says_whose_decision_it_is(
    reasons: tuple[Reason, ...], until: date | None, said: str
) -> None:
    assert words(held_feeding(reasons=reasons, held_until=until)).line.endswith(said)


def test_a_planting_that_waits_for_long_is_the_growers_choice_and_counts_no_days() -> None:
    """Nobody has waited 74 days for a squash: its nights are what it waits for."""
    chilly = Reason(ReasonCode.CHILLY_NIGHTS, 9.0, 11.0, "degC")
    long = Reason(ReasonCode.HELD_LONG, 74.0, 7.0, "day")
    said = words(watering(action=Action.PLANT, state=State.HELD, reasons=(chilly, long)))
    assert said.line.endswith(" yet. I'd still wait, but it's up to you.")
    assert said.why == ("Nights near 9 °C would set them back for weeks.",)


def test_water_of_an_unknown_amount_is_the_growers_own_look() -> None:
    said = words(watering(water_per_bale_l=None))
    assert said.line == "Row A: water the bales if they feel drier inside than a wrung-out sponge."


def test_a_dry_top_is_watered_by_the_clock() -> None:
    said = words(*hot_brief().tasks)
    assert said.line == (
        "Row C: water the seedlings by 09:00 and again at 15:00, 2.5 L a bale each time (7.5 L for "
        "all)."
    )
    assert said.subject == "Hot today: water by 09:00 and at 15:00"
    assert words(*hot_brief().tasks, voice=US).subject == "Hot today: water by 9 AM and at 3 PM"


def test_a_top_says_by_when_it_would_be_dry() -> None:
    said = words(watering(action=Action.SURFACE_WATER, detail=TopWaterDetail(time(14, 40))))
    assert said.line.endswith("Unwatered, the top is dry by about 14:30.")


def test_one_cover_names_all_its_crops() -> None:
    said = words(protecting("tomato"), protecting("basil"))
    assert said.line == "Row C: cover the tomatoes and the basil before dark."
    assert said.subject == "Cover the tomatoes and the basil tonight: frost"


def test_many_covered_crops_are_counted_in_a_subject_and_named_in_the_mail() -> None:
    crops = [f"crop number {number}" for number in range(1, 9)]
    said = words(protecting(*crops))
    assert said.subject == "Cover 8 crops tonight: frost"
    assert all(crop in said.line for crop in crops)


def test_different_crops_are_covered_where_they_stand() -> None:
    said = words(protecting("tomato", batch="Row A"), protecting("radish", batch="Row C"))
    assert said.line == ("Cover the tomatoes in Row A and the radishes in Row C before dark.")


def test_a_crop_with_a_comma_in_its_name_is_one_crop() -> None:
    """The grower may call a crop as the seed packet does."""
    said = words(protecting("tomato, cherry", "basil"))
    assert "the tomato, cherry and the basil" in said.line


@pytest.mark.parametrize(
    ("crop", "line"),
    [
        ("tomato", "Row A: plant 8 tomatoes."),
        ("kale", "Row A: plant 8 kale plants."),
        ("Brandywine tomato", "Row A: plant 8 Brandywine tomatoes."),
    ],
)
def test_planting_counts_plants_as_a_gardener_does(crop: str, line: str) -> None:
    task = watering(action=Action.PLANT, crops=(crop,), plants=8, detail=PUT_IN)
    assert words(task).line == line


@pytest.mark.parametrize(
    ("detail", "line"),
    [
        (None, "Row A: pick the tomatoes."),
        (HarvestDetail(Ending.LAST), "Row A: clear the last of the tomatoes."),
        (HarvestDetail(Ending.KILLED), "Row A: clear the frozen crop: the tomatoes."),
        (HarvestDetail(Ending.TOO_LATE), "Row A: leave out the tomatoes."),
    ],
)
def test_taking_a_crop_out_has_words_of_its_own(detail: HarvestDetail | None, line: str) -> None:
    """A last harvest is no picking, and what a freeze killed is no harvest."""
    key = TaskKey("row-a", Action.HARVEST, crop="tomato", number=1)
    one = Task(key, "Row A", 6, Action.HARVEST, State.DUE, crops=("tomato",), detail=detail)
    assert words(one).line == line


def test_a_look_inside_and_a_look_over_are_not_the_same() -> None:
    inside = watering(action=Action.INSPECT)
    inside = replace(inside, key=replace(inside.key, day=12, action=Action.INSPECT))
    over = watering(action=Action.INSPECT, detail=LookDetail(3))
    over = replace(over, key=TaskKey("row-a", Action.INSPECT, on=TODAY))
    assert words(inside).line == "Row A: check how warm the bales are inside."
    assert words(over).line == "Row A: look the bales over for weeds, slugs and loose strings."


def test_a_note_is_said_last() -> None:
    assert words(watering(note="Mind\nthe nest")).beside[-1] == "Mind the nest"


def test_what_heat_does_is_said_with_what_helps() -> None:
    """Crop by crop with its own phrase, then what helps, then the note."""
    task = watering(
        suffering=(Suffering("Brandywine tomato", "drops its blossom"), Suffering("kale", "bolts")),
        also=(Also.SHADE,),
        note="Mind the nest",
    )
    assert words(task).beside == (
        "The heat makes Brandywine tomatoes drop their blossom.",
        "In the heat kale bolts.",
        "Shade the plants from noon to evening.",
        "Mind the nest",
    )


@pytest.mark.parametrize("also", Also)
def test_everything_that_helps_has_a_sentence(also: Also) -> None:
    """A new code without words would be silence."""
    (said,) = beside(watering(also=(also,)), VOICE)
    assert said.endswith(".")


def test_a_phrase_of_the_growers_cannot_steer_anything() -> None:
    """The effect of heat may come out of the configuration."""
    (said,) = beside(watering(suffering=(Suffering("kale", "bolts\x1b[2J\nand more"),)), VOICE)
    assert "\x1b" not in said
    assert "\n" not in said


def steps(task: Task, voice: Voice = VOICE) -> str:
    """Return the steps of a task in one text."""
    (merged,) = merge_tasks((task,))
    return " ".join(task_words(merged, voice).steps)


def test_a_dry_feed_is_weighed_scattered_and_washed_in() -> None:
    said = steps(feeding())
    for part in (
        "Gloves on",
        "Weigh 500 g a bale (about 830 ml by volume)",
        "Scatter",
        "4 L a bale",
    ):
        assert part in said


def test_a_feed_that_rain_washes_in_gets_no_water() -> None:
    assert "rose" in steps(feeding())
    assert "rose" not in steps(feeding(water_per_bale_l=0.0))


def test_a_feed_of_unknown_density_gets_no_kitchen_measure() -> None:
    unknown = replace(dose(), per_bale_ml=None, total_ml=None)
    assert "jug" not in steps(feeding(dose=unknown))


def test_blood_meal_is_worked_in() -> None:
    """Left on top it cakes."""
    said = steps(feeding(dose=replace(dose(), material=Material.BLOOD_MEAL)))
    assert "Work it in with a hand fork" in said
    assert "hand fork" not in steps(feeding(dose=dose()))


@pytest.mark.parametrize(
    ("rate", "said"),
    [
        (LabelRate(g_per_l=4.0), "Dissolve 110 g of Fish feed a bale in the water, 4 g to each"),
        (LabelRate(ml_per_l=4.0), "Dissolve 100 ml of Fish feed a bale in the water, 4 ml to each"),
        (None, "Dissolve 110 g of Fish feed a bale in the water."),
    ],
)
def test_a_soluble_feed_is_dissolved_by_spoon_or_scales(rate: LabelRate | None, said: str) -> None:
    """As its label counts it; never scattered."""
    powder = replace(liquid_dose(), form=FeedForm.SOLUBLE, rate=rate)
    found = steps(feeding(dose=powder, water_per_bale_l=5.0))
    assert said in found
    assert "Scatter" not in found


def test_a_feeding_of_nothing_is_no_feeding() -> None:
    """A full bale gets none of what is poured."""
    none = scaled(liquid_dose(), 0.0, 0.0)
    said = words(feeding(dose=none, water_per_bale_l=0.0, also=(Also.FULL,)))
    assert "no feed today" in said.line.lower()
    assert "hold all they can" in said.below
    assert (said.why, said.steps) == ((), ())


def test_a_liquid_is_stirred_at_its_rate() -> None:
    said = steps(feeding(dose=liquid_dose(), water_per_bale_l=5.0))
    assert "Stir 100 ml of Fish feed a bale into the water, 20 ml to each litre of water." in said
    assert "No water after it." in said


def test_a_feeding_of_the_season_says_when_the_next_one_is() -> None:
    assert "Feed again in 14 days" in steps(feeding(detail=FeedDetail(14)))
    assert "Again in" not in steps(feeding())


def test_a_us_grower_reads_cups_and_gallons() -> None:
    assert "3 1/2 cups" in steps(feeding(), US)
    assert "1.1 gal" in steps(feeding(), US)


def test_the_first_soaking_is_a_morning_and_a_later_one_a_round() -> None:
    first = steps(watering(action=Action.SOAK, day=1, water_per_bale_l=56.0))
    again = steps(watering(action=Action.SOAK, day=3, detail=SoakDetail(again=True)))
    assert "Go round again" in first
    assert "the middle was dry" in again


def test_a_top_without_a_reckoned_amount_is_watered_by_the_finger() -> None:
    """Nobody who is new to it knows how much "wet the top" is."""
    assert "moist a finger deep" in steps(
        watering(action=Action.SURFACE_WATER, water_per_bale_l=None)
    )
    assert "finger" not in steps(watering(action=Action.SURFACE_WATER))


def test_a_look_inside_names_the_limit_and_how_to_note_it() -> None:
    task = watering(action=Action.INSPECT)
    assert "below 37 °C" in steps(task)
    assert 'strawbell record temperature 35C --batch "Row A"' in steps(task)
    assert "99 °F" in steps(task, US)
    assert "95F" in steps(task, US)


def test_what_goes_on_top_is_called_as_it_is_there() -> None:
    task = watering(action=Action.COVER_WITH_MIX)
    assert "potting compost" in steps(task)
    assert "potting mix" in steps(task, US)


def test_a_planting_says_how_far_apart_and_how_many() -> None:
    detail = PlantDetail(30.0, 8.0, Band(1, 2), 2, upright_cm=150.0)
    said = steps(watering(action=Action.PLANT, crops=("kale",), detail=detail))
    for part in ("every 30 cm", "1 to 2 to a bale, in 2 rows", "8 cm from the edge", "1.5 m"):
        assert part in said


@pytest.mark.parametrize(
    ("action", "word"), [(Action.HARVEST, "not done"), (Action.PLANT, "done"), (Action.SOW, "done")]
)
def test_what_a_freeze_killed_is_looked_at_first(action: Action, word: str) -> None:
    """And the word for what lives is said."""
    killed = HarvestDetail(Ending.KILLED)
    detail = killed if action is Action.HARVEST else PlantDetail(30.0, 8.0, again=True)
    said = steps(watering(action=action, crops=("tomato",), detail=detail))
    assert said.startswith("Frost has probably killed")
    assert f"{word}." in said
