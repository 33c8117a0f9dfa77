"""Notice to the bytes of a message: the same notice always gives the same bytes.

Header lines are cleaned and written here and not by the library: on some interpreters an encoded
word that decodes to a line break is written out as a real extra header line (fixed in CPython
3.11.10), NUL passes everywhere, blanks between encoded words get lost, and long identifiers are
encoded, which breaks threading (CPython issue 100991).
"""

from __future__ import annotations

import hashlib
import re
import unicodedata
from binascii import b2a_qp
from email.header import Header
from email.headerregistry import Address
from email.utils import format_datetime
from functools import lru_cache

from strawbell.model.notice import Notice

IDENTITY_DOMAIN = "strawbell.invalid"
"""Right side of identifiers; never resolves (RFC 2606)."""

NOBODY = "nobody"
"""Left side of the address that stands for one that cannot be read."""

_MAILBOX = re.compile(r"(?P<name>.*)<(?P<spec>[^<>]*)>\s*", re.DOTALL)
_QUOTED = re.compile(r'"(?:[^"\\]|\\.)*"')
_DOMAIN = re.compile(r"[A-Za-z0-9.-]+")
_LOCAL_PART = re.compile(r'[^\s<>()\[\]\\,;:@"]+')
"""What needs no quotes (RFC 5321, section 4.1.2), letters beyond ASCII included."""

HEADER_LIMIT_CHARACTERS = 200
"""A header value is cut here; a subject of that length is cut by every reader anyway."""

LINE_LIMIT_CHARACTERS = 76
"""RFC 2047, section 2: a line with an encoded word is no longer."""

FOLD = "\r\n"

_BLANKED_CATEGORIES = {"Cc", "Zl", "Zp"}
_DROPPED_CATEGORIES = {"Cf", "Cs"}
_KEPT_FORMAT_CHARACTERS = {"\u200d"}
"""Zero-width joiner: emoji are made with it."""


def clean_header(value: str) -> str:
    """Return a value that can only ever be one header line, shown as it was meant."""
    kept = "".join(
        " " if unicodedata.category(sign) in _BLANKED_CATEGORIES else sign
        for sign in value
        if sign in _KEPT_FORMAT_CHARACTERS or unicodedata.category(sign) not in _DROPPED_CATEGORIES
    )
    # Split, an encoded word is plain text to every reader, and decodes to nothing.
    kept = kept.replace("=?", "= ?").replace("?=", "? =")
    return " ".join(kept.split())[:HEADER_LIMIT_CHARACTERS].rstrip()


_CONTROLS = re.compile(r"[\x00-\x08\x0b-\x1f\x7f-\x9f\ud800-\udfff]")
"""The categories Cc (but tab and line feed) and Cs of Unicode."""


def clean_text(text: str) -> str:
    """Return text of a body part without control characters; line breaks and tabs stay."""
    text = text.replace("\r\n", "\n").replace("\r", "\n")
    return _CONTROLS.sub("", text)


@lru_cache(maxsize=64)
def address(value: str) -> Address:
    """Return an address, with or without a name, that cannot become two.

    Taken apart here, because versions of the library read a doubtful one differently, and may
    take an address out of the name. What is no address becomes one that reaches nobody.
    """
    found = _MAILBOX.fullmatch(value)
    name, spec = (found["name"], found["spec"]) if found else ("", value)
    name, spec = clean_header(name), clean_header(spec)
    if _QUOTED.fullmatch(name):
        name = re.sub(r"\\(.)", r"\1", name[1:-1])
    local, _, domain = spec.rpartition("@")
    if not _LOCAL_PART.fullmatch(local):
        local, domain = NOBODY, IDENTITY_DOMAIN
    if not _DOMAIN.fullmatch(domain):
        domain = _ascii_domain(domain)
    return Address(display_name=name, username=local, domain=domain)


def _ascii_domain(domain: str) -> str:
    try:
        plain = domain.encode("idna").decode("ascii")
    except UnicodeError:
        return IDENTITY_DOMAIN
    # The encoding lets blanks and signs through, which no domain has.
    return plain if _DOMAIN.fullmatch(plain) else IDENTITY_DOMAIN


def envelope_address(value: str) -> str:
    """Return the bare address for the SMTP envelope."""
    return address(value).addr_spec


def _identity(*parts: str) -> str:
    joined = "\0".join(parts).encode("utf-8", "replace")
    return hashlib.sha256(joined).hexdigest()[:24]


def _words(name: str, value: str) -> str:
    """Return header text folded at blanks, as encoded words where it is not ASCII."""
    if not value.isascii():
        return Header(value, "utf-8", LINE_LIMIT_CHARACTERS, name).encode(linesep=FOLD)
    lines, line = [], f"{name}:"
    for word in value.split():
        if len(line) + 1 + len(word) > LINE_LIMIT_CHARACTERS and line.strip():
            lines.append(line)
            line = ""
        line = f"{line} {word}"
    return "\r\n".join([*lines, line])[len(name) + 1 :].lstrip(" ")


def _mailbox(name: str, value: Address) -> str:
    spec = value.addr_spec.encode("ascii", "replace").decode("ascii")
    if not value.display_name:
        return spec
    if value.display_name.isascii():
        shown = '"' + re.sub(r'(["\\])', r"\\\1", value.display_name) + '"'
    else:
        shown = _words(name, value.display_name)
    fits = FOLD not in shown and len(f"{name}: {shown} <{spec}>") <= LINE_LIMIT_CHARACTERS
    return f"{shown} <{spec}>" if fits else f"{shown}{FOLD} <{spec}>"


def compose(
    notice: Notice, sender: str, recipient: str, message_id: str, reply_to: str = ""
) -> bytes:
    """Return the message with CRLF line ends; no line is longer than 998 bytes.

    A reply repeats the references of what it replies to, even where a server on the way gave the
    message another identity: so the tokens of its answers are among them.
    """
    garden = _identity(notice.garden)
    year, number, _ = notice.local_date.isocalendar()
    week = _identity(notice.garden, f"{year}-{number}")
    thread = f"<week-{week}@{IDENTITY_DOMAIN}>"
    answers = (f"<answer-{token}@{IDENTITY_DOMAIN}>" for token in notice.token.split())
    headers = {
        "From": _mailbox("From", address(sender)),
        "To": _mailbox("To", address(recipient)),
        "Subject": _words("Subject", clean_header(notice.subject)),
        "Date": format_datetime(notice.created_at),
        "Message-ID": message_id,
        "In-Reply-To": thread,
        "References": f"{FOLD} ".join((thread, *answers)),
        "List-Id": f"<garden-{garden}.{IDENTITY_DOMAIN}>",
        "Auto-Submitted": "auto-generated",
    }
    if reply_to:
        headers["Reply-To"] = _mailbox("Reply-To", address(reply_to))
    head = "".join(f"{name}: {value}\r\n" for name, value in headers.items())
    return head.encode("ascii") + _body(notice, message_id)


def _body(notice: Notice, message_id: str) -> bytes:
    """Return the text, or the text and its HTML as alternatives (RFC 2046, section 5.1.4).

    A boundary that begins with "=_" cannot stand in a quoted-printable part (section 5.1.1).
    """
    if not notice.html:
        return b"MIME-Version: 1.0\r\n" + _part("plain", notice.text)
    boundary = f"=_{_identity(message_id)}"
    begin, end = f"--{boundary}\r\n".encode(), f"--{boundary}--\r\n".encode()
    return b"".join(
        (
            b"MIME-Version: 1.0\r\n",
            f'Content-Type: multipart/alternative;\r\n boundary="{boundary}"\r\n\r\n'.encode(),
            begin,
            _part("plain", notice.text),
            begin,
            _part("html", notice.html),
            end,
        )
    )


def _part(subtype: str, text: str) -> bytes:
    """Return one part of text, quoted-printable so that no line is long and none is altered."""
    head = (
        f'Content-Type: text/{subtype}; charset="utf-8"\r\n'
        "Content-Transfer-Encoding: quoted-printable\r\n\r\n"
    )
    # With a line break at the end the encoder knows how soft ones have to look.
    lines = f"{clean_text(text)}\n".replace("\n", "\r\n").encode("utf-8")
    return head.encode("ascii") + b2a_qp(lines, istext=True)
