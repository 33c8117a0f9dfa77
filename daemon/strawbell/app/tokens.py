"""What a message carries to be known again: its Message-ID, and the tokens of its answers. Pure.

Both are made with the secret of the store, so that who shows one has seen the message: neither
the name of a garden nor an address helps to make it up.
"""

from __future__ import annotations

import hashlib
import hmac
import re
import unicodedata
from datetime import date, timedelta

from msgspec import Struct

from strawbell.model.secret import StoreSecret

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
