"""What heat does to standing crops, and what is picked before a killing freeze."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from msgspec.structs import replace

from strawbell.decision.daily_weather import DailyWeather
from strawbell.decision.weather_tasks import before_freeze, with_heat
from strawbell.model.brief import Action, Also, ReasonCode, State, Suffering, Task
from strawbell.model.garden import Batch, Method
from strawbell.season.stage import last_harvest_key
from strawbell.weather.chance import USUAL_SITE, Colder, Site
from support.gardens import TOMATO, at, batch, forecast, garden, planting
from support.keys import key_of
from support.standing import day, night, state, warm

TODAY = date(2027, 7, 20)
NOW = at(TODAY)
BEAN = replace(
    TOMATO,
    name="bean",
    heat_limit_c=32.0,
    heat_effect="drops its blossom",
    days_to_maturity=(50, 60),
    harvest_days=60,
)
LETTUCE = replace(TOMATO, name="lettuce", heat_limit_c=30.0, heat_effect="bolts and turns bitter")
OLD = TODAY - timedelta(days=90)


def water(action: Action = Action.WATER, **changes: object) -> Task:
    """Return the day's watering of row A."""
    return replace(
        Task(f"row-a-{action}-2027-07-20", "Row A", 6, action, State.DUE),
        **changes,  # type: ignore[arg-type]
    )


def heated(own: Batch, high_c: float, *tasks: Task, planted: date | None = OLD) -> tuple[Task, ...]:
    """Return tasks of a day with this high, for crops that stand since a date."""
    daily = DailyWeather(garden(own), forecast(NOW, warm(TODAY, high_c, rain_mm=3.0)), NOW)
    return with_heat(day(own, state(own, planted), TODAY), tasks, daily.on(TODAY))


class TestWithHeat:
    """Days that are hot for a crop, with rain, so that the heat alone speaks."""

    @pytest.mark.parametrize(("high_c", "harmed"), [(29.9, False), (30.0, True), (30.1, True)])
    def test_a_crop_suffers_from_its_own_limit_on(self, high_c: float, harmed: bool) -> None:
        """At the limit counts as reached; it is named with what happens to it."""
        own = batch(plantings=(planting(LETTUCE),))
        (told,) = heated(own, high_c, water())
        assert told.suffering == (Suffering("lettuce", "bolts and turns bitter"),) * harmed
        assert told.also == (Also.SHADE,) * harmed

    def test_the_reason_gives_the_high_and_the_limit(self) -> None:
        """After the reasons the task had."""
        own = batch(plantings=(planting(LETTUCE),))
        (told,) = heated(own, 33.3, water())
        assert [(why.code, why.value, why.threshold) for why in told.reasons] == [
            (ReasonCode.HEAT, 33.3, 30.0)
        ]

    def test_of_several_the_lowest_limit_is_told_and_all_are_named(self) -> None:
        """Whoever suffers first."""
        own = batch(plantings=(planting(BEAN), planting(LETTUCE)))
        (told,) = heated(own, 34.0, water())
        assert [one.crop for one in told.suffering] == ["bean", "lettuce"]
        assert told.reasons[-1].threshold == 30.0

    @pytest.mark.parametrize(("age_days", "drops"), [(24, False), (25, True)])
    def test_blossom_drops_only_where_there_is_blossom(self, age_days: int, drops: bool) -> None:
        """From half of the fewest days to harvest on: 25 of 50."""
        own = batch(plantings=(planting(BEAN),))
        (told,) = heated(own, 34.0, water(), planted=TODAY - timedelta(days=age_days))
        assert bool(told.suffering) is drops

    def test_bolting_needs_no_blossom(self) -> None:
        """Young lettuce bolts too."""
        own = batch(plantings=(planting(LETTUCE),))
        (told,) = heated(own, 34.0, water(), planted=TODAY - timedelta(days=5))
        assert told.suffering

    def test_a_crop_that_stands_twice_is_named_once(self) -> None:
        """Sown and set out."""
        own = batch(plantings=(planting(LETTUCE), planting(LETTUCE, Method.SEED)))
        (told,) = heated(own, 34.0, water())
        assert len(told.suffering) == 1

    def test_a_crop_without_a_limit_is_not_judged(self) -> None:
        """Unknown is not tender."""
        own = batch(plantings=(planting(),))
        assert heated(own, 45.0, water()) == (water(),)

    def test_what_does_not_stand_yet_does_not_suffer(self) -> None:
        """Empty bales."""
        own = batch(plantings=(planting(LETTUCE),))
        assert heated(own, 45.0, water(), planted=None) == (water(),)

    def test_it_goes_with_the_watering_of_the_top_first(self) -> None:
        """Said once, with the work that answers it."""
        own = batch(plantings=(planting(LETTUCE),))
        plain = (water(), water(Action.SURFACE_WATER), water(Action.INSPECT))
        told = heated(own, 34.0, *plain)
        assert [bool(task.suffering) for task in told] == [False, True, False]
        assert (told[0], told[2]) == (plain[0], plain[2])

    def test_without_a_watering_the_tasks_stay_as_they_are(self) -> None:
        """There is nothing to say it with."""
        own = batch(plantings=(planting(LETTUCE),))
        assert heated(own, 34.0, water(Action.INSPECT)) == (water(Action.INSPECT),)

    def test_a_hot_dry_day_dries_the_edges(self) -> None:
        """Also where no crop suffers."""
        own = batch(plantings=(planting(),))
        daily = DailyWeather(garden(own), forecast(NOW, warm(TODAY, 31.0)), NOW)
        (told,) = with_heat(day(own, state(own, OLD), TODAY), (water(),), daily.on(TODAY))
        assert (told.suffering, told.also, told.reasons) == ((), (Also.WET_EDGES,), ())

    def test_what_was_said_beside_the_watering_is_said_still(self) -> None:
        """To look first, since rain is likely, and then what the heat asks for."""
        own = batch(plantings=(planting(LETTUCE),))
        (told,) = heated(own, 34.0, water(also=(Also.LOOK_FIRST,)))
        assert told.also == (Also.LOOK_FIRST, Also.SHADE)

    def test_the_edges_of_empty_bales_may_dry(self) -> None:
        """Nothing stands in them."""
        daily = DailyWeather(garden(), forecast(NOW, warm(TODAY, 31.0)), NOW)
        empty = day(batch(), state(batch()), TODAY)
        assert with_heat(empty, (water(),), daily.on(TODAY)) == (water(),)

    def test_without_a_forecast_nothing_is_added(self) -> None:
        """Unknown is not hot."""
        own = batch(plantings=(planting(LETTUCE),))
        daily = DailyWeather(garden(own), None, NOW)
        today = day(own, state(own, OLD), TODAY)
        assert with_heat(today, (water(),), daily.on(TODAY)) == (water(),)


class TestBeforeFreeze:
    """Tomatoes die at 0 degC; cloudy nights are up to 0.56 degC colder at the plants."""

    OWN = batch(plantings=(planting(),))

    def picked(
        self,
        low_c: float | None,
        *tasks: Task,
        own: Batch | None = None,
        age_days: int = 90,
        seen: bool = True,
        site: Site = USUAL_SITE,
    ) -> tuple[Task, ...]:
        """Return the tasks of the day before a night."""
        own = own or self.OWN
        outlook = forecast(NOW, night(TODAY, low_c)) if seen else None
        daily = DailyWeather(garden(own), outlook, NOW, site=site)
        where = state(own, TODAY - timedelta(days=age_days))
        return before_freeze(day(own, where, TODAY), tasks, daily)

    @pytest.mark.parametrize(
        ("low_c", "keys"),
        [
            (0.6, []),
            (0.5, [key_of("row-a-harvest-tomato-2027-07-20")]),
            (0.1, [key_of("row-a-harvest-tomato-2027-07-20")]),
            (0.0, [key_of("row-a-harvest-tomato-last")]),
            (-4.0, [key_of("row-a-harvest-tomato-last")]),
        ],
    )
    def test_it_is_picked_where_it_may_die_and_cleared_where_it_must(
        self, low_c: float, keys: list[str]
    ) -> None:
        """At 0.5 the plants may have -0.06, at 0.0 they have 0 at the best."""
        told = self.picked(low_c)
        assert [task.key for task in told] == keys
        for task in told:
            assert (task.action, task.crops) == (Action.HARVEST, ("tomato",))
            assert [why.code for why in task.reasons] == [ReasonCode.FROST]

    @pytest.mark.parametrize(
        ("low_c", "keys"),
        [
            (3.6, []),
            (3.5, [key_of("row-a-harvest-tomato-2027-07-20")]),
            (3.0, [key_of("row-a-harvest-tomato-last")]),
        ],
    )
    def test_a_frost_hollow_is_picked_by_its_own_night(self, low_c: float, keys: list[str]) -> None:
        """3 degC colder than forecast, as the grower measured it: the night that it is covered for.

        The reason gives what the leaves get there.
        """
        hollow = Colder(3.0, 0.5)
        told = self.picked(low_c, site=Site(hollow, hollow, hollow))
        assert [task.key for task in told] == keys
        for task in told:
            assert task.reasons[0].value == pytest.approx(low_c - 3.0 - 0.56, abs=0.05)

    @pytest.mark.parametrize(("age_days", "open_"), [(64, False), (65, True)])
    def test_what_has_nothing_to_pick_is_only_covered(self, age_days: int, open_: bool) -> None:
        """65 days from setting out at the soonest."""
        assert bool(self.picked(-4.0, age_days=age_days)) is open_

    def test_the_picking_of_the_plan_gives_way(self) -> None:
        """One harvest a day; other work stays."""
        plain = Task(
            key_of("row-a-harvest-tomato-1"),
            "Row A",
            6,
            Action.HARVEST,
            State.DUE,
            crops=("tomato",),
        )
        told = self.picked(-4.0, water(), plain)
        assert [task.key for task in told] == [water().key, key_of("row-a-harvest-tomato-last")]

    def test_of_a_crop_that_comes_twice_only_the_endangered_gives_way(self) -> None:
        """A tough sort of the same name is picked as planned."""
        tough = replace(TOMATO, cover_at_c=-9.0, kill_at_c=-10.0)
        own = batch(plantings=(planting(tough), planting()))
        first, second = (
            Task(
                key_of(f"row-a-harvest-{crop}-1"),
                "Row A",
                6,
                Action.HARVEST,
                State.DUE,
                crops=("tomato",),
            )
            for crop in ("tomato", "tomato-2")
        )
        told = self.picked(-4.0, first, second, own=own)
        assert [task.key for task in told] == [first.key, last_harvest_key(own, own.plantings[1])]

    def test_a_crop_of_unknown_death_is_left(self) -> None:
        """Nothing is torn out on a guess."""
        own = batch(plantings=(planting(replace(TOMATO, kill_at_c=None)),))
        assert self.picked(-9.0, own=own) == ()

    def test_an_unknown_night_changes_nothing(self) -> None:
        """Nor one without a forecast."""
        assert self.picked(None) == ()
        assert self.picked(-9.0, seen=False) == ()

    def test_bales_without_plants_are_left(self) -> None:
        """Nothing stands in them."""
        daily = DailyWeather(garden(self.OWN), forecast(NOW, night(TODAY, -9.0)), NOW)
        assert before_freeze(day(self.OWN, state(self.OWN), TODAY), (water(),), daily) == (water(),)
