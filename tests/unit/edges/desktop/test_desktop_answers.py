"""Buttons of desktop notices, on a real session bus."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from datetime import timedelta
from pathlib import Path

import pytest

from strawbell.app.outbox import queue, read_token
from strawbell.app.ports import Reply
from strawbell.edges.desktop import DesktopChannel
from strawbell.model.notice import Asking, Delivery, NoticeKind, Outcome, Silence
from support.fake_clock import DAWN
from support.notices import SECRET, notice
from support.notification_service import notification_service, session_bus

WITHIN_S = 10.0
ASKING = Asking(
    Silence.DONE, ("done", "not today", "later", "how"), "Feed Row A", ("row-a-5-feed",)
)
ABLE = ("body", "actions")


class Bell:
    """Rings, and can be waited for."""

    def __init__(self) -> None:
        self._rung = threading.Semaphore(0)

    def __call__(self) -> None:
        self._rung.release()

    def wait(self, times: int) -> None:
        for _ in range(times):
            assert self._rung.acquire(timeout=WITHIN_S)


@pytest.fixture
def bus(tmp_path: Path) -> Iterator[str]:
    with session_bus(tmp_path) as address:
        yield address


@pytest.fixture
def channel(bus: str) -> Iterator[tuple[DesktopChannel, Bell]]:
    """A channel whose answers are wanted."""
    listening, bell = DesktopChannel({"DBUS_SESSION_BUS_ADDRESS": bus}), Bell()
    listening.call(bell)
    yield listening, bell
    listening.call(None)


def send(channel: DesktopChannel, **changes: object) -> Delivery:
    (row,) = queue(notice(asking=ASKING, **changes), [channel], DAWN, SECRET)
    try:
        return channel.send(row)
    finally:
        channel.close()


def test_a_button_that_is_pressed_is_an_answer(
    bus: str, channel: tuple[DesktopChannel, Bell]
) -> None:
    """With the token of the notice; a press on a stranger's is nobody's."""
    desktop, bell = channel
    with notification_service(bus, ABLE, "press-not today") as service:
        assert send(desktop).outcome is Outcome.ACCEPTED
        bell.wait(4)
        shown = service.shown()
    assert shown["actions"] == [
        "done", "Done", "not today", "Not today", "later", "Later",
    ]  # fmt: skip
    assert desktop.is_ringing
    (pressed,) = desktop.gather("", DAWN).arrivals
    assert isinstance(pressed, Reply)
    assert (pressed.sender, pressed.lines) == (None, ("not today",))
    assert read_token(pressed.subject) is not None
    assert not desktop.is_ringing
    assert desktop.gather("", DAWN).arrivals == ()


def test_a_notice_that_was_closed_is_answered_no_more(
    bus: str, channel: tuple[DesktopChannel, Bell]
) -> None:
    """Its number may be another's by now."""
    desktop, bell = channel
    with notification_service(bus, ABLE, "press-done"):
        send(desktop)
        bell.wait(4)
        assert len(desktop.gather("", DAWN).arrivals) == 1
        send(desktop, occasion="again")
        bell.wait(4)
        first, *rest = desktop.gather("", DAWN).arrivals
    assert isinstance(first, Reply)
    assert rest == []


def test_a_later_notice_of_a_kind_goes_in_place_of_the_earlier(
    bus: str, channel: tuple[DesktopChannel, Bell]
) -> None:
    """Two mornings do not lie on each other; an evening lies beside them."""
    desktop, _ = channel
    with notification_service(bus, ABLE) as service:
        send(desktop)
        send(desktop, local_date=DAWN.date() + timedelta(days=1))
        send(desktop, kind=NoticeKind.EVENING)
        first, second, third = (service.shown() for _ in range(3))
    assert (first["old"], second["old"], third["old"]) == (0, first["number"], 0)


def test_numbers_are_forgotten_when_the_service_is_started_anew(
    bus: str, channel: tuple[DesktopChannel, Bell]
) -> None:
    """The same number is somebody else's notice then."""
    desktop, bell = channel
    with notification_service(bus, ABLE) as service:
        send(desktop)
        service.shown()
    with notification_service(bus, ABLE) as service:
        bell.wait(2)
        desktop.gather("", DAWN)
        send(desktop, occasion="again")
        assert service.shown()["old"] == 0


def test_a_service_without_buttons_gets_none(
    bus: str, channel: tuple[DesktopChannel, Bell]
) -> None:
    """It is asked what it can."""
    desktop, _ = channel
    with notification_service(bus, ("body",)) as service:
        send(desktop)
        assert service.shown()["actions"] == []


def test_where_nobody_listens_there_is_no_button(bus: str) -> None:
    """A command that ends at once could not hear of it."""
    with notification_service(bus, ABLE) as service:
        send(DesktopChannel({"DBUS_SESSION_BUS_ADDRESS": bus}))
        assert service.shown()["actions"] == []


def test_a_bus_that_was_started_anew_is_found_again(tmp_path: Path) -> None:
    """A session that ended and began again shows the next notice."""
    bell: Callable[[], None] = Bell()
    first, second = tmp_path / "a", tmp_path / "b"
    for folder in (first, second):
        folder.mkdir()
    environ: dict[str, str] = {}
    desktop = DesktopChannel(environ)
    desktop.call(bell)
    for folder in (first, second):
        with session_bus(folder) as address, notification_service(address, ABLE):
            environ["DBUS_SESSION_BUS_ADDRESS"] = address
            assert send(desktop, occasion=folder.name).outcome is Outcome.ACCEPTED
    assert send(desktop, occasion="gone").outcome is Outcome.LATER
    desktop.call(None)
