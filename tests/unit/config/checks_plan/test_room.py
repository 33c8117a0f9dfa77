"""How many plants bales hold, all that stand in them at one time."""

from __future__ import annotations

import pytest

from support.config_trial import Trial, edited

PLANTING = 'crop = "kale"\nplants = 8'


def planted(*plantings: tuple[str, int] | tuple[str, int, str], bales: int = 6) -> Trial:
    """Load the sound configuration with these crops in its long row."""
    tables = [
        f'crop = "{crop}"\nplants = {plants}' + "".join(f'\nfollows = "{each}"' for each in after)
        for crop, plants, *after in plantings
    ]
    text = "\n\n[[gardens.batches.plantings]]\n".join(tables)
    # The method stays with the last one, as in the file.
    return edited((PLANTING, text), ("bales = 6", f"bales = {bales}"))


@pytest.mark.parametrize(("plants", "warned"), [(23, False), (24, False), (25, True)])
def test_more_plants_than_fit_are_warned_about(plants: int, warned: bool) -> None:
    """At most 4 kale a two-string bale, on 6 bales; the nearest that works is told both ways."""
    found = planted(("kale", plants))

    assert not found.errors
    assert bool(found.warnings) is warned
    assert [each.remedy for each in found.warnings] == ["Plant 24, or take 7 bales."] * warned
    assert [each.allowed for each in found.warnings] == ["at most 24 kale"] * warned


@pytest.mark.parametrize(
    ("plants", "bales"), [(28, 7), (29, 8), (48, 12), (49, 13), (400, 100), (401, 101)]
)
def test_as_many_bales_as_they_need_are_named(plants: int, bales: int) -> None:
    """No more and no fewer."""
    assert planted(("kale", plants)).warning.remedy == f"Plant 24, or take {bales} bales."


def test_the_number_of_bales_named_is_enough() -> None:
    """Two crops share them: a third of 24 kale and 20 of 60 lettuces leave a third over."""
    warning = planted(("kale", 8), ("lettuce", 200)).warning
    bales = int(warning.remedy.split("take ")[1].split()[0])

    assert planted(("kale", 8), ("lettuce", 200), bales=bales).fine
    assert planted(("kale", 8), ("lettuce", 200), bales=bales - 1).warnings


def test_crops_at_the_same_time_share_the_room() -> None:
    """A third is taken by kale; two thirds of the lettuces of six bales may stay."""
    warning = planted(("kale", 8), ("lettuce", 200)).warning

    assert warning.found == "200 lettuce"
    assert warning.allowed == "at most 40 lettuce beside the other crops of the batch"
    assert planted(("kale", 8), ("lettuce", 40)).fine
    assert planted(("kale", 8), ("lettuce", 41)).warnings


def test_where_no_room_is_left_at_all_the_crop_is_left_out() -> None:
    """To plant none of it is not called planting."""
    warning = planted(("kale", 24), ("lettuce", 61)).warning

    assert warning.found == "61 lettuce"
    assert warning.remedy.startswith("Leave it out, or take ")


def test_a_crop_that_follows_another_has_its_room() -> None:
    """Succession uses the same bales one after the other."""
    assert planted(("kale", 24), ("paste tomato", 12, "kale")).fine


@pytest.mark.parametrize(("plants", "warned"), [(18, False), (19, True)])
def test_a_crop_that_follows_has_no_more_room_than_there_is(plants: int, warned: bool) -> None:
    """At most 3 tomatoes a bale, also after the kale."""
    found = planted(("kale", 4), ("paste tomato", plants, "kale"))

    assert [each.found for each in found.warnings] == [f"{plants} paste tomato"] * warned


def test_a_small_crop_afterwards_makes_no_room_for_the_one_before() -> None:
    """The kale is too much while it stands."""
    assert planted(("kale", 25), ("paste tomato", 1, "kale")).warning.found == "25 kale"


def test_two_that_follow_the_same_crop_share_its_room() -> None:
    """Half the tomatoes and half the lettuces are all of it, one more is too much."""
    assert planted(("kale", 4), ("paste tomato", 9, "kale"), ("lettuce", 30, "kale")).fine
    over = planted(("kale", 4), ("paste tomato", 9, "kale"), ("lettuce", 31, "kale"))
    assert over.warning.found == "31 lettuce"


def test_what_follows_stands_beside_what_stays() -> None:
    """Radishes go, tomatoes come; the kale stays all the while."""
    fits = planted(("radish", 10), ("kale", 12), ("paste tomato", 9, "radish"))
    over = planted(("radish", 10), ("kale", 12), ("paste tomato", 10, "radish"))

    assert fits.fine
    assert over.warning.found == "10 paste tomato"


def test_larger_bales_hold_more() -> None:
    """By the area of their tops."""
    twice = (
        'bale = "two-string"',
        "bale = { length_cm = 200, width_cm = 45, height_cm = 36, dry_mass_kg = 40 }",
    )
    assert edited((PLANTING, 'crop = "kale"\nplants = 48'), twice).fine
    assert edited((PLANTING, 'crop = "kale"\nplants = 49'), twice).warnings


def test_one_bale_is_one_bale() -> None:
    """In words."""
    assert planted(("kale", 5), bales=1).warning.what == "1 bale cannot hold so many plants"
