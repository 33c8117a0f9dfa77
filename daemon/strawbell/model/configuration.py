"""A configuration as it is used: plain values, after everything in it was checked."""

from __future__ import annotations

from collections.abc import Mapping
from typing import ClassVar, Literal

from msgspec import Struct, field

from strawbell.errors import Problem
from strawbell.model.garden import Garden
from strawbell.model.household import APART, Household

Security = Literal["starttls", "tls", "none"]


class Discreet(Struct, frozen=True):
    """Settings of which some are secrets: those are in no representation, and never kept."""

    secrets: ClassVar[tuple[str, ...]] = ()

    def __repr__(self) -> str:
        shown = (each for each in self.__struct_fields__ if each not in self.secrets)
        said = ", ".join(f"{each}={getattr(self, each)!r}" for each in shown)
        return f"{type(self).__name__}({said})"


class MailSettings(Discreet, frozen=True):
    """How mail goes out; the password is in no representation.

    Without a `host` it goes through the sendmail program of this machine, and the rest but
    `sender` and `recipients` means nothing. At most one of the last three is given.
    """

    secrets: ClassVar[tuple[str, ...]] = ("password", "password_command", "oauth_token_command")

    host: str | None
    port: int
    security: Security
    sender: str
    recipients: tuple[str, ...]
    username: str | None = None
    password: str | None = None
    password_command: str | None = None
    oauth_token_command: str | None = None


class InboxSettings(Discreet, frozen=True):
    """Where answers by mail are read; None in a login for that of the outgoing mail."""

    secrets: ClassVar[tuple[str, ...]] = ("password",)

    host: str
    port: int
    security: Security
    address: str
    folder: str
    poll_every_min: int
    username: str | None = None
    password: str | None = None


class PushSettings(Discreet, frozen=True):
    """Where notices to a phone go; tokens are in no representation."""

    secrets: ClassVar[tuple[str, ...]] = ("token", "answer_token")

    url: str
    topic: str | None
    token: str | None = None
    answer_token: str | None = None


class WeatherSettings(Struct, frozen=True):
    """Which forecast services are asked, in order, and as whom."""

    sources: tuple[str, ...]
    contact: str | None = None
    base_urls: Mapping[str, str] = field(default_factory=dict)


class Configuration(Struct, frozen=True):
    """Everything a daemon or a command needs to know of a checked configuration.

    `notices` and `state` are the configured folders, None for the default ones; `calendars` is
    that of the calendar files, None for none.
    """

    path: str
    gardens: tuple[Garden, ...]
    weather: WeatherSettings
    mail: MailSettings | None = None
    household: Household = APART
    inbox: InboxSettings | None = None
    push: PushSettings | None = None
    desktop: bool = False
    notices: str | None = None
    calendars: str | None = None
    state: str | None = None
    warnings: tuple[Problem, ...] = ()
    missing_secrets: tuple[Problem, ...] = ()
    """What is needed to send, and only for that; it may be at hand elsewhere."""
    rests_on: tuple[str, ...] = ()
    """Files beside the configuration that were looked at for it."""
