"""Answers by mail: a mailbox over IMAP, looked into now and then; no port is opened for it.

The folder is opened for reading only, so nothing in it is moved, marked or deleted, and what is
unread stays so. Which mails were looked at is remembered by their numbers.

Each mail is a reply, a bounce, or something that is neither. Everything in it is written by whoever
sent it. So nothing here trusts a header but to refuse, no attachment is opened, nothing is loaded,
and the work is bounded before anything is parsed.
"""

from __future__ import annotations

import imaplib
import re
import ssl
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from email import message_from_bytes, policy
from email.errors import MessageError
from email.message import EmailMessage, Message
from email.utils import getaddresses
from html.parser import HTMLParser
from typing import TYPE_CHECKING

from strawbell.app.ports import Arrival, Bounce, Gathered, IgnoredFor, Reply, Unheard
from strawbell.edges.programs import SecretCommand, SecretCommandError
from strawbell.model.configuration import InboxSettings, MailSettings
from strawbell.words.catalogue import BRITISH

PATIENCE_S = 20.0
"""Longest silence of the server [s]."""
ROUND_S = 60.0
"""Longest time for the mails of one look [s]; the rest waits for the next."""
MOST_AT_ONCE = 100
"""Mails read in one look; a flood is read over many, and costs nothing else its turn."""
LOOK_BACK_D = 8
"""How far back a mailbox is read that was never looked into, or was numbered anew [day]: a
token of an older notice no longer counts."""
JUNK_EVERY_S = 86_400.0
"""How often the folder of junk is looked into [s]: a mail that it took is late, not lost."""
NEW_NUMBERS = re.compile(r"(\d+):(\d+)")


class ImapInbox:
    """Looks into one folder of one account."""

    is_ringing = False

    def __init__(
        self,
        settings: InboxSettings,
        mail: MailSettings,
        folder: str | None,
        every_s: float,
        *,
        tls_context: Callable[[], ssl.SSLContext] = ssl.create_default_context,
        patience_s: float = PATIENCE_S,
        monotonic: Callable[[], float] = time.monotonic,
    ) -> None:
        """Keep the settings; what of a login they lack is that of `mail`. Nothing is connected yet.

        `folder` None is the one that the server calls that of junk (RFC 6154), where there is one.
        """
        self.name = "inbox" if folder else "junk"
        self.every_s = every_s
        self._host, self._port, self._security = settings.host, settings.port, settings.security
        self._username = settings.username or mail.username or ""
        self._password, self._folder = settings.password or mail.password or "", folder
        self._command = mail.password_command or mail.oauth_token_command
        self._is_by_token = mail.oauth_token_command is not None and not settings.password
        self._make_context, self._patience_s = tls_context, patience_s
        self._monotonic = monotonic

    def __repr__(self) -> str:
        return f"ImapInbox({self._host!r}, {self._port})"

    def gather(self, mark: str, now: datetime) -> Gathered:
        """Return what came since `mark`, and the new mark; "" is the mark of a first look.

        Raises `Unheard` where it could not be looked into.
        """
        with self._opened() as (box, folder):
            return self._gather(box, folder, mark, now) if folder else Gathered((), mark)

    def call(self, ring: Callable[[], object] | None) -> None:
        """Nothing comes by itself."""

    def probe(self) -> str:
        """Try it, and return what was found; raises `Unheard` where it could not be looked into."""
        with self._opened() as (box, folder):
            if folder is None:
                return BRITISH.say("inbox.no-junk")
            mails = box.folder.status(folder, ["MESSAGES"])["MESSAGES"]
            return BRITISH.say("inbox.readable", folder=folder, mails=str(mails))

    def _gather(self, box: BaseMailBox, folder: str, mark: str, now: datetime) -> Gathered:
        epoch = int(box.folder.status(folder, ["UIDVALIDITY"])["UIDVALIDITY"])
        seen = NEW_NUMBERS.fullmatch(mark)
        last = int(seen[2]) if seen and int(seen[1]) == epoch else None
        if last is None:
            since = (now - timedelta(days=LOOK_BACK_D)).strftime("%d-%b-%Y")
            numbers = [int(each) for each in box.uids(f"SINCE {since}", charset=None)]
        else:
            # The last mail always fits "n:*", so what is not new has to be left out here.
            found = box.uids(f"UID {last + 1}:*", charset=None)
            numbers = [number for each in found if (number := int(each)) > last]
        arrivals: list[Arrival] = []
        ends_s = self._monotonic() + ROUND_S
        numbers.sort()
        taken = last or 0
        for number in numbers[:MOST_AT_ONCE]:
            if self._monotonic() > ends_s:
                break
            arrivals.extend(_fetched(box, number, f"{epoch}:{number}", now))
            taken = number
        is_all = not numbers or taken == numbers[-1]
        return Gathered(tuple(arrivals), f"{epoch}:{taken}", is_all)

    @contextmanager
    def _opened(self) -> Iterator[tuple[BaseMailBox, str | None]]:
        """Open the folder for reading; None where there is no folder of junk."""
        from imap_tools import ImapToolsError, MailboxFolderSelectError

        box: BaseMailBox | None = None
        try:
            box = self._connected()
            self._log_in(box)
            folder = self._folder or _junk(box)
            if folder:
                box.folder.set(folder, readonly=True)
            yield box, folder
        except MailboxFolderSelectError as error:
            said = BRITISH.say("inbox.no-folder", folder=repr(self._folder))
            raise Unheard(said, True) from error
        except ssl.SSLCertVerificationError as error:
            raise Unheard(BRITISH.say("inbox.certificate", host=self._host), True) from error
        except (ImapToolsError, imaplib.IMAP4.error, OSError, ValueError, EOFError) as error:
            why = error.strerror if isinstance(error, OSError) else None
            raise Unheard(BRITISH.say("inbox.not-asked", host=self._host, why=why)) from error
        finally:
            if box is not None:
                _leave(box)

    def _log_in(self, box: BaseMailBox) -> None:
        from imap_tools import MailboxLoginError

        secret = self._secret()
        try:
            if self._is_by_token:
                box.xoauth2(self._username, secret, None)
            elif (self._username + secret).isascii():
                box.login(self._username, secret, None)
            else:
                # Names and passwords beyond ASCII need the way that carries UTF-8 (RFC 4616).
                box.login_utf8(self._username, secret, None)
        except imaplib.IMAP4.abort:
            raise
        except (MailboxLoginError, imaplib.IMAP4.error) as error:
            raise Unheard(BRITISH.say("inbox.no-login"), True) from error

    def _secret(self) -> str:
        """Return the password or the token, by the grower's command where it is kept elsewhere."""
        if self._password or self._command is None:
            return self._password
        try:
            return SecretCommand(self._command).first_line(self._patience_s)
        except SecretCommandError as error:
            raise Unheard(str(error), True) from error

    def _connected(self) -> BaseMailBox:
        from imap_tools import MailBox, MailBoxStartTls, MailBoxUnencrypted

        if self._security == "none":
            return MailBoxUnencrypted(self._host, self._port, timeout=self._patience_s)
        # Without a context the library checks no certificate on some versions of Python.
        context = self._make_context()
        kind = MailBox if self._security == "tls" else MailBoxStartTls
        return kind(self._host, self._port, timeout=self._patience_s, ssl_context=context)


def _junk(box: BaseMailBox) -> str | None:
    """Return the folder that is marked as the one of junk, whatever it is called."""
    return next((each.name for each in box.folder.list() if "\\Junk" in each.flags), None)


def _fetched(box: BaseMailBox, number: int, identity: str, now: datetime) -> Iterator[Arrival]:
    """Yield what one mail is; nothing where it is gone by now."""
    parts = f"(INTERNALDATE BODY.PEEK[]<0.{READ_BYTES}>)"
    _, answer = box.client.uid("FETCH", str(number), parts)
    for piece in answer:
        if isinstance(piece, tuple) and len(piece) == 2:  # noqa: PLR2004 - its head and its body
            head, raw = piece
            yield read_letter(bytes(raw), _received_at(bytes(head), now), identity)
            return


def _received_at(head: bytes, now: datetime) -> datetime:
    """Return when the server took the mail; the date a mail writes itself is anybody's."""
    found = imaplib.Internaldate2tuple(head)
    return now if found is None else datetime.fromtimestamp(time.mktime(found), UTC)


def _leave(box: BaseMailBox) -> None:
    """Say goodbye; whatever goes wrong now is of no consequence."""
    try:
        box.client.logout()
    except (imaplib.IMAP4.error, OSError, ValueError):
        return


READ_BYTES = 65_536
"""So much of a mail is read at most: an answer is a line, and its subject stands before it."""
MOST_HEADER_LINES = 300
"""Lines of the head of a mail; more than any honest server adds."""
MOST_BOUNDARIES = 20
"""Parts within parts; a mail program makes two or three levels."""
OWN_DOMAIN = "strawbell.invalid"
"""Right side of every Message-ID of ours."""

_AUTOMATIC_HEADERS = (
    "X-Autoreply",
    "X-Autorespond",
    "X-AutoReply-From",
    "X-Mail-Autoreply",
    "X-Autogenerated",
    "X-FC-MachineGenerated",
)
_AUTOMATIC_PRECEDENCE = {"bulk", "junk", "auto_reply"}
_LIST_HEADERS = ("List-Id", "List-Post", "List-Unsubscribe", "Feedback-ID")
_AUTOMATIC_SUBJECTS = re.compile(
    r"\s*(automatic reply|auto(?:matic)?[- ]?response|out of (?:the )?office|automatische antwort"
    r"|abwesenheitsnotiz|r\u00e9ponse automatique)\b",
    re.IGNORECASE,
)
_AUTOMATIC_SENDERS = re.compile(
    r"(mailer-daemon|postmaster|no-?reply|do-?not-?reply)@", re.IGNORECASE
)
_DMARC_FAIL = re.compile(r"\bdmarc\s*=\s*fail\b", re.IGNORECASE)
_CARRIED = re.compile(rf"<answer-([0-9A-Za-z]{{20}})@{re.escape(OWN_DOMAIN)}>")
_IDENTITY = re.compile(r"<[^<>\s]{1,300}>")

_ATTRIBUTION_ENDS = re.compile(
    r"(wrote|schrieb|a \u00e9crit|escribi\u00f3|ha scritto|schreef|skrev)\b.*:\s*$", re.IGNORECASE
)
_ATTRIBUTION_BEGINS = re.compile(r"(On|Am|Le|El|Il|Op|Den)\s")
MOST_ATTRIBUTION_LINES = 3
"""How many lines a mail program breaks "On ... wrote:" into."""
_BORDER = re.compile(
    r"-{2,}\s*(original message|urspr\u00fcngliche nachricht|forwarded message"
    r"|weitergeleitete nachricht).*|_{10,}|-- |--",
    re.IGNORECASE,
)
_HEADER_BLOCK = re.compile(r"(from|sent|von|gesendet|de|da|van)\s*:", re.IGNORECASE)
_PHONE_SIGNATURE = re.compile(
    r"(sent from (my|yahoo|outlook|mail)|get outlook for|von meinem .* gesendet"
    r"|diese nachricht wurde von meinem|envoy\u00e9 de mon|enviado desde mi)",
    re.IGNORECASE,
)
_QUOTE_CLASSES = ("gmail_quote", "yahoo_quoted", "moz-cite-prefix", "protonmail_quote")
_QUOTE_IDS = ("appendonsend", "divrplyfwdmsg", "mail-editor-reference-message-container")
_QUOTE_BORDERS = ("border-top:solid #e1e1e1", "border-top:solid #b5c4df")


def read_letter(raw: bytes, received_at: datetime, mailbox: str = "") -> Arrival:
    """Return what a mail is, given its first `READ_BYTES`; `received_at` by the own server.

    `mailbox` and the position in it stand in for a Message-ID that is missing.
    """
    raw = raw[:READ_BYTES].replace(b"\r\n", b"\n").replace(b"\r", b"\n")
    head = raw.partition(b"\n\n")[0]
    if head.count(b"\n") > MOST_HEADER_LINES:
        return IgnoredFor.TOO_MUCH
    if raw.lower().count(b"boundary=") > MOST_BOUNDARIES:
        return IgnoredFor.TOO_MUCH
    try:
        mail = message_from_bytes(raw, policy=policy.default)
        return _arrival(mail, received_at, mailbox)
    except (MessageError, LookupError, ValueError, RecursionError, AttributeError, IndexError):
        # The library raises what its parsers happen to meet in a broken mail.
        return IgnoredFor.BROKEN


def _arrival(mail: EmailMessage, received_at: datetime, mailbox: str) -> Arrival:
    identity = _text(mail, "Message-ID").strip()
    if identity.endswith(f"@{OWN_DOMAIN}>"):
        return IgnoredFor.OWN
    bounce = _bounce(mail)
    if bounce is not None:
        return bounce
    if _is_from_a_list(mail):
        return IgnoredFor.LIST
    if _is_automatic(mail):
        return IgnoredFor.AUTOMATIC
    sender = _sender(mail)
    if sender is None:
        return IgnoredFor.NO_ONE_SENDER
    if _AUTOMATIC_SENDERS.match(sender):
        return IgnoredFor.AUTOMATIC
    if _is_refused_by_the_own_server(mail):
        return IgnoredFor.FORGED
    if _is_reaction(mail):
        return IgnoredFor.REACTION
    text, is_whole = _body(mail)
    return Reply(
        identity=identity or mailbox,
        sender=sender,
        subject=_text(mail, "Subject"),
        lines=_typed(text),
        received_at=received_at,
        is_whole=is_whole,
        carries=_carried(mail),
        carriers=(text,),
    )


def _text(mail: Message, name: str) -> str:
    """Return a header decoded; lines joined with a blank."""
    value = mail.get(name)
    return "" if value is None else " ".join(str(value).split("\n"))


def _is_from_a_list(mail: EmailMessage) -> bool:
    precedence = _text(mail, "Precedence").strip().lower()
    return precedence == "list" or any(mail[name] is not None for name in _LIST_HEADERS)


def _is_automatic(mail: EmailMessage) -> bool:
    """Return whether nobody typed it: RFC 3834, and what servers wrote before and beside it.

    `X-Auto-Response-Suppress` is no sign: it only asks not to be answered.
    """
    submitted = _text(mail, "Auto-Submitted").split(";")[0].strip().lower()
    precedence = {
        _text(mail, name).strip().lower() for name in ("Precedence", "X-Precedence", "Preference")
    }
    return (
        submitted not in ("", "no")
        or bool(precedence & _AUTOMATIC_PRECEDENCE)
        or any(mail[name] is not None for name in _AUTOMATIC_HEADERS)
        or "autoresponder" in _text(mail, "X-POST-MessageClass").lower()
        or _text(mail, "Delivered-To").strip().lower() == "autoresponder"
        or _text(mail, "Return-Path").strip().lower().startswith(("<>", "<mailer-daemon"))
        or mail.get_content_type() == "multipart/report"
        or bool(_AUTOMATIC_SUBJECTS.match(_text(mail, "Subject")))
    )


def _sender(mail: EmailMessage) -> str | None:
    """Return the one address that the mail says it is from, None when it is not one."""
    fields = mail.get_all("From", [])
    if len(fields) != 1:
        return None
    addresses = [spec for _, spec in getaddresses([str(fields[0])]) if spec]
    return addresses[0].lower() if len(addresses) == 1 and "@" in addresses[0] else None


def _is_refused_by_the_own_server(mail: EmailMessage) -> bool:
    """Return whether the topmost verdict on the sender is that it is forged (RFC 8601).

    Ones further down may be anybody's. None at all is usual for mail within one provider.
    """
    verdicts = mail.get_all("Authentication-Results", [])
    return bool(verdicts) and bool(_DMARC_FAIL.search(str(verdicts[0])))


def _is_reaction(mail: EmailMessage) -> bool:
    return any(
        part.get_content_type().startswith("text/vnd.google.email-reaction") for part in mail.walk()
    )


def _bounce(mail: EmailMessage) -> Bounce | None:
    """Return what a delivery report says of one of our own messages (RFC 3464)."""
    for part in mail.walk():
        if part.get_content_type() != "message/delivery-status":
            continue
        blocks = part.get_payload()
        if not isinstance(blocks, list):
            return None
        for block in blocks[1:]:
            if isinstance(block, Message) and block["Action"]:
                return Bounce(
                    message_id=_own_identity_in(mail),
                    action=_text(block, "Action").strip().lower(),
                    status=_text(block, "Status").strip(),
                    recipient=_text(block, "Final-Recipient").partition(";")[2].strip().lower(),
                    said=_text(block, "Diagnostic-Code").partition(";")[2].strip(),
                )
    return None


def _own_identity_in(mail: EmailMessage) -> str:
    """Return our Message-ID out of the message that a report brings back, "" for none."""
    for part in mail.walk():
        kind = part.get_content_type()
        if kind == "text/rfc822-headers":
            found = str(part.get_payload(decode=False))
        elif kind == "message/rfc822":
            found = next((_text(inner, "Message-ID") for inner in part.iter_parts()), "")
        else:
            continue
        for identity in _IDENTITY.findall(found):
            if identity.endswith(f"@{OWN_DOMAIN}>") and not identity.startswith(
                ("<week-", "<season-", "<answer-")  # "season" in mails of before
            ):
                return str(identity)
    return ""


def _carried(mail: EmailMessage) -> tuple[str, ...]:
    """Return the tokens that a mail program brought along from what is replied to, newest first."""
    named = " ".join(_text(mail, name) for name in ("References", "In-Reply-To"))
    return tuple(dict.fromkeys(reversed(_CARRIED.findall(named))))


def _body(mail: EmailMessage) -> tuple[str, bool]:
    """Return the text of a mail down to the quote of a page, and whether all of it is sound."""
    if mail.get_content_type() in ("multipart/encrypted", "application/pkcs7-mime"):
        return "", False
    part = mail.get_body(("plain", "html"))
    if part is None:
        return "", True
    text, is_sound = _content(part)
    if part.get_content_subtype() == "html":
        text = _above_the_quote_in_html(text)
    return text, is_sound


def _content(part: Message) -> tuple[str, bool]:
    payload = part.get_payload(decode=True)
    raw = payload if isinstance(payload, bytes) else b""
    is_sound = not part.defects
    charset = part.get_content_charset("utf-8")
    try:
        return raw.decode(charset, "replace"), is_sound
    except LookupError:
        # What is plain ASCII is the same in nearly every charset there is.
        return raw.decode("ascii", "replace"), is_sound


def _typed(text: str) -> tuple[str, ...]:
    """Return the lines of a text part without quotes, their attribution, and signatures."""
    lines = text.replace("\r", "").split("\n")
    kept: list[str] = []
    number = 0
    while number < len(lines):
        line = lines[number]
        bare = line.strip()
        if bare.startswith(">"):
            number += 1
            continue
        if _BORDER.fullmatch(line.rstrip("\r")) or _BORDER.fullmatch(bare):
            break
        if _HEADER_BLOCK.match(bare) and _is_header_block(lines, number):
            break
        skipped = _attribution(lines, number)
        if skipped:
            number += skipped
            continue
        if not _PHONE_SIGNATURE.match(bare):
            kept.append(line)
        number += 1
    return tuple(line.strip() for line in kept if line.strip())


def _attribution(lines: list[str], number: int) -> int:
    """Return how many lines from here on are "On ... wrote:", 0 when none are."""
    if not _ATTRIBUTION_BEGINS.match(lines[number].strip()):
        return 0
    for size in range(1, MOST_ATTRIBUTION_LINES + 1):
        joined = " ".join(line.strip() for line in lines[number : number + size])
        if _ATTRIBUTION_ENDS.search(joined):
            return size
    return 0


def _is_header_block(lines: list[str], number: int) -> bool:
    """Return whether the line is the first of "From: ... Sent: ... To: ...", above a quote."""
    near = [line.strip() for line in lines[number : number + 4]]
    return sum(bool(re.match(r"[\w ]{2,20}:\s*\S", line)) for line in near) >= 2  # noqa: PLR2004


def _above_the_quote_in_html(page: str) -> str:
    reader = _PageText()
    reader.feed(page)
    reader.close()
    return "".join(reader.parts)


class _PageText(HTMLParser):
    """The text of a page down to the border of what it quotes; nothing outside is loaded."""

    _BREAKS = frozenset(("br", "p", "div", "tr", "li", "h1", "h2", "h3", "table"))
    _UNSEEN = frozenset(("style", "script", "head", "title"))

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.parts: list[str] = []
        self._unseen = 0
        self._is_over = False

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if self._is_over:
            return
        if tag in self._UNSEEN:
            self._unseen += 1
        given = {name: (value or "").lower() for name, value in attrs}
        style = re.sub(r"\s*([:;])\s*", r"\1", given.get("style", ""))
        self._is_over = (
            tag == "blockquote"
            or any(name in given.get("class", "") for name in _QUOTE_CLASSES)
            or given.get("id", "") in _QUOTE_IDS
            or any(border in style for border in _QUOTE_BORDERS)
        )
        if tag in self._BREAKS:
            self.parts.append("\n")

    def handle_endtag(self, tag: str) -> None:
        if tag in self._UNSEEN:
            self._unseen = max(0, self._unseen - 1)
        elif tag in self._BREAKS and not self._is_over:
            self.parts.append("\n")

    def handle_data(self, data: str) -> None:
        if not self._is_over and not self._unseen:
            self.parts.append(data.replace("\n", " "))


if TYPE_CHECKING:
    from imap_tools import BaseMailBox
