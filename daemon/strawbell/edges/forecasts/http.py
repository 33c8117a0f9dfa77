"""Asking a forecast service politely: kept answers, conditional requests, pauses after errors."""

from __future__ import annotations

import re
import time
from collections.abc import Callable, Mapping
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, TypeVar

from msgspec import Struct
from msgspec.structs import replace

from strawbell import __version__
from strawbell.app.ports import AnswerCache, CachedAnswer
from strawbell.edges.forecasts.checks import read_json, safe_words
from strawbell.edges.forecasts.politeness import (
    LIFETIME_MOST,
    RETRY_AFTER_MOST,
    expires_at,
    origin,
    pause_until,
)
from strawbell.errors import OperationalError, Outlook

if TYPE_CHECKING:
    import ssl

    from strawbell.edges.forecasts.transport import Reply

FETCH_S = 30.0
"""The most that one fetch takes, all its requests together, to its end [s]."""
ASKING_SHARE = 0.9
"""Of that time for asking and decoding. The rest is for what comes after: breaking the sockets off,
and reading the largest answer (some 0.1 s on two cores)."""
FOR_GOOD = frozenset({400, 401, 403, 404, 410, 422})
CONCERNS_ALL_PLACES = frozenset({401, 403, 429})
"""With these the service refuses us, not the place we asked for."""
OK, DEPRECATED, NOT_MODIFIED = 200, 203, 304

T = TypeVar("T")
Read = Callable[[bytes, datetime], T]
"""Makes something of a body and the moment it was fetched; OperationalError where it cannot."""


class Question(Struct, frozen=True):
    """What is asked of a service: its name as spoken to the grower, the URL, our own interval."""

    service: str
    url: str
    interval: timedelta
    accept: str = "application/json"
    follow_redirects: bool = True
    wants_contact: bool = False
    """Whether the service asks to be told how its users can be reached."""


class Refused(OperationalError):
    """The service answered with a status that is no forecast."""

    def __init__(self, message: str, status: int) -> None:
        """Keep the status; those that another try would not change are for good."""
        self.status = status
        super().__init__(message, Outlook.FOR_GOOD if status in FOR_GOOD else Outlook.FOR_NOW)


class Paused(OperationalError):
    """The service failed a short while ago and is left alone; nothing was asked."""


class Http:
    """The way all forecast adapters go to their services.

    Everything to remember is in `cache`, pauses too, so that a program started every few minutes
    is as polite as a daemon.
    """

    def __init__(
        self,
        cache: AnswerCache,
        *,
        contact: str | None = None,
        fetch_s: float = FETCH_S,
        tls_context: ssl.SSLContext | None = None,
        monotonic: Callable[[], float] = time.monotonic,
    ) -> None:
        """Identify as `contact` [an address or URL]; `tls_context` only for private authorities."""
        self._cache = cache
        self._contact = contact
        self._fetch_s = fetch_s
        self._tls_context = tls_context
        self._monotonic = monotonic

    def until(self) -> float:
        """Return the end of asking in a fetch that begins now, on the monotonic clock [s]."""
        return self._monotonic() + ASKING_SHARE * self._fetch_s

    def ask(
        self,
        question: Question,
        now: datetime,
        until: float,
        read: Read[T],
        *,
        anew: bool = False,
    ) -> T:
        """Return what `read` makes of the answer: the kept one while it is valid, else a new one.

        An answer that `read` cannot use is not kept and counts as an error of the service.
        `anew` passes the kept answer over.
        """
        kept = None if anew else self._load(question.url)
        value = None if kept is None else _understood(kept, read)
        if kept is not None and value is not None and _is_valid(kept, question, now):
            return value[0]
        self._mind_pauses(question, now)
        conditions = kept if value is not None else None
        reply = self._send(question, conditions, now, until)
        if reply.status == NOT_MODIFIED and conditions is not None:
            return self._confirm(question, conditions, reply, now, read)
        return self._take(question, reply, now, read)

    def last(self, url: str, read: Read[T]) -> T | None:
        """Return what `read` makes of the last good answer of a URL, however old."""
        kept = self._load(url)
        value = None if kept is None else _understood(kept, read)
        return value[0] if value else None

    def _send(
        self, question: Question, kept: CachedAnswer | None, now: datetime, until: float
    ) -> Reply:
        # Here, not above: who only prints a version or reads a kept forecast needs no requests.
        from strawbell.edges.forecasts.transport import fetch_reply

        headers = {
            "User-Agent": user_agent(self._contact if question.wants_contact else None),
            "Accept": question.accept,
            "Accept-Encoding": "gzip",
        }
        if kept is not None and kept.etag:
            headers["If-None-Match"] = kept.etag
        if kept is not None and kept.last_modified:
            headers["If-Modified-Since"] = kept.last_modified
        try:
            return fetch_reply(
                question.service,
                question.url,
                headers,
                seconds=until - self._monotonic(),
                follow_redirects=question.follow_redirects,
                tls_context=self._tls_context,
            )
        except OperationalError as error:
            self._pause(origin(question.url), now, {}, str(error))
            raise

    def _confirm(
        self, question: Question, kept: CachedAnswer, reply: Reply, now: datetime, read: Read[T]
    ) -> T:
        value = self._read(question, kept.body, now, read)
        self._keep(
            replace(
                kept,
                etag=_header(reply.headers, "ETag") or kept.etag,
                last_modified=_header(reply.headers, "Last-Modified") or kept.last_modified,
                expires_at=expires_at(now, reply.headers, question.interval),
                fetched_at=now,
            )
        )
        return value

    def _take(self, question: Question, reply: Reply, now: datetime, read: Read[T]) -> T:
        if reply.status not in (OK, DEPRECATED):
            error = Refused(_refusal(question.service, reply), reply.status)
            everybody = reply.status in CONCERNS_ALL_PLACES
            scope = origin(question.url) if everybody else question.url
            self._pause(scope, now, reply.headers, str(error))
            raise error
        value = self._read(question, reply.body, now, read)
        # A deprecated product (203) still has a body, but is not to be asked for conditionally.
        conditional = reply.status == OK
        self._keep(
            CachedAnswer(
                url=question.url,
                etag=_header(reply.headers, "ETag") if conditional else None,
                last_modified=_header(reply.headers, "Last-Modified") if conditional else None,
                expires_at=expires_at(now, reply.headers, question.interval),
                fetched_at=now,
                body=reply.body,
            )
        )
        return value

    def _read(self, question: Question, body: bytes, now: datetime, read: Read[T]) -> T:
        try:
            return read(body, now)
        except OperationalError as error:
            self._pause(question.url, now, {}, str(error))
            raise
        except Exception as error:
            # A slip of ours on an answer nobody foresaw must not cost the grower the morning.
            text = f"{question.service} sent an answer nobody foresaw ({type(error).__name__})."
            self._pause(question.url, now, {}, text)
            raise OperationalError(text, Outlook.UNKNOWN) from error

    def _mind_pauses(self, question: Question, now: datetime) -> None:
        for scope in (question.url, origin(question.url)):
            pause = self._load(_pause_key(scope))
            ends = pause.expires_at if pause else None
            if pause and ends and now < ends <= now + RETRY_AFTER_MOST:
                reason = pause.body.decode("utf-8", "replace")
                raise Paused(f"{reason} It is not asked again before {ends:%H:%M} UTC.")

    def _pause(self, scope: str, now: datetime, headers: Mapping[str, str], reason: str) -> None:
        ends = pause_until(now, headers)
        self._keep(CachedAnswer(_pause_key(scope), None, None, ends, now, reason.encode()))

    def _load(self, url: str) -> CachedAnswer | None:
        try:
            return self._cache.load(url)
        except OperationalError:
            return None  # A broken store is told by the store; a forecast can be had without it.

    def _keep(self, answer: CachedAnswer) -> None:
        try:
            self._cache.keep(answer)
        except OperationalError:
            return


def user_agent(contact: str | None) -> str:
    """Return who we say we are: name, version and, where given, how to reach the grower."""
    clean = re.sub(r"[^\x20-\x7e]|[()\\]", "", contact or "").strip()
    return f"strawbell/{__version__} ({clean or 'straw bale garden reminders'})"


def _understood(kept: CachedAnswer, read: Read[T]) -> tuple[T] | None:
    try:
        return (read(kept.body, kept.fetched_at),)
    except Exception:  # noqa: BLE001, RUF100 - a kept body we cannot read is as good as none
        return None


def _is_valid(kept: CachedAnswer, question: Question, now: datetime) -> bool:
    """Tell whether a kept answer may be used unasked; one from the future may not."""
    if kept.expires_at is None or kept.fetched_at > now:
        return False
    return now < kept.expires_at <= now + max(question.interval, LIFETIME_MOST)


def _pause_key(scope: str) -> str:
    return f"pause {scope}"


def _header(headers: Mapping[str, str], name: str) -> str | None:
    for key, value in headers.items():
        if key.lower() == name.lower():
            return value or None
    return None


_MEANINGS = {
    400: "did not understand our question",
    401: "refused us",
    403: "refused us; an address in [weather] contact may be wanted",
    404: "does not know this place",
    422: "does not cover this place",
    429: "asks us to come less often",
}


def _refusal(service: str, reply: Reply) -> str:
    meaning = _MEANINGS.get(reply.status, "has no forecast for us now")
    reason = _reason(service, reply.body)
    return f"{service} {meaning} (HTTP {reply.status}{': ' + reason if reason else ''})."


def _reason(service: str, body: bytes) -> str:
    """Return the service's own words, made safe to show: short, printable, no markup."""
    text = ""
    try:
        answer = read_json(service, body)
    except OperationalError:
        text = re.sub(r"<[^<>]*>", " ", body[:4096].decode("utf-8", "replace"))
    else:
        if isinstance(answer, dict):
            words = (answer.get(key) for key in ("reason", "detail", "title"))
            text = next((word for word in words if isinstance(word, str)), "")
    return safe_words(text)
