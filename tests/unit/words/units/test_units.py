"""Numbers are shown as a scale, a jug, a rain gauge and a thermometer show them."""

from __future__ import annotations

import math

import pytest

from strawbell.model.feeds import LabelRate
from strawbell.model.garden import Units
from strawbell.words.units import HARD_BLANK, MINUS, Measures

METRIC = Measures(Units.METRIC)
US = Measures(Units.US)
FORMATTERS = (
    "mass",
    "water",
    "volume",
    "temperature",
    "whole_degrees",
    "rain",
    "warmth",
    "length",
    "percent",
    "hours",
    "number",
)


@pytest.mark.parametrize("formatter", FORMATTERS)
@pytest.mark.parametrize("value", [None, math.nan, math.inf, -math.inf])
@pytest.mark.parametrize("measures", [METRIC, US])
def test_what_is_not_known_is_called_unknown(
    measures: Measures, value: float | None, formatter: str
) -> None:
    assert getattr(measures, formatter)(value) == "unknown"


@pytest.mark.parametrize("formatter", FORMATTERS)
@pytest.mark.parametrize("value", [-0.0, -0.0001, -0.004])
def test_nothing_is_ever_minus_zero(formatter: str, value: float) -> None:
    assert not getattr(METRIC, formatter)(value).startswith("-0")


@pytest.mark.parametrize(
    ("mass_g", "metric", "us"),
    [
        (0.0, "0 g", "0 oz"),
        (0.01, "under 0.1 g", "under 0.1 oz"),
        (4.46, "4.5 g", "0.2 oz"),
        (88.7, "89 g", "3.1 oz"),
        (500.0, "500 g", "1 lb 2 oz"),
        (999.4, "999 g", "2 lb 3 oz"),
        (999.6, "1 kg", "2 lb 3 oz"),
        (3000.0, "3 kg", "6 lb 10 oz"),
        (1250.0, "1.25 kg", "2 lb 12 oz"),
        (45_359.237, "45.4 kg", "100 lb"),
        (453.59237, "454 g", "1 lb"),
    ],
)
def test_masses(mass_g: float, metric: str, us: str) -> None:
    assert (METRIC.mass(mass_g), US.mass(mass_g)) == (metric, us)


@pytest.mark.parametrize(
    ("mass_g", "digits", "metric", "us"),
    [
        (283.5, 0, "284", "10.0"),
        (1000.0, 0, "1000", "35.3"),
        (14.17, 1, "14.2", "0.50"),
        (-0.004, 1, "0.0", "0.00"),
        (None, 1, "unknown", "unknown"),
    ],
)
def test_masses_of_a_column_share_one_unit(
    mass_g: float | None, digits: int, metric: str, us: str
) -> None:
    """Grams or ounces however large it is, so that a row can be compared by its numbers."""
    assert METRIC.mass_in_column(mass_g, digits) == metric
    assert US.mass_in_column(mass_g, digits) == us


@pytest.mark.parametrize(
    ("volume_l", "metric", "us"),
    [
        (0.25, "0.25 L", "0.3 qt"),
        (2.5, "2.5 L", "2.6 qt"),
        (4.0, "4 L", "1.1 gal"),
        (56.8, "56.8 L", "15 gal"),
        (340.8, "341 L", "90 gal"),
    ],
)
def test_water(volume_l: float, metric: str, us: str) -> None:
    assert (METRIC.water(volume_l), US.water(volume_l)) == (metric, us)


@pytest.mark.parametrize(
    ("volume_ml", "metric", "us"),
    [
        (0.0, "none", "none"),
        (5.0, "5 ml", "1 tsp"),
        (99.0, "99 ml", "1/3 cup + 1 1/2 tbsp"),
        (100.0, "100 ml", "1/3 cup + 1 1/2 tbsp"),
        (833.3, "830 ml", "3 1/2 cups"),
        (994.0, "990 ml", "4 1/4 cups"),
        (996.0, "1 L", "4 1/4 cups"),
        (5000.0, "5 L", "1.3 gal"),
    ],
)
def test_kitchen_measures(volume_ml: float, metric: str, us: str) -> None:
    assert (METRIC.volume(volume_ml), US.volume(volume_ml)) == (metric, us)


@pytest.mark.parametrize("step", range(220))
def test_metric_kitchen_measures_are_within_five_percent(step: int) -> None:
    """From a teaspoon of 5 mL to 250 L."""
    volume_ml = 5.0 * 1.05**step
    number, unit = METRIC.volume(volume_ml).split()
    shown_ml = float(number) * {"ml": 1, "L": 1000}[unit]
    assert shown_ml == pytest.approx(volume_ml, rel=0.05)


@pytest.mark.parametrize(
    ("temperature_c", "metric", "us"),
    [
        (-3.1, "-3.1 °C", "26.4 °F"),
        (0.0, "0 °C", "32 °F"),
        (37.5, "37.5 °C", "99.5 °F"),
        (-17.78, "-17.8 °C", "0 °F"),
    ],
)
def test_temperatures(temperature_c: float, metric: str, us: str) -> None:
    assert (METRIC.temperature(temperature_c), US.temperature(temperature_c)) == (metric, us)


@pytest.mark.parametrize(
    ("temperature_c", "metric", "us"),
    [
        (0.4, "0.4", "33"),
        (-0.4, "-0.4", "31"),
        (0.2, "0.2", "32.4"),
        (-0.2, "-0.2", "31.6"),
        (0.04, "0", "32"),
        (0.0, "0", "32"),
        (-3.1, "-3", "26"),
        (8.6, "9", "47"),
    ],
)
def test_whole_degrees_never_hide_the_side_of_freezing(
    temperature_c: float, metric: str, us: str
) -> None:
    assert (METRIC.whole_degrees(temperature_c), US.whole_degrees(temperature_c)) == (metric, us)


@pytest.mark.parametrize(
    ("rain_mm", "metric", "us"),
    [
        (0.0, "0 mm", "0 in"),
        (0.02, "under 0.1 mm", "under 0.01 in"),
        (12.6, "12.6 mm", "0.5 in"),
        (12.7, "12.7 mm", "0.5 in"),
        (18.4, "18.4 mm", "0.72 in"),
    ],
)
def test_rain(rain_mm: float, metric: str, us: str) -> None:
    assert (METRIC.rain(rain_mm), US.rain(rain_mm)) == (metric, us)


@pytest.mark.parametrize(
    ("length_cm", "metric", "us"),
    [
        (0.6, "6 mm", "1/4 in"),
        (4.0, "4 cm", "1 1/2 in"),
        (30.0, "30 cm", "12 in"),
        (0.1, "1 mm", "0.04 in"),
        (1.27, "1.5 cm", "1/2 in"),
        (7.6, "8 cm", "3 in"),
        (45.7, "45 cm", "18 in"),
        (61.0, "60 cm", "24 in"),
        (183.0, "1.8 m", "6 ft"),
        (244.0, "2.4 m", "8 ft"),
    ],
)
def test_lengths(length_cm: float, metric: str, us: str) -> None:
    assert (METRIC.length(length_cm), US.length(length_cm)) == (metric, us)


@pytest.mark.parametrize(
    ("mass_g", "metric", "us"),
    [
        (30.0, "30 g", "1.1 oz"),
        (44.7, "45 g", "1.6 oz"),
        (89.2, "90 g", "3.1 oz"),
        (226.8, "225 g", "8 oz"),
        (420.6, "420 g", "15 oz"),
    ],
)
def test_feed_is_weighed_out_as_a_kitchen_scale_shows_it(
    mass_g: float, metric: str, us: str
) -> None:
    """Within 5 %, which no bale knows; a little is weighed to the gram."""
    for measures, said in ((METRIC, metric), (US, us)):
        assert measures.mass(measures.dose_g(mass_g)) == said
        assert measures.dose_g(mass_g) == pytest.approx(mass_g, rel=0.05)


@pytest.mark.parametrize(
    ("hours", "said"),
    [
        (0.0, "less than a minute"),
        (0.4, "24 min"),
        (0.94, "56 min"),
        (0.96, "1 h"),
        (24.0, "24 h"),
        (47.4, "47 h"),
        (48.0, "2 days"),
    ],
)
def test_spans(hours: float, said: str) -> None:
    assert METRIC.hours(hours) == said


def test_a_dilution_is_said_for_the_can_in_use() -> None:
    liquid, powder = LabelRate(ml_per_l=20.0), LabelRate(g_per_l=4.0)
    assert METRIC.rate(liquid) == "20 ml to each litre of water"
    assert US.rate(liquid) == "1/4 cup + 1 tbsp to each gallon of water"
    assert METRIC.rate(powder) == "4 g to each litre of water"
    assert US.rate(powder) == "0.5 oz to each gallon of water"
    assert METRIC.rate(None) == "unknown"


def test_print_has_a_real_minus_and_holds_number_and_unit_together() -> None:
    assert Measures(typographic=True).temperature(-3.1) == f"{MINUS}3.1{HARD_BLANK}°C"


def test_text_has_a_minus_that_every_terminal_knows() -> None:
    assert "-" in METRIC.temperature(-3.1)
    assert MINUS not in METRIC.temperature(-3.1)
