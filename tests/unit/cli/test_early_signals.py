"""While a command is loaded a signal ends it in silence; then Python's own ways come back."""

from __future__ import annotations

import os
import signal
from collections.abc import Iterator

import pytest

from strawbell.cli import early_signals
from strawbell.cli.early_signals import hand_over, let_go, take

ALL = (signal.SIGINT, signal.SIGTERM, signal.SIGHUP)
USUAL = [signal.default_int_handler, signal.SIG_DFL, signal.SIG_DFL]


class Exited(BaseException):
    """In place of the end of this process."""


@pytest.fixture(autouse=True)
def usual_signals(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    def end(code: int) -> None:
        raise Exited(code)

    monkeypatch.setattr(early_signals.os, "_exit", end)
    before = handlers()
    for how, handler in zip(ALL, USUAL, strict=True):
        signal.signal(how, handler)
    yield
    for how, handler in zip(ALL, before, strict=True):
        signal.signal(how, handler)


def handlers() -> list[object]:
    return [signal.getsignal(how) for how in ALL]


def code_of(how: signal.Signals) -> int:
    with pytest.raises(Exited) as end:
        os.kill(os.getpid(), how)
    return int(end.value.args[0])


def test_a_daemon_ends_with_nought_and_any_other_command_with_the_code_of_its_signal() -> None:
    take(["--config", "x", "run"])
    assert [code_of(how) for how in (signal.SIGINT, signal.SIGTERM)] == [0, 0]
    for words in (["today"], ["run", "--once"], []):
        take(words)
        assert [code_of(how) for how in (signal.SIGINT, signal.SIGTERM)] == [130, 143]


def test_a_daemon_that_has_read_nothing_yet_passes_the_wish_to_read_anew_over() -> None:
    take(["run"])
    os.kill(os.getpid(), signal.SIGHUP)
    take(["today"])
    hand_over()
    assert handlers() == USUAL


@pytest.mark.parametrize("words", [["run"], ["today"]])
def test_handed_over_all_is_as_before(words: list[str]) -> None:
    take(words)
    assert handlers() != USUAL
    hand_over()
    assert handlers() == USUAL


@pytest.mark.parametrize("words", [["run"], ["today"]])
def test_a_signal_that_is_ignored_stays_ignored(words: list[str]) -> None:
    """As under nohup, or in the background of a script."""
    for how in ALL:
        signal.signal(how, signal.SIG_IGN)
    take(words)
    hand_over()
    let_go()
    assert handlers() == [signal.SIG_IGN] * 3


def test_handlers_of_others_are_not_handed_over() -> None:
    for how in ALL:
        signal.signal(how, print)
    hand_over()
    let_go()
    assert handlers() == [print] * 3


def test_when_a_command_is_done_ctrl_c_is_passed_over() -> None:
    let_go()
    os.kill(os.getpid(), signal.SIGINT)
    assert signal.getsignal(signal.SIGINT) == signal.SIG_IGN
