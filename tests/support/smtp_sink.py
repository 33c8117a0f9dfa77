"""A well-behaved mail server on loopback with STARTTLS or implicit TLS, and a login."""

from __future__ import annotations

import os
import socket
import ssl
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

from aiosmtpd.controller import Controller
from aiosmtpd.smtp import SMTP, AuthResult, Envelope, LoginPassword, Session

USERNAME = "bell"
PASSWORD = "straw secret"


@dataclass
class Sink:
    """What arrived; with `log` each message is synced to disk before it is accepted."""

    log: Path | None = None
    envelopes: list[Envelope] = field(default_factory=list)
    secure: list[bool] = field(default_factory=list)
    users: list[str] = field(default_factory=list)
    port: int = 0

    async def handle_DATA(  # noqa: N802 - the library's name
        self, server: SMTP, session: Session, envelope: Envelope
    ) -> str:
        self.secure.append(
            session.ssl is not None or server.transport.get_extra_info("ssl_object") is not None
        )
        self.envelopes.append(envelope)
        if self.log is not None:
            assert isinstance(envelope.content, bytes)
            with self.log.open("ab") as log:
                log.write(envelope.content.replace(b"\r\n", b"\n") + b"\0\n")
                log.flush()
                os.fsync(log.fileno())
        return "250 2.0.0 queued"

    def authenticate(
        self, server: SMTP, session: Session, envelope: Envelope, mechanism: str, data: object
    ) -> AuthResult:
        known = isinstance(data, LoginPassword) and (data.login, data.password) == (
            USERNAME.encode(),
            PASSWORD.encode(),
        )
        if known:
            self.users.append(USERNAME)
        return AuthResult(success=known, handled=known)


def _free_port() -> int:
    with socket.create_server(("127.0.0.1", 0)) as probe:
        port: int = probe.getsockname()[1]
    return port


@contextmanager
def smtp_sink(
    security: str, context: ssl.SSLContext | None = None, log: Path | None = None
) -> Iterator[Sink]:
    """Run a server; security is "none", "starttls" or "tls"."""
    sink = Sink(log=log, port=_free_port())
    controller = Controller(
        sink,
        hostname="127.0.0.1",
        port=sink.port,
        ssl_context=context if security == "tls" else None,
        tls_context=context if security == "starttls" else None,
        require_starttls=security == "starttls",
        authenticator=sink.authenticate,
        auth_required=security == "starttls",
        auth_require_tls=security == "starttls",
        server_hostname="sink.invalid",
    )
    controller.start()
    try:
        yield sink
    finally:
        controller.stop()
