"""Whatever is done to a bale in whatever weather, nothing of it appears or vanishes."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from strawbell.agronomy.balance import (
    ICE_J_KG,
    STRAW_J_KG_K,
    WATER_J_KG_K,
    Body,
    Left,
    State,
    Weather,
    Work,
    body_of,
    fresh,
    step,
)
from strawbell.agronomy.parameters import DRAWS
from strawbell.model.garden import Bale

SKY = st.builds(
    Weather,
    hours=st.sampled_from([1.0, 6.0, 24.0]),
    air_c=st.floats(-25.0, 45.0),
    rain_mm=st.sampled_from([0.0, 0.0, 1.0, 12.7, 80.0]),
    et0_mm=st.floats(0.0, 8.0),
    sun_w_m2=st.floats(0.0, 400.0),
    wind_m_s=st.floats(0.0, 12.0),
)
WORK = st.builds(
    Work,
    poured_l=st.sampled_from([0.0, 0.0, 3.6, 32.0, 120.0]),
    water_c=st.floats(1.0, 40.0),
    urea_g=st.sampled_from([0.0, 0.0, 41.0]),
    ammonium_g=st.sampled_from([0.0, 0.0, 50.0]),
    nitrate_g=st.sampled_from([0.0, 10.0]),
    organic_g=st.sampled_from([0.0, 60.0]),
    dissolved=st.booleans(),
    covered=st.booleans(),
    taken_l=st.floats(0.0, 6.0),
)
BALES = st.builds(
    lambda length, width, height, mass: Bale("own", length, width, height, mass),
    st.floats(60.0, 240.0),
    st.floats(30.0, 120.0),
    st.floats(30.0, 90.0),
    st.floats(8.0, 300.0),
)
DRAW = st.sampled_from(DRAWS)


def heat_j(state: State, body: Body) -> float:
    """Return the heat in a bale over that of the same bale at 0 C, unfrozen [J]."""
    capacity = body.dry_kg * STRAW_J_KG_K + state.water_l * WATER_J_KG_K
    return capacity * state.temperature_c - state.ice_l * ICE_J_KG


DAYS = st.lists(st.tuples(SKY, WORK), min_size=1, max_size=24)


@given(BALES, DRAW, DAYS)
def test_water_nitrogen_and_heat_balance(bale, draw, days) -> None:  # type: ignore[no-untyped-def]
    body = body_of(bale, tuple(sorted(draw.changed.items())))
    state = begun = fresh(body, 8.0)
    lefts = []
    for sky, work in days:
        state, left = step(state, sky, work, body)
        lefts.append(left)
    gone = Left(*map(sum, zip(*lefts, strict=True)))
    poured = sum(work.poured_l for _, work in days)
    fed = sum(w.urea_g + w.ammonium_g + w.nitrate_g + w.organic_g for _, w in days)
    out_l = gone.drained_l + gone.bypassed_l + gone.evaporated_l + gone.taken_l
    assert state.water_l + out_l == pytest.approx(
        begun.water_l + gone.caught_l + poured, rel=1e-12, abs=1e-9
    )
    assert state.nitrogen_g + gone.leached_g + gone.air_g == pytest.approx(
        begun.nitrogen_g + fed, rel=1e-12, abs=1e-9
    )
    scale = gone.made_j + abs(gone.brought_j) + abs(gone.lost_j)
    assert heat_j(state, body) - heat_j(begun, body) == pytest.approx(
        gone.made_j + gone.brought_j - gone.lost_j, abs=1e-9 * scale + 1e-3
    )
    _possible(state)


def _possible(state: State) -> None:
    assert all(amount >= 0.0 for name, amount in state._asdict().items() if name[-2:] != "_c")
    assert state.ice_l <= state.top_l
    assert state.hold <= 1.0


@given(BALES, DRAW, st.lists(SKY, min_size=1, max_size=12))
def test_without_water_nothing_is_leached(bale, draw, skies) -> None:  # type: ignore[no-untyped-def]
    body = body_of(bale, tuple(sorted(draw.changed.items())))
    state = fresh(body, 8.0)._replace(urea_1_g=40.0, nitrate_2_g=10.0, ammonium_3_g=30.0)
    for sky in skies:
        state, left = step(state, sky._replace(rain_mm=0.0), Work(), body)
        assert left.leached_g == left.drained_l == left.bypassed_l == 0.0


@given(BALES, DRAW, st.lists(SKY, min_size=1, max_size=12))
def test_turning_from_form_to_form_loses_nothing_but_ammonia(bale, draw, skies) -> None:  # type: ignore[no-untyped-def]
    body = body_of(bale, tuple(sorted(draw.changed.items())))
    state = fresh(body, 8.0)._replace(urea_1_g=40.0, nitrate_2_g=10.0, quick_g=30.0)
    for sky in skies:
        after, left = step(state, sky._replace(rain_mm=0.0), Work(), body)
        assert after.nitrogen_g + left.air_g == pytest.approx(state.nitrogen_g, rel=1e-12)
        state = after


@given(BALES, DRAW, SKY, WORK)
def test_a_step_depends_on_nothing_but_its_arguments(bale, draw, sky, work) -> None:  # type: ignore[no-untyped-def]
    body = body_of(bale, tuple(sorted(draw.changed.items())))
    assert step(fresh(body, 8.0), sky, work, body) == step(fresh(body, 8.0), sky, work, body)
