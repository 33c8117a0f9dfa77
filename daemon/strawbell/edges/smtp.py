"""E-mail over one SMTP server, phase by phase, every wait bound by one deadline.

An attempt returns as soon as the server has answered the final dot; QUIT waits for `close`, so
that nothing stands between the server's acceptance and its record on disk.

The library's timeout is for each read; a server that drips a byte at a time would hold it for
ever. Here each read and write gets only what is left until the deadline, and so does the look-up
of the server's name.

Decided 2026-11-25: A stop breaks every wait of a mail off but one. The answer to the final dot is
waited for ten seconds, because without it the message goes out twice.
"""

from __future__ import annotations

import base64
import contextlib
import encodings.ascii
import encodings.idna  # noqa: F401 - for its loading alone
import io
import ipaddress
import smtplib
import socket
import ssl
import threading
import time
from collections.abc import Callable, Sequence
from queue import Empty, SimpleQueue
from typing import TYPE_CHECKING, Any

from msgspec.structs import replace

from strawbell.edges.mail_refusals import (
    CONNECTION_STAGES,
    Login,
    Reply,
    Stage,
    of_failure,
    of_interruption,
    of_reply,
    of_settings,
)
from strawbell.edges.mime import clean_header, compose, envelope_address
from strawbell.edges.programs import SecretCommand, SecretCommandError
from strawbell.errors import Defect
from strawbell.model.configuration import MailSettings, is_loopback
from strawbell.model.notice import Delivery, Notice, OutboxRow, Outcome
from strawbell.words.catalogue import BRITISH, messages

if TYPE_CHECKING:
    from _typeshed import ReadableBuffer, WriteableBuffer

BEFORE_DOT_S = 60.0
"""Time for everything before the final dot."""

STARTTLS_PORTS = (25, 587)
GREETING_S = 10.0
"""Time for the greeting at any other port with STARTTLS: one that wants TLS from the first byte
stays silent for ever, and a server that greets late to keep strangers off does so at those two."""

AFTER_DOT_S = 600.0
"""Wait for the answer to the final dot (RFC 5321, section 4.5.3.2.6: 10 min); a shorter one
makes doubles."""

QUIT_S = 2.0
"""Wait for the goodbye, which changes nothing any more."""

SAID_LIMIT_CHARACTERS = 160

_GREETED, _OKAY, _GO_AHEAD, _LOGGED_IN = {220}, {250, 251, 252}, {354}, {235, 503}
_ASKED, _MECHANISM_UNKNOWN = 334, 504


class _SettledError(Exception):
    """The attempt came to its end early."""

    def __init__(self, delivery: Delivery) -> None:
        self.delivery = delivery
        super().__init__(delivery.detail)


class SmtpChannel:
    """Sends each notice to each recipient as a message of its own."""

    name = "email"

    def __init__(
        self,
        settings: MailSettings,
        *,
        answers_to: str | None = None,
        before_dot_s: float = BEFORE_DOT_S,
        greeting_s: float = GREETING_S,
        after_dot_s: float = AFTER_DOT_S,
        quit_s: float = QUIT_S,
        tls_context: Callable[[], ssl.SSLContext] = ssl.create_default_context,
        monotonic: Callable[[], float] = time.monotonic,
    ) -> None:
        """Keep the settings, with a host; nothing is connected before the first message."""
        self._host, self._port = settings.host or "", settings.port
        self._security = settings.security
        if self._security == "none" and not is_loopback(self._host):
            raise Defect("Mail without encryption would show password and plan to the network.")
        self.recipients, self.answers_to = settings.recipients, answers_to
        self._sender = settings.sender
        self._username, self._secret = settings.username, settings.password or ""
        self._command = settings.password_command or settings.oauth_token_command
        self._login = Login.NONE
        if settings.username is not None:
            self._login = Login.TOKEN if settings.oauth_token_command else Login.PASSWORD
        self._running: SecretCommand | None = None
        self._before_dot_s, self._after_dot_s = before_dot_s, after_dot_s
        self._greeting_s = greeting_s
        self._quit_s = quit_s
        self._make_context, self._monotonic = tls_context, monotonic
        self._context: ssl.SSLContext | None = None
        self._wire: Wire | None = None
        self._stage = Stage.CONNECT
        self._given_up: Delivery | None = None
        self._interrupted = False

    def __repr__(self) -> str:
        return f"SmtpChannel({self._host!r}, {self._port})"

    def render(self, notice: Notice, recipient: str, message_id: str) -> bytes:
        """Return the message that will be sent, the same for every attempt."""
        return compose(notice, self._sender, recipient, message_id, self.answers_to or "")

    def send(self, row: OutboxRow) -> Delivery:
        """Try once. A server that could not be used is left alone until `close`."""
        if self._interrupted:
            return Delivery(Outcome.LATER, BRITISH.say("mail.stopping"))
        if self._given_up is not None:
            return self._given_up
        deadline = Deadline(self._before_dot_s, self._monotonic)
        reused = self._wire is not None
        delivery = self._attempt(row, deadline)
        if reused and delivery.outcome is Outcome.LATER and self._stage is Stage.MAIL:
            # A server may hang up between two messages; that says nothing about this one.
            delivery = self._attempt(row, deadline)
        if delivery.outcome is not Outcome.ACCEPTED and self._stage in CONNECTION_STAGES:
            self._given_up = delivery
        return delivery

    def close(self) -> None:
        """Say goodbye; whatever goes wrong now is of no consequence."""
        wire, self._wire, self._given_up = self._wire, None, None
        if wire is None:
            return
        if self._interrupted:
            wire.drop()
            return
        try:
            wire.deadline = Deadline(self._quit_s, self._monotonic)
            wire.docmd("QUIT")
        except (OSError, smtplib.SMTPException, SenselessReplyError):
            pass
        finally:
            wire.drop()

    def interrupt(self, *, final: bool = True) -> None:
        """End what another thread waits for, because Strawbell stops; nothing is sent any more.

        Unless `final`, the answer to a final dot is still waited for: without it the message
        would go out twice. Takes no lock: signal handlers call this.
        """
        # In this order: who sets a stage looks at the mark afterwards (`_enter`).
        self._interrupted = True
        if self._stage is Stage.DOT and not final:
            return
        running, wire = self._running, self._wire
        if running is not None:
            running.break_off()
        if wire is not None:
            wire.break_off()

    def check(self) -> Delivery:
        """Go as far as a message goes without one: up to the recipients, then back (RSET)."""
        self._given_up = None
        try:
            refused = self._rehearse(Deadline(self._before_dot_s, self._monotonic))
        except _SettledError as settled:
            return settled.delivery
        except Exception as error:
            return of_failure(self._stage, error)
        finally:
            self.close()
        if refused:
            said = " ".join(f"{whom}: {delivery.detail}" for whom, delivery in refused.items())
            return replace(next(iter(refused.values())), detail=said)
        said = BRITISH.say("mail.takes", whom=", ".join(self.recipients))
        return Delivery(Outcome.ACCEPTED, said)

    def _rehearse(self, deadline: Deadline) -> dict[str, Delivery]:
        """Return the recipients that the server refuses, and with what."""
        refused: dict[str, Delivery] = {}
        wire = self._connect(deadline)
        self._enter(Stage.MAIL)
        self._expect(_OKAY, wire.mail(envelope_address(self._sender)))
        for recipient in self.recipients:
            self._enter(Stage.RCPT)
            try:
                self._expect(_OKAY, wire.rcpt(envelope_address(recipient)))
            except _SettledError as settled:
                refused[recipient] = settled.delivery
        wire.docmd("RSET")
        return refused

    def _attempt(self, row: OutboxRow, deadline: Deadline) -> Delivery:
        delivery = self._try(row, deadline)
        if delivery.outcome is not Outcome.ACCEPTED and self._wire is not None:
            self._wire.drop()
            self._wire = None
        return delivery

    def _try(self, row: OutboxRow, deadline: Deadline) -> Delivery:
        try:
            return self._converse(row, deadline)
        except _SettledError as settled:
            return settled.delivery
        except Exception as error:
            if self._interrupted and isinstance(error, OSError):
                return of_interruption(self._stage)
            return of_failure(self._stage, error)

    def _enter(self, stage: Stage) -> None:
        """Go on to the next stage, unless Strawbell stops."""
        if stage is Stage.DOT:
            # Asked first: once it counts as begun, the message may be accepted.
            self._go_on()
            self._stage = stage
        else:
            self._stage = stage
            self._go_on()

    def _go_on(self) -> None:
        if self._interrupted:
            raise ConnectionAbortedError

    def _converse(self, row: OutboxRow, deadline: Deadline) -> Delivery:
        # Before the dot: between acceptance and its record nothing is read from the disk.
        messages(BRITISH.locale)
        wire = self._wire or self._connect(deadline)
        wire.deadline = deadline
        self._enter(Stage.MAIL)
        self._expect(_OKAY, wire.mail(envelope_address(self._sender)))
        self._enter(Stage.RCPT)
        self._expect(_OKAY, wire.rcpt(envelope_address(row.recipient)))
        self._enter(Stage.DATA)
        self._expect(_GO_AHEAD, wire.docmd("DATA"))
        self._enter(Stage.BODY)
        wire.send(stuffed(row.body))
        # From the first byte of the dot on, the message may be accepted.
        self._enter(Stage.DOT)
        wire.deadline = Deadline(self._after_dot_s, self._monotonic)
        wire.send(b".\r\n")
        said = self._expect(_OKAY, wire.getreply())
        return Delivery(Outcome.ACCEPTED, BRITISH.say("mail.accepted", said=said.strip(": ")))

    def _connect(self, deadline: Deadline) -> Wire:
        if self._username is not None:
            # Before the server is called, which would not wait for somebody to type a passphrase.
            self._enter(Stage.SECRET)
            self._find_secret(deadline)
        wire = self._wire = Wire(deadline)
        try:
            self._enter(Stage.CONNECT)
            wire.reach(self._host, self._port)
            if self._security == "tls":
                self._enter(Stage.TLS)
                wire.secure(self._tls())
            self._enter(Stage.BANNER)
            if self._security == "starttls" and self._port not in STARTTLS_PORTS:
                wire.deadline = Deadline(min(self._greeting_s, deadline.left_s()), self._monotonic)
            self._expect(_GREETED, wire.getreply())
            wire.deadline = deadline
            self._greet(wire)
            if self._security == "starttls":
                self._start_tls(wire)
            if self._username is not None:
                self._log_in(wire, self._username)
        except BaseException:
            wire.drop()
            self._wire = None
            raise
        return wire

    def _find_secret(self, deadline: Deadline) -> None:
        """Run the command that prints the secret; without one the secret has to be there."""
        if self._command is None:
            if not self._secret:
                raise _SettledError(of_settings(Stage.SECRET, BRITISH.say("mail.no-secret")))
            return
        try:
            running = self._running = SecretCommand(self._command)
            # Asked again: an interruption in between did not find it.
            self._go_on()
            self._secret = running.first_line(deadline.left_s())
        except SecretCommandError as error:
            self._go_on()
            raise _SettledError(of_settings(Stage.SECRET, str(error))) from None
        finally:
            self._running = None

    def _greet(self, wire: Wire) -> None:
        self._enter(Stage.EHLO)
        self._expect(_OKAY, wire.ehlo())

    def _start_tls(self, wire: Wire) -> None:
        self._enter(Stage.STARTTLS)
        if not wire.has_extn("starttls"):
            said = BRITISH.say("mail.no-encryption")
            raise _SettledError(of_settings(Stage.STARTTLS, said))
        self._expect(_GREETED, wire.docmd("STARTTLS"))
        self._enter(Stage.TLS)
        wire.secure(self._tls())
        self._greet(wire)

    def _log_in(self, wire: Wire, username: str) -> None:
        self._enter(Stage.AUTH)
        offered = wire.esmtp_features.get("auth", "").upper().split()
        mechanisms = {"XOAUTH2": _xoauth2} if self._login is Login.TOKEN else _PASSWORD_MECHANISMS
        for name, exchange in mechanisms.items():
            if name not in offered:
                continue
            code, said = exchange(wire, username, self._secret)
            if code in _LOGGED_IN:
                return
            if code != _MECHANISM_UNKNOWN:
                # Nothing of the text is shown: the server could repeat what it was sent.
                reply = Reply(code, said.decode("utf-8", "replace"))
                raise _SettledError(of_reply(Stage.AUTH, reply, "", self._host, self._login))
        raise _SettledError(of_settings(Stage.AUTH, self._no_way_in(offered)))

    def _no_way_in(self, offered: list[str]) -> str:
        if self._login is Login.TOKEN:
            return BRITISH.say("mail.no-tokens")
        if "XOAUTH2" in offered or "OAUTHBEARER" in offered:
            return BRITISH.say("mail.tokens-only", remedy=BRITISH.say("remedy.no-passwords"))
        return BRITISH.say("mail.no-login")

    def _tls(self) -> ssl.SSLContext:
        if self._context is None:
            self._context = self._make_context()
        return self._context

    def _expect(self, wanted: set[int], reply: tuple[int, bytes]) -> str:
        code, text = reply
        whole = text.decode("utf-8", "replace")
        said = self._without_secrets(whole)
        if code not in wanted:
            raise _SettledError(
                of_reply(self._stage, Reply(code, whole), said, self._host, self._login)
            )
        return said

    def _without_secrets(self, said: str) -> str:
        for secret in self._secrets():
            said = said.replace(secret, "***")
        return clean_header(said)[:SAID_LIMIT_CHARACTERS].rstrip(". ")

    def _secrets(self) -> tuple[str, ...]:
        """Return the secret in every form that a server could give back."""
        if not self._secret or self._username is None:
            return ()
        answers = (
            _plain_answer(self._username, self._secret),
            _xoauth2_answer(self._username, self._secret),
            self._secret,
        )
        return (*(_base64(answer) for answer in answers), self._secret)


def _base64(text: str) -> str:
    """Return text as it goes over the wire: UTF-8 (RFC 4616), then base 64."""
    return base64.b64encode(text.encode("utf-8", "surrogateescape")).decode("ascii")


def _plain_answer(username: str, password: str) -> str:
    return f"\0{username}\0{password}"


def _xoauth2_answer(username: str, token: str) -> str:
    return f"user={username}\x01auth=Bearer {token}\x01\x01"


def _plain(wire: Wire, username: str, password: str) -> tuple[int, bytes]:
    return wire.docmd("AUTH", f"PLAIN {_base64(_plain_answer(username, password))}")


def _login(wire: Wire, username: str, password: str) -> tuple[int, bytes]:
    """Log in the older way: two questions in place of one answer."""
    reply = wire.docmd("AUTH", "LOGIN")
    for answer in (username, password):
        if reply[0] == _ASKED:
            reply = wire.docmd(_base64(answer))
    return reply


def _xoauth2(wire: Wire, username: str, token: str) -> tuple[int, bytes]:
    """Show an access token; a server that refuses it says why first, and wants an empty line."""
    reply = wire.docmd("AUTH", f"XOAUTH2 {_base64(_xoauth2_answer(username, token))}")
    return wire.docmd("") if reply[0] == _ASKED else reply


_PASSWORD_MECHANISMS = {"PLAIN": _plain, "LOGIN": _login}
"""In order; others hide a password from who listens, but nobody can listen here."""


def stuffed(body: bytes) -> bytes:
    """Return a body with CRLF line ends and doubled dots at line starts (RFC 5321, 4.5.2)."""
    lines = body.replace(b"\r\n", b"\n").replace(b"\r", b"\n").replace(b"\n", b"\r\n")
    lines = lines.replace(b"\r\n.", b"\r\n..")
    lines = b"." + lines if lines.startswith(b".") else lines
    return lines if lines.endswith(b"\r\n") else lines + b"\r\n"


LINE_LIMIT_BYTES = 8192
REPLY_LIMIT_LINES = 128
"""More than any server says in one answer (common practice)."""

SLACK_S = 0.05
"""A limit this close to the wanted one is good enough."""

CHUNK_BYTES = 16384

OWN_NAME = "[127.0.0.1]"
"""What is said at EHLO: an address literal as RFC 5321, section 4.1.4 allows, so that neither
the name of the grower's machine is told nor a name service asked for it."""


LOOKUPS_AT_MOST = 8
"""Look-ups that may be under way at once; each one that hangs keeps a thread."""
_places = threading.BoundedSemaphore(LOOKUPS_AT_MOST)

Address = tuple[socket.AddressFamily, socket.SocketKind, int, str, tuple[Any, ...]]
"""One answer of `socket.getaddrinfo`."""


class Lookup:
    """The look-up of one host, in a thread that nobody has to wait for."""

    def __init__(self, host: str, port: int) -> None:
        """Keep what is asked; nothing is asked yet."""
        self._host, self._port = host, port
        self._answer: SimpleQueue[Sequence[Address] | OSError] = SimpleQueue()

    def addresses(self, seconds: float) -> Sequence[Address]:
        """Return the addresses, or raise OSError, within `seconds`."""
        if _is_numeric(self._host):
            return self._ask()
        if not _places.acquire(blocking=False):
            raise _silent(BRITISH.say("mail.names-silent"))
        try:
            threading.Thread(target=self._run, name=f"name {self._host}", daemon=True).start()
        except RuntimeError:
            _places.release()
            raise _silent(BRITISH.say("mail.names-no-thread")) from None
        try:
            answer = self._answer.get(timeout=max(seconds, 0.0))
        except Empty:
            raise _silent(BRITISH.say("mail.names-late")) from None
        if isinstance(answer, OSError):
            raise answer
        return answer

    def interrupt(self) -> None:
        """End the wait of another thread; safe to call from a signal handler."""
        self._answer.put(ConnectionAbortedError())

    def _run(self) -> None:
        try:
            self._answer.put(self._ask())
        except OSError as error:
            self._answer.put(error)
        except (UnicodeError, ValueError):
            self._answer.put(socket.gaierror(socket.EAI_NONAME, BRITISH.say("mail.no-name")))
        finally:
            _places.release()

    def _ask(self) -> Sequence[Address]:
        return socket.getaddrinfo(self._host, self._port, type=socket.SOCK_STREAM)


def _is_numeric(host: str) -> bool:
    try:
        ipaddress.ip_address(host)
    except ValueError:
        return False
    return True


def _silent(why: str) -> socket.gaierror:
    return socket.gaierror(socket.EAI_AGAIN, why)


class SenselessReplyError(Exception):
    """The server said something that is not SMTP."""


class Deadline:
    """A moment after which nothing is waited for."""

    def __init__(self, seconds: float, monotonic: Callable[[], float] = time.monotonic) -> None:
        self._monotonic = monotonic
        self._end_s = monotonic() + seconds

    def left_s(self) -> float:
        """Return what is left [s]; raise TimeoutError when nothing is."""
        left = self._end_s - self._monotonic()
        if left <= 0:
            raise TimeoutError
        return left


class _Reader(io.RawIOBase):
    """Reads a socket within whatever deadline the wire has at the moment."""

    def __init__(self, wire: Wire) -> None:
        self._wire = wire

    def readable(self) -> bool:
        return True

    def readinto(self, buffer: WriteableBuffer) -> int:
        return self._wire.bounded_socket().recv_into(buffer)


class Wire(smtplib.SMTP):
    """The library's client with deadlines, and without its own connecting."""

    def __init__(self, deadline: Deadline) -> None:
        super().__init__(local_hostname=OWN_NAME)
        self.deadline = deadline
        self._broken_off = False
        self._lookup: Lookup | None = None

    def reach(self, host: str, port: int) -> None:
        """Connect to the first address of the host that answers."""
        self._lookup = Lookup(host, port)
        self._go_on()
        addresses = self._lookup.addresses(self.deadline.left_s())
        failure: OSError = OSError()
        for number, (family, kind, protocol, _, address) in enumerate(addresses):
            # Known before it waits, so that `break_off` finds it.
            reached = self.sock = socket.socket(family, kind, protocol)
            try:
                self._go_on()
                # Text and final dot go out apart; were the dot held back for an acknowledgement
                # (RFC 1122, section 4.2.3.4), each mail would take 40 ms longer.
                reached.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
                # One silent address must not use up the time of the others.
                reached.settimeout(self.deadline.left_s() / (len(addresses) - number))
                reached.connect(address)
            except OSError as error:
                self.drop()
                failure = error
                continue
            self.file = None
            self._host = host
            return
        raise failure

    def break_off(self) -> None:
        """End whatever another thread waits for; safe to call from a signal handler."""
        self._broken_off = True
        lookup, link = self._lookup, self.sock
        if lookup is not None:
            lookup.interrupt()
        if link is not None:
            with contextlib.suppress(OSError):
                # The base class's: that of a TLS socket would take it from under its reader.
                socket.socket.shutdown(link, socket.SHUT_RDWR)

    def _go_on(self) -> None:
        """Raise when the conversation was broken off; asked before every wait."""
        if self._broken_off:
            # Not InterruptedError: buffered readers take that for a reason to try again at once.
            raise ConnectionAbortedError

    def secure(self, context: ssl.SSLContext) -> None:
        """Put TLS on the connection; whatever the server said in the clear is forgotten."""
        plain = self.bounded_socket()
        secured = context.wrap_socket(
            plain, server_hostname=self._host, do_handshake_on_connect=False
        )
        # Known before it waits, so that `break_off` finds it.
        self.sock = secured
        self.bounded_socket()
        secured.do_handshake()
        self.file = None
        self.helo_resp = self.ehlo_resp = None
        self.esmtp_features = {}
        self.does_esmtp = False

    def bounded_socket(self) -> socket.socket:
        """Return the socket, its next operation bound by the deadline."""
        if self.sock is None:
            raise ConnectionResetError
        self._go_on()
        left = self.deadline.left_s()
        # A system call less between the server's acceptance and its record.
        if abs((self.sock.gettimeout() or 0.0) - left) > SLACK_S:
            self.sock.settimeout(left)
        return self.sock

    def send(self, s: ReadableBuffer | str) -> None:
        """Send all of it before the deadline."""
        whole = memoryview(s.encode("ascii") if isinstance(s, str) else s)
        for start in range(0, len(whole), CHUNK_BYTES):
            self.bounded_socket().sendall(whole[start : start + CHUNK_BYTES])

    def getreply(self) -> tuple[int, bytes]:
        """Return code and text of one answer."""
        if self.file is None:
            self.file = io.BufferedReader(_Reader(self))
        said: list[bytes] = []
        while len(said) < REPLY_LIMIT_LINES:
            line = self.file.readline(LINE_LIMIT_BYTES + 1)
            if not line:
                raise ConnectionResetError
            if not line.endswith(b"\n") or not line[:3].isdigit() or line[3:4] not in b" -\r\n":
                raise SenselessReplyError
            said.append(line[4:].strip())
            if line[3:4] != b"-":
                return int(line[:3]), b"\n".join(said)
        raise SenselessReplyError

    def drop(self) -> None:
        """Close without a word."""
        if self.sock is not None:
            self.sock.close()
        self.sock = None
        self.file = None


# Python loads these when a name is looked up first. A mail server found while the disk is in
# trouble must not need it, so they are here before any trouble begins.
