"""How Strawbell judges, when it speaks, where it asks and whom it reaches."""

from __future__ import annotations

import re
import shlex
from datetime import date, time
from typing import Annotated, Literal

from pydantic import AfterValidator, Field, SecretStr

from strawbell.config.base import Address, Lax, Line, Mailbox, Section, TimeOfDay, left_out, refuse
from strawbell.weather import thresholds

Source = Literal["open-meteo", "nws", "met-norway"]
"""The forecast services there are adapters for."""

DEFAULT_PORTS = {"starttls": 587, "tls": 465, "none": 25}
"""Submission (RFC 6409), implicit TLS (RFC 8314), plain SMTP (RFC 5321)."""

SENDER_NAME = "Strawbell"
"""Shown where the grower gives the sender no name: a mail to oneself is else one of many."""

SECRET_KEYS = ("password", "password_file", "password_command", "oauth_token_command")
"""Where the login gets its secret; one of them at most."""

_HOST = re.compile(r"[A-Za-z0-9]([A-Za-z0-9._-]*[A-Za-z0-9])?|\[?[0-9A-Fa-f:]+(%\w+)?\]?")
_URL = re.compile(r"https?://[A-Za-z0-9._:\[\]-]+(/[A-Za-z0-9._~/%-]*)?")


class RulesSection(Section):
    """Thresholds of the judgement; every default carries its source."""

    rain_hold_mm: float = Field(thresholds.RAIN_HOLD_MM, gt=0, le=500)
    """A feeding is held from this much rain on: 0.5 in (Ohio State University Extension,
    ANR-0156)."""
    rain_hold_chance_percent: float = Field(thresholds.RAIN_HOLD_CHANCE_PERCENT, ge=0, le=100)
    """From this chance of so much rain on, in percent (the same rule)."""
    rain_look_ahead_h: float = Field(thresholds.RAIN_LOOK_AHEAD_H, ge=1, le=168)
    """How far a feeding looks ahead for rain (the same rule)."""
    freeze_hold_c: float = Field(thresholds.FREEZE_HOLD_C, ge=-20, le=10)
    """A freeze ahead at or under it postpones a feeding (NWS: a freeze is 32 F)."""
    freeze_look_ahead_h: float = Field(thresholds.FREEZE_LOOK_AHEAD_H, ge=1, le=168)
    """How far a feeding looks ahead for a freeze (as the rain rule)."""
    frost_look_ahead_h: float = Field(thresholds.FROST_LOOK_AHEAD_H, ge=1, le=168)
    """How far planted bales are watched for frost (NWS: 12 to 36 h ahead)."""
    hot_day_c: float = Field(thresholds.HOT_DAY_C, ge=15, le=50)
    """A day is hot from this high on (86 F, common practice)."""
    dry_day_mm: float = Field(thresholds.DRY_DAY_MM, ge=0, le=50)
    """A day is dry under this much rain: 0.1 in (common practice)."""
    ask_after_held_days: int = Field(thresholds.ASK_AFTER_HELD_DAYS, ge=1, le=60)
    """Days of holding after which you are asked to decide (common practice)."""
    plant_below_c: float = Field(thresholds.PLANT_BELOW_C, ge=15, le=50)
    """Core temperature under which roots are safe (WSU Extension FS109E: 99 F)."""
    self_heating_c: float = Field(thresholds.SELF_HEATING_C, ge=40, le=80)
    """Core temperature from which self-heating is warned of (Cornell Waste Management Institute:
    keep a pile under 65 C)."""


def _stretch(text: str) -> str:
    try:
        first, last = (date.fromisoformat(part) for part in text.split("/"))
    except ValueError:
        raise refuse("no-time-away") from None
    if last < first:
        raise refuse("ends-before-begin")
    return text


_Stretch = Annotated[Line, AfterValidator(_stretch)]


class TimesSection(Section):
    """When Strawbell speaks, garden-local."""

    morning: TimeOfDay = time(6, 30)
    """The morning brief."""
    evening: TimeOfDay = time(18, 30)
    """The evening notice; only when there is something to prepare or protect."""
    watch_every_min: int = Field(60, ge=15, le=720)
    """How often the weather is looked at in between."""
    quiet_from: TimeOfDay = time(21, 30)
    """No change notices from here."""
    quiet_to: TimeOfDay = time(6, 0)
    """Change notices again from here."""
    away: Lax[tuple[_Stretch, ...]] = Field((), max_length=50, examples=[["2027-06-12/2027-06-20"]])
    """When nobody is in the garden, first and last day included: what is told then counts as not
    done unless somebody says it was, and the mails before say what cannot wait. `strawbell away`
    and a reply say the same."""
    routine: Literal["weekly", "daily"] = "weekly"
    """How the same watering is told: once for the days ahead, with a mail only when something
    differs, or every morning."""
    give_up: TimeOfDay = time(20, 0)
    """A missed morning brief is not sent later than this."""


def _base_url(text: str) -> str:
    if not _URL.fullmatch(text):
        raise refuse("no-service-address")
    return text.rstrip("/")


_BaseUrl = Annotated[str, Field(max_length=500), AfterValidator(_base_url)]


class BaseUrlsSection(Section):
    """Other addresses of the services; only for tests and mirrors."""

    open_meteo: _BaseUrl | None = Field(
        None, alias="open-meteo", examples=["http://127.0.0.1:8099"]
    )
    """https, or http on this machine (loopback)."""
    nws: _BaseUrl | None = Field(None, examples=["http://127.0.0.1:8099"])
    """As open-meteo."""
    met_norway: _BaseUrl | None = Field(
        None, alias="met-norway", examples=["http://127.0.0.1:8099"]
    )
    """As open-meteo."""


def _contact(text: str) -> str:
    if not text.isascii() or not text.isprintable():
        raise refuse("no-header")
    return text


def _no_doubles(sources: tuple[str, ...]) -> tuple[str, ...]:
    if len(set(sources)) != len(sources):
        raise refuse("service-twice")
    return sources


class WeatherSection(Section):
    """Where forecasts come from."""

    sources: Annotated[Lax[tuple[Source, ...]], AfterValidator(_no_doubles)] = Field(
        ("open-meteo", "nws", "met-norway"), min_length=1
    )
    """Services in order; one that does not cover the place is passed over."""
    contact: Annotated[Line, AfterValidator(_contact)] | None = Field(
        None, examples=["grower@example.org"]
    )
    """Goes to the services that ask for one, so that they can reach you."""
    stale_after_h: float = Field(thresholds.STALE_AFTER_H, ge=1, le=72)
    """A forecast older than this is not decided on."""
    base_urls: BaseUrlsSection = left_out(BaseUrlsSection)
    """Only for tests and mirrors, such as a caching one that several daemons share."""


def _host(text: str) -> str:
    if not _HOST.fullmatch(text):
        raise refuse("no-host")
    return text


def _command(text: str) -> str:
    try:
        words = shlex.split(text)
    except ValueError:
        words = []
    if not words:
        raise refuse("no-command")
    return text


_Command = Annotated[Line, AfterValidator(_command)]
"""A command that is run without a shell."""


_Host = Annotated[str, Field(max_length=253), AfterValidator(_host)]
Secret = Annotated[SecretStr, Field(min_length=1, max_length=1000)]


class EmailSection(Section):
    """Notices by mail; leave the section out for none."""

    via: Literal["smtp", "sendmail"] = "smtp"
    """How mails leave: "smtp" to the server in host, or "sendmail" through the sendmail program of
    this machine, which then needs no more than recipients."""
    host: _Host | None = Field(None, examples=["smtp.example.org"])
    """The outgoing mail server; needed unless via = "sendmail"."""
    port: int | None = Field(None, ge=1, le=65_535, examples=[587])
    """Its port. Without it, 587 for starttls, 465 for tls, 25 for none."""
    security: Literal["starttls", "tls", "none"] = "starttls"
    """How the connection is secured; "none" only to this machine (loopback)."""
    username: Line | None = Field(None, examples=["grower"])
    """The login, where one is needed."""
    password: Secret | None = Field(None, examples=["keep it out of this file"])
    """Better in STRAWBELL_EMAIL__PASSWORD, a systemd credential named strawbell_email__password, or
    password_file."""
    password_file: Line | None = Field(None, examples=["mail-password"])
    """A file that holds the password alone; relative to this file."""
    password_command: _Command | None = Field(None, examples=["pass show mail/bales"])
    """A command that prints the password in its first line, run without a shell at each login."""
    oauth_token_command: _Command | None = Field(None, examples=["mail-token bales@example.org"])
    """A command that prints an access token (XOAUTH2), for providers that take no passwords; run as
    password_command."""
    sender: Mailbox | None = Field(None, examples=["Bales <bales@example.org>"])
    """From whom the mails come, with or without a name. Without it, the username where it is an
    address, else the first recipient; without a name, Strawbell."""
    recipients: Lax[tuple[Address, ...]] = Field(
        min_length=1, max_length=50, examples=[["grower@example.org"]]
    )
    """Who gets the mails."""

    @property
    def effective_port(self) -> int:
        """Return the port, or the usual one of the chosen security."""
        return self.port if self.port is not None else DEFAULT_PORTS[self.security]

    @property
    def effective_sender(self) -> str:
        """Return the sender, or the address it defaults to, always with a name."""
        sender = self.sender
        if sender is None:
            has_address = self.username is not None and "@" in self.username
            sender = self.username if has_address and self.username else self.recipients[0]
        return sender if "<" in sender else f'"{SENDER_NAME}" <{sender}>'

    @property
    def secrets(self) -> tuple[str, ...]:
        """Return the keys that say where the password or the token comes from."""
        return tuple(key for key in SECRET_KEYS if getattr(self, key) is not None)


class HelperSection(Section):
    """Somebody else who is told by mail, such as a neighbour while you are away."""

    address: Address = Field(examples=["nell@example.org"])
    """Where the mails go, by the server of [email]."""
    name: Line | None = Field(None, examples=["Nell"])
    """How they are greeted."""
    gardens: Lax[tuple[Line, ...]] = Field((), max_length=50, examples=[["Mill lane"]])
    """Which gardens they look after. Without it, all of them."""
    work: Literal["water", "all"] = "water"
    """What they are told of: the watering alone, or everything."""
    when: Literal["away", "always"] = "away"
    """On which days: while you are away, or always."""


class HouseholdSection(Section):
    """Who lives with the bales."""

    merge: bool = True
    """One mail for all gardens that are due together; false for one each."""
    helpers: Lax[tuple[HelperSection, ...]] = Field((), max_length=20)
    """Who else is told, and of what."""


INBOX_PORTS = {"starttls": 143, "tls": 993, "none": 143}
"""IMAP (RFC 9051), and IMAP within TLS (RFC 8314)."""


class InboxSection(Section):
    """The mailbox that answers to notices come to; it is read, and nothing in it is changed."""

    host: _Host = Field(examples=["imap.example.org"])
    """The server that mail is read from, by IMAP."""
    port: int | None = Field(None, ge=1, le=65_535, examples=[993])
    """Its port. Without it, 993 for tls, 143 for starttls and none."""
    security: Literal["tls", "starttls", "none"] = "tls"
    """How the connection is secured; "none" only to this machine (loopback)."""
    username: Line | None = Field(None, examples=["grower@example.org"])
    """The login. Without it, that of [email]."""
    password: Secret | None = Field(None, examples=["keep it out of this file"])
    """Without it, that of [email]. Better in STRAWBELL_INBOX__PASSWORD or a systemd credential
    named strawbell_inbox__password."""
    address: Address | None = Field(None, examples=["bales@example.org"])
    """Where answers are sent to. Without it, the sender of [email]."""
    folder: Line = "INBOX"
    """The folder that is looked into."""
    poll_every_min: int = Field(5, ge=2, le=120)
    """How often it is looked into; providers refuse whoever comes more often."""

    @property
    def effective_port(self) -> int:
        """Return the port, or the usual one of the chosen security."""
        return self.port if self.port is not None else INBOX_PORTS[self.security]


def _topic(text: str) -> str:
    if not _TOPIC.fullmatch(text):
        raise refuse("no-topic")
    return text


_TOPIC = re.compile(r"[-_A-Za-z0-9]{1,50}")
"""Servers take 64 characters; the topic of the answers is a little longer."""


class PushSection(Section):
    """Notices to a phone, by a push server of your own or another's."""

    url: _BaseUrl = Field(examples=["https://push.example.org"])
    """The address of the server; https, or http on this machine (loopback)."""
    topic: Annotated[Line, AfterValidator(_topic)] | None = Field(
        None, examples=["bales-5d81c0aa47e2"]
    )
    """The topic that the phone listens to; hard to guess, since who knows it can read along.
    Answers go to the same with -answers added. Without it, each notice is posted to url as JSON."""
    token: Secret | None = Field(None, examples=["keep it out of this file"])
    """The access token, where the server wants one. Better in STRAWBELL_PUSH__TOKEN or a systemd
    credential named strawbell_push__token."""
    answer_token: Secret | None = Field(None, examples=["keep it out of this file"])
    """An access token that may write to the topic of the answers and do nothing else, where the
    server wants one: it goes to every phone within the buttons."""


class DesktopSection(Section):
    """Notices on the desktop of the user the daemon runs as."""

    enabled: bool = False
    """Whether to show them."""


class FolderSection(Section):
    """Every notice also as an .eml file."""

    path: Line | None = Field(None, examples=["~/strawbell-notices"])
    """The folder. Without it, files are written only when no other channel is configured, to the
    folder notices beside the store."""


class CalendarSection(Section):
    """The season as calendar files that other programs can read or subscribe to."""

    path: Line | None = Field(None, examples=["~/strawbell-calendars"])
    """A folder in which the daemon keeps an .ics file for each garden and writes it again whenever
    the plan moves. Without it none is written; `strawbell calendar FILE` writes one at any time."""


class StateSection(Section):
    """Where journal, outbox and backups live."""

    path: Line | None = Field(None, examples=["~/.local/state/strawbell"])
    """The folder of the store. Without it, $STATE_DIRECTORY, else the platform's state folder."""
