"""Claims about heat and unfit nights."""

from __future__ import annotations

import math

import pytest

from strawbell.agronomy.cold_and_heat import HeatEffect, HeatSign, heat_findings
from strawbell.agronomy.crop_table import CROPS
from strawbell.model.garden import Crop

TOMATO, LETTUCE, CHARD, PEA = (CROPS[name] for name in ("tomato", "lettuce", "chard", "pea"))


def signs(crop: Crop, high_c: float | None, low_c: float | None) -> list[HeatSign]:
    return [each.sign for each in heat_findings(crop, high_c, low_c) or ()]


@pytest.mark.parametrize(("high_c", "hot"), [(32.21, False), (32.22, True), (32.3, True)])
def test_tomatoes_drop_blossom_from_ninety_f_on(high_c: float, hot: bool) -> None:
    """Just under, at, just over 90 F."""
    found = heat_findings(TOMATO, high_c, 18.0)
    assert found is not None
    assert [each.effect for each in found] == ([HeatEffect.BLOSSOM_DROP] if hot else [])


def test_lettuce_bolts_at_eighty_f() -> None:
    """26.67 degC."""
    found = heat_findings(LETTUCE, 26.67, None)
    assert found is not None
    assert [(each.sign, each.effect, each.limit_c) for each in found] == [
        (HeatSign.HOT_DAY, HeatEffect.BOLTING, 26.67)
    ]
    assert signs(LETTUCE, 26.66, None) == []


@pytest.mark.parametrize(
    ("low_c", "expected"),
    [
        (9.9, [HeatSign.COOL_NIGHT, HeatSign.CHILLY_NIGHT]),
        (10.0, [HeatSign.COOL_NIGHT]),
        (12.77, [HeatSign.COOL_NIGHT]),
        (12.78, []),
        (23.89, []),
        (23.9, [HeatSign.WARM_NIGHT]),
    ],
)
def test_nights_outside_fifty_five_to_seventy_five_f_cost_tomatoes_blossom(
    low_c: float, expected: list[HeatSign]
) -> None:
    """And under 50 F very tender crops stop growing."""
    assert signs(TOMATO, 25.0, low_c) == expected


def test_cool_nights_are_nothing_to_peas_and_leaves() -> None:
    """Only warm fruiting crops count."""
    assert signs(PEA, 15.0, 5.0) == []
    assert signs(LETTUCE, 15.0, 5.0) == []


def test_a_crop_without_a_limit_is_not_judged_hot() -> None:
    """No figure is known for chard."""
    assert signs(CHARD, 45.0, 20.0) == []


def test_two_unknown_temperatures_are_no_judgement() -> None:
    """One known is judged for itself."""
    assert heat_findings(TOMATO, None, None) is None
    assert heat_findings(TOMATO, None, 18.0) == ()


def test_wrong_temperatures_are_refused_by_name() -> None:
    """Each argument is named."""
    with pytest.raises(ValueError, match="high_c"):
        heat_findings(TOMATO, math.nan, 10.0)
    with pytest.raises(ValueError, match="low_c must not lie over high_c"):
        heat_findings(TOMATO, 10.0, 10.1)


def test_cool_nights_cost_neither_leaves_nor_hardy_fruit_their_blossom() -> None:
    """Basil is tender and grown for leaves, strawberry bears fruit and is hardy."""
    assert signs(CROPS["basil"], 20.0, 11.0) == []
    assert signs(CROPS["strawberry"], 15.0, 5.0) == []


def test_a_day_as_cool_as_its_night_is_allowed() -> None:
    """Fog all day."""
    assert signs(TOMATO, 15.0, 15.0) == []
