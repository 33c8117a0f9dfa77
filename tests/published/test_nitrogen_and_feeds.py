"""What cups weigh, what they bring of nitrogen, and what published sequences add up to.

Each row names its source and its tolerance. Where a source gives a range of densities, the
figure used must fall into it or the row says by how much it may miss. Totals per sequence are
not printed by the sources; they follow from the printed days, cups and analysis.
"""

from __future__ import annotations

import pytest

from strawbell.agronomy.bales import BALES, dry_matter_kg
from strawbell.agronomy.doses import (
    FINISHING_NITROGEN_G,
    ceiling_g,
    dosed,
    finishing_dose,
    full_doses,
    nitrogen_dose,
    planned_g,
)
from strawbell.agronomy.feeds import FEEDS, PHOSPHORUS_IN_PHOSPHATE, POTASSIUM_IN_POTASH
from strawbell.agronomy.schedules import SCHEDULES
from strawbell.model.feeds import Feed, Label
from strawbell.model.garden import Schedule, ScheduleDay, Work
from support.gardens import batch

US_CUP_ML = 236.5882365
"""By definition."""
KG_PER_L_IN_LB_PER_FT3 = 0.45359237 / 28.316847
"""By definition of the pound and the inch."""
TABLE = (
    '"Estimated physical characteristics of fertilizer", extension table, '
    "https://studylib.net/doc/18119690/estimated-physical-characteristics-of-fertilizer"
)
FARM_SUPPLY = (
    "farm-supply table, https://angolatransparency.blog/en/what-does-dry-fertilizer-weigh/"
)
GARDEN_MEASURE = "https://cropideas.net/gardenmeasure.html: 1 quart of urea is 1.6 lb"
FS109E = (
    "WSU Extension FS109E as restated by K-State Research and Extension, Rawlins County, "
    "https://blogs.k-state.edu/rawlins/straw-bale-gardening/"
)
UGA = (
    "University of Georgia CAES news, 2 June 1997, "
    "https://newswire.caes.uga.edu/story/264/hay-bale-gardening.html"
)
CLAY = "UF/IFAS Clay County, Hay bale gardening, https://vdocuments.mx/hay-bale-gardening-florida-579121a187406.html"
MONTANA = (
    "Montana State University Extension, Carbon County (2018), "
    "http://www.madisoniannews.com/columns/natural-resource-news-2"
)
TENNESSEE = "extension column after University of Tennessee (2017), http://aidaia.com/2017/05/09/"
NC_STATE = (
    "NC State Extension Gardener (2009), second-hand, "
    "https://eatinginraleigh.wordpress.com/2009/06/18/straw-bale-gardening/"
)

NITRATE = Feed("Ammonium nitrate", Label(34, 0, 0), density_kg_per_l=0.90)
"""34-0-0 at the middle of 54 to 58 lb/ft3; in the tests only, it is not offered to growers."""
NITRATE_33 = Feed("33-0-0", Label(33, 0, 0), density_kg_per_l=0.90)
UREA, SULFATE, BALANCED = FEEDS["Urea"], FEEDS["Ammonium sulfate"], FEEDS["Balanced"]

# feed, lowest and highest published lb/ft3, how far outside the figure used may lie, source
DENSITIES = [
    (UREA, 44.0, 48.0, 0.0, TABLE),
    (UREA, 48.0, 52.0, 0.025, FARM_SUPPLY),
    (UREA, 47.9, 47.9, 0.025, GARDEN_MEASURE),
    (SULFATE, 63.0, 66.0, 0.010, TABLE + ", crystals"),
    (SULFATE, 60.0, 64.0, 0.0, FARM_SUPPLY),
    (NITRATE, 54.0, 58.0, 0.0, TABLE + ", prills"),
    (NITRATE, 58.0, 62.0, 0.033, FARM_SUPPLY),
]


@pytest.mark.parametrize(("feed", "low", "high", "miss", "source"), DENSITIES)
def test_bulk_densities_lie_in_the_published_ranges(
    feed: Feed, low: float, high: float, miss: float, source: str
) -> None:
    """Sources spread; `miss` says by what share the figure used lies outside one of them."""
    assert feed.density_kg_per_l is not None
    least = low * KG_PER_L_IN_LB_PER_FT3 * (1 - miss)
    most = high * KG_PER_L_IN_LB_PER_FT3 * (1 + miss)
    assert least <= feed.density_kg_per_l <= most, source


# feed, US cups, lowest and highest g of N from the published densities, source
NITROGEN_OF_CUPS = [
    (UREA, 0.5, 38.3, 41.9, TABLE + ": 167 to 182 g a cup, 46 % N"),
    (UREA, 0.25, 19.1, 20.9, TABLE + ": 167 to 182 g a cup, 46 % N"),
    (SULFATE, 1.0, 47.6, 51.0, FARM_SUPPLY + ": 227 to 243 g a cup, 21 % N"),
    (SULFATE, 0.5, 23.8, 25.6, FARM_SUPPLY + ": 227 to 243 g a cup, 21 % N"),
    (NITRATE, 0.5, 34.7, 37.4, TABLE + ": 204 to 220 g a cup, 34 % N"),
    (BALANCED, 1.0, 22.6, 22.8, "W. Reeves (Georgia), 3 cups of 10-10-10 weigh about 1.5 lb"),
    (FEEDS["Blood meal"], 1.0, 15.6, 21.3, "0.55 to 0.75 kg/L from memory, 12 % N"),
]


def nitrogen_of_cups_g(feed: Feed, cups: float) -> float:
    """Return the cups over those that a dose of 1 g of nitrogen takes."""
    per_gram = nitrogen_dose(feed, 1.0, 1).per_bale_ml
    assert per_gram is not None
    return cups * US_CUP_ML / per_gram


@pytest.mark.parametrize(("feed", "cups", "low", "high", "source"), NITROGEN_OF_CUPS)
def test_the_nitrogen_of_a_cup_lies_in_the_range_of_the_published_densities(
    feed: Feed, cups: float, low: float, high: float, source: str
) -> None:
    """1/2 cup of urea and 1 cup of ammonium sulfate are not the same amount of nitrogen."""
    assert low <= nitrogen_of_cups_g(feed, cups) <= high, source


def test_granular_ammonium_sulfate_is_a_fifth_lighter_than_the_figure_used() -> None:
    """47 to 53 lb/ft3 [extension table]: a cup of it has 37 to 42 g of N."""
    used = nitrogen_of_cups_g(SULFATE, 1.0)
    granular = 53.0 * KG_PER_L_IN_LB_PER_FT3 * US_CUP_ML * 0.21
    assert granular / used == pytest.approx(0.85, abs=0.01)


def sequence(*rates: float) -> Schedule:
    days = tuple(
        ScheduleDay(day, Work.FEED if rate else Work.WATER, rate)
        for day, rate in enumerate(rates, 1)
    )
    return Schedule("published", "", days, len(days) + 1, ())


WSU = sequence(0, 0, 0, 1, 1, 1, 0.5, 0.5, 0.5, 0)
# sequence, cups of a full dose, feed, g of N per bale, tolerance as a share, source
SEQUENCES = [
    (WSU, 0.5, UREA, 184.0, 0.05, FS109E),
    (WSU, 1.0, SULFATE, 224.0, 0.05, FS109E),
    (WSU, 0.5, NITRATE, 163.0, 0.05, UGA + "; its balanced feed of day 10 apart"),
    (sequence(0, 0, 0, 1, 1, 1, 1, 1, 1), 0.5, SULFATE, 149.0, 0.05, CLAY),
    (sequence(*[0] * 7, 1, 1, 1, 0.5, 0.5, 0.5, 0.5), 1.0, SULFATE, 248.0, 0.05, MONTANA),
    (sequence(0, 0, 0, 1, 1, 1, 0, 0, 0, 0), 0.5, UREA, 122.0, 0.05, TENNESSEE),
    (sequence(0, 0, 0, 1, 1, 1, 0, 0, 0, 0), 0.5, SULFATE, 75.0, 0.05, TENNESSEE),
    (sequence(0, 0, 0, 1, 1, 1, 1, 1), 1 / 16, NITRATE_33, 22.0, 0.05, NC_STATE),
]


@pytest.mark.parametrize(("days", "cups", "feed", "total_g", "share", "source"), SEQUENCES)
def test_published_sequences_add_up(
    days: Schedule, cups: float, feed: Feed, total_g: float, share: float, source: str
) -> None:
    """Full doses of the sequence times the nitrogen of the cups it asks for."""
    given = full_doses(batch(schedule=days))
    assert given * nitrogen_of_cups_g(feed, cups) == pytest.approx(total_g, rel=share), source


# schedule, feed, printed total g of N per bale, tolerance as a share, source
BUILT_IN = [
    ("soak-first", 184.0, 0.05, FS109E + ", with 1/2 cup of urea"),
]


@pytest.mark.parametrize(("name", "total_g", "share", "source"), BUILT_IN)
def test_the_built_in_schedules_give_the_published_totals(
    name: str, total_g: float, share: float, source: str
) -> None:
    """At their default nitrogen."""
    own = dosed(batch(schedule=SCHEDULES[name], feed=UREA))
    given = full_doses(own) * own.nitrogen_per_full_dose_g
    assert given == pytest.approx(total_g, rel=share), source


@pytest.mark.parametrize(
    ("cups_g", "total_g"), [(40.8, 184.0), (49.7, 224.0)], ids=["urea", "ammonium sulfate"]
)
def test_the_published_cups_can_be_written_and_pass_the_limit(
    cups_g: float, total_g: float
) -> None:
    """FS109E: 1/2 cup of urea or 1 cup of ammonium sulfate a dose, per kg of dry straw."""
    bale, schedule = BALES["two-string"], SCHEDULES["soak-first"]
    per_kg = round(cups_g / dry_matter_kg(bale), 2)
    given = planned_g(
        batch(schedule=schedule, nitrogen_per_full_dose_g=per_kg * dry_matter_kg(bale))
    )
    assert given == pytest.approx(total_g, rel=0.05)
    assert given <= ceiling_g(bale)


# what, computed, printed, tolerance, source
FIGURES = [
    ("P in P2O5", PHOSPHORUS_IN_PHOSPHATE, 0.4364, 5e-5, "IUPAC abridged atomic weights"),
    ("K in K2O", POTASSIUM_IN_POTASH, 0.8301, 1e-4, "usual factor; IUPAC gives 0.83015"),
    ("P2O5 per P", 1 / PHOSPHORUS_IN_PHOSPHATE, 2.2914, 5e-4, "usual factor, from memory"),
    ("K2O per K", 1 / POTASSIUM_IN_POTASH, 1.2046, 5e-4, "usual factor, from memory"),
    ("cup of 10-10-10 [g N]", FINISHING_NITROGEN_G, 453.6 / 2 * 0.1, 0.05, UGA + "; W. Reeves"),
    ("day 10 [g]", finishing_dose(BALANCED, 1).per_bale_g, 227.0, 0.5, UGA),
    ("full dose of urea [g]", nitrogen_dose(UREA, 40.8, 1).per_bale_g, 88.7, 0.05, FS109E),
    ("full dose of AS [g]", nitrogen_dose(SULFATE, 49.7, 1).per_bale_g, 236.6, 0.1, FS109E),
]


@pytest.mark.parametrize(("what", "computed", "printed", "tolerance", "source"), FIGURES)
def test_factors_and_doses_come_out(
    what: str, computed: float, printed: float, tolerance: float, source: str
) -> None:
    """To the last printed digit of the source."""
    assert computed == pytest.approx(printed, abs=tolerance), (what, source)


def test_there_are_thirty_rows_and_more() -> None:
    """A table that shrinks unnoticed checks nothing."""
    tables = (DENSITIES, NITROGEN_OF_CUPS, SEQUENCES, BUILT_IN, FIGURES)
    assert sum(len(table) for table in tables) >= 31
