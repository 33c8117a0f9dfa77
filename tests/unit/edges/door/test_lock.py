"""One daemon for each state folder."""

from __future__ import annotations

import os
import subprocess
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from strawbell.edges import door
from strawbell.edges.door import AlreadyRuns, StateLock, owner_of
from strawbell.errors import GrowerError

OWNER = """
import sys
import threading
from pathlib import Path
from strawbell.edges.door import StateLock
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
    """No stale lock after kill -9."""
    with other_process(tmp_path) as (owner, _):
        owner.kill()
        owner.wait(10)
        with StateLock(tmp_path) as ours:
            assert ours.held
            assert owner_of(tmp_path) == os.getpid()


def test_where_the_kernel_does_not_tell_the_owner_is_another_process(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A sandbox may hide who holds a lock; the lock holds all the same, with nothing to delete."""
    monkeypatch.setattr(door, "LOCKS", tmp_path / "hidden")
    with other_process(tmp_path):
        assert list(tmp_path.iterdir()) == []
        with pytest.raises(AlreadyRuns, match="another process"):
            StateLock(tmp_path).acquire()


def test_a_folder_anybody_may_write_into_is_refused(tmp_path: Path) -> None:
    """Others could put files in the place of ours; the group may be the grower's own."""
    for mode, safe in ((0o700, True), (0o755, True), (0o775, True), (0o702, False), (0o777, False)):
        tmp_path.chmod(mode)
        if safe:
            with StateLock(tmp_path) as ours:
                assert ours.held
            continue
        with pytest.raises(GrowerError, match=f"anybody may write.*chmod 700 {tmp_path}"):
            StateLock(tmp_path).acquire()


@pytest.mark.skipif(os.geteuid() != 0, reason="only root can give a folder away")
def test_a_folder_of_another_user_is_refused_to_the_daemon(tmp_path: Path) -> None:
    """Root at the command line may record there while the daemon does not run."""
    os.chown(tmp_path, 65_534, 65_534)
    with pytest.raises(GrowerError, match="belongs to user 65534"):
        StateLock(tmp_path).acquire()
    with StateLock(tmp_path, owner=False) as held:
        assert held.held


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


def test_commands_share_what_nobody_owns_and_an_owner_waits_for_them(tmp_path: Path) -> None:
    """A daemon that starts in the middle of a record must not be sent away by it."""
    with StateLock(tmp_path, owner=False), StateLock(tmp_path, owner=False):
        waiting = threading.Thread(target=StateLock(tmp_path).acquire)
        waiting.start()
        waiting.join(0.1)
        assert waiting.is_alive()
    waiting.join(10)
    assert not waiting.is_alive()


def test_a_command_is_kept_out_by_an_owner(tmp_path: Path) -> None:
    """It has to ask at the door."""
    with other_process(tmp_path) as (owner, said):
        assert said == "held"
        with pytest.raises(AlreadyRuns, match=f"process {owner.pid}"):
            StateLock(tmp_path, owner=False).acquire()


def test_commands_that_do_not_end_send_an_owner_away(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """After a while, in words."""
    monkeypatch.setattr(door, "COMMANDS_WITHIN_S", 0.05)
    with StateLock(tmp_path, owner=False), pytest.raises(AlreadyRuns):
        StateLock(tmp_path).acquire()


def test_a_released_folder_can_be_taken_again(tmp_path: Path) -> None:
    """Leaving the block gives it back and leaves nothing; doing it twice is harmless."""
    folder = tmp_path / "state"
    ours = StateLock(folder)
    with ours:
        ours.acquire()
    ours.release()
    assert not ours.held
    assert list(folder.iterdir()) == []
    with StateLock(folder):
        pass


def test_a_folder_that_cannot_be_made_is_refused_in_words(tmp_path: Path) -> None:
    """A file stands in its place."""
    (tmp_path / "state").touch()
    with pytest.raises(GrowerError, match="state folder"):
        StateLock(tmp_path / "state").acquire()
