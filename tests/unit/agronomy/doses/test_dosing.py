"""Doses follow the straw: towards a ratio, and never past a limit."""

from __future__ import annotations

import pytest
from msgspec.structs import replace

from strawbell.agronomy.bales import BALES, carbon_g, dry_matter_kg, nitrogen_g
from strawbell.agronomy.doses import (
    CEILING_CARBON_TO_NITROGEN,
    MOST_AT_ONCE_G_PER_KG,
    TARGET_CARBON_TO_NITROGEN,
    ceiling_g,
    dose_of,
    dosed,
    finishing_share,
    lack_g,
    planned_g,
)
from strawbell.agronomy.feeds import FEEDS
from strawbell.agronomy.schedules import SCHEDULES
from strawbell.model.feeds import Feed, FeedForm, Label, LabelRate, Material
from strawbell.model.garden import Bale, Batch, Schedule, ScheduleDay, Straw, Work
from support.gardens import batch

TWO, THREE = BALES["two-string"], BALES["three-string"]
LIGHT = replace(TWO, dry_mass_kg=12.0)
ALL = [(bale, name) for bale in (LIGHT, TWO, THREE) for name in SCHEDULES]
MEAL, SALT, FISH = FEEDS["Blood meal"], FEEDS["Urea"], FEEDS["Fish emulsion"]
SOLUBLE = Feed(
    "Soluble", Label(20, 20, 20), FeedForm.SOLUBLE, Material.BALANCED, rate=LabelRate(g_per_l=4.0)
)


def fed(bale: Bale = TWO, name: str = "alternate-days", feed: Feed = SALT) -> Batch:
    """Return a batch dosed by its straw."""
    return dosed(batch(bale=bale, schedule=SCHEDULES[name], feed=feed))


def mixed() -> Batch:
    """Return blood meal on day 1, fish on days 3 and 5, half doses on 7 to 9, a soluble on 10."""
    own = {3: FISH, 5: FISH, 10: SOLUBLE}
    days = tuple(
        replace(day, work=Work.DRENCH if day.day in (3, 5) else day.work, feed=own.get(day.day))
        for day in SCHEDULES["alternate-days"].days
    )
    schedule = replace(SCHEDULES["alternate-days"], days=days)
    return dosed(batch(schedule=schedule, feed=MEAL))


def ratio(bale: Bale, given_g: float) -> float:
    """Return carbon to nitrogen after so much was given."""
    return carbon_g(bale).value / (nitrogen_g(bale).value + given_g)


@pytest.mark.parametrize(("bale", "name"), ALL)
def test_a_salt_brings_every_bale_to_the_same_ratio(bale: Bale, name: str) -> None:
    given = planned_g(fed(bale, name))
    assert ratio(bale, given) == pytest.approx(TARGET_CARBON_TO_NITROGEN, abs=0.1)


@pytest.mark.parametrize(("bale", "name"), ALL)
@pytest.mark.parametrize("feed", sorted(FEEDS))
def test_no_default_dose_passes_the_limit(bale: Bale, name: str, feed: str) -> None:
    given = planned_g(fed(bale, name, FEEDS[feed]))
    assert given <= ceiling_g(bale) + 0.5
    assert ratio(bale, given) >= CEILING_CARBON_TO_NITROGEN - 0.1


def test_a_meal_that_frees_two_thirds_in_time_is_given_in_larger_doses() -> None:
    meal, salt = (fed(feed=each).nitrogen_per_full_dose_g for each in (MEAL, SALT))
    assert salt < meal <= salt / 0.63


def test_straw_with_more_nitrogen_of_its_own_is_fed_less() -> None:
    oat = fed(replace(TWO, straw=Straw.OAT), "soak-first")
    assert oat.nitrogen_per_full_dose_g < fed(TWO, "soak-first").nitrogen_per_full_dose_g


def test_the_last_feeding_grows_with_the_bale() -> None:
    assert finishing_share(TWO) == 1.0
    assert finishing_share(THREE) == pytest.approx(1.8)


@pytest.mark.parametrize("bale", [LIGHT, TWO, THREE])
def test_a_short_sequence_is_not_made_up_for_by_a_huge_dose(bale: Bale) -> None:
    """No published dose is above 1 US cup of ammonium sulfate on 20 kg."""
    days = (ScheduleDay(1, Work.FEED, 1.0), ScheduleDay(2, Work.WATER))
    own = dosed(batch(bale=bale, schedule=Schedule("one", "", days, 3, ()), feed=SALT))
    limit = MOST_AT_ONCE_G_PER_KG * dry_matter_kg(bale)
    assert own.nitrogen_per_full_dose_g == pytest.approx(limit, abs=0.1)
    assert lack_g(own, SALT) > limit


def test_a_weak_feed_is_given_in_what_can_be_worked_in() -> None:
    """1.5 kg of a manure with 3 % on a two-string bale (common practice)."""
    manure = Feed("Hen manure", Label(3, 2, 2), material=Material.POULTRY_MANURE)
    assert fed(feed=manure).nitrogen_per_full_dose_g == pytest.approx(45.0, abs=0.1)


class TestDrenches:
    def test_they_give_what_the_label_has_in_the_water(self) -> None:
        """15 mL/L in a US gallon of a liquid of 1.15 kg/L with 5 % is 3.3 g of nitrogen."""
        own = mixed()
        dose = dose_of(own, own.schedule.days[2])
        assert dose is not None
        assert dose.water_per_bale_l == pytest.approx(3.785, abs=0.001)
        assert dose.per_bale_ml == pytest.approx(56.78, abs=0.01)
        assert dose.nitrogen_per_bale_g == pytest.approx(56.78 * 1.15 * 0.05, abs=0.01)

    def test_a_soluble_last_feeding_is_one_too(self) -> None:
        """113 g of 20-20-20 in a can would burn; its label has 15 g."""
        own = mixed()
        dose = dose_of(own, own.schedule.days[9])
        assert dose is not None
        assert dose.per_bale_g == pytest.approx(3.785 * 4.0, abs=0.01)

    def test_they_count_towards_the_nitrogen(self) -> None:
        """What they give is not asked of the meal again."""
        own = mixed()
        parts = [dose for day in own.schedule.days if (dose := dose_of(own, day)) is not None]
        assert planned_g(own) == pytest.approx(sum(each.nitrogen_per_bale_g for each in parts))
        assert 120.0 < planned_g(own) < ceiling_g(TWO)

    def test_what_the_sequence_lacks_is_less_as_a_salt_than_as_a_meal(self) -> None:
        """A salt is free at once, of a meal two thirds in time."""
        assert 0.0 < lack_g(mixed(), SALT) < lack_g(mixed(), MEAL)
        assert planned_g(mixed()) + lack_g(mixed(), MEAL) <= ceiling_g(TWO) + 0.1

    @pytest.mark.parametrize("feed", [MEAL, SALT])
    def test_the_built_in_schedules_lack_nothing(self, feed: Feed) -> None:
        """They follow the straw by themselves."""
        assert all(lack_g(fed(name=name, feed=feed), feed) == 0.0 for name in SCHEDULES)
