"""The words to the service manager."""

from __future__ import annotations

import socket
from collections.abc import Iterator
from pathlib import Path

import pytest

from strawbell.edges.machine import SystemdNotify


@pytest.fixture
def manager(tmp_path: Path) -> Iterator[tuple[socket.socket, str]]:
    place = str(tmp_path / "notify")
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as link:
        link.bind(place)
        link.settimeout(10)
        yield link, place


def test_every_word_arrives_as_one_datagram(manager: tuple[socket.socket, str]) -> None:
    """READY, STATUS, WATCHDOG, RELOADING and STOPPING as sd_notify(3) spells them."""
    link, place = manager
    notify = SystemdNotify({"NOTIFY_SOCKET": place})
    notify.ready("2 gardens")
    notify.status("next brief\n06:30")
    notify.watchdog()
    notify.reloading(12.5)
    notify.stopping()
    assert [link.recv(500) for _ in range(5)] == [
        b"READY=1\nSTATUS=2 gardens",
        b"STATUS=next brief 06:30",
        b"WATCHDOG=1",
        b"RELOADING=1\nMONOTONIC_USEC=12500000",
        b"STOPPING=1",
    ]


def test_an_abstract_socket_is_understood() -> None:
    """A leading @ stands for NUL."""
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as link:
        link.bind("")
        name = link.getsockname().decode()
        link.settimeout(10)
        SystemdNotify({"NOTIFY_SOCKET": "@" + name[1:]}).watchdog()
        assert link.recv(100) == b"WATCHDOG=1"


@pytest.mark.parametrize("environ", [{}, {"NOTIFY_SOCKET": ""}, {"NOTIFY_SOCKET": "/nowhere/x"}])
def test_without_a_manager_nothing_happens(environ: dict[str, str]) -> None:
    """No error, no output."""
    SystemdNotify(environ).ready("x")


@pytest.mark.parametrize(
    ("usec", "pid", "interval_s"),
    [
        ("180000000", "", 90.0),
        ("180000000", "7", 90.0),
        ("180000000", "8", None),
        ("0", "", None),
        ("", "", None),
        ("soon", "", None),
    ],
)
def test_the_ping_is_due_at_half_of_the_limit(
    usec: str, pid: str, interval_s: float | None
) -> None:
    """Only when the limit is meant for this process."""
    environ = {"WATCHDOG_USEC": usec, "WATCHDOG_PID": pid}
    assert SystemdNotify(environ, pid=7).watchdog_interval_s == interval_s
