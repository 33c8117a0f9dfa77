"""Feeds: labels read, materials guessed, concerns raised."""

from __future__ import annotations

import re

import pytest
from msgspec.structs import replace

from strawbell.agronomy.feeds import (
    FEEDS,
    FORMS,
    LEAST_NITROGEN_PERCENT,
    MIXED,
    PHOSPHORUS_IN_PHOSPHATE,
    POTASSIUM_IN_POTASH,
    FeedConcern,
    Forms,
    feed_warnings,
    guess_material,
    parse_label,
    sounds_slow,
)
from strawbell.model.feeds import Feed, FeedForm, Label, LabelRate, Material
from strawbell.model.garden import Work
from strawbell.words.catalogue import BRITISH

QUICK = Feed("Quick", Label(12, 0, 0), density_kg_per_l=0.8)
DILUTED = replace(QUICK, form=FeedForm.LIQUID, density_kg_per_l=1.0, rate=LabelRate(ml_per_l=10.0))


def concerns(feed: Feed, work: Work = Work.FEED) -> set[FeedConcern]:
    return set(feed_warnings(feed, work))


@pytest.mark.parametrize("forms", [*FORMS.values(), MIXED])
def test_the_forms_of_nitrogen_add_up_to_all_of_it(forms: Forms) -> None:
    """Urea, ammonium, nitrate and what is organic."""
    assert forms.urea + forms.ammonium + forms.nitrate + forms.organic == pytest.approx(1.0)


class TestLabels:
    @pytest.mark.parametrize(
        ("text", "expected"),
        [
            ("12-0-0", (12, 0, 0)),
            (" 46 - 0 - 0 ", (46, 0, 0)),
            ("6,5-3-4", (6.5, 3, 4)),
            ("15.5-0-0", (15.5, 0, 0)),
            ("10–10–10", (10, 10, 10)),
            ("10/10/10", (10, 10, 10)),
            ("10:10:10", (10, 10, 10)),
            ("21-0-0 + 24 S", (21, 0, 0)),
            ("12-12-17 (+2 MgO)", (12, 12, 17)),
            ("0-0-50", (0, 0, 50)),
            ("33-33-34", (33, 33, 34)),
        ],
    )
    def test_labels_are_read_as_they_are_printed(
        self, text: str, expected: tuple[float, float, float]
    ) -> None:
        """Dashes, commas and added nutrients of real bags."""
        assert parse_label(text) == Label(*expected)

    @pytest.mark.parametrize(
        "text", ["", "12", "12-0", "a-b-c", "12-0-0-5", "-12-0-0", "1e1-0-0", "120-0-0"]
    )
    def test_anything_but_three_figures_is_refused(self, text: str) -> None:
        """The message shows what was written and what a label looks like."""
        with pytest.raises(ValueError, match="three figures such as 12-0-0"):
            parse_label(text)

    def test_a_label_of_over_a_hundred_percent_is_refused(self) -> None:
        """33-33-34 fills the bag, 34-33-34 does not fit into it."""
        with pytest.raises(ValueError, match="101 %"):
            parse_label("34-33-34")

    def test_a_label_is_written_as_it_was_read(self) -> None:
        """Reading and writing are each other's inverse."""
        assert str(parse_label("15.5-0-0")) == "15.5-0-0"


class TestMaterials:
    @pytest.mark.parametrize(
        ("name", "label", "material"),
        [
            ("Urea", "46-0-0", Material.UREA),
            ("garden nitrogen", "46-0-0", Material.UREA),
            ("Sulphate", "21-0-0", Material.AMMONIUM_SULFATE),
            ("Ammonium sulphate", "21-0-0", Material.AMMONIUM_SULFATE),
            ("Calcium ammonium nitrate", "27-0-0", Material.AMMONIUM_NITRATE),
            ("Calcium nitrate", "15.5-0-0", Material.CALCIUM_NITRATE),
            ("Prilled N", "34-0-0", Material.AMMONIUM_NITRATE),
            ("Blood meal", "12-0-0", Material.BLOOD_MEAL),
            ("Bone meal", "3-15-0", Material.BONE_MEAL),
            ("Horn shavings", "14-0-0", Material.FEATHER_MEAL),
            ("Fish emulsion", "5-1-1", Material.FISH),
            ("Chicken pellets", "4-3-3", Material.POULTRY_MANURE),
            ("Spring lawn", "20-0-5", Material.LAWN_FEED),
            ("Tomato food", "4-5-8", Material.BALANCED),
            ("Potash", "0-0-50", Material.OTHER),
            ("Nitrogen", "31.9-0-0", Material.OTHER),
            ("Nitrogen", "35.1-0-0", Material.OTHER),
        ],
    )
    def test_the_name_tells_first_and_the_label_next(
        self, name: str, label: str, material: Material
    ) -> None:
        """A grower's own words decide before the figures."""
        assert guess_material(name, parse_label(label)) is material


class TestConcerns:
    def test_a_quick_nitrogen_feed_raises_none(self) -> None:
        """Warnings that always come are not read."""
        assert feed_warnings(QUICK, Work.FEED) == ()

    @pytest.mark.parametrize("name", ["Urea", "Ammonium sulfate", "Blood meal", "Calcium nitrate"])
    def test_the_dry_feeds_that_are_built_in_condition_a_bale_without_warning(
        self, name: str
    ) -> None:
        """What is offered can be used."""
        assert feed_warnings(FEEDS[name], Work.FEED) == ()

    def test_the_balanced_feed_that_is_built_in_is_balanced(self) -> None:
        """The default for the last feeding fits its purpose."""
        assert feed_warnings(FEEDS["Balanced"], Work.FINISH) == ()

    @pytest.mark.parametrize(
        ("percent", "expected"),
        [
            (0.0, {FeedConcern.NO_NITROGEN}),
            (LEAST_NITROGEN_PERCENT - 0.1, {FeedConcern.LITTLE_NITROGEN}),
            (LEAST_NITROGEN_PERCENT, set()),
            (LEAST_NITROGEN_PERCENT + 0.1, set()),
        ],
    )
    def test_too_little_nitrogen_is_warned_of_under_three_percent(
        self, percent: float, expected: set[FeedConcern]
    ) -> None:
        """Just under, at and over the limit."""
        assert concerns(replace(QUICK, label=Label(percent, 0, 0))) == expected

    def test_ammonium_nitrate_is_called_an_oxidiser_to_keep_from_straw(self) -> None:
        """The one feed that is a fire risk here."""
        assert concerns(replace(QUICK, material=Material.AMMONIUM_NITRATE)) == {
            FeedConcern.OXIDISER
        }
        assert re.search("never .* straw", BRITISH.say("concern.oxidiser", feed="It"))

    @pytest.mark.parametrize(
        "feed",
        [
            replace(QUICK, slow_release=True),
            replace(QUICK, name="Sulfur-coated urea"),
            replace(QUICK, name="Slow release 12-0-0"),
        ],
    )
    def test_slow_feeds_are_warned_of_by_mark_or_by_name(self, feed: Feed) -> None:
        """A grower seldom knows that a bag is coated, but reads its name out."""
        assert concerns(feed) == {FeedConcern.SLOW_RELEASE}

    def test_plain_names_do_not_sound_slow(self) -> None:
        """Only whole words of the trade count."""
        assert not any(sounds_slow(name) for name in FEEDS)

    def test_a_lawn_feed_may_hold_a_weed_killer(self) -> None:
        """Weed and feed kills what is planted."""
        assert concerns(replace(QUICK, material=Material.LAWN_FEED)) == {FeedConcern.WEED_KILLER}

    def test_a_last_feeding_without_potash_is_not_balanced(self) -> None:
        """The last feeding brings what straw lacks beside nitrogen."""
        assert concerns(QUICK, Work.FINISH) == {FeedConcern.NOT_BALANCED}

    def test_unknown_density_and_rate_are_said(self) -> None:
        """Unknown is told, not filled in."""
        feed = replace(QUICK, form=FeedForm.LIQUID, density_kg_per_l=None)
        assert concerns(feed) == {FeedConcern.NO_DENSITY, FeedConcern.NO_RATE}

    def test_spoons_of_a_label_need_no_density(self) -> None:
        """A drench is measured out as the label says."""
        assert concerns(replace(DILUTED, density_kg_per_l=None), Work.DRENCH) == set()

    def test_only_what_is_poured_is_a_drench(self) -> None:
        """Meal is scattered, whatever day it is."""
        assert concerns(QUICK, Work.DRENCH) == {FeedConcern.NOT_POURED}
        assert concerns(replace(QUICK, form=FeedForm.SOLUBLE), Work.DRENCH) == {FeedConcern.NO_RATE}

    @pytest.mark.parametrize(
        "name",
        [
            "Lawn food, 30 % slowly available nitrogen",
            "Turf 24-0-6 feeds up to 8 weeks",
            "Water insoluble nitrogen 12-0-0",
            "3-month lawn feed",
        ],
    )
    def test_label_words_of_slow_lawn_feeds_are_known(self, name: str) -> None:
        """Most lawn feeds are meant to last."""
        assert sounds_slow(name)


def test_oxides_are_turned_into_elements_by_atomic_masses() -> None:
    """Label phosphate and potash are oxides."""
    assert pytest.approx(0.4364, abs=5e-5) == PHOSPHORUS_IN_PHOSPHATE
    assert pytest.approx(0.8301, abs=1e-4) == POTASSIUM_IN_POTASH


def test_feeds_are_found_by_their_own_names() -> None:
    """The mapping's key is the feed's name, and none is an oxidiser."""
    assert all(feed.name == name for name, feed in FEEDS.items())
    assert Material.AMMONIUM_NITRATE not in {feed.material for feed in FEEDS.values()}


@pytest.mark.parametrize(
    ("percent", "material"),
    [
        (44.9, Material.OTHER),
        (45.0, Material.UREA),
        (46.6, Material.UREA),
        (46.7, Material.OTHER),
        (31.9, Material.OTHER),
        (32.0, Material.AMMONIUM_NITRATE),
        (35.0, Material.AMMONIUM_NITRATE),
        (35.1, Material.OTHER),
        (19.9, Material.OTHER),
        (20.0, Material.AMMONIUM_SULFATE),
        (21.5, Material.AMMONIUM_SULFATE),
        (21.6, Material.OTHER),
    ],
)
def test_a_label_of_nitrogen_alone_tells_the_salt(percent: float, material: Material) -> None:
    """Urea 46, ammonium nitrate 33 to 34.5, ammonium sulfate 21 percent (common practice)."""
    assert guess_material("Granules", Label(percent, 0, 0)) is material
