"""Deliberate faults in the delivery path, each of which the tests have to catch.

A copy of the program gets one fault and the suites of its room run against it; a fault that no
test notices fails here. Each fault is a piece of text that must stand in the source exactly
once, so that none of them can rot away unnoticed.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from support.measured import ENVIRONMENT, record

ROOT = Path(__file__).parents[2]
PACKAGE = ROOT / "daemon" / "strawbell"

OUTBOX = ("unit/app/test_outbox.py", "properties/test_outbox_machine.py")
STORE = ("contracts/test_store.py", "faults/test_store_faults.py")
DAMAGE = ("faults/test_damaged_stores.py",)
TROUBLE = ("unit/app/test_store_trouble.py",)
SMTP = ("faults/test_smtp_faults.py", "unit/edges/test_smtp.py")

MUTANTS = {
    "claims nothing before sending": (
        "app/outbox.py",
        "            store.move(\n                row.unique_key,\n"
        "                OutboxState.SENDING,",
        "            (lambda *_, **__: None)(\n                row.unique_key,\n"
        "                OutboxState.SENDING,",
        OUTBOX,
    ),
    "takes unknown for accepted": (
        "app/outbox.py",
        "Outcome.UNKNOWN: OutboxState.UNKNOWN,",
        "Outcome.UNKNOWN: OutboxState.ACCEPTED,",
        OUTBOX,
    ),
    "tries again what was refused for good": (
        "app/outbox.py",
        "Outcome.FOR_GOOD: OutboxState.FOR_GOOD,",
        "Outcome.FOR_GOOD: OutboxState.LATER,",
        OUTBOX,
    ),
    "forgets outcomes that the disk refused": (
        "app/outbox.py",
        "            self._unrecorded[result.row.unique_key] = result",
        "            self._unrecorded.pop(result.row.unique_key, None)",
        OUTBOX,
    ),
    "sends what has expired": (
        "app/outbox.py",
        "if now >= row.expires_at:",
        "if now > row.expires_at:",
        OUTBOX,
    ),
    "records after saying goodbye": (
        "app/outbox.py",
        "            delivery = channel.send(claimed)\n",
        "            delivery = channel.send(claimed)\n            channel.close()\n",
        OUTBOX,
    ),
    "does not wait for the disk": (
        "edges/store/connection.py",
        'connection.execute("PRAGMA synchronous = FULL")',
        'connection.execute("PRAGMA synchronous = OFF")',
        STORE,
    ),
    "leaves what a crash interrupted": (
        "edges/store/sqlite_store.py",
        "AND (state = 'sending' OR (state IN",
        "AND (state = 'gone' OR (state IN",
        STORE,
    ),
    "lets two processes claim one message": (
        "edges/store/sqlite_store.py",
        'condition = " AND attempts = ?" if claim else ""',
        'condition = " AND attempts >= ? - 9" if claim else ""',
        STORE,
    ),
    "keeps half a transaction": (
        "edges/store/sqlite_store.py",
        'self._connection.execute("ROLLBACK")',
        'self._connection.execute("COMMIT")',
        STORE,
    ),
    "does not look for damage": (
        "edges/store/examine.py",
        "        return Finding(Condition.DAMAGED, problem)\n    tables",
        "        pass\n    tables",
        DAMAGE,
    ),
    "takes silence after the dot for a no": (
        "edges/mail_refusals.py",
        "    if stage is Stage.DOT:",
        "    if stage is Stage.CONNECT:",
        SMTP,
    ),
    "takes a refusal for good for later": (
        "edges/mail_refusals.py",
        "    return replace(told, outcome=Outcome.FOR_GOOD)",
        "    return replace(told, outcome=Outcome.LATER)",
        SMTP,
    ),
    "tells of a full disk at every beat": (
        "app/trouble.py",
        "            self._told.add(_mark(channel, notice))\n",
        "            pass\n",
        TROUBLE,
    ),
    "takes a trouble for over before it is recorded": (
        "app/trouble.py",
        "            if self._lasting is None:\n                self._end()\n",
        "            if True:\n                self._end()\n",
        TROUBLE,
    ),
    "calls a server that is away as if the trouble were its own": (
        "app/outbox.py",
        "        elif delivery.own_trouble:",
        "        else:",
        OUTBOX,
    ),
    "ends a message at a lonely dot": (
        "edges/smtp.py",
        'lines = lines.replace(b"\\r\\n.", b"\\r\\n..")',
        "pass",
        SMTP,
    ),
}


def run_suites(suites: tuple[str, ...], folder: Path) -> subprocess.CompletedProcess[str]:
    """Run suites against the copy of the program in `folder`."""
    words = ["-m", "pytest", "-x", "-q", "-p", "no:cacheprovider"]
    return subprocess.run(
        [sys.executable, *words, *(str(ROOT / "tests" / suite) for suite in suites)],
        cwd=ROOT,
        env={
            **{name: value for name, value in os.environ.items() if name != ENVIRONMENT},
            "PYTHONPATH": str(folder),
            "PYTHONDONTWRITEBYTECODE": "1",
        },
        capture_output=True,
        text=True,
        check=False,
        timeout=300,
    )


def copied(folder: Path) -> Path:
    ignored = shutil.ignore_patterns("__pycache__")
    return Path(shutil.copytree(PACKAGE, folder / "strawbell", ignore=ignored))


@pytest.mark.nightly
def test_an_unharmed_copy_passes(tmp_path: Path) -> None:
    """Otherwise the copying, not the fault, would be what the tests notice."""
    copied(tmp_path)
    done = run_suites((*OUTBOX, *STORE, *DAMAGE, *TROUBLE, "unit/edges/test_smtp.py"), tmp_path)
    assert done.returncode == 0, done.stdout


@pytest.mark.nightly
@pytest.mark.parametrize("fault", MUTANTS)
def test_a_deliberate_fault_is_caught(fault: str, tmp_path: Path) -> None:
    """The suites fail on the faulty copy."""
    file, good, bad, suites = MUTANTS[fault]
    source = copied(tmp_path) / file
    source.write_text(source.read_text(encoding="utf-8").replace(good, bad), encoding="utf-8")
    done = run_suites(suites, tmp_path)
    assert done.returncode == 1, f"nobody noticed:\n{done.stdout[-2000:]}{done.stderr[-2000:]}"
    assert "failed" in done.stdout


def test_there_are_more_faults_than_promised_and_each_fits_the_source() -> None:
    """Ten at least; each of them is a test of its own, of every night."""
    for file, good, _, _ in MUTANTS.values():
        assert (PACKAGE / file).read_text(encoding="utf-8").count(good) == 1, good
    record(23, "deliberate faults", len(MUTANTS), target=">= 10")
