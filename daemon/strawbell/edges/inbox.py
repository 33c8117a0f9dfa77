"""Answers by mail: a mailbox over IMAP, looked into now and then; no port is opened for it.

The folder is opened for reading only, so nothing in it is moved, marked or deleted, and what is
unread stays so. Which mails were looked at is remembered by their numbers.
"""

from __future__ import annotations

import imaplib
import re
import ssl
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

from strawbell.app.ports import Arrival, Gathered, Unheard
from strawbell.edges.letters import READ_BYTES, read_letter
from strawbell.edges.secret_command import SecretCommand, SecretCommandError
from strawbell.model.configuration import InboxSettings, MailSettings

if TYPE_CHECKING:
    from imap_tools import BaseMailBox

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
                return "The server says of no folder that it is for junk; none is looked into."
            mails = box.folder.status(folder, ["MESSAGES"])["MESSAGES"]
            return f"{folder} can be read; {mails} mails lie in it."

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
            raise Unheard(f"The mailbox has no folder {self._folder!r}.", True) from error
        except ssl.SSLCertVerificationError as error:
            raise Unheard(
                f"The certificate of {self._host} does not prove that it is {self._host}.", True
            ) from error
        except (ImapToolsError, imaplib.IMAP4.error, OSError, ValueError, EOFError) as error:
            said = error.strerror if isinstance(error, OSError) and error.strerror else ""
            raise Unheard(f"{self._host} could not be asked for answers. {said}".strip()) from error
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
            raise Unheard(
                "The mailbox refused the login; look at [inbox] username and password.", True
            ) from error

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
