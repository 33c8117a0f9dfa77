"""Mail that hangs at any stage stops neither the loop nor the other ways to the grower.

The real daemon, mail channel, folder channel and store; a server (or name service, or network)
that hangs until it is let go.
"""

from __future__ import annotations

import socket
import threading
import time
from datetime import timedelta
from pathlib import Path

import pytest

from strawbell.edges import smtp
from strawbell.edges.folder import FolderChannel
from strawbell.edges.store.sqlite_store import SqliteStore
from strawbell.errors import OperationalError
from strawbell.model.notice import NoticeKind, OutboxRow, OutboxState, Outcome
from support.daemon_process import wait_until
from support.fake_clock import FakeClock
from support.gardens import START, at, on_day
from support.hanging import STAGES, hang_the_name_service, hanging_mail
from support.measured import record
from support.simulated_daemon import Life

MAIL = "send-email"
SHORT_S = 0.2
LONG_S = 30.0


def test_mail_that_hangs_stops_no_other_notice(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """While one mail hangs, two more mornings fall due and come by the other channel in the beat
    they are due in; the loop turns on and pings. So at every stage of a mail.
    """
    blocked_s, beats = 0.0, 0
    for stage in STAGES:
        with monkeypatch.context() as patch:
            blocked, needed = _hang_at(stage, tmp_path / stage, patch)
        blocked_s, beats = max(blocked_s, blocked), max(beats, needed)
    record(5, "stages at which mail hangs", len(STAGES), target=">= 11")
    record(5, "the loop blocked, longest", blocked_s, "s", target="<= 1", by_clock=True)
    record(5, "beats of the loop until another channel has told what is due", beats, target="= 1")


def _hang_at(stage: str, folder: Path, patch: pytest.MonkeyPatch) -> tuple[float, int]:
    """Return how long the loop was blocked [s], and the beats the other channel needed."""
    clock = FakeClock(at(START))
    notices = folder / "notices"
    blocked_s, beats = 0.0, 0
    with (
        hanging_mail(stage, patch, quit_s=LONG_S) as mail,
        SqliteStore(folder / "s.db", clock.now(), owner=True) as store,
    ):
        life = Life(store, clock, (mail.channel, FolderChannel(notices)))
        life.beat(but=(MAIL,))
        assert wait_until(mail.hangs), stage
        for day in (2, 3):
            due = at(on_day(day))
            clock.advance(due - clock.now())
            needed = 0
            while _told(life) != [OutboxState.ACCEPTED] * day:
                assert needed < 5, stage
                needed += 1
                before_s = time.perf_counter()
                life.daemon.beat(life.bell)
                blocked_s = max(blocked_s, time.perf_counter() - before_s)
                # What it started may end by itself and ring for more at the same moment.
                life.settle(but=(MAIL,))
                life.beat(but=(MAIL,))
            beats = max(beats, needed)
        assert _is_at_it(life), f"{stage}: the mail still hangs"
        pings = life.manager.pings
        life.daemon.beat(life.bell)
        assert life.manager.pings == pings + 1, stage
        assert len(list(notices.glob("*-morning-*.eml"))) == 3, stage
        mail.channel.interrupt()
        mail.let_go()
        life.settle()
    return blocked_s, beats


def _told(life: Life) -> list[OutboxState]:
    return [row.state for row in life.outbox() if row.channel == "folder"]


def _is_at_it(life: Life) -> bool:
    return any(worker.name == MAIL and not worker.is_done for worker in life.daemon._workers)


@pytest.mark.parametrize("stage", [stage for stage in STAGES if stage != "quit"])
def test_every_wait_of_a_mail_is_given_a_deadline(
    tmp_path: Path, stage: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """No socket may wait longer than a minute before the final dot, ten minutes after it; at the
    short deadline of the test the attempt ends by itself with the right class.
    """
    given: list[tuple[smtp.Stage, float | None]] = []
    inherited = socket.socket.settimeout
    ours = threading.current_thread()

    def settimeout(link: socket.socket, seconds: float | None) -> None:
        if threading.current_thread() is ours:
            given.append((channel._stage, seconds))
        inherited(link, seconds)

    is_last = stage == "dot"
    short = {"after_dot_s": SHORT_S} if is_last else {"before_dot_s": SHORT_S}
    with hanging_mail(stage, monkeypatch, **short) as mail:
        channel = mail.channel
        monkeypatch.setattr(socket.socket, "settimeout", settimeout, raising=False)
        delivery = channel.send(_row(channel))
        monkeypatch.undo()
        channel.close()
    assert delivery.outcome is (Outcome.UNKNOWN if is_last else Outcome.LATER), delivery.detail
    before = [seconds for at_stage, seconds in given if at_stage is not smtp.Stage.DOT]
    assert all(seconds is not None and seconds <= smtp.BEFORE_DOT_S for seconds in before)
    after = [seconds for at_stage, seconds in given if at_stage is smtp.Stage.DOT]
    assert all(seconds is not None and seconds <= smtp.AFTER_DOT_S for seconds in after)


def test_the_deadlines_are_those_that_are_promised() -> None:
    """A minute for everything up to the dot; ten minutes for its answer, since less makes doubles
    (RFC 5321, section 4.5.3.2.6).
    """
    record(5, "an attempt ends before the dot within", smtp.BEFORE_DOT_S, "s", target="<= 60")
    record(5, "an attempt ends after the dot within", smtp.AFTER_DOT_S, "s", target="<= 600")
    assert smtp.AFTER_DOT_S >= 600


def _row(channel: smtp.SmtpChannel) -> OutboxRow:
    bulk = b"x" * 70 + b"\r\n"
    return OutboxRow(
        unique_key="k",
        channel="email",
        recipient="grower@example.org",
        message_id="<k@strawbell.invalid>",
        body=b"Subject: feed\r\n\r\n" + bulk * 150_000,
        subject="feed",
        garden="Orchard corner",
        local_date=START,
        kind=NoticeKind.MORNING,
        state=OutboxState.SENDING,
        attempts=1,
        created_at=at(START),
        next_attempt_at=at(START),
        expires_at=at(START) + timedelta(hours=13),
    )


def test_hanging_names_take_a_handful_of_threads_and_no_more(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """A name service that hangs for days is asked no further once enough questions are open; when
    it answers again, so does the look-up.
    """
    asked, go = hang_the_name_service(monkeypatch)
    complaints = []
    for _ in range(smtp.LOOKUPS_AT_MOST + 2):
        with pytest.raises(socket.gaierror) as raised:
            smtp.Lookup("mail.example.org", 25).addresses(0.0)
        complaints.append(str(raised.value))
    assert asked.is_set()
    assert sum("in time" in each for each in complaints) == smtp.LOOKUPS_AT_MOST
    assert sum("earlier questions" in each for each in complaints) == 2
    go.set()
    assert wait_until(lambda: "Temporary failure" in _complaint("mail.example.org"))


def _complaint(host: str) -> str:
    try:
        smtp.Lookup(host, 25).addresses(LONG_S)
    except OSError as error:
        return str(error)
    return ""


@pytest.mark.parametrize("host", ["bad..name.example", "x" * 300, "\x00"])
def test_what_is_no_name_is_an_error_of_the_network_like_any(host: str) -> None:
    """The system's own call raises other kinds for some of them."""
    with pytest.raises(socket.gaierror):
        smtp.Lookup(host, 25).addresses(LONG_S)


def test_a_forecast_whose_name_hangs_ends_by_its_own_deadline(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """The look-up counts into the time of the whole fetch; hanging ones take few threads."""
    from strawbell.edges.forecasts import transport

    _, go = hang_the_name_service(monkeypatch)
    told: list[str] = []
    while sum("earlier questions" in each for each in told) < 2:
        with pytest.raises(OperationalError, match=r"did not finish|earlier questions") as raised:
            transport.fetch_reply("Weather", "https://weather.example.org/", {}, seconds=0.05)
        told.append(str(raised.value))
        # On a busy machine the time may be over before the name is asked for.
        assert len(told) < 10 * transport.REQUESTS_AT_MOST
    hanging = [each for each in threading.enumerate() if each.name == "forecast Weather"]
    assert len(hanging) == transport.REQUESTS_AT_MOST
    go.set()

    def is_asked_again() -> bool:
        with pytest.raises(OperationalError) as again:
            transport.fetch_reply("Weather", "https://weather.example.org/", {}, seconds=LONG_S)
        return "not found by name" in str(again.value)

    assert wait_until(is_asked_again)
