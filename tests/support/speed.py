"""The figures of speed and size: kept in a file, shown in a table and in curves beside it.

As a program: `python tests/support/speed.py [what pytest takes ...]` runs the benchmarks, keeps
what they came to in `tests/benchmarks/measured.json` and writes the table of `measured.md` anew.
In any other run a benchmark holds its figures to their limits, and writes nothing.
"""

from __future__ import annotations

import fcntl
import json
import os
import platform
import subprocess
import sys
from collections.abc import Iterator, Mapping
from datetime import UTC, datetime
from math import log10
from pathlib import Path
from typing import Any

BENCHMARKS = Path(__file__).resolve().parents[1] / "benchmarks"
KEPT, PAGE = BENCHMARKS / "measured.json", BENCHMARKS / "measured.md"
BEGIN, END = "<!-- measured:begin -->", "<!-- measured:end -->"
ENVIRONMENT = "KEEP_SPEED"
"""Set while figures are measured on purpose; unset, nothing is ever written."""
BAR_COLUMNS = 40

Kept = dict[str, Any]


def figure(
    what: str,
    value: float,
    unit: str,
    *,
    most: float | None = None,
    least: float | None = None,
    goal: str = "",
) -> None:
    """Hold a figure to its limits and print it; `goal` is what it should come to, and why not."""
    limits = [f"at most {most:g}"] if most is not None else []
    limits += [f"at least {least:g}"] if least is not None else []
    is_met = (most is None or value <= most) and (least is None or value >= least)
    print(f"\n{what}: {value:.3g} {unit}; {', '.join(limits)} {goal}")
    if ENVIRONMENT in os.environ:
        limit = ", ".join(limits) + ("" if is_met else ": **missed**")
        row = {"value": float(f"{value:.3g}"), "unit": unit, "limit": limit}
        _keep("figures", what, {**row, "goal": goal, "how": _test(), "on": _today()})
    assert is_met, f"{what}: {value} {unit}, {', '.join(limits)}"


def curve(what: str, unit: str, points: Mapping[int, float]) -> None:
    """Show how a cost goes with a number of gardens, days or the like."""
    print(f"\n{what} [{unit}]: {dict(points)}")
    if ENVIRONMENT in os.environ:
        told = {str(at): float(f"{value:.3g}") for at, value in points.items()}
        _keep("curves", what, {"unit": unit, "points": told, "how": _test(), "on": _today()})


def page() -> str:
    """Return the figures that are kept as the table and the curves of the page."""
    kept = load()
    rows = sorted(kept["figures"].items(), key=lambda row: row[1]["how"])
    lines = ["| figure | measured | held to | goal | by | on |", "|---|---|---|---|---|---|"]
    lines += [
        f"| {what} | {row['value']:g} {row['unit']} | {row['limit'] or 'told'} | {row['goal']} "
        f"| `{row['how']}` | {row['on']} |"
        for what, row in rows
    ]
    for what, row in sorted(kept["curves"].items()):
        lines += ["", f"{what} [{row['unit']}], `{row['how']}`, {row['on']}:", "", "```text"]
        lines += [*_bars({int(at): value for at, value in row["points"].items()}), "```"]
    return "\n".join([*lines, "", f"Measured on {kept['machine']}."])


def _bars(points: Mapping[int, float]) -> Iterator[str]:
    highest = max(points.values())
    for at, value in sorted(points.items()):
        bar = "#" * max(round(BAR_COLUMNS * value / highest), 1)
        yield f"{at:>{int(log10(max(points))) + 2},} {bar:<{BAR_COLUMNS}} {value:g}"


def load() -> Kept:
    """Return what is kept."""
    kept: Kept = json.loads(KEPT.read_text(encoding="utf-8"))
    return kept


def _keep(kind: str, what: str, row: Mapping[str, object]) -> None:
    with KEPT.open("r+", encoding="utf-8") as file:
        fcntl.flock(file, fcntl.LOCK_EX)
        kept = json.load(file)
        kept[kind][what] = row
        cores = len(os.sched_getaffinity(0))
        kept["machine"] = f"{cores} cores, {platform.machine()}, Python {platform.python_version()}"
        file.seek(0)
        file.write(json.dumps(kept, indent=1, ensure_ascii=False) + "\n")
        file.truncate()


def _test() -> str:
    return os.environ["PYTEST_CURRENT_TEST"].partition("::")[0].rpartition("/")[2]


def _today() -> str:
    return datetime.now(UTC).date().isoformat()


def main(arguments: list[str]) -> int:
    """Run benchmarks, keep their figures, and write the page anew."""
    targets = arguments or [str(BENCHMARKS)]
    line = [sys.executable, "-m", "pytest", "-q", "-s", "-m", "benchmark", *targets]
    ran = subprocess.run(line, env={**os.environ, ENVIRONMENT: "1"}, check=False)
    text = PAGE.read_text(encoding="utf-8")
    before, _, rest = text.partition(BEGIN)
    after = rest.partition(END)[2]
    PAGE.write_text(f"{before}{BEGIN}\n{page()}\n{END}{after}", encoding="utf-8")
    return ran.returncode


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
