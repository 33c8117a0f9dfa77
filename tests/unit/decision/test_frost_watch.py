"""Whether a night hurts a crop, and which crop of several it hurts most."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest

from strawbell.agronomy.crops.leaf_frost import Danger, NightAir
from strawbell.decision.daily_weather import Night
from strawbell.decision.frost_watch import most_endangered, nights_from, reason_of, risk_of
from strawbell.model.brief import ReasonCode
from strawbell.season.local_time import zone_of
from support.gardens import RADISH, TOMATO, ZONE, at

ON = date(2027, 5, 3)
COLDEST_AT = at(ON + timedelta(days=1), 5, 0)


def night(
    low_c: float | None, cloud_percent: float | None = 100.0, wind_m_s: float | None = 5.0
) -> Night:
    """Return a night, cloudy and windy unless said otherwise: plants 0 to 0.56 degC colder."""
    air = NightAir(low_c, cloud_percent, wind_m_s)
    return Night(ON, air, COLDEST_AT, at(ON, 18, 0), at(ON + timedelta(days=1), 9, 0))


@pytest.mark.parametrize(
    ("low_c", "danger"),
    [
        (1.17, None),
        (1.16, Danger.COVER),
        (0.57, Danger.COVER),
        (0.56, Danger.KILLING),
        (-8.0, Danger.KILLING),
    ],
)
def test_a_cloudy_night_is_judged_by_the_coldest_it_may_get(
    low_c: float, danger: Danger | None
) -> None:
    """Tomatoes: cover at 0.6, killed at 0; half a degree is added for the height of the plants."""
    risk = risk_of(night(low_c), TOMATO)
    assert (risk.danger if risk else None) is danger


@pytest.mark.parametrize(("low_c", "hurts"), [(2.82, True), (2.83, False)])
@pytest.mark.parametrize(("cloud", "wind"), [(0.0, 0.0), (None, None)])
def test_clear_calm_and_unknown_nights_are_colder_at_the_plants(
    low_c: float, hurts: bool, cloud: float | None, wind: float | None
) -> None:
    """Up to 2.22 degC."""
    assert (risk_of(night(low_c, cloud, wind), TOMATO) is not None) is hurts


def test_an_unknown_night_has_no_known_risk() -> None:
    """Whoever asks has to say so."""
    assert risk_of(night(None), TOMATO) is None


@pytest.mark.parametrize(("low_c", "stands"), [(2.16, True), (2.17, False)])
def test_a_margin_keeps_a_told_warning_for_milder_nights(low_c: float, stands: bool) -> None:
    """One degree more."""
    risk = risk_of(night(low_c), TOMATO, 1.0)
    assert (risk is not None) is stands
    assert risk is None or risk.danger is Danger.SAFE


def test_the_reason_gives_the_coldest_and_the_limit() -> None:
    """To a tenth of a degree, at the garden's hour."""
    risk = risk_of(night(-0.44), TOMATO)
    assert risk is not None
    why = reason_of(risk, COLDEST_AT, zone_of(ZONE))
    assert (why.code, why.value, why.threshold, why.unit) == (
        ReasonCode.FROST,
        -1.0,
        0.6,
        "degC",
    )
    assert why.at is not None
    assert why.at.isoformat() == "2027-05-04T05:00:00+02:00"
    assert reason_of(risk, None, zone_of(ZONE)).at is None


class TestMostEndangered:
    """Several crops in one night."""

    def test_a_mild_night_endangers_none(self) -> None:
        """No names."""
        assert most_endangered(night(8.0), (TOMATO, RADISH)) == (None, ())

    def test_nothing_planted_is_in_no_danger(self) -> None:
        """Nothing to cover."""
        assert most_endangered(night(-8.0), ()) == (None, ())

    def test_only_the_endangered_are_named(self) -> None:
        """Radishes are covered at -2.2 only."""
        risk, names = most_endangered(night(-1.0), (RADISH, TOMATO))
        assert names == ("tomato",)
        assert risk is not None
        assert risk.cover_at_c == 0.6

    @pytest.mark.parametrize("turned", [False, True])
    def test_the_one_furthest_under_its_limit_is_the_gravest(self, turned: bool) -> None:
        """Both are hurt at -5; whatever the order, the tomato's figure is told."""
        crops = (TOMATO, RADISH) if turned else (RADISH, TOMATO)
        risk, names = most_endangered(night(-5.0), crops)
        assert set(names) == {"tomato", "radish"}
        assert risk is not None
        assert risk.cover_at_c == 0.6

    def test_a_crop_that_comes_twice_is_named_once(self) -> None:
        """Sown and set out."""
        _, names = most_endangered(night(-1.0), (TOMATO, replace(TOMATO, cover_at_c=1.0)))
        assert names == ("tomato",)

    @pytest.mark.parametrize(("margin_c", "named"), [(0.0, ()), (1.0, ("tomato",))])
    def test_the_margin_holds_for_all(self, margin_c: float, named: tuple[str, ...]) -> None:
        """2 degC may be 1.44 at the plants."""
        assert most_endangered(night(2.0), (TOMATO, RADISH), margin_c)[1] == named


def test_nights_are_counted_with_both_ends() -> None:
    """From today's through the last one's; none when the end lies before."""
    assert nights_from(ON, ON + timedelta(days=2)) == (
        ON,
        ON + timedelta(days=1),
        ON + timedelta(days=2),
    )
    assert nights_from(ON, ON) == (ON,)
    assert nights_from(ON, ON - timedelta(days=1)) == ()
