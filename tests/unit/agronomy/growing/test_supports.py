"""Claims about supports."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from msgspec.structs import replace

from strawbell.agronomy.crop_table import CROPS
from strawbell.agronomy.growing import support_plan
from strawbell.model.garden import Crop, Method, Support

PLANTED = date(2027, 5, 15)
TOMATO, PEA, KALE = (CROPS[name] for name in ("tomato", "pea", "kale"))


def support_by(crop: Crop, method: Method = Method.TRANSPLANT) -> date | None:
    plan = support_plan(crop, PLANTED, 35.0, method)
    return None if plan is None else plan.by


def test_stakes_and_cages_stand_on_planting_day() -> None:
    """No roots are torn later."""
    assert support_by(TOMATO) == PLANTED
    assert support_by(replace(TOMATO, support=Support.CAGE)) == PLANTED


def test_a_trellis_stands_a_week_before_the_vine_is_a_foot_high() -> None:
    """Pea: 72 in in 60 days from seed, 12 in on day 10, so day 3."""
    assert support_by(PEA, Method.SEED) == PLANTED + timedelta(days=3)


def test_a_quick_climber_has_its_trellis_on_planting_day_not_before() -> None:
    """Pea set out as a plant: 12 in on day 7."""
    assert support_by(PEA, Method.TRANSPLANT) == PLANTED
    assert support_by(replace(PEA, mature_height_cm=600.0)) == PLANTED


def test_a_crop_lower_than_a_foot_needs_its_trellis_by_its_harvest() -> None:
    """Its whole height is under 12 in, and the share stops at one."""
    low = replace(PEA, mature_height_cm=10.0)
    assert support_by(low, Method.SEED) == PLANTED + timedelta(days=53)


def test_what_stands_by_itself_gets_nothing() -> None:
    """Kale."""
    assert support_by(KALE) is None


def test_uprights_reach_from_a_foot_in_the_ground_to_the_top_of_the_crop() -> None:
    """Pepper 36 in on a 35 cm bale: 30.48 + 35 + 91.44; tomato stops at 6 ft over the bale."""
    pepper = support_plan(CROPS["pepper"], PLANTED, 35.0, Method.TRANSPLANT)
    tomato = support_plan(TOMATO, PLANTED, 35.0, Method.TRANSPLANT)
    assert pepper is not None
    assert tomato is not None
    assert pepper.upright_cm == pytest.approx(156.92)
    assert tomato.upright_cm == pytest.approx(30.48 + 35.0 + 182.88)
