"""A connection to the notification service of the desktop, kept while its answers are wanted.

The library reads it in one thread of its own. Signals go to every listener on the bus, so what is
not about a notice of ours is left alone; and numbers of notices mean nothing any more once the
service was started anew (freedesktop.org Desktop Notifications Specification 1.3).
"""

from __future__ import annotations

import contextlib
import os
from collections.abc import Callable, Sequence
from queue import Empty, Queue
from typing import Any

from jeepney import (  # type: ignore[import-untyped]
    DBusAddress,
    MatchRule,
    Message,
    new_method_call,
)
from jeepney.bus import get_bus  # type: ignore[import-untyped]
from jeepney.bus_messages import message_bus  # type: ignore[import-untyped]
from jeepney.io.blocking import prep_socket  # type: ignore[import-untyped]
from jeepney.io.threading import DBusConnection, DBusRouter  # type: ignore[import-untyped]
from jeepney.low_level import HeaderFields  # type: ignore[import-untyped]
from jeepney.wrappers import unwrap_msg  # type: ignore[import-untyped]

NAME = "org.freedesktop.Notifications"
PLACE = "/org/freedesktop/Notifications"
SERVICE = DBusAddress(PLACE, bus_name=NAME, interface=NAME)
MOST_SIGNALS = 1000
"""Signals kept until they are looked at; they are those of every program on the desktop."""

Signal = tuple[str, tuple[Any, ...]]
"""The name of a signal, and its values."""


class _Router(DBusRouter):  # type: ignore[misc]
    """The library's, but a bus that goes away ends it without a word."""

    def _receiver(self) -> None:
        with contextlib.suppress(OSError, ValueError, KeyError):
            super()._receiver()


class Signals(Queue[Message]):
    """Where the library puts what it hears; rings, in the library's thread, that something came."""

    def __init__(self, ring: Callable[[], object]) -> None:
        """Start empty."""
        super().__init__(MOST_SIGNALS)
        self._ring = ring

    def put_nowait(self, item: Message) -> None:
        """Keep a signal."""
        super().put_nowait(item)
        self._ring()

    def take(self) -> tuple[Signal, ...]:
        """Return what came since it was asked last, oldest first."""
        taken: list[Signal] = []
        with contextlib.suppress(Empty):
            while True:
                message = self.get_nowait()
                taken.append((message.header.fields[HeaderFields.member], message.body))
        return tuple(taken)


class Link:
    """One connection. Every call takes its own limit [s] and raises where nothing comes of it."""

    def __init__(self, address: str, signals: Signals | None, seconds: float) -> None:
        """Connect to the bus at `address`; its signals go to `signals`, where they are wanted."""
        self.address = address
        self._connection = DBusConnection(prep_socket(get_bus(address), timeout=seconds))
        self._router = _Router(self._connection)
        try:
            self._ask(message_bus.Hello(), seconds)
            if signals is not None:
                self._listen(signals, seconds)
            self.capabilities = frozenset(
                self._ask(new_method_call(SERVICE, "GetCapabilities"), seconds)[0]
            )
        except BaseException:
            self.close()
            raise

    def _listen(self, signals: Signals, seconds: float) -> None:
        notices = MatchRule(type="signal", interface=NAME, path=PLACE)
        owner = MatchRule(
            type="signal", interface="org.freedesktop.DBus", member="NameOwnerChanged"
        )
        owner.add_arg_condition(0, NAME)
        for rule in (notices, owner):
            self._router.filter(rule, queue=signals)
            self._ask(message_bus.AddMatch(rule), seconds)

    def notify(
        self, title: str, body: str, actions: Sequence[str], old: int, seconds: float
    ) -> int:
        """Show a notice, in place of the one with the number `old`, and return its number."""
        call = new_method_call(
            SERVICE,
            "Notify",
            "susssasa{sv}i",
            (
                "Strawbell",
                old,
                "",
                title,
                body,
                list(actions),
                {"desktop-entry": ("s", "strawbell")},
                -1,  # The service decides how long it is shown.
            ),
        )
        return int(self._ask(call, seconds)[0])

    def _ask(self, call: Message, seconds: float) -> tuple[Any, ...]:
        answer = self._router.send_and_get_reply(call, timeout=seconds)
        body: tuple[Any, ...] = unwrap_msg(answer)
        return body

    def close(self) -> None:
        """Let go of it; whatever goes wrong now is of no consequence."""
        with contextlib.suppress(Exception):
            self._router.close()
        with contextlib.suppress(Exception):
            self._connection.close()
        for end in ("_stop_r", "_stop_w"):
            # The library leaves the pipe by which it stops its thread.
            with contextlib.suppress(OSError, AttributeError):
                os.close(getattr(self._connection, end))
