"""Doses: from nitrogen and label to grams, volume and water."""

from __future__ import annotations

import pytest
from msgspec.structs import replace

from strawbell.agronomy.doses import (
    LARGEST_FEEDING_G,
    MOST_NITROGEN_AT_ONCE_G,
    drench_dose,
    finishing_dose,
    nitrogen_dose,
)
from strawbell.agronomy.feeds import FEEDS
from strawbell.model.feeds import Feed, FeedForm, Label, LabelRate

BLOOD = FEEDS["Blood meal"]
UREA = FEEDS["Urea"]
LIQUID = Feed(
    "Liquid",
    Label(5, 1, 1),
    form=FeedForm.LIQUID,
    density_kg_per_l=1.25,
    rate=LabelRate(ml_per_l=20.0),
)


class TestNitrogenDose:
    def test_sixty_grams_of_nitrogen_are_half_a_kilogram_of_a_twelve_percent_feed(self) -> None:
        """Mass is nitrogen over its share; volume is mass over density."""
        dose = nitrogen_dose(BLOOD, 60.0, 6)
        assert dose.per_bale_g == pytest.approx(500.0)
        assert dose.total_g == pytest.approx(3000.0)
        assert dose.per_bale_ml == pytest.approx(500.0 / 0.6)
        assert dose.total_ml == pytest.approx(3000.0 / 0.6)
        assert dose.nitrogen_per_bale_g == pytest.approx(60.0)
        assert (dose.phosphorus_per_bale_g, dose.potassium_per_bale_g) == (0.0, 0.0)

    def test_without_a_density_there_is_no_volume(self) -> None:
        """Grams only, never a guessed cup."""
        dose = nitrogen_dose(replace(BLOOD, density_kg_per_l=None), 60.0, 6)
        assert (dose.per_bale_ml, dose.total_ml) == (None, None)
        assert dose.total_g == pytest.approx(3000.0)

    def test_a_dry_feed_is_washed_in_with_what_is_asked_for(self) -> None:
        """The bale says how much; a dose by itself takes none."""
        assert nitrogen_dose(UREA, 41.0, 1).water_per_bale_l == 0.0
        assert nitrogen_dose(UREA, 41.0, 1, 3.6).water_per_bale_l == 3.6

    def test_a_liquid_is_never_stronger_than_its_label(self) -> None:
        """41 g of N are 656 mL, which take 32.8 L at 20 mL per L, whatever is asked for."""
        for asked in (0.0, 4.0):
            dose = nitrogen_dose(LIQUID, 41.0, 2, asked)
            assert dose.per_bale_ml == pytest.approx(656.0)
            assert dose.water_per_bale_l == pytest.approx(32.8)
            assert dose.rate == LabelRate(ml_per_l=20.0)
        assert nitrogen_dose(LIQUID, 41.0, 2, 50.0).water_per_bale_l == 50.0

    def test_a_liquid_of_unknown_density_gets_the_water_of_the_lightest(self) -> None:
        """820 g may be up to 820 mL: 41 L."""
        dose = nitrogen_dose(replace(LIQUID, density_kg_per_l=None), 41.0, 1)
        assert dose.per_bale_ml is None
        assert dose.water_per_bale_l == pytest.approx(41.0)

    def test_a_dry_feed_has_no_dilution(self) -> None:
        """A dilution written for a dry feed is not passed on."""
        assert nitrogen_dose(replace(BLOOD, rate=LabelRate(ml_per_l=5.0)), 60.0, 1).rate is None

    @pytest.mark.parametrize(
        "bad", [0.0, -1.0, float("nan"), float("inf"), MOST_NITROGEN_AT_ONCE_G * 1.001]
    )
    def test_nitrogen_out_of_range_is_refused_by_name(self, bad: float) -> None:
        """Neither nothing nor a slip of the pen."""
        with pytest.raises(ValueError, match="nitrogen_per_bale_g"):
            nitrogen_dose(BLOOD, bad, 6)

    @pytest.mark.parametrize("bad", [0, -1, 10_001])
    def test_bales_out_of_range_are_refused_by_name(self, bad: int) -> None:
        """At least one bale."""
        with pytest.raises(ValueError, match="bales"):
            nitrogen_dose(BLOOD, 60.0, bad)

    @pytest.mark.parametrize("bad", [-0.1, 1000.1, float("nan")])
    def test_water_out_of_range_is_refused_by_name(self, bad: float) -> None:
        """No negative water."""
        with pytest.raises(ValueError, match="water_per_bale_l"):
            nitrogen_dose(BLOOD, 60.0, 1, bad)

    def test_a_feed_without_nitrogen_is_refused_with_its_name(self) -> None:
        """It cannot condition a bale."""
        with pytest.raises(ValueError, match=r"'Potash'.*no nitrogen"):
            nitrogen_dose(Feed("Potash", Label(0, 0, 50)), 60.0, 1)


class TestFinishingDose:
    def test_a_ten_ten_ten_gives_a_cup(self) -> None:
        """227 g, with phosphate and potash told as elements."""
        dose = finishing_dose(FEEDS["Balanced"], 6)
        assert dose.per_bale_g == pytest.approx(227.0)
        assert dose.phosphorus_per_bale_g == pytest.approx(22.7 * 0.4364, abs=0.002)
        assert dose.potassium_per_bale_g == pytest.approx(22.7 * 0.8301, abs=0.002)

    @pytest.mark.parametrize(
        ("label", "grams"),
        [
            (Label(5, 5, 5), 454.0),
            (Label(0, 10, 20), 227.0),
            (Label(0, 0, 50), 45.4),
            (Label(1.6, 1, 1), 1418.75),
            (Label(1.5, 1, 1), LARGEST_FEEDING_G),
            (Label(1, 1, 1), LARGEST_FEEDING_G),
        ],
    )
    def test_a_weak_label_gets_more_up_to_a_limit(self, label: Label, grams: float) -> None:
        """Matched by nitrogen, else phosphate, else potash."""
        assert finishing_dose(Feed("Any", label), 1).per_bale_g == pytest.approx(grams)

    def test_a_label_without_any_nutrient_is_refused(self) -> None:
        """There is nothing to match."""
        with pytest.raises(ValueError, match="no nutrient"):
            finishing_dose(Feed("Lime", Label(0, 0, 0)), 1)


@pytest.mark.parametrize(("strength", "ml"), [(1.0, 80.0), (0.5, 40.0)])
def test_a_drench_is_poured_as_strong_as_its_label_has_it_or_weaker(
    strength: float, ml: float
) -> None:
    """20 mL/L in 4 L."""
    dose = drench_dose(LIQUID, 6, 4.0, strength)
    assert (dose.per_bale_ml, dose.total_ml) == (pytest.approx(ml), pytest.approx(6 * ml))
    assert dose.per_bale_g == pytest.approx(ml * 1.25)
    assert dose.nitrogen_per_bale_g == pytest.approx(ml * 1.25 * 0.05)
