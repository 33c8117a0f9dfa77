"""Refusals of mail servers and what mends them."""

from __future__ import annotations

import pytest

from strawbell.edges.mail_refusals import (
    Login,
    Remedy,
    Reply,
    provider_of_address,
    remedy_for,
)
from strawbell.words.catalogue import BRITISH


def of_provider(domain: str) -> Remedy:
    """Return what the table of providers has for one."""
    known = provider_of_address(f"me@{domain}")
    assert known is not None
    return Remedy(known.wants, mends_settings=True)


def remedy(name: str) -> Remedy:
    """Return what the catalogue has under a name."""
    return Remedy(BRITISH.say(f"remedy.{name}"), mends_settings=name != "no-such-recipient")


OF_GMAIL = of_provider("gmail.com")
SEEN = [
    # What mail programs report of the servers of large providers, as of November 2026.
    (535, "5.7.8 Username and Password not accepted. For more information, go to",
     "smtp.gmail.com", OF_GMAIL),
    (534, "5.7.9 Application-specific password required. For more information, go to",
     "smtp.gmail.com", OF_GMAIL),
    (535, "5.7.139 Authentication unsuccessful, basic authentication is disabled. [PH7P220CA0132 "
     "2024-11-11T21:51:32.927Z 08DD021D9EEB05BC]",
     "smtp-mail.outlook.com", remedy("no-passwords")),
    (535, "5.7.139 Authentication unsuccessful, SmtpClientAuthentication is disabled for the "
     "Tenant. Visit the page for more information.",
     "smtp.office365.com", remedy("administrator")),
    (550, "5.7.30 Basic authentication is not supported for Client Submission.",
     "smtp.office365.com", remedy("no-passwords")),
    (535, "5.7.3 Authentication unsuccessful", "smtp.office365.com", remedy("wrong-password")),
    (535, "5.7.0 (#AUTH005) Too many bad auth attempts",
     "smtp.mail.yahoo.com", of_provider("yahoo.com")),
    (535, "Authentication credentials invalid", "mail.gmx.net", of_provider("gmx.net")),
    (535, "5.7.9 Application-specific password required", "smtp.example.org",
     remedy("app-password")),
    # What the common free servers say, as their sources have it.
    (535, "5.7.8 Error: authentication failed: (reason unavailable)",
     "smtp.example.org", remedy("wrong-password")),
    (530, "5.7.0 Must issue a STARTTLS command first", "smtp.example.org", remedy("encrypt")),
    (538, "5.7.11 Encryption required for requested authentication mechanism",
     "smtp.example.org", remedy("encrypt")),
    (530, "5.7.1 Client was not authenticated", "smtp.example.org", remedy("log-in")),
    (550, "Authentication required", "smtp.example.org", remedy("log-in")),
    (554, "5.7.1 <a@example.net>: Relay access denied",
     "smtp.example.org", remedy("not-for-others")),
    (550, "relay not permitted", "smtp.example.org", remedy("not-for-others")),
    (553, "5.7.1 <b@example.org>: Sender address rejected: not owned by user grower",
     "smtp.example.org", remedy("not-this-sender")),
    (550, "5.7.60 SMTP; Client does not have permissions to send as this sender",
     "smtp.office365.com", remedy("not-this-sender")),
    (550, "5.1.1 <a@example.net>: Recipient address rejected: User unknown",
     "smtp.example.org", remedy("no-such-recipient")),
    (554, "5.6.0 no such thing in the table", "smtp.example.org", Remedy()),
]  # fmt: skip


@pytest.mark.parametrize(("code", "text", "host", "remedy"), SEEN)
def test_what_servers_say_finds_its_remedy(code: int, text: str, host: str, remedy: Remedy) -> None:
    """By codes first, by words where codes say too little, by host where words do."""
    assert remedy_for(Reply(code, text), host, Login.PASSWORD) == remedy


def test_a_refusal_names_the_page_where_the_provider_makes_app_passwords() -> None:
    """The one that setup names too."""
    remedy = remedy_for(Reply(535, "5.7.8 no"), "smtp.gmail.com", Login.PASSWORD)
    assert "https://myaccount.google.com/apppasswords" in remedy.words


def test_a_refused_token_is_not_taken_for_a_wrong_password() -> None:
    """At any host."""
    reply = Reply(535, "5.7.8 Username and Password not accepted.")
    assert remedy_for(reply, "smtp.gmail.com", Login.TOKEN) == remedy("wrong-token")


@pytest.mark.parametrize(
    ("host", "remedy"),
    [
        ("gmail.com", OF_GMAIL),
        ("SMTP.GMAIL.COM", OF_GMAIL),
        ("notgmail.com", remedy("wrong-password")),
        ("gmail.com.example.org", remedy("wrong-password")),
    ],
)
def test_a_provider_is_known_by_the_end_of_its_name(host: str, remedy: Remedy) -> None:
    """Whole parts of it."""
    assert remedy_for(Reply(535), host, Login.PASSWORD) == remedy


@pytest.mark.parametrize(
    ("text", "codes"),
    [
        ("5.7.8 no\n5.7.8 really no", "535 5.7.8"),
        ("no, from 10.5.7.8 not", "535"),
        ("", "535"),
        ("5.7.139 [HOST 2024-11-11T21:51:32.927Z]", "535 5.7.139"),
    ],
)
def test_both_codes_are_read_out_of_a_reply(text: str, codes: str) -> None:
    """An address or a time is no status code."""
    assert Reply(535, text).codes == codes
