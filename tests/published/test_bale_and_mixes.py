"""Bales, straw and mixes against what is published of them.

Each row: what, computed, printed, tolerance (last printed digit of the source), source. "by
arithmetic" stands where the source prints the inputs and the answer follows from them.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from strawbell.agronomy.bale.size_and_mass import (
    BALES,
    LIFT_BY_ONE_KG,
    bulk_density_kg_m3,
    first_soak_l,
    soaked_mass,
    top_area_m2,
)
from strawbell.agronomy.bale.straw import (
    COMPOSITION,
    carbon_to_nitrogen,
    dry_matter_kg,
    moisture_with,
    water_held_l,
    water_to_reach,
)
from strawbell.agronomy.feeding.mixes import (
    Ingredient,
    mass_for_moisture,
    mass_for_ratio,
    mix_carbon_to_nitrogen,
    mix_moisture,
    moisture_percent,
    nitrogen_lacking_percent,
)
from strawbell.model.garden import Bale, Straw

LB_KG = 0.45359237
US_GAL_L = 3.785411784
TWO = BALES["two-string"]
BUILDING = Bale("building", 90.0, 45.0, 36.8, 20.0)
"""20 kg in 0.149 m3, from the sides of a straw-building reference."""

CORNELL = (
    "Cornell Waste Management Institute, calculating moisture, quoted by "
    "http://jerrysplantsonline.com/Website%20Articles/calculating_moisture_content.new.htm"
)
CORNELL_RATIO = "Cornell Waste Management Institute, C/N example, inputs from memory"
LACKING = "X = C/A - N, http://www.cacn.jp/soil/making.html"
MISSISSIPPI = (
    "Mississippi State Univ. Extension, Growing in the bale, "
    "https://vdocuments.net/growing-in-the-bale-mississippi-state-univ.html"
)
RESEARCH_1918 = (
    "Journal of Agricultural Research 14(4):187 (1918), https://docslib.org/doc/10563546/"
)
NRCS = "USDA NRCS, C:N ratios in cropping systems, Table 1, quoted"
WORKBOOK = "https://docslib.org/doc/12269573/ (48 % C, 0.5 % N)"
BY_ARITHMETIC = "by arithmetic from the published days and cups; straw of 47 % C and 0.5 % N"

GRASS = Ingredient(10.0, 77.0, 45.0, 2.4)
LEAVES = Ingredient(1.0, 35.0, 50.0, 0.75)


def bale_of(pounds: float) -> Bale:
    return replace(TWO, dry_mass_kg=pounds * LB_KG)


def ratio_after(nitrogen_g: float) -> float:
    """Return C:N of 17.6 kg of dry straw (47 % C, 0.5 % N) with nitrogen added."""
    straw = Ingredient(17.6, 0.0, 47.0, 0.5)
    return mix_carbon_to_nitrogen([straw, Ingredient(nitrogen_g / 1000, 0.0, 0.0, 100.0)])


ROWS = [
    ("wet 10 g, dry 2.3 g [%]", moisture_percent(10.0, 2.3), 77.0, 0.5, CORNELL),
    ("leaves for 60 % [kg]", mass_for_moisture(GRASS, 35.0, 60.0), 6.8, 0.05, CORNELL),
    (
        "moisture with 6.8 kg of leaves [%]",
        mix_moisture([GRASS, Ingredient(6.8, 35.0)]),
        60.0,
        0.05,
        CORNELL,
    ),
    ("leaves for 30:1 [kg]", mass_for_ratio(GRASS, LEAVES, 30.0), 3.5, 0.05, CORNELL_RATIO),
    (
        "ratio with 3.474 kg of leaves",
        mix_carbon_to_nitrogen([GRASS, Ingredient(3.474, 35.0, 50.0, 0.75)]),
        30.0,
        0.05,
        CORNELL_RATIO,
    ),
    ("rice straw lacks [%]", nitrogen_lacking_percent(42.0, 0.6, 30.0), 0.8, 0.05, LACKING),
    (
        "wheat straw lacks for 30:1 [g a bale]",
        nitrogen_lacking_percent(47.0, 0.5, 30.0) * 176.0,
        188.0,
        0.5,
        LACKING + ", by arithmetic for 17.6 kg",
    ),
    (
        "wheat straw lacks for 25:1 [g a bale]",
        nitrogen_lacking_percent(47.0, 0.5, 25.0) * 176.0,
        243.0,
        0.5,
        LACKING + ", by arithmetic for 17.6 kg",
    ),
    (
        "wheat straw lacks for 40:1 [g a bale]",
        nitrogen_lacking_percent(47.0, 0.5, 40.0) * 176.0,
        119.0,
        0.5,
        LACKING + ", by arithmetic for 17.6 kg",
    ),
    ("urea, FS109E (184 g): C:N", ratio_after(184.0), 30.4, 0.05, BY_ARITHMETIC),
    ("ammonium sulfate, FS109E (224 g): C:N", ratio_after(224.0), 26.5, 0.05, BY_ARITHMETIC),
    ("Georgia (186 g): C:N", ratio_after(186.0), 30.2, 0.05, BY_ARITHMETIC),
    ("Florida (149 g): C:N", ratio_after(149.0), 34.9, 0.05, BY_ARITHMETIC),
    ("Montana (248 g): C:N", ratio_after(248.0), 24.6, 0.05, BY_ARITHMETIC),
    ("Tennessee (122 g): C:N", ratio_after(122.0), 39.4, 0.05, BY_ARITHMETIC),
    ("NC State (22 g): C:N", ratio_after(22.0), 75.0, 0.5, BY_ARITHMETIC),
    ("Mississippi (51 g): C:N", ratio_after(51.0), 59.5, 0.05, BY_ARITHMETIC),
    ("Mississippi (103 g): C:N", ratio_after(103.0), 43.3, 0.05, BY_ARITHMETIC),
    ("Oregon (147 g): C:N", ratio_after(147.0), 35.2, 0.05, BY_ARITHMETIC),
    ("straw as bought: C:N", ratio_after(0.0), 94.0, 0.5, BY_ARITHMETIC),
    ("wheat straw: C:N", carbon_to_nitrogen(TWO).value, 96.0, 0.5, WORKBOOK),
    ("wheat straw: lowest C:N", carbon_to_nitrogen(TWO).low, 80.0, 0.5, NRCS),
    (
        "oat straw: C:N",
        carbon_to_nitrogen(replace(TWO, straw=Straw.OAT)).value,
        70.0,
        2.0,
        NRCS + "; 0.7 % N gives 68.6",
    ),
    (
        "rye straw: C:N",
        carbon_to_nitrogen(replace(TWO, straw=Straw.RYE)).value,
        82.0,
        1.0,
        NRCS,
    ),
    (
        "oat straw: highest C:N",
        carbon_to_nitrogen(replace(TWO, straw=Straw.OAT)).high,
        96.0,
        0.5,
        WORKBOOK,
    ),
    ("20 kg to 50 % [L]", water_to_reach(TWO, 0.12, 0.50), 15.2, 0.05, "by arithmetic"),
    ("20 kg to 60 % [L]", water_to_reach(TWO, 0.12, 0.60), 24.0, 0.05, "by arithmetic"),
    ("20 kg to 65 % [L]", water_to_reach(TWO, 0.12, 0.65), 30.3, 0.05, "by arithmetic"),
    ("wheat: water kept [kg/kg]", water_held_l(TWO).value / 20, 2.20, 0.005, RESEARCH_1918),
    (
        "oat: water kept [kg/kg]",
        COMPOSITION[Straw.OAT].water_kept_kg_per_kg.value,
        2.28,
        0.005,
        RESEARCH_1918 + "; row names from memory",
    ),
    (
        "barley: water kept [kg/kg]",
        COMPOSITION[Straw.BARLEY].water_kept_kg_per_kg.value,
        2.85,
        0.005,
        RESEARCH_1918 + "; row names from memory",
    ),
    (
        "wheat soaked 72 h: water kept [kg/kg]",
        water_held_l(TWO).high / 20,
        3.6,
        0.05,
        "M. J. Spiehs et al., ASABE Paper 131595738 (2013)",
    ),
    (
        "first soak of 45 lb [US gal]",
        first_soak_l(bale_of(45.0)) / US_GAL_L,
        15.0,
        0.5,
        MISSISSIPPI,
    ),
    (
        "soaked 40 lb bale [lb]",
        (bale_of(40.0).dry_mass_kg + 15 * US_GAL_L) / LB_KG,
        165.0,
        0.5,
        MISSISSIPPI + ", by arithmetic",
    ),
    (
        "soaked 45 lb bale, just filled [lb]",
        soaked_mass(bale_of(45.0), 0.0).soaked_high_kg / LB_KG,
        170.0,
        5.0,
        MISSISSIPPI + ": 165 to 175 lb by arithmetic",
    ),
    (
        "soaked 47 lb bale, drained [lb]",
        soaked_mass(bale_of(47.0), water_held_l(bale_of(47.0)).value).soaked_low_kg / LB_KG,
        150.0,
        5.0,
        "Michigan State Univ. Extension: up to 150 lb, "
        "https://www.canr.msu.edu/news/no_digging_required_straw_bale_gardening",
    ),
    ("20 kg in 0.149 m3 [kg/m3]", bulk_density_kg_m3(BUILDING), 134.0, 0.5, "by arithmetic"),
    ("dry matter of 20 kg [kg]", dry_matter_kg(TWO), 17.6, 0.05, "12 %, NRAES-54, from memory"),
    (
        "one person lifts [kg]",
        LIFT_BY_ONE_KG,
        51 * LB_KG,
        0.05,
        "NIOSH, 51 lb, https://www.osha.gov/SLTC/etools/poultry/additional_material/niosh.html",
    ),
    (
        "1 in of rain on 0.42 m2 [L]",
        top_area_m2(replace(TWO, length_cm=93.3)) * 25.4,
        10.66,
        0.05,
        "by arithmetic",
    ),
]


@pytest.mark.parametrize(
    ("what", "computed", "printed", "tolerance", "source"), ROWS, ids=[row[0] for row in ROWS]
)
def test_the_published_value_comes_out(
    what: str, computed: float, printed: float, tolerance: float, source: str
) -> None:
    """Within the last printed digit."""
    assert computed == pytest.approx(printed, abs=tolerance), (what, source)


@pytest.mark.parametrize(("kept", "wet_basis_percent"), [(2.20, 68.8), (2.28, 69.5), (2.85, 74.0)])
def test_soaked_straw_of_1918_has_the_moisture_that_follows(
    kept: float, wet_basis_percent: float
) -> None:
    """As water over water and straw as weighed; of the dry matter it is a little more."""
    as_weighed = moisture_percent(1.0 + kept, 1.0)
    assert as_weighed == pytest.approx(wet_basis_percent, abs=0.05)
    assert moisture_with(TWO, kept * TWO.dry_mass_kg) * 100 > as_weighed


@pytest.mark.parametrize("pounds", [40.0, 45.0, 50.0])
def test_the_first_soak_lies_in_the_published_range(pounds: float) -> None:
    """15 US gal for 40 to 50 lb are 2.5 to 3.1 L per kg [Mississippi State]."""
    assert 2.5 <= first_soak_l(bale_of(pounds)) / (pounds * LB_KG) <= 3.13


def test_there_are_forty_rows() -> None:
    """A table that shrinks unnoticed checks nothing."""
    assert len(ROWS) >= 40
