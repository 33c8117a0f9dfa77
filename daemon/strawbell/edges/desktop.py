"""Desktop notices over the session bus (freedesktop.org Desktop Notifications Specification).

Each attempt takes two seconds at most. Without a session, a bus or a notification service the
notice waits; the other channels do not.
"""

from __future__ import annotations

import contextlib
import html
import os
import threading
import time
import unicodedata
from collections import OrderedDict
from collections.abc import Callable, Iterable, Iterator, Mapping
from datetime import datetime
from typing import TYPE_CHECKING

import msgspec
from msgspec import Struct

from strawbell.app.ports import Gathered, Reply
from strawbell.model.notice import Delivery, Notice, OutboxRow, Outcome

if TYPE_CHECKING:
    from strawbell.edges.desktop_link import Link, Signal, Signals

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
_NOT_SHOWN = "The desktop did not show the notice: "


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
            return Delivery(Outcome.FOR_GOOD, "The stored notice cannot be read.")
        until_s = self._monotonic() + self._call_s
        address = bus_address(self._environ)
        if address is None:
            return Delivery(Outcome.LATER, f"{_NOT_SHOWN}there is no desktop session.")
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
            self._signals = None
            if ring is not None:
                with contextlib.suppress(ImportError):
                    from strawbell.edges.desktop_link import Signals

                    self._signals = Signals(ring)

    @property
    def is_ringing(self) -> bool:
        """Return whether a signal came that was not looked at yet."""
        return self._signals is not None and not self._signals.empty()

    def probe(self) -> str:
        """Return what answers are tried with; nothing is shown."""
        return "Its buttons are read while the daemon runs."

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

            from strawbell.edges.desktop_link import Link

            get_bus(address)
        except (ImportError, RuntimeError, ValueError, StopIteration):
            # Only Linux has the library, and it knows only sockets of this machine.
            return Delivery(Outcome.LATER, f"{_NOT_SHOWN}there is no way to its session bus.")
        was_kept, asked = self._link is not None and self._link.address == address, False
        try:
            if not was_kept:
                self._drop()
                self._link = Link(address, self._signals, self._left_s(until_s))
            asked = True
            self._show(frozen, until_s)
        except DBusErrorResponse as error:
            return Delivery(Outcome.LATER, f"{_NOT_SHOWN}{plain(error.name)}.")
        except Exception as error:
            self._drop()
            if was_kept and _is_gone(error):
                # The bus was started anew since; nothing was asked of the new one yet.
                return self._over_the_bus(address, frozen, until_s)
            if asked:
                said = "The desktop did not confirm that it shows the notice."
                return Delivery(Outcome.UNKNOWN, said)
            return Delivery(Outcome.LATER, f"{_NOT_SHOWN}{_why(error, 'no answer in time')}.")
        return Delivery(Outcome.ACCEPTED, "Shown on the desktop.")

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


def _why(error: Exception, otherwise: str) -> str:
    said = error.strerror if isinstance(error, OSError) else None
    return said or otherwise
