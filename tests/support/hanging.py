"""A mail server, or the way to it, that hangs at one stage until it is let go."""

from __future__ import annotations

import socket
import threading
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from functools import cache
from typing import Any

import pytest
import trustme

from strawbell.edges.smtp import SmtpChannel
from strawbell.model.configuration import MailSettings
from strawbell.model.notice import Notice
from support.scripted_smtp import ScriptedSmtp, _Over, authority, client_context, server_context

STAGES = (
    "name", "connect", "banner", "ehlo", "starttls", "tls", "ehlo-again", "auth", "mail", "rcpt",
    "data", "body", "dot", "quit",
)  # fmt: skip
"""Everything a mail channel waits for, in order."""

BULK = (b"x" * 70 + b"\r\n") * 150_000
"""More than the buffers between two sockets take."""

NAME = "mail.example.org"


class HangingSmtp(ScriptedSmtp):
    """Answers late at one stage: when it is let go."""

    def __init__(self, stage: str, **settings: Any) -> None:
        super().__init__({"body": "hang"} if stage == "body" else {}, **settings)
        self.late = stage
        self.hung = threading.Event()
        self.go = threading.Event()

    def _wait_at(self, stage: str) -> None:
        if stage == self.late:
            self.hung.set()
            self.go.wait()

    def _say(self, link: socket.socket, stage: str, reply: str) -> None:
        self._wait_at(stage)
        if stage == "body":
            raise _Over
        super()._say(link, stage, reply)

    def _tls(self, link: socket.socket) -> socket.socket:
        self._wait_at("tls")
        return super()._tls(link)

    def __exit__(self, *_: object) -> None:
        self.go.set()
        super().__exit__()


class BulkyMail(SmtpChannel):
    """A mail channel whose messages do not fit into the buffers on the way."""

    def render(self, notice: Notice, recipient: str, message_id: str) -> bytes:
        return super().render(notice, recipient, message_id) + BULK


@dataclass
class HangingMail:
    """A channel on its way to a server; `hangs` tells that it has come to the stage."""

    channel: SmtpChannel
    hangs: Callable[[], bool]
    let_go: Callable[[], None]


@cache
def _authority() -> trustme.CA:
    return authority()


@contextmanager
def hanging_mail(
    stage: str, monkeypatch: pytest.MonkeyPatch, **settings: Any
) -> Iterator[HangingMail]:
    """Give a channel that will hang at a stage, and end what hangs afterwards."""
    with ExitStack() as world:
        if stage == "name":
            yield _hanging_name(monkeypatch, world, settings)
        elif stage == "connect":
            yield _hanging_connect(world, settings)
        else:
            ca = _authority()
            server = world.enter_context(
                HangingSmtp(stage, security="starttls", context=server_context(ca))
            )
            kind = BulkyMail if stage == "body" else SmtpChannel
            channel = _channel(kind, "127.0.0.1", server.port, client_context(ca), settings)
            yield HangingMail(channel, server.hung.is_set, server.go.set)


def _channel(
    kind: type[SmtpChannel], host: str, port: int, context: Any, settings: dict[str, Any]
) -> SmtpChannel:
    mail = MailSettings(
        host,
        port,
        "starttls",
        "Strawbell <bell@example.org>",
        ("grower@example.org",),
        "bell",
        "straw secret",
    )
    return kind(mail, tls_context=lambda: context, **settings)


def _hanging_name(
    monkeypatch: pytest.MonkeyPatch, world: ExitStack, settings: dict[str, Any]
) -> HangingMail:
    asked, go = hang_the_name_service(monkeypatch)
    world.callback(go.set)
    channel = _channel(SmtpChannel, NAME, 587, None, settings)
    return HangingMail(channel, asked.is_set, go.set)


def hang_the_name_service(
    monkeypatch: pytest.MonkeyPatch,
) -> tuple[threading.Event, threading.Event]:
    """Let every look-up of a name hang; return an event that tells so, and one to let it go."""
    asked, go = threading.Event(), threading.Event()
    real = socket.getaddrinfo

    def getaddrinfo(host: Any, *rest: Any, **named: Any) -> Any:
        if host in {"127.0.0.1", "localhost"}:
            return real(host, *rest, **named)
        asked.set()
        go.wait()
        raise socket.gaierror(socket.EAI_AGAIN, "Temporary failure in name resolution")

    monkeypatch.setattr(socket, "getaddrinfo", getaddrinfo)
    return asked, go


def _hanging_connect(world: ExitStack, settings: dict[str, Any]) -> HangingMail:
    """A listener whose queue is full: the system answers no further greeting."""
    listener = world.enter_context(socket.socket())
    listener.bind(("127.0.0.1", 0))
    listener.listen(0)
    place = listener.getsockname()
    for _ in range(3):
        one = world.enter_context(socket.socket())
        one.setblocking(False)
        one.connect_ex(place)
    channel = _channel(SmtpChannel, place[0], place[1], None, settings)

    def hangs() -> bool:
        wire = channel._wire
        return wire is not None and wire.sock is not None and wire.sock.fileno() >= 0

    return HangingMail(channel, hangs, listener.close)
