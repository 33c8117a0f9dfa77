"""`strawbell rehearse` as a grower runs it, on a small record of their own."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
import responses

from strawbell.cli.main import DONE, TO_MEND, run
from strawbell.cli.rehearse import SIGN
from strawbell.edges.forecasts.past import ARCHIVE_URL, ISSUED_URL

START = date(2024, 4, 1)
PLAN = """
[times]
watch_every_min = 720
[[gardens]]
name = "Corner"
latitude = 47.05
longitude = 8.31
time_zone = "Europe/Zurich"
  [[gardens.batches]]
  name = "Row A"
  bales = 2
  start_on = 2024-04-01
  feed = "Urea"
  plantings = [{ crop = "radish", plants = 20, method = "seed" }]
"""

Rehearse = Callable[..., int]


@pytest.fixture
def plan(tmp_path: Path) -> Path:
    """Write the plan."""
    path = tmp_path / "plan.toml"
    path.write_text(PLAN, encoding="utf-8")
    return path


@pytest.fixture
def rehearse(plan: Path, tmp_path: Path) -> Rehearse:
    """Run the command on a record of 40 days with a downpour on the third and a gap."""
    lines = ["date,low_f,high_f,rain_in"]
    for number in range(-3, 40):
        on = START + timedelta(days=number)
        rain = "1.5" if number == 2 else "" if number == 30 else "0"
        lines.append(f"{on},45,62,{rain}")
    lines[-1] = lines[-1].replace("62", "900")
    record = tmp_path / "record.csv"
    record.write_text("\n".join(lines) + "\n", encoding="utf-8")

    def command(*more: str) -> int:
        out = str(tmp_path / "out")
        options = ["--weather", str(record), "--to", "2024-04-20", "--out", out]
        return run(["--config", str(plan), "rehearse", *options, *more])

    return command


def documents(text: str) -> dict[str, Any]:
    """Return the JSON that was printed."""
    found: dict[str, Any] = json.loads(text)
    return found


def test_it_leaves_report_journal_and_every_notice(
    rehearse: Rehearse, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """As many files as the text says notices; the gap and the slip are reported."""
    assert rehearse("--forecast-error", "perfect") == DONE
    said = capsys.readouterr().out
    out = tmp_path / "out"
    notices = len(list(out.glob("*.eml")))
    assert f"{notices} notices" in said
    assert "Unknown: 48 hours in 2 gaps" in said
    assert "Rejected as impossible: 1 figure " in said
    page = (out / "report.html").read_text(encoding="utf-8")
    assert "<svg" in page
    assert "<script" not in page
    rows = [json.loads(line) for line in (out / "journal.jsonl").read_text().splitlines()]
    assert sum(row["kind"] == "brief" for row in rows) == 20
    assert {row["kind"] for row in rows} >= {"brief", "told", "evening", "delivery"}


@pytest.mark.parametrize(
    ("units", "heavy", "mass", "given_digits"),
    [("metric", "12.7 mm", "g", 0), ("us", "0.5 in", "oz", 1)],
)
def test_the_figures_are_in_the_units_of_the_grower(
    rehearse: Rehearse,
    plan: Path,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    units: str,
    heavy: str,
    mass: str,
    given_digits: int,
) -> None:
    """On the screen and on the page, and the other units nowhere among them."""
    plan.write_text(f'units = "{units}"\n{PLAN}', encoding="utf-8")
    assert rehearse("--forecast-error", "perfect", "--json") == DONE
    given_g = documents(capsys.readouterr().out)["strawbell"][0]["nitrogen_given_g"]
    assert rehearse("--forecast-error", "perfect") == DONE
    said = capsys.readouterr().out
    shown = f"{given_g if mass == 'g' else given_g / 28.3495:.{given_digits}f}"
    row = next(line.split() for line in said.splitlines() if "nitrogen given" in line)
    assert row[:-1] == ["nitrogen", "given", f"[{mass}", "a", "bale]", shown]
    page = (tmp_path / "out" / "report.html").read_text(encoding="utf-8")
    table = page.split('<table class="figures">')[1].split("</table>")[0]
    other = "12.7 mm" if units == "us" else "0.5 in"
    for text in (said, table):
        assert f"feedings within 24 h before {heavy} of rain" in text
        assert f"of it washed out [{mass} a bale]" in text
        assert shown in text
        assert other not in text


def test_json_gives_the_numbers_of_the_report(
    rehearse: Rehearse, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The downpour of the third day: the calendar feeds into it, Strawbell does not."""
    assert rehearse("--forecast-error", "perfect", "--json") == DONE
    found = documents(capsys.readouterr().out)
    (ours,), (plain,) = found["strawbell"], found["calendar"]
    assert (ours["before_heavy_rain"], plain["before_heavy_rain"]) == (0, 1)
    (batch,) = found["report"]["batches"]
    assert len(batch["days"]) == 20
    assert sum(day["messages"] for day in batch["days"]) == found["notices"]
    assert sum(day["fed"] for day in batch["days"]) == ours["feedings"]
    assert sum(day["calendar_fed"] for day in batch["days"]) == plain["feedings"]
    assert sum(day["held"] for day in batch["days"]) == ours["held_days"]
    assert found["weather"]["rejected"][0]["text"] == "900"
    assert found["forecast_parameters"] == {"known_ahead_days": 10}
    page = (tmp_path / "out" / "report.html").read_text(encoding="utf-8")
    assert f"{found['notices']} messages" in page


@responses.activate
def test_what_the_service_really_forecast_is_replayed(
    rehearse: Rehearse, capsys: pytest.CaptureFixture[str]
) -> None:
    """It knew nothing of the downpour; its errors are told by days ahead."""

    def served(request: Any) -> tuple[int, dict[str, str], str]:
        first, last = (
            datetime.fromisoformat(request.params[name]) for name in ("start_date", "end_date")
        )
        count = 24 * ((last - first).days + 1)
        names = [
            name + suffix
            for name in ("temperature_2m", "precipitation")
            for suffix in ("", *(f"_previous_day{ahead}" for ahead in range(1, 8)))
        ]
        times = [(first + timedelta(hours=n)).isoformat(timespec="minutes") for n in range(count)]
        body = {
            "latitude": 47.06,
            "longitude": 8.32,
            "utc_offset_seconds": 0,
            "hourly_units": {
                "time": "iso8601",
                **{name: "°C" if "temp" in name else "mm" for name in names},
            },
            "hourly": {
                "time": times,
                **{name: [12.0 if "temp" in name else 0.0] * count for name in names},
            },
        }
        return 200, {}, json.dumps(body)

    responses.add_callback("GET", f"{ISSUED_URL}/v1/forecast", served)
    assert rehearse("--forecast-error", "issued", "--json") == DONE
    found = documents(capsys.readouterr().out)
    assert found["strawbell"][0]["before_heavy_rain"] == 1
    assert len(found["forecast_errors"]) == 7
    assert found["forecast_errors"][0]["low_error_c"] == 0.0


def test_a_second_rehearsal_replaces_the_first(
    rehearse: Rehearse, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Notices of another season would be read as part of this one; a file of yours stays."""
    assert rehearse() == DONE
    out = tmp_path / "out"
    (out / "2001-01-01-old-morning.eml").write_text("old", encoding="utf-8")
    (out / "mine.txt").write_text("mine", encoding="utf-8")
    before = {path.name for path in out.glob("*.eml")}
    assert rehearse() == DONE
    after = {path.name for path in out.glob("*.eml")}
    assert after == before - {"2001-01-01-old-morning.eml"}
    assert (out / "mine.txt").exists()
    assert (out / SIGN).exists()
    capsys.readouterr()


def test_a_folder_of_something_else_is_refused_and_left_alone(
    rehearse: Rehearse, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Somebody's mail is not a rehearsal's."""
    out = tmp_path / "out"
    out.mkdir()
    (out / "letter.eml").write_text("dear", encoding="utf-8")
    assert rehearse() == TO_MEND
    assert "--out" in capsys.readouterr().err
    assert [path.name for path in out.iterdir()] == ["letter.eml"]


def test_dates_outside_the_record_are_the_growers_to_mend(
    rehearse: Rehearse, capsys: pytest.CaptureFixture[str]
) -> None:
    """Before, after, and the wrong way round."""
    for more in (["--from", "2023-01-01"], ["--to", "2025-01-01"], ["--to", "2024-03-30"]):
        assert rehearse(*more) == TO_MEND
        assert more[0] in capsys.readouterr().err


def archive(request: Any) -> tuple[int, dict[str, str], str]:
    """Answer as the archive does: mild hours of the dates asked for."""
    first, last = (date.fromisoformat(request.params[key]) for key in ("start_date", "end_date"))
    count = ((last - first).days + 1) * 24
    begins = datetime(first.year, first.month, first.day)
    times = [(begins + timedelta(hours=n)).strftime("%Y-%m-%dT%H:%M") for n in range(count)]
    body = {
        "latitude": 47.05,
        "longitude": 8.3,
        "utc_offset_seconds": 0,
        "hourly_units": {"time": "iso8601", "temperature_2m": "°C", "precipitation": "mm"},
        "hourly": {
            "time": times,
            "temperature_2m": [12.0] * count,
            "precipitation": [0.0] * count,
        },
    }
    return 200, {}, json.dumps(body)


@responses.activate
def test_without_a_file_the_weather_comes_from_the_archive(
    plan: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """For the place of the garden, from two days before the start to ten after the end."""
    responses.add_callback("GET", f"{ARCHIVE_URL}/v1/archive", archive)
    options = ["--to", "2024-04-15", "--out", str(tmp_path / "out"), "--json"]
    assert run(["--config", str(plan), "rehearse", *options]) == DONE
    found = documents(capsys.readouterr().out)
    asked = responses.calls[0].request.params  # type: ignore[union-attr]
    assert (asked["latitude"], asked["longitude"]) == ("47.05", "8.31")
    assert (found["first"], found["last"]) == ("2024-04-01", "2024-04-15")
    assert (found["weather"]["first"], found["weather"]["last"]) == ("2024-03-30", "2024-04-25")
    assert found["weather"]["unknown_hours"] == 0
    assert found["strawbell"][0]["feedings"] == 7


@responses.activate
def test_an_archive_that_is_down_is_said_without_a_traceback(
    plan: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """It could not do it now; no folder is left behind."""
    responses.get(f"{ARCHIVE_URL}/v1/archive", status=503)
    out = tmp_path / "out"
    assert run(["--config", str(plan), "rehearse", "--out", str(out)]) == 1
    assert "archive" in capsys.readouterr().err
    assert not out.exists()
