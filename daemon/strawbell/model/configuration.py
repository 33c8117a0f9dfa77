"""A configuration as it is used: plain values, after everything in it was checked."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from strawbell.errors import Problem
from strawbell.model.garden import Garden

Security = Literal["starttls", "tls", "none"]


@dataclass(frozen=True, slots=True)
class MailSettings:
    """How mail goes out; the password is in no representation.

    Without a `host` it goes through the sendmail program of this machine, and the rest but
    `sender` and `recipients` means nothing. At most one of the last three is given.
    """

    host: str | None
    port: int
    security: Security
    sender: str
    recipients: tuple[str, ...]
    username: str | None = None
    password: str | None = field(default=None, repr=False)
    password_command: str | None = field(default=None, repr=False)
    oauth_token_command: str | None = field(default=None, repr=False)


@dataclass(frozen=True, slots=True)
class InboxSettings:
    """Where answers by mail are read; None in a login for that of the outgoing mail."""

    host: str
    port: int
    security: Security
    address: str
    folder: str
    poll_every_min: int
    username: str | None = None
    password: str | None = field(default=None, repr=False)


@dataclass(frozen=True, slots=True)
class PushSettings:
    """Where notices to a phone go; tokens are in no representation."""

    url: str
    topic: str | None
    token: str | None = field(default=None, repr=False)
    answer_token: str | None = field(default=None, repr=False)


@dataclass(frozen=True, slots=True)
class WeatherSettings:
    """Which forecast services are asked, in order, and as whom."""

    sources: tuple[str, ...]
    contact: str | None = None
    base_urls: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Configuration:
    """Everything a daemon or a command needs to know of a checked configuration.

    `notices` and `state` are the configured folders, None for the default ones; `calendars` is
    that of the calendar files, None for none.
    """

    path: str
    gardens: tuple[Garden, ...]
    weather: WeatherSettings
    mail: MailSettings | None = None
    inbox: InboxSettings | None = None
    push: PushSettings | None = None
    desktop: bool = False
    notices: str | None = None
    calendars: str | None = None
    state: str | None = None
    warnings: tuple[Problem, ...] = ()
    missing_secrets: tuple[Problem, ...] = ()
    """What is needed to send, and only for that; it may be at hand elsewhere."""
