"""A notice to send, changed where a test needs it."""

from __future__ import annotations

from datetime import date, timedelta

from msgspec.structs import replace

from strawbell.model.identity import KEY_BYTES, StoreSecret
from strawbell.model.notice import Notice, NoticeKind
from support.fake_clock import DAWN

SECRET = StoreSecret(bytes(range(KEY_BYTES)))
"""The secret of a store that the tests know."""


def notice(**changes: object) -> Notice:
    """Return the morning's notice of 9 April 2027."""
    plain = Notice(
        garden="Orchard corner",
        local_date=date(2027, 4, 9),
        kind=NoticeKind.MORNING,
        occasion="",
        subject="Feed Row A",
        text="Feed 500 g per bale.\n",
        html="<p>Feed 500 g per bale.</p>",
        short="Feed",
        created_at=DAWN,
        expires_at=DAWN + timedelta(hours=13),
    )
    return replace(plain, **changes)  # type: ignore[arg-type]
