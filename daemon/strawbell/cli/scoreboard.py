"""`strawbell scoreboard`: what the advice is worth on your own weather, beside a plain calendar."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict
from datetime import date, timedelta

from strawbell.app.meant import one_garden
from strawbell.cli.context import read_configuration
from strawbell.cli.output import print_json
from strawbell.errors import GrowerError, Problem
from strawbell.model.garden import Garden
from strawbell.rehearsal.recorded import Weather, read_weather
from strawbell.rehearsal.scoreboard import (
    LEAD_IN_DAYS,
    SEASON_DAYS,
    Score,
    Scoreboard,
    Season,
    by_place,
    scoreboard,
    season_from,
    starts_in,
)
from strawbell.rehearsal.skill import PARAMETERS
from strawbell.rehearsal.verification import Contingency
from strawbell.season.local_time import zone_of


def run(options: argparse.Namespace) -> int:
    """Play the plan from many start dates and print what it was worth."""
    garden = one_garden(read_configuration(options).gardens, options.garden)
    if not garden.batches:
        raise GrowerError(Problem("a garden without batches has nothing to play", "--garden"))
    records = _records(options, garden)
    wanted = list(_wanted(options, garden, records))
    seasons: list[Season] = []
    for number, (place, start) in enumerate(wanted, start=1):
        _progress(number, len(wanted), place, start)
        seed = options.seed + list(records).index(place)
        seasons += season_from(garden, records[place], place, start, options.forecast_error, seed)
    _progress_over()
    if options.json:
        print_json([_document(options, seasons)])
    else:
        print(_text(options, seasons))
    return 0


def _records(options: argparse.Namespace, garden: Garden) -> Mapping[str, Weather]:
    zone = zone_of(garden.place.time_zone)
    names = [path.stem for path in options.weather]
    twice = sorted({name for name in names if names.count(name) > 1})
    if twice:
        what = "two files are called the same, and the scores are shown by that name"
        raise GrowerError(Problem(what, "--weather", ", ".join(twice), "a name for each place"))
    return {path.stem: read_weather(path, zone) for path in options.weather}


def _wanted(
    options: argparse.Namespace, garden: Garden, records: Mapping[str, Weather]
) -> Iterator[tuple[str, date]]:
    """Yield each record with each start in it."""
    found = False
    for place, weather in records.items():
        if options.starts:
            starts: Sequence[date] = options.starts
            first = weather.report.first + timedelta(days=LEAD_IN_DAYS)
            last = weather.report.last - timedelta(days=SEASON_DAYS)
            starts = [on for on in starts if first <= on <= last]
        else:
            starts = starts_in(weather, garden.place.latitude, every=options.every)
        for start in starts:
            found = True
            yield place, start
    if not found:
        raise GrowerError(
            Problem(
                what="no start date has a whole season in the record",
                where="--weather",
                found="; ".join(
                    f"{place}: {each.report.first} to {each.report.last}"
                    for place, each in records.items()
                ),
                allowed=f"{LEAD_IN_DAYS} days before a start and {SEASON_DAYS} days after it",
                remedy="Give dates that are inside with --starts.",
            )
        )


def _progress(number: int, all_of_them: int, place: str, start: date) -> None:
    if sys.stderr.isatty():
        text = f"\r\033[KSeason {number} of {all_of_them}: {place}, {start}"
        print(text, end="", file=sys.stderr, flush=True)


def _progress_over() -> None:
    if sys.stderr.isatty():
        print("\r\033[K", end="", file=sys.stderr, flush=True)


def _text(options: argparse.Namespace, seasons: Sequence[Season]) -> str:
    boards = by_place(seasons)
    parts = [
        f"{len(seasons)} seasons of {SEASON_DAYS} days, forecast: {options.forecast_error}"
        f" (seed {options.seed}). Means; smaller is better.",
        "Value: 1 is all that could be gained over a plain calendar, 0 nothing, under 0 a loss;",
        "a dash where even the oracle, which knows the weather, gains nothing.",
    ]
    if len(boards) > 1:
        for place, board in boards.items():
            parts += ["", *_table(board, place)]
    parts += ["", *_table(scoreboard(seasons), "All together" if len(boards) > 1 else "")]
    return "\n".join(parts)


def _table(board: Scoreboard, title: str) -> Iterator[str]:
    head = f"{'calendar':>10}{'Strawbell':>11}{'oracle':>9}{'value':>8}{'seasons':>9}{'worse':>7}"
    yield f"{title:<34}{head}"
    for score in board.scores:
        unit = f" [{score.measure.unit}]" if score.measure.unit else ""
        yield (
            f"  {score.measure.label + unit:<32}{_figure(score.calendar):>10}"
            f"{_figure(score.strawbell):>11}{_figure(score.oracle):>9}{_figure(score.value):>8}"
            f"{score.seasons:>9}{score.worse:>7}"
        )
    yield ""
    yield from _holds(board.holds, board.late_holds)


def _holds(holds: Contingency, late: int) -> Iterator[str]:
    yield (
        f"  Feedings in line on {holds.days} days: held rightly {holds.hits}, for nothing"
        f" {holds.false_alarms}; given rightly {holds.rightly_given}, wrongly {holds.misses}."
    )
    yield (
        f"  Hit rate {_figure(holds.hit_rate)}, false alarm ratio"
        f" {_figure(holds.false_alarm_ratio)}; held only later in the day: {late}."
    )
    curve = [(ratio, worth) for ratio, worth in holds.curve() if worth is not None]
    if curve:
        shown = ", ".join(f"{ratio:.2f}: {worth:.2f}" for ratio, worth in curve[::2])
        yield f"  Value of the holds by cost of a day's wait over loss of a feeding: {shown}."


def _figure(value: float | None) -> str:
    return "-" if value is None else f"{value:.2f}"


def _document(options: argparse.Namespace, seasons: Sequence[Season]) -> Mapping[str, object]:
    return {
        "forecast_error": options.forecast_error,
        "seed": options.seed,
        "forecast_parameters": dict(PARAMETERS[options.forecast_error]),
        "season_days": SEASON_DAYS,
        "all": _board(scoreboard(seasons)),
        "places": {place: _board(board) for place, board in by_place(seasons).items()},
        "seasons": [{**asdict(season), "start": season.start.isoformat()} for season in seasons],
    }


def _board(board: Scoreboard) -> Mapping[str, object]:
    holds = board.holds
    return {
        "seasons": board.seasons,
        "measures": {score.measure.name: _score(score) for score in board.scores},
        "holds": {
            **asdict(holds),
            "late": board.late_holds,
            "hit_rate": holds.hit_rate,
            "false_alarm_ratio": holds.false_alarm_ratio,
            "false_alarm_rate": holds.false_alarm_rate,
            "base_rate": holds.base_rate,
            "value_by_cost_loss": [list(pair) for pair in holds.curve()],
        },
    }


def _score(score: Score) -> Mapping[str, object]:
    worst = score.worst
    return {
        "unit": score.measure.unit,
        "seasons": score.seasons,
        "calendar": score.calendar,
        "strawbell": score.strawbell,
        "oracle": score.oracle,
        "value": score.value,
        "seasons_worse_than_calendar": score.worse,
        "worst": None
        if worst is None
        else {"place": worst.place, "start": worst.start.isoformat(), "batch": worst.batch},
    }
