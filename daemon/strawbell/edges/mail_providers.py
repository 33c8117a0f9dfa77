"""Large mail providers: their outgoing servers, and what they want of a program. One table.

Hosts and pages are as the providers' help pages had them in November 2026, from memory.
"""

from __future__ import annotations

from typing import Literal

from msgspec import Struct

Security = Literal["starttls", "tls"]


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
