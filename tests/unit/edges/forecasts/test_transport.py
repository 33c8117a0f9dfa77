"""One GET, within its deadline and its size, whatever the server does."""

from __future__ import annotations

import gzip
import socket
import ssl
import threading
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
import responses
import trustme

from strawbell.edges.forecasts.transport import (
    BODY_MOST_BYTES,
    Reply,
    fetch_reply,
    is_allowed,
    redirect_target,
)
from strawbell.errors import OperationalError
from support.forecast_server import Answer, FakeService, RawServer

HEAD = b"HTTP/1.1 200 OK\r\nContent-Type: application/json\r\n"
SHORT_S = 0.4
"""A deadline that tests can wait for [s]."""
LONG_S = 20.0


def fetch(url: str, seconds: float = LONG_S, **options: Any) -> Reply:
    return fetch_reply("The fake", url, {"Accept-Encoding": "gzip"}, seconds=seconds, **options)


@pytest.fixture
def service() -> Iterator[FakeService]:
    with FakeService() as running:
        yield running


def test_status_headers_and_body_come_back_whatever_the_status(service: FakeService) -> None:
    service.fail(418, b"short and stout", {"X-Pot": "tea"})
    reply = fetch(service.base_url)
    assert (reply.status, reply.body, reply.headers["X-Pot"]) == (418, b"short and stout", "tea")


def test_a_compressed_body_is_unpacked(service: FakeService) -> None:
    service.fail(200, gzip.compress(b"hours"), {"Content-Encoding": "gzip"})
    assert fetch(service.base_url).body == b"hours"


def test_a_body_of_just_two_mebibytes_is_taken_and_one_byte_more_is_not(
    service: FakeService,
) -> None:
    service.fail(200, b"x" * BODY_MOST_BYTES)
    assert len(fetch(service.base_url).body) == BODY_MOST_BYTES
    service.fail(200, b"x" * (BODY_MOST_BYTES + 1))
    with pytest.raises(OperationalError, match="more than 2 MiB"):
        fetch(service.base_url)


def endless(connection: socket.socket, gone: threading.Event) -> None:
    connection.sendall(HEAD + b"Content-Length: 2147483648\r\n\r\n")
    while not gone.is_set():
        connection.sendall(b"0" * 65536)


def dripping(part: bytes, drop: bytes) -> Callable[[socket.socket, threading.Event], None]:
    def drip(connection: socket.socket, gone: threading.Event) -> None:
        connection.sendall(part)
        while not gone.wait(0.02):
            connection.sendall(drop)

    return drip


def silent(connection: socket.socket, gone: threading.Event) -> None:
    gone.wait()


def threads_of_fetches() -> list[threading.Thread]:
    return [one for one in threading.enumerate() if one.name == "forecast from The fake"]


@pytest.mark.parametrize(
    "behave",
    [
        dripping(b"", b"H"),
        dripping(b"HTTP/1.1 200 OK\r\nX: ", b"x"),
        dripping(b"HTTP/1.1 200 OK\r\n", b"X: y\r\n"),
        dripping(HEAD + b"Content-Length: 99999\r\n\r\n", b"{"),
        dripping(HEAD + b"Transfer-Encoding: chunked\r\n\r\n", b"1\r\n{\r\n"),
        silent,
    ],
    ids=["status", "header", "headers", "body", "chunks", "silence"],
)
def test_a_server_that_never_ends_is_left_at_the_deadline_and_its_thread_ends_too(
    behave: Callable[[socket.socket, threading.Event], None],
) -> None:
    """The server goes on until the test is over; that this test ends is the proof."""
    with RawServer(behave) as server:
        with pytest.raises(OperationalError, match=r"The fake (did not finish|broke off|sent)"):
            fetch(server.base_url, SHORT_S)
        for thread in threads_of_fetches():
            thread.join(10)
        assert threads_of_fetches() == []


def test_a_server_that_never_greets_over_tls_is_left_at_the_deadline() -> None:
    with RawServer(silent, read_request=False) as server:
        with pytest.raises(OperationalError, match="did not finish"):
            fetch(f"https://127.0.0.1:{server.port}", SHORT_S)
        for thread in threads_of_fetches():
            thread.join(10)
        assert threads_of_fetches() == []


def test_a_name_that_is_never_resolved_is_left_at_the_deadline(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    answered = threading.Event()

    def hang(*_: object, **__: object) -> list[Any]:
        answered.wait(30)
        raise socket.gaierror(-2, "Name or service not known")

    monkeypatch.setattr(socket, "getaddrinfo", hang)
    with pytest.raises(OperationalError, match="did not finish"):
        fetch("https://localhost:1/", SHORT_S)
    answered.set()
    for thread in threads_of_fetches():
        thread.join(10)


def test_no_time_left_is_no_request(service: FakeService) -> None:
    with pytest.raises(OperationalError, match="did not finish"):
        fetch(service.base_url, -1.0)


def test_two_gigabytes_are_cut_off_at_two_mebibytes() -> None:
    with (
        RawServer(endless) as server,
        pytest.raises(OperationalError, match="more than 2 MiB"),
    ):
        fetch(server.base_url)


@pytest.mark.parametrize(
    ("sent", "sentence"),
    [
        (b"", "broke off"),
        (b"garbage\r\n\r\n", "broke off"),
        (HEAD + b"Content-Length: 100\r\n\r\n{}", "broke off"),
        (HEAD + b"Transfer-Encoding: chunked\r\n\r\nzz\r\n", "broke off"),
        (HEAD + b"Content-Encoding: gzip\r\nContent-Length: 9\r\n\r\nnot gzip!", "broke off"),
        (HEAD + b"Content-Encoding: " + b"gzip, " * 99 + b"gzip\r\n\r\nx", "broke off"),
        (b"HTTP/1.1 200 OK\r\n" + b"X: y\r\n" * 200 + b"\r\n", "broke off"),
        (b"HTTP/1.1 200 OK\r\nX: " + b"y" * 70_000 + b"\r\n\r\n", "broke off"),
        (b"HTTP/1.1 302 Found\r\nContent-Length: 0\r\n\r\n", "round in circles"),
    ],
)
def test_an_answer_that_is_no_http_is_one_sentence(sent: bytes, sentence: str) -> None:
    def behave(connection: socket.socket, gone: threading.Event) -> None:
        connection.sendall(sent)

    with RawServer(behave) as server, pytest.raises(OperationalError, match=sentence):
        fetch(server.base_url)


def test_a_refused_connection_says_so() -> None:
    with socket.socket() as closed:
        closed.bind(("127.0.0.1", 0))
        with pytest.raises(OperationalError, match="not there: the connection was refused"):
            fetch(f"http://127.0.0.1:{closed.getsockname()[1]}")


def test_an_unknown_name_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    def unknown(*_: object, **__: object) -> list[Any]:
        raise socket.gaierror(-2, "Name or service not known")

    monkeypatch.setattr(socket, "getaddrinfo", unknown)
    with pytest.raises(OperationalError, match="was not found by name"):
        fetch("https://localhost:1/")


@pytest.mark.parametrize(
    "location",
    [
        "https://127.0.0.1/x",
        "http://example.org/x",
        "file:///etc/passwd",
        "gopher://127.0.0.1/",
        "http://[::1",
        "//example.org/x",
        "",
    ],
)
def test_a_redirect_to_somewhere_else_is_not_followed(service: FakeService, location: str) -> None:
    service.answer_next(Answer(302, b"", {"Location": location}))
    service.fail_at("/", Answer(302, b"", {"Location": location}))
    with pytest.raises(OperationalError, match=r"where we do not follow|round in circles"):
        fetch(service.base_url + "/a")


def test_a_redirect_on_the_same_machine_is_followed_three_times_and_no_more(
    service: FakeService,
) -> None:
    for number in range(9):
        service.fail_at(f"/{number}", Answer(301, b"", {"Location": f"/{number + 1}"}))
    service.fail_at("/9", Answer(200, b"here"))
    assert fetch(service.base_url + "/6").body == b"here"
    with pytest.raises(OperationalError, match="round in circles"):
        fetch(service.base_url + "/5")


def test_the_body_of_a_redirect_is_not_read() -> None:
    """The body never ends; that this test ends is the proof."""
    connections = 0

    def behave(connection: socket.socket, gone: threading.Event) -> None:
        nonlocal connections
        connections += 1
        if connections > 1:
            connection.sendall(HEAD + b"Content-Length: 4\r\n\r\nhere")
            return
        connection.sendall(b"HTTP/1.1 302 Found\r\nLocation: /b\r\n\r\n")
        while not gone.is_set():
            connection.sendall(b"0" * 65536)

    with RawServer(behave) as server:
        assert fetch(server.base_url).body == b"here"


def test_redirects_can_be_left_to_the_asker(service: FakeService) -> None:
    service.fail(301, b"", {"Location": "https://elsewhere.example/"})
    assert fetch(service.base_url, follow_redirects=False).status == 301


@pytest.mark.parametrize(
    "url",
    ["file:///etc/passwd", "http://api.example.org/", "ftp://127.0.0.1/", "", "https://[::1"],
)
def test_an_address_that_is_not_https_is_never_asked(url: str) -> None:
    with pytest.raises(OperationalError, match="only https"):
        fetch(url)


@responses.activate
def test_https_leads_to_https_only() -> None:
    responses.get("https://a.example/", status=302, headers={"Location": "https://b.example/"})
    responses.get("https://b.example/", body=b"there")
    assert fetch("https://a.example/").body == b"there"
    responses.get("https://c.example/", status=302, headers={"Location": "http://b.example/"})
    with pytest.raises(OperationalError, match="do not follow"):
        fetch("https://c.example/")


def test_neither_cookies_nor_passwords_are_sent(
    service: FakeService, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """Not even where the grower's .netrc has some for that host."""
    passwords = tmp_path / "netrc"
    passwords.write_text("machine 127.0.0.1 login grower password secret\n")
    passwords.chmod(0o600)
    monkeypatch.setenv("NETRC", str(passwords))
    service.answer_next(Answer(302, b"", {"Location": "/b", "Set-Cookie": "seen=yes"}))
    fetch(service.base_url + "/a")
    assert [hit.path for hit in service.hits] == ["/a", "/b"]
    for hit in service.hits:
        assert "Cookie" not in hit.headers
        assert "Authorization" not in hit.headers


@pytest.mark.parametrize(("failures", "reached"), [(1, True), (2, False)])
def test_a_connection_that_cannot_be_opened_is_tried_once_more_and_not_twice(
    service: FakeService, monkeypatch: pytest.MonkeyPatch, failures: int, reached: bool
) -> None:
    left = failures
    look_up = socket.getaddrinfo

    def stumbling(*where: Any, **how: Any) -> Any:
        nonlocal left
        if left:
            left -= 1
            raise socket.gaierror(-3, "Temporary failure in name resolution")
        return look_up(*where, **how)

    monkeypatch.setattr(socket, "getaddrinfo", stumbling)
    if reached:
        assert fetch(service.base_url).status == 404
    else:
        with pytest.raises(OperationalError, match="not found by name"):
            fetch(service.base_url)


@pytest.mark.parametrize(
    ("url", "allowed"),
    [
        ("https://api.example.org/v1", True),
        ("http://127.0.0.1:8099", True),
        ("http://[::1]:8099/x", True),
        ("http://localhost/x", True),
        ("http://api.example.org/v1", False),
        ("http://127.0.0.1.example.org/", False),
        ("http://2130706433/", False),
        ("file:///etc/passwd", False),
        ("ftp://127.0.0.1/", False),
        ("https:///nowhere", False),
        ("https://[::1", False),
        ("https://example.org:99999/", False),
        ("", False),
    ],
)
def test_only_https_and_this_machine_are_asked(url: str, allowed: bool) -> None:
    assert is_allowed(url) is allowed


@pytest.mark.parametrize(
    ("url", "location", "target"),
    [
        ("https://a.example/x", "/y", "https://a.example/y"),
        ("https://a.example/x", "https://b.example/y", "https://b.example/y"),
        ("https://a.example/x", "http://a.example/y", None),
        ("https://a.example/x", "file:///etc/passwd", None),
        ("https://a.example/x", "https://127.0.0.1/y", None),
        ("http://127.0.0.1/x", "http://127.0.0.1:99/y", "http://127.0.0.1:99/y"),
        ("http://127.0.0.1/x", "https://a.example/y", None),
        ("https://a.example/x", "https://[::1", None),
    ],
)
def test_a_redirect_is_followed_only_to_an_equally_safe_address(
    url: str, location: str, target: str | None
) -> None:
    assert redirect_target(url, location) == target


# TLS -------------------------------------------------------------------------------------

AUTHORITY = trustme.CA()


def tls_server(certificate: trustme.LeafCert) -> RawServer:
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    certificate.configure_cert(context)

    def good(connection: socket.socket, gone: threading.Event) -> None:
        connection.sendall(HEAD + b"Content-Length: 2\r\n\r\n{}")

    return RawServer(good, wrap=lambda raw: context.wrap_socket(raw, server_side=True))


def trusting() -> ssl.SSLContext:
    context = ssl.create_default_context()
    AUTHORITY.configure_trust(context)
    return context


def test_a_right_certificate_is_accepted() -> None:
    with tls_server(AUTHORITY.issue_cert("127.0.0.1")) as server:
        reply = fetch(f"https://127.0.0.1:{server.port}/", tls_context=trusting())
        assert reply.body == b"{}"


def test_a_certificate_of_an_unknown_authority_is_refused_by_the_standing_context() -> None:
    with (
        tls_server(AUTHORITY.issue_cert("127.0.0.1")) as server,
        pytest.raises(OperationalError, match="could not prove who it is"),
    ):
        fetch(f"https://127.0.0.1:{server.port}/")


@pytest.mark.parametrize("fault", ["other host", "expired"])
def test_a_wrong_or_expired_certificate_is_refused(fault: str) -> None:
    if fault == "expired":
        certificate = AUTHORITY.issue_cert("127.0.0.1", not_after=datetime(2020, 1, 1, tzinfo=UTC))
    else:
        certificate = AUTHORITY.issue_cert("weather.example")
    with (
        tls_server(certificate) as server,
        pytest.raises(OperationalError, match="could not prove who it is"),
    ):
        fetch(f"https://127.0.0.1:{server.port}/", tls_context=trusting())


def test_plain_text_where_tls_was_due_is_refused() -> None:
    with (
        FakeService() as service,
        pytest.raises(OperationalError, match="did not agree on a secure connection"),
    ):
        fetch(service.base_url.replace("http:", "https:"))
