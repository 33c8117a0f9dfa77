"""One GET within a total deadline and a size limit; the only place that imports requests.

The library brings certificates, proxies, compression and the second try of a connection. What it
has not is an end: it reads whatever comes, for as long as it comes.

A read timeout is per read, so a server that drips a byte a second can hold a reader for ever,
in the headers as well as in the body. The request therefore runs in a thread of its own, and
when the deadline is over its sockets are shut from outside.
"""

from __future__ import annotations

import contextlib
import socket
import ssl
import threading
import time
from collections.abc import Iterator, Mapping
from functools import cache
from typing import Any
from urllib.parse import urljoin, urlsplit

import requests
from msgspec import Struct, field
from requests.adapters import HTTPAdapter
from requests.utils import DEFAULT_CA_BUNDLE_PATH, get_environ_proxies
from urllib3.exceptions import HTTPError, NameResolutionError
from urllib3.exceptions import TimeoutError as Urllib3Timeout
from urllib3.util.retry import Retry

from strawbell.errors import OperationalError
from strawbell.model.configuration import is_loopback
from strawbell.words.catalogue import BRITISH

BODY_MOST_BYTES = 2 * 1024 * 1024
"""Decoded; the largest real answer seen is under a tenth of it."""
CHUNK_BYTES = 64 * 1024
CONNECT_S = 10.0
READ_S = 20.0
"""Longest silence while reading [s]; the total deadline is the caller's."""
REDIRECTS_MOST = 3
REDIRECTS = frozenset({301, 302, 303, 307, 308})
CAUSES_MOST = 8
"""How deep an error is searched for its cause."""
REQUESTS_AT_MOST = 8
"""Requests that may be under way at once. One that is given up ends at once, but for a look-up of
a name, which nothing can end: each that hangs keeps a thread."""

_places = threading.BoundedSemaphore(REQUESTS_AT_MOST)


class Reply(Struct, frozen=True):
    """What a service sent back; headers by any case of their names, `body` decoded and short."""

    status: int
    headers: Mapping[str, str]
    body: bytes


def fetch_reply(
    service: str,
    url: str,
    headers: Mapping[str, str],
    *,
    seconds: float,
    follow_redirects: bool = True,
    tls_context: ssl.SSLContext | None = None,
) -> Reply:
    """Return the answer of one GET, whatever its status.

    Raises `OperationalError`, with `service` named, when there is none within `seconds`.
    """
    ends_at = time.monotonic() + seconds
    context = tls_context or _tls_context()
    job = _Job(service, url, headers, seconds, ends_at, follow_redirects, context)
    thread = threading.Thread(target=job.run, name=f"forecast {service}", daemon=True)
    if not _places.acquire(blocking=False):
        raise job.trouble("no-name-service")
    try:
        thread.start()
    except RuntimeError as error:
        _places.release()
        raise job.trouble("no-thread") from error
    if not job.done.wait(max(ends_at - time.monotonic(), 0.0)):
        job.give_up()
        raise job.trouble("too-slow", seconds=f"{seconds:.0f}")
    if job.reply is None:
        raise OperationalError(job.complaint)
    return job.reply


def is_allowed(url: str) -> bool:
    """Return whether a URL may be asked at all: https, or plain http to a loopback address."""
    try:
        parts = urlsplit(url)
        host = parts.hostname if parts.port != 0 else None
    except ValueError:
        return False
    wanted = {"https", "http"} if is_loopback(host or "") else {"https"}
    return bool(host) and parts.scheme in wanted


def redirect_target(url: str, location: str) -> str | None:
    """Return where a redirect leads, or None where we do not follow: another scheme, or unsafe."""
    try:
        target = urljoin(url, location)
        one, other = urlsplit(url), urlsplit(target)
        same = is_loopback(one.hostname or "") == is_loopback(other.hostname or "")
    except ValueError:
        return None
    return target if same and one.scheme == other.scheme and is_allowed(target) else None


@cache
def _tls_context() -> ssl.SSLContext:
    """Load the authorities once: a tenth of a second and some MB each time otherwise."""
    context = ssl.create_default_context()
    if not context.cert_store_stats()["x509_ca"]:
        context.load_verify_locations(DEFAULT_CA_BUNDLE_PATH)
    return context


class _Job(Struct):
    """One request in a thread of its own, which the asker may give up."""

    service: str
    url: str
    headers: Mapping[str, str]
    seconds: float
    ends_at: float
    follow_redirects: bool
    tls_context: ssl.SSLContext
    done: threading.Event = field(default_factory=threading.Event)
    reply: Reply | None = None
    complaint: str = ""
    given_up: bool = False
    sockets: list[socket.socket] = field(default_factory=list)
    lock: Any = field(default_factory=threading.Lock)

    def run(self) -> None:
        """Ask, and leave a reply or a complaint; never raises."""
        try:
            self.reply = self._ask()
        except OperationalError as error:
            self.complaint = str(error)
        except Exception as error:  # noqa: BLE001, RUF100 - hostile bytes meet foreign code here
            self.complaint = str(self._broken(error))
        finally:
            self.sockets.clear()
            _places.release()
            self.done.set()

    def watch(self, opened: socket.socket) -> None:
        """Remember a socket, to shut it when the asker gives up."""
        with self.lock:
            if not self.given_up:
                self.sockets.append(opened)
                return
        opened.close()
        raise TimeoutError

    def give_up(self) -> None:
        """End the thread's reading at once."""
        with self.lock:
            self.given_up = True
            opened = list(self.sockets)
        for one in opened:
            with contextlib.suppress(OSError):
                # The plain method: that of a TLS socket would wait for its lock.
                socket.socket.shutdown(one, socket.SHUT_RDWR)

    def _ask(self) -> Reply:
        # No session: neither cookies nor .netrc, a forecast needs no identity but the User-Agent.
        # And a session reads the whole body of a redirect, without limit, even of one it is told
        # not to follow.
        url = self.url
        with contextlib.closing(_Adapter(self)) as adapter:
            for _ in range(REDIRECTS_MOST + 1):
                if not is_allowed(url):
                    raise self.trouble("no-https", url=repr(url[:80]))
                with self._send(adapter, url) as response:
                    if response.status_code not in REDIRECTS or not self.follow_redirects:
                        return Reply(response.status_code, response.headers, self._read(response))
                    location = response.headers.get("Location", "")
                target = redirect_target(url, location)
                if target is None:
                    raise self.trouble("sent-on", url=repr(location[:80]))
                url = target
        raise self.trouble("circles")

    def _send(self, adapter: HTTPAdapter, url: str) -> requests.Response:
        left = self._seconds_left()
        return adapter.send(
            requests.Request("GET", url, dict(self.headers)).prepare(),
            stream=True,
            timeout=(min(CONNECT_S, left), min(READ_S, left)),
            proxies={} if is_loopback(urlsplit(url).hostname or "") else get_environ_proxies(url),
        )

    def _read(self, response: requests.Response) -> bytes:
        body = bytearray()
        for chunk in response.raw.stream(CHUNK_BYTES, decode_content=True):
            if len(body) + len(chunk) > BODY_MOST_BYTES:
                raise self.trouble("too-long", mebibytes=BODY_MOST_BYTES // 1024 // 1024)
            body += chunk
            self._seconds_left()
        return bytes(body)

    def _seconds_left(self) -> float:
        left = self.ends_at - time.monotonic()
        if left <= 0:
            raise self.trouble("too-slow", seconds=f"{self.seconds:.0f}")
        return left

    def trouble(self, key: str, /, **places: str | float) -> OperationalError:
        """Return what became of the question, in a sentence."""
        return OperationalError(BRITISH.say(f"fetch.{key}", service=self.service, **places))

    def _broken(self, error: Exception) -> OperationalError:
        causes = list(_causes(error))
        key = next(
            key for kinds, key in _TROUBLES if any(isinstance(each, kinds) for each in causes)
        )
        return self.trouble(key, seconds=f"{self.seconds:.0f}", kind=type(error).__name__)


class _Adapter(HTTPAdapter):
    """Brings our TLS context and watched sockets.

    A connection that could not be opened is tried once more; anything a server has answered
    is not, because a failing service is left alone for a quarter of an hour.
    """

    def __init__(self, job: _Job) -> None:
        self._job = job
        once_more = Retry(
            1, read=0, status=0, other=0, backoff_factor=0.5, respect_retry_after_header=False
        )
        super().__init__(pool_connections=1, pool_maxsize=1, max_retries=once_more)

    def init_poolmanager(self, *args: Any, **options: Any) -> None:
        super().init_poolmanager(*args, ssl_context=self._job.tls_context, **options)

    def proxy_manager_for(self, proxy: str, **options: Any) -> Any:
        return super().proxy_manager_for(proxy, ssl_context=self._job.tls_context, **options)

    def get_connection_with_tls_context(self, *args: Any, **options: Any) -> Any:
        pool: Any = super().get_connection_with_tls_context(*args, **options)
        kind, watch = pool.ConnectionCls, self._job.watch

        class Watched(kind):  # type: ignore[misc, valid-type]
            def connect(self) -> None:
                super().connect()
                watch(self.sock)

        pool.ConnectionCls = Watched
        return pool

    def cert_verify(self, conn: Any, url: str, verify: Any, cert: Any) -> None:
        """Leave the authorities to the context, which demands a certificate and a right name."""


_TROUBLES: tuple[tuple[tuple[type[BaseException], ...], str], ...] = (
    ((NameResolutionError, socket.gaierror), "unknown-name"),
    ((ssl.SSLCertVerificationError,), "certificate"),
    ((ssl.SSLError,), "no-tls"),
    ((ConnectionRefusedError,), "not-there"),
    ((TimeoutError, Urllib3Timeout, requests.Timeout), "too-slow"),
    ((HTTPError, requests.RequestException, OSError), "broken-off"),
    ((BaseException,), "unreadable"),
)
"""Which message of the catalogue tells of an error that has one of these among its causes."""


def _causes(error: BaseException, depth: int = 0) -> Iterator[BaseException]:
    yield error
    inner = [error.__cause__, error.__context__, getattr(error, "reason", None), *error.args]
    for one in inner if depth < CAUSES_MOST else ():
        if isinstance(one, BaseException) and one is not error:
            yield from _causes(one, depth + 1)
