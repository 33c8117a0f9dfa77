"""Heat of a moist bale as one lump: what decomposers give off, what goes to the air.

    C dT/dt = P - UA (T - T_air)
    P       = E f(T) f(M) f(N) A (k_fast S_fast + k_slow S_slow)

S_fast and S_slow are volatile solids that rot fast and slowly, each decaying in first order [1];
A is how far decomposers have taken hold (0 to 1), growing logistically at the same responses;
f(T) and f(M) are in `growth_response`, f(N) is a saturation in the nitrogen that is available.

What is calibrated and on what
------------------------------
No published day-by-day record of bale temperatures was found, so seven figures (marked
"calibrated" below) were chosen until these statements came out together: a fed fresh
three-string bale passes 60 degC in mild spring weather, an old weathered one not 38 degC [2];
wheat bales on organic feeds peaked at 43 degC [3]; bales fed once in mid-March heated within
five days [4]; planting is possible from about the eleventh day to two weeks on [2] [5];
frozen bales do not heat (common practice). First-order models of composting are the best there
are and still miss by several degrees and hours [1]: the result is a guide for when to measure,
not a measurement.

Left out: the swing of a day (a bale follows air with about a day's delay), evaporation and wind
(inside the calibrated conductivity), the latent heat of freezing, rain's chill, nitrogen lost.

References
----------
[1] I. G. Mason, "Mathematical modelling of the composting process: a review", Waste Management
    26:3-21 (2006).
[2] University of California ANR Publication 8559, "Gardening with straw bales" (2016).
[3] UC Master Gardeners of Sacramento County, "Straw bale gardening 2015" (readings, peak 110 F).
[4] Oregon State University, "Response of tomato and lettuce to straw bales and plastic cover"
    (1986): bales fed 13 March, heating by 18 March.
[5] WSU Extension FS109E; Kansas State Research and Extension: from day 11, under 99 or 100 F.
[6] H. K. Ahn, T. J. Sauer, T. L. Richard, T. D. Glanville, "Determination of thermal properties of
    composting bulking materials", Bioresource Technology 100:3974-3981 (2009): conductivity 0.03
    to 0.30 W/(m K), heat capacity 0.26 to 3.45 MJ/(m3 K), rising with moisture and density.
[7] T. K. Hartz, P. R. Johnstone, "Nitrogen availability from high-nitrogen-containing organic
    fertilizers", HortTechnology 16:39-42 (2006): 47 to 60 % mineralised in two weeks, 10 to 25 C.
[8] J. Nurzynski, Folia Horticulturae 18/2:17 (2006): about 70 % of straw gone in 34 weeks, which
    is a first-order 0.0051 per day.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import date
from typing import NamedTuple

from strawbell.agronomy.bale.growth_response import (
    decomposition_moisture_response,
    decomposition_temperature_response,
)
from strawbell.model.garden import Bale

AIR_DRY_MOISTURE_FRACTION = 0.12
"""Water in straw as it is set out, of wet mass (NRAES-54 Table A.1, 1992, from memory)."""
SOAKED_MOISTURE_FRACTION = 0.60
"""Moisture a bale is kept at in conditioning: 50 to 60 % (The Composting Handbook, Table 4.2)."""
VOLATILE_FRACTION = 0.93
"""Share of dry straw that is not ash (from memory)."""
HEAT_OF_DECOMPOSITION_J_KG = 17.35e6
"""Heat per kg of volatile solids: heat of combustion of cellulose (from memory)."""
STRAW_HEAT_CAPACITY_J_KG_K = 1500.0
"""Dry straw (from memory)."""
WATER_HEAT_CAPACITY_J_KG_K = 4186.0
"""Water at 15 degC."""
CONDUCTIVITY_W_M_K = 0.12
"""Calibrated within the range of [6]; evaporation is inside it."""
FILM_W_M2_K = 8.0
"""From surface to air, by convection and radiation in a light wind (from memory)."""
FAST_FRACTION = 0.17
"""Calibrated: share of fresh straw's volatile solids that rots in the first weeks."""
WEATHERED_SHARE = 0.06
"""Calibrated: what a season outdoors leaves of the fast share [2]."""
FAST_RATE_PER_DAY = 0.35
"""Calibrated: decay of the fast share at full response [1/d]."""
SLOW_RATE_PER_DAY = 0.004
"""Calibrated below the 0.0051 of [8], which holds the fast share too [1/d]."""
TAKE_HOLD_RATE_PER_DAY = 2.2
"""Calibrated: growth of the decomposers at full response [1/d]."""
HOLD_AT_START = 0.04
"""Calibrated: how far decomposers have taken hold of newly wetted straw."""
HALF_NITROGEN_G_KG = 2.0
"""Calibrated: available nitrogen at which decomposers work at half speed [g N per kg dry]."""
OWN_NITROGEN_G_KG = 0.5
"""A tenth of the 0.5 % nitrogen of straw, as available from the start (from memory)."""
ORGANIC_RELEASE_PER_DAY = 0.055
"""1 - exp(-14 x 0.055) = 54 % in two weeks, the middle of [7]."""
STEPS_PER_DAY = 4
"""Steps of 6 h: against 1-h steps the peak moves by under 0.5 K and half a day (measured)."""

_SECONDS_PER_DAY = 86_400.0
_SMALLEST_CM, _LARGEST_CM = 10.0, 400.0
_LIGHTEST_KG, _HEAVIEST_KG = 1.0, 1000.0
_MOST_WATER_L = 2000.0
_MOST_NITROGEN_G = 2000.0


class Feeding(NamedTuple):
    """Nitrogen given to one bale on a local date [g N]; organic feeds release it slowly [7]."""

    on: date
    nitrogen_g: float
    organic: bool = False


@dataclass(frozen=True, slots=True)
class BaleHeatInputs:
    """One bale of a batch as far as its heat goes.

    `fed` holds the feedings given so far and those still planned. `started_on` is the local date
    of the first wetting. `water_litres` is all the water the bale
    holds [L]; None: it is kept at 60 % moisture.
    """

    bale: Bale
    fed: tuple[Feeding, ...]
    started_on: date
    water_litres: float | None = None


@dataclass(frozen=True, slots=True)
class BaleThermal:
    """What the heat balance needs of a bale.

    dry_kg dry matter [kg], moisture_fraction [0 to 1], heat_capacity_j_k [J/K], loss_w_k: heat
    lost per kelvin above the air [W/K], fast_kg and slow_kg volatile solids [kg].
    """

    dry_kg: float
    moisture_fraction: float
    heat_capacity_j_k: float
    loss_w_k: float
    fast_kg: float
    slow_kg: float


@dataclass(slots=True)
class HeatState:
    """The moving part of the balance, with the ledger of its energy [J].

    heat_j given off, loss_j to the air, correction_j put in or taken out by probe readings; they
    close: heat + correction - loss = heat capacity x (temperature - first temperature).
    """

    temperature_c: float
    fast_kg: float
    slow_kg: float
    hold: float
    available_g: float
    bound_g: float = 0.0
    fast_power_w: float = 0.0
    heat_j: float = 0.0
    loss_j: float = 0.0
    correction_j: float = 0.0


def bale_thermal(bale: Bale, water_litres: float | None = None) -> BaleThermal:
    """Return a bale's dry matter, heat capacity, heat loss and rotting matter.

    The heat loss counts a film at the surface and half the smallest thickness: the warmth of a
    body that is heated evenly inside meets 1/U = 1/h + R/(2 k), whether slab, rod or ball.

    Parameters
    ----------
    bale : Bale
        Sides 10 to 400 [cm]; air-dry mass 1 to 1000 [kg], of which 12 % is water.
    water_litres : float or None
        All water in the bale [L], 0 to 2000; None for a bale kept at 60 % moisture.

    Returns
    -------
    BaleThermal
        In kg, J/K and W/K. Anything out of range is refused with ValueError.

    References
    ----------
    [6] Ahn et al. 2009, and the constants of this module with their sources.
    """
    sides = {
        "length_cm": bale.length_cm,
        "width_cm": bale.width_cm,
        "height_cm": bale.height_cm,
    }
    for name, value in sides.items():
        _refuse_outside(name, value, _SMALLEST_CM, _LARGEST_CM)
    _refuse_outside("dry_mass_kg", bale.dry_mass_kg, _LIGHTEST_KG, _HEAVIEST_KG)
    dry = bale.dry_mass_kg * (1.0 - AIR_DRY_MOISTURE_FRACTION)
    if water_litres is None:
        water = dry * SOAKED_MOISTURE_FRACTION / (1.0 - SOAKED_MOISTURE_FRACTION)
    else:
        _refuse_outside("water_litres", water_litres, 0.0, _MOST_WATER_L)
        water = water_litres
    length, width, height = (value / 100.0 for value in sides.values())
    area = 2.0 * (length * width + length * height + width * height)
    half = min(length, width, height) / 2.0
    conductance = 1.0 / (1.0 / FILM_W_M2_K + half / (2.0 * CONDUCTIVITY_W_M_K))
    fast = FAST_FRACTION * (WEATHERED_SHARE if bale.weathered else 1.0)
    volatile = dry * VOLATILE_FRACTION
    return BaleThermal(
        dry_kg=dry,
        moisture_fraction=water / (water + dry),
        heat_capacity_j_k=dry * STRAW_HEAT_CAPACITY_J_KG_K + water * WATER_HEAT_CAPACITY_J_KG_K,
        loss_w_k=conductance * area,
        fast_kg=volatile * fast,
        slow_kg=volatile * (1.0 - fast),
    )


def start_state(thermal: BaleThermal, temperature_c: float) -> HeatState:
    """Return a newly wetted bale at the temperature of the air.

    Parameters
    ----------
    thermal : BaleThermal
        The bale.
    temperature_c : float
        Its temperature [degC], finite (ValueError otherwise).

    Returns
    -------
    HeatState
        The state before the first step.

    References
    ----------
    The constants of this module with their sources.
    """
    if not math.isfinite(temperature_c):
        raise ValueError(f"temperature_c must be a finite temperature, got {temperature_c}")
    return HeatState(
        temperature_c=temperature_c,
        fast_kg=thermal.fast_kg,
        slow_kg=thermal.slow_kg,
        hold=HOLD_AT_START,
        available_g=OWN_NITROGEN_G_KG * thermal.dry_kg,
    )


def feed(state: HeatState, feeding: Feeding) -> None:
    """Add a feeding's nitrogen: at once available, or bound until it is mineralised.

    Parameters
    ----------
    state : HeatState
        Changed in place.
    feeding : Feeding
        Nitrogen per bale [g N], 0 to 2000 (ValueError otherwise).

    References
    ----------
    [7] Hartz and Johnstone 2006.
    """
    _refuse_outside("nitrogen_g", feeding.nitrogen_g, 0.0, _MOST_NITROGEN_G)
    if feeding.organic:
        state.bound_g += feeding.nitrogen_g
    else:
        state.available_g += feeding.nitrogen_g


def working_rate(state: HeatState, thermal: BaleThermal) -> float:
    """Return the share of full speed at which decomposers that took hold would work.

    The product of the responses to temperature, moisture and nitrogen.

    Parameters
    ----------
    state, thermal : HeatState, BaleThermal
        The bale now.

    Returns
    -------
    float
        Share [0 to 1].

    References
    ----------
    `growth_response`; the nitrogen term is calibrated.
    """
    nitrogen = state.available_g / (state.available_g + HALF_NITROGEN_G_KG * thermal.dry_kg)
    return (
        nitrogen
        * decomposition_temperature_response(state.temperature_c)
        * decomposition_moisture_response(thermal.moisture_fraction)
    )


def advance(state: HeatState, thermal: BaleThermal, air_c: float, days: float) -> None:
    """Move a bale forward by one step in steady air.

    Matter decays exactly within the step at the rate of its start; temperature then moves along
    the exact exponential towards where that heat would hold it, so the new temperature lies
    between the two whatever the step. The temperature after a step is bounded by air_c below
    (or the old one) and by the fast matter's full heat above.

    Parameters
    ----------
    state : HeatState
        Changed in place.
    thermal : BaleThermal
        The bale.
    air_c : float
        Air temperature over the step [degC], finite (ValueError otherwise).
    days : float
        Length of the step [d], above 0 to 1 (ValueError otherwise); steps of a quarter day are
        what the calibration holds for.

    References
    ----------
    [1] Mason 2006; the integration is the exponential Euler method.
    """
    if not math.isfinite(air_c):
        raise ValueError(f"air_c must be a finite temperature, got {air_c}")
    if not 0.0 < days <= 1.0:
        raise ValueError(f"days must lie above 0 and up to 1, got {days}")
    if state.bound_g > 0.0:
        released = -state.bound_g * math.expm1(-ORGANIC_RELEASE_PER_DAY * days)
        state.bound_g -= released
        state.available_g += released
    rate = working_rate(state, thermal)
    seconds = days * _SECONDS_PER_DAY
    fast_gone = slow_gone = 0.0
    if rate > 0.0:
        # The logistic growth of the hold, solved exactly: it can reach 1 but not pass it.
        grown = state.hold * math.exp(TAKE_HOLD_RATE_PER_DAY * rate * days)
        state.hold = min(1.0, grown / (1.0 - state.hold + grown))
        work = rate * state.hold * days
        fast_gone = -state.fast_kg * math.expm1(-FAST_RATE_PER_DAY * work)
        slow_gone = -state.slow_kg * math.expm1(-SLOW_RATE_PER_DAY * work)
        state.fast_kg -= fast_gone
        state.slow_kg -= slow_gone
    heat = HEAT_OF_DECOMPOSITION_J_KG * (fast_gone + slow_gone)
    settled = air_c + heat / seconds / thermal.loss_w_k
    approach = -math.expm1(-thermal.loss_w_k * seconds / thermal.heat_capacity_j_k)
    gap = settled - state.temperature_c
    # The loss is the integral of UA (T - air) along the exponential.
    state.loss_j += (
        thermal.loss_w_k * (settled - air_c) * seconds - thermal.heat_capacity_j_k * gap * approach
    )
    state.temperature_c += gap * approach
    state.heat_j += heat
    state.fast_power_w = HEAT_OF_DECOMPOSITION_J_KG * fast_gone / seconds


def _refuse_outside(name: str, value: float, lowest: float, highest: float) -> None:
    if not lowest <= value <= highest:
        raise ValueError(f"{name} must lie between {lowest:g} and {highest:g}, got {value}")
