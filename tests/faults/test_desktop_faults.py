"""A desktop that is missing, broken or hangs costs at most two seconds, and no mail waits for it.

A real session bus where there is one, and the real daemon with a second channel.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from datetime import timedelta
from pathlib import Path

from strawbell.app.outbox import RETRY_AFTER_MIN, RETRY_JITTER_SHARE
from strawbell.edges.desktop import DesktopChannel
from strawbell.model.notice import Delivery, OutboxRow, OutboxState
from support.fake_clock import FakeClock
from support.gardens import START, at
from support.measured import record
from support.memory_store import MemoryStore
from support.notification_service import mortal_bus, notification_service
from support.simulated_daemon import Life, Paper

ADDRESS = "DBUS_SESSION_BUS_ADDRESS"


class TimedDesktop(DesktopChannel):
    """The channel, and how long its slowest attempt took [s]."""

    slowest_s = 0.0

    def send(self, row: OutboxRow) -> Delivery:
        before_s = time.monotonic()
        delivery = super().send(row)
        self.slowest_s = max(self.slowest_s, time.monotonic() - before_s)
        return delivery


World = Callable[[Path, ExitStack], dict[str, str]]


def no_session(folder: Path, world: ExitStack) -> dict[str, str]:
    return {}


def no_bus(folder: Path, world: ExitStack) -> dict[str, str]:
    return {ADDRESS: f"unix:path={folder / 'nobody'}"}


def no_service(folder: Path, world: ExitStack) -> dict[str, str]:
    address, _ = world.enter_context(mortal_bus(folder))
    return {ADDRESS: address}


def behaving(behaviour: str) -> World:
    def world_of(folder: Path, world: ExitStack) -> dict[str, str]:
        address, _ = world.enter_context(mortal_bus(folder))
        world.enter_context(notification_service(address, behaviour=behaviour))
        return {ADDRESS: address}

    return world_of


def dying_bus(folder: Path, world: ExitStack) -> dict[str, str]:
    """The bus is killed as soon as the service has been asked to show the notice."""
    address, bus = world.enter_context(mortal_bus(folder))
    service = world.enter_context(notification_service(address, behaviour="tell-Notify"))

    def kill() -> None:
        service.shown()
        bus.kill()

    killer = threading.Thread(target=kill)
    killer.start()
    world.callback(killer.join)
    return {ADDRESS: address}


WORLDS: dict[str, tuple[World, OutboxState]] = {
    "no session": (no_session, OutboxState.LATER),
    "no bus": (no_bus, OutboxState.LATER),
    "no service": (no_service, OutboxState.LATER),
    "an error": (behaving("error-Notify"), OutboxState.LATER),
    "a service that hangs": (behaving("hang-Notify"), OutboxState.UNKNOWN),
    "a bus that dies in mid-call": (dying_bus, OutboxState.UNKNOWN),
}


@contextmanager
def a_morning(folder: Path, world_of: World) -> Iterator[tuple[Life, TimedDesktop, Paper]]:
    folder.mkdir()
    clock = FakeClock(at(START))
    mail = Paper(clock, "email")
    with ExitStack() as world:
        channel = TimedDesktop({"PATH": "/nowhere", **world_of(folder, world)})
        yield Life(MemoryStore(), clock, (channel, mail)), channel, mail


def test_no_desktop_trouble_takes_long_or_keeps_the_mail(tmp_path: Path) -> None:
    """Six ways of trouble: the mail is accepted in the same beat, the notice waits."""
    slowest_s, mails = 0.0, 0
    for number, (name, (world_of, state)) in enumerate(WORLDS.items()):
        with a_morning(tmp_path / str(number), world_of) as (life, channel, mail):
            life.beat()
            states = {row.channel: row.state for row in life.outbox()}
        assert states == {"desktop": state, "email": OutboxState.ACCEPTED}, name
        assert not [line for line in life.said if "defect" in line.lower()], name
        slowest_s = max(slowest_s, channel.slowest_s)
        mails += len(mail.rows)
    record(21, "ways of desktop trouble", len(WORLDS), target=">= 6")
    record(21, "mails sent all the same", mails, target="= 6")
    record(21, "slowest attempt", slowest_s, "s", target="<= 2", by_clock=True)


def test_a_notice_is_shown_once_the_desktop_is_there(tmp_path: Path) -> None:
    """The notice that waited comes when there is a service; the mail is not sent again."""
    clock = FakeClock(at(START))
    mail = Paper(clock, "email")
    with mortal_bus(tmp_path) as (address, _):
        life = Life(MemoryStore(), clock, (DesktopChannel({ADDRESS: address}), mail))
        life.beat()
        with notification_service(address) as service:
            clock.advance(longest_first_wait())
            life.beat()
            assert "Soak today" in str(service.shown())
    assert [row.state for row in life.outbox()] == [OutboxState.ACCEPTED] * 2
    assert len(mail.rows) == 1


def longest_first_wait() -> timedelta:
    """Return the longest wait after a first attempt."""
    return timedelta(minutes=RETRY_AFTER_MIN[0] * (1 + RETRY_JITTER_SHARE))
