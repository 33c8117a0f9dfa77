"""The ways to reach the grower, each tried for real while `strawbell setup` asks.

A server is found by what is known or published of it, else asked for; none is made up.
"""

from __future__ import annotations

import argparse
import secrets
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from urllib.parse import urlsplit

from msgspec.structs import replace

from strawbell.app.outbox import queue
from strawbell.app.ports import Channel
from strawbell.app.word import refusal
from strawbell.cli.setup_talk import PASSWORD_NAME, Talk, configured
from strawbell.config.first_plan import MailAccess, PushAccess
from strawbell.edges.mail_servers import (
    IMAPS,
    Mailbox,
    MailServer,
    find_mail_server,
    resolve_by_dns,
)
from strawbell.edges.smtp import SmtpChannel
from strawbell.errors import GrowerError, OperationalError
from strawbell.model.configuration import Configuration
from strawbell.model.notice import Delivery, Outcome
from strawbell.model.secret import KEY_BYTES, StoreSecret
from strawbell.wiring import channels_of, ears_of
from strawbell.words.catalogue import BRITISH
from strawbell.words.notices import test_notice

say = BRITISH.say
SUBMISSIONS = 465
"""The port of submission inside TLS (RFC 8314)."""
USEFUL = timedelta(minutes=10)
"""How long a test is worth trying."""
TOPIC_BYTES = 8
"""A topic that nobody guesses: who knows it can read along."""


def find_ways(talk: Talk) -> None:
    """Find out what mail and push need, and try every way; raise `GrowerError` where it cannot be.

    Without a terminal nothing is tried here: the test notice at the end does.
    """
    talk.mail = talk.push = None
    if talk.reach.push:
        talk.push = _push(talk.reach.push)
        talk.tell(say("setup.subscribe", topic=talk.push.topic, url=talk.push.url))
    if talk.reach.address:
        _find_mail(talk, talk.reach.address)
    if not talk.interactive:
        return
    if talk.mail is not None:
        _try_mail(talk)
    for name in ("push", "desktop"):
        _try_notice(talk, name)


def _push(url: str) -> PushAccess:
    """Return a push server and its topic: the last part of the address, else one made up."""
    parts = urlsplit(url)
    topic = parts.path.strip("/") or f"bales-{secrets.token_hex(TOPIC_BYTES)}"
    return PushAccess(f"{parts.scheme}://{parts.netloc}", topic)


def _find_mail(talk: Talk, address: str) -> None:
    options = talk.options
    server = _given(options, address) or find_mail_server(
        address, talk.http, resolve_by_dns, datetime.now(UTC)
    )
    while server is None:
        if not talk.interactive:
            raise refusal(say("setup.unknown-server", address=address), "--mail-server")
        server = _typed(talk, address)
    talk.tell(say("setup.mail-through", host=server.host, port=str(server.port)))
    if server.wants:
        talk.tell(server.wants)
    talk.mail = MailAccess(server.host, server.port, server.security, server.login)
    if options.password_file is not None:
        talk.password = Path(options.password_file).expanduser().read_text("utf-8").strip()
        talk.mail = replace(talk.mail, password_file=PASSWORD_NAME)
    elif talk.interactive and not server.passwords:
        command = talk.ask(say("setup.token-command"))
        talk.mail = replace(talk.mail, token_command=command or None)
    inbox = _mailbox(options.inbox, "--inbox") if options.inbox else server.inbox
    if inbox is not None and (options.inbox or not talk.interactive or _may_read(talk, inbox)):
        talk.mail = replace(talk.mail, inbox=(inbox.host, inbox.port, inbox.security))


def _may_read(talk: Talk, inbox: Mailbox) -> bool:
    return talk.agrees(say("setup.read-answers", host=inbox.host))


def _given(options: argparse.Namespace, address: str) -> MailServer | None:
    if options.mail_server is None:
        return None
    host, port = _host_and_port(options.mail_server, "--mail-server", SUBMISSIONS)
    return MailServer(host, port, "tls" if port == SUBMISSIONS else "starttls", address)


def _mailbox(typed: str, where: str) -> Mailbox:
    host, port = _host_and_port(typed, where, IMAPS)
    return Mailbox(host, port, "starttls" if port == STARTTLS_IMAP else "tls")


STARTTLS_IMAP = 143
"""The port of IMAP that begins in the clear; every other one is taken for TLS."""


def _host_and_port(typed: str, where: str, usual: int) -> tuple[str, int]:
    host, _, port = typed.strip().partition(":")
    if not host or (port and not port.isdigit()):
        raise refusal(say("setup.no-server", port=str(usual)), where, typed)
    return host, int(port or usual)


def _typed(talk: Talk, address: str) -> MailServer | None:
    """Ask for the servers; the provider's help page has both."""
    typed = talk.ask(say("setup.which-server"))
    try:
        host, port = _host_and_port(typed, "", SUBMISSIONS)
        security = "tls" if port == SUBMISSIONS else "starttls"
        read = talk.ask(say("setup.which-inbox"))
        inbox = _mailbox(read, "") if read else None
    except GrowerError as error:
        talk.tell(str(error))
        return None
    return MailServer(host, port, security, address, inbox=inbox)  # type: ignore[arg-type]


def _try_mail(talk: Talk) -> None:
    """Ask for the password until the servers take it and a test is out, or go on without."""
    assert talk.mail is not None  # noqa: S101 - asked by who calls
    by_token = talk.mail.token_command is not None
    while True:
        if talk.password is None and not by_token:
            talk.password = talk.secret(say("setup.password"))
            talk.password = talk.password or None
        login = talk.reach.address if talk.password or by_token else None
        talk.mail = replace(
            talk.mail,
            login=(login and talk.mail.login) or login,
            password_file=PASSWORD_NAME if talk.password else None,
        )
        refused = next(_mail_refusals(talk), None)
        if refused is None:
            return
        talk.tell(say("setup.not-yet", refused=refused))
        if by_token or not talk.agrees(say("setup.again")):
            talk.tell(say("setup.kept-as-is"))
            return
        talk.password = None


def _mail_refusals(talk: Talk) -> Iterator[str]:
    """Yield what a server refuses: both logins first, so that no test goes out for nothing."""
    configuration = configured(talk)
    channels = channels_of(configuration)
    (mail,) = (each for each in channels if isinstance(each, SmtpChannel))
    tried = mail.check()
    if tried.outcome is not Outcome.ACCEPTED:
        yield tried.detail
    for ear in ears_of(configuration, channels):
        if ear.name == "inbox":
            try:
                talk.tell(say("setup.answers", said=ear.probe()))
            except OperationalError as error:
                yield str(error)
    if not talk.options.no_test:
        tried = _sent(mail, configuration)
        if tried.outcome is not Outcome.ACCEPTED:
            yield tried.detail
    talk.tell(say("setup.mail-works", test=not talk.options.no_test))


def _try_notice(talk: Talk, name: str) -> None:
    """Send a test by a channel that needs no login; one that fails is asked about again."""
    configuration = configured(talk)
    for channel in channels_of(configuration):
        if channel.name != name:
            continue
        delivery = _sent(channel, configuration)
        if delivery.settings_problem and name == "push" and talk.push and not talk.push.token:
            token = talk.secret(say("setup.push-token"))
            if token:
                talk.push = replace(talk.push, token=token)
                _try_notice(talk, name)
                return
        if delivery.outcome is not Outcome.ACCEPTED:
            raise refusal(say("setup.works-not", way=name, detail=delivery.detail), "")
        talk.tell(say("setup.test-out", way=name))


def _sent(channel: Channel, configuration: Configuration) -> Delivery:
    """Send the test notice once, outside every store."""
    garden, now = configuration.gardens[0], datetime.now(UTC)
    notice = test_notice(garden, now.date(), now.isoformat(), now, now + USEFUL)
    try:
        (row, *_rest) = queue(notice, (channel,), now, StoreSecret(secrets.token_bytes(KEY_BYTES)))
        return channel.send(row)
    finally:
        channel.close()
