"""What is published of water, nitrogen and heat in straw, against the balance of a bale."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence

import pytest

from strawbell.agronomy.balance import (
    HEAT_J_KG,
    ICE_J_KG,
    NOTHING,
    Body,
    State,
    Weather,
    Work,
    body_of,
    fresh,
    frost_depth_m,
    hydrolysed_share,
    stays_behind,
    step,
)
from strawbell.agronomy.ensemble import (
    MILD_DAYS_NEEDED,
    Band,
    Ensemble,
    begin,
    conditioned_days,
    core_band,
    walk,
)
from strawbell.agronomy.parameters import DRAWS
from strawbell.model.garden import Bale

TWO = Bale("two-string", 100.0, 45.0, 36.0, 20.0)
THREE = Bale("three-string", 122.0, 61.0, 46.0, 36.0)
OLD = Bale("two-string", 100.0, 45.0, 36.0, 20.0, weathered=True)
BODY = body_of(TWO)
MOIST = fresh(BODY, 15.0)._replace(top_l=8.8, middle_l=8.8, bottom_l=8.8)
HELD_MM = 97.8
"""Water kept by a soaked two-string bale of 20 kg, over its top."""
QUARTERS = ((0.12, 0.03), (0.45, 0.37), (0.92, 0.52), (0.51, 0.08))
"""Share of the day's range of temperature and of its evaporation, by quarter."""


@pytest.mark.parametrize(
    ("mm", "share"), [(10.0, 0.185), (25.0, 0.400), (50.0, 0.640), (100.0, 0.871)]
)
def test_half_excluded_water_is_washed_as_the_mixed_layer_of_swat(mm: float, share: float) -> None:
    assert 1.0 - stays_behind(mm, HELD_MM, 0.5, 1.0)[0] == pytest.approx(share, abs=1e-3)


def test_water_washes_the_same_in_one_go_or_in_two() -> None:
    once = stays_behind(25.0, HELD_MM, 0.5, 1.0)[0]
    half = stays_behind(12.5, HELD_MM, 0.5, 1.0)[0]
    assert half**2 == pytest.approx(once)
    assert 1.0 - once == pytest.approx(0.4003, abs=1e-4)


def test_what_runs_through_gaps_washes_nothing_out_of_the_straw() -> None:
    assert 1.0 - stays_behind(0.8 * 25.0, HELD_MM, 0.0, 1.0)[0] == pytest.approx(0.1849, abs=1e-4)


def test_ammonium_that_lags_twice_as_far_behind_is_washed_half_as_fast() -> None:
    assert 1.0 - stays_behind(25.0, HELD_MM, 0.0, 2.0)[1] == pytest.approx(0.1200, abs=1e-4)


def test_urea_hydrolyses_day_by_day_as_in_ceres() -> None:
    left, gone = 60.0, []
    for _ in range(4):
        share = hydrolysed_share(10.0, 1.0, 0.5, 1.0)
        gone.append(left * share)
        left -= gone[-1]
    assert gone == pytest.approx([13.5, 10.5, 8.1, 6.3], abs=0.05)


@pytest.mark.parametrize(("celsius", "share"), [(0, 0.20), (10, 0.45), (20, 0.70), (32, 1.0)])
def test_urease_answers_to_warmth_as_in_ceres(celsius: float, share: float) -> None:
    assert hydrolysed_share(celsius, 1.0, 0.5, 1.0) == pytest.approx(0.5 * share)


def test_urea_in_warm_wet_straw_that_rots_is_as_fast_as_in_soil() -> None:
    """Soils at 25 C: half-lives of 5.9 to 21.6 h (first order 0.0321 to 0.1182 per h)."""
    half_life_h = 24.0 * math.log(0.5) / math.log(1.0 - hydrolysed_share(25.0, 1.0, 0.75, 1.0))
    assert 5.9 <= half_life_h <= 21.6


def test_urea_in_cold_dry_straw_is_still_there_after_eight_weeks() -> None:
    """Cloete and Kritzinger (1984): at 4 C and 25 to 37 % moisture not complete after 8 weeks."""
    state = fresh(BODY, 4.0)._replace(top_l=2.9, middle_l=2.9, bottom_l=2.9, urea_2_g=40.0)
    for _ in range(4 * 56):
        state, _ = step(state, Weather(6.0, 4.0), NOTHING, BODY)
    assert state.urea_2_g > 0.0


@pytest.mark.parametrize(
    ("water_mm", "percent", "within"), [(0.0, 28.1, 6.0), (4.0, 9.2, 3.0), (16.0, 1.8, 2.0)]
)
def test_water_at_once_keeps_surface_urea_from_the_air(
    water_mm: float, percent: float, within: float
) -> None:
    """Black and others (1987): 28, 9 and 2 % lost with 0, 4 and 16 mm within three hours."""
    assert _lost_to_air(water_mm, 0) == pytest.approx(percent, abs=within)


def test_water_after_two_days_comes_too_late() -> None:
    """Black and others (1987): 16 mm after 48 h 31 %, against 33 % left dry."""
    assert _lost_to_air(16.0, 8) > 0.75 * _lost_to_air(0.0, 0)


def _lost_to_air(water_mm: float, after_steps: int) -> float:
    state = MOIST._replace(hold=1.0, temperature_c=20.0)
    air = 0.0
    for index in range(28):
        work = Work(
            urea_g=40.0 if index == 0 else 0.0,
            poured_l=water_mm * BODY.top_m2 if index == after_steps else 0.0,
        )
        soil_like = body_of(TWO, (("ammonia", 0.001), ("urease", 1.5)))
        state, left = step(state, Weather(6.0, 20.0), work, soil_like)
        air += left.air_g
    return air / 40.0 * 100.0


@pytest.mark.parametrize(
    ("theta", "conductivity", "cold_k", "hours", "cm"),
    [
        (0.163, 0.30, 5.0, 8.0, 1.72),
        (0.286, 0.30, 5.0, 8.0, 1.06),
        (0.163, 0.15, 2.0, 8.0, 0.71),
        (0.371, 0.30, 10.0, 12.0, 2.2),
    ],
)
def test_frost_goes_as_deep_as_stefan_says(
    theta: float, conductivity: float, cold_k: float, hours: float, cm: float
) -> None:
    latent = theta * 1000.0 * ICE_J_KG
    assert frost_depth_m(0.0, cold_k, hours, conductivity, latent) * 100 == pytest.approx(
        cm, rel=0.02
    )


def test_a_warm_core_keeps_frost_out_of_the_top() -> None:
    """At -5 C: a core of 30 C holds it at 1.3 cm at most, a cold one lets it go deeper."""
    warm, cold = MOIST._replace(temperature_c=30.0), MOIST._replace(temperature_c=1.0)
    per_cm = 0.163 * BODY.top_m2 * 10.0
    night = Weather(8.0, -5.0)
    assert step(warm, night, NOTHING, BODY)[0].ice_l < 1.3 * per_cm
    assert step(cold, night, NOTHING, BODY)[0].ice_l > 1.3 * per_cm
    assert step(warm, Weather(8.0, -1.0), NOTHING, BODY)[0].ice_l == 0.0


def test_warm_air_and_sun_thaw_a_crust_within_hours() -> None:
    """Two centimetres: 6.3 h at +6, 1.8 h with 120 W/m2 of sun besides."""
    crust_l = 0.02 * 0.163 * 1000.0 * BODY.top_m2
    frozen = MOIST._replace(temperature_c=0.0, ice_l=crust_l)
    thawed = step(frozen, Weather(6.4, 6.0), NOTHING, BODY)[0]
    still = step(frozen, Weather(6.0, 6.0), NOTHING, BODY)[0]
    sunny = step(frozen, Weather(1.85, 6.0, sun_w_m2=120.0), NOTHING, BODY)[0]
    assert thawed.ice_l == 0.0 < still.ice_l
    assert sunny.ice_l == 0.0


def test_tap_water_thaws_nearly_a_centimetre() -> None:
    frozen = MOIST._replace(temperature_c=0.0, ice_l=5.0)
    after, _ = step(frozen, Weather(1.0, 0.0), Work(poured_l=5.3, water_c=10.0), BODY)
    thawed_cm = (5.0 - after.ice_l) / (0.163 * BODY.top_m2 * 10.0)
    assert thawed_cm == pytest.approx(0.91, rel=0.12)


def test_cold_water_chills_a_hot_bale_by_five_kelvin() -> None:
    """5.3 L at 10 C into 26.4 L at 50 C: -5.58 K; what runs through gaps chills nothing."""
    body = BODY._replace(bypass_wet=0.0)
    hot = MOIST._replace(temperature_c=50.0, hold=0.0, fast_kg=0.0, slow_kg=0.0)
    after, _ = step(hot, Weather(1.0, 50.0), Work(poured_l=5.3, water_c=10.0), body)
    calm, _ = step(hot, Weather(1.0, 50.0), NOTHING, body)
    assert after.temperature_c - calm.temperature_c == pytest.approx(-5.58, abs=0.35)


def test_a_wetter_bale_of_the_same_heat_stays_cooler() -> None:
    """At a decay of 0.0137 a day 20 K over the air at 60 % moisture, 15 K at 2.6 kg/kg."""
    assert _steady_rise(26.4) == pytest.approx(20.5, abs=1.5)
    assert _steady_rise(46.4) == pytest.approx(15.0, abs=1.5)


def _steady_rise(water_l: float) -> float:
    watts = 0.0137 * 17.6 * 0.93 * HEAT_J_KG / 86_400.0
    theta = water_l / 162.0
    resistance = 1.0 / 8.0 + 0.18 / (2.0 * (0.055 + 0.408 * theta))
    still = fresh(BODY, 20.0)._replace(
        top_l=water_l / 3, middle_l=water_l / 3, bottom_l=water_l / 3, fast_kg=0.0, slow_kg=0.0
    )
    _, left = step(still, Weather(1.0, 19.0), NOTHING, BODY)
    assert left.lost_j / 3600.0 == pytest.approx(1.944 / resistance, rel=0.05)
    return watts * resistance / 1.944


def test_rain_from_a_calm_sky_does_not_get_under_a_tarp() -> None:
    after, left = step(MOIST, Weather(6.0, 12.0, 25.0), Work(covered=True), BODY)
    assert left.caught_l == left.drained_l == left.leached_g == 0.0
    assert after.water_l <= MOIST.water_l


def test_a_first_soak_of_fifteen_gallons_runs_through_by_an_eighth_and_more() -> None:
    """Mississippi State: 56.8 L on 20 to 23 kg keeping 2.2 L per kg, 12 to 21 % not kept."""
    state, gone = fresh(BODY, 15.0), 0.0
    for index in range(8):
        state, left = step(
            state, Weather(6.0, 15.0), Work(poured_l=56.8 if index == 0 else 0.0), BODY
        )
        gone += left.drained_l + left.bypassed_l
    assert 0.12 <= gone / 56.8 <= 0.30


def test_wet_straw_with_ammonium_leaches_a_tenth_or_two_in_ten_days_mostly_ammonium() -> None:
    """Martins and Dewes (1992): 10 to 20 % leached, most of it in ten days, 77 to 98 % NH4."""
    third = BODY.keeps_l
    state = MOIST._replace(top_l=third, middle_l=third, bottom_l=third)
    forms = [0.0, 0.0, 0.0]
    for index in range(40):
        work = Work(ammonium_g=60.0, organic_g=60.0) if index == 0 else NOTHING
        rain = 30.0 if index % 8 == 2 else 0.0
        air, evaporates = QUARTERS[index % 4]
        sky = Weather(6.0, 8.0 + 10.0 * air, rain, 0.5 * evaporates)
        state, left = step(state, sky, work, BODY)
        forms = [a + b for a, b in zip(forms, left[6:9], strict=True)]
    assert 0.05 <= sum(forms) / 208.0 <= 0.20
    assert forms[1] / sum(forms) >= 0.76


def test_decomposers_bind_the_nitrogen_that_what_they_decompose_asks_for() -> None:
    """3.07 kg decomposed bind 35 g net by Vigil's 0.0165, 76 to 95 g gross."""
    for figure, low, high in ((16.5, 30.0, 40.0), (34.0, 76.0, 106.0)):
        bound = 3.07 * (figure - 5.0)
        assert low <= bound <= high
    span = body_of(TWO, (("binding", 34.0),))
    few, many = _bound_in_a_fortnight(BODY), _bound_in_a_fortnight(span)
    assert 20.0 <= few < many <= 211.0


def _bound_in_a_fortnight(body: Body) -> float:
    state = MOIST._replace(ammonium_1_g=60.0, ammonium_2_g=60.0)
    for _ in range(56):
        state, _ = step(state, Weather(6.0, 15.0), NOTHING, body)
    return state.bound_g


def test_organic_feeds_set_free_half_of_their_nitrogen_in_two_weeks() -> None:
    """Hartz and Johnstone (2006): 47 to 60 % in two weeks, 60 to 66 % in eight."""
    state = MOIST._replace(temperature_c=15.0)
    state, _ = step(state, Weather(6.0, 15.0), Work(organic_g=100.0), BODY)
    shares = []
    for day in range(1, 57):
        for _ in range(4):
            state, _ = step(state, Weather(6.0, 15.0), NOTHING, BODY)
        if day in (14, 56):
            shares.append(1.0 - (state.quick_g + state.tough_g) / 100.0)
    assert 0.47 <= shares[0] <= 0.60
    assert 0.60 <= shares[1] <= 0.68


Feeds = Mapping[int, Work]
_FULL = ((4, 1.0), (5, 1.0), (6, 1.0), (7, 0.5), (8, 0.5), (9, 0.5))
_OTHER = ((1, 1.0), (3, 1.0), (5, 1.0), (7, 0.5), (8, 0.5), (9, 0.5))
UREA: Feeds = {day: Work(urea_g=41.0 * rate) for day, rate in _FULL}
SULFATE: Feeds = {day: Work(ammonium_g=50.0 * rate) for day, rate in _OTHER}
MEAL: Feeds = {day: Work(organic_g=60.0 * rate) for day, rate in _OTHER}
LATE: Feeds = {day: Work(urea_g=24.0) for day in range(15, 21)}


def course(
    bale: Bale,
    air_c: float,
    days: int,
    feeds: Feeds,
    *,
    rain: bool,
    seldom: bool = False,
    spell_c: float | None = None,
) -> list[Ensemble]:
    """Return the draws of a bale by day, in steady weather, refilled by need or weekly.

    A warm spell of `spell_c` under plastic begins on day 9.
    """
    ensemble, out = begin(bale, air_c), []
    for day in range(1, days + 1):
        held = sum(
            weight * state.water_l
            for weight, state in zip(ensemble.weights, ensemble.states, strict=True)
        )
        missing = BODY.works_l - held
        water = 10.0 if seldom and day % 7 == 1 else 0.0
        if not seldom:
            water = 30.0 if day == 1 else missing if missing >= 3.0 else 3.6
        work = feeds.get(day, NOTHING)._replace(poured_l=water)
        if spell_c is not None and day > 8:
            air_c, work = spell_c, work._replace(covered=True)
        ensemble = walk(
            ensemble,
            bale,
            [
                (
                    Weather(
                        6.0,
                        air_c - 5.0 + 10.0 * warm,
                        2.0 if rain and day % 3 == 0 else 0.0,
                        2.5 * evaporates,
                    ),
                    work if index == 1 else Work(covered=work.covered),
                )
                for index, (warm, evaporates) in enumerate(QUARTERS)
            ],
        )
        out.append(ensemble)
    return out


LOGS: tuple[tuple[str, float, int, float, Callable[[], list[Ensemble]]], ...] = (
    ("cool rainy April", 7.0, 7, 16.0, lambda: course(TWO, 7.0, 7, UREA, rain=True)),
    ("April by a lake", 9.0, 10, 49.0, lambda: course(TWO, 9.0, 10, UREA, rain=False)),
    ("never hot", 11.0, 8, 27.0, lambda: course(TWO, 11.0, 8, SULFATE, rain=False)),
    (
        "the same, under plastic in a warm spell", 21.0, 12, 38.0,
        lambda: course(TWO, 7.0, 12, UREA, rain=True, spell_c=21.0),
    ),
    ("old bales, long rained on", 13.0, 24, 54.0, lambda: course(OLD, 13.0, 24, LATE, rain=True)),
    ("Ohio in May", 17.0, 10, 56.0, lambda: course(TWO, 17.0, 10, UREA, rain=False)),
    (
        "new bales watered weekly", 13.0, 21, 16.0,
        lambda: course(TWO, 13.0, 21, LATE, rain=True, seldom=True),
    ),
    ("north-west, sulfate", 10.0, 7, 38.0, lambda: course(TWO, 10.0, 7, SULFATE, rain=True)),
    ("Sacramento, meals", 16.0, 9, 43.0, lambda: course(THREE, 16.0, 9, MEAL, rain=False)),
)  # fmt: skip
"""Growers' logs (weak data: chosen by themselves, unpublished but for the last)."""


def fitted_heats(logs: Sequence[tuple[Band, Ensemble, float, float]]) -> float:
    """Return the share of bales that get hot which makes some logs likeliest."""

    def likelihood(share: float) -> float:
        whole = 0.0
        for _, draws, air_c, seen_c in logs:
            weighed = reweighted(draws, share)
            parts = zip(weighed.weights, weighed.states, strict=True)
            whole += math.log(
                sum(
                    weight
                    * math.exp(-0.5 * ((seen_c - state.temperature_c) / spread) ** 2)
                    / spread
                    for weight, state in parts
                    for spread in [max(4.0, 0.35 * (state.temperature_c - air_c))]
                )
            )
        return whole

    return max((share / 100.0 for share in range(10, 95, 5)), key=likelihood)


def reweighted(draws: Ensemble, heats: float) -> Ensemble:
    """Return the draws of a bale with another share of bales that get hot."""
    hot = sum(draw.heats for draw in DRAWS)
    weights = tuple(
        heats / hot if draw.heats else (1.0 - heats) / (len(DRAWS) - hot) for draw in DRAWS
    )
    return draws._replace(weights=weights)


def test_the_band_of_the_core_covers_the_logs_it_was_not_fitted_to() -> None:
    """Each log is left out of the fit of the one figure that the logs give, and looked for then.

    The band is meant to hold four in five. What is found is printed, and must not contradict that:
    so few or fewer hits have to be likelier than one in twenty.
    """
    known = []
    for _, air_c, day, seen_c, draws in LOGS:
        ensemble = draws()[day - 1]
        known.append((core_band(ensemble, air_c), ensemble, air_c, seen_c))
    covered = 0
    for index, (_, ensemble, air_c, seen_c) in enumerate(known):
        heats = fitted_heats([*known[:index], *known[index + 1 :]])
        band = core_band(reweighted(ensemble, heats), air_c)
        hit = band.low <= seen_c <= band.high
        covered += hit
        print(
            f"{LOGS[index][0]}: {heats:.2f} hot without it, {band.low:.0f} to {band.high:.0f}, "
            f"seen {seen_c:.0f}: {'in' if hit else 'out'}"
        )
    used = sum(band.low <= seen <= band.high for band, _, _, seen in known)
    print(f"{covered} of {len(LOGS)} in a band of four in five; {used} in the band as it is used")
    fewer = sum(
        math.comb(len(LOGS), hits) * 0.8**hits * 0.2 ** (len(LOGS) - hits)
        for hits in range(covered + 1)
    )
    assert fewer > 0.05


def test_hot_draws_pass_sixty_degrees_in_a_three_string_bale() -> None:
    """UC ANR 8559: a fresh three-string bale can pass 60 C."""
    hottest = max(
        state.temperature_c
        for ensemble in course(THREE, 15.0, 16, UREA, rain=False)
        for state in ensemble.states
    )
    assert 60.0 <= hottest <= 75.0


def test_a_bale_as_bought_holds_what_was_weighed() -> None:
    """12 % of 20 kg are 2.4 L; 60 % moisture is 26.4 L."""
    assert BODY.own_water_l == pytest.approx(2.4, abs=0.05)
    assert BODY.works_l == pytest.approx(26.4)
    assert isinstance(fresh(BODY, 10.0), State)


@pytest.mark.parametrize(
    ("air_c", "soonest", "latest", "source"),
    [
        (14.0, 11, 14, "mild spring weather, about 12 days: common practice"),
        (28.0, 9, 11, "hot weather, about 10 days: common practice"),
        (7.0, 17, 24, "about three weeks: Montana State University Extension (2018)"),
        (3.5, 25, 45, "up to six weeks: the same"),
    ],
)
def test_conditioning_takes_the_days_of_common_experience(
    air_c: float, soonest: int, latest: int, source: str
) -> None:
    draws = course(TWO, air_c, 50, UREA, rain=False)
    done = next(
        day
        for day, ensemble in enumerate(draws, start=1)
        if conditioned_days(ensemble).mean >= MILD_DAYS_NEEDED
    )
    assert soonest <= done <= latest, source


def test_frozen_bales_stand_still() -> None:
    draws = course(TWO, -8.0, 10, UREA, rain=False)
    assert conditioned_days(draws[-1]).high < 0.5
