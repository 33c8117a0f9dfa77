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
    thread = threading.Thread(target=job.run, name=f"forecast from {service}", daemon=True)
    if not _places.acquire(blocking=False):
        raise OperationalError(
            f"{service} was not asked: the name service has not answered earlier questions."
        )
    try:
        thread.start()
    except RuntimeError as error:
        _places.release()
        raise OperationalError(f"{service} could not be asked: no thread to be had.") from error
    if not job.done.wait(max(ends_at - time.monotonic(), 0.0)):
        job.give_up()
        raise OperationalError(_too_slow(service, seconds))
    if job.reply is None:
        raise OperationalError(job.complaint or f"{service} could not be asked.")
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
    complaint: str | None = None
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
            self.complaint = _complaint(self.service, error, self.seconds)
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
                    raise OperationalError(
                        f"{self.service}: only https addresses are asked, not {url[:80]!r}."
                    )
                with self._send(adapter, url) as response:
                    if response.status_code not in REDIRECTS or not self.follow_redirects:
                        return Reply(response.status_code, response.headers, self._read(response))
                    location = response.headers.get("Location", "")
                target = redirect_target(url, location)
                if target is None:
                    raise OperationalError(
                        f"{self.service} sent us on to {location[:80]!r}, where we do not follow."
                    )
                url = target
        raise OperationalError(f"{self.service} sent us round in circles.")

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
                raise OperationalError(
                    f"{self.service} sent more than {BODY_MOST_BYTES // 1024 // 1024} MiB; "
                    "that is no forecast."
                )
            body += chunk
            self._seconds_left()
        return bytes(body)

    def _seconds_left(self) -> float:
        left = self.ends_at - time.monotonic()
        if left <= 0:
            raise OperationalError(_too_slow(self.service, self.seconds))
        return left


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


def _too_slow(service: str, seconds: float) -> str:
    return f"{service} did not finish its answer within {seconds:.0f} s."


_COMPLAINTS: tuple[tuple[tuple[type[BaseException], ...], str], ...] = (
    ((NameResolutionError, socket.gaierror), "was not found by name; is this machine on the"
     " network?"),
    ((ssl.SSLCertVerificationError,), "could not prove who it is (its certificate is not valid for"
     " us)."),
    ((ssl.SSLError,), "did not agree on a secure connection."),
    ((ConnectionRefusedError,), "is not there: the connection was refused."),
    ((TimeoutError, Urllib3Timeout, requests.Timeout), ""),
    ((HTTPError, requests.RequestException, OSError), "broke off its answer, or the network did"
     " ({0})."),
    ((BaseException,), "sent an answer that cannot be read ({0})."),
)  # fmt: skip
"""What is said of an error that has one of these among its causes; "" for too slow."""


def _complaint(service: str, error: BaseException, seconds: float) -> str:
    causes = list(_causes(error))
    fit = (said for kinds, said in _COMPLAINTS if any(isinstance(each, kinds) for each in causes))
    said = next(fit).format(type(error).__name__)
    return f"{service} {said}" if said else _too_slow(service, seconds)


def _causes(error: BaseException, depth: int = 0) -> Iterator[BaseException]:
    yield error
    inner = [error.__cause__, error.__context__, getattr(error, "reason", None), *error.args]
    for one in inner if depth < CAUSES_MOST else ():
        if isinstance(one, BaseException) and one is not error:
            yield from _causes(one, depth + 1)
