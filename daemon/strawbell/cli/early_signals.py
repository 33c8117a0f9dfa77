"""Signals while a command is still being loaded: nothing is begun, so the process just ends.

An exception raised in the middle of an import would be shown, or swallowed, by whoever imports.

Decided 2026-11-26: While code is still being loaded a signal ends the process on the spot: nothing
has been begun, and an exception raised inside an import is swallowed or shown by whoever imports.
The daemon ends with 0, other commands with the code shells expect. What comes before our first
line is the interpreter's: it dies of SIGTERM in silence.
"""

from __future__ import annotations

import os
import signal
import threading
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from typing import Any

BROKEN_OFF = 128
"""A command that a signal broke off ends with this and the signal's number (common practice)."""
TAKEN = (signal.SIGINT, signal.SIGTERM)


def take(arguments: Sequence[str]) -> None:
    """Let signals end this process quietly until `hand_over`; one that is ignored stays so.

    The daemon ends as it does later, with 0. It has not read its configuration yet, so the wish
    to read it anew is already fulfilled.
    """
    is_daemon = "run" in arguments and "--once" not in arguments
    for how in TAKEN:
        if signal.getsignal(how) != signal.SIG_IGN:
            signal.signal(how, _end_daemon if is_daemon else _end_command)
    if is_daemon and signal.getsignal(signal.SIGHUP) == signal.SIG_DFL:
        signal.signal(signal.SIGHUP, _pass_over)


def hand_over() -> None:
    """Give the signals that were taken back to Python, for a command that may clean up."""
    for how, usual in (
        (signal.SIGINT, signal.default_int_handler),
        (signal.SIGTERM, signal.SIG_DFL),
        (signal.SIGHUP, signal.SIG_DFL),
    ):
        if signal.getsignal(how) in (_end_command, _end_daemon, _pass_over):
            signal.signal(how, usual)


@contextmanager
def loading() -> Iterator[None]:
    """Let signals end a command on the spot while it loads something late.

    Only the main thread may do so, and only where nothing of ours has taken the signals.
    """
    usual: Mapping[signal.Signals, Callable[..., Any] | int] = {
        signal.SIGINT: signal.default_int_handler,
        signal.SIGTERM: signal.SIG_DFL,
    }
    taken = []
    if threading.current_thread() is threading.main_thread():
        taken = [how for how, each in usual.items() if signal.getsignal(how) == each]
    for how in taken:
        signal.signal(how, _end_command)
    try:
        yield
    finally:
        for how in taken:
            signal.signal(how, usual[how])


def let_go() -> None:
    """Pass Ctrl-C over: the command is done, and while Python ends it would show a traceback."""
    if signal.getsignal(signal.SIGINT) == signal.default_int_handler:
        signal.signal(signal.SIGINT, signal.SIG_IGN)


def _end_command(number: int, _frame: object) -> None:
    os._exit(BROKEN_OFF + number)


def _end_daemon(_number: int, _frame: object) -> None:
    os._exit(0)


def _pass_over(_number: int, _frame: object) -> None:
    return
