"""The outbox: keys, retry times, and what becomes of a message."""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta

import pytest

from strawbell.app.outbox import (
    MOST_NEXT_ATTEMPTS,
    OWN_TROUBLE_RETRY_S,
    SURELY_DUE_S,
    AttemptResult,
    Memory,
    Sender,
    queue,
    retry_wait,
    unique_key,
)
from strawbell.errors import OperationalError
from strawbell.model.journal import EntryKind
from strawbell.model.notice import (
    Delivery,
    Notice,
    NoticeKind,
    OutboxRow,
    OutboxState,
    Outcome,
)
from support import notices
from support.fake_clock import DAWN, FakeClock
from support.measured import record
from support.memory_store import MemoryStore

TODAY = date(2027, 4, 9)
GARDEN = "Orchard corner"


def notice(**changes: object) -> Notice:
    said = {"text": "500 g\n", "html": "<p>500 g</p>", "short": "Feed Row A"}
    return notices.notice(**(said | changes))


@dataclass
class ScriptedChannel:
    """Answers as told, the last answer for ever."""

    answers: list[Outcome | Delivery | Exception] = field(
        default_factory=lambda: [Outcome.ACCEPTED]
    )
    name: str = "email"
    recipients: tuple[str, ...] = ("grower@example.org",)
    sent: list[OutboxRow] = field(default_factory=list)
    closed: int = 0
    before: Callable[[], None] = lambda: None

    def render(self, notice: Notice, recipient: str, message_id: str) -> bytes:
        return f"{message_id} {recipient} {notice.text}".encode()

    def send(self, row: OutboxRow) -> Delivery:
        self.before()
        self.sent.append(row)
        answer = self.answers[0] if len(self.answers) == 1 else self.answers.pop(0)
        if isinstance(answer, Exception):
            raise answer
        return answer if isinstance(answer, Delivery) else Delivery(answer, f"{answer.value} said")

    def close(self) -> None:
        self.closed += 1


@dataclass
class House:
    """A store, a clock and a channel that belong together."""

    channel: ScriptedChannel
    store: MemoryStore = field(default_factory=MemoryStore)
    clock: FakeClock = field(default_factory=FakeClock)
    rng: random.Random = field(default_factory=lambda: random.Random(7))
    memory: Memory = field(default_factory=Memory)

    def queue(self, **changes: object) -> None:
        self.store.enqueue(
            queue(notice(**changes), [self.channel], self.clock.now(), self.store.secret)
        )

    def drain(self):  # type: ignore[no-untyped-def]
        return Sender(self.clock, self.rng, self.memory).deliver_due(self.store, self.channel)

    @property
    def rows(self) -> tuple[OutboxRow, ...]:
        return self.store.outbox(GARDEN, date.min)

    @property
    def deliveries(self) -> list[str | None]:
        return [
            entry.state for entry in self.store.journal(GARDEN) if entry.kind is EntryKind.DELIVERY
        ]


def house(*answers: Outcome | Delivery | Exception) -> House:
    return House(ScriptedChannel(list(answers) or [Outcome.ACCEPTED]))


@pytest.mark.parametrize(
    "changes",
    [
        {"garden": "Another"},
        {"local_date": date(2027, 4, 10)},
        {"kind": NoticeKind.EVENING},
        {"occasion": "freeze"},
    ],
)
def test_each_part_of_the_key_makes_another_message(changes: dict[str, object]) -> None:
    """Garden, date, kind and occasion tell messages apart; the text does not."""
    plain = unique_key(notice(), "email", "a@example.org")
    assert unique_key(notice(**changes), "email", "a@example.org") != plain
    assert unique_key(notice(text="other", created_at=DAWN), "email", "a@example.org") == plain


def test_parts_of_the_key_cannot_be_shifted_into_each_other() -> None:
    """No choice of names gives two messages the same key."""
    one = unique_key(notice(garden='a","b', occasion="c"), "email", "x")
    other = unique_key(notice(garden="a", occasion='b","c'), "email", "x")
    assert one != other
    assert unique_key(notice(), "email", "x") != unique_key(notice(), "desktop", "x")
    assert unique_key(notice(), "email", "x") != unique_key(notice(), "email", "y")


def test_the_same_message_id_always_stands_over_the_same_bytes() -> None:
    """Written again alike it has the same identity, with another text or in another store not."""
    secret, channel = MemoryStore().secret, ScriptedChannel()
    (one,) = queue(notice(), [channel], DAWN, secret)
    (again,) = queue(notice(), [channel], DAWN + timedelta(hours=1), secret)
    (other_text,) = queue(notice(text="other"), [channel], DAWN, secret)
    (other_store,) = queue(notice(), [channel], DAWN, MemoryStore().secret)
    assert (one.message_id, one.body) == (again.message_id, again.body)
    assert len({one.message_id, other_text.message_id, other_store.message_id}) == 3
    assert one.unique_key == other_text.unique_key == other_store.unique_key


def test_a_notice_becomes_one_row_for_each_channel_and_recipient() -> None:
    """Two recipients by mail and one desktop make three rows, rendered at once."""
    mail = ScriptedChannel(recipients=("a@example.org", "b@example.org"))
    desk = ScriptedChannel(name="desktop", recipients=("desktop",))
    rows = queue(notice(), [mail, desk], DAWN, MemoryStore().secret)
    assert [(row.channel, row.recipient) for row in rows] == [
        ("email", "a@example.org"),
        ("email", "b@example.org"),
        ("desktop", "desktop"),
    ]
    assert len({row.message_id for row in rows}) == 3
    assert all(row.message_id.encode() in row.body for row in rows)
    assert not mail.sent
    assert {row.state for row in rows} == {OutboxState.DUE}


def test_waits_grow_and_spread_by_a_tenth() -> None:
    """1, 2, 5, 10, 20, 40 min, then an hour and more; each within 10 % of it."""
    middle = (1, 2, 5, 10, 20, 40, 60, 120, 240, 360, 480, 480, 480)
    for seed in range(50):
        rng = random.Random(seed)
        for attempts, minutes in enumerate(middle, start=1):
            wait = retry_wait(attempts, rng) / timedelta(minutes=1)
            assert 0.9 * minutes <= wait <= 1.1 * minutes
    with pytest.raises(ValueError, match="attempts"):
        retry_wait(0, random.Random(1))


def attempts_within(hours: float, seed: int) -> int:
    rng, at, attempts = random.Random(seed), timedelta(0), 0
    while at < timedelta(hours=hours):
        attempts += 1
        at += retry_wait(attempts, rng)
    return attempts


def test_a_dead_server_is_tried_twelve_times_a_day_and_four_times_in_ten_minutes() -> None:
    """Twelve in the first 24 h with any jitter; greylisting of 5 min is over by the fourth."""
    attempts = {attempts_within(24, seed) for seed in range(200)}
    assert attempts == {12}
    assert {attempts_within(10 / 60, seed) for seed in range(200)} == {4}
    record(6, "attempts in the first 24 h, most of 200 draws", max(attempts), target="<= 12")


AWAY_MIN = {"greylisting": 5, "an hour": 60, "a day": 24 * 60}


def accepted_after_min(away_min: int, seed: int) -> int:
    """Return when a message is accepted by a server that is back after some minutes [min]."""
    home = house(Outcome.LATER)
    home.rng = random.Random(seed)
    home.queue(expires_at=DAWN + timedelta(days=3))
    for minute in range(3 * 24 * 60):
        if minute == away_min:
            home.channel.answers = [Outcome.ACCEPTED]
        home.drain()
        if home.rows[0].state is OutboxState.ACCEPTED:
            return minute
        home.clock.advance(timedelta(minutes=1))
    raise AssertionError(f"never accepted, though the server was back after {away_min} min")


@pytest.mark.parametrize(("away", "most_min"), [("greylisting", 10), ("an hour", 150)])
def test_a_server_that_is_back_gets_the_message_soon(away: str, most_min: int) -> None:
    """Greylisted mail within 10 min; after an hour away no later than the next long wait."""
    latest = max(accepted_after_min(AWAY_MIN[away], seed) for seed in range(50))
    record(6, f"away for {away}: accepted after, most", latest, "min", target=f"<= {most_min}")


def test_a_server_that_is_back_after_a_day_gets_what_is_still_useful() -> None:
    """No later than one longest wait of 8 h, with its tenth, after the server is back."""
    latest = max(accepted_after_min(AWAY_MIN["a day"], seed) for seed in range(50))
    record(6, "away for a day: accepted after, most", latest, "min", target="<= 1968")


def test_a_server_that_never_comes_back_ends_in_words_and_not_in_silence() -> None:
    """Every message expires with its reason and waits to be told on another way."""
    home = house(Outcome.LATER)
    for number in range(3):
        home.queue(occasion=f"alert {number}", expires_at=DAWN + timedelta(hours=13 + number))
    for _ in range(16 * 60):
        home.drain()
        home.clock.advance(timedelta(minutes=1))
    ended = [row for row in home.rows if row.state is OutboxState.EXPIRED and row.detail]
    waiting = {row.unique_key for row in home.store.unsurfaced()}
    silent = [row for row in home.rows if row not in ended or row.unique_key not in waiting]
    record(6, "away for ever: messages expired with a reason", len(ended), target="= 3")
    record(6, "away for ever: ended in silence", len(silent), target="= 0")


def test_an_accepted_message_is_recorded_and_never_sent_again() -> None:
    """One send, one journal row, and nothing is due."""
    home = house()
    home.queue()
    report = home.drain()
    assert report.count(OutboxState.ACCEPTED) == 1
    home.clock.advance(timedelta(days=30))
    assert home.drain().results == ()
    assert len(home.channel.sent) == 1
    assert home.deliveries == ["accepted"]
    assert home.channel.closed == 2


def test_the_claim_is_on_disk_before_anything_is_sent() -> None:
    """While the channel works, the store already says sending, first attempt."""
    home = house()
    seen: list[tuple[OutboxState, int]] = []
    home.channel.before = lambda: seen.append((home.rows[0].state, home.rows[0].attempts))
    home.queue()
    home.drain()
    assert seen == [(OutboxState.SENDING, 1)]


def test_a_message_is_recorded_before_the_channel_is_closed() -> None:
    """QUIT happens in close, so the record comes first."""
    home = house()
    home.queue()
    seen: list[OutboxState] = []
    home.channel.close = lambda: seen.append(home.rows[0].state)  # type: ignore[method-assign]
    home.drain()
    assert seen == [OutboxState.ACCEPTED]


@pytest.mark.parametrize("outcome", [Outcome.LATER, Outcome.UNKNOWN])
def test_what_is_not_surely_accepted_goes_out_again_with_the_same_bytes(outcome: Outcome) -> None:
    """Not before its time, and then the same Message-ID and body."""
    home = house(outcome, Outcome.ACCEPTED)
    home.queue()
    home.drain()
    assert home.rows[0].state.value == outcome.value
    home.clock.advance(timedelta(seconds=53))
    assert home.drain().results == ()
    home.clock.advance(timedelta(seconds=14))
    assert home.drain().count(OutboxState.ACCEPTED) == 1
    first, second = home.channel.sent
    assert (first.message_id, first.body) == (second.message_id, second.body)
    assert (first.attempts, second.attempts) == (1, 2)


def test_a_refusal_for_good_ends_it_and_waits_to_be_told() -> None:
    """No second attempt; the row is among those to surface."""
    home = house(Outcome.FOR_GOOD)
    home.queue()
    home.drain()
    home.clock.advance(timedelta(days=1))
    home.drain()
    assert len(home.channel.sent) == 1
    assert [row.state for row in home.store.unsurfaced()] == [OutboxState.FOR_GOOD]
    assert home.deliveries == ["for-good"]


@pytest.mark.parametrize(("before_s", "state"), [(1, "accepted"), (0, "expired"), (-1, "expired")])
def test_a_message_expires_at_its_moment(before_s: int, state: str) -> None:
    """A second before it is still sent; at the moment and after it is not."""
    home = house()
    home.queue()
    home.clock.advance(timedelta(hours=13, seconds=-before_s))
    home.drain()
    assert home.rows[0].state.value == state
    assert len(home.channel.sent) == (1 if state == "accepted" else 0)
    assert home.deliveries == [state]


def test_the_last_retry_is_no_later_than_the_expiry() -> None:
    """An expired message is recorded on time, with what was last heard."""
    home = house(Outcome.LATER)
    home.queue(expires_at=DAWN + timedelta(minutes=30))
    for _ in range(31):
        home.drain()
        home.clock.advance(timedelta(minutes=1))
    assert home.rows[0].state is OutboxState.EXPIRED
    assert "later said" in home.rows[0].detail
    assert [row.state for row in home.store.unsurfaced()] == [OutboxState.EXPIRED]


def test_an_expired_message_of_unknown_fate_says_so() -> None:
    """It may have arrived."""
    home = house(Outcome.UNKNOWN)
    home.queue()
    home.drain()
    home.clock.advance(timedelta(hours=14))
    home.drain()
    assert "may have arrived" in home.rows[0].detail


def test_what_a_crash_left_in_sending_is_sent_again() -> None:
    """The row counts as unknown: same key, same bytes, one more attempt."""
    home = house()
    home.queue()
    row = home.rows[0]
    home.store.move(
        row.unique_key, OutboxState.SENDING, attempts=1, next_attempt_at=DAWN, detail=""
    )
    home.drain()
    assert home.rows[0].state is OutboxState.ACCEPTED
    assert home.rows[0].attempts == 2
    assert home.channel.sent[0].body == row.body


def test_a_settings_problem_is_tried_once_an_hour_however_many_wait() -> None:
    """Five messages, one login an hour, all kept; mending lets all of them out."""
    wrong = Delivery(Outcome.LATER, "wrong password", settings_problem=True)
    home = house(wrong)
    for number in range(5):
        home.queue(occasion=str(number))
    for _ in range(180):
        home.drain()
        home.clock.advance(timedelta(minutes=1))
    assert len(home.channel.sent) <= 3
    home.channel.answers = [Outcome.ACCEPTED]
    home.memory.wake()
    home.clock.advance(timedelta(hours=9))
    home.drain()
    assert {row.state for row in home.rows} == {OutboxState.ACCEPTED}


def test_a_settings_problem_is_reported() -> None:
    """The report names the row and what was said."""
    home = house(Delivery(Outcome.LATER, "wrong password", settings_problem=True))
    home.queue()
    problems = home.drain().settings_problems
    assert [problem.detail for problem in problems] == ["wrong password"]
    assert home.rows[0].next_attempt_at >= DAWN + timedelta(hours=1)


def test_expiry_goes_on_while_a_channel_rests() -> None:
    """A message that nobody may send still ends on time."""
    home = house(Delivery(Outcome.LATER, "wrong password", settings_problem=True))
    home.queue()
    home.drain()
    home.queue(occasion="short", expires_at=DAWN + timedelta(minutes=5))
    home.clock.advance(timedelta(minutes=6))
    assert home.drain().count(OutboxState.EXPIRED) == 1
    assert len(home.channel.sent) == 1


def test_a_defect_in_a_channel_costs_only_its_own_message() -> None:
    """The other message goes out, and the detail does not repeat what the defect said."""
    home = house(RuntimeError("secret"), Outcome.ACCEPTED)
    home.queue()
    home.queue(occasion="second")
    report = home.drain()
    assert [result.state for result in report.results] == [
        OutboxState.UNKNOWN,
        OutboxState.ACCEPTED,
    ]
    assert "secret" not in home.rows[0].detail


class FullStore(MemoryStore):
    """A store whose disk is full for chosen states."""

    refuse: set[OutboxState] = set()  # noqa: RUF012

    def move(self, unique_key, state, **rest) -> None:  # type: ignore[no-untyped-def]
        if state in self.refuse:
            raise OperationalError("The store is full.")
        super().move(unique_key, state, **rest)


def test_what_cannot_be_recorded_is_not_sent() -> None:
    """With a full disk at the claim, nothing leaves the house and the report says why."""
    home = house()
    home.store = FullStore()
    home.store.refuse = {OutboxState.SENDING}
    home.queue()
    report = home.drain()
    assert report.trouble == "The store is full."
    assert home.channel.sent == []
    home.store.refuse = set()
    assert home.drain().count(OutboxState.ACCEPTED) == 1


def test_an_outcome_that_the_disk_refused_is_recorded_later_and_not_sent_again() -> None:
    """The memory of the process bridges a full disk; no double while it lasts."""
    home = house()
    home.store = FullStore()
    home.store.refuse = {OutboxState.ACCEPTED}
    home.queue()
    home.queue(occasion="second")
    for _ in range(3):
        assert home.drain().trouble
    assert len(home.channel.sent) == 1
    home.store.refuse = set()
    home.drain()
    assert {row.state for row in home.rows} == {OutboxState.ACCEPTED}
    assert len(home.channel.sent) == 2
    assert home.deliveries == ["accepted", "accepted"]


def test_a_channel_is_drained_by_one_thread_at_a_time() -> None:
    """The second thread is told that the channel is busy and sends nothing."""
    home = house()
    home.queue()
    inner: list[bool] = []
    home.channel.before = lambda: inner.append(home.drain().is_busy)
    home.drain()
    assert inner == [True]
    assert len(home.channel.sent) == 1
    assert not home.drain().is_busy


def test_stopping_ends_the_pass_between_two_messages() -> None:
    """What was begun is finished, what was not stays due."""
    home = house()
    home.queue()
    home.queue(occasion="second")
    sender = Sender(home.clock, home.rng)

    def stop() -> None:
        sender.is_stopping = True

    home.channel.before = stop
    sender.deliver_due(home.store, home.channel)
    assert [row.state for row in home.rows] == [OutboxState.ACCEPTED, OutboxState.DUE]
    assert home.channel.closed == 1


def test_a_clock_that_goes_back_makes_no_double() -> None:
    """An accepted message stays accepted an hour, a day and a year earlier."""
    home = house()
    home.queue()
    home.drain()
    for back in (timedelta(hours=1), timedelta(days=1), timedelta(days=365)):
        home.clock.jump(-back)
        home.queue()
        assert home.drain().results == ()
    assert len(home.channel.sent) == 1


def test_one_message_is_one_row_of_the_store(tmp_path: object) -> None:
    """Queueing the same notice again adds nothing, even with another text."""
    home = house()
    home.queue()
    home.queue(text="changed\n")
    assert len(home.rows) == 1
    assert b"500 g" in home.rows[0].body


def test_a_moment_of_the_settled_row_is_that_of_the_clock() -> None:
    """The journal row carries when the outcome was known."""
    home = house()
    home.queue()
    home.channel.before = lambda: home.clock.advance(timedelta(seconds=30))
    home.drain()
    at: datetime = home.store.journal(GARDEN)[0].at
    assert at == DAWN + timedelta(seconds=30)


def tried(minutes: float, state: OutboxState = OutboxState.LATER) -> AttemptResult:
    (row,) = queue(notice(), [ScriptedChannel()], DAWN, MemoryStore().secret)
    at = DAWN + timedelta(minutes=minutes)
    return AttemptResult(row, state, DAWN, at, Delivery(Outcome.LATER))


def test_the_daemon_wakes_for_the_next_attempt_and_not_a_moment_before() -> None:
    """Else a message that was tried in vain would wait for the beat as well."""
    memory, clock = Memory(), FakeClock()
    memory.await_next((tried(2), tried(1), tried(9, OutboxState.ACCEPTED)), clock)
    now_s = clock.monotonic()
    assert memory.wait_s(now_s) == pytest.approx(60 + SURELY_DUE_S)
    assert memory.wait_s(now_s + 60 + SURELY_DUE_S) == pytest.approx(60)
    assert memory.wait_s(now_s + 120 + SURELY_DUE_S) == float("inf")


def test_next_attempts_of_a_great_outage_cost_no_memory() -> None:
    """The nearest are kept; the rest are found at a beat."""
    memory, clock = Memory(), FakeClock()
    for minutes in range(3 * MOST_NEXT_ATTEMPTS, 0, -1):
        memory.await_next((tried(minutes),), clock)
    assert len(memory._next_attempts_s) == MOST_NEXT_ATTEMPTS
    assert memory.wait_s(clock.monotonic()) == pytest.approx(60 + SURELY_DUE_S)


def test_an_attempt_that_never_left_the_machine_is_made_again_soon_and_not_counted() -> None:
    """The disk was full for a minute: nobody was called, so nobody has to be spared."""
    store, clock = MemoryStore(), FakeClock()
    channel = ScriptedChannel([Delivery(Outcome.LATER, "No room.", own_trouble=True)])
    store.enqueue(queue(notice(), [channel], clock.now(), store.secret))
    for _ in range(20):
        Sender(clock, random.Random(1)).deliver_due(store, channel)
        clock.advance(timedelta(seconds=OWN_TROUBLE_RETRY_S))
    assert len(channel.sent) == 20
    channel.answers = [Outcome.LATER]
    before = clock.now()
    Sender(clock, random.Random(1)).deliver_due(store, channel)
    (row,) = store.outbox(GARDEN, date.min)
    assert row.attempts == 1
    assert timedelta(0) < row.next_attempt_at - before <= timedelta(minutes=1.1)
