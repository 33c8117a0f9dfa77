"""Every caution is short and defers to those who know the case."""

from __future__ import annotations

import pytest

from strawbell.model.brief import Caution
from strawbell.model.garden import Units
from strawbell.words.reasons import caution_list, caution_words
from strawbell.words.voice import Voice
from support.briefs import TODAY, garden

VOICE = Voice.of(garden(), TODAY)

SAYS = {
    Caution.FEED_HANDLING: ("label", "Never mix", "children"),
    Caution.AMMONIUM_NITRATE: ("Never", "straw", "law"),
    Caution.PETS: ("dogs and cats", "vet"),
    Caution.WATERCOURSE: ("wells", "local rules"),
    Caution.BACKFLOW: ("backflow preventer",),
    Caution.DUST: ("FFP2", "doctor"),
    Caution.WET_WEIGHT: ("70 to 80 kg", "qualified"),
    Caution.HERBICIDE: ("beans", "three weeks"),
    Caution.HOT_BALE: ("scald", "thermometer"),
    Caution.SELF_HEATING: ("fire service",),
    Caution.LOCAL_RULES: ("rule comes before",),
    Caution.SLOW_RELEASE: ("quick nitrogen",),
    Caution.HEAT_PERSON: ("shade", "medical help"),
    Caution.RAW_MANURE: ("120 days", "heat-treated"),
    Caution.STAKES: ("overhead wires", "buried"),
    Caution.TARP: ("wind", "upwind"),
    Caution.FROST_COVER: ("flame",),
}


@pytest.mark.parametrize("caution", Caution)
def test_every_caution_says_what_matters_in_a_few_sentences(caution: Caution) -> None:
    words = caution_words(caution, VOICE)
    assert words.sentences.endswith(".")
    assert 1 <= words.sentences.count(".") <= 5
    assert len(words.whole.split()) <= 34
    for word in SAYS[caution]:
        assert word in words.sentences


def test_weights_and_masks_are_those_of_the_place() -> None:
    us = Voice.of(garden(Units.US), TODAY)
    assert "150 to 175 lb" in caution_words(Caution.WET_WEIGHT, us).sentences
    assert "N95" in caution_words(Caution.DUST, us).sentences


def test_the_gravest_comes_first_and_each_comes_once() -> None:
    cautions = (Caution.PETS, Caution.FEED_HANDLING, Caution.PETS, Caution.AMMONIUM_NITRATE)
    heads = [words.head for words in caution_list(cautions, VOICE)]
    assert heads == ["Ammonium nitrate", "Feed", "Pets"]
