"""The plan that most growers follow, written in a configuration and played through springs.

Blood meal on day 1, fish feed on days 3 and 5, half doses of meal on days 7 to 9, a soluble feed on
day 10, from two bags of meal. The commands are run as a grower runs them; weather as in
`support.station_records`.
"""

from __future__ import annotations

import email
import email.policy
import json
import subprocess
import sys
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from itertools import groupby
from pathlib import Path
from typing import Any

import pytest

from strawbell.agronomy.balance import body_of
from strawbell.agronomy.ensemble import held_l
from strawbell.config.load import load
from strawbell.model.garden import Garden
from strawbell.model.journal import EntryKind, Journal, JournalEntry
from strawbell.season.bale_course import mornings
from strawbell.season.fold import state_at
from strawbell.season.journal_index import JournalIndex
from support.station_records import PLACES, station_csv

PLAN = """
units = "{units}"

[[gardens]]
name = "Back yard"
latitude = {latitude}
longitude = {longitude}
time_zone = "{zone}"

[[gardens.batches]]
name = "Row A"
bales = 4
start_on = {start}

[gardens.batches.feeds]
1 = "Opened bag of blood meal"
3 = "drench with Fish feed"
5 = "drench with Fish feed"
7 = "New bag of blood meal"
8 = "New bag of blood meal"
9 = "New bag of blood meal"
10 = "Soluble 20-20-20"

[[feeds]]
name = "Opened bag of blood meal"
label = "12-0-0"
in_stock_kg = 2
package_kg = 2.5

[[feeds]]
name = "New bag of blood meal"
label = "13-0-0"
package_kg = 1.5
price = 12

[[feeds]]
name = "Fish feed"
label = "5-1-1"
form = "liquid"
label_rate = "1 tbsp per quart"

[[feeds]]
name = "Soluble 20-20-20"
label = "20-20-20"
form = "soluble"
label_rate = "1 tbsp per gal"
"""
DAYS = 20
ORDER = [
    "Opened bag of blood meal",
    "Fish feed",
    "Fish feed",
    *["New bag of blood meal"] * 3,
    "Soluble 20-20-20",
]
LARGEST_CAN_L = 10.0
"""The larger of the usual watering cans (common practice)."""
ROUNDED_L = 0.1
SPRINGS = [
    *(("Seattle", date(year, 4, 1), "metric") for year in (2012, 2013, 2014, 2015)),
    ("LGA", date(2013, 4, 1), "us"),
]


def command(*arguments: str) -> subprocess.CompletedProcess[str]:
    """Run a command to its end."""
    line = [sys.executable, "-m", "strawbell", *arguments]
    return subprocess.run(line, capture_output=True, text=True, check=False, timeout=300)


def written(folder: Path, station: str, start: date, units: str) -> Path:
    """Write the plan of a grower near a station."""
    place, path = PLACES[station], folder / "plan.toml"
    text = PLAN.format(
        units=units,
        latitude=place.latitude,
        longitude=place.longitude,
        zone=place.time_zone,
        start=start,
    )
    path.write_text(text, encoding="utf-8")
    path.chmod(0o600)
    return path


@dataclass(frozen=True)
class Spring:
    """What a spring came to: the rows of its journal, and its morning mails by date."""

    garden: Garden
    start: date
    journal: Journal
    mails: dict[date, str]

    def told(self) -> list[tuple[date, dict[str, Any]]]:
        """Return the work that stood as due at the end of each date."""
        kinds = (EntryKind.TOLD, EntryKind.TAKEN_BACK)
        rows = sorted(
            (each for each in self.journal if each.kind in kinds),
            key=lambda each: (each.local_date, each.task or ""),
        )
        last = (list(same)[-1] for _, same in groupby(rows, lambda e: (e.local_date, e.task)))
        return [(each.local_date, dict(each.data)) for each in last if each.state == "due"]

    def feedings(self) -> list[tuple[date, dict[str, Any]]]:
        """Return the feedings among it."""
        return [(on, data) for on, data in self.told() if data["action"] == "feed"]


@pytest.fixture(scope="module", params=SPRINGS, ids=lambda each: f"{each[0]}-{each[1]:%Y}")
def spring(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Spring:
    """Play a spring with the command that a grower has for it."""
    station, start, units = request.param
    folder = tmp_path_factory.mktemp("spring")
    path, out = written(folder, station, start, units), folder / "out"
    last = start + timedelta(days=DAYS)
    weather = str(station_csv(folder, station))
    options = ["--weather", weather, "--from", str(start), "--to", str(last), "--out", str(out)]
    played = command("--config", str(path), "rehearse", *options)
    assert played.returncode == 0, played.stderr
    rows = map(json.loads, (out / "journal.jsonl").read_text(encoding="utf-8").splitlines())
    return Spring(
        load(path, {}, today=start).gardens[0],
        start,
        Journal(tuple(map(entry, rows))),
        {date.fromisoformat(each.name[:10]): plain(each) for each in out.glob("*-morning-*.eml")},
    )


def entry(row: dict[str, Any]) -> JournalEntry:
    """Return a row of the journal as it is kept."""
    return JournalEntry(
        at=datetime.fromisoformat(row["at"]),
        garden=row["garden"],
        local_date=date.fromisoformat(row["date"]),
        kind=EntryKind(row["kind"]),
        batch=row["batch"],
        task=row["task"],
        state=row["state"],
        value=row["value"],
        text=row["text"],
        data=row["data"],
    )


def plain(path: Path) -> str:
    """Return the text of a mail on one line."""
    mail = email.message_from_bytes(path.read_bytes(), policy=email.policy.default)
    body = mail.get_body(("plain",))
    assert body is not None
    return " ".join(str(body.get_content()).split())


def test_check_takes_the_plan_and_says_what_it_lacks(tmp_path: Path) -> None:
    path = written(tmp_path, "Seattle", date(2027, 4, 5), "metric")
    answer = command("--config", str(path), "check")
    said = " ".join((answer.stdout + answer.stderr).split())
    assert answer.returncode == 0
    assert "too little to heat it well" in said
    assert "of blood meal or" in said


def test_everything_is_fed_in_the_order_of_the_plan(spring: Spring) -> None:
    """Held or not."""
    fed = {data["day"]: data["feed"] for _, data in spring.feedings()}
    assert fed == dict(zip((1, 3, 5, 7, 8, 9, 10), ORDER, strict=True))
    days = [data["day"] for _, data in spring.feedings()]
    assert days == sorted(days)


def test_what_is_carried_fits_a_watering_can(spring: Spring) -> None:
    """But for the first soak, which takes a hose."""
    litres = [
        data["water_per_bale_l"]
        for _, data in spring.told()
        if data["action"] in ("feed", "water") and "water_per_bale_l" in data
    ]
    assert litres
    assert max(litres) <= LARGEST_CAN_L


def test_no_bale_is_told_more_than_it_holds(spring: Spring) -> None:
    """By the balance as it stands with all that was told and all the rain that came."""
    (batch,) = spring.garden.batches
    index, last = JournalIndex.of(spring.journal), spring.start + timedelta(days=DAYS)
    state = state_at(spring.garden, batch, index, last)
    bale, poured = body_of(batch.bale), dict[date, float]()
    for on, data in spring.told():
        if data["action"] in ("feed", "water"):
            poured[on] = poured.get(on, 0.0) + data.get("water_per_bale_l", 0.0)
    for on, course in mornings(batch, state, index, last, spring.garden.place):
        if on > spring.start and poured.get(on, 0.0) > 0.0:
            assert held_l(course.draws) + poured[on] <= bale.holds_l + ROUNDED_L, on


def test_drenches_are_as_strong_as_their_labels(spring: Spring) -> None:
    """A tablespoon a quart of 5-1-1, a tablespoon a gallon of 20-20-20; less water, less feed."""
    for _, data in spring.feedings():
        share = {"Fish feed": 0.05 * 15.625, "Soluble 20-20-20": 0.2 * 3.906}.get(data["feed"])
        if share is not None:
            expected = share * data["water_per_bale_l"]
            assert data["nitrogen_per_bale_g"] == pytest.approx(expected, rel=0.05, abs=0.05)


def test_the_mornings_say_it_in_the_growers_measures(spring: Spring) -> None:
    """Meal is weighed, what dissolves is poured in its water, and nothing is called nothing."""
    us = spring.garden.units.value == "us"
    for on, data in spring.feedings():
        mail = spring.mails[on]
        if "Don't feed today" in mail:
            continue  # Told later that day, when the sky had cleared.
        if data["water_per_bale_l"] == 0.0 and data["per_bale_g"] == 0.0:
            assert "No feed today" in mail
            assert "heavy rain or frost before" not in mail
        elif data["feed"] == "Fish feed":
            whole = data["water_per_bale_l"] > 3.7
            amount = "1/4 cup of Fish feed in 1 gal" if us else "59 ml of Fish feed in 3.8 L"
            assert (amount in mail) is whole
        elif data["feed"] == "Soluble 20-20-20":
            assert "in 1 gal of water" in mail if us else "L of water" in mail
            assert "Scatter it" not in mail
        else:
            assert f"of {data['feed']}" in mail
    mails = " ".join(spring.mails.values())
    assert " 0 g of " not in mails
    assert " none of " not in mails


def test_each_bag_lasts_as_long_as_it_is_told(tmp_path: Path) -> None:
    """Two bags of one feed are two feeds: what is in the shed is counted, the rest is bought."""
    start = date.today() + timedelta(days=5)
    path = written(tmp_path, "Seattle", start, "metric")
    text = path.read_text(encoding="utf-8")
    path.write_text(f'{text}\n[state]\npath = "{tmp_path / "state"}"\n', encoding="utf-8")
    answer = command("--config", str(path), "supplies", "--json")
    assert answer.returncode == 0, answer.stderr
    needs = {each["name"]: each for each in json.loads(answer.stdout)["supplies"]}
    opened, fresh = needs["Opened bag of blood meal"], needs["New bag of blood meal"]
    assert opened["packages"] == 0
    assert opened["lasts_until"] == start.isoformat()
    assert fresh["packages"] == 2
    assert fresh["cost"] == pytest.approx(24.0)
    assert needs["Fish feed"]["litres"] == pytest.approx(2 * 4 * 3.785 * 15.625 / 1000, abs=0.06)
