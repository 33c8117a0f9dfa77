"""The figures of the balance, and the draws that stand for their ranges."""

from __future__ import annotations

import pytest

from strawbell.agronomy.parameters import (
    DRAWS,
    HEATS,
    PARAMETERS,
    WEATHERED_HEATS,
    WORKING_MOISTURE,
)

FIGURES = """
own_water 0.136 0.04 0.37
drained 2.5 2.5 3.24
saturated 3.7 3.6 3.8
drain_h 8 3 16
bypass_wet 0.08 0 0.25
bypass_dry 0.2 0.12 0.35
driven 0.06 0 0.16
sides 0.4 0.3 0.5
dry_skin 0.4 0.28 0.52
steam 0.15 0 0.4
excluded 0.3 0 0.5
sorption 2 1 3.5
gap 0.5 0 1
wash_mm 3.5 2.5 6
urease 0.5 0.25 1.5
urease_fresh 0.2 0.05 0.6
to_air 0.33 0.05 0.44
ammonia 0.004 0.001 0.012
binding 22 16.5 34
quick 0.63 0.6 0.66
release 0.139 0.1 0.17
fast 0.13 0.01 0.22
fast_rate 0.35 0.14 0.45
slow_rate 0.0045 0.0034 0.014
take_hold 2.2 1 3.5
hunger 0.6 0 1
"""
"""Taken, least and most, as their sources have them or as they were chosen: who changes one in the
module has read something new, and changes it here."""


def test_the_figures_are_those_that_were_read_and_chosen() -> None:
    """Each with its range."""
    known = {name: (each.default, each.low, each.high) for name, each in PARAMETERS.items()}
    rows = [line.split() for line in FIGURES.split("\n") if line]
    assert known == {name: tuple(map(float, figures)) for name, *figures in rows}
    assert (WORKING_MOISTURE, HEATS, WEATHERED_HEATS) == (1.5, 0.6, 0.4)


def test_an_organic_feed_frees_about_half_in_two_weeks_and_two_thirds_in_eight() -> None:
    """Hartz and Johnstone (2006): 47 to 60 % and 60 to 66 %."""
    quick, release = PARAMETERS["quick"], PARAMETERS["release"]
    for share, rate, weeks, published in (
        (quick.default, release.low, 2, 0.47),
        (quick.high, release.high, 2, 0.60),
        (quick.low, release.high, 8, 0.60),
        (quick.high, release.high, 8, 0.66),
    ):
        freed = share * (1.0 - 2.718281828 ** (-rate * 7 * weeks))
        assert freed == pytest.approx(published, abs=0.01)


def test_every_draw_lies_within_the_ranges() -> None:
    """And three of five heat."""
    for draw in DRAWS:
        for name, value in draw.changed.items():
            assert PARAMETERS[name].low <= value <= PARAMETERS[name].high, name
    assert [draw.heats for draw in DRAWS].count(True) == 3
