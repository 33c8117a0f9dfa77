"""A message that waits in the outbox, with a text of its own that does not pack."""

from __future__ import annotations

import random
from datetime import datetime, timedelta

from strawbell.model.notice import NoticeKind, OutboxRow, OutboxState

GARDEN = "Orchard corner"


def queued(number: int, at: datetime, text_bytes: int) -> OutboxRow:
    """Return the numbered message, due at a moment, the same in every run."""
    return OutboxRow(
        unique_key=f"k{number}",
        channel="email",
        recipient="grower@example.org",
        message_id=f"<{number}@strawbell.invalid>",
        body=random.Random(number).randbytes(text_bytes),
        subject="feed",
        garden=GARDEN,
        local_date=at.date(),
        kind=NoticeKind.MORNING,
        state=OutboxState.DUE,
        attempts=0,
        created_at=at,
        next_attempt_at=at,
        expires_at=at + timedelta(days=9),
    )
