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
from strawbell.edges.letters import read_letter
from strawbell.model.answers import Verdict, Work
from strawbell.model.garden import Units
from strawbell.words.answers import read_lines

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
