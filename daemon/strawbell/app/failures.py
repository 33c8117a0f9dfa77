"""A message that failed ends in somebody being told: elsewhere at once, and in the next brief.

Decided 2026-11-25: What was told only in a brief that reached nobody is told again in the next.
"""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from datetime import datetime, timedelta

from msgspec.structs import replace

from strawbell.app.outbox import SETTINGS_RETRY_MIN, DeliveryRun, key_elsewhere, queue
from strawbell.app.ports import Channel, Store
from strawbell.model.notice import Notice, NoticeKind, OutboxRow, OutboxState
from strawbell.words.catalogue import BRITISH
from strawbell.words.voice import day

TROUBLE_USEFUL_H = 24
"""How long a notice about a failed message is worth sending; the next brief says it again."""

LOOK_BACK_D = 14
"""How far before a brief that reached nobody its own news are looked for [day]: a fortnight of
briefs that all failed says more than any list."""

_ARRIVED = OutboxState.ACCEPTED
_FAILED = {OutboxState.FOR_GOOD, OutboxState.EXPIRED}


def failure_sentence(row: OutboxRow) -> str:
    """Return one sentence on what did not reach whom, and why."""
    return BRITISH.say(
        "failure.line",
        subject=row.subject,
        day=day(row.local_date, BRITISH),
        way=row.channel,
        whom=None if row.recipient == row.channel else row.recipient,
        detail=row.detail,
    )


def failures_for_brief(
    store: Store, garden: str, unsurfaced: Sequence[OutboxRow]
) -> tuple[OutboxRow, ...]:
    """Return the failed messages that the next brief of a garden has to tell of.

    These are the ones nobody was told of yet. Where a brief itself is among them, and reached
    nobody, what was told in it is told again: all that failed since the last brief that arrived.
    """
    briefs = [row for row in unsurfaced if row.kind is NoticeKind.MORNING]
    if not briefs:
        return tuple(unsurfaced)
    since = min(row.local_date for row in briefs) - timedelta(days=LOOK_BACK_D)
    rows = store.outbox(garden, since)
    arrived = [row for row in rows if row.kind is NoticeKind.MORNING and row.state is _ARRIVED]
    last = max((row.created_at for row in arrived), default=None)
    if last is not None and last >= max(row.created_at for row in briefs):
        return tuple(unsurfaced)
    waiting = {row.unique_key for row in unsurfaced}
    again = [
        row
        for row in rows
        # The last attempt of a row that is at its end is the moment it failed.
        if row.state in _FAILED and (last is None or row.next_attempt_at > last)
        if row.unique_key not in waiting
    ]
    return (*unsurfaced, *again)


def report_failures(
    store: Store, channels: Sequence[Channel], now: datetime, spare: Channel | None = None
) -> tuple[OutboxRow, ...]:
    """Queue a notice about failed messages on the channels that did not fail.

    Where all failed, the notice goes to the `spare` one, and the messages themselves too. Returns
    the rows that are told of now for the first time. They stay unmarked for the next brief, which
    says it again: a desktop notice is soon gone. The key sees to it that the same failures are
    told once until then. Failed notices about failures are for the brief alone; they would
    otherwise breed.
    """
    told: list[OutboxRow] = []
    rows = [row for row in store.unsurfaced() if row.kind is not NoticeKind.TROUBLE]
    for garden in dict.fromkeys(row.garden for row in rows):
        failed = [row for row in rows if row.garden == garden]
        others = _others(channels, {row.channel for row in failed}, spare)
        if not others:
            continue
        if spare is not None and spare in others:
            store.enqueue([_copy(row, spare, now) for row in failed])
        text = "\n".join(failure_sentence(row) for row in failed)
        occasion = f"failed {_mark(sorted(row.unique_key for row in failed))}"
        notice = _trouble(failed[-1], BRITISH.say("failure.head"), text, occasion, now)
        if store.enqueue(queue(notice, others, now, store.secret)):
            told += failed
    return tuple(told)


def report_settings(
    store: Store,
    channels: Sequence[Channel],
    run: DeliveryRun,
    now: datetime,
    spare: Channel | None = None,
) -> int:
    """Queue a notice about refusals that the grower can mend; return how many rows are new.

    Once a garden, channel and local date, however often the refusal comes: the key sees to it.
    Where there is no other channel, what waits goes to the `spare` one as well.
    """
    new = 0
    seen: set[tuple[str, str]] = set()
    for result in run.settings_problems:
        row = result.row
        if (row.garden, row.channel) in seen or row.kind is NoticeKind.TROUBLE:
            continue
        seen.add((row.garden, row.channel))
        others = _others(channels, {row.channel}, spare)
        if spare is not None and spare in others:
            # They are tried again within the hour; the copies are there meanwhile.
            waiting = store.due(now + timedelta(minutes=SETTINGS_RETRY_MIN), (row.channel,))
            new += store.enqueue([_copy(each, spare, now) for each in waiting])
        text = BRITISH.say("failure.settings", way=row.channel, detail=result.detail)
        notice = _trouble(
            replace(row, detail=result.detail),
            BRITISH.say("failure.settings-head", way=row.channel),
            text,
            f"settings {row.channel}",
            now,
        )
        new += store.enqueue(queue(notice, others, now, store.secret))
    return new


def _others(channels: Sequence[Channel], failed: set[str], spare: Channel | None) -> list[Channel]:
    """Return the channels that did not fail, else the spare one."""
    others = [channel for channel in channels if channel.name not in failed]
    if not others and spare is not None and spare.name not in failed:
        return [spare]
    return others


def _copy(row: OutboxRow, spare: Channel, now: datetime) -> OutboxRow:
    """Return a message as one more for the spare channel, with the same bytes."""
    (recipient,) = spare.recipients
    return replace(
        row,
        unique_key=key_elsewhere(row.unique_key, spare.name, recipient),
        channel=spare.name,
        recipient=recipient,
        state=OutboxState.DUE,
        attempts=0,
        next_attempt_at=now,
        expires_at=max(row.expires_at, now + timedelta(hours=TROUBLE_USEFUL_H)),
        detail="",
        surfaced=False,
    )


def _trouble(row: OutboxRow, subject: str, text: str, occasion: str, now: datetime) -> Notice:
    return Notice(
        garden=row.garden,
        local_date=row.local_date,
        kind=NoticeKind.TROUBLE,
        occasion=occasion,
        subject=BRITISH.say("failure.subject", head=subject, garden=row.garden),
        text=text + "\n",
        html="",
        short=text,
        created_at=now,
        expires_at=now + timedelta(hours=TROUBLE_USEFUL_H),
    )


def _mark(keys: list[str]) -> str:
    return hashlib.sha256("\n".join(keys).encode()).hexdigest()[:16]
