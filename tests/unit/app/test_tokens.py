"""Tokens of answers: made, read as people and programs mangle them, proved, and out of date."""

from __future__ import annotations

import hashlib
import hmac
from datetime import date, timedelta

import pytest
from msgspec.structs import replace

from strawbell.app.outbox import (
    ALPHABET,
    TOKEN_SIGNS,
    AnswerClaim,
    answer_token,
    proves,
    read_token,
    shown,
    tokens_in,
)
from support.notices import SECRET

CLAIM = AnswerClaim(
    garden="orchard-corner",
    task="row-a-5-feed",
    verb="done",
    recipient="grower@example.org",
    expires_on=date(2027, 4, 11),
)
TOKEN = "40V71STNWB1JNRBRSP84"
"""HMAC-SHA-256 (RFC 2104) with the key 00 to 1f over the claim above, its first 100 bits."""

MAC_HEX = "203670e755e2c32ae178cd904c22acda1d1aa0831fa22d7a3f073743af8dc0a0"


def test_the_token_is_the_beginning_of_the_mac() -> None:
    """Reckoned apart from the code, and turned into signs bit by bit."""
    parts = b"strawbell-answer-v1\x1forchard-corner\x1frow-a-5-feed\x1fdone"
    parts += b"\x1fgrower@example.org\x1f2027-04-11"
    assert hmac.new(bytes(range(32)), parts, hashlib.sha256).hexdigest() == MAC_HEX
    bits = f"{int(MAC_HEX, 16):0256b}"
    signs = [ALPHABET[int(bits[at : at + 5], 2)] for at in range(0, 5 * TOKEN_SIGNS, 5)]
    assert answer_token(SECRET, CLAIM) == "".join(signs) == TOKEN


@pytest.mark.parametrize(
    ("changes", "token"),
    [
        ({"verb": "missed"}, "TX7B9PDND4AMD4DD8HXG"),
        ({"recipient": "neighbour@example.org"}, "2WK0SHSKGDXAZ4KJ8VHE"),
        ({"expires_on": date(2027, 4, 12)}, "RHAA2ZSG1V7264N9R1RX"),
    ],
)
def test_each_part_of_the_claim_makes_another_token(changes: dict[str, object], token: str) -> None:
    """Another answer, another person, another date."""
    assert answer_token(SECRET, replace(CLAIM, **changes)) == token  # type: ignore[arg-type]
    assert not proves(SECRET, replace(CLAIM, **changes), TOKEN, CLAIM.expires_on)  # type: ignore[arg-type]


def test_letter_case_of_the_address_does_not_matter() -> None:
    """Servers change it on the way."""
    assert answer_token(SECRET, replace(CLAIM, recipient="Grower@Example.ORG")) == TOKEN


@pytest.mark.parametrize(
    "typed",
    [
        "40v71-stnwb-1jnrb-rsp84",
        "4OV71-STNWB-1JNRB-RSP84",
        "40V7l-STNWB-lJNRB-RSP84",
        "40V7I-STNWB-IJNRB-RSP84",
        "40V71 STNWB 1JNRB RSP84",
        "40V71\u2013STNWB\u20131JNRB\u2014RSP84",
        "40V71\u2011STNWB\u20111JNRB\u2011RSP84",
        "40V71\r\n STNWB\r\n 1JNRB\r\n RSP84",
        "40V71STNWB1JNRBRSP84",
        "\u200b".join("40V71-STNWB-1JNRB-RSP84"),
        "\u202a40V71\u00adSTNWB\ufeff1JNRB\u00a0RSP84\u202c",
        "[40V71-STNWB-1JNRB-RSP84].",
    ],
)
def test_a_token_is_read_however_it_was_typed_or_mangled(typed: str) -> None:
    """Letter case, look-alikes, dashes, folds, blanks and invisible marks."""
    assert read_token(typed) == TOKEN


@pytest.mark.parametrize(
    "typed",
    [
        "40V71-STNWB-1JNRB-RSP8",
        "40V71-STNWB-1JNRB-RSP840",
        "40U71-STNWB-1JNRB-RSP84",
        "40V71-STNWB-1JNRB-RSP8\u00e4",
        "40V71-STNWB-1JN\u24c7B-RSP84",
        "",
    ],
)
def test_what_is_no_token_is_not_read_as_one(typed: str) -> None:
    """Too short, too long, signs outside the alphabet."""
    assert read_token(typed) is None


@pytest.mark.parametrize("typed", ["40V71-STNWB-1JNRB-RSP85", "40V71-STNWB-1JNRB-RSPB4"])
def test_one_wrong_sign_proves_nothing(typed: str) -> None:
    """It reads like a token and is none of ours."""
    token = read_token(typed)
    assert token is not None
    assert not proves(SECRET, CLAIM, token, CLAIM.expires_on)


def test_a_token_counts_to_the_end_of_its_last_date() -> None:
    """On the date it counts, on the next it does not."""
    assert proves(SECRET, CLAIM, TOKEN, CLAIM.expires_on)
    assert not proves(SECRET, CLAIM, TOKEN, CLAIM.expires_on + timedelta(days=1))


def test_tokens_are_found_where_they_stand_in_brackets() -> None:
    """Anywhere in a subject, twice the same once, two different both, other brackets not."""
    other = "TX7B9PDND4AMD4DD8HXG"
    subject = f"AW: Re[2]: Done: Feed Row A {shown(TOKEN)} [EXT]"
    assert tokens_in(subject) == (TOKEN,)
    assert tokens_in(f"{shown(TOKEN)} {shown(other)} {shown(TOKEN)}") == (TOKEN, other)
    assert tokens_in("[EXT] Re: bales") == ()


def test_a_token_is_shown_in_groups_and_read_back() -> None:
    """As it stands in a subject."""
    assert shown(TOKEN) == "[40V71-STNWB-1JNRB-RSP84]"
    assert read_token(shown(TOKEN)) == TOKEN
