"""What mends a refusal by a mail server: its codes and words matched to words for the grower. Pure.

Codes before words: providers change their sentences, and add host names and times to them. The
rows are in order; the first that fits holds. The sentences are gathered from what mail programs
report of these servers, from memory and common practice; no standard has them.
"""

from __future__ import annotations

import re
from enum import StrEnum

from msgspec import Struct

from strawbell.edges.mail_providers import provider_of_host

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

    words: str = ""
    mends_settings: bool = False


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
    "of the account, make an app password there, and use it in place of the ordinary one.",
    mends_settings=True,
)
NO_PASSWORDS = Remedy(
    "This provider takes no passwords from programs. Set oauth_token_command to a command that "
    "prints an access token, or send through another mail account.",
    mends_settings=True,
)
ADMINISTRATOR = Remedy(
    "Sending by programs is switched off for this mailbox; whoever administers it has to allow "
    "authenticated SMTP.",
    mends_settings=True,
)
WRONG_TOKEN = Remedy(
    "The access token was not taken: it has expired, or was given for something other than "
    "sending mail. Run the oauth_token_command by hand.",
    mends_settings=True,
)
WRONG_PASSWORD = Remedy(
    "The username or the password is wrong. With some providers, sending by programs has to be "
    "switched on in the settings of the mailbox first.",
    mends_settings=True,
)
ENCRYPT = Remedy(
    'The server wants an encrypted connection: set security to "starttls" or "tls".',
    mends_settings=True,
)
LOG_IN = Remedy(
    "The server wants a login before it takes mail: set username and password.",
    mends_settings=True,
)
NOT_FOR_OTHERS = Remedy(
    "The server passes mail on only for its own users: set username and password, or take the "
    "outgoing server of your own provider as host.",
    mends_settings=True,
)
NOT_THIS_SENDER = Remedy(
    "The server does not let this login send in the name of that address: set sender to the "
    "address of the account.",
    mends_settings=True,
)
NO_SUCH_RECIPIENT = Remedy("Look at the address in recipients.")

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
    found = next((sign.remedy for sign in _SIGNS if sign.fits(reply, host, login)), Remedy())
    provider = provider_of_host(host) if found is APP_PASSWORD else None
    return found if provider is None else Remedy(provider.wants, mends_settings=True)
