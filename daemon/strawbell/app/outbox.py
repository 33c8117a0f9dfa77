"""The outbox: a message is on disk before it is sent, and its fate is on disk right after.

The promise is *at least once, with recognisable doubles*: exactly once cannot be had over SMTP
(RFC 1047), so a message whose fate is unknown counts as not sent and goes out again with the
same Message-ID and the same bytes. The states of a row::

    due -> sending -> accepted | later | for-good | unknown        later, unknown -> sending
    due, later, unknown, sending -> expired                        (expires_at has passed)

`sending` is committed before the channel is called and the outcome right after it returns, so
that a crash can only ever leave `sending` behind, which the next pass treats as unknown.

A message carries what it is known by again: its Message-ID, and the tokens of its answers. Both are
made with the secret of the store, so that who shows one has seen the message: neither the name of a
garden nor an address helps to make it up.

Decided 2026-11-25: Mail refused for its settings is tried every hour, neither oftener nor, as
other mail, more and more rarely: what was mended shows within the hour that the notice speaks of.

Decided 2026-11-26: An attempt that never left this machine (no files, memory or room) is made
again after half a minute and not counted: the growing waits are there to spare a server, and none
was asked.
"""

from __future__ import annotations

import hashlib
import hmac
import json
import random
import re
import threading
import unicodedata
from collections.abc import Iterable, Iterator, Sequence
from contextlib import closing, contextmanager
from datetime import date, datetime, timedelta

from msgspec import Struct, field
from msgspec.structs import replace

from strawbell.app.ports import Answerable, Channel, ClaimedElsewhere, Clock, Store
from strawbell.errors import OperationalError
from strawbell.model.identity import StoreSecret
from strawbell.model.journal import EntryKind, JournalEntry
from strawbell.model.notice import Delivery, Notice, OutboxRow, OutboxState, Outcome
from strawbell.words.asking import addressed, joined
from strawbell.words.catalogue import BRITISH

MESSAGE_ID_DOMAIN = "strawbell.invalid"
"""Right side of every Message-ID; reserved for names that never resolve (RFC 2606), so no host
name of the grower's leaves the house."""

MESSAGE_ID_HEX_DIGITS = 32
"""128 bits, half of the MAC: no shorter cut is advised (RFC 2104, section 5)."""

ALPHABET = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
"""Digits and capitals without I, L, O and U, which are taken for others (Crockford's base 32)."""

TOKEN_SIGNS = 20
"""100 bits: a million guesses a day find one in 10^21 years, and it is four groups to type."""

GROUP_SIGNS = 5

_MISREAD = str.maketrans("OIL", "011")
_BRACKETED = re.compile(r"\[([^\[\]]{1,400})\]")
_FILLING = {"Cc", "Cf", "Pd", "Zl", "Zp", "Zs"}
"""Categories of Unicode that keyboards and mail programs put between or in place of the groups:
breaks, invisible marks, every dash, every blank."""
_AROUND = "[]().,;:!?*_'\"<>"


class AnswerClaim(Struct, frozen=True):
    """What a token stands for: one answer of one person to one piece of work, until a date."""

    garden: str
    task: str
    verb: str
    recipient: str
    expires_on: date
    """The last date, by the clock of who receives the answer, on which it counts."""


ANY_VERB = "any"
"""One token stands for whatever is answered to the work of a date; the word says what."""

ANSWERABLE_D = 7
"""So many days after a date an answer to what it told still counts: a week away is caught up."""


def answer_claim(garden: str, on: date, recipient: str) -> AnswerClaim:
    """Return what an answer of one recipient to what a garden was told on a date claims."""
    expires_on = on + timedelta(days=ANSWERABLE_D)
    return AnswerClaim(garden, on.isoformat(), ANY_VERB, recipient, expires_on)


def message_id(secret: StoreSecret, key: str, draft: bytes) -> str:
    """Return the Message-ID of a message, given what the outbox knows it by and its draft.

    The draft is the message but for the identity. So one identity has one text, in this store
    and in any other, also where the outbox lost a row and the message is written again.
    """
    mac = secret.mac("strawbell-message-v1", key, hashlib.sha256(draft).hexdigest())
    return f"<{mac.hex()[:MESSAGE_ID_HEX_DIGITS]}@{MESSAGE_ID_DOMAIN}>"


def answer_token(secret: StoreSecret, claim: AnswerClaim) -> str:
    """Return the token of an answer, `TOKEN_SIGNS` signs of the alphabet."""
    mac = secret.mac(
        "strawbell-answer-v1",
        claim.garden,
        claim.task,
        claim.verb,
        claim.recipient.lower(),
        claim.expires_on.isoformat(),
    )
    number = int.from_bytes(mac, "big") >> (8 * len(mac) - 5 * TOKEN_SIGNS)
    places = range(5 * (TOKEN_SIGNS - 1), -1, -5)
    return "".join(ALPHABET[(number >> place) & 31] for place in places)


def shown(token: str) -> str:
    """Return a token as it stands in a subject: in brackets and groups."""
    starts = range(0, len(token), GROUP_SIGNS)
    return f"[{'-'.join(token[start : start + GROUP_SIGNS] for start in starts)}]"


def read_token(text: str) -> str | None:
    """Return the token that a text is, however it was typed or mangled; None when it is none."""
    kept = "".join(sign for sign in text if unicodedata.category(sign) not in _FILLING)
    token = kept.strip(_AROUND).upper().translate(_MISREAD)
    well_formed = len(token) == TOKEN_SIGNS and all(sign in ALPHABET for sign in token)
    return token if well_formed else None


def tokens_in(text: str) -> tuple[str, ...]:
    """Return every different token that stands in brackets in a text, in order."""
    read = (read_token(found) for found in _BRACKETED.findall(text))
    return tuple(dict.fromkeys(token for token in read if token is not None))


def proves(secret: StoreSecret, claim: AnswerClaim, token: str, received_on: date) -> bool:
    """Return whether a read token is that of the claim and came in time.

    `received_on` is the date by the receiving server's clock, not by what the sender wrote.
    """
    is_right = hmac.compare_digest(answer_token(secret, claim), token)
    return is_right and received_on <= claim.expires_on


RETRY_AFTER_MIN = (1, 2, 5, 10, 20, 40, 60, 120, 240, 360, 480)
"""Wait after the first, second, ... attempt [min]; the last one repeats. Twelve attempts in the
first 24 h, four in the first 10 min so that greylisting of 5 min costs less than 10 min
(common practice of mail servers: grow the wait, keep trying)."""

RETRY_JITTER_SHARE = 0.1
"""Each wait is drawn from 1 - share to 1 + share of it, so that many gardens do not call at
once. Small enough for the thirteenth attempt to stay outside the first 24 h."""

SETTINGS_RETRY_MIN = 60
"""Wait after a refusal that only the grower can mend [min]; repeated wrong logins lock accounts
(common practice)."""

MOST_NEXT_ATTEMPTS = 100
"""Next attempts that the daemon wakes for on time; the rest wait for its beat, a minute at most."""
SURELY_DUE_S = 0.05
"""So much after a next attempt is due the daemon wakes [s]: a moment before it, it were no use."""

OWN_TROUBLE_RETRY_S = 30.0
"""Wait after an attempt that never left this machine [s]: it burdens nobody else, and a reminder
is under way within a minute after the trouble is over. It is not counted among the attempts."""

_JOURNALLED = {
    OutboxState.ACCEPTED,
    OutboxState.FOR_GOOD,
    OutboxState.UNKNOWN,
    OutboxState.EXPIRED,
}
_TRIED_AGAIN = {OutboxState.LATER, OutboxState.UNKNOWN}

LETTERS = frozenset({"email", "folder"})
"""Channels whose messages may say something of several gardens; others have buttons of one."""


def unique_key(notice: Notice, channel: str, recipient: str) -> str:
    """Return the key under which a message can be in the outbox only once."""
    parts = (
        notice.garden,
        notice.local_date.isoformat(),
        notice.kind.value,
        notice.occasion,
        channel,
        recipient,
    )
    return json.dumps(parts, ensure_ascii=True)


def key_elsewhere(key: str, channel: str, recipient: str) -> str:
    """Return the key of the same message on another channel."""
    return json.dumps([*json.loads(key)[:-2], channel, recipient], ensure_ascii=True)


def queue(
    notice: Notice,
    channels: Sequence[Channel],
    now: datetime,
    secret: StoreSecret,
    to: str | None = None,
) -> tuple[OutboxRow, ...]:
    """Freeze a notice into one row for each channel and recipient; nothing is sent yet.

    `to` is the only recipient where not all are meant; who is not one of the channel's may be.
    """
    rows = []
    for channel in channels:
        for recipient in channel.recipients if to is None else (to,):
            said = _addressed(notice, channel, recipient, secret)
            rows.append(_frozen(said, channel, recipient, now, secret))
    return tuple(rows)


def queue_together(
    notices: Sequence[Notice],
    channels: Sequence[Channel],
    now: datetime,
    secret: StoreSecret,
    to: str | None = None,
) -> tuple[OutboxRow, ...]:
    """Freeze the notices of several gardens as `queue` does, in one letter where it is a letter."""
    rows: list[OutboxRow] = []
    for channel in channels:
        if len(notices) < 2 or channel.name not in LETTERS:  # noqa: PLR2004 - several
            rows += (row for each in notices for row in queue(each, (channel,), now, secret, to))
            continue
        for recipient in channel.recipients if to is None else (to,):
            said = joined([_addressed(each, channel, recipient, secret) for each in notices])
            rows.append(_frozen(said, channel, recipient, now, secret))
    return tuple(rows)


def _frozen(
    said: Notice, channel: Channel, recipient: str, now: datetime, secret: StoreSecret
) -> OutboxRow:
    """Return an addressed notice as the row that will be sent."""
    key = unique_key(said, channel.name, recipient)
    # Written twice, as the identity belongs to all that the message says.
    identity = message_id(secret, key, channel.render(said, recipient, ""))
    return OutboxRow(
        unique_key=key,
        channel=channel.name,
        recipient=recipient,
        message_id=identity,
        body=channel.render(said, recipient, identity),
        subject=said.subject,
        garden=said.garden,
        local_date=said.local_date,
        kind=said.kind,
        state=OutboxState.DUE,
        attempts=0,
        created_at=now,
        next_attempt_at=now,
        expires_at=said.expires_at,
    )


def _addressed(notice: Notice, channel: Channel, recipient: str, secret: StoreSecret) -> Notice:
    """Return a notice as one recipient gets it, with what proves an answer to it."""
    if not isinstance(channel, Answerable) or channel.answers_to is None:
        return addressed(notice)
    token = answer_token(secret, answer_claim(notice.garden, notice.local_date, recipient))
    return addressed(notice, channel.answers_to, token, shown(token))


def retry_wait(attempts: int, rng: random.Random) -> timedelta:
    """Return how long to wait after the given number of attempts (1 or more)."""
    if attempts < 1:
        raise ValueError(f"attempts must be 1 or more, not {attempts}")
    minutes = RETRY_AFTER_MIN[min(attempts, len(RETRY_AFTER_MIN)) - 1]
    spread = rng.uniform(1 - RETRY_JITTER_SHARE, 1 + RETRY_JITTER_SHARE)
    return timedelta(minutes=minutes * spread)


class AttemptResult(Struct, frozen=True):
    """What a row becomes after an attempt, or because its time is over."""

    row: OutboxRow
    state: OutboxState
    at: datetime
    next_attempt_at: datetime
    delivery: Delivery

    @property
    def detail(self) -> str:
        """Return what to tell of it, in sentences without secrets."""
        return self.delivery.detail

    def entry(self) -> JournalEntry:
        """Return it as a row of the journal."""
        row = self.row
        return JournalEntry(
            at=self.at,
            garden=row.garden,
            local_date=row.local_date,
            kind=EntryKind.DELIVERY,
            state=self.state.value,
            text=self.detail,
            data={
                "channel": row.channel,
                "recipient": row.recipient,
                "kind": row.kind.value,
                "subject": row.subject,
                "message_id": row.message_id,
                "attempts": row.attempts,
                "stage": self.delivery.stage,
                "reply": self.delivery.reply,
            },
        )


def attempted(
    row: OutboxRow, delivery: Delivery, at: datetime, rng: random.Random
) -> AttemptResult:
    """Return what becomes of a claimed row after one attempt. Pure but for the given `rng`."""
    state = {
        Outcome.ACCEPTED: OutboxState.ACCEPTED,
        Outcome.FOR_GOOD: OutboxState.FOR_GOOD,
        Outcome.LATER: OutboxState.LATER,
        Outcome.UNKNOWN: OutboxState.UNKNOWN,
    }[delivery.outcome]
    next_attempt_at = at
    if state in _TRIED_AGAIN:
        wait = retry_wait(row.attempts, rng)
        if delivery.settings_problem:
            # Not longer either: mended settings show within the hour the notice speaks of.
            wait = timedelta(minutes=SETTINGS_RETRY_MIN)
        elif delivery.own_trouble:
            wait = timedelta(seconds=OWN_TROUBLE_RETRY_S)
            row = replace(row, attempts=row.attempts - 1)
        # Waking at the expiry records it on time instead of at some later retry.
        next_attempt_at = min(at + wait, max(row.expires_at, at))
    return AttemptResult(row, state, at, next_attempt_at, delivery)


def expired(row: OutboxRow, at: datetime) -> AttemptResult:
    """Return a row as expired, saying what was last known of it."""
    perhaps = row.state in {OutboxState.SENDING, OutboxState.UNKNOWN}
    detail = BRITISH.say("failure.expired", perhaps=perhaps, last=row.detail)
    return AttemptResult(row, OutboxState.EXPIRED, at, at, Delivery(Outcome.FOR_GOOD, detail))


class DeliveryRun(Struct, frozen=True):
    """What came of delivering all that was due on one channel.

    `trouble` is what the store could not do, "" for nothing: nothing more was sent after it.
    `is_busy`: nothing was done, since another thread was at the channel.
    """

    channel: str
    results: tuple[AttemptResult, ...] = ()
    trouble: str = ""
    is_busy: bool = False

    def count(self, state: OutboxState) -> int:
        """Return how many rows came to a state in this run."""
        return sum(1 for result in self.results if result.state is state)

    @property
    def settings_problems(self) -> tuple[AttemptResult, ...]:
        """Return the rows refused for something that only the grower can mend."""
        return tuple(result for result in self.results if result.delivery.settings_problem)


class Memory:
    """What the outbox keeps between deliveries of one process; losing it costs at most a double.

    Outcomes that the disk would not take are kept here and recorded first in the next run, so
    that a full disk does not send the same mail again and again. A channel with a settings
    problem rests, however many messages wait for it. Of next attempts only a few are kept, so
    that the process wakes for them: what is forgotten, or was tried by another process, is found
    at the next beat. They are moments of the monotonic clock: a jump of the wall clock is met at
    the beat.
    """

    def __init__(self) -> None:
        """Start with nothing remembered."""
        self._guard = threading.Lock()
        self._delivering: set[str] = set()
        self._unrecorded: dict[str, AttemptResult] = {}
        self._resting_until_s: dict[str, float] = {}
        self._next_attempts_s: list[float] = []

    @contextmanager
    def claim(self, channel: Channel) -> Iterator[bool]:
        """Claim a channel for this thread, and close it at the end; False: another is at it."""
        with self._guard:
            is_free = channel.name not in self._delivering
            self._delivering.add(channel.name)
        if not is_free:
            yield False
            return
        try:
            with closing(channel):
                yield True
        finally:
            with self._guard:
                self._delivering.discard(channel.name)

    def rest(self, channel: str, until_s: float) -> None:
        """Let a channel rest until a monotonic moment [s]."""
        with self._guard:
            self._resting_until_s[channel] = until_s

    def rests(self, channel: str, monotonic_s: float) -> bool:
        """Return whether a channel still rests."""
        with self._guard:
            return monotonic_s < self._resting_until_s.get(channel, float("-inf"))

    def wake(self) -> None:
        """Let every channel try again at once, after the configuration was mended."""
        with self._guard:
            self._resting_until_s.clear()

    def keep(self, result: AttemptResult) -> None:
        """Remember an outcome that could not be recorded."""
        with self._guard:
            self._unrecorded[result.row.unique_key] = result

    def forget(self, result: AttemptResult) -> None:
        """Drop an outcome that is on disk now."""
        with self._guard:
            self._unrecorded.pop(result.row.unique_key, None)

    def unrecorded(self, channel: str) -> tuple[AttemptResult, ...]:
        """Return the outcomes of a channel that are not on disk yet."""
        with self._guard:
            kept = tuple(self._unrecorded.values())
        return tuple(result for result in kept if result.row.channel == channel)

    def await_next(self, results: Iterable[AttemptResult], clock: Clock) -> None:
        """Remember when rows are due again that were just tried in vain."""
        now, now_s = clock.now(), clock.monotonic()
        again = [
            now_s + (result.next_attempt_at - now).total_seconds()
            for result in results
            if result.state in _TRIED_AGAIN
        ]
        with self._guard:
            self._next_attempts_s = sorted([*self._next_attempts_s, *again])[:MOST_NEXT_ATTEMPTS]

    def wait_s(self, now_s: float) -> float:
        """Return how long it is to the next attempt [s]; infinite when there is none."""
        with self._guard:
            self._next_attempts_s = [each for each in self._next_attempts_s if each > now_s]
            return min(self._next_attempts_s, default=float("inf")) - now_s + SURELY_DUE_S


class Sender(Struct):
    """Delivers what is due: by which clock, with what chance and what memory of this process."""

    clock: Clock
    rng: random.Random
    memory: Memory = field(default_factory=Memory)
    is_stopping: bool = False
    """Set by whoever ends the process: no further message is begun."""

    def deliver_due(self, store: Store, channel: Channel) -> DeliveryRun:
        """Send what is due on one channel until done, stopped, or the store fails."""
        results: list[AttemptResult] = []
        trouble = ""
        with self.memory.claim(channel) as is_ours:
            if not is_ours:
                return DeliveryRun(channel.name, is_busy=True)
            try:
                for leftover in self.memory.unrecorded(channel.name):
                    self._record(store, leftover)
                for row in self._due(store, channel):
                    if self.is_stopping:
                        break
                    result = self._handled(store, channel, row)
                    if result is not None:
                        results.append(result)
            except OperationalError as error:
                # What cannot be recorded must not be sent, so the run ends here.
                trouble = str(error)
        self.memory.await_next(results, self.clock)
        return DeliveryRun(channel.name, tuple(results), trouble)

    def _due(self, store: Store, channel: Channel) -> Iterator[OutboxRow]:
        """Yield every due row once, read a few at a time."""
        seen: set[str] = set()
        while True:
            due = store.due(self.clock.now(), (channel.name,))
            new = [row for row in due if row.unique_key not in seen]
            if not new:
                return
            seen.update(row.unique_key for row in new)
            yield from new

    def _handled(self, store: Store, channel: Channel, row: OutboxRow) -> AttemptResult | None:
        """Claim, send and record one row; None when it was not this run's to handle."""
        now = self.clock.now()
        if now >= row.expires_at:
            result = expired(row, now)
            self._record(store, result)
            return result
        if self.memory.rests(channel.name, self.clock.monotonic()):
            return None
        claimed = replace(row, state=OutboxState.SENDING, attempts=row.attempts + 1)
        try:
            store.move(
                row.unique_key,
                OutboxState.SENDING,
                attempts=claimed.attempts,
                next_attempt_at=row.next_attempt_at,
                detail=row.detail,
            )
        except ClaimedElsewhere:
            return None
        try:
            delivery = channel.send(claimed)
        except Exception as error:
            # A defect of one channel must not cost the other messages their turn.
            kind = type(error).__name__
            delivery = Delivery(
                Outcome.UNKNOWN, BRITISH.say("daemon.way-failed", way=channel.name, error=kind)
            )
        # Its text is on disk; a run of thousands stays small without it.
        result = attempted(replace(claimed, body=b""), delivery, self.clock.now(), self.rng)
        if delivery.settings_problem and not delivery.about_recipient:
            until_s = self.clock.monotonic() + SETTINGS_RETRY_MIN * 60
            self.memory.rest(channel.name, until_s)
        self._record(store, result)
        return result

    def _record(self, store: Store, result: AttemptResult) -> None:
        """Put an outcome on disk, with its journal row, in one transaction."""
        self.memory.keep(result)
        with store.together():
            store.move(
                result.row.unique_key,
                result.state,
                attempts=result.row.attempts,
                next_attempt_at=result.next_attempt_at,
                detail=result.detail,
            )
            if result.state in _JOURNALLED:
                store.write((result.entry(),))
        self.memory.forget(result)
