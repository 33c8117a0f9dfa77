"""Doses follow the straw: towards a ratio, and never past a limit."""

from __future__ import annotations

import pytest
from msgspec.structs import replace

from strawbell.agronomy.bale.size_and_mass import BALES
from strawbell.agronomy.bale.straw import carbon_g, nitrogen_g
from strawbell.agronomy.feeding.dosing import (
    CEILING_CARBON_TO_NITROGEN,
    TARGET_CARBON_TO_NITROGEN,
    ceiling_g,
    finishing_share,
    full_dose_g,
    planned_g,
)
from strawbell.agronomy.feeding.feeds import FEEDS
from strawbell.agronomy.feeding.schedules import SCHEDULES
from strawbell.model.garden import Bale, Straw

TWO, THREE = BALES["two-string"], BALES["three-string"]
LIGHT = replace(TWO, dry_mass_kg=12.0)
ALL = [(bale, name) for bale in (LIGHT, TWO, THREE) for name in SCHEDULES]


def ratio(bale: Bale, given_g: float) -> float:
    """Return carbon to nitrogen after so much was given."""
    return carbon_g(bale).value / (nitrogen_g(bale).value + given_g)


@pytest.mark.parametrize(("bale", "name"), ALL)
def test_a_salt_brings_every_bale_to_the_same_ratio(bale: Bale, name: str) -> None:
    schedule = SCHEDULES[name]
    given = planned_g(bale, schedule, full_dose_g(bale, schedule, FEEDS["Urea"]))
    assert ratio(bale, given) == pytest.approx(TARGET_CARBON_TO_NITROGEN, abs=0.1)


@pytest.mark.parametrize(("bale", "name"), ALL)
@pytest.mark.parametrize("feed", sorted(FEEDS))
def test_no_default_dose_passes_the_limit(bale: Bale, name: str, feed: str) -> None:
    schedule = SCHEDULES[name]
    given = planned_g(bale, schedule, full_dose_g(bale, schedule, FEEDS[feed]))
    assert given <= ceiling_g(bale) + 0.5
    assert ratio(bale, given) >= CEILING_CARBON_TO_NITROGEN - 0.1


def test_a_meal_that_frees_two_thirds_in_time_is_given_in_larger_doses() -> None:
    schedule = SCHEDULES["alternate-days"]
    meal, salt = (full_dose_g(TWO, schedule, FEEDS[name]) for name in ("Blood meal", "Urea"))
    assert salt < meal <= salt / 0.63


def test_straw_with_more_nitrogen_of_its_own_is_fed_less() -> None:
    schedule = SCHEDULES["soak-first"]
    oat = replace(TWO, straw=Straw.OAT)
    assert full_dose_g(oat, schedule, FEEDS["Urea"]) < full_dose_g(TWO, schedule, FEEDS["Urea"])


def test_the_last_feeding_grows_with_the_bale() -> None:
    assert finishing_share(TWO) == 1.0
    assert finishing_share(THREE) == pytest.approx(1.8)
