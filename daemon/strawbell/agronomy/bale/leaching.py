"""Feed that rain carries out of a bale: a range between two ways water can run through it.

Both models were made for soil, and no measurement on bales was found; so the answer is a range.

* Least: water pushes what it meets ahead of itself, slowly, through the whole height of the bale
  (Burns [1]), and drains only once a bale kept at 60 % moisture has filled up.
* Most: all the rain drains, and mixes at once with the half of the water that lies between the
  straws, where fresh feed is (mixed layer, as in SWAT [2]).

Limits: a bale channels. Rain that runs down the sides or through gaps takes less than the second
model says; feed still lying dry on top in a cloudburst can lose more. Waterings are not counted.

References
----------
[1] I. G. Burns, "An equation to predict the leaching of surface-applied nitrate", Journal of
    Agricultural Science 85:443-454 (1975). The form of the exponent is from memory; for thin
    layers it becomes exp(-z theta / I), which D. R. Scotter et al. (1993) give.
[2] SWAT+ documentation, nitrate movement,
    https://swatplus.gitbook.io/io-docs/nutrient-transport/nitrate-movement; the equation is from
    memory.
[3] UC ANR Publication 8559 (2016): straw kept moist through conditioning; 50 to 60 % moisture by
    "The composting handbook", Table 4.2.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from strawbell.agronomy.bale.size_and_mass import top_area_m2, volume_l
from strawbell.agronomy.bale.straw import water_held_l, water_to_reach
from strawbell.agronomy.ranges import within
from strawbell.model.garden import Bale

EXCLUDED_SHARE = 0.5
"""Share of the held water that fresh feed has not reached, inside the straws: the default of
SWAT for the water that shuts out nitrate [2], from memory."""
MOST_DRAINED_MM = 20_000.0
MOST_DEPTH_CM = 400.0
MM_PER_CM = 10.0
WHOLE_PERCENT = 100.0


@dataclass(frozen=True, slots=True)
class BaleWater:
    """What leaching asks of a bale.

    `depth_cm` its height, `held_percent` the water it holds [% of its volume], `held_mm` the same
    over its top, `room_mm` the rain a bale at 60 % moisture takes up before it drains.
    """

    depth_cm: float
    held_percent: float
    held_mm: float
    room_mm: float


@dataclass(frozen=True, slots=True)
class Share:
    """A share from the least to the most, each 0 to 1."""

    low: float
    high: float


def displaced_share(drained_cm: float, held_percent: float, depth_cm: float) -> float:
    """Return the share of a surface dose that has been pushed below a depth (Burns).

    Parameters
    ----------
    drained_cm : float
        Water drained since the dose [cm], 0 to 2000; outside ValueError.
    held_percent : float
        Water held after draining [% of volume], over 0 to 100; outside ValueError.
    depth_cm : float
        Depth below the surface [cm], 0 to 400; outside ValueError.

    Returns
    -------
    float
        f = (P / (P + V/100))^h, 0 to 1.

    References
    ----------
    .. [1] Burns (1975), exponent from memory.
    """
    within("drained_cm", drained_cm, 0.0, MOST_DRAINED_MM / MM_PER_CM, "cm")
    if held_percent == 0:
        raise ValueError("held_percent must be over 0 %, got 0")
    within("held_percent", held_percent, 0.0, WHOLE_PERCENT, "%")
    within("depth_cm", depth_cm, 0.0, MOST_DEPTH_CM, "cm")
    if drained_cm == 0:
        return 0.0 if depth_cm > 0 else 1.0
    return float((drained_cm / (drained_cm + held_percent / WHOLE_PERCENT)) ** depth_cm)


def mixed_share(drained_mm: float, held_mm: float, excluded_share: float) -> float:
    """Return the share that water carries out of a layer it mixes with (mixed layer).

    Parameters
    ----------
    drained_mm : float
        Water drained [mm], 0 to 20 000; outside ValueError.
    held_mm : float
        Water in the layer [mm], over 0 to 20 000; outside ValueError.
    excluded_share : float
        Share of that water that holds none of the dose, 0 to 0.99; outside ValueError.

    Returns
    -------
    float
        1 - exp(-w / ((1 - e) W)), 0 to 1.

    References
    ----------
    .. [1] SWAT+ documentation; the equation is from memory.
    """
    within("drained_mm", drained_mm, 0.0, MOST_DRAINED_MM, "mm")
    if held_mm == 0:
        raise ValueError("held_mm must be over 0 mm, got 0")
    within("held_mm", held_mm, 0.0, MOST_DRAINED_MM, "mm")
    within("excluded_share", excluded_share, 0.0, 0.99, "")
    return -math.expm1(-drained_mm / ((1.0 - excluded_share) * held_mm))


def bale_water(bale: Bale) -> BaleWater:
    """Return what leaching asks of a bale.

    Parameters
    ----------
    bale : Bale
        Sides 10 to 400 [cm], mass as bought 1 to 1000 [kg]; outside ValueError.

    Returns
    -------
    BaleWater
        98 mm held and 44 mm of room in a two-string bale of 20 kg.

    References
    ----------
    .. [1] Water kept by straw as in `straw.water_held_l`; at most as much as the bale is large.
    """
    volume = volume_l(bale)
    held_l = min(water_held_l(bale).value, volume)
    area = top_area_m2(bale)
    return BaleWater(
        depth_cm=bale.height_cm,
        held_percent=held_l / volume * WHOLE_PERCENT,
        held_mm=held_l / area,
        room_mm=max(0.0, held_l - water_to_reach(bale)) / area,
    )


def leached_share(water: BaleWater, rain_low_mm: float, rain_high_mm: float) -> Share:
    """Return the share of a dose that rain since has carried out of a bale, nothing being bound.

    Parameters
    ----------
    water : BaleWater
        From `bale_water`.
    rain_low_mm, rain_high_mm : float
        Rain on the top since the dose, at least and at most [mm], 0 to 20 000, the first not
        above the second; else ValueError.

    Returns
    -------
    Share
        Least and most, 0 to 1: 25 mm on a two-string bale take 0 to 0.4.

    References
    ----------
    .. [1] Burns (1975) for the least. [2] SWAT+ documentation for the most.
    """
    within("rain_high_mm", rain_high_mm, 0.0, MOST_DRAINED_MM, "mm")
    within("rain_low_mm", rain_low_mm, 0.0, rain_high_mm, "mm")
    drained_mm = max(0.0, rain_low_mm - water.room_mm)
    least = displaced_share(drained_mm / MM_PER_CM, water.held_percent, water.depth_cm)
    most = mixed_share(rain_high_mm, water.held_mm, EXCLUDED_SHARE)
    # In extreme rain on an odd bale the models may cross; the range stays one.
    return Share(min(least, most), max(least, most))
