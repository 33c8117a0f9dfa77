"""Large mail providers, and what mends a refusal by a mail server, in words for the grower.

The tables are in `mail_remedies.toml`. They are read with this module: a mail that is refused while
the disk is in trouble still finds its remedy.
"""

from __future__ import annotations

import re
from enum import StrEnum
from importlib.resources import files
from typing import Literal

import msgspec
from msgspec import Struct

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
        said = _TABLES.hints[self.hint]
        return f"{said} The page for it: {self.page}" if self.page else said


class Remedy(Struct, frozen=True):
    """What to do about a refusal, and whether it is settings that mend it."""

    words: str
    mends_settings: bool = True


class _Sign(Struct, frozen=True):
    """How a refusal shows; what is empty fits everything, all the rest has to fit."""

    remedy: str
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
    hints: dict[str, str]
    providers: tuple[Provider, ...]
    remedies: dict[str, Remedy]
    signs: tuple[_Sign, ...]


_TABLES = msgspec.toml.decode(
    files("strawbell.edges").joinpath("mail_remedies.toml").read_bytes(), type=_Tables
)
PROVIDERS, REMEDIES = _TABLES.providers, _TABLES.remedies
NOTHING_KNOWN = Remedy("", mends_settings=False)


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
    found = next((sign.remedy for sign in _TABLES.signs if sign.fits(reply, host, login)), None)
    provider = provider_of_host(host) if found == "app-password" else None
    if provider is not None:
        return Remedy(provider.wants)
    return NOTHING_KNOWN if found is None else REMEDIES[found]
