"""One owner of the store: what a command is told reaches the daemon, and nothing goes beside it."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from pathlib import Path

import pytest

from strawbell.app.word import Word, WordKind
from strawbell.cli.reach import reached, tell
from strawbell.config.load import read_plain
from strawbell.edges.door import NobodyThere, ask, door_name
from strawbell.edges.machine import SystemClock
from strawbell.edges.store.sqlite_store import SqliteStore
from strawbell.errors import GrowerError
from support.daemon_process import Setup, stop, wait_until

DONE, NOT_NOW, TO_MEND = 0, 1, 2
NOBODY = 65_534
LOGIN = '[email]\nhost = "127.0.0.1"\nport = 9\nsecurity = "none"\nusername = "grower"\n'
MAIL = LOGIN + 'recipients = ["grower@example.org"]\n'


def is_open(setup: Setup) -> bool:
    """Return whether a daemon answers at the door of the configuration."""
    try:
        list(ask(setup.folder / "runtime" / door_name(setup.config), {"ask": "hello"}, 10.0))
    except NobodyThere:
        return False
    return True


@contextmanager
def running(setup: Setup) -> Iterator[subprocess.Popen[str]]:
    """Run a daemon whose door is open."""
    daemon = setup.start()
    try:
        assert wait_until(lambda: is_open(setup))
        yield daemon
    finally:
        code, said = stop(daemon)
        assert (code, "Traceback" in said) == (0, False), said


def notes(setup: Setup) -> list[str]:
    """Return the notes in the daemon's store, read from the file itself."""
    with SqliteStore(setup.folder / "state" / "strawbell.db", SystemClock().now()) as store:
        return [row.text for row in store.journal("Orchard corner") if row.kind == "note"]


def test_a_word_reaches_the_daemon_and_says_where_it_went(tmp_path: Path) -> None:
    """And the same word goes into the same store while no daemon runs."""
    setup = Setup(tmp_path)
    store = tmp_path / "state" / "strawbell.db"
    with running(setup):
        answer = setup.command("record", "note", "Slugs")
        assert answer.returncode == DONE, answer.stderr
        assert '"Slugs" is to be remembered.' in answer.stdout
        assert f"Written by the daemon into {store}." in answer.stdout
        assert "Slugs" in setup.command("journal").stdout
        refusal = setup.command("record", "done", "nonsense")
        assert refusal.returncode == TO_MEND
        assert "There is no such task" in refusal.stderr
    answer = setup.command("record", "note", "Hail")
    assert f"No daemon is running; written into {store}." in answer.stdout
    assert notes(setup) == ["Slugs", "Hail"]


def test_to_read_is_no_reason_to_begin_a_store(tmp_path: Path) -> None:
    """Where none is there, none is there afterwards."""
    setup = Setup(tmp_path)
    for command in ("today", "journal"):
        assert setup.command(command).returncode == DONE
    assert {each.name for each in tmp_path.iterdir()} == {"config.toml"}


def test_of_a_hundred_records_at_once_none_is_lost(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Half of them before the daemon's door opens, half through it; each says which it was."""
    monkeypatch.setenv("RUNTIME_DIRECTORY", str(tmp_path / "runtime"))
    setup = Setup(tmp_path)
    configuration = read_plain(setup.config, {})

    def noted(number: int) -> bool:
        word = Word(WordKind.NOTE, text=f"n{number}")
        return tell(configuration, word, SystemClock().now()).by_daemon

    with ThreadPoolExecutor(20) as at_once:
        before = list(at_once.map(noted, range(50)))
        with running(setup):
            after = list(at_once.map(noted, range(50, 100)))
    assert (before, after) == ([False] * 50, [True] * 50)
    assert sorted(notes(setup), key=lambda note: int(note[1:])) == [f"n{n}" for n in range(100)]


def test_a_daemon_that_hangs_is_not_written_past(tmp_path: Path) -> None:
    """The command gives up within seconds, surely without having recorded."""
    setup = Setup(tmp_path)
    with running(setup) as daemon:
        daemon.send_signal(signal.SIGSTOP)
        answer = setup.command("record", "note", "Slugs")
        daemon.send_signal(signal.SIGCONT)
        assert answer.returncode == NOT_NOW
        assert "may hang" in answer.stderr
        assert "Nothing was recorded" in answer.stderr
    assert notes(setup) == []


def test_a_killed_daemons_door_keeps_nobody_out(tmp_path: Path) -> None:
    """Its socket is still there, and nobody listens."""
    setup = Setup(tmp_path)
    daemon = setup.start()
    assert wait_until(lambda: is_open(setup))
    daemon.kill()
    daemon.communicate()
    answer = setup.command("record", "note", "Slugs")
    assert (answer.returncode, answer.stderr) == (DONE, "")
    with running(setup):
        assert "Written by the daemon" in setup.command("record", "note", "Hail").stdout
    assert notes(setup) == ["Slugs", "Hail"]


def test_a_reload_tells_whether_the_configuration_was_taken(tmp_path: Path) -> None:
    """With every mistake that the daemon found; the old one stays then."""
    setup = Setup(tmp_path)
    good = setup.config.read_text(encoding="utf-8")
    with running(setup):
        setup.write(good.replace("Orchard corner", "Mill lane"))
        answer = setup.command("reload")
        assert (answer.returncode, answer.stderr) == (DONE, "")
        assert "again, for Mill lane" in answer.stdout
        setup.write("[[gardens]]\nname = ")
        answer = setup.command("reload")
        assert answer.returncode == TO_MEND
        assert "latitude is missing" in answer.stderr
        setup.write(good)
        assert "Mill lane" in setup.command("record", "note", "Slugs").stdout
    answer = setup.command("reload")
    assert answer.returncode == NOT_NOW
    assert f"No daemon runs with {setup.config}" in answer.stderr


def test_without_the_password_everything_but_sending_works(tmp_path: Path) -> None:
    """It may be in the daemon's unit only; `check` says so."""
    setup = Setup(tmp_path, extra=MAIL)
    for command in (("today",), ("journal",), ("record", "note", "Slugs"), ("check",)):
        answer = setup.command(*command)
        assert answer.returncode == DONE, answer.stderr
    assert "a username without a password" in answer.stderr
    assert "the daemon may have it" in answer.stdout
    for command in (("run", "--once"), ("ring",), ("check", "--connect")):
        answer = setup.command(*command)
        assert answer.returncode == TO_MEND
        assert "a username without a password" in answer.stderr
    (missing,) = json.loads(setup.command("check", "--json").stdout)["missing_secrets"]
    assert "[email] password" in missing["where"]
    in_the_unit = Setup(tmp_path, extra=MAIL, environ={"STRAWBELL_EMAIL__PASSWORD": "rye"})
    with running(in_the_unit):
        assert "the daemon that runs has the secret" in setup.command("check").stdout


@pytest.mark.skipif(os.geteuid() != 0, reason="only root can act as another user")
def test_what_root_records_for_a_daemon_that_does_not_run_stays_the_daemons(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Every file beside the store keeps its owner, so that the daemon can read it."""
    monkeypatch.setenv("RUNTIME_DIRECTORY", str(tmp_path / "runtime"))
    setup = Setup(tmp_path)
    state = tmp_path / "state"
    state.mkdir(mode=0o700)
    os.chown(state, NOBODY, NOBODY)
    configuration = read_plain(setup.config, {})
    tell(configuration, Word(WordKind.NOTE, text="Slugs"), SystemClock().now())
    assert {each.stat().st_uid for each in state.iterdir()} == {NOBODY}
    assert (state / "strawbell.db.marker").exists()


@pytest.mark.skipif(os.geteuid() != 0, reason="only root can act as another user")
def test_a_store_out_of_reach_is_told_and_none_is_begun_beside_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Who may not look into the daemon's folder is told what to do, to read and to record."""
    monkeypatch.setenv("RUNTIME_DIRECTORY", str(tmp_path / "runtime"))
    setup = Setup(tmp_path)
    (tmp_path / "state").mkdir(mode=0o700)
    configuration, now = read_plain(setup.config, {}), SystemClock().now()
    os.seteuid(NOBODY)
    try:
        with pytest.raises(GrowerError, match="belongs to a daemon that does not run now"):
            tell(configuration, Word(WordKind.NOTE, text="Slugs"), now)
        with pytest.raises(GrowerError, match="sudo"), reached(configuration, now):
            raise AssertionError("nothing can be read")
    finally:
        os.seteuid(0)
    assert {each.name for each in tmp_path.iterdir()} == {"config.toml", "state"}


@pytest.mark.parametrize(
    ("redirect", "code", "said"),
    [("> /dev/full", NOT_NOW, "could not be written"), (">&-", DONE, ""), ("", DONE, "")],
)
def test_an_output_that_takes_nothing_is_no_defect(
    tmp_path: Path, redirect: str, code: int, said: str
) -> None:
    """Full, closed, or of a terminal that knows few letters."""
    setup = Setup(tmp_path, environ={"PYTHONIOENCODING": "ascii"})
    line = f"{sys.executable} -m strawbell --config {setup.config} today {redirect}"
    answer = subprocess.run(
        ["/bin/sh", "-c", line],
        capture_output=True,
        text=True,
        check=False,
        env={**os.environ, **setup.environ, "RUNTIME_DIRECTORY": str(tmp_path)},
    )
    assert (answer.returncode, said in answer.stderr) == (code, True), answer.stderr
    assert "Traceback" not in answer.stderr
    assert "Exception ignored" not in answer.stderr
