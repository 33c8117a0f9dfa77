"""What setup looks up: a place, the time zone of a point, the mail servers of an address.

The geocoder belongs to the default forecast service, is free for gardens, and its data are those of
GeoNames (CC BY 4.0). The name of the place leaves the house once; nothing else does.

Mail servers are found by table, by what the domain publishes, by DNS. Nothing is guessed: where
nobody says which server it is, the grower is asked. The order is the usual one
(draft-ietf-mailmaint-autoconfig, RFC 6186, RFC 8314); plain http is left out, since whoever can
answer it could name a server of his own.
"""

from __future__ import annotations

import xml.etree.ElementTree as Xml
from collections.abc import Callable, Iterable, Iterator, Mapping
from datetime import datetime, timedelta
from urllib.parse import quote, urlencode

from msgspec import Struct

from strawbell.edges.forecasts.checks import mapping, number, read_json, safe_words, sequence
from strawbell.edges.forecasts.http import Http, Question
from strawbell.edges.mail_refusals import Security, provider_of_address
from strawbell.errors import OperationalError
from strawbell.words.catalogue import BRITISH

GEOCODER_URL = "https://geocoding-api.open-meteo.com"
INTERVAL = timedelta(days=1)
"""Neither a place nor a mail server moves; an answer is good while somebody sets up."""
MOST_PLACES = 6
"""Namesakes offered: more do not fit a small screen, and a country after a comma narrows them."""
FEWEST_LETTERS = 2
"""The geocoder finds nothing for one letter (its documentation)."""


class FoundPlace(Struct, frozen=True):
    """A place on earth: degrees north and east, height [m] where known, zone of the tz database."""

    name: str
    latitude: float
    longitude: float
    time_zone: str
    elevation_m: float | None = None
    country_code: str = ""
    """Two letters (ISO 3166-1), empty where unknown."""
    region: str = ""
    """Area and country, to tell namesakes apart."""


def find_places(http: Http, base_url: str, text: str, now: datetime) -> tuple[FoundPlace, ...]:
    """Return the places of a name or postal code, likeliest first; none when nothing is found.

    A country or area after a comma narrows the search. Raises
    `strawbell.errors.OperationalError` when the geocoder gives no usable answer.
    """
    asked = urlencode({"name": text, "count": MOST_PLACES, "language": "en", "format": "json"})
    question = Question(
        BRITISH.say("asked.geocoder"), f"{base_url.rstrip('/')}/v1/search?{asked}", INTERVAL
    )
    return http.ask(question, now, lambda body, _at: tuple(_parse(body)))


def _parse(body: bytes) -> Iterator[FoundPlace]:
    answer = mapping(read_json(BRITISH.say("asked.geocoder"), body))
    for one in sequence(answer.get("results")):
        row = mapping(one)
        latitude, longitude = number(row.get("latitude")), number(row.get("longitude"))
        if latitude is None or longitude is None or not -90 <= latitude <= 90:  # noqa: PLR2004
            continue
        zone = row.get("timezone")
        areas = [row.get("admin1"), row.get("country")]
        yield FoundPlace(
            name=_text(row.get("name")) or BRITISH.say("lookup.garden"),
            latitude=round(latitude, 2),
            longitude=round(longitude, 2),
            time_zone=_text(zone) or zone_at(latitude, longitude),
            elevation_m=number(row.get("elevation")),
            country_code=_text(row.get("country_code")),
            region=", ".join(area for area in map(_text, areas) if area),
        )


def _text(value: object) -> str:
    """Return printable text of a foreign answer, nothing for anything else."""
    return safe_words(value) if isinstance(value, str) else ""


def zone_at(latitude: float, longitude: float) -> str:
    """Return the time zone of a point by the map that comes with the program, "" where unknown.

    Near a border the simplified map may name the neighbour's zone; the grower is shown it.
    """
    from tzfpy import get_tz  # 5 MB of map, wanted only while setting up

    zone: str = get_tz(longitude, latitude)
    return zone


MOST_XML_BYTES = 65_536
"""A description of mail servers is a few kilobytes; what is larger is none."""
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
        question = Question(BRITISH.say("asked.mail"), url, INTERVAL, accept="text/xml")
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
        raise OperationalError(BRITISH.say("lookup.no-servers"))
    try:
        root = Xml.fromstring(body)  # noqa: S314 - short, and without any declaration of entities
    except Xml.ParseError as error:
        raise OperationalError(BRITISH.say("lookup.no-servers")) from error
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
