"""What a formula says it was made for: both ends are taken, just beyond either is refused by name.

Ranges without a source are what no garden exceeds: beyond them a figure is a slip of the pen.
"""

from __future__ import annotations

from collections.abc import Callable

import pytest
from msgspec.structs import replace

from strawbell.agronomy.balance import body_of
from strawbell.agronomy.bales import (
    BALES,
    bed_area_m2,
    dry_matter_kg,
    potting_mix_l,
    spread_area_m2,
    top_area_m2,
    volume_l,
)
from strawbell.agronomy.cold_and_heat import is_clear_and_calm, plant_low, too_cold_for_seed
from strawbell.agronomy.evaporation import air_pressure, solar_day, wind_factor
from strawbell.agronomy.heat_index import heat_advice, heat_index_c
from strawbell.agronomy.surface import total_evaporable_mm
from strawbell.agronomy.watering import Canopy, in_the_open, refill, room_l, transpired_l, wash_in
from support.gardens import TOMATO

BALE = BALES["two-string"]

RANGES: tuple[tuple[str, float, float, Callable[[float], object]], ...] = (
    ("capacity", 0.0, 1.0, lambda share: total_evaporable_mm(share, 0.0, 0.1)),
    ("wilting", 0.0, 0.6, lambda share: total_evaporable_mm(0.6, share, 0.1)),
    ("depth_m", 0.001, 0.5, lambda m: total_evaporable_mm(0.6, 0.2, m)),
    ("length_cm", 10.0, 400.0, lambda cm: top_area_m2(replace(BALE, length_cm=cm))),
    ("width_cm", 10.0, 400.0, lambda cm: top_area_m2(replace(BALE, width_cm=cm))),
    ("height_cm", 10.0, 400.0, lambda cm: volume_l(replace(BALE, height_cm=cm))),
    ("height_cm", 10.0, 400.0, lambda cm: body_of(replace(BALE, height_cm=cm))),
    ("dry_mass_kg", 1.0, 1000.0, lambda kg: body_of(replace(BALE, dry_mass_kg=kg))),
    ("dry_mass_kg", 1.0, 1000.0, lambda kg: dry_matter_kg(replace(BALE, dry_mass_kg=kg))),
    ("bales", 1, 10_000, lambda count: bed_area_m2(BALE, count)),  # type: ignore[arg-type]
    ("bales", 1, 10_000, lambda count: spread_area_m2(BALE, count)),  # type: ignore[arg-type]
    ("layer_cm", 0.0, 30.0, lambda cm: potting_mix_l(BALE, 1, cm)),
    ("held_l", 0.0, 5000.0, lambda litres: refill(BALE, litres, 0.0)),
    ("rain_mm", 0.0, 2000.0, lambda mm: refill(BALE, 10.0, mm)),
    ("held_l", 0.0, 5000.0, lambda litres: room_l(BALE, litres)),
    ("held_l", 0.0, 5000.0, lambda litres: wash_in(BALE, litres, 0.0)),
    ("rain_mm", 0.0, 2000.0, lambda mm: wash_in(BALE, 10.0, mm)),
    ("area_m2", 0.0, 10.0, lambda m2: Canopy(m2, 1.0)),
    ("height_m", 0.0, 10.0, lambda m: Canopy(1.0, m)),
    ("et_mm", 0.0, 30.0, lambda mm: transpired_l(mm, Canopy(1.0, 1.0))),
    ("top_m2", 0.05, 5.0, lambda m2: in_the_open(Canopy(0.1, 1.0), m2)),
    ("cloud_percent", 0.0, 100.0, lambda percent: is_clear_and_calm(percent, 1.0)),
    ("wind_m_s", 0.0, 120.0, lambda m_s: is_clear_and_calm(10.0, m_s)),
    ("low_c", -90.0, 60.0, lambda c: plant_low(c, 10.0, 1.0)),
    ("bed_c", -90.0, 60.0, lambda c: too_cold_for_seed(TOMATO, c)),
    ("temperature_c", 10.0, 50.0, lambda c: heat_index_c(c, 20.0)),
    ("relative_humidity_percent", 0.0, 100.0, lambda rh: heat_index_c(20.0, rh)),
    ("relative_humidity_percent", 0.0, 76.2, lambda rh: heat_index_c(40.0, rh)),
    ("index_c", -90.0, 100.0, heat_advice),
    ("elevation_m", -430.0, 9000.0, air_pressure),
    ("height_m", 0.5, 200.0, wind_factor),
    ("latitude_deg", -90.0, 90.0, lambda deg: solar_day(deg, 100)),
    ("day_of_year", 1, 366, lambda day: solar_day(47.0, day)),  # type: ignore[arg-type]
)


@pytest.mark.parametrize(("name", "lowest", "highest", "formula"), RANGES)
def test_both_ends_of_a_range_are_taken_and_what_lies_beyond_is_refused_by_name(
    name: str, lowest: float, highest: float, formula: Callable[[float], object]
) -> None:
    """By a thousandth of the range, or by one of what is counted."""
    formula(lowest)
    formula(highest)
    beyond = 1 if isinstance(lowest, int) else (highest - lowest) / 1000.0
    for wrong in (lowest - beyond, highest + beyond):
        with pytest.raises(ValueError, match=name):
            formula(wrong)
