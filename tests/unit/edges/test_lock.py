"""One daemon for each state folder."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from strawbell.edges.lock import PID_FILE, StateLock
from strawbell.errors import GrowerError

OWNER = """
import sys
from pathlib import Path
from strawbell.edges.lock import StateLock
from strawbell.errors import GrowerError
lock = StateLock(Path(sys.argv[1]))
try:
    lock.acquire()
except GrowerError as error:
    print(error, flush=True)
    sys.exit(2)
print("held", flush=True)
sys.stdin.read()
"""


@contextmanager
def other_process(folder: Path) -> Iterator[tuple[subprocess.Popen[str], str]]:
    process = subprocess.Popen(
        [sys.executable, "-c", OWNER, str(folder)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    )
    assert process.stdin is not None
    assert process.stdout is not None
    try:
        yield process, process.stdout.readline().strip()
    finally:
        process.kill()
        process.wait(10)
        process.stdin.close()
        process.stdout.close()


def test_a_second_daemon_is_refused_with_the_number_of_the_first(tmp_path: Path) -> None:
    """The sentence names the folder and the process."""
    with other_process(tmp_path) as (owner, said):
        assert said == "held"
        with pytest.raises(GrowerError, match=f"process {owner.pid}") as refusal:
            StateLock(tmp_path).acquire()
    assert str(tmp_path) in str(refusal.value)


def test_a_killed_owner_leaves_the_folder_free(tmp_path: Path) -> None:
    """No stale lock after kill -9, though its number still stands in the file."""
    with other_process(tmp_path) as (owner, _):
        owner.kill()
        owner.wait(10)
        assert (tmp_path / PID_FILE).exists()
        with StateLock(tmp_path) as lock:
            assert lock.held
            assert lock.owner() == os.getpid()


def test_deleting_the_file_does_not_open_the_door(tmp_path: Path) -> None:
    """The folder itself is locked."""
    with other_process(tmp_path):
        (tmp_path / PID_FILE).unlink()
        with pytest.raises(GrowerError, match="another process"):
            StateLock(tmp_path).acquire()


def test_of_many_daemons_started_at_once_one_works(tmp_path: Path) -> None:
    """Ten at a time, five rounds: one holds, nine are refused by its number."""
    for round_number in range(5):
        folder = tmp_path / str(round_number)
        folder.mkdir()
        processes = [
            subprocess.Popen(
                [sys.executable, "-c", OWNER, str(folder)],
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                text=True,
            )
            for _ in range(10)
        ]
        said = [process.stdout.readline().strip() for process in processes]  # type: ignore[union-attr]
        for process in processes:
            process.communicate("")
        assert said.count("held") == 1
        assert all("already runs" in line for line in said if line != "held")


def test_a_released_folder_can_be_taken_again(tmp_path: Path) -> None:
    """Leaving the block gives it back and removes the number; doing it twice is harmless."""
    folder = tmp_path / "state"
    lock = StateLock(folder)
    with lock:
        lock.acquire()
        assert (folder / PID_FILE).exists()
    lock.release()
    assert not lock.held
    assert not (folder / PID_FILE).exists()
    with StateLock(folder):
        pass


def test_a_folder_that_cannot_be_made_is_refused_in_words(tmp_path: Path) -> None:
    """A file stands in its place."""
    (tmp_path / "state").touch()
    with pytest.raises(GrowerError, match="state folder"):
        StateLock(tmp_path / "state").acquire()
