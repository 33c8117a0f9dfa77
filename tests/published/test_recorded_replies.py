"""Mails of several programs and servers, kept as they came, where they are at hand.

They are looked for as the other recorded answers are, and are not part of the project. What each
has to come to lies beside them.
"""

from __future__ import annotations

import json
import os
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from strawbell.app.ports import Bounce, Reply
from strawbell.edges.inbox import read_letter
from strawbell.model.garden import Units
from strawbell.model.identity import StoreSecret
from strawbell.model.journal import EntryKind
from strawbell.model.notice import NoticeKind, Verdict, Work
from strawbell.words.answers import read_lines
from support.answered import Answered, soaked_first
from support.gardens import garden

FOLDER = Path(
    os.environ.get("STRAWBELL_RECORDED_ANSWERS")
    or Path(__file__).resolve().parents[2].parent / "shared" / "payloads"
)
EXPECTED = FOLDER / "answers" / "replies_expected.json"
CAME = datetime(2027, 4, 9, 5, 1, tzinfo=UTC)

pytestmark = pytest.mark.skipif(
    not EXPECTED.is_file(), reason="recorded mails are not at hand (STRAWBELL_RECORDED_ANSWERS)"
)


def expected() -> dict[str, Any]:
    return (
        json.loads(EXPECTED.read_text(encoding="utf-8")) if EXPECTED.is_file() else {"expect": {}}
    )


def verdict_of(name: str, recipients: list[str]) -> Verdict | None:
    """Return what a recorded mail is taken for, its token aside."""
    read = read_letter((EXPECTED.parent / name).read_bytes(), CAME)
    if not isinstance(read, Reply) or not read.is_whole or read.sender not in recipients:
        return None
    heard = read_lines([line.partition("[")[0] for line in read.lines], Units.METRIC, CAME.date())
    found = [each.verdict for each in heard.answers if isinstance(each, Work)]
    return found[0] if found else None


@pytest.mark.parametrize("name", sorted(expected()["expect"]))
def test_a_recorded_mail_comes_to_what_is_expected(name: str) -> None:
    """Taken with its word, or not taken; whose token is wrong is refused elsewhere."""
    whole = expected()
    wanted = whole["expect"][name]
    verdict = verdict_of(name, whole["configured_recipients"])
    if wanted["accept"] is True:
        assert verdict is Verdict(wanted["verb"].split()[0])
    elif wanted["accept"] is False and wanted["reason"] not in ("bad token", "no token"):
        assert verdict is None


@pytest.mark.parametrize("name", [n for n, w in expected()["expect"].items() if "dsn" in w])
def test_a_recorded_report_names_its_message(name: str) -> None:
    """With what the other server said."""
    wanted = expected()["expect"][name]["dsn"]
    read = read_letter((EXPECTED.parent / name).read_bytes(), CAME)
    assert isinstance(read, Bounce)
    assert (read.action, read.status, read.recipient, read.message_id) == (
        wanted["action"], wanted["status"], wanted["recipient"], wanted["original_message_id"],
    )  # fmt: skip


UNSURE = ("ask back", "defective", "no exact word")
"""Why a mail of the right person with the right token is asked about."""


class OfTheRecords(StoreSecret):
    """A secret whose answers of that day, and whose messages, are those of the recorded mails."""

    def mac(self, *parts: str) -> bytes:
        whole = json.loads((EXPECTED.parent / "token_vectors.json").read_text(encoding="utf-8"))
        is_asked = parts[0] == "strawbell-message-v1" or parts[2] == CAME.date().isoformat()
        if is_asked and parts[-2] in ("grower@example.org", parts[1]):
            return bytes.fromhex(whole["hmac_sha256_hex"])
        return super().mac(*parts)


def answered_by(*names: str) -> Answered:
    """Return a garden that was told to feed on the day of the mails, and got these of them."""
    days = Answered(
        garden(soaked_first(start_on=CAME.date())), ("grower@example.org",), CAME.date()
    )
    days.store.secret = OfTheRecords(bytes(range(32)))
    days.morning()
    for name in names:
        days.take((EXPECTED.parent / name).read_bytes(), CAME)
    return days


@pytest.mark.parametrize("name", sorted(expected()["expect"]))
def test_a_recorded_mail_has_the_effect_that_is_expected(name: str) -> None:
    """From the mail to the row of the journal: its word once, or none; a question where it is due.

    What it is left open for is decided here: a thumb under a mail is no answer, and of a mail in
    an unknown alphabet the plain letters are read.
    """
    wanted = expected()["expect"][name]
    days = answered_by(name, name)
    kinds = [kind for kind, _ in days.said()]
    asked = [row for row in days.rows() if row.kind is NoticeKind.ANSWER]
    if wanted["accept"] is True:
        assert kinds == [EntryKind(wanted["verb"].split()[0])]
        assert asked == []
    elif wanted["accept"] is False:
        assert kinds == []
        assert len(asked) == any(why in wanted["reason"] for why in UNSURE)
    elif name.startswith("18"):
        assert [kind for kind, _ in answered_by("01_top_post_en.eml", name).said()] == kinds
    else:
        assert kinds == ([EntryKind.DONE] if "ascii" in wanted["accept"] else [])
