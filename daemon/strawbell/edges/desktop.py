"""Desktop notices over the session bus (freedesktop.org Desktop Notifications Specification 1.3).

Each attempt takes two seconds at most. Without a session, a bus or a notification service the
notice waits; the other channels do not.

The connection is kept while answers are wanted. The library reads it in one thread of its own, and
is loaded when it is used first: few commands show anything. Signals go to every listener on the
bus, so what is not about a notice of ours is left alone; and numbers of notices mean nothing any
more once the service was started anew.
"""

from __future__ import annotations

import contextlib
import html
import os
import threading
import time
import unicodedata
from collections import OrderedDict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from datetime import datetime
from queue import Empty, Queue
from typing import Any

import msgspec
from msgspec import Struct

from strawbell.app.ports import Gathered, Reply
from strawbell.model.notice import Delivery, Notice, OutboxRow, Outcome
from strawbell.words.catalogue import BRITISH

CALL_S = 1.75
"""Time for a whole attempt [s]; with what a busy machine adds it stays within two seconds."""

TITLE_LIMIT_CHARACTERS = 120
BODY_LIMIT_CHARACTERS = 480
"""Longer texts are cut by the services themselves, some of them in the middle of a tag (common
practice)."""

MOST_BUTTONS = 3
"""Desktops draw no more, some only two: the likeliest answers stand first (common practice)."""
MOST_TOKENS = 64
"""Notices whose buttons are still known; no desktop shows more."""

_JOINERS = {"\u200d", "\ufe0e", "\ufe0f"}

NAME = "org.freedesktop.Notifications"
PLACE = "/org/freedesktop/Notifications"
MOST_SIGNALS = 1000
"""Signals kept until they are looked at; they are those of every program on the desktop."""

Signal = tuple[str, tuple[Any, ...]]
"""The name of a signal, and its values."""


def cut(text: str, limit: int) -> str:
    """Return text of at most `limit` characters, cut between characters as they are seen."""
    if len(text) <= limit:
        return text
    end = limit - 1
    while end > 0 and (
        unicodedata.combining(text[end]) or text[end] in _JOINERS or text[end - 1] == "\u200d"
    ):
        end -= 1
    return text[:end].rstrip() + "…"


def plain(text: str) -> str:
    """Return text without control characters; line breaks stay."""
    return "".join(
        sign for sign in text if sign == "\n" or unicodedata.category(sign) not in {"Cc", "Cs"}
    )


def bus_address(environ: Mapping[str, str]) -> str | None:
    """Return where the session bus is, None when there is no session."""
    given = environ.get("DBUS_SESSION_BUS_ADDRESS")
    if given:
        return given
    runtime = environ.get("XDG_RUNTIME_DIR")
    return f"unix:path={runtime}/bus" if runtime else None


class _Frozen(Struct):
    """A notice as it is queued; markup comes when it is sent."""

    title: str
    body: str
    place: str = ""
    token: str = ""
    words: list[tuple[str, str]] = []
    """Of each button what it answers, and what stands on it."""


class DesktopChannel:
    """Shows each notice on the desktop of the user that Strawbell runs as, with its answers.

    While its answers are wanted (`call`), the connection is kept; else each notice has its own.
    A notice goes in place of the last one of its garden and kind.
    """

    name = "desktop"
    recipients = ("desktop",)
    answers_to = ""
    every_s = float("inf")

    def __init__(
        self,
        environ: Mapping[str, str] | None = None,
        *,
        call_s: float = CALL_S,
        monotonic: Callable[[], float] = time.monotonic,
    ) -> None:
        """Look for the session in `environ`, that of the process by default."""
        self._environ = os.environ if environ is None else environ
        self._call_s = call_s
        self._monotonic = monotonic
        self._turn = threading.Lock()
        self._link: Link | None = None
        self._signals: Signals | None = None
        self._tokens: OrderedDict[int, str] = OrderedDict()
        """By the number of a notice that may still be answered, what proves its answer."""
        self._numbers: dict[str, int] = {}
        """By garden and kind, the number of the notice that is shown."""

    def render(self, notice: Notice, recipient: str, message_id: str) -> bytes:
        """Return what will be shown, cut to what a desktop shows."""
        del recipient, message_id
        title = cut(" ".join(plain(notice.subject).split()), TITLE_LIMIT_CHARACTERS)
        body = cut(plain(notice.short), BODY_LIMIT_CHARACTERS)
        frozen = _Frozen(title, body, plain(f"{notice.garden} {notice.kind.value}"))
        if notice.asking is not None and notice.token:
            frozen.token = notice.token
            frozen.words = [
                (each, each.capitalize()) for each in notice.asking.words[:MOST_BUTTONS]
            ]
        return msgspec.json.encode(frozen)

    def send(self, row: OutboxRow) -> Delivery:
        """Show the notice once."""
        try:
            frozen = msgspec.json.decode(row.body, type=_Frozen)
        except (ValueError, msgspec.MsgspecError):
            return Delivery(Outcome.FOR_GOOD, BRITISH.say("desktop.unreadable"))
        until_s = self._monotonic() + self._call_s
        address = bus_address(self._environ)
        if address is None:
            return _not_shown("session")
        with self._turn:
            delivery = self._over_the_bus(address, frozen, until_s)
            if self._signals is None:
                self._drop()
        return delivery

    def close(self) -> None:
        """Nothing is kept open but for answers, which outlast a pass."""

    def call(self, ring: Callable[[], object] | None) -> None:
        """Want answers from now on, and ring when one comes; None: want none any more."""
        with self._turn:
            self._drop()
            self._signals = None if ring is None else Signals(ring)

    @property
    def is_ringing(self) -> bool:
        """Return whether a signal came that was not looked at yet."""
        return self._signals is not None and not self._signals.empty()

    def probe(self) -> str:
        """Return what answers are tried with; nothing is shown."""
        return BRITISH.say("desktop.buttons")

    def gather(self, mark: str, now: datetime) -> Gathered:
        """Return the buttons pressed on notices of ours since it was asked last."""
        with self._turn:
            signals = self._signals.take() if self._signals is not None else ()
            return Gathered(tuple(self._presses(signals, now)), mark)

    def _presses(self, signals: Iterable[Signal], now: datetime) -> Iterator[Reply]:
        for name, values in signals:
            number = values[0] if values and isinstance(values[0], int) else 0
            if name == "NameOwnerChanged":
                self._forget()
            elif name == "ActionInvoked" and number in self._tokens:
                token, word = self._tokens[number], str(values[1])
                subject = f"[{token}]"
                yield Reply(
                    f"desktop {number} {word} {now.isoformat()}", None, subject, (word,), now
                )
            elif name == "NotificationClosed":
                self._tokens.pop(number, None)
                self._numbers = {at: each for at, each in self._numbers.items() if each != number}

    def _forget(self) -> None:
        """Forget numbers that may be those of a stranger's notices by now."""
        self._tokens.clear()
        self._numbers.clear()

    def _drop(self) -> None:
        link, self._link = self._link, None
        self._forget()
        if link is not None:
            link.close()

    def _left_s(self, until_s: float) -> float:
        return max(until_s - self._monotonic(), 0.01)

    def _over_the_bus(self, address: str, frozen: _Frozen, until_s: float) -> Delivery:
        try:
            from jeepney.bus import get_bus  # type: ignore[import-untyped]
            from jeepney.wrappers import DBusErrorResponse  # type: ignore[import-untyped]

            get_bus(address)
        except (ImportError, RuntimeError, ValueError, StopIteration):
            # Only Linux has the library, and it knows only sockets of this machine.
            return _not_shown("bus")
        was_kept, asked = self._link is not None and self._link.address == address, False
        try:
            if not was_kept:
                self._drop()
                self._link = Link(address, self._signals, self._left_s(until_s))
            asked = True
            self._show(frozen, until_s)
        except DBusErrorResponse as error:
            return _not_shown(plain(error.name))
        except Exception as error:
            self._drop()
            if was_kept and _is_gone(error):
                # The bus was started anew since; nothing was asked of the new one yet.
                return self._over_the_bus(address, frozen, until_s)
            if asked:
                return Delivery(Outcome.UNKNOWN, BRITISH.say("desktop.unconfirmed"))
            return _not_shown(error.strerror if isinstance(error, OSError) else None)
        return Delivery(Outcome.ACCEPTED, BRITISH.say("desktop.shown"))

    def _show(self, frozen: _Frozen, until_s: float) -> None:
        """Show a notice over the link that is open."""
        assert self._link is not None  # noqa: S101 - the caller has just made it
        able, shown = self._link.capabilities, frozen.body
        if "body-markup" in able:
            shown = html.escape(shown, quote=False)
        actions: list[str] = []
        if self._signals is not None and "actions" in able:
            actions = [text for pair in frozen.words for text in pair]
        old = self._numbers.get(frozen.place, 0)
        number = self._link.notify(frozen.title, shown, actions, old, self._left_s(until_s))
        if self._signals is None:
            return
        self._numbers[frozen.place] = number
        if actions:
            self._tokens[number] = frozen.token
            while len(self._tokens) > MOST_TOKENS:
                self._tokens.popitem(last=False)


def _is_gone(error: Exception) -> bool:
    """Return whether a kept connection was dead before anything was asked over it."""
    return type(error).__name__ == "RouterClosed" or isinstance(error, BrokenPipeError)


def _not_shown(why: str | None) -> Delivery:
    return Delivery(Outcome.LATER, BRITISH.say("desktop.not-shown", why=why))


class Signals(Queue[Any]):
    """Where the library puts what it hears; rings, in the library's thread, that something came."""

    def __init__(self, ring: Callable[[], object]) -> None:
        """Start empty."""
        super().__init__(MOST_SIGNALS)
        self._ring = ring

    def put_nowait(self, item: Any) -> None:
        """Keep a signal."""
        super().put_nowait(item)
        self._ring()

    def take(self) -> tuple[Signal, ...]:
        """Return what came since it was asked last, oldest first."""
        from jeepney.low_level import HeaderFields  # type: ignore[import-untyped]

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
        from jeepney import DBusAddress  # type: ignore[import-untyped]
        from jeepney.bus import get_bus
        from jeepney.bus_messages import message_bus  # type: ignore[import-untyped]
        from jeepney.io.blocking import prep_socket  # type: ignore[import-untyped]
        from jeepney.io.threading import (  # type: ignore[import-untyped]
            DBusConnection,
            DBusRouter,
        )

        class Router(DBusRouter):  # type: ignore[misc]
            """The library's, but a bus that goes away ends it without a word."""

            def _receiver(self) -> None:
                with contextlib.suppress(OSError, ValueError, KeyError):
                    super()._receiver()

        self.address = address
        self._service = DBusAddress(PLACE, bus_name=NAME, interface=NAME)
        self._connection = DBusConnection(prep_socket(get_bus(address), timeout=seconds))
        self._router = Router(self._connection)
        try:
            self._ask(message_bus.Hello(), seconds)
            if signals is not None:
                self._listen(signals, seconds)
            self.capabilities = frozenset(self._call("GetCapabilities", None, (), seconds)[0])
        except BaseException:
            self.close()
            raise

    def _listen(self, signals: Signals, seconds: float) -> None:
        from jeepney import MatchRule
        from jeepney.bus_messages import message_bus

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
        hints = {"desktop-entry": ("s", "strawbell")}
        # -1: the service decides how long it is shown.
        values = ("Strawbell", old, "", title, body, list(actions), hints, -1)
        return int(self._call("Notify", "susssasa{sv}i", values, seconds)[0])

    def _call(
        self, name: str, signature: str | None, values: tuple[Any, ...], seconds: float
    ) -> tuple[Any, ...]:
        from jeepney import new_method_call

        return self._ask(new_method_call(self._service, name, signature, values), seconds)

    def _ask(self, call: Any, seconds: float) -> tuple[Any, ...]:
        from jeepney.wrappers import unwrap_msg

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
