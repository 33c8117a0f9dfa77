"""What the advice is worth: every policy on recorded springs, on bales unlike the one assumed.

    python -m tests.value.judge [--every N] [--draws N] [--write]
    python -m tests.value.judge --weather FILE... --latitude --longitude --time-zone

Prints the figures as JSON; `--write` keeps them in `result.json` beside this script, and the table
in `result.md`. Means carry a 90 % interval of a bootstrap over springs that share no weather.
"""

from __future__ import annotations

import argparse
import json
import random
import sys
import tempfile
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, fields
from datetime import date
from itertools import groupby, product
from pathlib import Path
from statistics import fmean
from typing import Any

from strawbell.model.garden import Place
from strawbell.rehearsal.recorded import Weather as Record
from tests.value.bales import Deed, Fate, drawn, live
from tests.value.chances import asked_of, scored
from tests.value.growing import FAR_C, FAR_OVER_C, Mornings, Night, Top, nights, tops
from tests.value.measures import Measures, measured
from tests.value.oracle import foreseen
from tests.value.policies import GROWERS, told_by_strawbell
from tests.value.springs import Spring, records, springs
from tests.value.table import table_of

HERE = Path(__file__).resolve().parent
RESULT, TABLE = HERE / "result.json", HERE / "result.md"
FEEDS_EVERY = {"Urea": 1, "Blood meal": 2}
"""What is fed, and on each so many-th spring."""
BASE, BEST = "calendar", "oracle"
OURS = {"Strawbell": "oracle", "Strawbell, tarp": "oracle, tarp"}
"""The advice, and the oracle that has the same options."""
TARP = (False, True)
DRAWS = 24
ORACLE_DRAWS = 4
"""The search is run on so many of the draws, in the order that heats and not comes alternately."""
SEEDS = 2
"""How often each spring's nights are asked about, with other forecast errors."""
RESAMPLED = 1000
LEVEL = (0.05, 0.95)
WORSE_PERCENT = 5.0
"""By so much more leached a season counts as worse than the calendar."""


@dataclass(frozen=True, slots=True)
class Season:
    """One bale in one spring under one policy."""

    feed: str
    place: str
    cluster: str
    number: int
    """Of the spring."""
    draw: int
    policy: str
    came: Measures


def main(arguments: Sequence[str]) -> int:
    """Judge and print; return the exit code."""
    options = _parser().parse_args(arguments)
    place = Place(options.latitude, options.longitude, options.time_zone)
    with tempfile.TemporaryDirectory() as folder:
        known = records(options.weather, place, Path(folder))
    judged = [
        season
        for feed, every in FEEDS_EVERY.items()
        for spring in springs(known, feed, every * options.every)
        for season in _seasons(feed, spring, options.draws)
    ]
    grown = [
        Mornings(name, there, weather, year, seed)
        for name, (there, weather) in known.items()
        for year in _whole_springs(weather)
        for seed in range(SEEDS)
    ]
    document = {
        "sizes": {
            "springs": {
                feed: len({each.number for each in judged if each.feed == feed})
                for feed in FEEDS_EVERY
            },
            "draws": options.draws,
            "oracle draws": min(ORACLE_DRAWS, options.draws),
            "places": sorted(known),
        },
        "seasons": _seasons_judged(judged),
        "draws": _by_draw(judged),
        "covers": _covers([each for one in grown for each in nights(one)]),
        "tops": _tops([each for one in grown[::SEEDS] for each in tops(one)]),
        "chances": scored(
            [
                each
                for seed, (there, weather) in enumerate(known.values())
                for each in asked_of(there, weather, seed)
            ]
        ),
    }
    text = json.dumps(document, indent=1, sort_keys=True) + "\n"
    if options.write:
        RESULT.write_text(text, encoding="utf-8")
        TABLE.write_text(table_of(json.loads(text)), encoding="utf-8")
    else:
        print(text)
    return 0


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(prog="python -m tests.value.judge")
    parser.add_argument("--weather", type=Path, metavar="FILE", nargs="+", default=[])
    parser.add_argument("--latitude", type=float, default=47.05, help="of the files (47.05)")
    parser.add_argument("--longitude", type=float, default=8.31, help="of the files (8.31)")
    parser.add_argument("--time-zone", default="Europe/Zurich", help="of the files")
    parser.add_argument("--every", type=int, default=1, help="only each so many-th spring (1)")
    parser.add_argument("--draws", type=int, default=DRAWS, help=f"bales a spring ({DRAWS})")
    parser.add_argument("--write", action="store_true", help="keep result.json and result.md")
    return parser


def _whole_springs(weather: Record) -> Iterator[int]:
    first, last = weather.report.first, weather.report.last
    for year in range(first.year, last.year + 1):
        if first <= date(year, 3, 1) and date(year, 7, 31) <= last:
            yield year


def _seasons(feed: str, spring: Spring, draws: int) -> Iterator[Season]:
    """Yield one spring on every bale under every policy."""
    batch = spring.garden.batches[0]
    told = {
        name: told_by_strawbell(spring, tarp=tarp) for name, tarp in zip(OURS, TARP, strict=True)
    }
    skies = spring.skies
    for draw, body in enumerate(drawn(batch.bale, draws)):
        begun = []

        def season(policy: str, lived: tuple[Fate, list[Deed]], *, ideal: bool = False) -> Season:
            came = measured(feed, *lived, skies, ideal=ideal)
            where = (feed, spring.place, spring.cluster, spring.seed, draw)  # noqa: B023
            return Season(*where, policy, came)

        for name, kind in GROWERS.items():
            grower = kind(spring, body)
            lived = live(body, skies, grower)
            begun.append((lived[1], grower.over))
            yield season(name, lived)
        for (name, best), tarp in zip(OURS.items(), TARP, strict=True):
            lived = live(body, skies, told[name])
            begun.append((lived[1], told[name].over))
            yield season(name, lived)
            if draw % max(1, draws // ORACLE_DRAWS) == 0:
                yield season(best, foreseen(feed, body, skies, begun, tarp=tarp), ideal=True)


def _seasons_judged(judged: Sequence[Season]) -> list[dict[str, Any]]:
    """Return a row for each feed, place, policy and measure."""
    rows = []
    names = [each.name for each in fields(Measures)] + ["lost_g"]
    for feed in FEEDS_EVERY:
        for place in ("all", *sorted({each.place for each in judged})):
            here = [each for each in judged if each.feed == feed and place in ("all", each.place)]
            rows += [
                {"feed": feed, "place": place, "measure": name, **_row(here, name)}
                for name in names
                if here
            ]
    return rows


def _row(here: Sequence[Season], name: str) -> dict[str, Any]:
    """Return a measure under every policy: mean, interval, share saved over the calendar.

    `of_the_best` is what of the oracle's saving was saved, on the draws that have one.
    """
    cells: dict[tuple[str, int, int], float] = {}
    clusters: dict[str, dict[str, list[tuple[int, int]]]] = {}
    for each in here:
        at = (each.number, each.draw)
        cells[each.policy, *at] = float(getattr(each.came, name))
        clusters.setdefault(each.cluster, {}).setdefault(each.policy, []).append(at)
    policies = sorted({each.policy for each in here})

    def means(drawn_clusters: Sequence[str]) -> dict[str, float]:
        found = {}
        for policy in policies:
            values = [cells[policy, *at] for one in drawn_clusters for at in clusters[one][policy]]
            found[policy] = fmean(values)
        pairs = [at for one in drawn_clusters for at in clusters[one][BEST]]
        for policy in policies:
            who_best = OURS.get(policy, BEST)
            plain, best = (fmean([cells[who, *at] for at in pairs]) for who in (BASE, who_best))
            ours = fmean([cells[policy, *at] for at in pairs])
            found[f"{policy} saves"] = 1.0 - found[policy] / found[BASE] if found[BASE] else 0.0
            gain = plain - best
            found[f"{policy} of the best"] = (plain - ours) / gain if abs(gain) > 1e-9 else 0.0
        return found

    whole = means(list(clusters))
    ends = _bootstrap(means, list(clusters))
    return {
        "policies": {
            policy: {
                "mean": round(whole[policy], 3),
                "low": round(ends[policy][0], 3),
                "high": round(ends[policy][1], 3),
                "saves": _three(whole, ends, f"{policy} saves"),
                "of_the_best": _three(whole, ends, f"{policy} of the best"),
            }
            for policy in policies
        },
        "worst": {name: _worst(cells, clusters, here, name) for name in OURS},
    }


def _worst(
    cells: dict[tuple[str, int, int], float],
    clusters: dict[str, dict[str, list[tuple[int, int]]]],
    here: Sequence[Season],
    policy: str,
) -> dict[str, Any]:
    """Return where the advice was worst beside the calendar, and how often clearly worse."""
    pairs = [at for one in clusters.values() for at in one[policy]]
    worst, where = max((cells[policy, *at] - cells[BASE, *at], at) for at in pairs)
    limit = 1.0 + WORSE_PERCENT / 100.0
    worse = fmean(cells[policy, *at] > cells[BASE, *at] * limit for at in pairs)
    spring = next(each for each in here if (each.number, each.draw) == where)
    return {
        "by": round(worst, 3),
        "where": f"{spring.place} {spring.cluster[-10:]}",
        "worse_percent": round(100.0 * worse, 2),
    }


def _three(whole: dict[str, float], ends: dict[str, tuple[float, float]], name: str) -> list[float]:
    return [round(each, 3) for each in (whole[name], *ends[name])]


def _bootstrap(
    means: Callable[[Sequence[str]], dict[str, float]], clusters: Sequence[str]
) -> dict[str, tuple[float, float]]:
    # The same intervals come again; nobody is to be kept from guessing them.
    dice = random.Random(1)
    runs = [means(dice.choices(clusters, k=len(clusters))) for _ in range(_runs(clusters))]
    ends = {}
    for name in runs[0]:
        ordered = sorted(each[name] for each in runs)
        low, high = (ordered[int(share * (len(ordered) - 1))] for share in LEVEL)
        ends[name] = (low, high)
    return ends


def _runs(clusters: Sequence[str]) -> int:
    return 1 if len(clusters) == 1 else RESAMPLED // 5


def _by_draw(judged: Sequence[Season]) -> list[dict[str, Any]]:
    """Return for each feed and draw what of the calendar's leaching was saved."""
    rows = []
    wanted = [each for each in judged if each.policy in (BASE, *OURS)]
    key: Callable[[Season], tuple[str, int]] = lambda each: (each.feed, each.draw)  # noqa: E731
    for (feed, draw), group in groupby(sorted(wanted, key=key), key=key):
        listed = list(group)
        row: dict[str, Any] = {"feed": feed, "draw": draw}
        for name, policy in product(("leached_g", "second_g", "lost_g"), OURS):
            plain, ours = (
                fmean([getattr(each.came, name) for each in listed if each.policy == who])
                for who in (BASE, policy)
            )
            row[f"{policy}: {name}"] = round(1.0 - ours / plain, 3)
        rows.append(row)
    return rows


def _covers(found: Sequence[Night]) -> dict[str, Any]:
    """Return how good the covers were, counted both ways."""
    frosts = [night for night in found if night.leaf_c <= night.limit_c]
    far = [night for night in frosts if night.leaf_c <= night.limit_c - FAR_C]
    rows: dict[str, Any] = {"nights": len(found), "frosts": len(frosts), "far": len(far)}
    springs_judged = len({night.cluster for night in found}) * SEEDS
    for who in found[0].covered:
        covers = [night for night in found if night.covered[who]]
        rows[who] = {
            "covers": round(len(covers) / max(1, springs_judged), 2),
            "pod": _share(night.covered[who] for night in frosts),
            "missed_far": _share(not night.covered[who] for night in far),
            "needless": _share(night.leaf_c > night.limit_c for night in covers),
            "needless_far": _share(night.leaf_c > night.limit_c + FAR_OVER_C for night in covers),
        }
    return rows


def _share(found: Any) -> float | None:
    listed = list(found)
    return round(fmean(listed), 3) if listed else None


def _tops(found: Sequence[Top]) -> list[dict[str, Any]]:
    key: Callable[[Top], tuple[str, str]] = lambda each: (each.kind, each.policy)  # noqa: E731
    return [
        {
            "kind": kind,
            "policy": policy,
            "dry_h": round(fmean([each.dry_h for each in listed]), 2),
            "worst_h": round(max(each.dry_h for each in listed), 1),
            "waterings": round(fmean([each.waterings for each in listed]), 2),
        }
        for (kind, policy), group in groupby(sorted(found, key=key), key=key)
        if (listed := list(group))
    ]


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
