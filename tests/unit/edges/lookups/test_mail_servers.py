"""The outgoing server of an address: by table, by its domain, by DNS, and never guessed."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, datetime

import pytest
import responses

from strawbell.edges.forecasts.http import Http
from strawbell.edges.lookups import (
    Mailbox,
    MailServer,
    Service,
    find_mail_server,
    read_xml,
)
from strawbell.edges.mail_refusals import PROVIDERS, Provider
from strawbell.errors import OperationalError
from strawbell.wiring import MemoryCache

ADDRESS = "grower@garden.example"
NOW = datetime(2027, 2, 1, tzinfo=UTC)
FIRST = "https://autoconfig.garden.example/mail/config-v1.1.xml"
SECOND = "https://garden.example/.well-known/autoconfig/mail/config-v1.1.xml"


def described(*servers: str) -> str:
    """Return a description of servers as domains publish it."""
    inside = "".join(servers)
    return (
        f'<clientConfig version="1.1"><emailProvider id="x">{inside}</emailProvider></clientConfig>'
    )


def server(
    host: str, port: str, socket: str, way: str = "password-cleartext", kind: str = "smtp"
) -> str:
    """Return one server of a description."""
    tag = "outgoingServer" if kind == "smtp" else "incomingServer"
    return (
        f'<{tag} type="{kind}"><hostname>{host}</hostname><port>{port}</port>'
        f"<socketType>{socket}</socketType><username>%EMAILLOCALPART%</username>"
        f"<authentication>{way}</authentication></{tag}>"
    )


def found(
    pages: Mapping[str, str], records: Mapping[str, list[Service]] | None = None
) -> MailServer | None:
    """Return what is found when these pages and records are there and nothing else."""
    with responses.RequestsMock(assert_all_requests_are_fired=False) as web:
        for url in (FIRST, SECOND):
            page = pages.get(url)
            web.get(url, body=page or "no", status=200 if page else 404)
        resolve = (records or {}).get
        return find_mail_server(ADDRESS, Http(MemoryCache()), lambda name: resolve(name) or [], NOW)


def test_a_large_provider_is_known_without_asking_anybody() -> None:
    """No page is asked: the mock would refuse."""
    with responses.RequestsMock():
        one = find_mail_server("me@GMail.com", Http(MemoryCache()), lambda _: [], NOW)
    assert one is not None
    assert (one.host, one.port, one.security, one.login) == (
        "smtp.gmail.com", 465, "tls", "me@GMail.com",
    )  # fmt: skip
    assert "app password" in one.wants


def test_a_provider_that_takes_no_passwords_says_so() -> None:
    one = find_mail_server("me@hotmail.com", Http(MemoryCache()), lambda _: [], NOW)
    assert one is not None
    assert not one.passwords
    assert "token command" in one.wants


@pytest.mark.parametrize("provider", PROVIDERS, ids=lambda each: each.domains[0])
def test_every_provider_of_the_table_is_encrypted(provider: Provider) -> None:
    """Port and security agree (RFC 8314: 465 is TLS from the start, 587 STARTTLS)."""
    assert (provider.port, provider.security) in ((465, "tls"), (587, "starttls"))
    assert provider.hint


def test_the_domain_is_asked_first_and_its_first_fit_server_taken() -> None:
    """An unencrypted server and one for tokens alone are passed over."""
    page = described(
        server("plain.garden.example", "25", "plain"),
        server("tokens.garden.example", "465", "SSL", "OAuth2"),
        server("out.%EMAILDOMAIN%", "587", "STARTTLS"),
    )
    assert found({FIRST: page}) == MailServer("out.garden.example", 587, "starttls", "grower")
    with_inbox = page.replace(
        "</emailProvider>",
        server("in.garden.example", "993", "SSL", kind="imap") + "</emailProvider>",
    )
    one = found({FIRST: with_inbox})
    assert one is not None
    assert one.inbox == Mailbox("in.garden.example", 993, "tls")


def test_the_well_known_page_comes_second_and_dns_last() -> None:
    records = {
        "_submissions._tcp.garden.example": [(20, "b.example.", 465), (10, "a.example.", 465)]
    }
    page = described(server("web.garden.example", "465", "SSL"))

    assert found({SECOND: page}, records) == MailServer("web.garden.example", 465, "tls", "grower")
    assert found({}, records) == MailServer("a.example", 465, "tls", ADDRESS)
    records["_imaps._tcp.garden.example"] = [(0, "in.example.", 993)]
    inbox = Mailbox("in.example", 993, "tls")
    assert found({}, records) == MailServer("a.example", 465, "tls", ADDRESS, inbox=inbox)


def test_a_service_that_is_not_offered_is_not_used() -> None:
    """A lone dot says so (RFC 6186, 3.4); then nobody knows, and nothing is guessed."""
    records = {
        "_submissions._tcp.garden.example": [(0, ".", 0)],
        "_submission._tcp.garden.example": [(0, "mail.example.", 587)],
    }
    assert found({}, records) == MailServer("mail.example", 587, "starttls", ADDRESS)
    assert found({}) is None


@pytest.mark.parametrize(
    "body",
    [
        b"not xml at all",
        b'<!DOCTYPE x [<!ENTITY a "aaaa">]><clientConfig>&a;</clientConfig>',
        b"<clientConfig>" + b" " * 65_536 + b"</clientConfig>",
    ],
)
def test_a_hostile_description_is_refused(body: bytes) -> None:
    """Nothing that declares entities or is larger than 64 KiB is parsed."""
    with pytest.raises(OperationalError):
        read_xml(body, ADDRESS)


def test_a_description_of_other_things_has_no_server() -> None:
    assert read_xml(described().encode(), ADDRESS) is None
    assert read_xml(described(server("x.example", "much", "SSL")).encode(), ADDRESS) is None
