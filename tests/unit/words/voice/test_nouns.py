"""Crops are counted as a gardener counts them, feeds spelt as they are there."""

from __future__ import annotations

import pytest

from strawbell.words.catalogue import AMERICAN, BRITISH
from strawbell.words.voice import counted_crop, crops_name, feed_name


@pytest.mark.parametrize(
    ("crop", "one", "many"),
    [
        ("tomato", "1 tomato", "8 tomatoes"),
        ("cherry tomato", "1 cherry tomato", "8 cherry tomatoes"),
        ("radish", "1 radish", "8 radishes"),
        ("basil", "1 basil plant", "8 basil plants"),
        ("Gardener's Delight", "1 Gardener's Delight plant", "8 Gardener's Delight plants"),
    ],
)
def test_a_number_of_plants_is_said_in_the_right_form(crop: str, one: str, many: str) -> None:
    assert (counted_crop(1, crop, BRITISH), counted_crop(8, crop, BRITISH)) == (one, many)


def test_a_name_of_the_growers_own_is_left_letter_for_letter() -> None:
    assert crops_name("San Marzano", BRITISH) == "San Marzano"
    assert feed_name("NoName Gro", BRITISH) == "NoName Gro"


def test_feeds_are_spelt_as_they_are_there() -> None:
    assert feed_name("Ammonium sulfate", BRITISH) == "ammonium sulphate"
    assert feed_name("Ammonium sulfate", AMERICAN) == "ammonium sulfate"
