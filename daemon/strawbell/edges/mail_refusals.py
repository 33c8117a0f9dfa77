"""What a mail server's answer, or the lack of one, means for the message, and what mends it. Pure.

Until the final dot is on its way, the message is surely not accepted: everything but a refusal
of the recipient, or of the message itself, is tried again. After it only a proper answer settles
the matter (RFC 1047). What is our own fault settles nothing before the recipient was named.

The large providers and the signs of a refusal stand in `mail_remedies.toml`. It is read with this
module: a mail that is refused while the disk is in trouble still finds its remedy.
"""

from __future__ import annotations

import re
import ssl
from enum import StrEnum
from importlib.resources import files
from typing import Literal

import msgspec
from msgspec import Struct
from msgspec.structs import replace

from strawbell.edges.machine import is_own
from strawbell.model.notice import Delivery, Outcome
from strawbell.words.catalogue import BRITISH

Security = Literal["starttls", "tls"]
_STATUS = re.compile(r"(?<![\w.])([245]\.\d{1,3}\.\d{1,3})(?!\.?\w)")
"""An enhanced status code (RFC 3463)."""


class Login(StrEnum):
    """What Strawbell shows to the server."""

    NONE = "none"
    PASSWORD = "password"  # noqa: S105 - a kind, not a secret
    TOKEN = "token"  # noqa: S105 - a kind, not a secret


class Reply(Struct, frozen=True):
    """One answer of a server: its code (RFC 5321), and its text, which may hold secrets."""

    code: int
    text: str = ""

    @property
    def status(self) -> str:
        """Return the enhanced status code in the text (RFC 3463), "" for none."""
        found = _STATUS.search(self.text)
        return found[1] if found else ""

    @property
    def codes(self) -> str:
        """Return both codes, as they can be shown and kept: "535 5.7.8"."""
        return f"{self.code} {self.status}".rstrip()


class Provider(Struct, frozen=True):
    """Where mail of its addresses goes out, and what the grower has to know before."""

    domains: tuple[str, ...]
    """What addresses end with; the names of its servers may too."""
    host: str
    port: int
    security: Security
    inbox: str
    """The server that mail is read from, by IMAP inside TLS (port 993)."""
    hint: str
    page: str = ""
    """Where app passwords are made; "" where there is no lasting address."""
    passwords: bool = True
    """Whether a program may log in with a password of any kind."""

    @property
    def wants(self) -> str:
        """Return what has to be done at the provider before a program can send."""
        return BRITISH.say(f"provider.{self.hint}", page=self.page)


class Remedy(Struct, frozen=True):
    """What to do about a refusal, "" for nothing known, and whether it is settings that mend it."""

    words: str = ""
    mends_settings: bool = False


class _Sign(Struct, frozen=True):
    """How a refusal shows; what is empty fits everything, all the rest has to fit."""

    remedy: str
    mends_settings: bool = True
    codes: tuple[int, ...] = ()
    statuses: tuple[str, ...] = ()
    words: str = ""
    large_providers: bool = False
    logins: tuple[Login, ...] = ()

    def fits(self, reply: Reply, host: str, login: Login) -> bool:
        return (
            (not self.codes or reply.code in self.codes)
            and (not self.statuses or reply.status in self.statuses)
            and re.search(self.words, reply.text, re.IGNORECASE) is not None
            and (not self.large_providers or provider_of_host(host) is not None)
            and (not self.logins or login in self.logins)
        )


class _Tables(Struct, frozen=True):
    providers: tuple[Provider, ...]
    signs: tuple[_Sign, ...]


_TABLES = msgspec.toml.decode(
    files("strawbell.edges").joinpath("mail_remedies.toml").read_bytes(), type=_Tables
)
PROVIDERS = _TABLES.providers


def provider_of_address(address: str) -> Provider | None:
    """Return whose address it is, None for one of no large provider."""
    domain = address.rpartition("@")[2].lower()
    return next((each for each in PROVIDERS if domain in each.domains), None)


def provider_of_host(host: str) -> Provider | None:
    """Return whose server a host is, by whole parts of its name; None for any other."""
    name = f".{host.lower()}"
    return next(
        (each for each in PROVIDERS if any(name.endswith(f".{one}") for one in each.domains)), None
    )


def remedy_for(reply: Reply, host: str, login: Login) -> Remedy:
    """Return what mends a refusal for good (5xx) by a host; empty when the table knows nothing."""
    sign = next((each for each in _TABLES.signs if each.fits(reply, host, login)), None)
    if sign is None:
        return Remedy()
    provider = provider_of_host(host) if sign.remedy == "app-password" else None
    words = BRITISH.say(f"remedy.{sign.remedy}") if provider is None else provider.wants
    return Remedy(words, sign.mends_settings)


class Stage(StrEnum):
    """Where in the conversation something happened."""

    SECRET = "secret"  # noqa: S105 - a stage, not a secret
    CONNECT = "connect"
    BANNER = "banner"
    EHLO = "ehlo"
    STARTTLS = "starttls"
    TLS = "tls"
    AUTH = "auth"
    MAIL = "mail"
    RCPT = "rcpt"
    DATA = "data"
    BODY = "body"
    DOT = "dot"

    @property
    def said(self) -> str:
        """Return it in words for a sentence."""
        return BRITISH.of("mail-stage", self)


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
    if reply.code not in (*_REFUSED_FOR_NOW, *_REFUSED_FOR_GOOD):
        strange = _unclear(stage, BRITISH.say("mail.odd", stage=stage.said))
        return replace(strange, reply=reply.codes)
    is_for_good = reply.code in _REFUSED_FOR_GOOD
    remedy = remedy_for(reply, host, login) if is_for_good else Remedy()
    detail = BRITISH.say(
        "mail.answered",
        reply=reply.codes,
        stage=stage.said,
        said=said.removeprefix(reply.status).strip(" -:"),
        remedy=remedy.words,
    )
    told = Delivery(Outcome.LATER, detail, stage=stage.value, reply=reply.codes)
    if not is_for_good:
        return told
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
        return of_settings(stage, BRITISH.say("mail.certificate", why=error.verify_message))
    if isinstance(error, ssl.SSLError) and "WRONG_VERSION_NUMBER" in str(error):
        return of_settings(stage, BRITISH.say("mail.no-tls"))
    if isinstance(error, UnicodeEncodeError):
        odd = of_settings(stage, BRITISH.say("mail.letters", stage=stage.said))
        return replace(odd, about_recipient=stage not in _EVERYBODYS_STAGES)
    if isinstance(error, TimeoutError):
        is_greeting = stage is Stage.BANNER
        said = BRITISH.say("mail.too-long", stage=stage.said, greeting=is_greeting)
        return _unclear(stage, said)
    if isinstance(error, OSError):
        said = BRITISH.say("mail.failed", stage=stage.said, why=error.strerror)
        failed = _unclear(stage, said)
        return replace(failed, own_trouble=failed.outcome is Outcome.LATER and is_own(error))
    return _unclear(stage, BRITISH.say("mail.no-sense", stage=stage.said))


def of_interruption(stage: Stage) -> Delivery:
    """Return what an attempt means that Strawbell itself broke off."""
    return _unclear(stage, BRITISH.say("mail.broken-off", stage=stage.said))


def _unclear(stage: Stage, sentence: str) -> Delivery:
    if stage is Stage.DOT:
        said = BRITISH.say("mail.perhaps", said=sentence)
        return Delivery(Outcome.UNKNOWN, said, stage=stage.value)
    return Delivery(Outcome.LATER, sentence, stage=stage.value)
