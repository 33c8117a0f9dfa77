"""Making up for what a storm took, within the ceilings."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest

from strawbell.agronomy.bale.make_up import LEAST_MAKE_UP_G, ceiling_g, make_up_dose, without_storm
from strawbell.agronomy.bale.nitrogen import Feeding, NitrogenLedger, ledger
from strawbell.agronomy.bale.size_and_mass import BALES

BALE = BALES["two-string"]
START = date(2027, 4, 5)
NEXT = START + timedelta(days=1)


def books(
    storm_mm: float | None, given_g: float = 60.0, ahead_g: float = 0.0
) -> tuple[NitrogenLedger, NitrogenLedger]:
    """Return the ledger without and with a storm on the day of a feeding."""
    plan = [
        Feeding(START, "Feed", given_g, given=True),
        Feeding(NEXT, "Feed", ahead_g, given=False),
    ]
    rain: dict[date, float | None] = {START: storm_mm}
    before = ledger(BALE, plan, without_storm(rain, [START]), NEXT)
    return before, ledger(BALE, plan, rain, NEXT)


def test_a_drizzle_is_not_made_up_for() -> None:
    """5 mm take too little by the middle of the range."""
    assert make_up_dose(BALE, *books(5.0), 60.0) is None


def test_a_cloudburst_is_made_up_for_by_the_middle_of_what_was_lost() -> None:
    """Between the two models, told with both ends, and never more than a full dose."""
    dose = make_up_dose(BALE, *books(80.0), 60.0)
    assert dose is not None
    assert dose.nitrogen_per_bale_g == pytest.approx((dose.lost_low_g + dose.lost_high_g) / 2)
    assert 0 <= dose.lost_low_g < dose.lost_high_g < 60
    capped = make_up_dose(BALE, *books(500.0, given_g=200.0), 41.0)
    assert capped is not None
    assert (capped.nitrogen_per_bale_g, capped.capped) == (41.0, True)


@pytest.mark.parametrize(("ahead_g", "suggested"), [(200.0, True), (285.1, False), (400.0, False)])
def test_everything_ever_given_stays_under_the_ceiling(ahead_g: float, suggested: bool) -> None:
    """350 g for a bale of 20 kg, lost or not: 60 given, the rest ahead."""
    assert ceiling_g(BALE) == pytest.approx(350.0)
    dose = make_up_dose(BALE, *books(500.0, ahead_g=ahead_g), 60.0)
    assert (dose is not None) is suggested
    if dose is not None:
        assert 60.0 + ahead_g + dose.nitrogen_per_bale_g <= 350.0 + 1e-9


def test_too_little_to_weigh_is_not_suggested() -> None:
    """Under 5 g, and after no feeding at all."""
    assert make_up_dose(BALE, *books(200.0, given_g=LEAST_MAKE_UP_G), 60.0) is None
    assert make_up_dose(BALE, *books(200.0, given_g=0.0), 60.0) is None


def test_only_the_days_of_the_storm_are_taken_out_of_the_rain() -> None:
    """The others stay, unknown stays unknown."""
    rain = {START: 30.0, NEXT: None}
    assert without_storm(rain, [START]) == {START: 0.0, NEXT: None}
    assert rain[START] == 30.0


@pytest.mark.parametrize("bad", [-1.0, float("nan")])
def test_a_full_dose_that_cannot_be_is_refused_by_name(bad: float) -> None:
    """A slip of the pen is no suggestion."""
    with pytest.raises(ValueError, match="full_dose_g"):
        make_up_dose(BALE, *books(50.0), bad)


@pytest.mark.parametrize(
    ("ahead_g", "expected_g"), [(259.0, 29.0), (270.0, 20.0), (285.0, 5.0), (285.1, None)]
)
def test_the_ceiling_of_everything_given_cuts_the_make_up(
    ahead_g: float, expected_g: float | None
) -> None:
    """350 g less 60 given less what is ahead; nothing is left in the bale to lower the ratio."""
    before, after = books(500.0, ahead_g=ahead_g)
    dose = make_up_dose(BALE, before, replace(after, lost_low_g=60.0), 60.0)
    if expected_g is None:
        assert dose is None
    else:
        assert dose is not None
        assert dose.nitrogen_per_bale_g == pytest.approx(expected_g, abs=1.0)
        assert dose.nitrogen_per_bale_g <= 350.0 - 60.0 - ahead_g + 1e-9


def test_the_ratio_of_the_bale_never_falls_under_twenty() -> None:
    """8448 g C over 20 is 422 g N: 88 of the straw, 60 that may all be left, the rest ahead."""
    dose = make_up_dose(BALE, *books(500.0, ahead_g=262.4), 60.0)
    assert dose is not None
    assert dose.nitrogen_per_bale_g == pytest.approx(12.0)
    assert dose.capped
