"""The table of reliability is what the kept figures say, and all were run."""

from __future__ import annotations

import subprocess
import sys
from contextlib import nullcontext
from functools import lru_cache
from pathlib import Path

import pytest

from support import measured
from support.promises import PROMISES, Promise

PLANNED_ROWS = 24


def test_the_table_is_what_was_measured() -> None:
    """`python tests/support/measured.py ci|nightly [row ...]` measures and writes it anew."""
    text = measured.MAP.read_text(encoding="utf-8")
    _, _, rest = text.partition(measured.BEGIN)
    shown, end, _ = rest.partition(measured.END)
    assert end
    assert shown.strip() == measured.table().strip()


def test_every_promise_has_a_row() -> None:
    """One that is not tested stands there as not run, instead of not at all."""
    assert list(PROMISES) == list(range(1, PLANNED_ROWS + 1))
    assert {int(row) for row in measured.load()["rows"]} <= set(PROMISES)


def test_a_promise_names_only_tests_that_exist() -> None:
    """A test that was renamed must not drop out of its row unnoticed."""
    lost = [
        begin
        for promise in PROMISES.values()
        for begin in promise.tests
        if not any(test.startswith(begin) for test in collected())
    ]
    assert lost == []


def test_each_row_counts_the_tests_that_there_are() -> None:
    """As many were run when the row was measured as a run of each change has."""
    now = measured.counted(test for test, nightly in collected().items() if not nightly)
    then = {row: measured.total(row, "ci") for row in PROMISES}
    assert then == now, "measure the rows that differ, and commit the file and the table"


def test_no_row_is_held_that_was_not_run() -> None:
    """Skipped alone is not run; a figure beyond its target, or one failure, is missed."""
    promise = Promise("nothing is lost")
    ran = {"passed": 1, "failed": 0, "skipped": 0, "on": "2027-04-09"}
    figure = {"value": 1, "unit": "", "target": "<= 1", "tier": "ci", "on": "2027-04-09"}
    assert measured.verdict(promise, {}) == "**not run**"
    assert measured.verdict(promise, {"ci": {**ran, "passed": 0, "skipped": 9}}) == "**not run**"
    assert measured.verdict(promise, {"ci": ran, "figures": {"f": figure}}) == "held"
    for passed in (0, 1):
        line = {"ci": {**ran, "passed": passed, "failed": 1}}
        assert measured.verdict(promise, line) == "**missed**"
    beyond = {"f": {**figure, "value": 2}}
    assert measured.verdict(promise, {"ci": ran, "figures": beyond}) == "**missed**"


def test_a_count_that_differs_from_the_kept_one_fails() -> None:
    """Otherwise the table could drift from what is measured."""
    kept = measured.load()["rows"]
    row, figures = next((int(r), line["figures"]) for r, line in kept.items() if "figures" in line)
    name, one = next((n, o) for n, o in figures.items() if isinstance(o["value"], int))
    measured.record(row, name, one["value"], one["unit"], target=one["target"])
    for wrong in ({"value": one["value"] + 1}, {"figure": "never measured"}):
        arguments = {"figure": name, "value": one["value"], **wrong}
        try:
            measured.record(row, unit=one["unit"], target=one["target"], **arguments)
        except AssertionError:
            continue
        raise AssertionError(f"{wrong} was taken")


@pytest.fixture
def empty(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Keep figures in a file of the test's own, which is empty, as one that measures does."""
    path = tmp_path / "measured.json"
    path.write_text('{"machine": "a test", "rows": {}}', encoding="utf-8")
    monkeypatch.setattr(measured, "KEPT", path)
    monkeypatch.setenv(measured.ENVIRONMENT, "ci")
    return path


@pytest.mark.parametrize(("seconds", "missed"), [(0.19, False), (0.2, False), (0.2001, True)])
@pytest.mark.usefixtures("empty")
def test_a_missed_target_fails_unless_a_reason_is_given_and_is_shown_with_it(
    seconds: float, missed: bool
) -> None:
    """The table shows it as missed, and the row, even where rounding would hide it; a figure that
    meets its target is shown without the reason that stood in its way.
    """

    def keep(reason: str) -> None:
        measured.record(17, "a start", seconds, "s", target="<= 0.2", missed_because=reason)

    if missed:
        with pytest.raises(AssertionError, match="a start"):
            keep("")
    keep("libraries are slow to load")
    ran = {"passed": 1, "failed": 0, "skipped": 0, "on": "2027-04-09"}
    line = {**measured.load()["rows"]["17"], "ci": ran}
    (shown,) = [row for row in measured.table().splitlines() if "a start" in row]
    assert ("(<= 0.2) **missed**: libraries are slow to load" in shown) is missed
    assert ("libraries" in shown) is missed
    assert measured.verdict(PROMISES[17], line) == ("**missed**" if missed else "held")


@pytest.mark.parametrize(("seconds", "tier", "met"), [(5.0, "ci", False), (5.0, "", True)])
@pytest.mark.usefixtures("empty")
def test_a_busy_machine_fails_only_a_time_that_is_measured_on_purpose(
    seconds: float, tier: str, met: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Ten times the target is let pass in any other run, and no more."""
    measured.record(17, "a start", 0.1, "s", target="<= 0.5", by_clock=True)
    monkeypatch.setenv(measured.ENVIRONMENT, tier)
    with nullcontext() if met else pytest.raises(AssertionError, match="a start"):
        measured.record(17, "a start", seconds, "s", target="<= 0.5", by_clock=True)
    with pytest.raises(AssertionError, match="a start"):
        measured.record(17, "a start", 5.1, "s", target="<= 0.5", by_clock=True)


@pytest.mark.usefixtures("empty")
def test_a_figure_is_forgotten_when_its_tier_is_measured_anew() -> None:
    """One whose test is gone, failed or was skipped must not stay as if it had been measured."""
    measured.record(4, "of each change", 1)
    measured.record(17, "of another row", 1)
    measured.forget("nightly", [4])
    assert set(measured.load()["rows"]["4"]["figures"]) == {"of each change"}
    measured.forget("ci", [4])
    assert "figures" not in measured.load()["rows"]["4"]
    assert "figures" in measured.load()["rows"]["17"]


@pytest.mark.usefixtures("empty")
def test_a_miss_names_what_was_found() -> None:
    """A count alone would not say where to look; a reason without a target excuses nothing."""
    with pytest.raises(AssertionError, match="hang at banner"):
        measured.record(4, "wrong", 1, target="= 0", found=["hang at banner"])
    with pytest.raises(AssertionError, match="only a target"):
        measured.record(4, "wrong", 1, missed_because="no time")


COLLECT = """
import sys, pytest
class Tell:
    def pytest_collection_modifyitems(self, items):
        for item in items:
            print("item", item.get_closest_marker("nightly") is not None, item.nodeid)
words = ["--collect-only", "-qq", "-p", "no:cacheprovider", "-m", "", *sys.argv[1:]]
sys.exit(pytest.main(words, plugins=[Tell()]))
"""


@lru_cache(maxsize=1)
def collected() -> dict[str, bool]:
    """Return the tests of every row by their names below tests/, and whether they are nightly."""
    done = subprocess.run(
        [sys.executable, "-c", COLLECT, *measured.suites(PROMISES)],
        capture_output=True,
        text=True,
        check=False,
        cwd=measured.TESTS.parent,
    )
    assert done.returncode == 0, done.stdout + done.stderr
    told = [line.split(" ", 2) for line in done.stdout.splitlines() if line.startswith("item ")]
    return {name.removeprefix("tests/"): nightly == "True" for _, nightly, name in told}
