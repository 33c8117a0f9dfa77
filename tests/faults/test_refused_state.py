"""State that cannot be read or written: told with path and remedy at once, and lived through."""

from __future__ import annotations

import email
import errno
import os
import resource
import shutil
import signal
import subprocess
import sys
import time
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, date, datetime
from pathlib import Path
from threading import Event, Thread

import pytest

from strawbell.edges.store import opening
from strawbell.edges.store.sqlite_store import SqliteStore
from strawbell.errors import GrowerError
from strawbell.model.notice import OutboxState
from support.daemon_process import PATIENCE_S, Setup, wait_until
from support.measured import record
from support.refused_state import (
    PLACES,
    TOOLS,
    Place,
    as_ordinary_user,
    give_away,
    may_be_made,
)
from support.scripted_smtp import Message, ScriptedSmtp
from support.used_store import NAME, NOW

TO_MEND = 2


class Refusal:
    """What the real daemon says of one place, as an ordinary user."""

    def __init__(self, place: Place, folder: Path) -> None:
        """Make the place in a folder of its own and start the daemon on it."""
        self.place = place
        folder.mkdir()
        state = folder / "state"
        setup = Setup(folder)
        self.path = place.make(state)
        give_away(place, state)
        # What SQLite puts beside a store is in no configuration.
        path = state if self.path.name.endswith("-wal") else self.path
        text = setup.config.read_text(encoding="utf-8")
        setup.write(text.replace(f'path = "{state}"', f'path = "{path}"'))
        before = _content(folder)
        program = [sys.executable, "-m", "strawbell", "--config", str(setup.config), "run"]
        words = as_ordinary_user(place, state, program)
        used_s, began_s = _processor_s(), time.monotonic()
        try:
            done = subprocess.run(
                words, capture_output=True, text=True, timeout=PATIENCE_S, check=False
            )
            self.code: int | None = done.returncode
            self.said = done.stdout + done.stderr
        except subprocess.TimeoutExpired as error:
            self.code, self.said = None, f"it runs on: {error.stderr!r}"
        self.wall_s = time.monotonic() - began_s
        self.processor_s = _processor_s() - used_s
        self.is_ours = "Traceback" in self.said or "defect" in self.said
        self.is_untouched = _content(folder) == before
        if not state.is_symlink():
            state.chmod(0o755)


def _content(folder: Path) -> dict[Path, bytes | None]:
    """Return what lies in a folder; root looks, whom no permission keeps out."""
    return {one: one.read_bytes() if one.is_file() else None for one in folder.rglob("*")}


def _processor_s() -> float:
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def test_a_place_that_cannot_be_used_is_refused_with_path_and_remedy(tmp_path: Path) -> None:
    """The real daemon, as an ordinary user, on each: it ends at once and changes nothing."""
    for tool in TOOLS:
        if shutil.which(tool) is None:
            pytest.skip(f"{tool} is not installed")
    places = [place for place in PLACES if may_be_made(place)]
    refusals = [Refusal(place, tmp_path / str(n)) for n, place in enumerate(places)]

    def none_of(figure: str, wrong: Callable[[Refusal], bool]) -> None:
        found = {each.place.name: each.said for each in refusals if wrong(each)}
        record(9, figure, len(found), target="= 0", found=found)

    record(9, "places that cannot be used", len(refusals), target=">= 6", varies=True)
    none_of("ended with another code than 2", lambda each: each.code != TO_MEND)
    none_of("path not named", lambda each: str(each.path) not in each.said)
    none_of("remedy not named", lambda each: "[state] path" not in each.said)
    none_of("traceback, or told as a defect", lambda each: each.is_ours)
    none_of("a file changed", lambda each: not each.is_untouched)
    slow = "Python and its libraries take most of it to load, and the machine had other work"
    for figure, taken_s in {
        "slowest refusal, start included, processor time": [each.processor_s for each in refusals],
        "slowest refusal, start included, by the clock": [each.wall_s for each in refusals],
    }.items():
        record(9, figure, max(taken_s), "s", target="<= 1", missed_because=slow)


@pytest.mark.parametrize("owner", [True, False])
def test_a_folder_in_the_place_of_the_file_is_refused(tmp_path: Path, owner: bool) -> None:
    """Path and remedy in one sentence."""
    with pytest.raises(GrowerError, match=r"folder, not a file.*\[state\] path") as refusal:
        SqliteStore(tmp_path, NOW, owner=owner)
    assert str(tmp_path) in str(refusal.value)


def test_a_file_in_the_place_of_the_folder_is_refused(tmp_path: Path) -> None:
    """The folder cannot be made."""
    (tmp_path / "state").touch()
    with pytest.raises(GrowerError, match="folder cannot be made"):
        SqliteStore(tmp_path / "state" / NAME, NOW, owner=True)


def test_a_pipe_in_the_place_of_the_file_is_refused(tmp_path: Path) -> None:
    """It is not waited for."""
    os.mkfifo(tmp_path / NAME)
    with pytest.raises(GrowerError, match="regular file"):
        SqliteStore(tmp_path / NAME, NOW, owner=True)


@pytest.mark.parametrize("code", [errno.EACCES, errno.EPERM, errno.EROFS])
def test_what_no_waiting_mends_is_refused_while_the_store_is_opened(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, code: int
) -> None:
    """The file that was refused is named, not only the store; a full disk would be waited for."""
    copy = str(tmp_path / "copy")

    def fail(*_: object) -> None:
        raise OSError(code, os.strerror(code), copy)

    monkeypatch.setattr(opening, "mend", fail)
    with pytest.raises(GrowerError, match=r"\[state\] path") as refusal:
        SqliteStore(tmp_path / NAME, NOW, owner=True)
    assert refusal.value.problems[0].where == copy


WRITES = "pwrite64,ftruncate,fallocate,fsync,fdatasync,rename,unlink,mkdir"
"""The calls by which a store is changed; on a disk that became read-only all of them fail."""


@dataclass
class HeldSmtp(ScriptedSmtp):
    """A mail server that has a message and answers only when it is told to."""

    has_one: Event = field(default_factory=Event)
    may_answer: Event = field(default_factory=Event)

    def _keep(self, message: Message) -> None:
        super()._keep(message)
        self.has_one.set()
        self.may_answer.wait(PATIENCE_S)


@contextmanager
def read_only_from_now_on(process: subprocess.Popen[str]) -> Iterator[None]:
    """Let every change on disk fail for a running process, as after an error of the disk.

    By hand no file system can be made read-only that has files open for writing.
    """
    tracer = shutil.which("strace")
    if tracer is None:
        pytest.skip("strace is not installed")
    words = ["-f", "-qq", "-o", "/dev/null", "-e", f"inject={WRITES}:error=EROFS"]
    tracing = subprocess.Popen([tracer, *words, "-p", str(process.pid)], stderr=subprocess.PIPE)
    try:
        wait_until(lambda: tracing.poll() is not None or is_traced(process.pid))
        if tracing.poll() is not None:
            pytest.skip("this machine does not allow tracing")
        yield
    finally:
        tracing.terminate()
        tracing.communicate(timeout=PATIENCE_S)


def is_traced(process: int) -> bool:
    """Return whether all threads of a process are traced."""
    threads = Path(f"/proc/{process}/task").iterdir()
    said = [(one / "status").read_text(encoding="ascii") for one in threads]
    return not any("TracerPid:\t0\n" in one for one in said)


class Ear:
    """Hears what a daemon says while it runs."""

    def __init__(self, daemon: subprocess.Popen[str]) -> None:
        self.said = ""
        self._stream = daemon.stderr
        self._thread = Thread(target=self._listen, daemon=True)
        self._thread.start()

    def _listen(self) -> None:
        assert self._stream is not None
        with self._stream:
            for line in self._stream:
                self.said += line

    def hears(self, words: str, times: int = 1) -> bool:
        """Wait until some words were said so many times; False when they are not."""
        return wait_until(lambda: self.said.count(words) >= times)

    def has_heard_all(self) -> str:
        """Return all that was said by a daemon that has ended."""
        self._thread.join(PATIENCE_S)
        return self.said


def test_a_disk_that_becomes_read_only_stops_no_daemon_and_costs_one_double(
    tmp_path: Path,
) -> None:
    """The server has the mail, the store does not take that: said once, and not sent again.

    Stopped before the disk works again, so that only the next process can send it twice.
    """
    with HeldSmtp() as server:
        setup = Setup(tmp_path, smtp_port=server.port)
        daemon = setup.start()
        ear = Ear(daemon)
        try:
            assert server.has_one.wait(PATIENCE_S), ear.said
            with read_only_from_now_on(daemon):
                server.may_answer.set()
                is_told = ear.hears(f"The store {setup.folder / 'state' / NAME} did not take it")
                for beat in range(1, 4):
                    daemon.send_signal(signal.SIGHUP)
                    assert ear.hears("The configuration was read again", beat), ear.said
                runs_on, sent = daemon.poll() is None, len(server.messages)
                daemon.terminate()
                code = daemon.wait(PATIENCE_S)
        finally:
            daemon.kill()
            daemon.wait(PATIENCE_S)
        said = ear.has_heard_all()
        for _ in range(2):
            answer = setup.command("run", "--once")
            assert answer.returncode == 0, answer.stderr
    times = Counter(str(email.message_from_bytes(m.body)["Message-ID"]) for m in server.messages)
    with SqliteStore(tmp_path / "state" / NAME, datetime.now(UTC)) as store:
        rows = store.outbox("Orchard corner", date.min)
    lost = [row.subject for row in rows if row.state is not OutboxState.ACCEPTED]
    lost += [row.subject for row in rows if row.message_id not in times]
    assert runs_on
    assert code == 0, said
    assert "Traceback" not in said
    assert rows
    figure = "becomes read-only while it runs"
    record(9, f"{figure}: not told with the path", int(not is_told), target="= 0")
    record(9, f"{figure}: sent again before the restart", sent - 1, target="= 0", found=said)
    doubles = max(times.values()) - 1
    record(9, f"{figure}: doubles of a reminder after it, most", doubles, target="<= 1")
    record(9, f"{figure}: reminders lost", len(lost), target="= 0", found=lost)
