"""Details are shown with their units, bands as one, and kept documents are read back so."""

from __future__ import annotations

import math
from datetime import time

import pytest

from strawbell.model.brief import BatchOutlook
from strawbell.model.details import (
    Band,
    BatchStage,
    ConditioningEstimate,
    CoreEstimate,
    Detail,
    DryTopDetail,
    Ending,
    FeedDetail,
    HarvestDetail,
    LookDetail,
    MakeUpEstimate,
    MixDetail,
    NitrogenEstimate,
    PlantDetail,
    SoakDetail,
    SpreadDetail,
    SupportDetail,
    ThinDetail,
    TopWaterDetail,
)
from strawbell.model.garden import Units
from strawbell.words.figures import (
    READ_BACK,
    band,
    detail_figures,
    figure_words,
    outlook_figures,
    quarter,
)
from strawbell.words.units import Measures

METRIC = Measures()
FULL = PlantDetail(30.0, 8.0, Band(2, 3), 2, True, 1.2, Band(5, 9), 150.0)
OUTLOOK = BatchOutlook(
    "Row A",
    BatchStage.CONDITIONING,
    ConditioningEstimate(Band(4.0, 5.5), Band(3, None)),
    CoreEstimate(30.0, 35.0, 40.0, from_probe=True),
    NitrogenEstimate(120.0, 300.0, Band(1.0, 12.0), Band(30, 40), 2),
    MakeUpEstimate(10.0, 80.0),
    3.4,
)


@pytest.mark.parametrize(
    ("detail", "figures"),
    [
        (None, {}),
        (SoakDetail(again=False), {}),
        (SoakDetail(again=True), {"soaked_before": 1.0}),
        (FeedDetail(14), {"every_days": 14}),
        (LookDetail(2), {"week": 2}),
        (MixDetail(4.0, 17.0), {"layer_cm": 4.0, "mix_per_bale_l": 17.0}),
        (PlantDetail(30.0, 8.0), {"spacing_cm": 30.0, "edge_cm": 8.0}),
        (
            FULL,
            {
                "spacing_cm": 30.0,
                "plants_per_bale_low": 2,
                "plants_per_bale_high": 3,
                "edge_cm": 8.0,
                "rows": 2,
                "killed": 1.0,
                "depth_cm": 1.2,
                "up_in_days_low": 5,
                "up_in_days_high": 9,
                "upright_cm": 150.0,
            },
        ),
        (TopWaterDetail(time(14, 20), Band(5, None)), {"up_in_days_low": 5, "dry_at_hour": 14.33}),
        (ThinDetail(5.0), {"thin_to_cm": 5.0}),
        (SupportDetail(180.0, 230.0), {"height_cm": 180.0, "upright_cm": 230.0}),
        (HarvestDetail(Ending.LAST), {"last_harvest": 1.0}),
        (HarvestDetail(Ending.KILLED), {"last_harvest": 1.0, "killed": 1.0}),
        (HarvestDetail(Ending.TOO_LATE), {"too_late": 1.0}),
        (
            SpreadDetail(12, 5.0, Band(4.0, 6.0), Band(300.0, 500.0)),
            {
                "strings": 12,
                "spread_cm": 5.0,
                "area_m2_low": 4.0,
                "area_m2_high": 6.0,
                "nitrogen_g_low": 300.0,
                "nitrogen_g_high": 500.0,
            },
        ),
        (
            DryTopDetail(2.5, 2, time(14, 30)),
            {"water_l_per_bale": 2.5, "times_a_day": 2, "dry_at_hour": 14.5},
        ),
        (DryTopDetail(None, 1, None), {"times_a_day": 1}),
    ],
)
def test_a_document_has_every_known_number_of_a_detail(
    detail: Detail | DryTopDetail | None, figures: dict[str, float]
) -> None:
    """By the names it always had; what is unknown is not there."""
    assert detail_figures(detail) == figures


def test_a_document_has_every_estimate() -> None:
    """And nothing where nothing is known."""
    assert outlook_figures(OUTLOOK) == {
        "conditioned_days_low": 4.0,
        "conditioned_days_high": 5.5,
        "to_go_days_low": 3,
        "core_c_low": 30.0,
        "core_c_high": 40.0,
        "core_expected_c": 35.0,
        "core_from_probe": 1.0,
        "nitrogen_given_g_per_bale": 120.0,
        "nitrogen_planned_g_per_bale": 300.0,
        "nitrogen_lost_g_per_bale_low": 1.0,
        "nitrogen_lost_g_per_bale_high": 12.0,
        "carbon_to_nitrogen_low": 30,
        "carbon_to_nitrogen_high": 40,
        "unknown_rain_days": 2,
        "make_up_nitrogen_g_per_bale": 10.0,
        "make_up_feed_g_per_bale": 80.0,
        "evaporation_today_mm": 3.4,
    }
    assert outlook_figures(BatchOutlook("Row A", BatchStage.NOT_BEGUN)) == {}


@pytest.mark.parametrize(
    ("figures", "words"),
    [
        ({"core_c_low": 38.0, "core_c_high": 46.0}, "core 38 to 46 °C"),
        ({"core_c_low": 38.0}, "core at least 38 °C"),
        ({"core_c_high": 38.0}, "core at most 38 °C"),
        ({"core_c_low": 38.0, "core_c_high": 38.0}, "core 38 °C"),
        (
            {"nitrogen_lost_g_per_bale_low": 900.0, "nitrogen_lost_g_per_bale_high": 1100.0},
            "nitrogen lost 900 g to 1.1 kg a bale",
        ),
        ({"water_l_per_bale": 2.5}, "water 2.5 L a bale"),
        ({"times_a_day": 2.0}, "times a day 2"),
        ({"to_go_days_low": 1.0, "to_go_days_high": 1.0}, "to go 1 day"),
        ({"dry_at_hour": 14.5}, "dry at 14:30"),
        ({"evaporation_today_mm": 3.0}, "evaporation today 3 mm"),
        ({"carbon_to_nitrogen_low": 30.4}, "carbon to nitrogen at least 30.4"),
        ({"core_expected_c": math.nan}, "core expected unknown"),
        ({"layer_cm": 4.0}, "layer 4 cm"),
        ({"Odd name!": 3.0}, "Odd name! 3"),
    ],
)
def test_each_number_of_a_document_is_worded_by_its_name(
    figures: dict[str, float], words: str
) -> None:
    """One that this version does not know is shown as it stands."""
    assert figure_words(figures, METRIC) == (words,)


def test_every_number_with_a_unit_is_read_back_with_it() -> None:
    """A new one without its line would be shown bare."""
    details = (
        FeedDetail(1),
        MixDetail(1.0, 1.0),
        FULL,
        TopWaterDetail(time(1), Band(1, 2)),
        ThinDetail(1.0),
        SupportDetail(1.0, 1.0),
        SpreadDetail(1, 1.0, Band(1.0, 2.0), Band(1.0, 2.0)),
        DryTopDetail(1.0, 1, time(1)),
    )
    names = {name for each in details for name in detail_figures(each)} | set(
        outlook_figures(OUTLOOK)
    )
    bare = {name.removesuffix("_low").removesuffix("_high") for name in names}
    without_unit = {"rows", "killed", "strings", "times_a_day", "core_from_probe"}
    assert bare - set(READ_BACK) == without_unit


def test_figures_follow_the_growers_units() -> None:
    """As everything else that is shown."""
    figures = {"core_c_low": 38.0, "core_c_high": 46.0}
    assert figure_words(figures, Measures(Units.US)) == ("core 100.4 to 114.8 °F",)


@pytest.mark.parametrize(
    ("ends", "words"),
    [
        (Band(38.0, 46.0), "38 to 46 cm"),
        (Band(38.0, 38.0), "38 cm"),
        (Band(38.0, None), "at least 38 cm"),
    ],
)
def test_a_band_is_said_as_one(ends: Band, words: str) -> None:
    """The unit once, at its end."""
    assert band(ends, METRIC.length, METRIC) == words


@pytest.mark.parametrize(
    ("at", "said"),
    [
        (time(14, 30), "14:30"),
        (time(14, 44), "14:30"),
        (time(14, 45), "14:45"),
        (time(0, 0), "00:00"),
        (time(23, 59), "23:45"),
    ],
)
def test_a_computed_hour_is_said_to_the_quarter_before_it(at: time, said: str) -> None:
    """Better early than late, and no model knows the minute."""
    assert f"{quarter(at):%H:%M}" == said
