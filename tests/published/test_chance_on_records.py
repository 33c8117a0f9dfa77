"""Chances held against what came, and the ensemble's reader against recorded answers.

Skipped where the recorded answers are not at hand, as in `test_recorded_payloads`.
"""

from __future__ import annotations

import csv
import json
import os
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from strawbell.edges.forecasts import met_norway, open_meteo
from strawbell.errors import OperationalError
from strawbell.model.forecast import Member
from strawbell.model.garden import Place
from strawbell.weather.chance import OF_A_MEMBER, OF_A_SINGLE, SKILL_OF_THE_FIT

FOLDER = Path(
    os.environ.get("STRAWBELL_RECORDED_ANSWERS")
    or Path(__file__).resolve().parents[2].parent / "shared" / "payloads"
)
HOUR = timedelta(hours=1)
BUDWEIS = Place(48.81, 14.32, "Europe/Prague", elevation_m=500.0)

pytestmark = pytest.mark.skipif(
    not FOLDER.is_dir(),
    reason="recorded answers of the services are not at hand (STRAWBELL_RECORDED_ANSWERS)",
)


def path(name: str) -> Path:
    found = FOLDER / name
    if not found.is_file():
        pytest.skip(f"{name} is not among the recorded answers")
    return found


Case = tuple[float, list[float]]


def cases() -> list[Case]:
    """Return observed rain and its members, 12 h at Innsbruck Airport."""
    with path("reforecast-innsbruck/rain_12h_lead18-30.csv").open(encoding="utf-8") as file:
        rows = list(csv.reader(file))[1:]
    return [(float(row[1]), [float(each) for each in row[2:]]) for row in rows]


def of_members(members: list[float], amount_mm: float) -> float:
    chances = [OF_A_MEMBER.chance(mm, amount_mm, SKILL_OF_THE_FIT) for mm in members]
    return sum(chances) / len(chances)


def of_one(members: list[float], amount_mm: float) -> float:
    return OF_A_SINGLE.chance(members[0], amount_mm, SKILL_OF_THE_FIT)


def counted(members: list[float], amount_mm: float) -> float:
    return sum(mm >= amount_mm for mm in members) / len(members)


Say = Callable[[list[float], float], float]


def brier(say: Say, amount_mm: float) -> float:
    scores = [(say(members, amount_mm) - (mm >= amount_mm)) ** 2 for mm, members in cases()]
    return sum(scores) / len(scores)


def unreliability(say: Say, amount_mm: float) -> float:
    """Return how far what came lies from what was said, by tenths of the chance, squared."""
    bins: dict[int, list[tuple[float, bool]]] = {}
    for mm, members in cases():
        chance = say(members, amount_mm)
        bins.setdefault(min(int(chance * 10), 9), []).append((chance, mm >= amount_mm))
    total = sum(len(each) for each in bins.values())
    return (
        sum(
            (sum(p for p, _ in each) - sum(came for _, came in each)) ** 2 / len(each)
            for each in bins.values()
        )
        / total
    )


@pytest.mark.parametrize(
    ("say", "amount_mm", "most"),
    [
        (of_members, 2.5, 0.168),
        (of_members, 6.35, 0.0951),
        (of_members, 12.7, 0.0428),
        (of_one, 6.35, 0.0965),
        (of_one, 12.7, 0.0432),
    ],
)
def test_dressed_members_score_better_than_their_count_and_than_the_base_rate(
    say: Say, amount_mm: float, most: float
) -> None:
    """A censored, shifted gamma distribution (Scheuerer and Hamill, Monthly Weather Review, 2015),
    fitted to the same reforecasts up to 2009, comes to 0.0950 for 6.35 mm and 0.0427 for 12.7 mm.
    """
    assert brier(say, amount_mm) < most < brier(counted, amount_mm)
    base = sum(mm >= amount_mm for mm, _ in cases()) / len(cases())
    assert most < base * (1.0 - base)


@pytest.mark.parametrize("say", [of_members, of_one])
@pytest.mark.parametrize("amount_mm", [2.5, 6.35, 12.7])
def test_what_is_said_comes_true_about_as_often(say: Say, amount_mm: float) -> None:
    assert unreliability(say, amount_mm) < 0.003 < unreliability(counted, amount_mm)


def lows(members: tuple[Member, ...], first: int, hours: int) -> list[float]:
    return [
        min(each for each in member.temperature_c[first : first + hours] if each is not None)
        for member in members
    ]


def test_forty_members_over_budweis_are_read_hour_by_hour() -> None:
    answer = json.loads(path("open-meteo-ensemble/icon_eu_eps_40_budweis.json").read_text())
    answer["hourly_units"].setdefault("time", "iso8601")
    found = open_meteo.parse_ensemble(json.dumps(answer).encode(), BUDWEIS)
    assert len(found.members) == 40
    begins = datetime(2026, 7, 21, tzinfo=UTC)
    coldest = lows(found.members, round((begins - found.starts_at) / HOUR), 24)
    assert coldest[0] == 9.6
    assert sum(low <= 8.0 for low in coldest) == 2
    assert sum(low <= 10.0 for low in coldest) == 31


def test_the_body_of_a_place_outside_a_model_is_refused() -> None:
    body = path("open-meteo-ensemble/outside_domain_nan.txt").read_bytes()
    with pytest.raises(OperationalError, match="no ensemble for this place"):
        open_meteo.parse_ensemble(body, BUDWEIS)


def test_native_steps_are_not_taken_for_hours() -> None:
    answer = json.loads(
        path("open-meteo-ensemble/ecmwf_ifs025_51_budweis_native3h.json").read_text()
    )
    answer["hourly_units"].setdefault("time", "iso8601")
    with pytest.raises(OperationalError, match="not one of hours"):
        open_meteo.parse_ensemble(json.dumps(answer).encode(), BUDWEIS)


def test_the_run_of_the_world_model_is_told_with_its_delay() -> None:
    run = open_meteo.parse_run(path("open-meteo-other/meta_ecmwf_ifs025.json").read_bytes())
    assert run.began_at == datetime(2026, 9, 14, 18, tzinfo=UTC)
    assert run.good_until == datetime(2026, 9, 15, 13, 31, 44, tzinfo=UTC)


def test_germany_keeps_the_error_and_the_most_rain_that_the_service_says() -> None:
    body = path("met-norway/germany_2022-08_complete_heat_35C.json").read_bytes()
    longitude, latitude = json.loads(body)["geometry"]["coordinates"][:2]
    place = Place(latitude, longitude, "Europe/Berlin")
    forecast = met_norway.parse(body, place, datetime(2022, 8, 2, 15, 50, tzinfo=UTC))
    first = next(hour for hour in forecast.hours if hour.starts_at.hour == 16)
    assert first.temperature_sd_c == pytest.approx((26.2 - 24.7) / 2.563)
    assert first.rain_most_mm == 0.0
    assert sum(hour.temperature_sd_c is not None for hour in forecast.hours) > 200
