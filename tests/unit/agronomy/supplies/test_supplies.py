"""Supplies: amounts, packages, costs and dates."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from msgspec.structs import replace

from strawbell.agronomy.doses import drench_dose, nitrogen_dose
from strawbell.agronomy.feeds import FEEDS
from strawbell.agronomy.supplies import (
    FeedItem,
    MixItem,
    Supply,
    WaterItem,
    needs,
    worth,
)
from strawbell.model.feeds import Feed, Package

DAY_ONE = date(2027, 4, 5)
BLOOD = replace(FEEDS["Blood meal"], package_kg=1.5, price=12.5)
FISH = replace(FEEDS["Fish emulsion"], package_l=1.0, price=9.0)


def day(number: int) -> date:
    return DAY_ONE + timedelta(days=number - 1)


def feeding(number: int, feed: Feed = BLOOD, nitrogen_g: float = 60.0, bales: int = 6) -> FeedItem:
    return FeedItem(day(number), feed, nitrogen_dose(feed, nitrogen_g, bales))


def test_packages_are_rounded_up_over_the_whole_plan() -> None:
    """3 and 3 and 1.5 kg are five bags of 1.5 kg, no matter in what order."""
    (need,) = needs([feeding(3), feeding(7, nitrogen_g=30.0), feeding(1)])
    assert (need.kind, need.name) == (Supply.FEED, "Blood meal")
    assert need.kg == pytest.approx(7.5)
    assert need.litres == pytest.approx(12.5)
    assert (need.packages, need.cost) == (5, 62.5)
    assert (need.needed_by, need.last_on) == (day(1), day(7))


@pytest.mark.parametrize(
    ("nitrogen_g", "packages"), [(179.9, 1), (180.0, 1), (180.1, 2), (360.0, 2), (360.1, 3)]
)
def test_a_full_bag_is_one_bag(nitrogen_g: float, packages: int) -> None:
    """Just under, at and over whole bags of 1.5 kg."""
    (need,) = needs([feeding(1, nitrogen_g=nitrogen_g, bales=1)])
    assert need.packages == packages


def test_thirds_that_add_up_to_a_bag_are_one_bag() -> None:
    """0.1 + 0.2 is not 0.3 in a computer; it is in a shop."""
    parts = [feeding(number, nitrogen_g=18.0, bales=1) for number in range(1, 11)]
    (need,) = needs(parts)
    assert need.packages == 1


def test_a_liquid_is_bought_by_volume() -> None:
    """6 bales of 41 g N: 4920 g, 4.28 L, five bottles."""
    (need,) = needs([feeding(1, FISH, 41.0)])
    assert need.litres == pytest.approx(4.278, abs=0.001)
    assert (need.package_l, need.package_kg) == (1.0, None)
    assert (need.packages, need.cost) == (5, 45.0)


def test_a_dry_feed_with_both_packages_is_bought_by_mass() -> None:
    """What is weighed is surer than what is poured."""
    (need,) = needs([feeding(1, replace(BLOOD, package_l=2.0))])
    assert (need.package_kg, need.package_l, need.packages) == (1.5, None, 2)


def test_a_dry_feed_sold_by_volume_is_bought_by_volume() -> None:
    """3 kg at 0.6 kg/L are 5 L."""
    (need,) = needs([feeding(1, replace(BLOOD, package_kg=None, package_l=2.0))])
    assert (need.package_l, need.packages) == (2.0, 3)


def test_a_volume_package_without_density_leaves_the_count_unknown() -> None:
    """Unknown, not a guess; the mass is still told."""
    feed = replace(BLOOD, package_kg=None, package_l=2.0, density_kg_per_l=None)
    (need,) = needs([feeding(1, feed)])
    assert need.kg == pytest.approx(3.0)
    assert (need.litres, need.packages, need.cost) == (None, None, None)


def test_without_package_or_price_those_are_unknown() -> None:
    """None, never 0."""
    (no_package,) = needs([feeding(1, replace(BLOOD, package_kg=None))])
    assert (no_package.packages, no_package.cost) == (None, None)
    (no_price,) = needs([feeding(1, replace(BLOOD, price=None))])
    assert (no_price.packages, no_price.cost) == (2, None)


def test_mix_and_water_are_summed_and_dated() -> None:
    """108 L of mix in bags of 40 L; water is not bought."""
    mix, water = needs(
        [
            WaterItem(day(2), 24.0),
            MixItem(day(11), 54.0, 40.0, 8.0),
            WaterItem(day(1), 336.0),
            MixItem(day(12), 54.0, 40.0, 8.0),
        ]
    )[::-1]
    assert (mix.litres, mix.packages, mix.cost) == (108.0, 3, 24.0)
    assert (mix.needed_by, mix.last_on) == (day(11), day(12))
    assert (water.litres, water.packages, water.needed_by) == (360.0, None, day(1))


def test_what_is_needed_first_comes_first() -> None:
    """By date, then feeds before mix before water."""
    listed = needs(
        [WaterItem(day(1), 1.0), MixItem(day(1), 1.0), feeding(1), feeding(2, FEEDS["Balanced"])]
    )
    assert [need.kind for need in listed] == [
        Supply.FEED, Supply.MIX, Supply.WATER, Supply.FEED,
    ]  # fmt: skip


def test_nothing_left_needs_nothing() -> None:
    """No line for an amount of zero."""
    assert needs([]) == ()
    assert needs([WaterItem(day(1), 0.0), MixItem(day(1), 0.0)]) == ()


def test_a_day_without_an_amount_does_not_set_the_date() -> None:
    """Nothing is needed for a layer of 0 cm."""
    (mix,) = needs([MixItem(day(1), 0.0), MixItem(day(5), 10.0)])
    assert mix.needed_by == day(5)


def test_two_feeds_of_one_name_are_refused() -> None:
    """A sum of two different things means nothing."""
    with pytest.raises(ValueError, match="'Blood meal'"):
        needs([feeding(1), feeding(2, replace(BLOOD, package_kg=5.0))])
    with pytest.raises(ValueError, match="'potting mix'"):
        needs([MixItem(day(1), 1.0, 40.0), MixItem(day(2), 1.0, 50.0)])


@pytest.mark.parametrize("bad", [-1.0, float("nan"), float("inf")])
def test_amounts_that_cannot_be_are_refused_by_name(bad: float) -> None:
    """Water, mix, feed and price."""
    with pytest.raises(ValueError, match="litres"):
        needs([WaterItem(day(1), bad)])
    with pytest.raises(ValueError, match="litres"):
        needs([MixItem(day(1), bad)])
    item = feeding(1)
    with pytest.raises(ValueError, match="total_g"):
        needs([replace(item, dose=replace(item.dose, total_g=bad))])
    with pytest.raises(ValueError, match="price"):
        needs([feeding(1, replace(BLOOD, price=bad))])


@pytest.mark.parametrize("bad", [0.0, -1.0, float("nan")])
def test_a_package_of_nothing_is_refused_by_name(bad: float) -> None:
    """It would take endlessly many."""
    with pytest.raises(ValueError, match="package"):
        needs([feeding(1, replace(BLOOD, package_kg=bad))])


def test_three_tenths_of_mix_are_three_bags_of_a_tenth() -> None:
    """0.1 three times is a hair over 0.3 in a computer; a fourth bag would stay closed."""
    (need,) = needs([MixItem(day(number), 0.1, package_l=0.1) for number in (1, 2, 3)])
    assert need.packages == 3


@pytest.mark.parametrize(
    ("used_g", "packages"), [(0.0, 3), (1500.0, 3), (1501.0, 2), (2999.0, 2), (3000.0, 3)]
)
def test_what_is_open_is_used_up_before_more_is_bought(used_g: float, packages: int) -> None:
    """Three kilograms and a gram are needed; packages of 1.5 kg were bought whole."""
    feed = replace(BLOOD, package_kg=1.5)
    item = feeding(1, feed)
    dose = replace(item.dose, total_g=3001.0)
    (need,) = needs([replace(item, dose=dose)], {feed.name: used_g})
    assert need.packages == packages


def weighed(number: int, grams: float, **changes: object) -> FeedItem:
    """Return a feeding of so many grams of a meal in all."""
    item = feeding(number, replace(BLOOD, **changes))  # type: ignore[arg-type]
    return replace(item, dose=replace(item.dose, total_g=grams))


@pytest.mark.parametrize(
    ("stock_kg", "lasts", "needed", "packages"),
    [
        (0.0, None, 1, 2),
        (0.999, None, 1, 2),
        (1.0, 1, 3, 2),
        (1.999, 1, 3, 1),
        (2.0, 3, 5, 1),
        (3.0, 5, 1, 0),
    ],
)
def test_a_stock_lasts_to_the_feeding_it_is_enough_for(
    stock_kg: float, lasts: int | None, needed: int, packages: int
) -> None:
    """Three feedings of a kilogram, bags of 1.5 kg: just under, at and over each."""
    (need,) = needs([weighed(number, 1000.0, stock_kg=stock_kg) for number in (1, 3, 5)])
    assert need.lasts_until == (None if lasts is None else day(lasts))
    assert (need.needed_by, need.packages) == (day(needed), packages)
    assert need.is_at_hand is (packages == 0)


def test_two_batches_fed_on_one_day_are_one_feeding() -> None:
    """A stock for one of them is not enough."""
    (need,) = needs([weighed(1, 1000.0, stock_kg=1.5), weighed(1, 1000.0, stock_kg=1.5)])
    assert (need.lasts_until, need.needed_by) == (None, day(1))


@pytest.mark.parametrize(
    ("used_g", "stock_kg"), [(0.0, 2.0), (500.0, 1.5), (2000.0, 0.0), (2001.0, 1.499)]
)
def test_what_was_fed_is_taken_off_the_stock_and_then_off_opened_bags(
    used_g: float, stock_kg: float
) -> None:
    """Two kilograms at first, bags of 1.5 kg then."""
    (need,) = needs([weighed(1, 9000.0, stock_kg=2.0)], {"Blood meal": used_g})
    assert need.stock_kg == pytest.approx(stock_kg)


@pytest.mark.parametrize(
    ("kg", "cost"),
    [
        (0.5, 12.5 / 3),  # a third of a bag of 1.5 kg
        (1.5, 12.5),
        (20.0, 60.0 * 20.0 / 25.0),  # the sack is cheaper than fourteen bags
        (0.0, 0.0),
    ],
)
def test_what_was_given_is_worth_its_share_of_the_cheapest_packages(kg: float, cost: float) -> None:
    feed = replace(BLOOD, packages=(Package(kg=25.0, price=60.0),))
    assert worth(feed, kg) == pytest.approx(cost)


def test_what_has_a_size_without_a_price_is_worth_an_unknown_amount() -> None:
    assert worth(replace(BLOOD, price=None), 1.0) is None
    assert worth(replace(BLOOD, packages=(Package(kg=25.0),)), 1.0) is None
    assert worth(FEEDS["Blood meal"], 1.0) is None


def test_a_drench_is_bought_by_the_label_whatever_it_weighs() -> None:
    """15 mL/L in 4 L for 6 bales."""
    unknown = replace(FISH, density_kg_per_l=None)
    (need,) = needs([FeedItem(day(3), unknown, drench_dose(unknown, 6, 4.0))])
    assert need.litres == pytest.approx(0.36)


def test_of_several_sizes_the_cheapest_together_are_bought() -> None:
    """7 kg: two bags of 5 where they cost 23, one beside two of 1.5 for 12.50 where it costs 30."""
    sizes = (Package(kg=5.0, price=23.0),)
    (need,) = needs([weighed(1, 7000.0, packages=sizes)])
    assert [(each.count, each.package.kg) for each in need.buy] == [(2, 5.0)]
    assert (need.packages, need.cost, need.package_kg) == (2, 46.0, None)
    dearer = (Package(kg=5.0, price=30.0),)
    (need,) = needs([weighed(1, 7000.0, packages=dearer)])
    assert [(each.count, each.package.kg) for each in need.buy] == [(2, 1.5), (1, 5.0)]
    assert need.cost == 55.0


def test_where_a_price_is_unknown_the_least_is_bought_and_no_cost_told() -> None:
    """3.2 kg: a bag of 1.5 and one of 2 hold it with least left over."""
    (need,) = needs([weighed(1, 3200.0, packages=(Package(kg=2.0),))])
    assert [(each.count, each.package.kg) for each in need.buy] == [(1, 1.5), (1, 2.0)]
    assert need.cost is None
