"""Find the outgoing mail server of an address: by table, by what its domain publishes, by DNS.

Nothing is guessed: where nobody says which server it is, the grower is asked. The order is the
usual one (draft-ietf-mailmaint-autoconfig, RFC 6186, RFC 8314); plain http is left out, since
whoever can answer it could name a server of his own.
"""

from __future__ import annotations

import xml.etree.ElementTree as Xml
from collections.abc import Callable, Iterable, Mapping
from datetime import datetime, timedelta
from typing import Literal
from urllib.parse import quote

from msgspec import Struct

from strawbell.edges.forecasts.http import Http, Question
from strawbell.errors import OperationalError

Security = Literal["starttls", "tls"]

MOST_XML_BYTES = 65_536
"""A description of mail servers is a few kilobytes; what is larger is none."""
INTERVAL = timedelta(days=1)
DNS_S = 5.0
"""How long the name service may take [s]; a home router answers within one."""

Service = tuple[int, str, int]
"""A record of a service (RFC 2782): priority, target, port."""
Resolve = Callable[[str], Iterable[Service]]
"""Asks for the SRV records of a name; nothing where there are none or nobody answers."""


class MailServer(Struct, frozen=True):
    """Where mail of an address goes out, and what its provider wants of a program.

    `login` is the whole address, or the part before the @. `page` is where the provider makes app
    passwords, `hint` what must be known before; both empty where unknown. `passwords` is False
    where a provider takes no password from programs at all.
    """

    host: str
    port: int
    security: Security
    login: str
    page: str = ""
    hint: str = ""
    passwords: bool = True


class _Provider(Struct, frozen=True):
    host: str
    port: int
    security: Security
    page: str
    hint: str
    passwords: bool = True


_MAKE_ONE = (
    "Your account's own password does not work here: make an app password, with two-step sign-in"
    " switched on."
)
_TOKENS_ONLY = (
    "This provider takes no passwords from programs any more. Use another mailbox, or a token"
    " command ([email] oauth_token_command)."
)
_GOOGLE = _Provider(
    "smtp.gmail.com", 465, "tls", "https://myaccount.google.com/apppasswords", _MAKE_ONE
)
_MICROSOFT = _Provider("smtp-mail.outlook.com", 587, "starttls", "", _TOKENS_ONLY, passwords=False)
_YAHOO = _Provider(
    "smtp.mail.yahoo.com", 465, "tls",
    "https://login.yahoo.com/account/security", _MAKE_ONE,
)  # fmt: skip
_APPLE = _Provider("smtp.mail.me.com", 587, "starttls", "https://account.apple.com", _MAKE_ONE)
_FASTMAIL = _Provider(
    "smtp.fastmail.com", 465, "tls",
    "https://app.fastmail.com/settings/security",
    "Make an app password in the settings; your account's own password does not work here.",
)  # fmt: skip
_SWITCH = (
    "Switch on POP3/IMAP in the settings of the mailbox first; with two-step sign-in, make an app"
    " password."
)
PROVIDERS: Mapping[str, _Provider] = {
    "gmail.com": _GOOGLE,
    "googlemail.com": _GOOGLE,
    "outlook.com": _MICROSOFT,
    "hotmail.com": _MICROSOFT,
    "live.com": _MICROSOFT,
    "msn.com": _MICROSOFT,
    "yahoo.com": _YAHOO,
    "aol.com": _Provider(
        "smtp.aol.com", 465, "tls", "https://login.aol.com/account/security", _MAKE_ONE
    ),
    "icloud.com": _APPLE,
    "me.com": _APPLE,
    "mac.com": _APPLE,
    "fastmail.com": _FASTMAIL,
    "gmx.net": _Provider("mail.gmx.net", 465, "tls", "", _SWITCH),
    "gmx.de": _Provider("mail.gmx.net", 465, "tls", "", _SWITCH),
    "gmx.com": _Provider("mail.gmx.com", 465, "tls", "", _SWITCH),
    "web.de": _Provider("smtp.web.de", 587, "starttls", "", _SWITCH),
}
"""Large providers by domain: servers and pages as their help pages had them in November 2026 (the
pages from memory)."""


def find_mail_server(
    address: str, http: Http, resolve: Resolve, now: datetime
) -> MailServer | None:
    """Return the outgoing server of an address, None where nobody says which it is."""
    domain = address.rpartition("@")[2].lower()
    known = PROVIDERS.get(domain)
    if known is not None:
        return MailServer(
            known.host, known.port, known.security, address, known.page, known.hint,
            known.passwords,
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
            found = http.ask(question, now, http.until(), lambda body, _at: read_xml(body, address))
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
    for server in root.iter("outgoingServer"):
        if server.get("type") != "smtp":
            continue
        security = {"SSL": "tls", "STARTTLS": "starttls"}.get(server.findtext("socketType", ""))
        host, port = server.findtext("hostname", ""), server.findtext("port", "")
        ways = {each.text for each in server.iter("authentication")}
        if host and port.isdigit() and security in ("tls", "starttls") and ways & _PASSWORD_WAYS:
            login = _filled(server.findtext("username", "%EMAILADDRESS%"), address)
            kind: Security = "tls" if security == "tls" else "starttls"
            return MailServer(_filled(host, address), int(port), kind, login)
    return None


_PASSWORD_WAYS = {"password-cleartext", "password-encrypted"}


def _filled(text: str, address: str) -> str:
    name, _, domain = address.rpartition("@")
    for key, value in (("ADDRESS", address), ("LOCALPART", name), ("DOMAIN", domain)):
        text = text.replace(f"%EMAIL{key}%", value)
    return text


def _by_dns(address: str, domain: str, resolve: Resolve) -> MailServer | None:
    """Ask for the submission services of the domain: implicit TLS first (RFC 8314, 5.1)."""
    ways: tuple[tuple[str, Security], ...] = (
        ("_submissions._tcp", "tls"),
        ("_submission._tcp", "starttls"),
    )
    for name, security in ways:
        for _priority, target, port in sorted(resolve(f"{name}.{domain}")):
            host = target.rstrip(".")
            if host:  # a lone dot means that the service is not offered (RFC 6186, 3.4)
                return MailServer(host, port, security, address)
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
