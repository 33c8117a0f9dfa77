"""A machine that sleeps over the time tells when it wakes: once, and with what was missed.

Modelled: the wall clock moves on, the monotonic one stands still, as Linux has it in a suspend.
Real: the process is stopped and continued over the due moment.
"""

from __future__ import annotations

import signal
from collections import Counter
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

from strawbell.app.daemon import BEAT_S
from strawbell.model.journal import EntryKind
from strawbell.model.notice import NoticeKind, OutboxRow
from strawbell.words.catalogue import BRITISH
from strawbell.words.voice import days_joined
from support.daemon_process import Setup, stop, wait_until
from support.fake_clock import FakeClock
from support.forecast_server import FakeOpenMeteo, calm
from support.gardens import START, at, on_day
from support.manager_socket import manager_socket
from support.measured import record
from support.memory_store import MemoryStore
from support.simulated_daemon import Life, Paper
from support.smtp_sink import smtp_sink

LENGTHS = {
    "10 min": timedelta(minutes=10),
    "9 h": timedelta(hours=9),
    "5 d": timedelta(days=5),
}
MOMENTS = ("before the time", "while sending", "after the time")
SLEEP_DAY = 3
LEADS_S = (6, 15, 40)
"""How far ahead the real reminder is due; the longer ones are for a machine that is busy."""
ASLEEP_PAST_DUE_S = 4


class Night:
    """A garden whose machine goes to sleep once, around the third morning."""

    def __init__(self, moment: str, length: timedelta) -> None:
        self.clock = FakeClock(at(START, 5, 0))
        self.mail = Paper(self.clock, "email", ("a@example.org", "b@example.org"))
        self.life = Life(MemoryStore(), self.clock, (self.mail,))
        self.length = length
        self.woke: datetime | None = None
        morning = at(on_day(SLEEP_DAY))
        self.life.live(morning - timedelta(minutes=5))
        if moment == "while sending":
            self.mail.before_answer = lambda row: self.sleep()
        if moment != "before the time":
            self.clock.advance(timedelta(minutes=5))
            self.life.beat()
        if moment != "while sending":
            self.sleep()
        self.told_before_waking = len(self.mail.sent)
        self.life.beat()

    def sleep(self) -> None:
        """Let the wall clock alone move on."""
        if self.woke is None:
            self.clock.jump(self.length)
            self.woke = self.clock.now()

    def mornings(self) -> Counter[date]:
        """Return how often the first recipient was told each morning."""
        return Counter(
            row.local_date
            for row in self.mail.rows
            if row.kind is NoticeKind.MORNING and row.recipient == "a@example.org"
        )


def test_a_suspend_over_the_time_costs_no_reminder() -> None:
    """What is due is told in the first beat after waking; what is too late is a line in the next
    brief and a row in the journal; nothing is told twice.
    """
    late_s, most, lost, doubled = 0.0, 0, 0, 0
    for length in LENGTHS.values():
        for moment in MOMENTS:
            night = Night(moment, length)
            assert night.woke is not None
            woken_on = _local(night.woke)
            first = [row for _, row in night.mail.sent[night.told_before_waking :]]
            most = max(most, *Counter(row.recipient for row in first).values(), 0)
            assert not night.life.daemon._pipeline.due(night.clock.now())
            late_s = max(late_s, (night.clock.now() - night.woke).total_seconds())
            night.life.live(at(woken_on + timedelta(days=1), 7))
            told = night.mornings()
            excused = {row.local_date for row in night.life.entries(EntryKind.NOT_TOLD)}
            days = [START + timedelta(days=n) for n in range((woken_on - START).days + 1)]
            lost += sum(told[day] == 0 and day not in excused for day in days)
            doubled += sum(n - 1 for n in told.values())
            if excused:
                _says_what_was_missed(night, excused)
            assert (lost, doubled) == (0, 0), (length, moment, told, excused)
    record(13, "modelled suspends", len(LENGTHS) * len(MOMENTS), target=">= 9")
    record(13, "reminders lost", lost, target="= 0")
    record(13, "reminders doubled", doubled, target="= 0")
    record(13, "messages to one recipient in the beat of waking", most, target="<= 1")
    record(13, "from waking to the reminder, in beats of the loop", late_s / BEAT_S, target="<= 1")


def _local(moment: datetime) -> date:
    return moment.astimezone(ZoneInfo("Europe/Zurich")).date()


def _says_what_was_missed(night: Night, excused: set[date]) -> None:
    """The first brief after waking names every missed date, those in a row by first and last."""
    brief = next(row for row in night.mail.rows if _is_brief_after(row, max(excused)))
    text = " ".join(brief.body.decode().split())
    assert f"I couldn't reach you on {BRITISH.listing(days_joined(excused, BRITISH))}." in text


def _is_brief_after(row: OutboxRow, day: date) -> bool:
    return row.kind is NoticeKind.MORNING and row.local_date > day


def test_a_stopped_process_tells_what_fell_due_meanwhile(tmp_path: Path) -> None:
    """Stopped before the time and continued some seconds after it: one mail, within a minute."""
    with (
        FakeOpenMeteo(calm) as service,
        smtp_sink("none") as sink,
        manager_socket(tmp_path) as manager,
    ):
        for lead_s in LEADS_S:
            folder = tmp_path / str(lead_s)
            folder.mkdir()
            setup = Setup(folder, service.base_url, sink.port, environ=manager.environ)
            due = datetime.now(UTC).replace(microsecond=0) + timedelta(seconds=lead_s)
            _tell_at(setup, due)
            daemon = setup.start()
            try:
                assert manager.hear("READY=1") is not None
                daemon.send_signal(signal.SIGSTOP)
                in_time = datetime.now(UTC) < due - timedelta(seconds=1)
                if not in_time:
                    continue
                _wait_for(due + timedelta(seconds=ASLEEP_PAST_DUE_S))
                assert sink.envelopes == []
                woken_at = datetime.now(UTC)
                daemon.send_signal(signal.SIGCONT)
                assert wait_until(lambda: len(sink.envelopes) > 0)
                late_s = (datetime.now(UTC) - woken_at).total_seconds()
                break
            finally:
                daemon.send_signal(signal.SIGCONT)
                code, said = stop(daemon)
        assert in_time, "the machine is too busy for this test"
        assert (code, "Traceback" in said) == (0, False)
        assert len(sink.envelopes) == 1
    late = "a stopped process: from going on to the mail"
    record(13, late, late_s, "s", target="<= 60", by_clock=True)


def _tell_at(setup: Setup, due: datetime) -> None:
    here = due.astimezone(ZoneInfo(setup.zone))
    text = setup.config.read_text(encoding="utf-8")
    assert "morning = 00:00:00" in text
    setup.write(text.replace("morning = 00:00:00", f"morning = {here:%H:%M:%S}"))


def _wait_for(moment: datetime) -> None:
    assert wait_until(lambda: datetime.now(UTC) >= moment)
