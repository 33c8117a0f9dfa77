"""A document has every known number of a detail and of an estimate, by the name it always had."""

from __future__ import annotations

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
from strawbell.words.documents import detail_figures, outlook_figures
from strawbell.words.voice import dry_time

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
    ("at", "said"),
    [
        (time(14, 30), "14:30"),
        (time(14, 44), "14:30"),
        (time(14, 45), "14:45"),
        (time(0, 0), "00:00"),
        (time(19, 59), "19:45"),
    ],
)
def test_a_computed_hour_is_said_to_the_quarter_before_it(at: time, said: str) -> None:
    """Better early than late, and no model knows the minute."""
    assert f"{dry_time(at):%H:%M}" == said


@pytest.mark.parametrize("at", [None, time(20), time(22, 45)])
def test_a_top_that_dries_after_the_day_is_not_told(at: time | None) -> None:
    """Nobody waters at a quarter to eleven."""
    assert dry_time(at) is None
