"""What a mail server's answer, or the lack of one, means for the message. Pure.

Until the final dot is on its way, the message is surely not accepted: everything but a refusal
of the recipient, or of the message itself, is tried again. After it only a proper answer settles
the matter (RFC 1047). What is our own fault settles nothing before the recipient was named.
"""

from __future__ import annotations

import ssl
from enum import StrEnum

from msgspec.structs import replace

from strawbell.edges.mail_remedies import Login, Reply, remedy_for
from strawbell.edges.own_trouble import is_own
from strawbell.model.notice import Delivery, Outcome


class Stage(StrEnum):
    """Where in the conversation something happened, in words for a sentence."""

    SECRET = "getting the password"  # noqa: S105 - a stage, not a secret
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
    Stage.SECRET,
    Stage.CONNECT,
    Stage.BANNER,
    Stage.EHLO,
    Stage.STARTTLS,
    Stage.TLS,
    Stage.AUTH,
}
"""A failure here meets every message alike."""

_EVERYBODYS_STAGES = CONNECTION_STAGES | {Stage.MAIL}
"""A refusal for good here is about the configuration, not about a message or a recipient."""

_POLICY = "5.7."
"""Status of a refusal for reasons of policy (RFC 3463, section 3.8): not that there is no such
recipient, but that this client may not send there."""

_REFUSED_FOR_NOW = range(400, 500)
_REFUSED_FOR_GOOD = range(500, 600)


def of_reply(
    stage: Stage, reply: Reply, said: str = "", host: str = "", login: Login = Login.NONE
) -> Delivery:
    """Return what an answer other than the hoped-for one means.

    `said` is what may be shown of its text; nothing of it at a login, which may be repeated there.
    """
    about = said.removeprefix(reply.status).strip(" -")
    sentence = f"The mail server answered {reply.codes} to {stage.value}: {about}".rstrip(": ")
    told = Delivery(Outcome.LATER, f"{sentence}.", stage=stage.value, reply=reply.codes)
    if reply.code in _REFUSED_FOR_NOW:
        return told
    if reply.code not in _REFUSED_FOR_GOOD:
        strange = _unclear(stage, f"The mail server answered {stage.value} with something odd.")
        return replace(strange, reply=reply.codes)
    remedy = remedy_for(reply, host, login)
    told = replace(told, detail=f"{told.detail} {remedy.words}".rstrip())
    if stage in _EVERYBODYS_STAGES:
        return replace(told, settings_problem=True)
    if remedy.mends_settings or (stage is Stage.RCPT and reply.status.startswith(_POLICY)):
        return replace(told, settings_problem=True, about_recipient=True)
    return replace(told, outcome=Outcome.FOR_GOOD)


def of_settings(stage: Stage, sentence: str) -> Delivery:
    """Return what something means that only mended settings cure, found out by Strawbell itself."""
    return Delivery(Outcome.LATER, sentence, settings_problem=True, stage=stage.value)


def of_failure(stage: Stage, error: Exception) -> Delivery:
    """Return what a broken conversation means."""
    if isinstance(error, ssl.SSLCertVerificationError):
        why = error.verify_message
        return of_settings(stage, f"The mail server's certificate was not accepted: {why}.")
    if isinstance(error, ssl.SSLError) and "WRONG_VERSION_NUMBER" in str(error):
        return of_settings(
            stage, "The mail server does not speak TLS on this port; look at port and security."
        )
    if isinstance(error, UnicodeEncodeError):
        odd = of_settings(stage, f"There are letters in {stage.value} that mail cannot carry.")
        return replace(odd, about_recipient=stage not in _EVERYBODYS_STAGES)
    if isinstance(error, TimeoutError):
        hint = ' If it wants TLS from the first byte, security has to be "tls".'
        too_long = f"The mail server took too long at {stage.value}."
        return _unclear(stage, too_long + (hint if stage is Stage.BANNER else ""))
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
        said = f"{sentence} The message may have been accepted."
        return Delivery(Outcome.UNKNOWN, said, stage=stage.value)
    return Delivery(Outcome.LATER, sentence, stage=stage.value)
