"""What is the machine's own trouble, and what is the way's or the other side's."""

from __future__ import annotations

import errno
import socket
import ssl

import pytest

from strawbell.edges.machine import is_own
from strawbell.edges.mail_refusals import Stage, of_failure
from strawbell.model.notice import Outcome


@pytest.mark.parametrize("code", [errno.EMFILE, errno.ENFILE, errno.ENOMEM, errno.EIO])
def test_want_of_files_and_memory_is_our_own(code: int) -> None:
    """Nobody was asked."""
    assert is_own(OSError(code, "no"))
    assert of_failure(Stage.CONNECT, OSError(code, "no")).own_trouble


@pytest.mark.parametrize(
    "error",
    [
        ConnectionRefusedError(errno.ECONNREFUSED, "refused"),
        TimeoutError("slow"),
        socket.gaierror(socket.EAI_AGAIN, "no name"),
        ssl.SSLError("odd"),
        OSError(errno.ENETUNREACH, "no way"),
    ],
)
def test_a_server_that_is_away_is_not(error: Exception) -> None:
    """It is spared by waits that grow."""
    assert not of_failure(Stage.CONNECT, error).own_trouble


def test_after_the_final_dot_the_outcome_is_unknown_whoever_failed() -> None:
    """The message may have been accepted, so it is not hurried out again."""
    delivery = of_failure(Stage.DOT, OSError(errno.ENOMEM, "no"))
    assert delivery.outcome is Outcome.UNKNOWN
    assert not delivery.own_trouble
