"""What is still to be bought, as it is shown."""

from __future__ import annotations

import json
from datetime import date

import pytest
from msgspec.structs import replace

from strawbell.model.feeds import Bought, FeedForm, Need, Package, Supply
from strawbell.model.garden import Units
from strawbell.words.documents import supplies_json
from strawbell.words.shopping import supplies_screen, supply_sentence
from support.briefs import TODAY, garden
from support.gardens import batch
from support.made_up_locale import english_left, made_up_locale

MEAL = Need(
    Supply.FEED, "Blood meal", 3.25, 5.4, 1.5, None, 3, 37.5, date(2027, 4, 11), date(2027, 4, 14)
)
BOTTLE = replace(MEAL, name="Fish feed", package_kg=None, package_l=1.0, packages=6, cost=None)
MIX = Need(
    Supply.MIX, "potting mix", None, 108.0, None, None, None, None,
    date(2027, 4, 16), date(2027, 4, 16),
)  # fmt: skip
WATER = replace(MIX, kind=Supply.WATER, name="water", litres=640.0)


class TestScreen:
    """The list of `strawbell supplies`."""

    def test_a_line_a_thing_in_the_order_it_is_needed(self) -> None:
        """Day, name, amount, packages and cost."""
        lines = supplies_screen((MEAL, MIX), garden(), TODAY).splitlines()
        meal, mix = (
            next(i for i, line in enumerate(lines) if n in line) for n in ("meal", "compost")
        )
        assert lines[0] == "Orchard corner"
        assert meal < mix
        for said in ("Sun 11 Apr", "Blood meal", "3.25 kg", "3 x 1.5 kg", "37.50"):
            assert said in lines[meal]
        assert "108" in lines[mix]

    def test_a_bottle_is_counted_in_litres(self) -> None:
        """As it is sold: the need too, or nobody can tell whether the bottles do."""
        screen = supplies_screen((BOTTLE,), garden(), TODAY)
        assert "6 x 1 L" in screen
        assert "5.4 L" in screen
        assert "3.25 kg" not in screen

    def test_a_liquid_without_a_package_is_said_both_ways(self) -> None:
        """The shop may sell it by mass or by volume; a dry feed it sells by mass."""
        bare = replace(MEAL, package_kg=None, packages=None, cost=None)
        dry = batch()
        wet = replace(dry, feed=replace(dry.feed, name="Blood meal", form=FeedForm.LIQUID))
        plan = replace(garden(), batches=(wet,))
        assert "3.25 kg (5.4 L)" in supplies_screen((bare,), plan, TODAY)
        assert "5.4 L" not in supplies_screen((bare,), garden(), TODAY)

    def test_a_count_without_a_size_stands_alone(self) -> None:
        """Where the package is unknown."""
        bare = replace(MEAL, package_kg=None)
        (line,) = [
            line
            for line in supplies_screen((bare,), garden(), TODAY).splitlines()
            if "Blood meal" in line
        ]
        assert " x " not in line

    def test_only_what_has_a_price_is_summed(self) -> None:
        """And without any, no sum is told."""
        assert "comes to 50.00" in supplies_screen(
            (MEAL, MIX, replace(MEAL, name="Other", cost=12.5)), garden(), TODAY
        )
        assert "comes to" not in supplies_screen((MIX, WATER), garden(), TODAY)

    def test_a_price_of_nothing_is_a_price(self) -> None:
        """Free manure."""
        free = replace(MEAL, cost=0.0)
        assert "comes to 0.00" in supplies_screen((free,), garden(), TODAY)

    def test_what_is_gone_through_once_is_summed_all_the_same(self) -> None:
        """The list may come from a generator."""
        wanted = (need for need in (MEAL, MIX))
        assert supplies_screen(wanted, garden(), TODAY) == supplies_screen(
            (MEAL, MIX), garden(), TODAY
        )

    def test_nothing_more_is_needed(self) -> None:
        """One line."""
        assert supplies_screen((), garden(), TODAY) == "Orchard corner: nothing more is needed.\n"

    def test_in_us_units(self) -> None:
        """Pounds and gallons."""
        screen = supplies_screen((MEAL, WATER), garden(Units.US), TODAY)
        assert "lb" in screen
        assert "kg" not in screen

    def test_a_name_of_the_growers_cannot_steer_the_terminal(self) -> None:
        """Nor break the table."""
        screen = supplies_screen((replace(MEAL, name="a\x1b[2J\nb"),), garden(), TODAY)
        assert "\x1b" not in screen
        assert screen.count("\n") == supplies_screen((MEAL,), garden(), TODAY).count("\n")

    def test_several_sizes_are_listed_one_by_one(self) -> None:
        """As they are put into the basket."""
        bags = (Bought(1, Package(5.0)), Bought(2, Package(1.5)))
        screen = supplies_screen((replace(MEAL, package_kg=None, buy=bags),), garden(), TODAY)
        assert "1 x 5 kg + 2 x 1.5 kg" in screen

    @pytest.mark.parametrize(
        ("stock_kg", "lasts_until", "said"),
        [
            (None, None, ""),
            (0.0, None, "Nothing of Blood meal is at hand."),
            (0.2, None, "200 g of Blood meal at hand is not enough for the next feeding"),
            (2.0, date(2027, 4, 12), "lasts through Mon 12 Apr; more is needed by Sun 11 Apr."),
            (4.0, date(2027, 4, 14), "4 kg of Blood meal at hand lasts to the end of the plan."),
        ],
    )
    def test_what_is_at_hand_is_said_with_how_long_it_lasts(
        self, stock_kg: float | None, lasts_until: date | None, said: str
    ) -> None:
        """Of a feed that was counted alone."""
        need = replace(MEAL, stock_kg=stock_kg, lasts_until=lasts_until)
        screen = " ".join(supplies_screen((need,), garden(), TODAY).split())
        assert said in screen
        assert ("at hand" in screen) is bool(said)


class TestJson:
    """The same for programs."""

    def test_every_figure_is_there_with_its_unit(self) -> None:
        """Unknown is null, never 0."""
        told = json.loads(json.dumps(supplies_json((MEAL, MIX), garden(), TODAY)))
        assert (told["version"], told["garden"], told["date"]) == (
            2,
            "Orchard corner",
            "2027-04-09",
        )
        assert told["supplies"] == [
            {
                "kind": "feed",
                "name": "Blood meal",
                "kg": 3.25,
                "litres": 5.4,
                "package_kg": 1.5,
                "package_l": None,
                "packages": 3,
                "buy": [],
                "in_stock_kg": None,
                "lasts_until": None,
                "cost": 37.5,
                "needed_by": "2027-04-11",
                "last_on": "2027-04-14",
            },
            {
                "kind": "mix",
                "name": "potting mix",
                "kg": None,
                "litres": 108.0,
                "package_kg": None,
                "package_l": None,
                "packages": None,
                "buy": [],
                "in_stock_kg": None,
                "lasts_until": None,
                "cost": None,
                "needed_by": "2027-04-16",
                "last_on": "2027-04-16",
            },
        ]

    def test_figures_are_rounded_to_what_can_be_weighed(self) -> None:
        """Grams, tenths of a litre, cents."""
        odd = replace(MEAL, kg=1 / 3, litres=2 / 3, cost=1 / 3)
        (told,) = supplies_json((odd,), garden(), TODAY)["supplies"]  # type: ignore[misc]
        assert (told["kg"], told["litres"], told["cost"]) == (0.333, 0.7, 0.33)


class TestSentence:
    """The evening's word."""

    def test_amount_name_packages_and_day(self) -> None:
        """In one sentence."""
        said = supply_sentence(MEAL, garden(), TODAY)
        assert said == "Have 3.25 kg of blood meal (3 x 1.5 kg) ready by Sun 11 Apr."

    @pytest.mark.parametrize("need", [MIX, WATER])
    def test_without_packages_there_are_no_brackets(self, need: Need) -> None:
        """Mix and water go by the litre."""
        said = supply_sentence(need, garden(), TODAY)
        assert "(" not in said
        assert " L of " in said


@pytest.mark.parametrize("units", Units)
def test_the_list_leaves_no_english(units: Units) -> None:
    """But for what things are called in the plan."""
    plan = garden(units)
    stocked = replace(MEAL, stock_kg=1.0)
    with made_up_locale():
        needs = (MEAL, BOTTLE, MIX, WATER, stocked, replace(MEAL, stock_kg=0.0))
        said = supplies_screen(needs, plan, TODAY)
        said += "".join(supply_sentence(each, plan, TODAY) for each in needs)
    assert english_left(said, "Orchard corner Blood meal Fish feed potting mix water") == []
