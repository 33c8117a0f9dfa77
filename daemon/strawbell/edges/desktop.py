"""Desktop notices over the session bus (freedesktop.org Desktop Notifications Specification).

Each attempt takes two seconds at most. Without a session, a bus or a notification service the
notice waits; the other channels do not.
"""

from __future__ import annotations

import html
import json
import os
import shutil
import socket
import subprocess
import threading
import time
import unicodedata
from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING

from strawbell.model.notice import Delivery, Notice, OutboxRow, Outcome

if TYPE_CHECKING:
    from jeepney.io.blocking import DBusConnection  # type: ignore[import-untyped]

CALL_S = 1.75
"""Time for a whole attempt [s]; with what a busy machine adds it stays within two seconds."""

TITLE_LIMIT_CHARACTERS = 120
BODY_LIMIT_CHARACTERS = 480
"""Longer texts are cut by the services themselves, some of them in the middle of a tag (common
practice)."""

SHOW_UNTIL_THE_SERVICE_DECIDES_MS = -1

_JOINERS = {"\u200d", "\ufe0e", "\ufe0f"}
_LOOKALIKES = str.maketrans({"<": "‹", ">": "›", "&": "＆"})
"""For `notify-send`, where it is not known whether the service reads markup."""

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


class _NoBusLibraryError(Exception):
    """The bus cannot be spoken to from here, so `notify-send` has to."""


class DesktopChannel:
    """Shows each notice on the desktop of the user that Strawbell runs as."""

    name = "desktop"
    recipients = ("desktop",)

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

    def render(self, notice: Notice, recipient: str, message_id: str) -> bytes:
        """Return title and body, cut to what a desktop shows; markup comes when sending."""
        del recipient, message_id
        title = cut(" ".join(plain(notice.subject).split()), TITLE_LIMIT_CHARACTERS)
        body = cut(plain(notice.short), BODY_LIMIT_CHARACTERS)
        return json.dumps({"title": title, "body": body}, ensure_ascii=True).encode("ascii")

    def send(self, row: OutboxRow) -> Delivery:
        """Show the notice once."""
        try:
            frozen = json.loads(row.body)
            title, body = str(frozen["title"]), str(frozen["body"])
        except (ValueError, KeyError, TypeError):
            return Delivery(Outcome.FOR_GOOD, "The stored notice cannot be read.")
        until_s = self._monotonic() + self._call_s
        address = bus_address(self._environ)
        if address is None:
            return Delivery(Outcome.LATER, f"{_NOT_SHOWN}there is no desktop session.")
        try:
            return self._over_the_bus(address, title, body, until_s)
        except _NoBusLibraryError:
            return self._by_command(address, title, body, until_s)

    def close(self) -> None:
        """Nothing is kept open."""

    def _left_s(self, until_s: float) -> float:
        return max(until_s - self._monotonic(), 0.01)

    def _over_the_bus(self, address: str, title: str, body: str, until_s: float) -> Delivery:
        try:
            from jeepney.bus import get_bus  # type: ignore[import-untyped]
            from jeepney.io.blocking import DBusConnection, prep_socket

            place = get_bus(address)
        except (ImportError, RuntimeError, ValueError, StopIteration) as error:
            raise _NoBusLibraryError from error
        try:
            link = prep_socket(place, timeout=self._left_s(until_s))
        except Exception as error:
            return Delivery(Outcome.LATER, f"{_NOT_SHOWN}{_why(error, 'no session bus')}.")
        # The library waits for some answers without end; shutting the socket ends any wait.
        bell = threading.Timer(self._left_s(until_s), _shut, (link,))
        bell.daemon = True
        bell.start()
        try:
            return _show(DBusConnection, link, title, body)
        finally:
            bell.cancel()
            link.close()

    def _by_command(self, address: str, title: str, body: str, until_s: float) -> Delivery:
        command = shutil.which("notify-send", path=self._environ.get("PATH", os.defpath))
        if command is None:
            return Delivery(Outcome.LATER, f"{_NOT_SHOWN}there is no way to its session bus.")
        try:
            done = subprocess.run(  # noqa: S603 - no shell, and "--" ends the options
                [command, "--app-name=Strawbell", "--", title, body.translate(_LOOKALIKES)],
                env={**self._environ, "DBUS_SESSION_BUS_ADDRESS": address},
                stdin=subprocess.DEVNULL,
                stdout=subprocess.DEVNULL,
                stderr=subprocess.DEVNULL,
                timeout=self._left_s(until_s),
                check=False,
            )
        except subprocess.TimeoutExpired:
            return Delivery(Outcome.UNKNOWN, "The desktop took too long to confirm the notice.")
        except (OSError, ValueError) as error:
            return Delivery(Outcome.LATER, f"{_NOT_SHOWN}{_why(error, 'notify-send failed')}.")
        if done.returncode != 0:
            return Delivery(Outcome.LATER, f"{_NOT_SHOWN}notify-send gave {done.returncode}.")
        return Delivery(Outcome.ACCEPTED, "Shown on the desktop.")


def _show(connect: type[DBusConnection], link: socket.socket, title: str, body: str) -> Delivery:
    from jeepney import DBusAddress, new_method_call  # type: ignore[import-untyped]
    from jeepney.wrappers import DBusErrorResponse, unwrap_msg  # type: ignore[import-untyped]

    service = DBusAddress(
        "/org/freedesktop/Notifications",
        bus_name="org.freedesktop.Notifications",
        interface="org.freedesktop.Notifications",
    )
    asked = False
    try:
        with connect(link) as connection:
            question = new_method_call(service, "GetCapabilities")
            (capabilities,) = unwrap_msg(connection.send_and_get_reply(question))
            shown = html.escape(body, quote=False) if "body-markup" in capabilities else body
            notice = new_method_call(
                service,
                "Notify",
                "susssasa{sv}i",
                (
                    "Strawbell",
                    0,
                    "",
                    title,
                    shown,
                    [],
                    {"desktop-entry": ("s", "strawbell")},
                    SHOW_UNTIL_THE_SERVICE_DECIDES_MS,
                ),
            )
            asked = True
            unwrap_msg(connection.send_and_get_reply(notice))
    except DBusErrorResponse as error:
        return Delivery(Outcome.LATER, f"{_NOT_SHOWN}{plain(error.name)}.")
    except Exception as error:
        if asked:
            return Delivery(
                Outcome.UNKNOWN, "The desktop did not confirm that it shows the notice."
            )
        return Delivery(Outcome.LATER, f"{_NOT_SHOWN}{_why(error, 'no answer in time')}.")
    return Delivery(Outcome.ACCEPTED, "Shown on the desktop.")


def _shut(link: socket.socket) -> None:
    try:
        link.shutdown(socket.SHUT_RDWR)
    except OSError:
        return


def _why(error: Exception, otherwise: str) -> str:
    said = error.strerror if isinstance(error, OSError) else None
    return said or otherwise
