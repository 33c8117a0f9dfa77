"""A season of one garden in which everything goes wrong now and then, by a seeded die.

As a program: `long_run.py SEED DAYS FOLDER mortal|immortal`. It lives the days with the real
pipeline, outbox and store on a clock that only moves when told, calms down for a fortnight, and
prints as JSON what became of every promise. An immortal process is never killed, so that what
it needs in memory at the end can be compared with what it needed in the beginning.
"""

from __future__ import annotations

import gc
import hashlib
import json
import os
import random
import resource
import sqlite3
import sys
from collections import Counter
from collections.abc import Iterator
from contextlib import closing, contextmanager, suppress
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from pathlib import Path

from msgspec.structs import replace

from strawbell.app.daemon import BEAT_S, Daemon
from strawbell.app.outbox import SETTINGS_RETRY_MIN, Sender
from strawbell.app.pipeline import Pipeline
from strawbell.app.trouble import TROUBLED_BEAT_S
from strawbell.decision.hold_judgement import FREEZE_HOLDS_DAYS, RAIN_HOLDS_DAYS
from strawbell.edges.store import connection as store_connection
from strawbell.edges.store.rows import JOURNAL_COLUMNS, journal_entry
from strawbell.edges.store.sqlite_store import SqliteStore
from strawbell.errors import OperationalError
from strawbell.model.brief import Action, ReasonCode, State
from strawbell.model.forecast import Forecast, Hour
from strawbell.model.garden import Place
from strawbell.model.journal import EntryKind, JournalEntry
from strawbell.model.notice import Delivery, Notice, NoticeKind, OutboxRow, OutboxState, Outcome
from strawbell.words.catalogue import BRITISH
from support.fake_clock import FakeClock
from support.gardens import START, at, batch, forecast, garden, planting
from support.simulated_daemon import StillBell

CALM_DAYS = 14
CONVERSATION_S = (0.2, 3.0)
"""How long an attempt takes [s]; servers that hang are the matter of row 5."""
START_S = 1.0
"""From a kill to the first beat of the next process [s]."""
BELL_S = 0.1
"""From a bell to the beat [s]."""
LOOKS = (time(6, 30), time(7, 15), time(12), time(16), time(18, 30), time(20, 45))
WAITING = (OutboxState.DUE, OutboxState.LATER, OutboxState.UNKNOWN, OutboxState.SENDING)
EASY = {"accepted": 1.0}
HARD = {
    "accepted": 0.66,
    "later": 0.12,
    "unknown": 0.06,
    "accepted-unknown": 0.08,
    "raises": 0.02,
    "settings": 0.03,
    "for-good": 0.03,
}
NO_LIMIT_PAGES = 1_073_741_823
WET_MM, WET_CHANCE_PERCENT, FREEZE_C = 20.0, 90.0, -2.0
"""Weather on which nobody could differ: far beyond each threshold of holding."""


class Killed(BaseException):
    """The process is gone from one instant to the next."""


@dataclass
class Fate:
    """The die, and what it has thrown for the look that is being taken."""

    rng: random.Random
    answers: dict[str, float] = field(default_factory=lambda: dict(EASY))
    kill_at: int | None = None
    steps: int = 0

    def step(self) -> None:
        """Stand where a process can die."""
        self.steps += 1
        if self.steps == self.kill_at:
            raise Killed

    def answer(self) -> str:
        """Throw for what a server answers."""
        return self.rng.choices(list(self.answers), list(self.answers.values()))[0]


class MortalStore(SqliteStore):
    """The real store in a process that may die before or after each commit."""

    fate: Fate | None = None

    @contextmanager
    def together(self) -> Iterator[None]:
        """Make all writes one transaction, if the process lives that long."""
        outermost = self._inside == 0 and self.fate is not None
        with super().together():
            yield
            if outermost:
                self.fate.step()
        if outermost:
            self.fate.step()


@dataclass
class Punctuality:
    """How long after it was due each message was accepted, and what excuses a delay."""

    clock: FakeClock
    late_s: list[float] = field(default_factory=list)
    worst: tuple[float, str] = (0.0, "")
    excused_until_s: float = 0.0
    """When the last hindrance was over, on the monotonic clock."""
    clock_is_right: bool = True
    """By a wrong clock nothing is due at a moment that could be named; row 11 holds those."""

    def excuse(self, until_s: float | None = None) -> None:
        """Note that a hindrance is over, now or at a moment to come."""
        over_s = self.clock.monotonic() if until_s is None else until_s
        self.excused_until_s = max(self.excused_until_s, over_s)

    def accepted(self, row: OutboxRow) -> None:
        """Take in a message that a server accepted just now."""
        if not self.clock_is_right:
            return
        now, now_s = self.clock.now(), self.clock.monotonic()
        due = row.next_attempt_at
        if row.kind is NoticeKind.MORNING and row.attempts == 1:
            due = min(due, at(row.local_date))
        due_s = now_s - (now - due).total_seconds()
        late_s = now_s - max(due_s, self.excused_until_s)
        self.late_s.append(max(late_s, 0.0))
        self.worst = max(self.worst, (late_s, f"{row.unique_key} at {now:%m-%d %H:%M:%S}"))


class Sink:
    """What the grower really got, on disk, so that it costs the process no memory."""

    def __init__(self, path: Path) -> None:
        self._file = path.open("ab", buffering=0)
        self.path = path
        self.taken: Counter[str] = Counter()

    def accept(self, row: OutboxRow) -> None:
        digest = hashlib.sha256(row.body).hexdigest()
        line = {"key": row.unique_key, "id": row.message_id, "digest": digest}
        self._file.write(json.dumps({**line, "text": row.body.decode()}).encode() + b"\n")
        os.fsync(self._file.fileno())
        self.taken[row.unique_key] += 1

    def accepted(self) -> list[dict[str, str]]:
        return [json.loads(line) for line in self.path.read_bytes().splitlines()]


@dataclass
class MoodyChannel:
    """A server that answers by the die."""

    name: str
    fate: Fate
    sink: Sink
    counts: Counter[str]
    allowed: Counter[str]
    punctuality: Punctuality

    @property
    def recipients(self) -> tuple[str, ...]:
        return (f"{self.name}@example.org",)

    def render(self, notice: Notice, recipient: str, message_id: str) -> bytes:
        text = " ".join(notice.text.split())
        return f"{message_id} {recipient} {notice.subject}: {text}".encode()

    def send(self, row: OutboxRow) -> Delivery:
        self.fate.step()
        answer = self.fate.answer()
        self.counts[answer] += 1
        self.punctuality.clock.advance(timedelta(seconds=self.fate.rng.uniform(*CONVERSATION_S)))
        if answer == "settings":
            rest_s = SETTINGS_RETRY_MIN * 60.0
            self.punctuality.excuse(self.punctuality.clock.monotonic() + rest_s)
        if answer.startswith("accepted"):
            self.punctuality.accepted(row)
            self.sink.accept(row)
            if answer == "accepted-unknown":
                self.allowed[row.unique_key] += 1
            else:
                self.fate.step()
        if answer == "raises":
            raise RuntimeError("a defect of the channel")
        if answer == "settings":
            return Delivery(Outcome.LATER, "wrong password", settings_problem=True)
        outcome = {"accepted-unknown": "unknown"}.get(answer, answer)
        return Delivery(Outcome(outcome), answer)

    def close(self) -> None:
        self.fate.step()


class Weather:
    """The weather of a season by the seed, and a service that sometimes has none of it."""

    def __init__(self, rng: random.Random, days: int) -> None:
        self.kinds = {
            START + timedelta(days=day): rng.choices(
                ["fair", "wet", "freeze"], [0.7, 0.2, 0.1 if day < 60 else 0.0]
            )[0]
            for day in range(-2, days + 30)
        }
        self.state = "well"
        self.seen: Forecast | None = None

    def hour(self, hour: Hour) -> Hour:
        kind = self.kinds.get(hour.starts_at.date(), "fair")
        clock = hour.starts_at.hour
        swing = 22.0 - abs(14 - clock) * 0.7
        if kind == "wet" and 9 <= clock < 13:
            return replace(
                hour,
                rain_mm=WET_MM / 2,
                rain_chance_percent=WET_CHANCE_PERCENT,
                temperature_c=swing - 6.0,
            )
        if kind == "freeze":
            return replace(hour, temperature_c=FREEZE_C if clock < 6 else swing - 10.0)
        return replace(hour, temperature_c=swing)

    def ask(self, place: Place, now: datetime) -> tuple[Forecast | None, tuple[str, ...]]:
        self.seen = None
        if self.state == "none":
            return None, ("The service is down.",)
        issued = now - timedelta(hours=20) if self.state == "stale" else now
        self.seen = forecast(issued, self.hour, days=9)
        return self.seen, () if self.state == "well" else ("The service is late.",)

    def must_hold_days(self, now: datetime) -> int:
        """Return how many days a feeding has to wait for the next 24 h, far from every threshold.

        Two for rain and one for a freeze at most; what has waited so long is fed.
        """
        assert self.seen is not None
        soon = [
            hour
            for hour in self.seen.hours
            if now + timedelta(hours=1) <= hour.starts_at <= now + timedelta(hours=22)
        ]
        wet = sum(
            hour.rain_mm or 0.0
            for hour in soon
            if (hour.rain_chance_percent or 0.0) >= WET_CHANCE_PERCENT
        )
        freezes = min(hour.temperature_c or 0.0 for hour in soon) <= FREEZE_C
        return RAIN_HOLDS_DAYS if wet >= WET_MM else FREEZE_HOLDS_DAYS if freezes else 0


class Manager:
    """No service manager."""

    watchdog_interval_s = None

    def ready(self, status: str = "") -> None: ...
    def status(self, text: str) -> None: ...
    def watchdog(self) -> None: ...
    def reloading(self, monotonic_s: float) -> None: ...
    def stopping(self, status: str = "") -> None: ...


class Season:
    """The garden, its daemon, and the world that is against it."""

    def __init__(self, seed: int, days: int, folder: Path, *, mortal: bool) -> None:
        self.mortal = mortal
        self.rng = random.Random(seed)
        self.days = days
        self.path = folder / "strawbell.db"
        self.clock = FakeClock(at(START))
        self.fate = Fate(self.rng)
        self.sink = Sink(folder / "sink")
        self.punctuality = Punctuality(self.clock)
        self.weather = Weather(self.rng, days)
        self.counts: Counter[str] = Counter()
        self.allowed: Counter[str] = Counter()
        self.promised: set[str] = set()
        self.wrong_advice: list[str] = []
        self.memory_kib: dict[int, int] = {}
        self.files: dict[int, int] = {}
        self.marks: dict[int, str] = {}
        self.yesterday = self.today = 0
        self.refused = self.is_new = self.has_jumped = False
        self.channels = tuple(
            MoodyChannel(name, self.fate, self.sink, self.counts, self.allowed, self.punctuality)
            for name in ("email", "desktop")
        )
        self.plan = garden(batch(plantings=(planting(),)))
        self.start()

    def start(self) -> None:
        """Begin a process on whatever is on disk."""
        self.store = MortalStore(self.path, self.clock.now(), owner=True)
        assert self.store.incident == ""
        self.store.fate = self.fate
        sender = Sender(self.clock, random.Random(self.rng.random()))
        pipeline = Pipeline((self.plan,), self.store, self.channels, self.weather.ask, sender)
        self.daemon = Daemon(pipeline, StillBell, self.store, Manager(), lambda line: None)

    def die(self) -> None:
        """Leave as a kill does: nothing is finished, nothing is written."""
        self.counts["kills"] += 1
        self.is_new = True
        self.store._connection.close()
        self.fate.kill_at = None
        self.start()
        # Whatever was accepted and is not on disk as accepted may come a second time.
        open_keys = self.store._connection.execute(
            "SELECT unique_key FROM outbox WHERE state NOT IN ('accepted', 'for-good', 'expired')"
        )
        for (key,) in open_keys.fetchall():
            self.allowed[key] = max(self.allowed[key], self.sink.taken[key])

    def rows(self) -> tuple[OutboxRow, ...]:
        return self.store.outbox(self.plan.name, date.min)

    def live(self) -> None:
        """Live every day of the season, then the calm ones."""
        day = 0
        while day < self.days + CALM_DAYS:
            on = START + timedelta(days=day)
            calm = day >= self.days
            if not calm and day > 1 and self.rng.random() < 0.02:
                down = self.rng.randrange(1, 5)
                self.counts["days down"] += down
                day += down
                self.clock.advance(at(START + timedelta(days=day), 5) - self.clock.now())
                self.punctuality.excuse()
                continue
            self.fate.answers = EASY if calm or self.rng.random() < 0.4 else HARD
            self.weather.state = (
                "well"
                if calm
                else self.rng.choices(["well", "none", "stale"], [0.75, 0.17, 0.08])[0]
            )
            newest = self.store._connection.execute("SELECT max(number) FROM journal").fetchone()[0]
            self.yesterday, self.today = self.today, newest or 0
            for moment in LOOKS:
                self.beat_until(at(on, moment.hour, moment.minute))
                self.look(at(on, moment.hour, moment.minute), calm)
            self.beat_until(at(on, 23, 50))
            self.answer_of_the_grower(on)
            with suppress(OperationalError):
                self.store.backup(self.clock.now())
            self.measure(day)
            day += 1

    def look(self, true_now: datetime, calm: bool) -> None:
        """Take one look, with a fault or without."""
        dice = self.rng.random()
        slip = timedelta(0)
        if not calm and dice < 0.03:
            slip = timedelta(minutes=self.rng.choice([-1500, -61, -1, 1, 61, 1500]))
            self.counts["clock steps"] += 1
        self.clock.advance(max(true_now - self.clock.wall, timedelta(0)))
        self.clock.wall += slip
        self.punctuality.clock_is_right = not slip
        self.fate.steps = 0
        self.fate.kill_at = None
        trouble = self.untroubled
        if self.mortal and not calm and 0.03 <= dice < 0.11:
            self.fate.kill_at = self.rng.randrange(1, 16)
        elif not calm and 0.11 <= dice < 0.14:
            trouble = self.full
        elif not calm and 0.14 <= dice < 0.17:
            trouble = self.locked
        with trouble():
            self.beat()
        self.fate.kill_at = None
        self.clock.wall -= slip
        self.has_jumped = bool(slip)
        self.punctuality.clock_is_right = True
        if slip or trouble != self.untroubled:
            self.punctuality.excuse()

    def beat(self) -> None:
        """Do what is due, and live on or not."""
        began = self.clock.now()
        try:
            runs = self.daemon.once()
            self.refused = any(each.trouble for run in runs for each in run.deliveries)
            self.check_advice(began, [each.on for run in runs for each in run.told])
        except OperationalError:
            self.counts["looks that the store refused"] += 1
            self.refused = True
        except Killed:
            self.die()
        if self.refused:
            self.punctuality.excuse()

    def beat_until(self, end: datetime) -> None:
        """Let the time pass, with every beat of the loop at which something waits."""
        while True:
            beat_at = self.clock.now() + timedelta(seconds=self.wait_s())
            wanted = self.next_wanted(beat_at)
            if wanted is None or beat_at >= end:
                self.clock.advance(max(end - self.clock.now(), timedelta(0)))
                return
            self.clock.advance(beat_at - self.clock.now())
            if wanted <= beat_at:
                self.beat()
                continue
            idle = (wanted - beat_at) // timedelta(seconds=BEAT_S)
            self.clock.advance(min(idle * timedelta(seconds=BEAT_S), end - beat_at))

    def wait_s(self) -> float:
        """Return how long the loop waits now.

        What fell due while another channel was sending has woken it; one after another is the way
        of this simulation, not of the daemon.
        """
        waits = [self.daemon.wait_s()]
        if self.is_new:
            waits.append(START_S)
        if self.refused:
            waits.append(TROUBLED_BEAT_S)
        now = self.clock.now()
        wanted = self.next_wanted(now)
        is_waiting = wanted is not None and wanted <= now
        if is_waiting and not self.refused and not self.has_jumped:
            waits.append(BELL_S)
        self.is_new = self.refused = self.has_jumped = False
        return min(waits)

    def next_wanted(self, beat_at: datetime) -> datetime | None:
        """Return when a beat next finds something to do, None when nothing waits."""
        if self.daemon._pipeline.due(beat_at):
            return beat_at
        states = ", ".join(f"'{state.value}'" for state in WAITING)
        memory = self.daemon._sender.memory
        rests = [
            channel.name
            for channel in self.channels
            if memory.rests(channel.name, self.clock.monotonic())
        ]
        marks = ", ".join("?" for _ in rests)
        found = self.store._connection.execute(
            f"SELECT min(next_attempt_at) FROM outbox WHERE state IN ({states})"
            f" AND channel NOT IN ({marks})",
            rests,
        ).fetchone()[0]
        moments = [datetime.fromisoformat(found)] if found is not None else []
        moments += [
            self.clock.now()
            + timedelta(
                seconds=self.daemon._sender.memory._resting_until_s[name] - self.clock.monotonic()
            )
            for name in rests
        ]
        return min(moments, default=None)

    @contextmanager
    def untroubled(self) -> Iterator[None]:
        yield

    @contextmanager
    def full(self) -> Iterator[None]:
        """Let the file grow no further: the database's own "disk full"."""
        self.counts["full disks"] += 1
        connection = self.store._connection
        pages = connection.execute("PRAGMA page_count").fetchone()[0]
        connection.execute(f"PRAGMA max_page_count = {pages}")
        try:
            yield
        finally:
            connection.execute(f"PRAGMA max_page_count = {NO_LIMIT_PAGES}")

    @contextmanager
    def locked(self) -> Iterator[None]:
        """Let somebody else hold the file."""
        self.counts["locked stores"] += 1
        other = sqlite3.connect(self.path, isolation_level=None)
        other.execute("BEGIN IMMEDIATE")
        try:
            yield
        finally:
            other.close()

    def check_advice(self, now: datetime, told_on: list[date]) -> None:
        """Compare a morning just told with the reference's judgement (I8)."""
        for entry in self.briefs():
            if entry.at != now or entry.local_date not in told_on:
                continue
            self.counts["mornings told"] += 1
            due = [
                task
                for task in entry.data["tasks"]  # type: ignore[union-attr]
                if (task["action"], task["state"]) == (Action.FEED.value, State.DUE.value)
            ]
            unmarked = [
                task
                for task in due
                if not {reason["code"] for reason in task["reasons"]}
                & {ReasonCode.NO_FORECAST.value, ReasonCode.STALE_FORECAST.value}
            ]
            if self.weather.state != "well" or self.weather.seen is None:
                self.counts["judged without a forecast"] += 1
                self.wrong_advice += [f"{entry.local_date} unmarked" for _ in unmarked]
            elif days := self.weather.must_hold_days(now):
                self.counts["judged as to be held"] += 1
                too_soon = [task for task in due if task["held_days"] < days]
                self.wrong_advice += [f"{entry.local_date} due" for _ in too_soon]

    def briefs(self) -> list[JournalEntry]:
        """Return the briefs of the day and the one before; the whole journal would cost memory."""
        with closing(sqlite3.connect(f"file:{self.path}?mode=ro", uri=True)) as reader:
            rows = reader.execute(
                f"SELECT {JOURNAL_COLUMNS} FROM journal"
                " WHERE kind = 'brief' AND number > ? ORDER BY number",
                (self.yesterday,),
            ).fetchall()
        return [journal_entry(row) for row in rows]

    def answer_of_the_grower(self, on: date) -> None:
        """Write down some of what was told as done, and now and then something else."""
        words = []
        for entry in self.briefs():
            if entry.local_date != on:
                continue
            for task in entry.data["tasks"]:  # type: ignore[union-attr]
                throw = self.rng.random()
                if task["state"] == State.DUE.value and throw < 0.8:
                    kind = EntryKind.DONE if throw < 0.75 else EntryKind.MISSED
                    words.append(
                        JournalEntry(
                            self.clock.now(),
                            self.plan.name,
                            on,
                            kind,
                            batch=task["batch"],
                            task=task["key"],
                        )
                    )
        if self.rng.random() < 0.1:
            words.append(
                JournalEntry(
                    self.clock.now(),
                    self.plan.name,
                    on,
                    EntryKind.TEMPERATURE,
                    batch="Row A",
                    value=self.rng.uniform(15.0, 50.0),
                )
            )
        self.store.write(words)

    def measure(self, day: int) -> None:
        """Read memory, open files, and a digest of the journal so far."""
        if day % 30 == 29 or day == self.days + CALM_DAYS - 1:
            gc.collect()
            pages = int(Path("/proc/self/statm").read_text(encoding="ascii").split()[1])
            self.memory_kib[day] = pages * resource.getpagesize() // 1024
            self.files[day] = len(list(Path("/proc/self/fd").iterdir()))
            self.marks[self.today] = self.digest(self.today)

    def digest(self, last: int) -> str:
        """Return a digest of the rows of the journal up to a number."""
        found = hashlib.sha256()
        rows = self.store._connection.execute(
            "SELECT * FROM journal WHERE number <= ? ORDER BY number", (last,)
        )
        for row in rows:
            found.update(repr(row).encode())
        return found.hexdigest()


def verdict(season: Season) -> dict[str, object]:
    """Return what became of every promise."""
    rows = {row.unique_key: row for row in season.rows()}
    journal = season.store.journal(season.plan.name)
    accepted = season.sink.accepted()
    taken = Counter(line["key"] for line in accepted)
    texts = "\n".join(line["text"] for line in accepted)
    failed = [r for r in rows.values() if r.state in {OutboxState.FOR_GOOD, OutboxState.EXPIRED}]
    doubled = {key: times - 1 for key, times in taken.items() if times > 1}
    unknown = season.counts["unknown"] + season.counts["accepted-unknown"] + season.counts["raises"]
    bytes_of = {key: {line["digest"] for line in accepted if line["key"] == key} for key in doubled}
    said = {
        entry.data["message_id"]
        for entry in journal
        if entry.kind is EntryKind.DELIVERY and entry.state == OutboxState.ACCEPTED.value
    }
    ids = {line["id"] for line in accepted}
    kept = [r for r in rows.values() if r.state is OutboxState.ACCEPTED]
    memory = [kib for day, kib in season.memory_kib.items() if day >= season.days // 3]
    season.store.close()
    size = season.path.stat().st_size
    hand = sqlite3.connect(season.path)
    space = dict(
        hand.execute(
            "SELECT kind, sum(coalesce(length(data), 0) + length(text)) FROM journal GROUP BY kind"
        ).fetchall()
    )
    space["bodies"] = hand.execute("SELECT sum(length(body)) FROM bodies").fetchone()[0]
    integrity = hand.execute("PRAGMA integrity_check").fetchone()[0]
    version = hand.execute("PRAGMA user_version").fetchone()[0]
    hand.close()
    return {
        "counts": dict(season.counts),
        "messages": len(rows),
        "accepted": len(taken),
        "failed": len(failed),
        "lost": len(lost_dates(season, journal)) + len(lost_messages(rows, journal, taken)),
        "lost examples": [str(one) for one in lost_dates(season, journal)[:5]]
        + lost_messages(rows, journal, taken)[:5],
        "falsely called sent": sum(r.unique_key not in taken for r in kept) + len(said - ids),
        "invented": sum(key not in rows for key in taken),
        "doubles": sum(doubled.values()),
        "doubles that had no cause": sum(
            times > season.allowed[key] for key, times in doubled.items()
        ),
        "doubles of other bytes": sum(len(found) != 1 for found in bytes_of.values()),
        "late s": sorted(round(late_s, 1) for late_s in season.punctuality.late_s),
        "latest": season.punctuality.worst,
        "unknown outcomes": unknown + season.counts["kills"],
        "silent failures": sum(not row.surfaced for row in failed)
        + sum(f'"{row.subject}" of {BRITISH.day(row.local_date)}' not in texts for row in failed),
        "still queued": sum(
            row.state in {OutboxState.DUE, OutboxState.SENDING} for row in rows.values()
        ),
        "wrong advice": len(season.wrong_advice),
        "wrong advice examples": season.wrong_advice[:5],
        "unsound": int(integrity != "ok") + int(version == 0),
        "changed history": sum(season_digest != now for season_digest, now in history(season)),
        "store bytes": size,
        "space": space,
        "memory KiB": season.memory_kib,
        "memory drift KiB": memory[-1] - memory[0],
        "open files": season.files,
        "open files grown": max(season.files.values()) - min(season.files.values()),
    }


def history(season: Season) -> Iterator[tuple[str, str]]:
    """Return each digest taken during the season beside that of the same rows now."""
    season.store = MortalStore(season.path, season.clock.now())
    for last, before in season.marks.items():
        yield before, season.digest(last)
    season.store.close()


def lost_dates(season: Season, journal: tuple[JournalEntry, ...]) -> list[date]:
    """Return the local dates with neither a morning nor a reason why there was none."""
    told = {e.local_date for e in journal if e.kind in {EntryKind.BRIEF, EntryKind.NOT_TOLD}}
    first = min(told)
    last = START + timedelta(days=season.days + CALM_DAYS - 1)
    dates = [first + timedelta(days=number) for number in range((last - first).days + 1)]
    return [on for on in dates if on not in told]


def lost_messages(
    rows: dict[str, OutboxRow], journal: tuple[JournalEntry, ...], taken: Counter[str]
) -> list[str]:
    """Return the mornings that had something to say and no message, and messages without an end."""
    wanted = {"email@example.org", "desktop@example.org"}
    lost = []
    for entry in journal:
        if entry.kind is not EntryKind.BRIEF:
            continue
        found = {
            row.recipient
            for row in rows.values()
            if row.local_date == entry.local_date and row.kind is NoticeKind.MORNING
        }
        data = entry.data
        if (data["tasks"] or data["alerts"] or data["questions"]) and found != wanted:
            lost.append(f"{entry.local_date}: {sorted(wanted - found)}")
    ends = {OutboxState.ACCEPTED, OutboxState.FOR_GOOD, OutboxState.EXPIRED}
    queued = {OutboxState.DUE, OutboxState.LATER, OutboxState.UNKNOWN, OutboxState.SENDING}
    for key, row in rows.items():
        if key not in taken and row.state not in (ends | queued) - {OutboxState.ACCEPTED}:
            lost.append(key)
    return lost


def main(seed: int, days: int, folder: Path, mortal: bool) -> None:
    """Live a season and print what became of it."""
    store_connection.BUSY_TIMEOUT_S = 0.01
    season = Season(seed, days, folder, mortal=mortal)
    season.live()
    print(json.dumps(verdict(season)))


if __name__ == "__main__":
    main(int(sys.argv[1]), int(sys.argv[2]), Path(sys.argv[3]), sys.argv[4] == "mortal")
