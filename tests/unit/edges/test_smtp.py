"""E-mail over a real server: encryption, login, recipients, bytes."""

from __future__ import annotations

import ssl

import pytest
import trustme

from strawbell.app.outbox import queue
from strawbell.edges.smtp import SmtpChannel, stuffed
from strawbell.errors import Defect
from strawbell.model.configuration import MailSettings
from strawbell.model.notice import Outcome
from support.fake_clock import DAWN
from support.notices import SECRET, notice
from support.scripted_smtp import authority, client_context, server_context
from support.smtp_sink import PASSWORD, USERNAME, smtp_sink

NOTICE = notice(html="<p>Feed</p>")


@pytest.fixture(scope="module")
def ca() -> trustme.CA:
    return authority()


def mail(
    port: int, security: str, ca: trustme.CA, password: str = PASSWORD, **rest: object
) -> SmtpChannel:
    recipients = ("a@example.org", "Bea <b@example.org>")
    sender = "Strawbell <bell@example.org>"
    settings = MailSettings("127.0.0.1", port, security, sender, recipients, USERNAME, password)  # type: ignore[arg-type]
    return SmtpChannel(
        settings,
        tls_context=lambda: client_context(ca),
        **rest,  # type: ignore[arg-type]
    )


@pytest.mark.parametrize("security", ["starttls", "tls"])
def test_mail_goes_encrypted_and_logged_in_to_each_recipient(security: str, ca: trustme.CA) -> None:
    """One message for each recipient, with the frozen bytes, over one connection."""
    with smtp_sink(security, server_context(ca)) as sink:
        channel = mail(sink.port, security, ca)
        rows = queue(NOTICE, [channel], DAWN, SECRET)
        assert [channel.send(row).outcome for row in rows] == [Outcome.ACCEPTED] * 2
        channel.close()
    assert sink.secure == [True, True]
    assert sink.users == [USERNAME]
    assert [envelope.rcpt_tos for envelope in sink.envelopes] == [
        ["a@example.org"],
        ["b@example.org"],
    ]
    assert [envelope.mail_from for envelope in sink.envelopes] == ["bell@example.org"] * 2
    assert [envelope.content for envelope in sink.envelopes] == [row.body for row in rows]


def test_a_wrong_password_is_a_settings_problem_without_the_password(ca: trustme.CA) -> None:
    """Nothing is sent, and the sentence does not repeat what was typed."""
    with smtp_sink("starttls", server_context(ca)) as sink:
        channel = mail(sink.port, "starttls", ca, password="mistyped")
        (row, _) = queue(NOTICE, [channel], DAWN, SECRET)
        delivery = channel.send(row)
        channel.close()
    assert (delivery.outcome, delivery.settings_problem) == (Outcome.LATER, True)
    assert "535" in delivery.detail
    assert "mistyped" not in delivery.detail
    assert sink.envelopes == []


def test_checking_connects_and_logs_in_but_sends_nothing(ca: trustme.CA) -> None:
    """`strawbell check --connect` leaves no mail."""
    with smtp_sink("starttls", server_context(ca)) as sink:
        assert mail(sink.port, "starttls", ca).check().outcome is Outcome.ACCEPTED
        wrong = mail(sink.port, "starttls", ca, password="mistyped").check()
        assert wrong.settings_problem
    assert mail(sink.port, "starttls", ca).check().outcome is Outcome.LATER
    assert sink.envelopes == []


def test_a_certificate_that_nobody_vouches_for_is_refused(ca: trustme.CA) -> None:
    """The default trust does not include the test's own authority."""
    with smtp_sink("tls", server_context(ca)) as sink:
        channel = SmtpChannel(
            MailSettings("127.0.0.1", sink.port, "tls", "bell@example.org", ("a@example.org",))
        )
        (row,) = queue(NOTICE, [channel], DAWN, SECRET)
        delivery = channel.send(row)
        channel.close()
    assert delivery.settings_problem
    assert "certificate" in delivery.detail


def test_mail_in_the_clear_is_for_this_machine_only() -> None:
    """The configuration refuses it in words; whatever gets past that sends nothing."""
    with pytest.raises(Defect, match="without encryption"):
        SmtpChannel(
            MailSettings("mail.example.org", 25, "none", "b@example.org", ("a@example.org",))
        )
    SmtpChannel(MailSettings("127.0.0.1", 25, "none", "b@example.org", ("a@example.org",)))


@pytest.mark.parametrize(
    ("body", "wire"),
    [
        (b"a\r\n", b"a\r\n"),
        (b"a\nb", b"a\r\nb\r\n"),
        (b".\r\n..\r\n", b"..\r\n...\r\n"),
        (b"a.\r\n.b", b"a.\r\n..b\r\n"),
        (b"a\r.\r", b"a\r\n..\r\n"),
        (b"", b"\r\n"),
    ],
)
def test_a_line_that_begins_with_a_dot_cannot_end_the_message(body: bytes, wire: bytes) -> None:
    """Dots are doubled and every line end is CRLF (RFC 5321, section 4.5.2)."""
    assert stuffed(body) == wire


def test_the_default_trust_is_built_only_when_it_is_needed() -> None:
    """An idle channel does not load the certificate store."""
    made: list[ssl.SSLContext] = []

    def context() -> ssl.SSLContext:
        made.append(ssl.create_default_context())
        return made[-1]

    channel = SmtpChannel(
        MailSettings("127.0.0.1", 1, "tls", "b@example.org", ("a@example.org",)),
        tls_context=context,
    )
    (row,) = queue(NOTICE, [channel], DAWN, SECRET)
    channel.send(row)
    channel.close()
    assert made == []


def test_a_server_that_wants_tls_at_once_is_not_waited_for_long(ca: trustme.CA) -> None:
    """It says nothing before; the time for a whole message is not used up by that."""
    with smtp_sink("tls", server_context(ca)) as sink:
        delivery = mail(sink.port, "starttls", ca, before_dot_s=3600.0, greeting_s=0.3).check()
    assert delivery.outcome is Outcome.LATER
    assert 'security has to be "tls"' in delivery.detail
