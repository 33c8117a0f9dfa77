"""Notices to a phone by the open push protocol of topics, and to any address as plain JSON.

A notice is published on a topic of a server that the grower chooses; its buttons post a word and
the token of the notice to a second topic, which is asked for now and then. So no port is open
here, and the server and the phones see everything that is said: the token is the only authority,
and it can do no more than answer.
"""

from __future__ import annotations

import hashlib
import http.client
import json
import re
import ssl
import time
from collections.abc import Callable, Iterator, Mapping
from datetime import UTC, datetime
from typing import Any
from urllib.parse import urlsplit

from msgspec import Struct

from strawbell.app.ports import Gathered, Reply, Unheard
from strawbell.edges.machine import is_own
from strawbell.model.configuration import PushSettings
from strawbell.model.notice import Delivery, Notice, NoticeKind, OutboxRow, Outcome
from strawbell.words.catalogue import BRITISH

PATIENCE_S = 15.0
"""Longest silence of the server [s]."""
WITHIN_S = 45.0
"""Time for reading one answer of it [s], however slowly it comes."""
EVERY_S = 60.0
"""How often answers are asked for [s]: a twelfth of what servers allow a visitor by default."""
ANSWER_BYTES = 262_144
"""So much of an answer is read at most."""
MESSAGE_BYTES = 3500
"""Longest message: servers cut or refuse beyond 4,096 bytes, buttons and title apart."""
MOST_BUTTONS = 3
"""A server refuses a notice with more."""
SINCE_FIRST = "12h"
"""How far a first look goes back: servers keep messages for half a day by default."""
ANSWERS = "-answers"
"""Added to the topic of the notices, this is the one that answers go to."""

_PRIORITY: Mapping[NoticeKind, int] = {
    NoticeKind.CHANGE: 4,
    NoticeKind.TROUBLE: 4,
    NoticeKind.EVENING: 4,
    NoticeKind.ALL_CLEAR: 2,
}
"""From 1 to 5; 4 and more ring aloud. What changes the day, or protects tonight, is urgent."""
_ORDINARY = 3
_ANSWER = re.compile(r"([\w' ]{1,40}?) ([0-9A-Za-z]{20}) ([0-9a-f]{24})")
_SETTINGS = {401, 403, 404}
"""What mended settings cure: an access token that is wrong, or may not write, and an address."""
_FOR_GOOD = {400, 413}


class _Answer(Struct, frozen=True):
    """What the server said."""

    status: int
    body: bytes


class _LaterError(Exception):
    """Nothing was handed over; the text is a sentence for the grower."""

    def __init__(self, why: str, *, settings: bool = False, own: bool = False) -> None:
        self.settings, self.own = settings, own
        super().__init__(why)


class _UnknownError(Exception):
    """It was handed over, and nothing came back."""


class PushChannel:
    """Publishes each notice once, and asks for the answers of its buttons.

    Without a topic each notice is posted to the address itself, as JSON, and cannot be answered.
    """

    name = "push"
    recipients = ("push",)
    every_s = EVERY_S
    is_ringing = False

    def __init__(
        self,
        settings: PushSettings,
        *,
        tls_context: Callable[[], ssl.SSLContext] = ssl.create_default_context,
        patience_s: float = PATIENCE_S,
        monotonic: Callable[[], float] = time.monotonic,
    ) -> None:
        """Keep the settings; nothing is connected before the first notice."""
        self._url, self._topic = settings.url.rstrip("/"), settings.topic
        self._token, self._answer_token = settings.token, settings.answer_token
        self.answers_to = "" if self._topic else None
        self._make_context, self._patience_s = tls_context, patience_s
        self._monotonic = monotonic

    def __repr__(self) -> str:
        return f"PushChannel({self._url!r})"

    def render(self, notice: Notice, recipient: str, message_id: str) -> bytes:
        """Return the JSON that will be posted, the same for every attempt."""
        del recipient
        said = notice.short.encode("utf-8", "replace")[:MESSAGE_BYTES].decode("utf-8", "ignore")
        if self._topic is None:
            plain = {
                "id": message_id,
                "garden": notice.garden,
                "date": notice.local_date.isoformat(),
                "kind": notice.kind.value,
                "title": notice.subject,
                "message": said,
                "text": notice.text,
            }
            return json.dumps(plain, ensure_ascii=True).encode("ascii")
        place = _place(notice)
        message: dict[str, object] = {
            "topic": self._topic,
            "title": notice.subject,
            "message": said,
            "priority": _PRIORITY.get(notice.kind, _ORDINARY),
            "sequence_id": place,
        }
        if notice.asking is not None and notice.token:
            message["actions"] = [
                self._button(word, notice.token, place)
                for word in notice.asking.words[:MOST_BUTTONS]
            ]
        return json.dumps(message, ensure_ascii=True).encode("ascii")

    def _button(self, word: str, token: str, place: str) -> Mapping[str, object]:
        button: dict[str, object] = {
            "action": "http",
            "label": word.capitalize(),
            "url": f"{self._url}/{self._topic}{ANSWERS}",
            "method": "POST",
            "body": f"{word} {token} {place}",
            "clear": True,
        }
        if self._answer_token:
            button["headers"] = {"Authorization": f"Bearer {self._answer_token}"}
        return button

    def send(self, row: OutboxRow) -> Delivery:
        """Publish a notice once; a second attempt takes the place of the first where it can."""
        extra = {"Content-Type": "application/json", "Idempotency-Key": row.message_id}
        # As JSON a message goes to the root of the server; its topic stands in it.
        path = f"{self._path}/" if self._topic else self._path or "/"
        try:
            answer = self._asked("POST", path, row.body, extra)
        except _LaterError as error:
            return Delivery(Outcome.LATER, str(error), error.settings, error.own)
        except _UnknownError:
            return Delivery(Outcome.UNKNOWN, BRITISH.say("push.unconfirmed"))
        return self._delivery(answer)

    def _delivery(self, answer: _Answer) -> Delivery:
        status = answer.status
        if 200 <= status < 300:  # noqa: PLR2004 - the class of success (RFC 9110, section 15.3)
            if self._topic and not _is_message(answer.body):
                return Delivery(Outcome.LATER, BRITISH.say("push.somebody"))
            return Delivery(Outcome.ACCEPTED, BRITISH.say("push.took"))
        said = _said(answer.body)
        if status in _FOR_GOOD:
            detail = BRITISH.say("push.refused", status=str(status), said=said)
            return Delivery(Outcome.FOR_GOOD, detail)
        why = "moved" if status < 400 else str(status)  # noqa: PLR2004 - redirects
        detail = BRITISH.say("push.cannot", why=why, status=str(status), said=said)
        return Delivery(Outcome.LATER, detail, status in _SETTINGS or status < 400)  # noqa: PLR2004

    def close(self) -> None:
        """Nothing is kept open."""

    def call(self, ring: Callable[[], object] | None) -> None:
        """Nothing comes by itself."""

    def probe(self) -> str:
        """Try to read answers, and return what was found; raises `Unheard`."""
        if self._topic is None:
            return BRITISH.say("push.posted")
        self.gather("", datetime.now(UTC))
        return BRITISH.say("push.readable", topic=f"{self._topic}{ANSWERS}")

    def gather(self, mark: str, now: datetime) -> Gathered:
        """Return the buttons pressed since the message `mark`; raises `Unheard`.

        A server that no longer knows that message gives all it has, so answers may come again.
        """
        if self._topic is None:
            return Gathered((), mark)
        since = mark if re.fullmatch(r"\w{1,40}", mark) else SINCE_FIRST
        path = f"{self._path}/{self._topic}{ANSWERS}/json?poll=1&since={since}"
        try:
            answer = self._asked("GET", path, b"", {})
        except _LaterError as error:
            raise Unheard(str(error), error.settings) from error
        except _UnknownError as error:
            raise Unheard(BRITISH.say("push.late")) from error
        if answer.status != 200:  # noqa: PLR2004 - anything else is no list of messages
            is_settings = answer.status in _SETTINGS
            why = str(answer.status) if is_settings else "reading"
            said = BRITISH.say("push.cannot", why=why, status=str(answer.status), said="")
            raise Unheard(said, is_settings)
        replies, places = [], []
        for message in _messages(answer.body):
            mark = str(message["id"])
            found = _ANSWER.fullmatch(str(message.get("message", "")).strip())
            if found is not None:
                word, token, place = found.groups()
                came = _moment(message.get("time"), now)
                replies.append(Reply(f"push {mark}", None, f"[{token}]", (word,), came))
                places.append(place)
        for place in dict.fromkeys(places):
            self._withdraw(place)
        return Gathered(tuple(replies), mark)

    def _withdraw(self, place: str) -> None:
        """Take an answered notice from the other phones, where the server knows how."""
        try:
            self._asked("DELETE", f"{self._path}/{self._topic}/{place}", b"", {})
        except (_LaterError, _UnknownError):
            return

    @property
    def _path(self) -> str:
        return urlsplit(self._url).path

    def _asked(self, method: str, path: str, body: bytes, extra: Mapping[str, str]) -> _Answer:
        """Ask once; redirects are not followed, since a token goes along."""
        headers = {**extra, "User-Agent": "Strawbell"}
        if self._token:
            headers["Authorization"] = f"Bearer {self._token}"
        connection = self._connection()
        is_out = False
        try:
            connection.connect()
            connection.request(method, path, body or None, headers)
            is_out = True
            response = connection.getresponse()
            return _Answer(response.status, b"".join(self._read(response)))
        except ssl.SSLCertVerificationError as error:
            raise _LaterError(BRITISH.say("push.certificate"), settings=True) from error
        except (OSError, http.client.HTTPException) as error:
            if is_out:
                raise _UnknownError from error
            why = (error.strerror if isinstance(error, OSError) else None) or ""
            said = BRITISH.say("push.broken", why=why[:1].lower() + why[1:])
            raise _LaterError(said, own=is_own(error)) from error
        finally:
            connection.close()

    def _connection(self) -> http.client.HTTPConnection:
        parts = urlsplit(self._url)
        host, port = parts.hostname or "", parts.port
        if parts.scheme == "https":
            context = self._make_context()
            return http.client.HTTPSConnection(
                host, port, timeout=self._patience_s, context=context
            )
        return http.client.HTTPConnection(host, port, timeout=self._patience_s)

    def _read(self, response: http.client.HTTPResponse) -> Iterator[bytes]:
        """Yield an answer piece by piece, within size and time; what is cut off is left out."""
        left, ends_s = ANSWER_BYTES, self._monotonic() + WITHIN_S
        while left > 0 and self._monotonic() < ends_s:
            try:
                piece = response.read1(min(left, 65_536))
            except http.client.IncompleteRead as error:
                piece, left = error.partial, 0
            if not piece:
                return
            left -= len(piece)
            yield piece


def _place(notice: Notice) -> str:
    """Return the identity under which a later notice of a garden and kind replaces this one."""
    what = f"{notice.garden}\0{notice.kind.value}".encode("utf-8", "replace")
    return hashlib.sha256(what).hexdigest()[:24]


def _is_message(body: bytes) -> bool:
    try:
        return bool(json.loads(body)["id"])
    except (ValueError, KeyError, TypeError):
        return False


def _said(body: bytes) -> str:
    """Return what the server says is wrong, in its own words; "" where it does not."""
    try:
        said = str(json.loads(body)["error"])
    except (ValueError, KeyError, TypeError):
        return ""
    return "".join(sign for sign in said if sign.isprintable())[:120]


def _messages(body: bytes) -> Iterator[Mapping[str, Any]]:
    """Yield the messages of a list, line by line, up to one that was cut off."""
    for line in body.split(b"\n"):
        if not line.strip():
            continue
        try:
            event = json.loads(line)
        except ValueError:
            return
        if isinstance(event, dict) and event.get("event") == "message" and event.get("id"):
            yield event


def _moment(seconds: object, now: datetime) -> datetime:
    """Return when the server took a message; `now` where it does not say so sensibly."""
    if not isinstance(seconds, (int, float)):
        return now
    try:
        return datetime.fromtimestamp(seconds, UTC)
    except (ValueError, OverflowError, OSError):
        return now
