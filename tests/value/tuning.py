"""What the advice is worth on real weather, and whether other thresholds would be worth more.

    python -m tests.value.tuning board    # three policies, three forecast skills
    python -m tests.value.tuning sweep    # other thresholds, on development only
    python -m tests.value.tuning check    # the best of them, on what was held out

Development data: Seattle 2012 and 2013, Newark 2013. Held out: Seattle 2014 and 2015, New York
JFK and LGA 2013. Defaults may only be changed by what is found on the first, and only when the
second bears it out. Each run writes its part of `result.json` beside this script;
`result.md` is rendered from it.
"""

from __future__ import annotations

import json
import sys
import tempfile
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path
from typing import Any

from strawbell.model.garden import Rules
from strawbell.rehearsal.recorded import Weather, read_weather
from strawbell.season.local_time import zone_of
from strawbell.weather.thresholds import DEFAULT_RULES
from tests.support.station_records import PLACES, station_csv
from tests.value.board import Season, scoreboard, season_from, starts_in
from tests.value.plan import FEEDS_COMPARED, batch_on, garden_with, plan_on

HERE = Path(__file__).resolve().parent
DEVELOPMENT = (("Seattle", 2012), ("Seattle", 2013), ("EWR", 2013))
HELD_OUT = (("Seattle", 2014), ("Seattle", 2015), ("JFK", 2013), ("LGA", 2013))
SETS = {"development": DEVELOPMENT, "held out": HELD_OUT}
SKILLS = {"usual": 10, "perfect": 20, "persistence": 20}
"""Forecast skills, and every how many days of March to May a season starts with them."""
SEED = 1
SWEEP_EVERY_DAYS = 14
SWEEP_WATCH_MIN = 720
"""The sweep is of morning decisions; watching the weather each hour takes four times as long."""
SWEEP_MONTHS = (2, 6)
SWEEP_SEASON_DAYS = 42
SWEEP: Mapping[str, Sequence[float]] = {
    "rain_hold_mm": (6.35, 9.0, 19.0, 25.4),
    "rain_hold_chance_percent": (30.0, 70.0),
    "rain_look_ahead_h": (36.0,),
    "freeze_hold_c": (-1.0, 1.0, 2.0),
    "freeze_look_ahead_h": (36.0,),
}
"""Each tried by itself, all others at their defaults."""
CHECK: Mapping[str, Mapping[str, float]] = {
    "defaults": {},
    "rain_hold_mm 9": {"rain_hold_mm": 9.0},
    "freeze_hold_c 1": {"freeze_hold_c": 1.0},
    "freeze_hold_c 2": {"freeze_hold_c": 2.0},
}
"""What looked better on the development data, for the held-out data."""
RESULT = HERE / "result.json"
TABLE = HERE / "result.md"


def records(folder: Path) -> Mapping[str, Weather]:
    """Return the records of all stations."""
    return {
        station: read_weather(station_csv(folder, station), zone_of(place.time_zone))
        for station, place in PLACES.items()
    }


def board(weather: Mapping[str, Weather]) -> Iterator[tuple[str, dict[str, Any]]]:
    """Yield the figures of each set of data and each skill."""
    for skill, every in SKILLS.items():
        for title, places in SETS.items():
            seasons: list[Season] = []
            for station, year in places:
                record = weather[station]
                for start in starts_in(record, PLACES[station].latitude, every=every):
                    if start.year == year:
                        garden = plan_on(PLACES[station], *FEEDS_COMPARED)
                        name = f"{station} {year}"
                        seasons += season_from(garden, record, name, start, skill, SEED)
                        print(skill, name, start, flush=True)
            by_feed = {
                feed: figures([each for each in seasons if each.batch == feed])
                for feed in FEEDS_COMPARED
            }
            yield f"{skill}, {title}", by_feed


def sweep(weather: Mapping[str, Weather]) -> Iterator[tuple[str, dict[str, Any]]]:
    """Yield the figures of conditioning alone for each threshold on the development data."""
    tries: list[tuple[str, Rules]] = [("defaults", DEFAULT_RULES)]
    tries += [
        (f"{name} {value:g}", replace(DEFAULT_RULES, **{name: value}))
        for name, values in SWEEP.items()
        for value in values
    ]
    for label, rules in tries:
        yield label, conditioning(weather, rules, DEVELOPMENT)
        print(label, flush=True)


def check(weather: Mapping[str, Weather]) -> Iterator[tuple[str, dict[str, Any]]]:
    """Yield the figures of conditioning on the held-out data for the best of the sweep."""
    for label, changes in CHECK.items():
        yield label, conditioning(weather, replace(DEFAULT_RULES, **changes), HELD_OUT)
        print(label, flush=True)


def conditioning(
    weather: Mapping[str, Weather], rules: Rules, places: Sequence[tuple[str, int]]
) -> dict[str, Any]:
    """Return the figures of conditioning with urea, a start a fortnight, February to May."""
    seasons: list[Season] = []
    for station, year in places:
        start = date(year, SWEEP_MONTHS[0], 1)
        while start < date(year, SWEEP_MONTHS[1], 1):
            garden = garden_with(
                PLACES[station], batch_on("Urea"), rules=rules, watch_min=SWEEP_WATCH_MIN
            )
            seasons += season_from(
                garden,
                weather[station],
                f"{station} {year}",
                start,
                "usual",
                SEED,
                SWEEP_SEASON_DAYS,
            )
            start += timedelta(days=SWEEP_EVERY_DAYS)
    return figures(seasons)


def figures(seasons: Sequence[Season]) -> dict[str, Any]:
    """Return the scores of seasons as plain figures."""
    found = scoreboard(seasons)
    holds = found.holds
    return {
        "seasons": found.seasons,
        "measures": {
            each.measure.label: {
                "unit": each.measure.unit,
                "calendar": _rounded(each.calendar),
                "strawbell": _rounded(each.strawbell),
                "oracle": _rounded(each.oracle),
                "value": _rounded(each.value),
                "worse": each.worse,
                "worst": f"{each.worst.place}, {each.worst.start}" if each.worst else None,
            }
            for each in found.scores
        },
        "holds": {
            "hits": holds.hits,
            "false_alarms": holds.false_alarms,
            "misses": holds.misses,
            "rightly_given": holds.rightly_given,
            "unknown": holds.unknown,
            "late": found.late_holds,
            "hit_rate": _rounded(holds.hit_rate),
            "false_alarm_ratio": _rounded(holds.false_alarm_ratio),
            "value": {f"{ratio:.2f}": _rounded(value) for ratio, value in holds.curve()},
        },
    }


def _rounded(value: float | None) -> float | None:
    return None if value is None else round(value, 3)


def main(what: str) -> None:
    """Run a part, keep its figures, render the table."""
    kept = json.loads(RESULT.read_text(encoding="utf-8")) if RESULT.exists() else {}
    with tempfile.TemporaryDirectory() as folder:
        weather = records(Path(folder))
        part = {"board": board, "sweep": sweep, "check": check, "render": lambda _: ()}[what]
        for label, found in part(weather):
            kept.setdefault(what, {})[label] = found
            RESULT.write_text(json.dumps(kept, indent=1) + "\n", encoding="utf-8")
    TABLE.write_text(rendered(kept), encoding="utf-8")


def rendered(kept: Mapping[str, Any]) -> str:
    """Return the tables as Markdown."""
    lines = [
        "# What the advice is worth",
        "",
        "Written by `tuning.py`; the method is in `board`, `oracle` and `verification` beside",
        "it, the forecast errors in `strawbell.rehearsal.skill`.",
        "Means over seasons of 56 days, each the smaller the better; value is (calendar -",
        "Strawbell) / (calendar - oracle), a dash where even the oracle gains nothing.",
        "Development: Seattle 2012, 2013, Newark 2013. Held out: Seattle 2014, 2015, JFK and LGA",
        "2013. A start each tenth day of March to May with the usual errors, each twentieth with",
        "the two other skills.",
    ]
    for label, by_feed in kept.get("board", {}).items():
        for feed, found in by_feed.items():
            lines += ["", f"## {feed}, forecast {label} ({found['seasons']} seasons)", ""]
            lines += _measures(found)
            lines += ["", *_holds(found["holds"])]
    if "sweep" in kept:
        lines += ["", "## Other thresholds, development data, urea, conditioning alone", ""]
        lines += _sweep(kept["sweep"])
    if "check" in kept:
        lines += ["", "## The best of them, held-out data, urea, conditioning alone", ""]
        lines += _sweep(kept["check"])
    return "\n".join(lines) + "\n"


def _measures(found: Mapping[str, Any]) -> Iterator[str]:
    yield "| measure | calendar | Strawbell | oracle | value | worse than calendar | worst |"
    yield "|---|---|---|---|---|---|---|"
    for label, row in found["measures"].items():
        unit = f" [{row['unit']}]" if row["unit"] else ""
        cells = [_cell(row[name]) for name in ("calendar", "strawbell", "oracle", "value")]
        worst = row["worst"] or "-"
        yield f"| {label}{unit} | {' | '.join(cells)} | {row['worse']} | {worst} |"


def _holds(holds: Mapping[str, Any]) -> Iterator[str]:
    yield (
        f"Holds: {holds['hits']} hits, {holds['false_alarms']} false alarms, {holds['misses']}"
        f" misses, {holds['rightly_given']} rightly given; hit rate {_cell(holds['hit_rate'])},"
        f" false alarm ratio {_cell(holds['false_alarm_ratio'])}; late holds {holds['late']}."
    )
    curve = holds["value"]
    shown = ", ".join(f"{ratio}: {_cell(value)}" for ratio, value in list(curve.items())[::2])
    yield f"Value by C/L: {shown}."


def _sweep(found: Mapping[str, Any]) -> Iterator[str]:
    names = ("nitrogen washed out", "feedings before heavy rain", "feedings on freezing bales")
    yield (
        "| threshold | washed out [%] | before heavy rain | on freeze | days to ready"
        " | hit rate | false alarm ratio | V(0.10) | V(0.25) | V(0.50) |"
    )
    yield "|---|---|---|---|---|---|---|---|---|---|"
    for label, each in found.items():
        cells = [_cell(each["measures"][name]["strawbell"]) for name in (*names, "days to ready")]
        holds = each["holds"]
        cells += [_cell(holds["hit_rate"]), _cell(holds["false_alarm_ratio"])]
        cells += [_cell(holds["value"][ratio]) for ratio in ("0.10", "0.25", "0.50")]
        yield f"| {label} | {' | '.join(cells)} |"


def _cell(value: float | None) -> str:
    return "-" if value is None else f"{value:.2f}"


if __name__ == "__main__":
    main(sys.argv[1] if len(sys.argv) > 1 else "board")
