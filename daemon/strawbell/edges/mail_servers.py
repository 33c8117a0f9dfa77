"""Find the mail servers of an address: by table, by what its domain publishes, by DNS.

Nothing is guessed: where nobody says which server it is, the grower is asked. The order is the
usual one (draft-ietf-mailmaint-autoconfig, RFC 6186, RFC 8314); plain http is left out, since
whoever can answer it could name a server of his own.
"""

from __future__ import annotations

import xml.etree.ElementTree as Xml
from collections.abc import Callable, Iterable, Mapping
from datetime import datetime, timedelta
from urllib.parse import quote

from msgspec import Struct

from strawbell.edges.forecasts.http import Http, Question
from strawbell.edges.mail_remedies import Security, provider_of_address
from strawbell.errors import OperationalError

MOST_XML_BYTES = 65_536
"""A description of mail servers is a few kilobytes; what is larger is none."""
INTERVAL = timedelta(days=1)
DNS_S = 5.0
"""How long the name service may take [s]; a home router answers within one."""

Service = tuple[int, str, int]
"""A record of a service (RFC 2782): priority, target, port."""
Resolve = Callable[[str], Iterable[Service]]
"""Asks for the SRV records of a name; nothing where there are none or nobody answers."""


class Mailbox(Struct, frozen=True):
    """Where mail is read from, by IMAP."""

    host: str
    port: int
    security: Security


class MailServer(Struct, frozen=True):
    """Where mail of an address goes out, and what its provider wants of a program.

    `login` is the whole address, or the part before the @. `wants` is what has to be done at the
    provider first, "" where unknown; `passwords` is False where it takes no password from programs
    at all. `inbox` is where the mail of the address is read, None where nobody says.
    """

    host: str
    port: int
    security: Security
    login: str
    wants: str = ""
    passwords: bool = True
    inbox: Mailbox | None = None


IMAPS = 993
"""The port of IMAP inside TLS (RFC 8314)."""


def find_mail_server(
    address: str, http: Http, resolve: Resolve, now: datetime
) -> MailServer | None:
    """Return the servers of an address, None where nobody says which one mail goes out by."""
    domain = address.rpartition("@")[2].lower()
    known = provider_of_address(address)
    if known is not None:
        return MailServer(
            known.host, known.port, known.security, address, known.wants, known.passwords,
            Mailbox(known.inbox, IMAPS, "tls"),
        )  # fmt: skip
    return _published(address, domain, http, now) or _by_dns(address, domain, resolve)


def _published(address: str, domain: str, http: Http, now: datetime) -> MailServer | None:
    """Ask the domain itself; the address goes to it alone, its mail goes there anyway."""
    for url in (
        f"https://autoconfig.{domain}/mail/config-v1.1.xml?emailaddress={quote(address)}",
        f"https://{domain}/.well-known/autoconfig/mail/config-v1.1.xml",
    ):
        question = Question("The mail provider", url, INTERVAL, accept="text/xml")
        try:
            found = http.ask(question, now, lambda body, _at: read_xml(body, address))
        except OperationalError:
            continue
        if found is not None:
            return found
    return None


def read_xml(body: bytes, address: str) -> MailServer | None:
    """Return the first encrypted outgoing server that takes a password, None without one.

    Raises `strawbell.errors.OperationalError` for what is no description of servers.
    """
    if len(body) > MOST_XML_BYTES or b"<!" in body.replace(b"<!--", b""):
        raise OperationalError("The mail provider sent no description of its servers.")
    try:
        root = Xml.fromstring(body)  # noqa: S314 - short, and without any declaration of entities
    except Xml.ParseError as error:
        raise OperationalError("The mail provider sent no description of its servers.") from error
    incoming = _first(root, "incomingServer", "imap", address)
    outgoing = _first(root, "outgoingServer", "smtp", address)
    if outgoing is None:
        return None
    host, port, security, login = outgoing
    inbox = None if incoming is None else Mailbox(*incoming[:3])
    return MailServer(host, port, security, login, inbox=inbox)


def _first(
    root: Xml.Element, tag: str, kind: str, address: str
) -> tuple[str, int, Security, str] | None:
    """Return the first encrypted server of a kind that takes a password: host to login."""
    for server in root.iter(tag):
        if server.get("type") != kind:
            continue
        security = _SECURITIES.get(server.findtext("socketType", ""))
        host, port = server.findtext("hostname", ""), server.findtext("port", "")
        ways = {each.text for each in server.iter("authentication")}
        if host and port.isdigit() and security is not None and ways & _PASSWORD_WAYS:
            login = _filled(server.findtext("username", "%EMAILADDRESS%"), address)
            return _filled(host, address), int(port), security, login
    return None


_SECURITIES: Mapping[str, Security] = {"SSL": "tls", "STARTTLS": "starttls"}
_PASSWORD_WAYS = {"password-cleartext", "password-encrypted"}


def _filled(text: str, address: str) -> str:
    name, _, domain = address.rpartition("@")
    for key, value in (("ADDRESS", address), ("LOCALPART", name), ("DOMAIN", domain)):
        text = text.replace(f"%EMAIL{key}%", value)
    return text


def _by_dns(address: str, domain: str, resolve: Resolve) -> MailServer | None:
    """Ask for the services of the domain: implicit TLS first (RFC 8314, 5.1)."""
    sending = _offered(domain, resolve, "_submissions", "_submission")
    reading = _offered(domain, resolve, "_imaps", "_imap")
    inbox = None if reading is None else Mailbox(*reading)
    return None if sending is None else MailServer(*sending, address, inbox=inbox)


def _offered(
    domain: str, resolve: Resolve, inside_tls: str, with_starttls: str
) -> tuple[str, int, Security] | None:
    ways: tuple[tuple[str, Security], ...] = ((inside_tls, "tls"), (with_starttls, "starttls"))
    for name, security in ways:
        for _priority, target, port in sorted(resolve(f"{name}._tcp.{domain}")):
            host = target.rstrip(".")
            if host:  # a lone dot means that the service is not offered (RFC 6186, 3.4)
                return host, port, security
    return None


def resolve_by_dns(name: str) -> list[Service]:
    """Return the SRV records of a name, none where there are none or nobody answers."""
    import dns.exception
    import dns.resolver

    try:
        answer = dns.resolver.resolve(name, "SRV", lifetime=DNS_S)
    except dns.exception.DNSException:
        return []
    return [(each.priority, str(each.target), each.port) for each in answer]
