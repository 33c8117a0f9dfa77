"""Steps can be followed with the tool in hand, in the measures of the kitchen."""

from __future__ import annotations

import pytest
from msgspec.structs import replace

from strawbell.model.brief import Action, Task
from strawbell.model.details import Band, Ending, FeedDetail, HarvestDetail, PlantDetail, SoakDetail
from strawbell.model.garden import Units
from strawbell.words.howto import how_to
from strawbell.words.merge import merge_tasks
from strawbell.words.voice import Voice
from support.briefs import TODAY, dose, feeding, garden, liquid_dose, watering

VOICE = Voice.of(garden(), TODAY)
US = Voice.of(garden(Units.US), TODAY)


def steps(task: Task, voice: Voice = VOICE) -> str:
    """Return the steps of a task in one text."""
    (merged,) = merge_tasks((task,))
    return " ".join(how_to(merged, voice))


def test_a_dry_feed_is_weighed_scattered_and_washed_in() -> None:
    said = steps(feeding())
    for part in ("Gloves on", "Weigh 500 g a bale (about 830 ml by jug)", "Scatter", "4 L a bale"):
        assert part in said


def test_a_feed_that_rain_washes_in_gets_no_water() -> None:
    assert "rose" in steps(feeding())
    assert "rose" not in steps(feeding(water_per_bale_l=0.0))


def test_a_feed_of_unknown_density_gets_no_kitchen_measure() -> None:
    unknown = replace(dose(), per_bale_ml=None, total_ml=None)
    assert "jug" not in steps(feeding(dose=unknown))


def test_a_liquid_is_stirred_at_its_rate() -> None:
    said = steps(feeding(dose=liquid_dose(), water_per_bale_l=5.0))
    assert "Stir 100 ml of Fish feed a bale into the water, 20 ml to each litre of water." in said
    assert "No water after it." in said


def test_a_feeding_of_the_season_says_when_the_next_one_is() -> None:
    assert "Again in 14 days" in steps(feeding(detail=FeedDetail(14)))
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
    for part in ("30 cm apart", "On each bale 1 to 2 in 2 rows", "8 cm from the edge", "150 cm"):
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
