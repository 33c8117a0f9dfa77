"""A configuration as it is used: plain values, after everything in it was checked."""

from __future__ import annotations

import ipaddress
from collections.abc import Mapping
from typing import ClassVar, Literal

from msgspec import Struct, field

from strawbell.errors import Problem
from strawbell.model.garden import Garden

BY_MAIL = "email"
"""The channel by which helpers are told, and answer."""


class Helper(Struct, frozen=True):
    """Somebody who looks after the bales now and then, and is told by mail.

    `gardens` are names, none for all of them. One with `only_water` is told of watering and of
    nothing else; one with `only_while_away` only on days on which nobody is in the garden.
    """

    address: str
    name: str = ""
    gardens: tuple[str, ...] = ()
    only_water: bool = True
    only_while_away: bool = True

    def is_told(self, garden: str, *, is_away: bool) -> bool:
        """Return whether the helper is told of a garden on a day."""
        return self.looks_after(garden) and (is_away or not self.only_while_away)

    def looks_after(self, garden: str) -> bool:
        """Return whether the helper is ever told of a garden."""
        return not self.gardens or garden in self.gardens


class Household(Struct, frozen=True):
    """How a household is told: in one mail for all gardens due together, or in one each."""

    merge: bool = True
    helpers: tuple[Helper, ...] = ()


APART = Household(merge=False)
"""Each garden for itself, and nobody else."""


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


def is_loopback(host: str) -> bool:
    """Return whether a host is this machine by its very name."""
    bare = host.strip("[]").lower()
    if bare == "localhost":
        return True
    try:
        return ipaddress.ip_address(bare.split("%", 1)[0]).is_loopback
    except ValueError:
        return False
