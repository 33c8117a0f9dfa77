"""Mail through a real Postfix with a real Dovecot behind its login, on loopback."""

from __future__ import annotations

import ssl
from collections.abc import Iterator
from pathlib import Path

import pytest
import trustme

from strawbell.app.outbox import queue
from strawbell.app.ports import Channel
from strawbell.edges.programs import SendmailChannel
from strawbell.edges.smtp import SmtpChannel
from strawbell.model.configuration import MailSettings
from strawbell.model.notice import Delivery, OutboxRow, Outcome
from support.fake_clock import DAWN
from support.notices import SECRET, notice
from support.postfix import (
    ELSEWHERE,
    GREYLISTED,
    NOBODY,
    NOT_OURS,
    OWN_ADDRESS,
    PASSWORD,
    SOMEBODY,
    TOKEN,
    TOKEN_USER,
    USER,
    MailHouse,
    cutting,
    mail_house,
    parsed,
)
from support.scripted_smtp import client_context

SENDER = f"Strawbell <{OWN_ADDRESS}>"
SETTINGS = (Outcome.LATER, True)


@pytest.fixture(scope="module")
def house() -> Iterator[MailHouse]:
    with mail_house() as running:
        yield running


@pytest.fixture(scope="module")
def trust(house: MailHouse) -> ssl.SSLContext:
    return client_context(house.authority)


def channel(
    port: int,
    security: str,
    trust: ssl.SSLContext | None,
    recipient: str = SOMEBODY,
    username: str | None = USER,
    password: str | None = PASSWORD,
    sender: str = SENDER,
    host: str = "localhost",
    **rest: str,
) -> SmtpChannel:
    login = {"username": username, "password": password, **rest}
    settings = MailSettings(host, port, security, sender, (recipient,), **login)  # type: ignore[arg-type]
    return SmtpChannel(settings, tls_context=lambda: trust or ssl.create_default_context())


def row(mail: Channel, occasion: str) -> OutboxRow:
    (made,) = queue(notice(occasion=occasion, text=f".\n{occasion}\n"), [mail], DAWN, SECRET)
    return made


def sent(mail: Channel, occasion: str) -> tuple[Delivery, OutboxRow]:
    made = row(mail, occasion)
    delivery = mail.send(made)
    mail.close()
    return delivery, made


@pytest.mark.parametrize("security", ["starttls", "tls"])
def test_mail_arrives_with_a_login_and_its_bytes(
    house: MailHouse, trust: ssl.SSLContext, security: str
) -> None:
    """Encrypted by a private authority, name and password with letters beyond ASCII."""
    port = house.starttls if security == "starttls" else house.tls
    delivery, made = sent(channel(port, security, trust), f"arrives {security}")
    assert delivery.outcome is Outcome.ACCEPTED, delivery.detail
    (mail,) = house.arrived(made.message_id)
    assert mail.endswith(made.body)
    assert parsed(mail)["From"] == f'"Strawbell" <{OWN_ADDRESS}>'


def test_a_wrong_password_is_told_with_its_remedy(house: MailHouse, trust: ssl.SSLContext) -> None:
    """With the server's own codes, and nothing of what was typed."""
    mail = channel(house.starttls, "starttls", trust, password="mißtippt")
    delivery, made = sent(mail, "wrong password")
    assert (delivery.outcome, delivery.settings_problem) == SETTINGS
    assert (delivery.stage, delivery.reply) == ("auth", "535 5.7.8")
    assert "username or the password is wrong" in delivery.detail
    assert "tippt" not in delivery.detail
    assert not [m for m in house.inbox() if made.message_id.encode() in m]


def test_a_password_by_command_logs_in(
    house: MailHouse, trust: ssl.SSLContext, tmp_path: Path
) -> None:
    """As a password store prints it: the secret first, notes below."""
    (tmp_path / "kept").write_text(f"{PASSWORD}\nuser: {USER}\n", encoding="utf-8")
    command = f"cat '{tmp_path / 'kept'}'"
    mail = channel(house.tls, "tls", trust, password=None, password_command=command)
    assert sent(mail, "by command")[0].outcome is Outcome.ACCEPTED


@pytest.mark.parametrize(("token", "taken"), [(TOKEN, True), ("expired", False)])
def test_an_access_token_logs_in_unless_it_has_expired(
    house: MailHouse, trust: ssl.SSLContext, token: str, taken: bool
) -> None:
    """By XOAUTH2, checked by Dovecot with the service that gave it."""
    mail = channel(
        house.starttls,
        "starttls",
        trust,
        username=TOKEN_USER,
        password=None,
        oauth_token_command=f"printf {token}",
    )
    delivery, _ = sent(mail, f"token {token}")
    if taken:
        assert delivery.outcome is Outcome.ACCEPTED, delivery.detail
    else:
        assert (delivery.outcome, delivery.settings_problem) == SETTINGS
        assert delivery.reply.startswith("535")
        assert "access token was not taken" in delivery.detail


@pytest.mark.parametrize("security", ["starttls", "tls"])
@pytest.mark.parametrize("fault", ["wrong name", "unknown authority"])
def test_a_server_that_cannot_show_who_it_is_gets_nothing(
    house: MailHouse, trust: ssl.SSLContext, security: str, fault: str
) -> None:
    """The certificate is for localhost by name, of an authority that not everybody knows."""
    port = house.starttls if security == "starttls" else house.tls
    mail = (
        channel(port, security, trust, host="127.0.0.1")
        if fault == "wrong name"
        else channel(port, security, client_context(trustme.CA()))
    )
    delivery, _ = sent(mail, f"{fault} {security}")
    assert (delivery.outcome, delivery.settings_problem) == SETTINGS
    assert "certificate was not accepted" in delivery.detail


def test_greylisted_mail_is_accepted_when_it_comes_again(
    house: MailHouse, trust: ssl.SSLContext
) -> None:
    """The first attempt is for later, the second carries the same message."""
    mail = channel(house.starttls, "starttls", trust, GREYLISTED)
    delivery, made = sent(mail, "greylisted")
    assert (delivery.outcome, delivery.settings_problem) == (Outcome.LATER, False)
    assert delivery.reply == "451 4.7.1"
    assert mail.send(made).outcome is Outcome.ACCEPTED
    mail.close()
    assert len(house.arrived(made.message_id, name="grey")) == 1


@pytest.mark.parametrize(
    ("case", "outcome", "told"),
    [
        ("relay", SETTINGS, "only for its own users"),
        ("sender", SETTINGS, "set sender"),
        ("recipient", (Outcome.FOR_GOOD, False), "recipients"),
    ],
)
def test_a_refused_address_has_its_remedy(
    house: MailHouse, trust: ssl.SSLContext, case: str, outcome: object, told: str
) -> None:
    """Only a recipient that is not there is given up."""
    mails = {
        "relay": channel(house.plain, "none", None, ELSEWHERE, None),
        "sender": channel(house.tls, "tls", trust, sender=NOT_OURS),
        "recipient": channel(house.tls, "tls", trust, NOBODY),
    }
    delivery, _ = sent(mails[case], case)
    assert (delivery.outcome, delivery.settings_problem) == outcome, delivery.detail
    assert told in delivery.detail


def test_a_check_finds_what_would_refuse_each_brief(
    house: MailHouse, trust: ssl.SSLContext
) -> None:
    """A login missing shows at the recipients; nothing is sent, and all well says so."""
    before = len(house.inbox())
    well = channel(house.starttls, "starttls", trust).check()
    refused = channel(house.plain, "none", None, ELSEWHERE, None).check()
    assert well.outcome is Outcome.ACCEPTED, well.detail
    assert (refused.outcome, refused.settings_problem) == SETTINGS
    assert "only for its own users" in refused.detail
    assert len(house.inbox()) == before


def test_a_line_cut_before_the_end_sends_nothing(house: MailHouse) -> None:
    """The message is surely not accepted, and comes again."""
    with cutting(house.plain, after=b"DATA\r\n", answered=False) as port:
        mail = channel(port, "none", None, username=None)
        delivery, made = sent(mail, "cut")
    assert delivery.outcome is Outcome.LATER, delivery.detail
    assert not [m for m in house.inbox() if made.message_id.encode() in m]


def test_a_lost_last_answer_makes_a_double_that_can_be_told(house: MailHouse) -> None:
    """The server took it, nobody heard so; sent again it is the same to the byte."""
    with cutting(house.plain, after=b"\r\n.\r\n", answered=True) as port:
        mail = channel(port, "none", None, username=None)
        delivery, made = sent(mail, "lost answer")
    assert delivery.outcome is Outcome.UNKNOWN, delivery.detail
    again = channel(house.plain, "none", None, username=None)
    assert again.send(made).outcome is Outcome.ACCEPTED
    again.close()
    mails = house.arrived(made.message_id, times=2)
    assert len(mails) == 2
    assert all(m.endswith(made.body) for m in mails)


def test_mail_leaves_through_the_sendmail_of_the_machine(house: MailHouse) -> None:
    """Postfix's own program; the lone dot in the text ends nothing."""
    mail = SendmailChannel(SENDER, (SOMEBODY,), program=house.sendmail)
    assert mail.check().outcome is Outcome.ACCEPTED
    delivery, made = sent(mail, "sendmail")
    assert delivery.outcome is Outcome.ACCEPTED, delivery.detail
    (arrived,) = house.arrived(made.message_id)
    assert arrived.endswith(made.body)
