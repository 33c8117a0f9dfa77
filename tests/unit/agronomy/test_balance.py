"""The step of a bale's balance at its edges, and a course through all it knows.

What is published is in `tests/published/test_balance.py` and `test_balance_models.py`.
"""

from __future__ import annotations

from collections.abc import Mapping

import pytest

from strawbell.agronomy.balance import (
    NOTHING,
    Left,
    State,
    Weather,
    Work,
    body_of,
    fresh,
    hydrolysed_share,
    step,
)
from strawbell.agronomy.bales import BALES

BODY = body_of(BALES["two-string"])
DAY = Weather(24.0, 12.0)


@pytest.mark.parametrize(
    ("warm_c", "share"), [(-20.0, 0.0), (-8.0, 0.0), (-4.0, 0.05), (12.0, 0.25), (40.0, 0.5)]
)
def test_urea_hydrolyses_by_a_fortieth_a_degree_from_eight_under_freezing(
    warm_c: float, share: float
) -> None:
    """T/40 + 0.2, 0 to 1, of half in a day (DSSAT, SOILNI.for)."""
    assert hydrolysed_share(warm_c, 0.8, 0.5, 1.0) == pytest.approx(share)
    assert hydrolysed_share(warm_c, 0.3, 0.5, 1.0) == pytest.approx(share / 2.0)


@pytest.mark.parametrize("changed", [{"temperature_c": -1.0}, {"temperature_c": 75.0}])
def test_straw_too_cold_or_too_hot_to_rot_binds_no_nitrogen(changed: Mapping[str, float]) -> None:
    """Wet as it is and with ammonium in it."""
    fed = fresh(BODY, 12.0)._replace(ammonium_1_g=20.0, middle_l=9.0, **changed)
    after, left = step(fed, Weather(1.0, changed["temperature_c"]), NOTHING, BODY)
    assert (after.bound_g, left.worked_d, left.made_j) == (0.0, 0.0, 0.0)


LITTLE = body_of(BALES["two-string"], (("hunger", 0.0),))
"""Decomposers that do not mind how much nitrogen there is."""


@pytest.mark.parametrize(
    ("warm_c", "rate"),
    [(0.0, 0.0), (15.0, 0.5), (30.0, 1.0), (55.0, 1.0), (65.0, 0.5), (74.0, 0.05), (75.0, 0.0)],
)
def test_straw_rots_by_its_warmth_up_to_thirty_degrees_and_less_from_fifty_five(
    warm_c: float, rate: float
) -> None:
    """Stombaugh and Nokes (1996); the upper end is from memory."""
    wet = fresh(LITTLE, warm_c)._replace(top_l=12.0, middle_l=12.0, bottom_l=12.0)
    _, left = step(wet, Weather(0.024, warm_c), NOTHING, LITTLE)
    assert left.worked_d == pytest.approx(0.001 * rate, rel=1e-3)


@pytest.mark.parametrize(
    ("moisture", "rate"), [(0.15, 0.0), (0.20, 0.0), (0.30, 0.5), (0.40, 1.0), (0.60, 1.0)]
)
def test_straw_rots_by_its_moisture_from_twenty_to_forty_percent(
    moisture: float, rate: float
) -> None:
    """5 M - 1 of the wet mass (Stombaugh and Nokes 1996)."""
    water_l = moisture / (1.0 - moisture) * LITTLE.dry_kg / 3.0
    damp = fresh(LITTLE, 40.0)._replace(top_l=water_l, middle_l=water_l, bottom_l=water_l)
    _, left = step(damp, Weather(0.024, 40.0), NOTHING, LITTLE)
    assert left.worked_d == pytest.approx(0.001 * rate, rel=1e-2, abs=1e-7)


def test_plants_in_straw_without_water_take_none() -> None:
    """Nothing is divided among nothing."""
    dust = fresh(BODY, 12.0)._replace(top_l=0.0, middle_l=0.0, bottom_l=0.0)
    after, left = step(dust, DAY, Work(taken_l=2.0), BODY)
    assert (after.water_l, left.taken_l) == (0.0, 0.0)


COURSE: Mapping[str, tuple[int, Weather, Work]] = {
    "soaked": (4, Weather(6.0, 14.0, 0.0, 0.8, 120.0, 1.0), Work(poured_l=12.0, water_c=15.0)),
    "fed dry": (
        1,
        Weather(6.0, 16.0, 1.5, 1.0, 150.0, 2.0),
        Work(2.0, 12.0, 30.0, 6.0, 4.0, 15.0),
    ),
    "rained on": (6, Weather(6.0, 11.0, 3.0, 0.3, 40.0, 4.0), NOTHING),
    "fed in water": (1, Weather(6.0, 13.0), Work(4.0, 10.0, 20.0, 5.0, 5.0, 0.0, True)),
    "warm days": (20, Weather(6.0, 19.0, 0.0, 0.6, 180.0, 1.5), NOTHING),
    "covered in rain": (8, Weather(6.0, 9.0, 2.0, 0.3, 30.0, 5.0), Work(covered=True)),
    "frozen": (12, Weather(6.0, -9.0, 0.0, 0.1, 10.0, 2.0), NOTHING),
    "frozen under a cover": (8, Weather(6.0, -4.0, 0.0, 0.1, 10.0, 2.0), Work(covered=True)),
    "thawed by rain": (4, Weather(6.0, 3.0, 1.0, 0.2, 50.0, 2.0), NOTHING),
    "planted and dry": (12, Weather(24.0, 24.0, 0.0, 3.0, 200.0, 1.0), Work(taken_l=0.6)),
    "watered again": (3, Weather(24.0, 22.0, 2.0, 4.0, 180.0, 2.0), Work(poured_l=9.0)),
}
"""Times, weather and work of each stretch, one after the other."""


def _course() -> dict[str, tuple[State, Left]]:
    state, found = fresh(BODY, 10.0), {}
    for name, (times, weather, work) in COURSE.items():
        gone = Left()
        for _ in range(times):
            state, left = step(state, weather, work, BODY)
            gone = Left(*map(sum, zip(gone, left, strict=True)))
        found[name] = (state, gone)
    return found


CAME_TO = """
fed dry:
    18.052 15.999 9.1442 0 15.251 2.1171 14.239 0.068177 5.383 0.064413 17.715 4.1736 1.1885
    5.895 0.72843 0.10924 3.0709 0.72327 0.20596 9.1273 5.5472 0.12723 87.942 0.756 0 0.22048
    1.0411 0 0.01886 0.98043 0 0 70560 75422 -66171 0.074034
rained on:
    16.399 16.425 16.237 0 13.139 2.0804 14.236 0.15921 0.028003 0.00088048 9.9458 8.6127
    5.7838 6.5754 3.069 1.2378 1.4617 1.402 1.0164 7.4095 5.5306 1.0066 87.742 10.044 1.4373
    0.80352 1.9379 0 0.054394 0.93316 0.067242 0.12359 6.9352e+05 2.3447e+05 1.043e+06 0.43223
warm days:
    7.3825 13.435 13.52 0 42.73 0.85227 14.074 0.99646 0.00021713 8.2605e-05 2.1899 1.026
    0.64134 18.364 7.9411 4.6143 5.1833 2.3841 1.4152 3.5716 5.4728 31.598 80.789 0 3.4387 0
    13.61 0 1.8912 2.0747 0.28408 0.39477 2.3939e+07 -2.1687e+06 1.7792e+07 3.2455
covered in rain:
    7.4471 12.804 12.887 0 29.881 0.50713 13.98 0.99986 8.5196e-05 1.9369e-05 0.85923 0.26172
    0.16359 13.931 5.8608 3.4311 7.1315 3.216 1.9012 2.7048 5.451 41.251 78.596 0.648 0
    0.05184 1.7966 0 0.4335 0 0 0 7.6124e+06 -2.4801e+05 9.7007e+06 1.4845
frozen under a cover:
    6.4001 12.276 12.358 6.4001 -4.4122 0.42453 13.948 0.99996 6.6589e-05 1.1166e-06 0.67157
    0.16409 0.10257 12.889 5.3092 3.1118 7.4425 3.3452 1.9769 2.3827 5.4411 43.77 78.023 0 0 0
    0.38419 0 0.026265 0 0 0 0 9402.4 -3.192e+05 0
thawed by rain:
    7.6892 12.143 12.225 0 1.1235 0.42423 13.948 0.99996 1.8786e-05 8.8386e-07 0.59414 0.14848
    0.092806 12.918 5.3 3.107 7.484 3.3623 1.9869 2.371 5.4407 43.779 78.021 2.016 0 0.16128
    0.8329 0 0.024179 1.7565e-06 4.7348e-08 0 7372 29401 -2.971e+06 0.002011
watered again:
    8.4076 6.071 4.8461 0 25.181 0.046972 13.559 1 6.628e-15 7.0943e-16 0.010816 0.0097039
    0.0075013 0.19752 0.1452 0.10429 4.6194 7.5051 10.579 0.29473 5.2799 60.64 74.189 3.024 0
    3.9779 12.088 0 0.031817 2.8041e-07 4.1376e-09 0 1.967e+06 3.2737e+05 9.4136e+05 1.3771
"""
"""State and what left it at the ends of some stretches, as the step had them on 2026-11-29."""


def test_a_course_through_soaking_feeding_frost_and_drought_comes_to_what_it_did() -> None:
    """Whoever changes a figure of the balance changes these, and means to."""
    course = _course()
    told = CAME_TO.replace("\n    ", " ").strip().splitlines()
    assert len(told) == 7
    for name, _, figures in (line.partition(":") for line in told):
        state, left = course[name]
        expected = [float(each) for each in figures.split()]
        assert [*state, *left] == pytest.approx(expected, rel=1e-4, abs=1e-6), name


@pytest.mark.parametrize(("water_l", "share"), [(0.15, 0.5), (0.03, 0.5), (30.0, None)])
def test_steam_takes_no_more_than_half_of_the_water_of_a_hot_bale(
    water_l: float, share: float | None
) -> None:
    """A hot wet bale gives off steam by the heat it loses, a hot dry one by the water it has."""
    third_l = water_l / 3.0
    hot = fresh(BODY, 70.0)._replace(top_l=third_l, middle_l=third_l, bottom_l=third_l)
    after, left = step(hot, Weather(24.0, 0.0), NOTHING, BODY)
    assert after.water_l == pytest.approx(water_l - left.evaporated_l - left.drained_l)
    if share is None:
        assert left.evaporated_l == pytest.approx(BODY.steam * left.lost_j / 2.45e6)
    else:
        assert left.evaporated_l == pytest.approx(share * water_l)


@pytest.mark.parametrize("sun_w_m2", [None, 0.0, 0.1, 30.0])
def test_ice_at_the_freezing_point_is_melted_by_the_sun_alone(sun_w_m2: float | None) -> None:
    """By its latent heat, 334 kJ/kg; where nothing is said of the sun there is none."""
    frozen = fresh(BODY, 0.0)._replace(top_l=9.0, ice_l=5.0)
    sky = Weather(6.0, 0.0) if sun_w_m2 is None else Weather(6.0, 0.0, sun_w_m2=sun_w_m2)
    after, _ = step(frozen, sky, NOTHING, BODY)
    melted_l = (sun_w_m2 or 0.0) * BODY.top_m2 * 6.0 * 3600.0 / 334e3
    assert frozen.ice_l - after.ice_l == pytest.approx(melted_l, abs=1e-9)


@pytest.mark.parametrize("form", ["ammonium_2_g", "nitrate_2_g"])
def test_what_decomposers_bind_is_taken_from_what_is_there(form: str) -> None:
    """Ammonium first; where there is none, nitrate. Nothing comes of nothing."""
    wet = fresh(BODY, 40.0)._replace(top_l=10.0, middle_l=10.0, bottom_l=10.0, hold=0.9)
    fed = wet._replace(**{form: 60.0})
    after, left = step(fed, Weather(24.0, 20.0), NOTHING, BODY)
    assert after.bound_g > 5.0
    assert getattr(after, form) < 55.0
    assert after.nitrogen_g + left.air_g + left.leached_g == pytest.approx(fed.nitrogen_g)


@pytest.mark.parametrize("layer", ["top_l", "middle_l", "bottom_l"])
def test_the_least_water_over_what_straw_keeps_drains(layer: str) -> None:
    """A twentieth of a litre in any third: in a day 1 - exp(-24/8) of it has gone on."""
    keeps = BODY.keeps_l
    full = fresh(BODY, 12.0)._replace(top_l=keeps, middle_l=keeps, bottom_l=keeps)
    over = full._replace(**{layer: keeps + 0.05})
    wetter, _ = step(over, DAY, NOTHING, BODY)
    before, _ = step(full, DAY, NOTHING, BODY)
    assert getattr(wetter, layer) - getattr(before, layer) < 0.01
