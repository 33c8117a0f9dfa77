"""Asking a forecast service politely: kept answers, conditional requests, pauses after errors."""

from __future__ import annotations

import re
import time
from collections.abc import Callable, Mapping
from datetime import UTC, datetime, timedelta
from functools import partial
from typing import TYPE_CHECKING, ClassVar, TypeVar
from urllib.parse import urlsplit

from msgspec import Struct

from strawbell import __version__
from strawbell.app.ports import AnswerCache, CachedAnswer
from strawbell.edges.forecasts.checks import read_json, safe_words
from strawbell.errors import OperationalError, Outlook
from strawbell.model.forecast import Forecast
from strawbell.model.garden import Place
from strawbell.words.catalogue import BRITISH

if TYPE_CHECKING:
    import ssl

    from strawbell.edges.forecasts.transport import Reply

FETCH_S = 30.0
"""The most that one fetch takes, all its requests together, to its end [s]."""
ASKING_SHARE = 0.9
"""Of that time for asking and decoding. The rest is for what comes after: breaking the sockets off,
and reading the largest answer (some 0.1 s on two cores)."""
PAUSE_AFTER_ERROR = timedelta(minutes=15)
"""Where a failing service does not say when to come back; common practice of its users."""
RETRY_AFTER_LEAST = timedelta(minutes=1)
RETRY_AFTER_MOST = timedelta(hours=6)
"""Retry-After is obeyed between these, so that a slip of the service is no outage of a week."""
LIFETIME_MOST = timedelta(hours=6)
"""No answer is kept longer than this unasked, whatever its Expires says."""
SECONDS_DIGITS_MOST = 9
"""More digits than these in a number of seconds are read as "very long"."""
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
        read: Read[T],
        *,
        until: float | None = None,
        anew: bool = False,
    ) -> T:
        """Return what `read` makes of the answer: the kept one while it is valid, else a new one.

        An answer that `read` cannot use is not kept and counts as an error of the service.
        `until` is the end of asking where several questions share one; `anew` passes the kept
        answer over.
        """
        kept = None if anew else self._load(question.url)
        value = None if kept is None else _understood(kept, read)
        if kept is not None and value is not None and _is_valid(kept, question, now):
            return value[0]
        self._mind_pauses(question, now)
        conditions = kept if value is not None else None
        reply = self._send(question, conditions, now, self.until() if until is None else until)
        return self._take(question, reply, conditions, now, read)

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

    def _take(
        self,
        question: Question,
        reply: Reply,
        kept: CachedAnswer | None,
        now: datetime,
        read: Read[T],
    ) -> T:
        is_confirmed = reply.status == NOT_MODIFIED and kept is not None
        if reply.status not in (OK, DEPRECATED) and not is_confirmed:
            error = Refused(_refusal(question.service, reply), reply.status)
            everybody = reply.status in CONCERNS_ALL_PLACES
            scope = origin(question.url) if everybody else question.url
            self._pause(scope, now, reply.headers, str(error))
            raise error
        before = kept if is_confirmed else None
        body = reply.body if before is None else before.body
        value = self._read(question, body, now, read)
        etag, last_modified = reply.headers.get("ETag"), reply.headers.get("Last-Modified")
        if reply.status == DEPRECATED:
            # Such a product still has a body, but is not to be asked for conditionally.
            etag = last_modified = None
        self._keep(
            CachedAnswer(
                url=question.url,
                etag=etag or (before.etag if before else None),
                last_modified=last_modified or (before.last_modified if before else None),
                expires_at=expires_at(now, reply.headers, question.interval),
                fetched_at=now,
                body=body,
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
            kind = type(error).__name__
            text = BRITISH.say("fetch.unforeseen", service=question.service, kind=kind)
            self._pause(question.url, now, {}, text)
            raise OperationalError(text, Outlook.UNKNOWN) from error

    def _mind_pauses(self, question: Question, now: datetime) -> None:
        for scope in (question.url, origin(question.url)):
            pause = self._load(_pause_key(scope))
            ends = pause.expires_at if pause else None
            if pause and ends and now < ends <= now + RETRY_AFTER_MOST:
                reason = pause.body.decode("utf-8", "replace")
                raise OperationalError(
                    BRITISH.say("fetch.paused", reason=reason, time=f"{ends:%H:%M}")
                )

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


def pause_until(now: datetime, headers: Mapping[str, str]) -> datetime:
    """Return when a service that failed may be asked again: its Retry-After, or 15 minutes."""
    wished = headers.get("Retry-After", "").strip()
    if _is_count(wished):
        return now + _between(_seconds(wished), RETRY_AFTER_LEAST, RETRY_AFTER_MOST)
    date = _http_date(wished)
    if date is None:
        return now + PAUSE_AFTER_ERROR
    # Their clock may not be ours: what counts is how far their date lies from their own Date.
    theirs = _http_date(headers.get("Date", "")) or now
    return now + _between(date - theirs, RETRY_AFTER_LEAST, RETRY_AFTER_MOST)


def expires_at(now: datetime, headers: Mapping[str, str], least: timedelta) -> datetime:
    """Return until when an answer is good without asking again.

    max-age goes before Expires (RFC 9111, section 5.3). `least` is our own interval, used where
    the service gives none or a shorter one.
    """
    lifetime = _lifetime(headers, now)
    return now + _between(lifetime, least, max(least, LIFETIME_MOST))


def _lifetime(headers: Mapping[str, str], now: datetime) -> timedelta:
    for directive in headers.get("Cache-Control", "").lower().split(","):
        key, _, value = directive.strip().partition("=")
        value = value.strip('" ')
        if key == "max-age" and _is_count(value):
            age = headers.get("Age", "").strip()
            return _seconds(value) - (_seconds(age) if _is_count(age) else timedelta())
    expires = _http_date(headers.get("Expires", ""))
    if expires is None:
        return timedelta()
    return expires - (_http_date(headers.get("Date", "")) or now)


def _is_count(text: str) -> bool:
    return text.isascii() and text.isdigit()


def _seconds(digits: str) -> timedelta:
    return timedelta(seconds=int(digits[:SECONDS_DIGITS_MOST]))


def _http_date(text: str) -> datetime | None:
    from email.utils import parsedate_to_datetime  # an answer from the store needs none

    try:
        date = parsedate_to_datetime(text)
        return (date if date.tzinfo else date.replace(tzinfo=UTC)).astimezone(UTC)
    except (ValueError, TypeError, OverflowError, IndexError):
        return None


def _between(value: timedelta, least: timedelta, most: timedelta) -> timedelta:
    return min(max(value, least), most)


def origin(url: str) -> str:
    """Return scheme, host and port of a URL: whom a pause concerns."""
    parts = urlsplit(url)
    return f"{parts.scheme}://{parts.netloc}"


class Asker:
    """Asks one service, or a part of one."""

    base_url: ClassVar[str]

    def __init__(self, http: Http, base_url: str | None = None) -> None:
        """Ask through `http`; another `base_url` is for tests and mirrors."""
        self._http = http
        self._base = (base_url or self.base_url).rstrip("/")


class WorldSource(Asker):
    """A source that covers the world, and has a forecast in the answer to one question."""

    def covers(self, place: Place) -> bool:  # noqa: ARG002 - the whole world
        """Return True: the service covers the world."""
        return True

    def fetch(self, place: Place, now: datetime) -> Forecast:
        """Return the forecast of a place; see `strawbell.app.ports.ForecastSource`."""
        return self._http.ask(self.question(place), now, partial(self.parse, place))

    def last_good(self, place: Place) -> Forecast | None:
        """Return the last good forecast of a place, however old."""
        return self._http.last(self.question(place).url, partial(self.parse, place))

    def question(self, place: Place) -> Question:
        """Return the one question about a place."""
        raise NotImplementedError

    def parse(self, place: Place, body: bytes, fetched_at: datetime) -> Forecast:
        """Return the forecast in an answer; `OperationalError` where there is none for a place."""
        raise NotImplementedError


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


def _refusal(service: str, reply: Reply) -> str:
    reason = _reason(service, reply.body)
    return BRITISH.say("fetch.refused", service=service, status=str(reply.status), reason=reason)


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


MOST_ANSWERS = 64
"""Answers and pauses held in memory: those of some twenty gardens at three services; the oldest
goes first."""


class PatientCache:
    """A cache that holds in memory what the store refuses, until the store takes it again.

    Without it a daemon on a full disk forgets at every beat that a service was asked just now,
    or wished to be left alone.
    """

    def __init__(self, store: AnswerCache) -> None:
        """Keep answers in `store` as long as it takes them."""
        self._store = store
        self._unkept: dict[str, CachedAnswer] = {}

    def load(self, url: str) -> CachedAnswer | None:
        """Return the last good answer of a URL, or None."""
        held = self._unkept.get(url)
        return self._store.load(url) if held is None else held

    def keep(self, answer: CachedAnswer) -> None:
        """Replace the last good answer of `answer.url`."""
        try:
            self._store.keep(answer)
        except OperationalError:
            self._unkept.pop(answer.url, None)
            while len(self._unkept) >= MOST_ANSWERS:
                del self._unkept[next(iter(self._unkept))]
            self._unkept[answer.url] = answer
        else:
            self._unkept.pop(answer.url, None)
