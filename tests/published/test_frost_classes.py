"""Classes of hardiness and the weather service's bands against published rows."""

from __future__ import annotations

import pytest

from strawbell.agronomy.crop_table import CROPS
from strawbell.model.garden import FrostClass

HARDY, HALF, TENDER, VERY = FrostClass


def celsius(degrees_f: float) -> float:
    return (degrees_f - 32.0) / 1.8


# Colorado State University Extension, CMG GardenNotes 720 (looked up 2026-11-25). Sources differ by
# one class for some; the class here may be more careful than the published one, never less.
CSU_CLASSES = [
    ("broccoli", HARDY), ("cabbage", HARDY), ("kohlrabi", HARDY), ("onion", HARDY),
    ("lettuce", HARDY), ("pea", HARDY), ("radish", HARDY), ("spinach", HARDY), ("turnip", HARDY),
    ("beet", HALF), ("carrot", HALF), ("cauliflower", HALF), ("parsley", HALF), ("potato", HALF),
    ("chard", HALF), ("bean", TENDER), ("sweet corn", TENDER), ("cucumber", TENDER),
    ("summer squash", TENDER), ("melon", VERY), ("eggplant", VERY), ("pepper", VERY),
    ("pumpkin", VERY), ("winter squash", VERY), ("tomato", VERY), ("watermelon", VERY),
]  # fmt: skip
MORE_CAREFUL = {"lettuce": HALF, "cucumber": VERY, "summer squash": VERY}
"""As the University of California's guide for San Diego County has them."""


@pytest.mark.parametrize(("crop", "published"), CSU_CLASSES)
def test_a_crop_has_the_published_class_or_a_more_careful_one(
    crop: str, published: FrostClass
) -> None:
    """Three crops stand a class tenderer, as another published guide has them."""
    assert CROPS[crop].frost_class is MORE_CAREFUL.get(crop, published)


# Michigan State University Extension (2014): killed by light frost (28 to 32 F).
KILLED_BY_LIGHT_FROST = [
    "cucumber", "bean", "eggplant", "melon", "pepper", "pumpkin", "summer squash", "winter squash",
    "sweet corn", "tomato", "watermelon",
]  # fmt: skip
# The same: survives light frost only, so a hard frost (under 28 F) hurts.
SURVIVES_LIGHT_FROST_ONLY = [
    "beet", "broccoli", "cabbage", "carrot", "cauliflower", "chard", "onion", "radish",
]  # fmt: skip
# The same: survives hard frost. Texas A&M AgriLife: kale and spinach stand short spells under 20 F.
SURVIVES_HARD_FROST = ["kale", "lettuce", "pea", "spinach", "turnip", "kohlrabi"]


@pytest.mark.parametrize("crop", KILLED_BY_LIGHT_FROST)
def test_what_light_frost_kills_is_covered_before_it_freezes(crop: str) -> None:
    """Covered over 32 F, killed at or over 28 F."""
    chosen = CROPS[crop]
    assert chosen.tender
    assert chosen.kill_at_c is not None
    assert celsius(28) <= chosen.kill_at_c <= celsius(32) < chosen.cover_at_c


@pytest.mark.parametrize("crop", SURVIVES_LIGHT_FROST_ONLY)
def test_what_light_frost_spares_is_covered_by_the_hard_frost(crop: str) -> None:
    """Covered from 28 F on, not killed by a light frost."""
    chosen = CROPS[crop]
    assert not chosen.tender
    assert chosen.cover_at_c == pytest.approx(celsius(28), abs=0.01)
    assert chosen.kill_at_c is not None
    assert chosen.kill_at_c < celsius(28)


@pytest.mark.parametrize("crop", SURVIVES_HARD_FROST)
def test_what_hard_frost_spares_dies_only_under_it(crop: str) -> None:
    """Not killed at 28 F."""
    kill_at_c = CROPS[crop].kill_at_c
    assert kill_at_c is not None
    assert kill_at_c < celsius(28)


def test_strawberry_bloom_is_covered_and_lost_at_the_published_lows() -> None:
    """Univ. of Delaware Weekly Crop Update: open bloom 30 F, most bloom lost under 26 F."""
    strawberry = CROPS["strawberry"]
    assert strawberry.cover_at_c == pytest.approx(celsius(30), abs=0.01)
    assert strawberry.kill_at_c == pytest.approx(celsius(26), abs=0.01)


# Plants per two-string bale. NC State Extension newsletter (2009, second-hand): tomato 2, cucumber
# 6, summer squash 2 to 3. Bale growers: pepper 3 to 5, lettuce 4 to 10, pea and bean 12 to 15,
# winter squash 2, melon 3.
PER_BALE = [
    ("tomato", 2, 3), ("cucumber", 4, 6), ("summer squash", 2, 3), ("pepper", 3, 5),
    ("lettuce", 4, 10), ("pea", 12, 15), ("bean", 12, 15), ("winter squash", 1, 2), ("melon", 2, 3),
]  # fmt: skip


@pytest.mark.parametrize(("crop", "fewest", "most"), PER_BALE)
def test_plants_a_bale_are_those_printed(crop: str, fewest: int, most: int) -> None:
    """Whole plants."""
    assert CROPS[crop].per_bale == (fewest, most)
