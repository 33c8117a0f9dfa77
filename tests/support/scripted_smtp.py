"""A mail server on loopback that misbehaves as told, at the stage it is told."""

from __future__ import annotations

import contextlib
import os
import socket
import ssl
import threading
from dataclasses import dataclass, field
from pathlib import Path
from typing import Literal

import trustme

Behaviour = Literal[
    "close", "hang", "drip", "garbage", "overlong", "flood", "421", "451", "550", "535", "250"
]

DRIP_EVERY_S = 0.02
FLOOD_LINES = 400


class _Over(Exception):
    """The conversation is over."""


@dataclass
class Message:
    """What the server accepted."""

    sender: str
    recipient: str
    body: bytes


@dataclass
class ScriptedSmtp:
    """Serves one connection after the other; `faults` maps stage to behaviour.

    A behaviour with a blank in it is the whole answer.
    Stages: banner, ehlo, starttls, tls, ehlo-again, auth, mail, rcpt, data, body, dot, quit.
    With `log`, a message is on disk and synced before its 250 goes out.
    """

    faults: dict[str, str] = field(default_factory=dict)
    security: str = "none"
    context: ssl.SSLContext | None = None
    offer_starttls: bool = True
    mechanisms: str = "PLAIN"
    password: str = "straw secret"
    log: Path | None = None
    messages: list[Message] = field(default_factory=list)
    heard: list[str] = field(default_factory=list)
    connections: int = 0

    def __enter__(self) -> ScriptedSmtp:
        self._release = threading.Event()
        self._listener = socket.create_server(("127.0.0.1", 0), backlog=8)
        self.port: int = self._listener.getsockname()[1]
        self._open: list[socket.socket] = []
        self._thread = threading.Thread(target=self._serve, daemon=True)
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._release.set()
        with contextlib.suppress(OSError):
            self._listener.shutdown(socket.SHUT_RDWR)
        for link in [self._listener, *self._open]:
            link.close()
        self._thread.join(5)
        assert not self._thread.is_alive()

    def _serve(self) -> None:
        while not self._release.is_set():
            try:
                link, _ = self._listener.accept()
            except OSError:
                return
            self.connections += 1
            self._open = [link]
            try:
                self._converse(link)
            except (_Over, OSError, ValueError):
                pass
            finally:
                for one in self._open:
                    one.close()

    def _say(self, link: socket.socket, stage: str, reply: str) -> None:
        """Answer as hoped, or misbehave."""
        fault = self.faults.get(stage)
        if fault is None or fault == reply[:3]:
            link.sendall(reply.encode("ascii") + b"\r\n")
            return
        if fault == "close":
            raise _Over
        if fault == "hang":
            self._release.wait()
            raise _Over
        if fault == "drip":
            while not self._release.wait(DRIP_EVERY_S):
                link.sendall(b"2")
            raise _Over
        if fault == "garbage":
            link.sendall(b"\x00\xff\xfe what?\r\n")
            return
        if fault == "overlong":
            link.sendall(reply[:3].encode("ascii") + b" " + b"x" * 20_000 + b"\r\n")
            return
        if fault == "flood":
            link.sendall((reply[:3].encode("ascii") + b"-more\r\n") * FLOOD_LINES)
            self._release.wait()
            raise _Over
        said = fault if " " in fault else f"{fault} no, {self.password}"
        link.sendall(f"{said}\r\n".encode("ascii"))
        if fault == "421":
            raise _Over

    def _tls(self, link: socket.socket) -> socket.socket:
        fault = self.faults.get("tls")
        if fault == "close":
            raise _Over
        if fault == "hang":
            self._release.wait()
            raise _Over
        if fault == "drip":
            # The header of a handshake record that never ends.
            link.sendall(b"\x16\x03\x03\x40\x00")
            while not self._release.wait(DRIP_EVERY_S):
                link.sendall(b"\x00")
            raise _Over
        if fault == "garbage":
            link.sendall(b"220 what is TLS?\r\n" * 4)
            self._release.wait()
            raise _Over
        assert self.context is not None
        secured = self.context.wrap_socket(link, server_side=True)
        self._open.append(secured)
        return secured

    def _converse(self, link: socket.socket) -> None:  # noqa: PLR0912 - one branch a command
        if self.security == "tls":
            link = self._tls(link)
        self._say(link, "banner", "220 scripted")
        file = link.makefile("rb")
        ehlo, sender, recipient = "ehlo", "", ""
        while True:
            raw = file.readline()
            if not raw:
                raise _Over
            line = raw.decode("utf-8", "replace").strip()
            self.heard.append(line)
            command = line.split(":")[0].upper()
            if command.startswith("EHLO"):
                offered = ["scripted", f"AUTH {self.mechanisms}"]
                if self.security == "starttls" and ehlo == "ehlo" and self.offer_starttls:
                    offered.append("STARTTLS")
                if self.faults.get(ehlo) is None:
                    for feature in offered[:-1]:
                        link.sendall(f"250-{feature}\r\n".encode("ascii"))
                self._say(link, ehlo, f"250 {offered[-1]}")
            elif command == "STARTTLS":
                self._say(link, "starttls", "220 go")
                link = self._tls(link)
                file = link.makefile("rb")
                ehlo = "ehlo-again"
            elif command.startswith("AUTH"):
                self._say(link, "auth", "235 welcome")
            elif not command:
                # What a client says to the reason why its token is refused.
                link.sendall(b"535 5.7.8 token refused\r\n")
            elif command.startswith("MAIL FROM"):
                sender = line
                self._say(link, "mail", "250 ok")
            elif command.startswith("RCPT TO"):
                recipient = line
                self._say(link, "rcpt", "250 ok")
            elif command == "DATA":
                self._say(link, "data", "354 go")
                self._accept(link, file, sender, recipient)
            elif command == "RSET":
                self._say(link, "rset", "250 ok")
            elif command == "QUIT":
                self._say(link, "quit", "221 bye")
                raise _Over
            else:
                link.sendall(b"500 what?\r\n")

    def _accept(self, link: socket.socket, file: object, sender: str, recipient: str) -> None:
        lines: list[bytes] = []
        fault = self.faults.get("body")
        while True:
            line = file.readline()  # type: ignore[attr-defined]
            if not line:
                raise _Over
            if fault in {"close", "hang"}:
                self._say(link, "body", "")
            if line == b".\r\n":
                break
            lines.append(line[1:] if line.startswith(b".") else line)
        if self.faults.get("dot") in {None, "close-accepted", "hang-accepted"}:
            self._keep(Message(sender, recipient, b"".join(lines)))
        fault = self.faults.get("dot")
        if fault == "close-accepted":
            raise _Over
        if fault == "hang-accepted":
            self._release.wait()
            raise _Over
        self._say(link, "dot", "250 queued as 1")

    def _keep(self, message: Message) -> None:
        self.messages.append(message)
        if self.log is None:
            return
        with self.log.open("ab") as log:
            log.write(message.body.replace(b"\r\n", b"\n") + b"\0\n")
            log.flush()
            os.fsync(log.fileno())


def authority() -> trustme.CA:
    """Return a certificate authority of the test's own."""
    return trustme.CA()


def server_context(ca: trustme.CA, name: str = "127.0.0.1") -> ssl.SSLContext:
    """Return the server's side for a name, signed by the test's authority."""
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    ca.issue_cert(name).configure_cert(context)
    return context


def client_context(ca: trustme.CA) -> ssl.SSLContext:
    """Return a client's side that trusts the test's authority."""
    context = ssl.create_default_context()
    ca.configure_trust(context)
    return context
