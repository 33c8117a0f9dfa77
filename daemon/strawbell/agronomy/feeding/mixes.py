"""Moisture and carbon-to-nitrogen of a mix, and what brings either to a goal.

References
----------
[1] Cornell Waste Management Institute (1996), "Compost mixture calculations",
    https://css.cornell.edu/cwmi/compost/calc/2.html: the symbols; after R. Rynk (ed.), "On-farm
    composting handbook", NRAES-54 (1992). The algebra is from memory and is confirmed by putting
    each answer back into the sums.
[2] "The composting handbook" (successor of NRAES-54), Table 4.2: C:N 20 to 60 acceptable, 25 to
    40 ideal; moisture 40 to 65 % acceptable, 50 to 60 % ideal.
[3] Nitrogen that straw lacks, X = C/A - N, http://www.cacn.jp/soil/making.html
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from strawbell.agronomy.ranges import within

WHOLE_PERCENT = 100.0
IDEAL_CARBON_TO_NITROGEN = (25.0, 40.0)
ACCEPTABLE_CARBON_TO_NITROGEN = (20.0, 60.0)
"""Ratio of a mix that rots well and that rots at all [2]."""
HEAVIEST_KG = 1e6


@dataclass(frozen=True, slots=True)
class Ingredient:
    """One part of a mix: wet mass [kg], moisture [% wet], carbon and nitrogen [% of dry matter].

    Mass 0 to 1 000 000, moisture 0 to 100, carbon and nitrogen 0 to 100 together; else ValueError.
    """

    mass_kg: float
    moisture_percent: float
    carbon_percent: float = 0.0
    nitrogen_percent: float = 0.0

    def __post_init__(self) -> None:
        """Refuse what cannot be."""
        within("mass_kg", self.mass_kg, 0.0, HEAVIEST_KG, "kg")
        within("moisture_percent", self.moisture_percent, 0.0, WHOLE_PERCENT, "%")
        within("carbon_percent", self.carbon_percent, 0.0, WHOLE_PERCENT, "%")
        most = WHOLE_PERCENT - self.carbon_percent
        within("nitrogen_percent", self.nitrogen_percent, 0.0, most, "%")

    @property
    def dry_percent(self) -> float:
        """Return the dry matter [% of wet mass]."""
        return WHOLE_PERCENT - self.moisture_percent


def moisture_percent(wet_mass: float, dry_mass: float) -> float:
    """Return the moisture of a sample that was weighed wet and dried.

    Parameters
    ----------
    wet_mass, dry_mass : float
        Both in the same unit [g or kg], over 0 to 1 000 000, dry at most wet; else ValueError.

    Returns
    -------
    float
        % of the wet mass.

    References
    ----------
    .. [1] Cornell Waste Management Institute: 10 g wet and 2.3 g dry are 77 %.
    """
    if wet_mass == 0:
        raise ValueError("wet_mass must be over 0, got 0")
    within("wet_mass", wet_mass, 0.0, HEAVIEST_KG, "")
    within("dry_mass", dry_mass, 0.0, wet_mass, "")
    return (wet_mass - dry_mass) / wet_mass * WHOLE_PERCENT


def mix_moisture(parts: Iterable[Ingredient]) -> float:
    """Return the moisture of a mix, G = sum(Q M) / sum(Q).

    Parameters
    ----------
    parts : iterable of Ingredient
        Wet masses [kg] and moistures [%]; of no mass at all ValueError.

    Returns
    -------
    float
        % of the wet mass.

    References
    ----------
    .. [1] Cornell Waste Management Institute (1996).
    """
    listed = tuple(parts)
    mass = sum(part.mass_kg for part in listed)
    if mass <= 0:
        raise ValueError("parts must have a mass together")
    return sum(part.mass_kg * part.moisture_percent for part in listed) / mass


def mix_carbon_to_nitrogen(parts: Iterable[Ingredient]) -> float:
    """Return the ratio of a mix, R = sum(Q C (100 - M)) / sum(Q N (100 - M)).

    Parameters
    ----------
    parts : iterable of Ingredient
        Wet masses [kg], moistures, carbon and nitrogen [%]; of no nitrogen at all ValueError.

    Returns
    -------
    float
        kg C per kg N.

    References
    ----------
    .. [1] Cornell Waste Management Institute (1996).
    """
    listed = tuple(parts)
    nitrogen = sum(part.mass_kg * part.nitrogen_percent * part.dry_percent for part in listed)
    if nitrogen <= 0:
        raise ValueError("parts must have some nitrogen together")
    return sum(part.mass_kg * part.carbon_percent * part.dry_percent for part in listed) / nitrogen


def mass_for_moisture(first: Ingredient, second_moisture_percent: float, goal: float) -> float:
    """Return how much of a second material brings a first to a moisture.

    Parameters
    ----------
    first : Ingredient
        What is there [kg, %].
    second_moisture_percent : float
        Moisture of what is added [%], 0 to 100; outside ValueError.
    goal : float
        Wanted moisture [%], between the two; else ValueError.

    Returns
    -------
    float
        kg, wet: Q2 = Q1 (G - M1) / (M2 - G).

    References
    ----------
    .. [1] Cornell Waste Management Institute: 10 kg of grass at 77 % take 6.8 kg of leaves at
       35 % for 60 %.
    """
    within("second_moisture_percent", second_moisture_percent, 0.0, WHOLE_PERCENT, "%")
    within("goal", goal, 0.0, WHOLE_PERCENT, "%")
    lacking = goal - first.moisture_percent
    bringing = second_moisture_percent - goal
    if lacking == 0:
        return 0.0
    if lacking * bringing <= 0:
        raise ValueError(
            f"goal must lie between the moistures of the two materials, "
            f"{first.moisture_percent:g} and {second_moisture_percent:g} %, got {goal:g}"
        )
    return first.mass_kg * lacking / bringing


def mass_for_ratio(first: Ingredient, second: Ingredient, goal: float) -> float:
    """Return how much of a second material brings a first to a carbon-to-nitrogen ratio.

    Parameters
    ----------
    first : Ingredient
        What is there [kg, %].
    second : Ingredient
        What is added; its own mass is not used. Without dry matter ValueError.
    goal : float
        Wanted ratio [kg C per kg N], 1 to 1000, and reached by adding; else ValueError.

    Returns
    -------
    float
        kg, wet: Q2 = Q1 (C1 - R N1) (100 - M1) / ((R N2 - C2) (100 - M2)).

    References
    ----------
    .. [1] Cornell Waste Management Institute: 10 kg of grass (2.4 % N, 45 % C, 77 %) take 3.5 kg
       of leaves (0.75 % N, 50 % C, 35 %) for 30:1; inputs from memory.
    """
    within("goal", goal, 1.0, 1000.0, "")
    over = first.mass_kg * (first.carbon_percent - goal * first.nitrogen_percent)
    lacking = over * first.dry_percent
    bringing = (goal * second.nitrogen_percent - second.carbon_percent) * second.dry_percent
    if lacking == 0:
        return 0.0
    if lacking * bringing <= 0:
        raise ValueError(f"goal of {goal:g} is not reached by adding the second material")
    return lacking / bringing


def nitrogen_lacking_percent(carbon_percent: float, nitrogen_percent: float, goal: float) -> float:
    """Return the nitrogen that straw lacks for a ratio, X = C/A - N, never under 0.

    Parameters
    ----------
    carbon_percent, nitrogen_percent : float
        Of the dry matter [%], 0 to 100; outside ValueError.
    goal : float
        Wanted ratio [kg C per kg N], 1 to 1000; outside ValueError.

    Returns
    -------
    float
        % of the dry matter: 0.8 for rice straw of 42 % C and 0.6 % N for 30:1.

    References
    ----------
    .. [1] http://www.cacn.jp/soil/making.html
    """
    within("carbon_percent", carbon_percent, 0.0, WHOLE_PERCENT, "%")
    within("nitrogen_percent", nitrogen_percent, 0.0, WHOLE_PERCENT, "%")
    within("goal", goal, 1.0, 1000.0, "")
    return max(0.0, carbon_percent / goal - nitrogen_percent)
