"""What a mail server's answer, or the lack of one, means for the message. Pure.

Until the final dot is on its way, the message is surely not accepted: everything but a refusal
for good is tried again. After it only a proper answer settles the matter (RFC 1047).
"""

from __future__ import annotations

import ssl
from dataclasses import replace
from enum import StrEnum

from strawbell.edges.own_trouble import is_own
from strawbell.model.notice import Delivery, Outcome


class Stage(StrEnum):
    """Where in the conversation something happened, in words for a sentence."""

    CONNECT = "connecting"
    BANNER = "the greeting"
    EHLO = "EHLO"
    STARTTLS = "STARTTLS"
    TLS = "the TLS handshake"
    AUTH = "the login"
    MAIL = "the sender address"
    RCPT = "the recipient address"
    DATA = "DATA"
    BODY = "sending the message"
    DOT = "the end of the message"


CONNECTION_STAGES = {
    Stage.CONNECT,
    Stage.BANNER,
    Stage.EHLO,
    Stage.STARTTLS,
    Stage.TLS,
    Stage.AUTH,
}
"""A failure here meets every message alike."""

_SETTINGS_STAGES = CONNECTION_STAGES | {Stage.MAIL}
"""A refusal for good here is about the configuration, not about the message."""

_LOGIN_CODES = {530, 534, 535, 538}
"""The login is missing or too weak, whatever was asked (RFC 4954, section 6)."""

_REFUSED_FOR_NOW = range(400, 500)
_REFUSED_FOR_GOOD = range(500, 600)


def of_reply(stage: Stage, code: int, said: str) -> Delivery:
    """Return what an answer other than the hoped-for one means."""
    sentence = f"The mail server answered {code} to {stage.value}: {said}".rstrip(": ") + "."
    if code in _LOGIN_CODES:
        return Delivery(Outcome.LATER, sentence, settings_problem=True)
    if code in _REFUSED_FOR_NOW:
        return Delivery(Outcome.LATER, sentence)
    if code in _REFUSED_FOR_GOOD:
        if stage in _SETTINGS_STAGES:
            return Delivery(Outcome.LATER, sentence, settings_problem=True)
        return Delivery(Outcome.FOR_GOOD, sentence)
    return _unclear(stage, f"The mail server answered {stage.value} with something unexpected.")


def of_failure(stage: Stage, error: Exception) -> Delivery:
    """Return what a broken conversation means."""
    if isinstance(error, ssl.SSLCertVerificationError):
        return Delivery(
            Outcome.LATER,
            f"The mail server's certificate was not accepted: {error.verify_message}.",
            settings_problem=True,
        )
    if isinstance(error, ssl.SSLError) and "WRONG_VERSION_NUMBER" in str(error):
        return Delivery(
            Outcome.LATER,
            "The mail server does not speak TLS on this port; look at port and security.",
            settings_problem=True,
        )
    if isinstance(error, TimeoutError):
        return _unclear(stage, f"The mail server took too long at {stage.value}.")
    if isinstance(error, OSError):
        why = error.strerror or "the connection broke"
        failed = _unclear(stage, f"The connection failed at {stage.value}: {why}.")
        return replace(failed, own_trouble=failed.outcome is Outcome.LATER and is_own(error))
    return _unclear(stage, f"The mail server's answer to {stage.value} made no sense.")


def of_interruption(stage: Stage) -> Delivery:
    """Return what an attempt means that Strawbell itself broke off."""
    why = "because Strawbell was stopped or read its configuration anew"
    return _unclear(stage, f"The attempt was broken off at {stage.value}, {why}.")


def _unclear(stage: Stage, sentence: str) -> Delivery:
    if stage is Stage.DOT:
        return Delivery(Outcome.UNKNOWN, f"{sentence} The message may have been accepted.")
    return Delivery(Outcome.LATER, sentence)
