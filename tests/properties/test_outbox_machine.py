"""The outbox under a hostile world: crashes anywhere, any answer, clocks that jump.

The world keeps its own truth: what was promised, and what a sink has really accepted. After
everything has calmed down, nothing promised is missing, nothing was invented, a double happens
only where the fate was unknown, and every double has the same bytes.
"""

from __future__ import annotations

import random
from dataclasses import dataclass, field
from datetime import date, timedelta

from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, precondition, rule

from strawbell.app.outbox import Memory, Sender, queue
from strawbell.errors import OperationalError
from strawbell.model.journal import EntryKind
from strawbell.model.notice import Delivery, Notice, NoticeKind, OutboxRow, OutboxState, Outcome
from support.fake_clock import FakeClock
from support.memory_store import MemoryStore

GARDEN = "Orchard corner"
FINAL = {OutboxState.ACCEPTED, OutboxState.FOR_GOOD, OutboxState.EXPIRED}


class Killed(BaseException):
    """The process is gone from one instant to the next."""


@dataclass
class Sink:
    """What the grower really got."""

    accepted: list[OutboxRow] = field(default_factory=list)
    allowed_doubles: dict[str, int] = field(default_factory=dict)

    def accept(self, row: OutboxRow) -> None:
        self.accepted.append(row)

    def unsure(self, row: OutboxRow) -> None:
        """The daemon cannot know that this one was accepted."""
        self.allowed_doubles[row.unique_key] = self.allowed_doubles.get(row.unique_key, 0) + 1


@dataclass
class Plan:
    """What the world does next: how servers answer, and at which step the process dies."""

    answers: list[str] = field(default_factory=list)
    kill_at: int | None = None
    full_at: int | None = None
    steps: int = 0

    def step(self) -> None:
        """One place where a process can die."""
        self.steps += 1
        if self.steps == self.kill_at:
            raise Killed

    def disk(self) -> None:
        """One place where a disk can be full."""
        if self.full_at is not None and self.steps >= self.full_at:
            raise OperationalError("The disk is full.")


class MortalStore(MemoryStore):
    """What is committed survives; the process may die just before or just after."""

    plan: Plan = Plan()

    def move(self, unique_key, state, **rest) -> None:  # type: ignore[no-untyped-def]
        if self._inside:
            super().move(unique_key, state, **rest)
            return
        self.plan.step()
        self.plan.disk()
        super().move(unique_key, state, **rest)
        self.plan.step()

    def together(self):  # type: ignore[no-untyped-def]
        return _Mortal(self, super().together())

    def due(self, now, channels):  # type: ignore[no-untyped-def]
        self.plan.step()
        return super().due(now, channels)


class _Mortal:
    """A transaction that can be cut off before its commit, and a process after it."""

    def __init__(self, store: MortalStore, block: object) -> None:
        self.store, self.block = store, block
        self.outermost = False

    def __enter__(self) -> None:
        self.outermost = self.store._inside == 0
        self.block.__enter__()  # type: ignore[attr-defined]

    def __exit__(self, kind, error, trace):  # type: ignore[no-untyped-def]
        if kind is None and self.outermost and self.store.plan.steps:
            try:
                self.store.plan.step()
                self.store.plan.disk()
            except BaseException as killed:
                self.block.__exit__(type(killed), killed, None)  # type: ignore[attr-defined]
                raise
        done = self.block.__exit__(kind, error, trace)  # type: ignore[attr-defined]
        if kind is None and self.outermost and self.store.plan.steps:
            self.store.plan.step()
        return done


@dataclass
class MortalChannel:
    """A server that answers as planned, and a wire that can be cut before and after it."""

    name: str
    sink: Sink
    plan: Plan
    recipients: tuple[str, ...] = ("a@example.org", "b@example.org")

    def render(self, notice: Notice, recipient: str, message_id: str) -> bytes:
        return f"{message_id}\n{recipient}\n{notice.text}".encode()

    def send(self, row: OutboxRow) -> Delivery:
        self.plan.step()
        answer = self.plan.answers.pop(0) if self.plan.answers else "accepted"
        if answer == "accepted":
            self.sink.accept(row)
            self._die_after_acceptance(row)
            return Delivery(Outcome.ACCEPTED)
        if answer == "accepted-unknown":
            self.sink.accept(row)
            self.sink.unsure(row)
            return Delivery(Outcome.UNKNOWN, "no answer")
        if answer == "raises":
            raise RuntimeError("defect")
        if answer == "settings":
            return Delivery(Outcome.LATER, "wrong password", settings_problem=True)
        return Delivery(Outcome(answer), answer)

    def _die_after_acceptance(self, row: OutboxRow) -> None:
        try:
            self.plan.step()
        except Killed:
            self.sink.unsure(row)
            raise

    def close(self) -> None:
        self.plan.step()


ANSWERS = st.lists(
    st.sampled_from(
        ["accepted", "later", "unknown", "accepted-unknown", "for-good", "settings", "raises"]
    ),
    max_size=6,
)


class OutboxMachine(RuleBasedStateMachine):
    """Rules are what the world can do; the checks hold after each of them."""

    def __init__(self) -> None:
        super().__init__()
        self.store = MortalStore()
        self.store.plan = Plan()
        self.clock = FakeClock()
        self.sink = Sink()
        self.rng = random.Random(1)
        self.memory = Memory()
        self.promised: dict[str, bytes] = {}
        self.notices = 0
        self.begun_at_kill: set[str] = set()

    def channels(self, plan: Plan) -> list[MortalChannel]:
        return [MortalChannel(name, self.sink, plan) for name in ("email", "folder")]

    def rows(self) -> dict[str, OutboxRow]:
        return {row.unique_key: row for row in self.store.outbox(GARDEN, date.min)}

    def one_pass(self, plan: Plan) -> None:
        self.store.plan = plan
        try:
            for channel in self.channels(plan):
                Sender(self.clock, self.rng, self.memory).deliver_due(self.store, channel)
        except Killed:
            # Whoever was accepted and is not on disk as accepted may come twice.
            rows = self.rows()
            for row in self.sink.accepted:
                if rows[row.unique_key].state is OutboxState.SENDING:
                    self.sink.allowed_doubles[row.unique_key] = max(
                        self.sink.allowed_doubles.get(row.unique_key, 0),
                        sum(one.unique_key == row.unique_key for one in self.sink.accepted),
                    )
            self.memory = Memory()
        finally:
            self.store.plan = Plan()

    @rule(hours=st.integers(1, 48), again=st.booleans())
    def queue_notice(self, hours: int, again: bool) -> None:
        """A brief is written, or the same one once more with another text."""
        if not (again and self.notices):
            self.notices += 1
        notice = Notice(
            garden=GARDEN,
            local_date=date(2027, 4, 9),
            kind=NoticeKind.MORNING,
            occasion=str(self.notices),
            subject="s",
            text=f"text {self.notices} {again}",
            html="",
            short="",
            created_at=self.clock.now(),
            expires_at=self.clock.now() + timedelta(hours=hours),
        )
        rows = queue(notice, self.channels(Plan()), self.clock.now(), self.store.secret)
        self.store.enqueue(rows)
        for row in rows:
            self.promised.setdefault(row.unique_key, row.body)

    @rule(answers=ANSWERS)
    def drain(self, answers: list[str]) -> None:
        """A pass with a server in any mood."""
        self.one_pass(Plan(answers=answers))

    @rule(answers=ANSWERS, kill_at=st.integers(1, 40))
    def drain_and_die(self, answers: list[str], kill_at: int) -> None:
        """The process dies at any step of a pass and starts again."""
        self.one_pass(Plan(answers=answers, kill_at=kill_at))

    @rule(answers=ANSWERS, full_at=st.integers(1, 20))
    def drain_on_a_full_disk(self, answers: list[str], full_at: int) -> None:
        """From some step on nothing can be recorded; the process lives on."""
        self.one_pass(Plan(answers=answers, full_at=full_at))

    @rule(minutes=st.integers(1, 2000))
    def time_passes(self, minutes: int) -> None:
        """Both clocks go on."""
        self.clock.advance(timedelta(minutes=minutes))

    @rule(hours=st.integers(-48, 48))
    def wall_clock_jumps(self, hours: int) -> None:
        """Only the wall clock moves."""
        self.clock.jump(timedelta(hours=hours))

    @precondition(lambda self: self.promised)
    @rule()
    def restart(self) -> None:
        """What only the process knew is forgotten."""
        rows = self.rows()
        for row in self.sink.accepted:
            if rows[row.unique_key].state is OutboxState.SENDING:
                self.sink.allowed_doubles[row.unique_key] = max(
                    self.sink.allowed_doubles.get(row.unique_key, 0),
                    sum(one.unique_key == row.unique_key for one in self.sink.accepted),
                )
        self.memory = Memory()

    @invariant()
    def nothing_is_invented(self) -> None:
        """I3: only what was promised was accepted, with the very bytes of the promise."""
        for row in self.sink.accepted:
            assert self.promised[row.unique_key] == row.body
            assert row.message_id.encode() in row.body

    @invariant()
    def nothing_promised_has_disappeared(self) -> None:
        """I1 while running: each promise is a row."""
        assert set(self.rows()) == set(self.promised)

    @invariant()
    def sent_is_only_said_of_what_was_accepted(self) -> None:
        """I2: rows and journal claim acceptance only for what the sink has."""
        accepted = {row.unique_key for row in self.sink.accepted}
        ids = {row.message_id for row in self.sink.accepted}
        for key, row in self.rows().items():
            if row.state is OutboxState.ACCEPTED:
                assert key in accepted
        for entry in self.store.journal(GARDEN):
            if entry.kind is EntryKind.DELIVERY and entry.state == "accepted":
                assert entry.data["message_id"] in ids

    @invariant()
    def doubles_happen_only_where_the_fate_was_unknown(self) -> None:
        """I4: no double without a kill or a missing answer behind it."""
        for key in self.promised:
            times = sum(row.unique_key == key for row in self.sink.accepted)
            assert times <= 1 + self.sink.allowed_doubles.get(key, 0)

    @invariant()
    def failures_are_never_silent(self) -> None:
        """I5: what ended badly waits to be told."""
        failed = {
            key
            for key, row in self.rows().items()
            if row.state in {OutboxState.FOR_GOOD, OutboxState.EXPIRED}
        }
        assert {row.unique_key for row in self.store.unsurfaced()} == failed

    def teardown(self) -> None:
        """The world calms down: everything comes to an end, and the promise holds."""
        for _ in range(40):
            self.one_pass(Plan())
            self.clock.advance(timedelta(hours=9))
            if all(row.state in FINAL for row in self.rows().values()):
                break
        accepted = {row.unique_key for row in self.sink.accepted}
        for key, row in self.rows().items():
            assert row.state in FINAL
            assert key in accepted or row.state in {OutboxState.FOR_GOOD, OutboxState.EXPIRED}
        self.doubles_happen_only_where_the_fate_was_unknown()
        super().teardown()


TestOutboxMachine = OutboxMachine.TestCase
TestOutboxMachine.settings = settings(max_examples=60, stateful_step_count=30)
