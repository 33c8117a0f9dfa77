"""The daemon's door: who may come in, what is answered, and what nobody can do to it."""

from __future__ import annotations

import json
import os
import shutil
import socket
import subprocess
import sys
import tempfile
import threading
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path

import pytest

from strawbell.edges import door
from strawbell.edges.door import (
    REQUEST_BYTES_MAX,
    Busy,
    Door,
    Lines,
    NobodyThere,
    NotLetIn,
    Request,
    ask,
    door_name,
)
from strawbell.errors import GrowerError, OperationalError, Problem
from support.daemon_process import wait_until

NOBODY = 65_534
WITHIN_S = 10.0
needs_root = pytest.mark.skipif(os.geteuid() != 0, reason="only root can act as another user")


def echo(request: Request, who: str) -> Lines:
    """Answer with the request, or as it wants it."""
    wish = request.get("ask")
    if wish == "mend":
        raise GrowerError([Problem("first", "here"), Problem("second", remedy="Do it.")])
    if wish == "not-now":
        raise OperationalError("The disk is full.")
    if wish == "defect":
        raise RuntimeError("oh")
    if wish == "leave":
        raise OSError("gone")
    yield {"row": 1}
    yield {"end": "done", "request": dict(request), "who": who}


@contextmanager
def opened(place: Path) -> Iterator[list[str]]:
    """Open a door at a place and give what is reported."""
    reported: list[str] = []
    with Door(place, echo, reported.append):
        yield reported


def last(place: Path, wish: str) -> dict[str, object]:
    *_, line = ask(place, {"ask": wish}, WITHIN_S)
    return line


def test_an_answer_comes_in_lines_and_the_daemon_knows_who_asks(tmp_path: Path) -> None:
    """By what the kernel says, not by what the caller says."""
    with opened(tmp_path / "door"):
        first, end = ask(tmp_path / "door", {"ask": "this", "user": "root"}, WITHIN_S)
    assert first == {"row": 1}
    assert end["request"] == {"ask": "this", "user": "root"}
    assert end["who"] == f"user {os.geteuid()}"


def test_a_refusal_of_the_daemon_is_raised_here_with_all_its_problems(tmp_path: Path) -> None:
    """In the same sentences."""
    with opened(tmp_path / "door"), pytest.raises(GrowerError) as refusal:
        last(tmp_path / "door", "mend")
    assert [each.sentence() for each in refusal.value.problems] == [
        "here: first.",
        "second. Do it.",
    ]


@pytest.mark.parametrize(
    ("wish", "said"), [("not-now", "disk is full"), ("defect", "RuntimeError")]
)
def test_what_fails_behind_the_door_is_told_and_the_next_is_answered(
    tmp_path: Path, wish: str, said: str
) -> None:
    """A defect is reported on the daemon's side too, and ends nothing."""
    with opened(tmp_path / "door") as reported:
        with pytest.raises(OperationalError, match=said):
            last(tmp_path / "door", wish)
        assert last(tmp_path / "door", "this")["end"] == "done"
    assert len(reported) == (wish == "defect")


def test_an_answer_that_breaks_off_leaves_it_open_what_was_done(tmp_path: Path) -> None:
    """And says how to find out."""
    with opened(tmp_path / "door"), pytest.raises(OperationalError, match="strawbell journal"):
        last(tmp_path / "door", "leave")


def test_where_no_daemon_listens_nobody_is_there(tmp_path: Path) -> None:
    """No socket, no folder, a file in its place, or the socket of one that was killed."""
    dead = socket.socket(socket.AF_UNIX)
    dead.bind(str(tmp_path / "dead"))
    dead.close()
    (tmp_path / "file").touch()
    for place in ("none", "no/folder", "file", "dead", "file/below"):
        with pytest.raises(NobodyThere):
            last(tmp_path / place, "this")
    with opened(tmp_path / "dead"):
        assert last(tmp_path / "dead", "this")["end"] == "done"
    assert not (tmp_path / "dead").exists()


def test_what_is_not_a_door_is_never_removed_to_make_room_for_one(tmp_path: Path) -> None:
    """The daemon works without a door, and says so."""
    (tmp_path / "file").write_text("precious")
    (tmp_path / "link").symlink_to(tmp_path / "file")
    for name in ("file", "link"):
        with opened(tmp_path / name) as reported:
            assert "No command can reach this daemon" in reported[0]
    assert (tmp_path / "link").is_symlink()
    assert (tmp_path / "file").read_text() == "precious"


def test_a_path_longer_than_an_address_is_no_hindrance(tmp_path: Path) -> None:
    """An address holds 107 bytes (unix(7))."""
    deep = tmp_path / ("a" * 60) / ("b" * 60) / "door"
    with opened(deep) as reported:
        assert last(deep, "this")["end"] == "done"
    assert reported == []


def test_each_configuration_has_a_door_of_its_own(tmp_path: Path) -> None:
    """By its real path, however it is written."""
    (tmp_path / "link").symlink_to(tmp_path)
    assert door_name(tmp_path / "a.toml") == door_name(tmp_path / "link" / "a.toml")
    assert door_name(tmp_path / "a.toml") != door_name(tmp_path / "b.toml")


@pytest.mark.parametrize(
    "sent",
    [
        b"x" * (REQUEST_BYTES_MAX + 1),
        b'{"ask": "' + b"x" * REQUEST_BYTES_MAX + b'"}\n',
        b"[" * 30_000 + b"\n",
        b'"text"\n',
        b"\xff\xfe\n",
        b"\n",
        b'{"ask": "this"}\n{"ask": "this"}\n',
    ],
    ids=["long", "long line", "nested", "no table", "not text", "empty", "two"],
)
def test_what_is_no_request_is_refused_and_the_next_is_answered(
    tmp_path: Path, sent: bytes
) -> None:
    """Nothing a caller sends ends the daemon or the door."""
    with opened(tmp_path / "door") as reported:
        with socket.socket(socket.AF_UNIX) as caller:
            caller.connect(str(tmp_path / "door"))
            caller.settimeout(WITHIN_S)
            caller.sendall(sent)
            with caller.makefile("rb") as lines:
                _, answer = json.loads(lines.readline()), json.loads(lines.readline())
        assert answer["end"] == "mend"
        assert last(tmp_path / "door", "this")["end"] == "done"
    assert reported == []


def test_a_request_that_is_too_long_is_refused_before_it_is_sent(tmp_path: Path) -> None:
    """In a sentence of ours."""
    with opened(tmp_path / "door"), pytest.raises(GrowerError, match="too long"):
        last(tmp_path / "door", "x" * REQUEST_BYTES_MAX)


def test_half_a_request_does_nothing(tmp_path: Path) -> None:
    """Without the end of the line nobody knows what would have followed."""
    asked: list[Request] = []

    def note(request: Request, who: str) -> Lines:
        asked.append(request)
        yield from echo(request, who)

    with Door(tmp_path / "door", note, print):
        with socket.socket(socket.AF_UNIX) as caller:
            caller.connect(str(tmp_path / "door"))
            caller.sendall(b'{"ask": "this"}')
        last(tmp_path / "door", "that")
    assert [each["ask"] for each in asked] == ["that"]


def test_idle_callers_keep_nobody_out_for_long(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """When every seat is taken the next one is told so; idle ones lose theirs."""
    monkeypatch.setattr(door, "REQUEST_WITHIN_S", 0.5)
    with opened(tmp_path / "door"), ExitStack() as held:
        for _ in range(door.CALLERS_MAX):
            caller = held.enter_context(socket.socket(socket.AF_UNIX))
            caller.settimeout(WITHIN_S)
            caller.connect(str(tmp_path / "door"))
            assert caller.recv(1) == b"{"
        with pytest.raises(Busy):
            last(tmp_path / "door", "this")

        def answered() -> bool:
            try:
                return last(tmp_path / "door", "this")["end"] == "done"
            except Busy:
                return False

        assert wait_until(answered)


def test_a_daemon_that_hangs_is_told_from_one_that_is_not_there(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It greets nobody, so surely nothing was done."""
    monkeypatch.setattr(door, "CONNECT_WITHIN_S", 0.2)
    with socket.socket(socket.AF_UNIX) as silent:
        silent.bind(str(tmp_path / "door"))
        silent.listen(1)
        with pytest.raises(OperationalError, match=r"may hang\. Nothing was recorded"):
            last(tmp_path / "door", "this")


def test_many_at_once_are_all_answered(tmp_path: Path) -> None:
    """Each its own request."""
    got: list[object] = []
    with opened(tmp_path / "door"):

        def one(number: int) -> None:
            got.append(last(tmp_path / "door", str(number))["request"])

        threads = [threading.Thread(target=one, args=(number,)) for number in range(50)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join(WITHIN_S)
    assert sorted(int(str(each["ask"])) for each in got) == list(range(50))  # type: ignore[index]


ASKS = """
import os, sys
from pathlib import Path
uid, groups = int(sys.argv[2]), [int(each) for each in sys.argv[3:]]
from strawbell.edges.door import NotLetIn, ask
from strawbell.words.catalogue import BRITISH
BRITISH.read_ahead()  # Another user may not be able to read the checkout.
os.setgroups(groups); os.setgid(65534); os.setuid(uid)
try:
    print(list(ask(Path(sys.argv[1]), {"ask": "this"}, 10.0))[-1]["end"])
except NotLetIn:
    print("not let in")
except Exception as error:
    print(error)
"""


def as_user(place: Path, user: int, *groups: int) -> str:
    """Ask as another user."""
    words = [sys.executable, "-c", ASKS, str(place), str(user), *map(str, groups)]
    return subprocess.run(words, capture_output=True, text=True, check=True).stdout.strip()


@pytest.fixture
def reachable() -> Iterator[Path]:
    """A folder that other users can reach, as that of a unit."""
    folder = Path(tempfile.mkdtemp(prefix="strawbell-door-"))
    folder.chmod(0o755)
    yield folder
    shutil.rmtree(folder)


@needs_root
def test_another_user_is_let_in_by_the_group_of_the_folder_alone(reachable: Path) -> None:
    """As RuntimeDirectoryMode=0750 and Group= of the system unit make it."""
    folder, growers = reachable / "run", 4321
    folder.mkdir()
    os.chown(folder, 0, growers)
    folder.chmod(0o750)
    with opened(folder / "door"):
        assert as_user(folder / "door", NOBODY, growers) == "done"
        assert as_user(folder / "door", NOBODY) == "not let in"
        # Even where the modes were widened by somebody, the daemon looks who it is.
        folder.chmod(0o755)
        (folder / "door").chmod(0o666)
        assert "does not answer user 65534" in as_user(folder / "door", NOBODY)


def test_a_door_of_the_right_group_is_given_to_no_other(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The sandbox of the unit refuses to change an owner, and the door opens all the same."""

    def refuse(*_: object) -> None:
        raise PermissionError

    monkeypatch.setattr(os, "chown", refuse)
    folder = tmp_path / "run"
    folder.mkdir(mode=0o750)
    with opened(folder / "door") as reported:
        assert last(folder / "door", "this")["end"] == "done"
        assert (folder / "door").stat().st_mode & 0o777 == 0o660
    assert reported == []


@needs_root
def test_a_private_door_lets_in_its_owner_and_root(reachable: Path) -> None:
    """Nobody else."""
    reachable.chmod(0o700)
    with opened(reachable / "door"):
        assert (reachable / "door").stat().st_mode & 0o777 == 0o600
        reachable.chmod(0o755)
        assert as_user(reachable / "door", NOBODY) == "not let in"


@needs_root
def test_a_door_in_a_folder_of_somebody_else_is_not_opened(reachable: Path) -> None:
    """Its owner could put another in its place."""
    folder = reachable / "run"
    folder.mkdir()
    os.chown(folder, NOBODY, NOBODY)
    with opened(folder / "door") as reported:
        assert "somebody else's" in reported[0]
    with pytest.raises(NobodyThere):
        last(folder / "door", "this")


def test_not_let_in_is_told_from_nobody_there(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The grower has to get leave, not to start a daemon."""

    def refuse(*_: object) -> None:
        raise PermissionError

    monkeypatch.setattr(socket.socket, "connect", refuse)
    with pytest.raises(NotLetIn):
        last(tmp_path / "door", "this")
