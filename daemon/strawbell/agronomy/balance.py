"""The balance of one straw bale: water, nitrogen by form, heat; one state and one step.

Three layers of equal height hold water and what is dissolved in it; feed lies on top until water
has washed it in; heat is that of the whole bale, and only the top freezes.

* Water. Straw holds what it keeps against its own drainage, and more while it pours; the free part
  drains in hours. A share runs through gaps and wets nothing. The top evaporates, the sides less,
  a dry skin less again; a hot bale gives off steam within the heat it loses.
* Nitrogen. Urea lies on top or in the water, hydrolyses to ammonium as decomposers take hold, and
  while on top a part of that goes to the air. Moving water takes urea and nitrate with it and
  ammonium less; what decomposers bind follows what they decompose, ammonium first. Organic feeds
  are set free over weeks.
* Heat. What decomposers give off, the water that comes in, and the air through a straw that
  conducts the more the wetter it is. Ice forms on top by Stefan's rule and is melted by air, sun,
  water and the warmth below.

Everything that leaves is in `Left`: water held before and come in is held after or gone, and so
with nitrogen and heat, exactly. Interception is not a store of its own: rain that wets only the
uppermost straw evaporates from it.

References:
Those of `parameters`; by letter here:

[a] J. S. Stombaugh, S. E. Nokes, Transactions of the ASAE 39:239-250 (1996).
[b] Burns (1975), SWAT+ documentation: mixing of water and solute in a layer.
[c] Stefan's solution for the depth of frost with a film over it.
"""

from __future__ import annotations

import math
from functools import lru_cache
from typing import NamedTuple

from strawbell.agronomy.bales import COMPOSITION, LARGEST_CM, SMALLEST_CM, dry_matter_kg
from strawbell.agronomy.figures import within
from strawbell.agronomy.parameters import PARAMETERS, WORKING_MOISTURE
from strawbell.agronomy.surface import WETTEST_COEFFICIENT
from strawbell.model.garden import Bale, Straw

STRAW_NITROGEN = 5.0
"""Nitrogen of dry wheat straw [g/kg]: 0.3 to 0.6 %, see `bales`."""
VOLATILE_SHARE = 0.93
"""Share of dry straw that is not ash (from memory)."""
HEAT_J_KG = 17.35e6
"""Heat of volatile solids decomposed: that of the combustion of cellulose (from memory)."""
STRAW_J_KG_K = 1500.0
WATER_J_KG_K = 4186.0
"""Heat capacities of dry straw (from memory) and of water."""
STEAM_J_KG = 2.45e6
ICE_J_KG = 334e3
"""Latent heats of water at 20 C and at its freezing."""
FULL_RATE_FROM_C = 30.0
FULL_RATE_TO_C = 55.0
HOT_LIMIT_C = 75.0
"""Corners of the rate of decay over temperature [a]: T/30 up to the first, nothing from the last on
(from memory); its answer to moisture is 5 M - 1 between 20 and 40 % of the wet mass."""
FILM_W_M2_K = 8.0
"""From a surface to the air in a light wind (from memory)."""
DRY_W_M_K = 0.055
WETTER_W_M_K = 0.408
"""Conductivity of dry straw, and its rise with the volume share of water [6]."""
COVER_M2_K_W = 0.15
"""Resistance of a tarp and the air under it: 0.1 to 0.2 (from memory)."""
COVER_AMMONIA = 0.74
"""Ammonia lost under a membrane over that in the open: 25.8 % less on compost."""
COVER_EDGE = 0.3
"""Rain driven onto the sides that a tarp's edges still let in (design choice)."""
MOST_IN_A_STEP = 0.85
"""Share of its water that a layer can give to the air at once: DSSAT, MULCHEVAP.for."""
WET_FROM = 1.0
"""Moisture from which straw evaporates and takes up water as wet straw does [kg/kg dry]."""
OWN_READY = 0.5
"""A tenth of straw's own nitrogen feeds decomposers from the start [g/kg dry] (from memory)."""
HALF_NITROGEN = 2.0
"""Free nitrogen at which decomposers work at half speed, so far as it counts [g/kg dry]."""
SURFACE_PER_DAY = 2.0
"""Rate at which ammonium on the top goes to the air or into the straw [1/d] (design choice: in
two days it is over [8])."""
HOLD_AT_START = 0.04
"""How far decomposers have taken hold of newly wetted straw (design choice)."""
TOUGH_PER_DAY = 0.002
"""Release of the rest of an organic feed [1/d] (design choice: little within a season)."""
NITRIFIES_BELOW_C = 40.0
"""No nitrification in the hot phase (compost reviews; the limit is from memory), and little while
fresh matter is left to rot (INRAE: a hundredth and less)."""
MOST_AMMONIA_LOST = 0.5
"""Most of the ammonium inside that a step loses to the air [share] (keeps a long step defined)."""
MOST_NITRIFIED = 0.1
"""Most of the ammonium that is nitrified in a day [11]."""
MOST_HYDROLYSED = 0.99
"""Urea never hydrolyses wholly in a day [1/d] (keeps the power below defined)."""
FREES_FROM_C = 10.0
"""From here on warmth hardly matters to the release of organic feeds [10]."""
SINKS_H = 18.0
"""Time in which the difference between neighbouring layers falls to 1/e (design choice: "surface
wet by 24 h", bales wetted for two days before straw is worked, mushroom growers)."""
SECONDS_PER_HOUR = 3600.0
LAYERS = 3


class State(NamedTuple):
    """One bale at one moment, per bale: water in L, nitrogen in g N, heat in degC.

    `top_l`, `middle_l`, `bottom_l` are all the water of each third, ice and free water with it;
    `ice_l` is the part of the top that is frozen. `fast_kg` and `slow_kg` are what is left to
    rot, `hold` how far decomposers have taken hold (0 to 1). `lying_urea_g` and
    `lying_ammonium_g` lie on the top; then urea, ammonium and nitrate by layer; `quick_g` and
    `tough_g` of organic feeds not yet set free; `bound_g` in decomposers; `straw_g` the straw's
    own.
    """

    top_l: float
    middle_l: float
    bottom_l: float
    ice_l: float
    temperature_c: float
    fast_kg: float
    slow_kg: float
    hold: float
    lying_urea_g: float
    lying_ammonium_g: float
    urea_1_g: float
    urea_2_g: float
    urea_3_g: float
    ammonium_1_g: float
    ammonium_2_g: float
    ammonium_3_g: float
    nitrate_1_g: float
    nitrate_2_g: float
    nitrate_3_g: float
    quick_g: float
    tough_g: float
    bound_g: float
    straw_g: float

    @property
    def water_l(self) -> float:
        """Return all water in the bale [L]."""
        return self.top_l + self.middle_l + self.bottom_l

    @property
    def nitrogen_g(self) -> float:
        """Return all nitrogen on and in the bale [g N]."""
        return sum(self[8:23])

    @property
    def mineral_g(self) -> float:
        """Return the nitrogen that water can carry: urea, ammonium and nitrate [g N]."""
        return sum(self[8:19])


class Weather(NamedTuple):
    """What the sky does over a step of `hours`, 1 to 24.

    Mean air [degC], rain [mm] and reference evapotranspiration [mm] of the whole step, sun that
    the straw takes up [W/m2], wind at the bale [m/s].
    """

    hours: float
    air_c: float
    rain_mm: float = 0.0
    et0_mm: float = 0.0
    sun_w_m2: float = 0.0
    wind_m_s: float = 0.0


class Work(NamedTuple):
    """What a grower does to one bale at the start of a step; litres, grams of N, degC.

    `dissolved`: the feed came in water; dry urea lies on top until water takes it in. Other salts
    melt into the straw by themselves. `taken_l` is what plants drink in the step.
    """

    poured_l: float = 0.0
    water_c: float = 12.0
    urea_g: float = 0.0
    ammonium_g: float = 0.0
    nitrate_g: float = 0.0
    organic_g: float = 0.0
    dissolved: bool = False
    covered: bool = False
    taken_l: float = 0.0


NOTHING = Work()
"""No work."""


class Left(NamedTuple):
    """What went through and out of a bale in a step: L, g N, J.

    `caught_l` is rain that came in (by the sides too). Leached nitrogen is by form. `made_j` is
    what rotted gave, `brought_j` what water carried in less what it carried out, `lost_j` what
    went to the air through straw and ice (negative when the air warmed the bale). `worked_d` is
    not lost: it counts the days of full speed that warmth, moisture and nitrogen let decomposers
    work at, however far they have taken hold.
    """

    caught_l: float = 0.0
    drained_l: float = 0.0
    bypassed_l: float = 0.0
    evaporated_l: float = 0.0
    taken_l: float = 0.0
    air_g: float = 0.0
    urea_g: float = 0.0
    ammonium_g: float = 0.0
    nitrate_g: float = 0.0
    made_j: float = 0.0
    brought_j: float = 0.0
    lost_j: float = 0.0
    worked_d: float = 0.0

    @property
    def leached_g(self) -> float:
        """Return the nitrogen that water carried out [g N]."""
        return self.urea_g + self.ammonium_g + self.nitrate_g


class Body(NamedTuple):
    """A bale with one choice of parameters, in the form the step reads."""

    dry_kg: float
    top_m2: float
    sides_m2: float
    faces_m2: float
    half_m: float
    volume_m3: float
    keeps_l: float
    fills_l: float
    own_water_l: float
    drain_h: float
    bypass_wet: float
    bypass_dry: float
    driven: float
    sides: float
    dry_skin: float
    steam: float
    excluded: float
    sorption: float
    gap: float
    wash_mm: float
    urease: float
    urease_fresh: float
    to_air: float
    ammonia: float
    binding: float
    quick: float
    release: float
    fast: float
    fast_rate: float
    slow_rate: float
    take_hold: float
    hunger: float

    @property
    def holds_l(self) -> float:
        """Return the water the whole bale keeps against its own drainage [L]."""
        return self.keeps_l * LAYERS

    @property
    def works_l(self) -> float:
        """Return the water at which the bale works best [L]."""
        return self.dry_kg * WORKING_MOISTURE


@lru_cache(maxsize=256)
def body_of(bale: Bale, changed: tuple[tuple[str, float], ...] = ()) -> Body:
    """Return a bale with the defaults of `parameters`, or with some of them changed.

    Args:
        bale: Sides 10 to 400 [cm], mass as bought 1 to 1000 [kg]; outside ValueError.
        changed: Names of `PARAMETERS` and other values, within their ranges; else ValueError.

    Returns:
        For `step`.
    """
    figures = {name: each.default for name, each in PARAMETERS.items()}
    for name, value in changed:
        span = PARAMETERS[name]
        figures[name] = within(name, value, span.low, span.high, span.unit)
    length, width, height = (
        within(name, value, SMALLEST_CM, LARGEST_CM, "cm") / 100.0
        for name, value in (
            ("length_cm", bale.length_cm),
            ("width_cm", bale.width_cm),
            ("height_cm", bale.height_cm),
        )
    )
    dry = dry_matter_kg(bale)
    own = figures.pop("own_water")
    straw = COMPOSITION[bale.straw].water_kept_kg_per_kg.value
    wheat = COMPOSITION[Straw.WHEAT].water_kept_kg_per_kg.value
    kept = own + figures.pop("drained") * straw / wheat
    top, sides = length * width, 2.0 * (length + width) * height
    return Body(
        dry_kg=dry,
        top_m2=top,
        sides_m2=sides,
        faces_m2=2.0 * top + sides,
        half_m=min(length, width, height) / 2.0,
        volume_m3=top * height,
        keeps_l=dry * kept / LAYERS,
        fills_l=dry * max(figures.pop("saturated"), kept) / LAYERS,
        own_water_l=dry * own,
        **figures,
    )


def fresh(body: Body, air_c: float) -> State:
    """Return a dry bale as it was set out.

    Args:
        body: The bale.
        air_c: Air it has taken the warmth of [degC].

    Returns:
        With its own water [L] and nitrogen [g N], and all of it still to rot.
    """
    third = body.own_water_l / LAYERS
    volatile = body.dry_kg * VOLATILE_SHARE
    return State(
        third,
        third,
        third,
        0.0,
        air_c,
        volatile * body.fast,
        volatile * (1.0 - body.fast),
        HOLD_AT_START,
        0.0,
        0.0,
        0.0,
        0.0,
        0.0,
        0.0,
        0.0,
        0.0,
        0.0,
        0.0,
        0.0,
        0.0,
        0.0,
        0.0,
        body.dry_kg * STRAW_NITROGEN,
    )


def stays_behind(moved_l: float, held_l: float, excluded: float, lag: float) -> tuple[float, float]:
    """Return the shares of two solutes that stay in a layer while water moves through it.

    Args:
        moved_l, held_l: Water that moves through and water in the layer it mixes with, in one unit;
            `held_l` above 0.
        excluded: Share of the held water that holds none of them, 0 to under 1.
        lag: How many times slower the second moves than water, from 1 on.

    Returns:
        exp(-moved / ((1 - excluded) held)) of what moves with the water, and the same with the lag,
        each 0 to 1; the same in one go or in many.

    Source: SWAT+ documentation, nitrate movement.
    """
    through = moved_l / ((1.0 - excluded) * held_l)
    return math.exp(-through), math.exp(-through / lag)


def hydrolysed_share(temperature_c: float, moisture: float, most: float, days: float) -> float:
    """Return the share of urea that hydrolyses.

    Args:
        temperature_c: Of the straw [degC].
        moisture: Water over that of well-wetted straw; from 0.8 on it no longer counts.
        most: Share in a day when warm and wet, 0 to under 1.
        days: Length [d].

    Returns:
        0 to 1: CERES takes T/40 + 0.2 and moisture + 0.2, each 0 to 1, of a daily share.

    Source: DSSAT, SOILNI.for.
    """
    warm = temperature_c / 40.0 + 0.2
    warm = 0.0 if warm < 0.0 else warm if warm < 1.0 else 1.0
    wet = moisture + 0.2
    share = most * warm * (wet if wet < 1.0 else 1.0)
    return float(1.0 - (1.0 - (share if share < MOST_HYDROLYSED else MOST_HYDROLYSED)) ** days)


def frost_depth_m(
    start_m: float,
    cold_k: float,
    hours: float,
    conductivity: float,
    latent_j_m3: float,
    film_m2_k_w: float = 1.0 / FILM_W_M2_K,
) -> float:
    """Return how deep frost has gone under a film, by Stefan's rule.

    Args:
        start_m: Depth before [m].
        cold_k: Kelvins of the air under the freezing point, less what the warmth below holds up.
        hours: Length [h].
        conductivity: Of the frozen straw [W/(m K)], above 0.
        latent_j_m3: Latent heat of the water in it [J/m3], above 0.
        film_m2_k_w: Resistance of the film over it, and of a cover.

    Returns:
        Depth after [m].

    Source: Stefan's solution with a surface film of 8 W/(m2 K).
    """
    skin = conductivity * film_m2_k_w
    grown = 2.0 * conductivity * cold_k * hours * SECONDS_PER_HOUR / latent_j_m3
    return math.sqrt((skin + start_m) ** 2 + grown) - skin


def step(  # noqa: PLR0912, PLR0915
    state: State, weather: Weather, work: Work, body: Body
) -> tuple[State, Left]:
    """Return a bale after a step of an hour to a day, and what has left it.

    One long function on purpose: a season of a bale is a few hundred steps for each of a few
    draws, and more calls would cost more than the sums.

    Args:
        state: The bale now.
        weather: The sky over the step; nothing of it negative but temperatures.
        work: What is done at its start.
        body: The bale with its parameters.

    Returns:
        Water, nitrogen and heat balance exactly; no pool is negative.
    """
    (w1, w2, w3, ice, warm, fast, slow, hold, lying_u, lying_a, u1, u2, u3, a1, a2, a3,
     n1, n2, n3, quick, tough, bound, straw) = state  # fmt: skip
    hours, air, rain, et0, sun, wind = weather
    (
        poured,
        water_c,
        fed_urea,
        fed_ammonium,
        fed_nitrate,
        fed_organic,
        dissolved,
        covered,
        thirst,
    ) = work
    (dry, top, sides_m2, faces, half, volume, keeps, fills, _own, drain_h, bypass_wet, bypass_dry,
     driven, sides, dry_skin, steam, excluded, sorption, gap, wash_mm, urease, urease_fresh, to_air,
     ammonia, binding, quick_share, release, fresh_share, fast_rate, slow_rate, take_hold,
     hunger) = body  # fmt: skip
    exp = math.exp
    days = hours / 24.0
    seconds = hours * SECONDS_PER_HOUR
    third = dry / LAYERS
    whole_fast = dry * VOLATILE_SHARE * fresh_share
    out_u = out_a = out_n = gone = 0.0
    caught = drained = bypassed = evaporated = brought = made = lost = 0.0

    # Feed.
    if fed_urea or fed_ammonium or fed_nitrate or fed_organic:
        if dissolved:
            u1 += fed_urea
        else:
            lying_u += fed_urea
        a1 += fed_ammonium
        n1 += fed_nitrate
        quick += fed_organic * quick_share
        tough += fed_organic * (1.0 - quick_share)

    # Water in.
    held = w1 + w2 + w3
    capacity = dry * STRAW_J_KG_K + held * WATER_J_KG_K
    if rain or poured:
        fallen = 0.0 if covered else rain * top
        caught = fallen + driven * wind * rain * top * (COVER_EDGE if covered else 1.0)
        came = caught + poured
        dryness = 1.0 - held / (WET_FROM * dry)
        bypass = bypass_wet
        if dryness > 0.0:
            bypass += (bypass_dry - bypass_wet) * dryness
        bypassed = bypass * came
        w1 += came - bypassed
        if lying_u > 0.0 or lying_a > 0.0:
            washed = 1.0 - exp(-(fallen + poured) / top / wash_mm)
            through = bypass * gap
            moved = lying_u * washed
            lying_u -= moved
            out_u = moved * through
            u1 += moved - out_u
            moved = lying_a * washed
            lying_a -= moved
            out_a = moved * through
            a1 += moved - out_a
        # The water that stays warms or chills the bale, and melts ice first.
        stays = 1.0 - bypass
        heat = WATER_J_KG_K * stays * (poured * water_c + caught * max(0.0, air))
        brought = heat
        if ice > 0.0 and heat > 0.0:
            melted = min(ice, heat / ICE_J_KG)
            ice -= melted
            heat -= melted * ICE_J_KG
        now = capacity + WATER_J_KG_K * stays * came
        warm = (capacity * warm + heat) / now
        capacity = now

    # Free water drains, and takes with it what is dissolved.
    free_1 = w1 - (keeps if keeps > ice else ice)
    free_2 = w2 - keeps
    free_3 = w3 - keeps
    if free_1 > 0.0 or free_2 > 0.0 or free_3 > 0.0:
        share = 1.0 - exp(-hours / drain_h)
        if free_1 > 0.0:
            over = w1 - fills
            down = free_1 * share if over < free_1 * share else over if over < free_1 else free_1
            moves, lags = stays_behind(down, w1, excluded, sorption)
            w1 -= down
            w2 += down
            free_2 += down
            u2 += u1 * (1.0 - moves)
            u1 *= moves
            n2 += n1 * (1.0 - moves)
            n1 *= moves
            a2 += a1 * (1.0 - lags)
            a1 *= lags
        if free_2 > 0.0:
            over = w2 - fills
            down = over if over > free_2 * share else free_2 * share
            moves, lags = stays_behind(down, w2, excluded, sorption)
            w2 -= down
            w3 += down
            free_3 += down
            u3 += u2 * (1.0 - moves)
            u2 *= moves
            n3 += n2 * (1.0 - moves)
            n2 *= moves
            a3 += a2 * (1.0 - lags)
            a2 *= lags
        if free_3 > 0.0:
            over = w3 - fills
            down = over if over > free_3 * share else free_3 * share
            moves, lags = stays_behind(down, w3, excluded, sorption)
            w3 -= down
            drained = down
            out_u += u3 * (1.0 - moves)
            u3 *= moves
            out_n = n3 * (1.0 - moves)
            n3 *= moves
            out_a += a3 * (1.0 - lags)
            a3 *= lags

    # What a wetter layer has over the drier one below it sinks on by itself.
    if w1 - ice > w2 or w2 > w3:
        share = 0.5 * (1.0 - exp(-hours / SINKS_H))
        down = min((w1 - w2) * share, w1 - ice)
        if down > 0.0:
            moves, lags = stays_behind(down, w1, excluded, sorption)
            w1 -= down
            w2 += down
            u2 += u1 * (1.0 - moves)
            u1 *= moves
            n2 += n1 * (1.0 - moves)
            n1 *= moves
            a2 += a1 * (1.0 - lags)
            a1 *= lags
        down = (w2 - w3) * share
        if down > 0.0:
            moves, lags = stays_behind(down, w2, excluded, sorption)
            w2 -= down
            w3 += down
            u3 += u2 * (1.0 - moves)
            u2 *= moves
            n3 += n2 * (1.0 - moves)
            n2 *= moves
            a3 += a2 * (1.0 - lags)
            a2 *= lags

    # Air and plants take water.
    wet = WET_FROM * third
    if et0 > 0.0:
        most = WETTEST_COEFFICIENT * et0
        side = most * sides * sides_m2 / LAYERS
        over = 0.0 if covered else most * top
        skin = 1.0 - dry_skin
        liquid = w1 - ice
        goes = (over + side) * (dry_skin + skin * (w1 / wet if w1 < wet else 1.0))
        most = MOST_IN_A_STEP * liquid
        goes = goes if goes < most else most
        w1 -= goes
        evaporated = goes
        goes = side * (dry_skin + skin * (w2 / wet if w2 < wet else 1.0))
        most = MOST_IN_A_STEP * w2
        goes = goes if goes < most else most
        w2 -= goes
        evaporated += goes
        goes = side * (dry_skin + skin * (w3 / wet if w3 < wet else 1.0))
        most = MOST_IN_A_STEP * w3
        goes = goes if goes < most else most
        w3 -= goes
        evaporated += goes
    taken = 0.0
    if thirst > 0.0:
        liquid = w1 - ice
        there = liquid + w2 + w3
        taken = min(thirst, MOST_IN_A_STEP * there)
        left = 1.0 - taken / there if there > 0.0 else 1.0
        w1 = ice + liquid * left
        w2 *= left
        w3 *= left

    # Decomposers: T and moisture by [a], nitrogen so far as it counts.
    free = a1 + a2 + a3 + n1 + n2 + n3
    rate = 0.0
    if 0.0 < warm < HOT_LIMIT_C:
        if warm < FULL_RATE_FROM_C:
            rate = warm / FULL_RATE_FROM_C
        elif warm <= FULL_RATE_TO_C:
            rate = 1.0
        else:
            rate = (HOT_LIMIT_C - warm) / (HOT_LIMIT_C - FULL_RATE_TO_C)
        liquid = w1 - ice
        moist = 0.0
        part = 5.0 * liquid / (liquid + third) - 1.0
        if part > 0.0:
            moist = part if part < 1.0 else 1.0
        part = 5.0 * w2 / (w2 + third) - 1.0
        if part > 0.0:
            moist += part if part < 1.0 else 1.0
        part = 5.0 * w3 / (w3 + third) - 1.0
        if part > 0.0:
            moist += part if part < 1.0 else 1.0
        ready = free + OWN_READY * dry
        rate *= moist / LAYERS * (1.0 - hunger + hunger * ready / (ready + HALF_NITROGEN * dry))
    rotted = 0.0
    if rate > 0.0:
        grown = hold * exp(take_hold * rate * days)
        hold = grown / (1.0 - hold + grown)
        worked = rate * hold * days
        goes = fast * (1.0 - exp(-fast_rate * worked))
        fast -= goes
        rotted = goes
        goes = slow * (1.0 - exp(-slow_rate * worked))
        slow -= goes
        rotted += goes
        made = HEAT_J_KG * rotted

    # Heat through the straw, part of it as steam.
    carried = (drained + evaporated + taken) * WATER_J_KG_K
    brought -= carried * warm
    capacity -= carried
    held = w1 + w2 + w3
    conductivity = DRY_W_M_K + WETTER_W_M_K * held / (1000.0 * volume)
    resistance = 1.0 / FILM_W_M2_K + half / (2.0 * conductivity)
    if covered:
        resistance += COVER_M2_K_W
    loss_w_k = faces / resistance
    reach = loss_w_k * seconds
    settled = air + made / reach
    rise = (settled - warm) * (1.0 - exp(-reach / capacity))
    lost = made - capacity * rise
    warm += rise
    if lost > 0.0 and steam > 0.0:
        boiled = min(steam * lost / STEAM_J_KG, 0.5 * (held - ice))
        evaporated += boiled
        kept = 1.0 - boiled / (held - ice) if held > ice else 1.0
        w1 = ice + (w1 - ice) * kept
        w2 *= kept
        w3 *= kept
        carried = boiled * WATER_J_KG_K
        brought -= carried * warm
        capacity -= carried

    # Ice on the top.
    if ice > 0.0 or (air < 0.0 and w1 > 0.0):
        theta = LAYERS * w1 / (1000.0 * volume)
        latent = theta * 1000.0 * ICE_J_KG
        depth = ice * ICE_J_KG / (latent * top)
        below = max(0.02, half - depth)
        up = conductivity * max(0.0, warm) / below
        before = ice
        if air < 0.0:
            over = 1.0 / FILM_W_M2_K + depth / conductivity + (COVER_M2_K_W if covered else 0.0)
            out = -air / over
            if out > up:
                cold = -air * (1.0 - up / out)
                film = 1.0 / FILM_W_M2_K + (COVER_M2_K_W if covered else 0.0)
                depth = frost_depth_m(depth, cold, hours, conductivity, latent, film)
                ice = min(w1, depth * latent * top / ICE_J_KG)
            else:
                ice = max(0.0, ice - (up - out) * top * seconds / ICE_J_KG)
        else:
            into = FILM_W_M2_K * air + sun + up
            ice = max(0.0, ice - into * top * seconds / ICE_J_KG)
        given = min(up * top * seconds, max(0.0, capacity * warm))
        warm -= given / capacity
        lost += given + ICE_J_KG * (ice - before)

    # Urea to ammonium, on the top and inside.
    skin_c = 0.5 * (warm + air)
    most = urease * (urease_fresh + (1.0 - urease_fresh) * hold)
    if lying_u > 0.0 or u1 > 0.0:
        share = hydrolysed_share(skin_c, w1 / (WORKING_MOISTURE * third), most, days)
        moved = lying_u * share
        lying_u -= moved
        lying_a += moved
        moved = u1 * share
        u1 -= moved
        a1 += moved
    if u2 > 0.0 or u3 > 0.0:
        share = hydrolysed_share(warm, 1.0, most, days)
        moved = u2 * share
        u2 -= moved
        a2 += moved
        moved = u3 * share
        u3 -= moved
        a3 += moved
    if lying_a > 0.0:
        moved = lying_a * (1.0 - exp(-SURFACE_PER_DAY * days))
        gone = moved * (to_air * COVER_AMMONIA if covered else to_air)
        lying_a -= moved
        a1 += moved - gone
    if quick > 0.0 or tough > 0.0:
        ease = 0.0 if warm <= 0.0 else warm / FREES_FROM_C if warm < FREES_FROM_C else 1.0
        moved = quick * (1.0 - exp(-release * ease * days))
        quick -= moved
        a1 += moved
        moved = tough * (1.0 - exp(-TOUGH_PER_DAY * ease * days))
        tough -= moved
        a1 += moved

    # Ammonium: to the air from inside, into decomposers, to nitrate.
    have = a1 + a2 + a3
    if have > 0.0:
        share = ammonia * exp(0.062 * (warm - 20.0)) * days
        if covered:
            share *= COVER_AMMONIA
        share = share if share < MOST_AMMONIA_LOST else MOST_AMMONIA_LOST
        gone += have * share
        left = 1.0 - share
        if warm < NITRIFIES_BELOW_C:
            share = exp(24.635 - 8227.0 / (warm + 273.15))
            share = share if share < MOST_NITRIFIED else MOST_NITRIFIED
            share *= (1.0 - fast / whole_fast) * days
            n1 += a1 * left * share
            n2 += a2 * left * share
            n3 += a3 * left * share
            left *= 1.0 - share
        a1 *= left
        a2 *= left
        a3 *= left
    if rotted > 0.0:
        own = min(straw, STRAW_NITROGEN * rotted)
        straw -= own
        bound += own
        wanted = binding * rotted - own
        have = a1 + a2 + a3
        if have > 0.0:
            moved = wanted if wanted < have else have
            left = 1.0 - moved / have
            a1 *= left
            a2 *= left
            a3 *= left
            bound += moved
            wanted -= moved
        have = n1 + n2 + n3
        if wanted > 0.0 and have > 0.0:
            moved = wanted if wanted < have else have
            left = 1.0 - moved / have
            n1 *= left
            n2 *= left
            n3 *= left
            bound += moved

    return (
        State(w1, w2, w3, ice, warm, fast, slow, hold, lying_u, lying_a, u1, u2, u3, a1, a2, a3,
              n1, n2, n3, quick, tough, bound, straw),
        Left(caught, drained, bypassed, evaporated, taken, gone, out_u, out_a, out_n,
             made, brought, lost, rate * days),
    )  # fmt: skip
