"""A mail server that misbehaves at every stage; each outcome has the right class.

Stage by behaviour: refuse, close, 421, 451, 550, hang, drip, garbage, over-long line, a flood of
lines, a wrong certificate, from connecting to QUIT.
"""

from __future__ import annotations

import base64
import socket
import ssl
import threading
from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest
import trustme

from strawbell.edges.smtp import SmtpChannel
from strawbell.edges.store.sqlite_store import SqliteStore
from strawbell.model.configuration import MailSettings
from strawbell.model.notice import Delivery, NoticeKind, OutboxRow, OutboxState, Outcome
from support.fake_clock import FakeClock
from support.gardens import START, at
from support.measured import record
from support.scripted_smtp import ScriptedSmtp, authority, client_context, server_context
from support.simulated_daemon import Life, Paper

NOW = datetime(2027, 4, 9, 4, 30, tzinfo=UTC)
SHORT_S = 0.25
LONG_S = 20.0
HOUR = timedelta(hours=1)
PASSWORD = "straw secret"

BODY = b"Subject: feed\r\nMessage-ID: <k@strawbell.invalid>\r\n\r\n500 g\r\n.\r\n..two\r\n"


@pytest.fixture(scope="module")
def ca() -> trustme.CA:
    return authority()


@pytest.fixture(scope="module")
def contexts(ca: trustme.CA) -> tuple[ssl.SSLContext, ssl.SSLContext]:
    return server_context(ca), client_context(ca)


def row(recipient: str = "grower@example.org", body: bytes = BODY) -> OutboxRow:
    return OutboxRow(
        unique_key=recipient,
        channel="email",
        recipient=recipient,
        message_id="<k@strawbell.invalid>",
        body=body,
        subject="feed",
        garden="Orchard corner",
        local_date=date(2027, 4, 9),
        kind=NoticeKind.MORNING,
        state=OutboxState.SENDING,
        attempts=1,
        created_at=NOW,
        next_attempt_at=NOW,
        expires_at=NOW,
    )


def channel(
    server: ScriptedSmtp,
    client: ssl.SSLContext | None = None,
    before_dot_s: float = LONG_S,
    after_dot_s: float = LONG_S,
    recipients: tuple[str, ...] = ("grower@example.org",),
) -> SmtpChannel:
    def context() -> ssl.SSLContext:
        assert client is not None
        return client

    return SmtpChannel(
        MailSettings(
            "127.0.0.1",
            server.port,
            server.security,
            "Strawbell <bell@example.org>",
            recipients,
            "bell",
            PASSWORD,
        ),
        before_dot_s=before_dot_s,
        after_dot_s=after_dot_s,
        quit_s=SHORT_S,
        tls_context=context,
    )


LATER = (Outcome.LATER, False)
SETTINGS = (Outcome.LATER, True)
FOR_GOOD = (Outcome.FOR_GOOD, False)
UNKNOWN = (Outcome.UNKNOWN, False)
ACCEPTED = (Outcome.ACCEPTED, False)

SILENCES = ("close", "hang", "drip", "garbage", "overlong", "flood", "421", "451")
"""What a server can do at any stage without refusing for good."""

EARLY_STAGES = ("banner", "ehlo", "starttls", "ehlo-again", "auth", "mail", "rcpt", "data")


def cases() -> Iterator[tuple[str, str, tuple[Outcome, bool]]]:
    for stage in EARLY_STAGES:
        for behaviour in SILENCES:
            yield stage, behaviour, LATER
        yield stage, "535", SETTINGS
        yield stage, "550", FOR_GOOD if stage in {"rcpt", "data"} else SETTINGS
    for behaviour in ("close", "hang", "drip"):
        yield "tls", behaviour, LATER
    yield "tls", "garbage", SETTINGS
    for behaviour in ("close", "hang", "drip", "garbage", "overlong", "flood"):
        yield "dot", behaviour, UNKNOWN
    yield "dot", "close-accepted", UNKNOWN
    yield "dot", "hang-accepted", UNKNOWN
    yield "dot", "354", UNKNOWN
    yield "dot", "421", LATER
    yield "dot", "451", LATER
    yield "dot", "550", FOR_GOOD
    yield "body", "close", LATER
    for behaviour in ("close", "hang", "drip", "garbage", "overlong", "421", "451", "550"):
        yield "quit", behaviour, ACCEPTED


CASES = list(cases())


def attempt(
    stage: str, behaviour: str, contexts: tuple[ssl.SSLContext, ssl.SSLContext]
) -> tuple[Delivery, ScriptedSmtp]:
    waits = behaviour in {"hang", "drip", "flood", "hang-accepted"}
    body = BODY
    if stage == "body":
        # More than the buffers between the two take, so that the server's end is noticed.
        body += b"x" * 70 + b"\r\n"
        body *= 200_000
    with ScriptedSmtp(
        {stage: behaviour}, security="starttls", context=contexts[0], password=PASSWORD
    ) as server:
        mail = channel(
            server,
            contexts[1],
            before_dot_s=SHORT_S if waits and stage not in {"dot", "quit"} else LONG_S,
            after_dot_s=SHORT_S if waits else LONG_S,
        )
        delivery = mail.send(row(body=body))
        if stage == "quit":
            assert server.messages, "accepted before QUIT"
        mail.close()
        return delivery, server


def test_every_stage_and_behaviour_has_the_right_class(
    contexts: tuple[ssl.SSLContext, ssl.SSLContext],
) -> None:
    """Before the dot all but a refusal for good is for later; after it silence is unknown."""
    wrong = []
    for stage, behaviour, expected in CASES:
        delivery, server = attempt(stage, behaviour, contexts)
        told = delivery.detail
        sound = told.endswith(".") and PASSWORD not in told and "c3RyYXc" not in told
        refused = expected[0] in {Outcome.LATER, Outcome.FOR_GOOD}
        contradicted = refused and bool(server.messages)
        if (delivery.outcome, delivery.settings_problem) != expected or not sound or contradicted:
            wrong.append((stage, behaviour, delivery, len(server.messages)))
    record(4, "cases of a stage and a behaviour", len(CASES), target=">= 85")
    record(4, "with a wrong class, or in wrong words", len(wrong), target="= 0", found=wrong)


def test_a_settings_problem_is_tried_once_an_hour_and_told_once(
    contexts: tuple[ssl.SSLContext, ssl.SSLContext], tmp_path: Path
) -> None:
    """Four messages wait from morning to afternoon, at each stage that can refuse the settings; all
    are kept and go out on the same day when the settings are mended.
    """
    calls_in_an_hour, told, lost = 0, [], 0
    for stage in ("banner", "ehlo", "starttls", "ehlo-again", "auth"):
        faults = {stage: "535"}
        with ScriptedSmtp(
            faults, security="starttls", context=contexts[0], password=PASSWORD
        ) as server:
            most, notices, kept_back = _mended_at_last(
                server, contexts[1], tmp_path / f"{stage}.db"
            )
        calls_in_an_hour, lost = max(calls_in_an_hour, most), lost + kept_back
        told.append(notices)
    record(4, "settings refused: attempts in an hour, most", calls_in_an_hour, target="<= 1")
    record(4, "settings refused: told elsewhere, least", min(told), "times", target="= 1")
    record(4, "settings refused: told elsewhere, most", max(told), "times", target="= 1")
    record(4, "settings refused: messages lost", lost, target="= 0")


def _mended_at_last(
    server: ScriptedSmtp, client: ssl.SSLContext, path: Path
) -> tuple[int, int, int]:
    """Return the most attempts of an hour, the notices elsewhere, and what was lost in the end."""
    recipients = tuple(f"grower{number}@example.org" for number in range(4))
    clock = FakeClock(at(START))
    with SqliteStore(path, clock.now(), owner=True) as store:
        folder = Paper(clock)
        life = Life(store, clock, (channel(server, client, recipients=recipients), folder))
        calls: list[datetime] = []
        while clock.now() < at(START) + 8 * HOUR:
            before = server.connections
            life.beat()
            calls += [clock.now()] * (server.connections - before)
            clock.advance(timedelta(minutes=5))
        most = max(sum(one <= other < one + HOUR for other in calls) for one in calls)
        waiting = [row for row in life.outbox() if row.channel == "email"]
        assert len(calls) > 6, life.said
        assert server.messages == []
        assert {row.state for row in waiting} <= {OutboxState.DUE, OutboxState.LATER}
        server.faults.clear()
        life.live(at(START) + 13 * HOUR)
        arrived = sum(row.state is OutboxState.ACCEPTED for row in life.outbox())
        wanted = len(waiting) + len(folder.rows)
        assert len(server.messages) == arrived - len(folder.rows)
    return most, len(_told_of_trouble(folder)), wanted - arrived


def test_a_refusal_for_good_is_told_elsewhere_in_the_same_beat(
    contexts: tuple[ssl.SSLContext, ssl.SSLContext], tmp_path: Path
) -> None:
    """Not at the next look of an hour later, not again, and the message is not tried again."""
    beats, told = 0, []
    for stage in ("rcpt", "data", "dot"):
        clock = FakeClock(at(START))
        with (
            ScriptedSmtp({stage: "550"}, security="starttls", context=contexts[0]) as server,
            SqliteStore(tmp_path / f"{stage}.db", clock.now(), owner=True) as store,
        ):
            folder = Paper(clock)
            life = Life(store, clock, (channel(server, contexts[1]), folder))
            needed = 0
            while not _told_of_trouble(folder):
                assert needed < 5, life.said
                life.beat()
                needed += 1
                clock.advance(timedelta(minutes=1))
            life.live(clock.now() + 3 * HOUR)
            assert server.connections == 1, stage
        beats = max(beats, needed)
        told.append(len(_told_of_trouble(folder)))
    record(4, "refused for good: beats until told elsewhere, most", beats, target="<= 1")
    record(4, "refused for good: told elsewhere, most", max(told), "times", target="= 1")


def _told_of_trouble(folder: Paper) -> list[OutboxRow]:
    return [row for row in folder.rows if row.kind is NoticeKind.TROUBLE]


def test_a_refused_connection_is_for_later() -> None:
    """Nobody listens."""
    with socket.create_server(("127.0.0.1", 0)) as listener:
        port = listener.getsockname()[1]
    mail = SmtpChannel(
        MailSettings("127.0.0.1", port, "none", "bell@example.org", ("g@example.org",))
    )
    delivery = mail.send(row())
    assert (delivery.outcome, delivery.settings_problem) == LATER


def test_a_host_without_address_is_for_later() -> None:
    """The name service may be down as well as the name wrong."""
    mail = SmtpChannel(
        MailSettings("mail.invalid", 587, "tls", "bell@example.org", ("g@example.org",))
    )
    delivery = mail.send(row())
    assert (delivery.outcome, delivery.settings_problem) == LATER


def test_a_listener_that_never_accepts_ends_at_the_deadline() -> None:
    """A full backlog answers nothing at all."""
    with socket.create_server(("127.0.0.1", 0), backlog=0) as listener:
        port = listener.getsockname()[1]
        fillers = []
        for _ in range(4):
            filler = socket.socket()
            filler.setblocking(False)
            filler.connect_ex(("127.0.0.1", port))
            fillers.append(filler)
        mail = SmtpChannel(
            MailSettings("127.0.0.1", port, "none", "b@example.org", ("g@example.org",)),
            before_dot_s=SHORT_S,
        )
        delivery = mail.send(row())
        for filler in fillers:
            filler.close()
    assert (delivery.outcome, delivery.settings_problem) == LATER


@pytest.mark.parametrize("security", ["starttls", "tls"])
@pytest.mark.parametrize("fault", ["wrong-name", "unknown-authority"])
def test_a_wrong_certificate_is_never_spoken_to(
    security: str, fault: str, ca: trustme.CA, contexts: tuple[ssl.SSLContext, ssl.SSLContext]
) -> None:
    """No login and no message goes to a server that cannot show who it is."""
    server_side = (
        server_context(ca, "mail.example.org")
        if fault == "wrong-name"
        else server_context(authority())
    )
    with ScriptedSmtp(security=security, context=server_side) as server:
        mail = channel(server, contexts[1])
        delivery = mail.send(row())
        mail.close()
    assert (delivery.outcome, delivery.settings_problem) == SETTINGS
    assert "certificate" in delivery.detail
    assert not any("AUTH" in line or "MAIL" in line for line in server.heard)


def test_no_login_goes_out_when_encryption_is_not_offered(
    contexts: tuple[ssl.SSLContext, ssl.SSLContext],
) -> None:
    """A stripped STARTTLS is a settings problem, and the password stays here."""
    with ScriptedSmtp(security="starttls", offer_starttls=False) as server:
        mail = channel(server, contexts[1])
        delivery = mail.send(row())
        mail.close()
    assert (delivery.outcome, delivery.settings_problem) == SETTINGS
    assert [line.split()[0].upper() for line in server.heard] == ["EHLO"]


def test_plain_talk_on_a_tls_port_is_a_settings_problem(
    contexts: tuple[ssl.SSLContext, ssl.SSLContext],
) -> None:
    """Port and security do not fit together."""
    with ScriptedSmtp({"tls": "garbage"}, security="tls") as server:
        mail = channel(server, contexts[1])
        delivery = mail.send(row())
    assert (delivery.outcome, delivery.settings_problem) == SETTINGS


def test_a_body_that_the_server_stops_reading_ends_at_the_deadline(
    contexts: tuple[ssl.SSLContext, ssl.SSLContext],
) -> None:
    """The dot was not sent, so it is for later."""
    body = (b"x" * 70 + b"\r\n") * 200_000
    with ScriptedSmtp({"body": "hang"}, security="starttls", context=contexts[0]) as server:
        mail = channel(server, contexts[1], before_dot_s=1.0)
        delivery = mail.send(row(body=body))
        mail.close()
    assert (delivery.outcome, delivery.settings_problem) == LATER


def test_the_bytes_arrive_as_they_were_frozen(
    contexts: tuple[ssl.SSLContext, ssl.SSLContext],
) -> None:
    """Lines that begin with a dot survive, and one connection carries several messages."""
    with ScriptedSmtp(security="starttls", context=contexts[0]) as server:
        mail = channel(server, contexts[1])
        outcomes = [mail.send(row(f"g{number}@example.org")).outcome for number in range(3)]
        mail.close()
    assert outcomes == [Outcome.ACCEPTED] * 3
    assert [message.body for message in server.messages] == [BODY] * 3
    assert server.connections == 1
    assert server.heard[-1] == "QUIT"


def test_one_refused_recipient_does_not_cost_the_next_one(
    contexts: tuple[ssl.SSLContext, ssl.SSLContext],
) -> None:
    """After a refusal the conversation starts afresh."""
    with ScriptedSmtp({"rcpt": "550"}, security="starttls", context=contexts[0]) as server:
        mail = channel(server, contexts[1])
        first = mail.send(row("nobody@example.org"))
        server.faults.clear()
        second = mail.send(row())
        mail.close()
    assert (first.outcome, second.outcome) == (Outcome.FOR_GOOD, Outcome.ACCEPTED)


def test_a_server_that_hangs_up_between_two_messages_is_called_again(
    contexts: tuple[ssl.SSLContext, ssl.SSLContext],
) -> None:
    """The second message does not pay for an idle limit."""
    with ScriptedSmtp(security="starttls", context=contexts[0]) as server:
        mail = channel(server, contexts[1])
        first = mail.send(row())
        assert mail._wire is not None
        assert mail._wire.sock is not None
        mail._wire.sock.close()
        second = mail.send(row())
        mail.close()
    assert (first.outcome, second.outcome) == (Outcome.ACCEPTED, Outcome.ACCEPTED)
    assert server.connections == 2


def test_an_unreachable_server_is_tried_once_a_pass() -> None:
    """The wait for a dead server is paid once, not once a message."""
    with ScriptedSmtp({"banner": "421"}) as server:
        mail = channel(server)
        deliveries = [mail.send(row()) for _ in range(5)]
        assert server.connections == 1
        mail.close()
        mail.send(row())
        assert server.connections == 2
    assert {delivery.outcome for delivery in deliveries} == {Outcome.LATER}


def test_a_wait_for_the_last_answer_can_be_interrupted(
    contexts: tuple[ssl.SSLContext, ssl.SSLContext],
) -> None:
    """Stopping does not wait ten minutes; the message counts as unknown."""
    with ScriptedSmtp({"dot": "hang-accepted"}, security="starttls", context=contexts[0]) as server:
        mail = channel(server, contexts[1])
        results: list[Delivery] = []
        worker = threading.Thread(target=lambda: results.append(mail.send(row())))
        worker.start()
        while not server.messages:
            worker.join(0.01)
        mail.interrupt()
        worker.join(LONG_S)
        assert not worker.is_alive()
        assert mail.send(row()).outcome is Outcome.LATER
        mail.close()
    assert results[0].outcome is Outcome.UNKNOWN


def test_an_injected_answer_before_tls_is_forgotten(
    contexts: tuple[ssl.SSLContext, ssl.SSLContext],
) -> None:
    """What a stranger appends to the STARTTLS answer is not read as the server's."""

    class Injecting(ScriptedSmtp):
        def _say(self, link: socket.socket, stage: str, reply: str) -> None:
            if stage == "starttls":
                link.sendall(b"220 go\r\n250-stranger\r\n250 AUTH PLAIN\r\n")
                return
            super()._say(link, stage, reply)

    with Injecting(security="starttls", context=contexts[0]) as server:
        mail = channel(server, contexts[1])
        delivery = mail.send(row())
        mail.close()
    assert delivery.outcome in {Outcome.LATER, Outcome.ACCEPTED}
    assert "stranger" not in delivery.detail


def test_an_address_beyond_ascii_is_a_settings_problem_of_that_recipient() -> None:
    """A local part that plain SMTP cannot carry ends in a sentence, not in a crash."""
    with ScriptedSmtp() as server:
        mail = channel(server)
        delivery = mail.send(row("gärtner@example.org"))
        assert mail.send(row()).outcome is Outcome.ACCEPTED
        mail.close()
    assert (delivery.outcome, delivery.settings_problem) == SETTINGS
    assert delivery.about_recipient
    assert delivery.stage == "rcpt"


@pytest.mark.parametrize(
    ("stage", "reply", "outcome", "told"),
    [
        ("mail", "550 5.7.1 not owned by user bell", SETTINGS, "set sender"),
        ("rcpt", "554 5.7.1 <g@example.org>: Relay access denied", SETTINGS, "username and"),
        ("rcpt", "550 Authentication required", SETTINGS, "wants a login"),
        ("rcpt", "550 5.7.999 policy", SETTINGS, "550 5.7.999"),
        ("rcpt", "550 5.1.1 User unknown", FOR_GOOD, "recipients"),
        ("rcpt", "550 who?", FOR_GOOD, "who?"),
        ("rcpt", "450 4.2.0 Greylisted", LATER, "450 4.2.0"),
        ("dot", "550 5.7.60 permissions to send as this sender", SETTINGS, "set sender"),
        ("dot", "554 5.7.1 looks like spam", FOR_GOOD, "spam"),
    ],
)
def test_what_settings_can_mend_is_kept_wherever_it_is_refused(
    stage: str, reply: str, outcome: tuple[Outcome, bool], told: str
) -> None:
    """Only a refusal of the recipient or of the message itself is for good."""
    with ScriptedSmtp({stage: reply}) as server:
        mail = channel(server)
        delivery = mail.send(row())
        mail.close()
    assert (delivery.outcome, delivery.settings_problem) == outcome
    assert told in delivery.detail
    assert delivery.reply == " ".join(word for word in reply.split()[:2] if word[0].isdigit())
    assert delivery.about_recipient is (outcome == SETTINGS and stage in {"rcpt", "dot"})


@pytest.mark.parametrize("outcome", ["235", "535", "454"])
def test_credentials_go_as_utf_8(outcome: str) -> None:
    """A letter beyond ASCII in name or password is no reason to lose a morning."""
    with ScriptedSmtp({"auth": outcome}) as server:
        mail = SmtpChannel(
            MailSettings(
                "127.0.0.1",
                server.port,
                "none",
                "b@example.org",
                ("g@example.org",),
                "gärtner",
                "süß",
            )
        )
        delivery = mail.send(row())
        mail.close()
    answer = base64.b64encode("\0gärtner\0süß".encode()).decode()
    assert f"AUTH PLAIN {answer}" in server.heard
    wanted = {"235": ACCEPTED, "535": SETTINGS, "454": LATER}[outcome]
    assert (delivery.outcome, delivery.settings_problem) == wanted


TOKEN = "ya29.vF9dft4qmTc2Nvb3RlckBhdHRhdmlzdGEuY29tCg"
INITIAL_RESPONSE = (
    "dXNlcj1zb21ldXNlckBleGFtcGxlLmNvbQFhdXRoPUJlYXJlciB5YTI5LnZGOWRmdDRxbVRjMk52YjNSbGNrQmhkSF"
    "JoZG1semRHRXVZMjl0Q2cBAQ=="
)
"""The published example of the XOAUTH2 mechanism: token and initial response of a user
someuser@example.com."""

WHY_REFUSED = "eyJzdGF0dXMiOiI0MDAiLCJzY2hlbWVzIjoiQmVhcmVyIiwic2NvcGUiOiJtYWlsIn0="


def with_token(server: ScriptedSmtp, user: str = "someuser@example.com") -> Delivery:
    mail = SmtpChannel(
        MailSettings(
            "127.0.0.1",
            server.port,
            "none",
            "b@example.org",
            ("g@example.org",),
            user,
            oauth_token_command=f"printf {TOKEN}",
        )
    )
    delivery = mail.send(row())
    mail.close()
    return delivery


def test_an_access_token_is_shown_as_published() -> None:
    """And nothing else is tried."""
    with ScriptedSmtp(mechanisms="PLAIN XOAUTH2") as server:
        assert with_token(server).outcome is Outcome.ACCEPTED
    assert f"AUTH XOAUTH2 {INITIAL_RESPONSE}" in server.heard


def test_a_refused_access_token_is_a_settings_problem_with_its_remedy() -> None:
    """The server says why first and waits for an empty line; neither is shown."""
    with ScriptedSmtp({"auth": f"334 {WHY_REFUSED}"}, mechanisms="XOAUTH2") as server:
        delivery = with_token(server)
    assert (delivery.outcome, delivery.settings_problem) == SETTINGS
    assert "access token was not taken" in delivery.detail
    assert delivery.reply == "535 5.7.8"
    assert server.heard[-1] == ""


@pytest.mark.parametrize(
    ("mechanisms", "token", "told"),
    [
        ("XOAUTH2 OAUTHBEARER", False, "oauth_token_command"),
        ("PLAIN LOGIN", True, "use a password"),
        ("GSSAPI", False, "port and security"),
    ],
)
def test_a_server_without_our_kind_of_login_is_never_shown_the_secret(
    mechanisms: str, token: bool, told: str
) -> None:
    """The sentence says what it takes."""
    with ScriptedSmtp(mechanisms=mechanisms) as server:
        delivery = with_token(server) if token else channel(server).send(row())
    assert (delivery.outcome, delivery.settings_problem) == SETTINGS
    assert told in delivery.detail
    assert not any("AUTH" in line for line in server.heard)


def test_a_login_without_a_secret_is_told_before_anybody_is_called() -> None:
    """The secret may be in the surroundings of another start."""
    with ScriptedSmtp() as server:
        mail = SmtpChannel(
            MailSettings(
                "127.0.0.1", server.port, "none", "b@example.org", ("g@example.org",), "bell"
            )
        )
        delivery = mail.send(row())
    assert (delivery.outcome, delivery.settings_problem) == SETTINGS
    assert delivery.stage == "secret"
    assert server.connections == 0


def test_checking_goes_up_to_the_recipients_and_back() -> None:
    """Who is refused there would be refused each morning; no mail is sent."""
    recipients = ("a@example.org", "b@example.org")
    with ScriptedSmtp() as server:
        mail = channel(server, recipients=recipients)
        assert mail.check().outcome is Outcome.ACCEPTED
        commands = [line.split()[0].upper() for line in server.heard]
        assert commands == ["EHLO", "AUTH", "MAIL", "RCPT", "RCPT", "RSET", "QUIT"]
        server.faults["rcpt"] = "554 5.7.1 Relay access denied"
        refused = mail.check()
    assert (refused.outcome, refused.settings_problem) == SETTINGS
    assert all(f"{recipient}: " in refused.detail for recipient in recipients)
    assert server.messages == []


def test_settings_show_no_password() -> None:
    """Neither repr nor an error carries it."""
    mail = SmtpChannel(
        MailSettings("localhost", 25, "none", "b@example.org", ("g@example.org",), "u", PASSWORD)
    )
    assert PASSWORD not in repr(mail)
