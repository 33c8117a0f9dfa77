"""What the advice is worth on recorded weather, beside a plain calendar and an oracle.

    python -m tests.value.scoreboard --weather FILE... [--latitude --longitude --time-zone]
        [--feed NAME] [--forecast NAME] [--seeds N] [--json]

The files are CSV as `strawbell rehearse` reads them, one a place. Without `--feed` the plan has a
batch on a quick feed and one on a slow one.
"""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict
from datetime import date, timedelta
from pathlib import Path

from strawbell.agronomy.feeding.feeds import FEEDS
from strawbell.errors import GrowerError, Problem
from strawbell.model.garden import Garden, Place
from strawbell.rehearsal.recorded import Weather, read_weather
from strawbell.rehearsal.skill import PARAMETERS
from strawbell.season.local_time import zone_of
from tests.value.board import (
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
from tests.value.plan import FEEDS_COMPARED, plan_on
from tests.value.verification import Contingency

DONE, TO_MEND = 0, 2


def main(arguments: Sequence[str]) -> int:
    """Play the plan from many start dates and print what it was worth; return the exit code."""
    options = _parser().parse_args(arguments)
    try:
        return _play(options)
    except GrowerError as error:
        for problem in error.problems:
            print(problem.sentence(), file=sys.stderr)
        return TO_MEND


def _play(options: argparse.Namespace) -> int:
    place = Place(options.latitude, options.longitude, options.time_zone)
    garden = plan_on(place, *(options.feed or FEEDS_COMPARED))
    records = _records(options, garden)
    wanted = list(_wanted(options, garden, records))
    seasons: list[Season] = []
    for number, (name, start) in enumerate(wanted, start=1):
        _progress(number, len(wanted), name, start)
        for seed in range(options.seeds):
            at = seed * len(records) + list(records).index(name)
            seasons += season_from(garden, records[name], name, start, options.forecast, at)
    _progress_over()
    if options.json:
        print(json.dumps(_document(options, seasons), ensure_ascii=False, indent=2))
    else:
        print(_text(options, seasons))
    return DONE


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(prog="python -m tests.value.scoreboard")
    parser.add_argument("--weather", type=Path, metavar="FILE", nargs="+", required=True)
    parser.add_argument("--latitude", type=float, default=47.05, help="of the weather (47.05)")
    parser.add_argument("--longitude", type=float, default=8.31, help="of the weather (8.31)")
    parser.add_argument("--time-zone", default="Europe/Zurich", help="of the dates in the files")
    parser.add_argument("--feed", choices=sorted(FEEDS), nargs="+", metavar="NAME")
    parser.add_argument(
        "--forecast",
        choices=sorted(PARAMETERS),
        default="usual",
        help="how well the forecasts knew what came (usual)",
    )
    parser.add_argument("--seeds", type=int, default=1, help="how often, with other errors (1)")
    parser.add_argument(
        "--starts", type=date.fromisoformat, nargs="+", metavar="DATE", help="instead of --every"
    )
    parser.add_argument(
        "--every", type=int, default=10, metavar="DAYS",
        help="a start each so many days of March to May, in the south September to November (10)",
    )  # fmt: skip
    parser.add_argument("--json", action="store_true")
    return parser


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
        f"{len(seasons)} seasons of {SEASON_DAYS} days, forecast: {options.forecast}"
        f" ({options.seeds} times). Means; smaller is better.",
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
        "forecast": options.forecast,
        "seeds": options.seeds,
        "forecast_parameters": dict(PARAMETERS[options.forecast]),
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


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
