"""Whole packages that hold an amount at least cost."""

from __future__ import annotations

from itertools import product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from strawbell.agronomy.supplies import least_cost

SIZES = st.lists(
    st.tuples(st.sampled_from([250, 500, 1500, 2000, 2500]), st.integers(1, 60)),
    min_size=1,
    max_size=3,
    unique_by=lambda size: size[0],
)


@given(amount=st.integers(1, 6000), sizes=SIZES)
def test_no_other_choice_costs_less(amount: int, sizes: list[tuple[int, int]]) -> None:
    masses, prices = [float(size) for size, _ in sizes], [float(price) for _, price in sizes]
    counts = least_cost(float(amount), masses, prices)

    def held(choice: tuple[int, ...]) -> float:
        return sum(count * mass for count, mass in zip(choice, masses, strict=True))

    def cost(choice: tuple[int, ...]) -> float:
        return sum(count * price for count, price in zip(choice, prices, strict=True))

    assert held(counts) >= amount
    others = product(*(range(amount // size + 2) for size, _ in sizes))
    assert cost(counts) <= min(cost(each) for each in others if held(each) >= amount)


@pytest.mark.parametrize(("amount_g", "count"), [(1499.0, 1), (1500.0, 1), (1500.1, 2)])
def test_a_full_package_is_one_package(amount_g: float, count: int) -> None:
    assert least_cost(amount_g, [1500.0], [12.5]) == (count,)


@pytest.mark.parametrize("amount_g", [0.0, -5.0])
def test_nothing_takes_none(amount_g: float) -> None:
    assert least_cost(amount_g, [1500.0, 500.0], [None, None]) == (0, 0)


def test_a_large_purchase_is_filled_with_the_best_value() -> None:
    """A tonne in bags of 25 kg and 1 kg and a gram: too many steps to weigh up one by one."""
    assert least_cost(1_000_000.0, [25_000.0, 1001.0], [50.0, 10.0]) == (40, 0)


@pytest.mark.parametrize("size_g", [0.0, 0.5, -1.0])
def test_a_package_of_nothing_is_refused(size_g: float) -> None:
    with pytest.raises(ValueError, match="package"):
        least_cost(10.0, [size_g], [1.0])
