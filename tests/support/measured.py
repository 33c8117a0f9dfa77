"""The figures behind the promises: kept in a file, shown in a table beside it, checked in each run.

As a program: `python tests/support/measured.py ci|nightly [row ...]` runs the tests of the rows,
keeps what they came to in `tests/faults/measured.json` and writes the table anew. In any other
run a test compares its figures with the kept ones and writes nothing.
"""

from __future__ import annotations

import fcntl
import json
import os
import platform
import re
import sqlite3
import subprocess
import sys
import tempfile
from collections import Counter
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

if __name__ == "__main__":  # run as a program, it is its own way in
    sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from support.promises import PROMISES, Promise

TESTS = Path(__file__).resolve().parents[1]
KEPT = TESTS / "faults" / "measured.json"
MAP = TESTS / "faults" / "measured.md"
ENVIRONMENT = "STRAWBELL_MEASURE"
"""Set to the tier that is being measured; unset, nothing is ever written."""
BUSY = 10.0
"""How much longer than its target a time may be in a run that measures nothing."""

BEGIN, END = "<!-- reliability:begin -->", "<!-- reliability:end -->"
TIERS = {"ci": "not nightly and not benchmark", "nightly": "nightly"}
COMPARE: dict[str, Callable[[float, float], bool]] = {
    "=": lambda value, limit: value == limit,
    "<=": lambda value, limit: value <= limit,
    ">=": lambda value, limit: value >= limit,
}

Kept = dict[str, Any]


def record(
    row: int,
    figure: str,
    value: float,
    unit: str = "",
    *,
    target: str = "",
    varies: bool | None = None,
    found: object = "",
    missed_because: str = "",
    by_clock: bool = False,
) -> None:
    """Hold a figure to its target (such as "<= 5"), and a count to the one that is kept.

    A whole number is the same in every run, unless `varies`; other numbers, such as times,
    belong to a machine and are only held to the target. One taken `by_clock` is held to it where it
    is measured on purpose; in any other run, on a machine that may be slow or busy, to ten times
    as much, which only a wait that does not end exceeds. `found` is told with a miss, such as the
    cases that went wrong. A miss fails the test, unless `missed_because` says what stands in the
    way: then the table shows figure, reason and row as missed until the target is met.
    """
    assert row in PROMISES, f"there is no row {row} in support/promises.py"
    tier = os.environ.get(ENVIRONMENT)
    met = meets(value / BUSY if by_clock and not tier else value, target)
    assert target or not missed_because, f"row {row}, {figure}: only a target can be missed"
    assert met or missed_because, f"row {row}, {figure}: {value} {unit}, target {target}; {found}"
    if varies is None:
        varies = isinstance(value, float)
    if tier:
        assert tier in TIERS, f"{ENVIRONMENT} is one of {sorted(TIERS)}"
        excuse = "" if met else missed_because
        _keep_figure(row, figure, value, unit, target, tier, excuse)
        return
    kept = load()["rows"].get(str(row), {}).get("figures", {}).get(figure)
    again = f"`python tests/support/measured.py ci|nightly {row}` keeps what is measured"
    assert kept is not None, f"row {row}, {figure} is in no table yet; {again}"
    assert (kept["target"], kept["unit"]) == (target, unit), f"row {row}, {figure}; {again}"
    assert varies or kept["value"] == value, f"row {row}, {figure}: {value}, kept {kept}; {again}"


def meets(value: float, target: str) -> bool:
    """Return whether a value meets a target; without one it does."""
    if not target:
        return True
    sign, limit = target.split()
    return COMPARE[sign](value, float(limit))


def _keep_figure(
    row: int, figure: str, value: float, unit: str, target: str, tier: str, excuse: str
) -> None:
    with changing() as kept:
        figures = kept["rows"].setdefault(str(row), {}).setdefault("figures", {})
        one = {"value": _shown(value), "unit": unit, "target": target, "tier": tier, "on": today()}
        if excuse:
            one["missed_because"] = excuse
        figures[figure] = one


def _shown(value: float) -> float:
    return round(value, 3) if isinstance(value, float) else value


def today() -> str:
    """Return the date of a measurement."""
    return datetime.now(UTC).date().isoformat()


def load() -> Kept:
    """Return what is kept."""
    kept: Kept = json.loads(KEPT.read_text(encoding="utf-8"))
    return kept


@contextmanager
def changing() -> Iterator[Kept]:
    """Change what is kept, one process at a time."""
    with KEPT.open("r+", encoding="utf-8") as file:
        fcntl.flock(file, fcntl.LOCK_EX)
        kept = json.load(file)
        yield kept
        rows = sorted(kept["rows"].items(), key=lambda item: int(item[0]))
        kept["rows"] = dict(rows)
        text = json.dumps(kept, indent=1, ensure_ascii=False) + "\n"
        file.seek(0)
        file.truncate()
        file.write(text)


def belongs(test: str, promise: Promise) -> bool:
    """Return whether a test, as `faults/test_x.py::test_y[z]`, holds a promise."""
    return any(test.startswith(begin if "::" in begin else f"{begin}::") for begin in promise.tests)


def counted(tests: Iterable[str]) -> dict[int, int]:
    """Return how many of the tests belong to each row."""
    names = list(tests)
    return {row: sum(belongs(name, promise) for name in names) for row, promise in PROMISES.items()}


def total(row: int, tier: str) -> int:
    """Return how many tests of a row were counted when its tier was measured last."""
    came_to = load()["rows"].get(str(row), {}).get(tier, {})
    return sum(came_to.get(name, 0) for name in ("passed", "failed", "skipped"))


def suites(rows: Iterable[int]) -> list[str]:
    """Return the files of some rows."""
    files = {test.partition("::")[0] for row in rows for test in PROMISES[row].tests}
    return sorted(str(TESTS / file) for file in files)


def machine() -> str:
    """Return what the figures were measured on."""
    cores = f"{os.cpu_count()} cores"
    interpreter = f"Python {platform.python_version()}, SQLite {sqlite3.sqlite_version}"
    return f"{cores}, {platform.system()} {platform.machine()}, {interpreter}"


def measure(tier: str, rows: list[int]) -> int:
    """Run the tests of some rows, keep what they came to, and write the table.

    What they came to before is forgotten first: a figure no test measures any more, or whose test
    failed or was skipped, must not stay in the table as if it had been measured.
    """
    forget(tier, rows)
    with tempfile.TemporaryDirectory() as folder:
        report = Path(folder) / "report.xml"
        names = [begin for row in rows for begin in PROMISES[row].tests]
        done = subprocess.run(
            [
                *(sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider"),
                *("-m", TIERS[tier], f"--junitxml={report}"),
                *suites(rows),
                *_only(names),
            ],
            env={**os.environ, ENVIRONMENT: tier},
            cwd=TESTS.parent,
            check=False,
        )
        outcomes = read_report(report)
    with changing() as kept:
        kept["machine"] = machine()
        for row in rows:
            came_to = Counter(
                outcome for test, outcome in outcomes.items() if belongs(test, PROMISES[row])
            )
            if came_to:
                told = {name: came_to[name] for name in ("passed", "failed", "skipped")}
                kept["rows"].setdefault(str(row), {})[tier] = {**told, "on": today()}
    write_table()
    return done.returncode


def forget(tier: str, rows: Iterable[int]) -> None:
    """Drop the figures of some rows that were measured in a tier."""
    with changing() as kept:
        for row in rows:
            line = kept["rows"].get(str(row), {})
            figures = line.pop("figures", {}).items()
            left = {name: one for name, one in figures if one["tier"] != tier}
            if left:
                line["figures"] = left


def _only(names: list[str]) -> list[str]:
    """Return the words that leave out the other tests of the same files."""
    wanted = {re.sub(r"\W", "", name.partition("::")[2]) for name in names}
    if "" in wanted:
        return []
    return ["-k", " or ".join(sorted(wanted))]


def read_report(report: Path) -> dict[str, str]:
    """Return what became of each test, by its name below tests/."""
    outcomes = {}
    for case in ElementTree.parse(report).iter("testcase"):
        parts = case.get("classname", "").split(".")
        file = next(n for n, part in enumerate(parts) if part.startswith("test_"))
        path = "/".join(parts[1 : file + 1])
        name = "::".join([*parts[file + 1 :], case.get("name", "")])
        tags = {child.tag for child in case}
        outcome = "failed" if tags & {"failure", "error"} else "passed"
        outcomes[f"{path}.py::{name}"] = "skipped" if "skipped" in tags else outcome
    return outcomes


def write_table() -> None:
    """Put the table between its markers."""
    text = MAP.read_text(encoding="utf-8")
    before, _, rest = text.partition(BEGIN)
    _, _, after = rest.partition(END)
    MAP.write_text(f"{before}{BEGIN}\n{table()}\n{END}{after}", encoding="utf-8")


def table() -> str:
    """Return the table of every promise, as `measured.md` beside the figures shows it."""
    kept = load()
    lines = [
        "| # | promise | each change | nightly | figures (target) | verdict |",
        "|---|---|---|---|---|---|",
    ]
    for row, promise in PROMISES.items():
        line = kept["rows"].get(str(row), {})
        cells = [
            str(row),
            promise.text,
            _tests(line.get("ci"), dated=False),
            _tests(line.get("nightly"), dated=True),
            "; ".join(_figure(name, one) for name, one in line.get("figures", {}).items()),
            verdict(promise, line),
        ]
        lines.append(f"| {' | '.join(cell or '-' for cell in cells)} |")
    return "\n".join([*lines, "", f"Measured on {kept['machine']}."])


def _tests(came_to: Kept | None, *, dated: bool) -> str:
    if came_to is None:
        return ""
    told = f"{came_to['passed']} passed"
    for name in ("failed", "skipped"):
        if came_to[name]:
            told += f", **{came_to[name]} {name}**"
    return f"{told} ({came_to['on']})" if dated else told


def is_missed(one: Kept) -> bool:
    """Return whether a kept figure missed its target; as kept it may be rounded to meet it."""
    return "missed_because" in one or not meets(one["value"], one["target"])


def _figure(name: str, one: Kept) -> str:
    target = f" ({one['target']})" if one["target"] else ""
    number = f"{one['value']:,}" if isinstance(one["value"], int) else f"{one['value']:g}"
    why = f": {one['missed_because']}" if "missed_because" in one else ""
    missed = f" **missed**{why}" if is_missed(one) else ""
    return f"{name} {number}{' ' if one['unit'] else ''}{one['unit']}{target}{missed}"


def verdict(promise: Promise, line: Kept) -> str:
    """Return one word for a row: nothing is held that was not run."""
    runs = [line[tier] for tier in TIERS if tier in line]
    if not any(run["passed"] or run["failed"] for run in runs):
        word = "**not run**"
        return f"{word}: {promise.not_here}" if promise.not_here else word
    figures = line.get("figures", {}).values()
    good = not any(run["failed"] for run in runs) and not any(map(is_missed, figures))
    word = "held" if good else "**missed**"
    return f"{word}; not run here: {promise.not_here}" if promise.not_here else word


if __name__ == "__main__":
    chosen = [int(word) for word in sys.argv[2:]] or list(PROMISES)
    sys.exit(measure(sys.argv[1], chosen))
