"""Large mail providers, and what mends a refusal by a mail server, in words for the grower. Pure.

Codes before words: providers change their sentences, and add host names and times to them. The
rows are in order; the first that fits holds. The sentences are gathered from what mail programs
report of these servers, from memory and common practice; no standard has them.
"""

from __future__ import annotations

import re
from enum import StrEnum
from typing import Literal

from msgspec import Struct

Security = Literal["starttls", "tls"]


class Provider(Struct, frozen=True):
    """Where mail of its addresses goes out, and what the grower has to know before.

    Hosts and pages are as the providers' help pages had them in November 2026, from memory.
    """

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
        return f"{self.hint} The page for it: {self.page}" if self.page else self.hint


_MAKE_ONE = (
    "This provider wants an app password in place of the account's own: switch on sign-in in two"
    " steps, then make one in the security settings of the account."
)
_SWITCH = (
    "Switch on POP3 and IMAP in the settings of the mailbox first; with sign-in in two steps, make"
    " an app password there too."
)
_TOKENS_ONLY = (
    "This provider takes no passwords from programs any more. Use another mailbox, or a token"
    " command ([email] oauth_token_command)."
)
PROVIDERS = (
    Provider(
        ("gmail.com", "googlemail.com"), "smtp.gmail.com", 465, "tls", "imap.gmail.com", _MAKE_ONE,
        "https://myaccount.google.com/apppasswords",
    ),
    Provider(
        ("outlook.com", "hotmail.com", "live.com", "msn.com"),
        "smtp-mail.outlook.com", 587, "starttls", "outlook.office365.com", _TOKENS_ONLY,
        passwords=False,
    ),
    Provider(
        ("yahoo.com",), "smtp.mail.yahoo.com", 465, "tls", "imap.mail.yahoo.com", _MAKE_ONE,
        "https://login.yahoo.com/account/security",
    ),
    Provider(
        ("aol.com",), "smtp.aol.com", 465, "tls", "imap.aol.com", _MAKE_ONE,
        "https://login.aol.com/account/security",
    ),
    Provider(
        ("icloud.com", "me.com", "mac.com"),
        "smtp.mail.me.com", 587, "starttls", "imap.mail.me.com", _MAKE_ONE, "https://account.apple.com",
    ),
    Provider(
        ("fastmail.com",), "smtp.fastmail.com", 465, "tls", "imap.fastmail.com", _MAKE_ONE,
        "https://app.fastmail.com/settings/security",
    ),
    Provider(("gmx.net", "gmx.de"), "mail.gmx.net", 465, "tls", "imap.gmx.net", _SWITCH),
    Provider(("gmx.com",), "mail.gmx.com", 465, "tls", "imap.gmx.com", _SWITCH),
    Provider(("web.de",), "smtp.web.de", 587, "starttls", "imap.web.de", _SWITCH),
)  # fmt: skip


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


class Remedy(Struct, frozen=True):
    """What to do about a refusal, and whether it is settings that mend it."""

    words: str
    mends_settings: bool = True


class _Sign(Struct, frozen=True):
    """How a refusal shows; what is empty fits everything, all the rest has to fit."""

    remedy: Remedy
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


APP_PASSWORD = Remedy(
    "This provider wants an app password: switch on sign-in in two steps in the security settings "
    "of the account, make an app password there, and use it in place of the ordinary one."
)
NO_PASSWORDS = Remedy(
    "This provider takes no passwords from programs. Set oauth_token_command to a command that "
    "prints an access token, or send through another mail account."
)
ADMINISTRATOR = Remedy(
    "Sending by programs is switched off for this mailbox; whoever administers it has to allow "
    "authenticated SMTP."
)
WRONG_TOKEN = Remedy(
    "The access token was not taken: it has expired, or was given for something other than "
    "sending mail. Run the oauth_token_command by hand."
)
WRONG_PASSWORD = Remedy(
    "The username or the password is wrong. With some providers, sending by programs has to be "
    "switched on in the settings of the mailbox first."
)
ENCRYPT = Remedy('The server wants an encrypted connection: set security to "starttls" or "tls".')
LOG_IN = Remedy("The server wants a login before it takes mail: set username and password.")
NOT_FOR_OTHERS = Remedy(
    "The server passes mail on only for its own users: set username and password, or take the "
    "outgoing server of your own provider as host."
)
NOT_THIS_SENDER = Remedy(
    "The server does not let this login send in the name of that address: set sender to the "
    "address of the account."
)
NOTHING_KNOWN = Remedy("", mends_settings=False)
NO_SUCH_RECIPIENT = Remedy("Look at the address in recipients.", mends_settings=False)

_REFUSED_LOGIN = (530, 534, 535, 550, 554)

_SIGNS = (
    _Sign(APP_PASSWORD, _REFUSED_LOGIN, words=r"application-specific|app(lication)? password"),
    _Sign(APP_PASSWORD, (534, 535), ("5.7.9",)),
    _Sign(ADMINISTRATOR, _REFUSED_LOGIN, words=r"SmtpClientAuthentication|smtp_auth_disabled"),
    _Sign(NO_PASSWORDS, statuses=("5.7.139", "5.7.30")),
    _Sign(NO_PASSWORDS, _REFUSED_LOGIN, words=r"basic authentication is (disabled|not supported)"),
    _Sign(ENCRYPT, (538,)),
    _Sign(ENCRYPT, (530, 554), words=r"STARTTLS"),
    _Sign(WRONG_TOKEN, (534, 535), logins=(Login.TOKEN,)),
    _Sign(APP_PASSWORD, (534, 535), large_providers=True),
    _Sign(WRONG_PASSWORD, (534, 535)),
    _Sign(LOG_IN, (530,)),
    _Sign(LOG_IN, words=r"authentication (is )?required|(authenticate|log ?in) first"),
    _Sign(
        NOT_FOR_OTHERS, words=r"relay(ing)? (access )?(is )?(denied|not)|(unable|refus\w*) to relay"
    ),
    _Sign(NOT_THIS_SENDER, statuses=("5.1.7", "5.1.8", "5.7.60", "5.2.252")),
    _Sign(NOT_THIS_SENDER, words=r"sender address rejected|not owned by user|send ?as ?denied"),
    _Sign(NO_SUCH_RECIPIENT, statuses=("5.1.1", "5.1.2", "5.1.3", "5.1.6", "5.1.10")),
)


def remedy_for(reply: Reply, host: str, login: Login) -> Remedy:
    """Return what mends a refusal for good (5xx) by a host; empty when the table knows nothing."""
    found = next((sign.remedy for sign in _SIGNS if sign.fits(reply, host, login)), NOTHING_KNOWN)
    provider = provider_of_host(host) if found is APP_PASSWORD else None
    return found if provider is None else Remedy(provider.wants)
