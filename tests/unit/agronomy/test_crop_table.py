"""Claims about the crop table as a whole."""

from __future__ import annotations

from itertools import pairwise

import pytest
from msgspec.structs import fields

from strawbell.agronomy.crop_table import CROP_NEEDS, CROPS, NOT_IN_BALES, SOURCES, crop_from
from strawbell.agronomy.figures import deg_f, inches
from strawbell.model.garden import Appetite, Crop, FrostClass, Support

EVERY_CROP = [pytest.param(crop, id=name) for name, crop in CROPS.items()]
NO_FIGURE = {"name", "sources", "maturity_from_transplant", "heat_effect", "thin_to_cm"}
"""Not figures of their own: `heat_effect` goes with the limit, `thin_to_cm` with the distance."""


def test_there_are_at_least_twenty_five_crops_under_their_own_names() -> None:
    """The key is the crop's name."""
    assert len(CROPS) >= 25
    assert all(name == crop.name for name, crop in CROPS.items())


@pytest.mark.parametrize("crop", EVERY_CROP)
def test_every_figure_of_a_crop_names_where_it_comes_from(crop: Crop) -> None:
    """A figure without a source entry is a defect; so is an entry for no field."""
    named = {entry.split(":")[0] for entry in crop.sources}
    known = {each.name for each in fields(crop)}
    given = {
        each.name for each in fields(crop) if getattr(crop, each.name) not in (None, "", ())
    } - NO_FIGURE
    assert given - named == set()
    assert named - known == set()


@pytest.mark.parametrize("crop", EVERY_CROP)
def test_every_source_key_is_in_the_bibliography(crop: Crop) -> None:
    """The words before a remark in brackets are keys, or say that the figure is unknown."""
    for entry in crop.sources:
        words = entry.split(": ", 1)[1].split(" (")[0].split(":")[0].split()
        assert words
        assert words == ["unknown"] or all(word in SOURCES for word in words), entry


def test_every_source_of_the_bibliography_is_used() -> None:
    """A source that backs no figure of the table has no place there."""
    said = " ".join(entry for crop in CROPS.values() for entry in crop.sources)
    used_elsewhere = {"illinois-drop"}
    assert [key for key in SOURCES if key not in said and key not in used_elsewhere] == []


@pytest.mark.parametrize("crop", EVERY_CROP)
def test_a_crop_is_covered_before_it_dies_and_tender_ones_over_freezing(crop: Crop) -> None:
    """Cover over kill; tender crops are covered over 0 degC and hardy ones under it."""
    assert crop.kill_at_c is not None
    assert crop.cover_at_c > crop.kill_at_c
    assert (crop.cover_at_c > 0.0) is crop.tender


@pytest.mark.parametrize("crop", EVERY_CROP)
def test_the_figures_of_a_crop_hang_together(crop: Crop) -> None:
    """Ranges ascend, lengths and times are above nought, heat has an effect."""
    assert 1 <= crop.per_bale[0] <= crop.per_bale[1]
    assert 1 <= crop.days_to_maturity[0] <= crop.days_to_maturity[1]
    assert crop.spacing_cm > 0.0
    assert crop.mature_height_cm > 0.0
    assert crop.harvest_days >= 1
    assert all(cool[0] < warm[0] for cool, warm in pairwise(crop.emergence))
    assert all(days > 0 for _, days in crop.emergence)
    assert bool(crop.heat_effect) is (crop.heat_limit_c is not None)
    if crop.germination_min_c is not None and crop.germination_max_c is not None:
        assert crop.germination_min_c < crop.germination_max_c


@pytest.mark.parametrize("crop", EVERY_CROP)
def test_a_tenderer_crop_is_never_set_out_sooner(crop: Crop) -> None:
    """Very tender crops go out after the average last frost, hardy ones before it."""
    assert crop.set_out_weeks is not None
    if crop.frost_class is FrostClass.VERY_TENDER:
        assert crop.set_out_weeks > 0
    elif crop.frost_class is FrostClass.TENDER:
        assert crop.set_out_weeks == 0
    elif crop.frost_class is FrostClass.HARDY:
        assert crop.set_out_weeks < 0


def test_sweet_corn_is_advised_against_with_the_reason() -> None:
    """Top-heavy corn does badly, and nothing else in the table does."""
    assert CROPS["sweet corn"].advice_against == "poor-ears"
    assert [name for name, crop in CROPS.items() if crop.advice_against] == ["sweet corn"]


def test_crops_that_do_badly_are_not_in_the_table_but_have_a_reason() -> None:
    """So that a grower who asks for rhubarb is told why not."""
    assert NOT_IN_BALES["rhubarb"]
    assert not set(NOT_IN_BALES) & set(CROPS)


def test_legumes_and_roots_ask_for_no_nitrogen() -> None:
    """Light feeders are exactly the legumes and roots."""
    light = {name for name, crop in CROPS.items() if crop.appetite is Appetite.LIGHT}
    assert light == {"pea", "bean", "pole bean", "radish", "turnip", "beet", "carrot"}


def test_what_climbs_or_topples_has_a_support() -> None:
    """Everything as high as a person needs one."""
    for crop in CROPS.values():
        if crop.mature_height_cm > 150.0:
            assert crop.support is not Support.NONE, crop.name


def test_printed_figures_become_metric_ones() -> None:
    """28 F is -2.22 degC, 18 in is 45.72 cm."""
    assert deg_f(28) == -2.22
    assert deg_f(32) == 0.0
    assert inches(18) == 45.72


def test_a_row_of_the_tables_is_the_crop_in_metric_units() -> None:
    """Sweet corn: cover at 33 F, 12 in apart, 22 days at 50 F and 12 at 59 F, 1539 F days."""
    corn = CROPS["sweet corn"]
    assert (corn.cover_at_c, corn.spacing_cm, corn.depth_cm) == (0.56, 30.48, 5.08)
    assert corn.emergence[:2] == ((10.0, 22.0), (15.0, 12.0))
    assert corn.degree_days_to_maturity == 855.0
    assert (corn.per_bale, corn.days_to_maturity, corn.harvest_days) == ((4, 6), (65, 90), 10)
    assert not corn.maturity_from_transplant


def test_what_a_table_leaves_open_is_unknown() -> None:
    """A strawberry is planted, not sown; only what is thinned has a distance to thin to."""
    strawberry = CROPS["strawberry"]
    assert (strawberry.germination_min_c, strawberry.depth_cm, strawberry.emergence) == (
        None,
        None,
        (),
    )
    assert strawberry.thin_to_cm is None
    assert CROPS["carrot"].thin_to_cm == CROPS["carrot"].spacing_cm


def test_a_remark_on_one_crop_goes_before_the_usual_source() -> None:
    """Depth is from memory unless said otherwise."""
    assert "depth_cm: csu-720" in CROPS["pea"].sources
    assert "depth_cm: memory" in CROPS["kale"].sources


def test_a_growers_crop_is_its_base_with_what_the_grower_says() -> None:
    """Everything else stays that of the base."""
    own = crop_from({"name": "paste tomato", "spacing_cm": 50.0}, CROPS["tomato"])
    assert (own.name, own.spacing_cm, own.cover_at_c) == ("paste tomato", 50.0, 0.56)


def test_a_crop_without_a_base_is_unknown_in_what_it_need_not_say() -> None:
    """Counted from planting, fed as leaves, without a support."""
    said = {name: getattr(CROPS["kale"], name) for name in ("name", *CROP_NEEDS)}
    own = crop_from(said)
    assert (own.kill_at_c, own.emergence, own.depth_cm) == (None, (), None)
    assert (own.maturity_from_transplant, own.appetite) == (True, Appetite.LEAFY)
    assert own.support is Support.NONE
    with pytest.raises(TypeError, match="spacing_cm"):
        crop_from({name: value for name, value in said.items() if name != "spacing_cm"})
