"""The judge: bales lose what they lose, whoever is asked; what is unfinished counts in full."""

from __future__ import annotations

import json
from collections.abc import Mapping
from datetime import date
from typing import Any

import pytest

from strawbell.agronomy.balance import Work, body_of
from strawbell.agronomy.bales import BALES
from strawbell.agronomy.loss import COVER_FAILS, COVERING, PLANTS_LOST
from strawbell.season.local_time import DAY
from tests.value.bales import Burns, Deed, Fate, drawn, live
from tests.value.chances import Said, scored
from tests.value.judge import RESULT, TABLE
from tests.value.measures import measured, missed
from tests.value.oracle import foreseen
from tests.value.policies import AsTold
from tests.value.springs import DAYS, Sky
from tests.value.table import table_of, targets

BALE = BALES["two-string"]
BODY = body_of(BALE)
START = date(2013, 4, 1)


def season(leaf_c: float = 9.0, air_c: float = 15.0, rain_mm: float = 0.0) -> tuple[Sky, ...]:
    """Return a season of days that are all alike."""
    return tuple(
        Sky(START + DAY * day, air_c, air_c, rain_mm, 2.4, 0.0, 9.0, 18.0, leaf_c)
        for day in range(DAYS)
    )


def fed(*, wet_l: float = 3.8) -> list[Deed]:
    """Return a season that is soaked and fed for ten days."""
    first = Deed(Work(poured_l=40.0, urea_g=30.0))
    others = [
        Deed(Work(poured_l=wet_l, urea_g=20.0 if day < 10 else 0.0)) for day in range(1, DAYS)
    ]
    return [first, *others]


def fate(**figures: Any) -> Fate:
    """Return a fate that is nothing but what is said of it."""
    nothing = {name: 0.0 for name in Fate._fields if name != "ready_day"}
    return Fate(**{**nothing, "ready_day": 12, **figures})


class TestBales:
    @pytest.mark.parametrize(
        ("drained_cm", "share"), [(1.0, 0.0002), (2.5, 0.0244), (5.0, 0.1489), (10.0, 0.3811)]
    )
    def test_the_second_model_is_the_leaching_equation_of_burns(
        self, drained_cm: float, share: float
    ) -> None:
        """Burns (1975): (P / (P + theta))^h at theta 0.2716 and a depth of 36 cm."""
        body = BODY._replace(volume_m3=0.36 * BODY.top_m2)
        second = Burns(body)
        second.day(100.0, drained_cm * body.top_m2 * 10.0, 0.2716 * body.volume_m3 * 1000.0)
        assert second.leached_g == pytest.approx(100.0 * share, abs=0.02)

    def test_more_water_leaches_more_by_both_models(self) -> None:
        little, _ = live(BODY, season(), AsTold(fed(wet_l=2.0), 11))
        much, _ = live(BODY, season(), AsTold(fed(wet_l=12.0), 11))
        assert much.leached_g > 2.0 * little.leached_g
        assert much.second_g > 2.0 * little.second_g

    def test_three_in_five_of_the_drawn_bales_heat_and_no_two_are_alike(self) -> None:
        bodies = drawn(BALE, 20)
        assert sum(body.fast >= 0.10 for body in bodies) == 12
        assert len(set(bodies)) == 20
        assert drawn(BALE, 20) == bodies

    def test_a_bale_in_the_cold_is_never_ready_and_says_so(self) -> None:
        came, _ = live(BODY, season(air_c=1.0), AsTold(fed(), 11))
        assert came.ready_day is None

    def test_a_bale_is_not_ready_before_the_plan_allows_it(self) -> None:
        came, _ = live(BODY, season(air_c=28.0), AsTold(fed(), 20))
        assert came.ready_day == 20


class TestMeasures:
    def test_what_is_not_ready_counts_with_the_whole_season(self) -> None:
        came = measured("Urea", fate(ready_day=None), [Deed()] * DAYS, season())
        assert (came.ready_day, came.planted_day, came.unfinished) == (DAYS, DAYS, 1)

    def test_a_frost_on_bare_plants_costs_them_and_under_a_cover_a_tenth(self) -> None:
        bare = [Deed(puts_in=day == 40) for day in range(DAYS)]
        covered = [deed._replace(covers=day >= 40) for day, deed in enumerate(bare)]
        one, other = (
            measured("Urea", fate(), deeds, season(leaf_c=-1.0)) for deeds in (bare, covered)
        )
        assert (one.plants_lost, one.frosts_uncovered, one.covers) == (1.0, 2, 0)
        assert other.plants_lost == pytest.approx(2 * COVER_FAILS)
        assert (other.covers, other.covers_for_nothing) == (2, 0)
        assert one.loss - other.loss == pytest.approx(
            PLANTS_LOST * (1.0 - 2 * COVER_FAILS) - 2 * COVERING
        )

    def test_a_cover_on_a_mild_night_was_for_nothing(self) -> None:
        deeds = [Deed(puts_in=day == 40, covers=True) for day in range(DAYS)]
        assert measured("Urea", fate(), deeds, season()).covers_for_nothing == 2

    def test_days_that_grow_nothing_cost_nothing(self) -> None:
        assert missed(season(air_c=8.0)) == 0.0
        assert missed(season(air_c=25.0)) == DAYS


def test_the_oracle_is_never_worse_than_what_it_began_from() -> None:
    skies = season(rain_mm=6.0)
    begun = [(fed(), 11), (fed(wet_l=0.0), 11)]
    best, deeds = foreseen("Urea", BODY, skies, begun, tarp=False)
    losses = [
        measured("Urea", *live(BODY, skies, AsTold(*each)), skies, ideal=True) for each in begun
    ]
    assert measured("Urea", best, deeds, skies, ideal=True).loss < min(each.loss for each in losses)


def test_chances_that_come_true_are_reliable_and_others_not() -> None:
    true = [Said("rain", 0.3, number % 10 < 3) for number in range(1000)]
    wrong = [said._replace(chance=0.8) for said in true]
    assert scored(true)["rain"]["rel"] == 0.0
    assert scored(wrong)["rain"]["rel"] == pytest.approx(0.25, abs=0.01)


class TestTable:
    def test_the_page_is_the_one_of_the_figures(self) -> None:
        assert TABLE.read_text(encoding="utf-8") == table_of(_kept())

    def test_the_page_names_every_target_that_was_missed(self) -> None:
        page, found = TABLE.read_text(encoding="utf-8"), list(targets(_kept()))
        missed_rows = [each for each in found if each.met is False]
        assert page.count("**missed**") == len(missed_rows)
        assert f"{len(missed_rows)} of {len(found)} missed." in page
        assert all(each.what in page for each in found)

    def test_the_page_names_the_worst_season(self) -> None:
        worst = max(
            (row["worst"]["Strawbell"] for row in _kept()["seasons"] if row["measure"] == "loss"),
            key=lambda each: each["by"],
        )
        page = TABLE.read_text(encoding="utf-8")
        assert f"Worst season: {worst['where']} on " in page
        assert f"{worst['by']:+g} a bale beside the" in page

    def test_the_page_marks_every_place_where_the_advice_is_worse(self) -> None:
        marked = TABLE.read_text(encoding="utf-8").count("**worse**")
        assert marked == sum(
            row["policies"]["Strawbell"]["mean"] > row["policies"]["calendar"]["mean"]
            for row in _kept()["seasons"]
            if row["measure"] in ("leached_g", "lost_g", "ready_day", "growing_days_missed", "loss")
        )

    def test_at_least_twenty_bales_were_judged(self) -> None:
        assert _kept()["sizes"]["draws"] >= 20


def _kept() -> Mapping[str, Any]:
    kept: Mapping[str, Any] = json.loads(RESULT.read_text(encoding="utf-8"))
    return kept
