"""A weather service misbehaves in every way thought of: no crash, no decision from bad data.

The true weather is a freeze and heavy rain within the day, so the reference judgement is to
hold. Whatever the service sends, the judgement may say "hold", "unknown" or "no forecast", but
never "clear".
"""

from __future__ import annotations

import gzip
import json
import random
import re
import socket
import ssl
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Mapping
from contextlib import ExitStack, suppress
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
import responses
import trustme

from strawbell.edges.forecasts import met_norway, nws, open_meteo
from strawbell.edges.forecasts.chain import build_sources, first_forecast
from strawbell.edges.forecasts.http import FETCH_S, Http, Question
from strawbell.edges.forecasts.open_meteo import OpenMeteo
from strawbell.edges.forecasts.transport import BODY_MOST_BYTES
from strawbell.errors import OperationalError
from strawbell.model.forecast import Forecast, ForecastStatus
from strawbell.model.garden import Place
from strawbell.weather.judgement import Standing, freeze, heavy_rain, use_of
from strawbell.weather.thresholds import DEFAULT_RULES
from support.forecast_server import (
    Answer,
    FakeOpenMeteo,
    FakeService,
    RawServer,
    calm,
    met_norway_body,
    nws_grid_body,
    open_meteo_body,
)
from support.measured import record
from support.memory_answers import MemoryAnswers
from support.sound_forecast import assert_sound

PLACE = Place(40.7128, -74.006, "America/New_York")
NOW = datetime(2027, 4, 9, 4, 30, tzinfo=UTC)
MINUTE = timedelta(minutes=1)
HOUR = timedelta(hours=1)
SHORT_S = 0.5


def harsh(hour: datetime) -> Mapping[str, float | None]:
    """-3 degC from 08 to 11, 3.5 mm an hour at 90 % from 10 to 15 UTC, every day."""
    weather = {**calm(hour), "rain_chance_percent": 90.0}
    if 8 <= hour.hour < 12:
        weather["temperature_c"] = -3.0
    if 10 <= hour.hour < 16:
        weather["rain_mm"] = 3.5
    return weather


def body() -> bytes:
    return open_meteo_body(harsh, NOW, PLACE.latitude, PLACE.longitude)


def true_answer() -> dict[str, Any]:
    answer = json.loads(body())
    assert isinstance(answer, dict)
    return answer


def standings(forecast: Forecast | None, moment: datetime = NOW) -> set[str]:
    """Return what the rules say, and "no forecast" where nothing may be decided on."""
    if use_of(forecast, moment, DEFAULT_RULES).status is not ForecastStatus.FRESH:
        return {"no forecast"}
    assert forecast is not None
    assert_sound(forecast)
    return {
        str(rule(forecast, moment, UTC, DEFAULT_RULES).standing) for rule in (heavy_rain, freeze)
    }


def test_the_reference_judgement_on_the_true_answer_is_to_hold() -> None:
    assert standings(open_meteo.parse(body(), PLACE, NOW)) == {Standing.REACHED.value}


# What is answered over good HTTP --------------------------------------------------------


def respelled(spoil: Callable[[dict[str, Any]], None]) -> bytes:
    answer = true_answer()
    spoil(answer)
    return json.dumps(answer).encode()


def every(value: object, *variables: str) -> bytes:
    def spoil(answer: dict[str, Any]) -> None:
        for name in variables or [key for key in answer["hourly"] if key != "time"]:
            answer["hourly"][name] = [value] * len(answer["hourly"]["time"])

    return respelled(spoil)


def some(value: object, *variables: str) -> bytes:
    """The value in place of what matters: the cold and the wet hours."""

    def spoil(answer: dict[str, Any]) -> None:
        for name in variables:
            rows = answer["hourly"][name]
            for row, text in enumerate(answer["hourly"]["time"]):
                if "08:00" <= text[-5:] <= "16:00":
                    rows[row] = value

    return respelled(spoil)


def units(**changed: str) -> bytes:
    return respelled(lambda answer: answer["hourly_units"].update(changed))


def shortened(answer: dict[str, Any]) -> None:
    answer["hourly"]["temperature_2m"] = answer["hourly"]["temperature_2m"][:30]
    answer["hourly"]["precipitation"] = answer["hourly"]["precipitation"][:48]


def disordered(answer: dict[str, Any]) -> None:
    for rows in answer["hourly"].values():
        random.Random(5).shuffle(rows)


def doubled(answer: dict[str, Any]) -> None:
    """Each hour twice; the second one tells of a warm dry day."""
    for name, rows in answer["hourly"].items():
        rows.extend(list(rows) if name == "time" else [15.0 if "temp" in name else 0.0] * len(rows))


def bygone(answer: dict[str, Any]) -> None:
    rows = answer["hourly"]["time"]
    answer["hourly"]["time"] = [row.replace("2027", "2026") for row in rows]


def to_come(answer: dict[str, Any]) -> None:
    rows = answer["hourly"]["time"]
    answer["hourly"]["time"] = [row.replace("2027", "2028") for row in rows]


def in_a_zone(answer: dict[str, Any]) -> None:
    """A fixed offset over the day of a clock change, as the service does it."""
    rows = [datetime.fromisoformat(row) for row in answer["hourly"]["time"]]
    answer["utc_offset_seconds"] = -18000
    answer["timezone"] = "America/New_York"
    answer["hourly"]["time"] = [f"{row - 5 * HOUR:%Y-%m-%dT%H:%M}" for row in rows]


def without_zone(answer: dict[str, Any]) -> None:
    del answer["utc_offset_seconds"]


def swapped(answer: dict[str, Any]) -> None:
    answer["latitude"], answer["longitude"] = answer["longitude"], answer["latitude"]


def flipped(answer: dict[str, Any]) -> None:
    answer["longitude"] *= -1


def of_another_version(answer: dict[str, Any]) -> None:
    answer["forecast"] = {"version": 2, "data": answer.pop("hourly")}


REFUSED = {"no forecast"}
HOLD = {Standing.REACHED.value}
UNKNOWN = {Standing.UNKNOWN.value}
GOOD_BODIES: Mapping[str, tuple[bytes, set[str]]] = {
    "empty": (b"", REFUSED),
    "HTML": (b"<!doctype html><title>502 Bad Gateway</title>", REFUSED),
    "truncated": (body()[:-200], REFUSED),
    "error while streaming": (body()[:900] + b"Unexpected error while streaming data", REFUSED),
    "error JSON with 200": (b'{"error":true,"reason":"Minutely API request limit"}', REFUSED),
    "bad UTF-8": (body().replace(b"GMT", b"G\xffT"), REFUSED),
    "byte order mark": (b"\xef\xbb\xbf" + body(), HOLD),
    "NaN": (some(float("nan"), "temperature_2m", "precipitation"), UNKNOWN),
    "Infinity": (some(float("inf"), "temperature_2m", "precipitation"), UNKNOWN),
    "1e999": (some(-777, "temperature_2m", "precipitation").replace(b"-777", b"1e999"), UNKNOWN),
    "null fields": (some(None, "temperature_2m", "precipitation"), UNKNOWN),
    "all null": (every(None), REFUSED),
    "strings for numbers": (some("15.0", "temperature_2m", "precipitation"), UNKNOWN),
    "booleans for numbers": (some(False, "temperature_2m", "precipitation"), UNKNOWN),
    "objects for numbers": (some({"value": 15}, "temperature_2m", "precipitation"), UNKNOWN),
    "temperature 999, rain -5": (
        some(-5, "precipitation").replace(b"-3.0", b"999"),
        UNKNOWN,
    ),
    "unknown units": (units(temperature_2m="K", precipitation="kg"), REFUSED),
    "missing units": (respelled(lambda answer: answer.pop("hourly_units")), REFUSED),
    "wrong place": (respelled(swapped), REFUSED),
    "flipped sign": (respelled(flipped), REFUSED),
    "a fixed offset": (respelled(in_a_zone), HOLD),
    "no time zone": (respelled(without_zone), REFUSED),
    "arrays of unequal length": (respelled(shortened), HOLD | UNKNOWN),
    "times in disorder": (respelled(disordered), HOLD),
    "times doubled": (respelled(doubled), HOLD),
    "times in the past": (respelled(bygone), REFUSED),
    "times in the future": (respelled(to_come), REFUSED),
    "100,000 nested": (b"[" * 100_000 + b"]" * 100_000, REFUSED),
    "5,000-digit number": (some(-777, "precipitation").replace(b"-777", b"9" * 5000), REFUSED),
    "400-digit number": (
        some(-777, "precipitation", "temperature_2m").replace(b"-777", b"9" * 400),
        UNKNOWN,
    ),
    "unknown schema": (respelled(of_another_version), REFUSED),
    "a bare number": (b"42", REFUSED),
}


@pytest.mark.parametrize("case", GOOD_BODIES)
def test_a_bad_body_never_gives_an_all_clear(case: str) -> None:
    answer, expected = GOOD_BODIES[case]
    with FakeOpenMeteo() as service:
        service.fail(200, answer)
        source = OpenMeteo(Http(MemoryAnswers()), service.base_url)
        found, complaints = first_forecast((source,), PLACE, NOW)
    said = standings(found)
    assert said == expected
    assert Standing.CLEAR.value not in said
    assert found is not None or len(complaints) == 1
    for complaint in complaints:
        assert complaint.isprintable()
        assert "meteo" in complaint.lower()


# Statuses and headers -------------------------------------------------------------------


STATUSES = (301, 304, 400, 401, 403, 404, 429, 500, 502, 503, 504)


@pytest.mark.parametrize("status", STATUSES)
def test_a_status_of_refusal_is_no_forecast(status: int) -> None:
    with FakeOpenMeteo() as service:
        service.fail(status, b'{"error": true, "reason": "no"}')
        source = OpenMeteo(Http(MemoryAnswers()), service.base_url)
        found, complaints = first_forecast((source,), PLACE, NOW)
    assert found is None
    assert len(complaints) == 1


@pytest.mark.parametrize(
    ("retry_after", "silent_for"),
    [
        ("1", MINUTE),
        ("600", 10 * MINUTE),
        ("Fri, 09 Apr 2027 06:30:00 GMT", 2 * HOUR),
        ("99999999999999999999", 6 * HOUR),
        ("Fri, 31 Dec 9999 23:59:59 GMT", 6 * HOUR),
        ("next week", 15 * MINUTE),
    ],
)
def test_retry_after_is_waited_for_and_not_a_second_less(
    retry_after: str, silent_for: timedelta
) -> None:
    date = {"Date": "Fri, 09 Apr 2027 04:30:00 GMT"}

    @responses.activate
    def run() -> None:
        answers = responses.get(
            re.compile(r"https://api\.open-meteo\.com/.*"),
            status=429,
            headers={"Retry-After": retry_after, **date},
        )
        source = OpenMeteo(Http(MemoryAnswers()))
        for after, asked in ((timedelta(), 1), (silent_for - MINUTE / 60, 1), (silent_for, 2)):
            with pytest.raises(OperationalError):
                source.fetch(PLACE, NOW + after)
            assert answers.call_count == asked

    run()


def test_an_outage_of_a_day_sees_no_more_than_one_request_a_quarter_of_an_hour() -> None:
    with FakeOpenMeteo() as service:
        service.fail(500)
        source = OpenMeteo(Http(MemoryAnswers()), service.base_url)
        for minute in range(24 * 60):
            with pytest.raises(OperationalError):
                source.fetch(PLACE, NOW + minute * MINUTE)
        record(7, "requests in an outage of a day", len(service.hits), target="= 96")


def test_a_service_that_is_not_there_is_tried_once_a_quarter_of_an_hour_for_all_places(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    tried = 0

    def unknown(*_: object, **__: object) -> list[Any]:
        nonlocal tried
        tried += 1
        raise socket.gaierror(-2, "Name or service not known")

    monkeypatch.setattr(socket, "getaddrinfo", unknown)
    source = OpenMeteo(Http(MemoryAnswers()), "https://localhost:1")
    for latitude in range(10):
        place = Place(float(latitude), 8.0, "UTC")
        with pytest.raises(OperationalError, match="was not found by name"):
            source.fetch(place, NOW)
    assert tried <= 2  # one request, its connection tried once more


@pytest.mark.parametrize(
    ("age_h", "said"), [(11.9, HOLD), (12.0, HOLD), (12.1, REFUSED), (500.0, REFUSED)]
)
def test_the_last_good_answer_is_decided_on_for_twelve_hours_and_shown_with_its_age_after(
    age_h: float, said: set[str]
) -> None:
    with FakeOpenMeteo(harsh, now=NOW) as service:
        source = OpenMeteo(Http(MemoryAnswers()), service.base_url)
        first_forecast((source,), PLACE, NOW)
        service.fail(503)
        later = NOW + timedelta(hours=age_h)
        found, complaints = first_forecast((source,), PLACE, later)
    assert found is not None
    assert found.fetched_at == NOW
    assert len(complaints) == 1
    use = use_of(found, later, DEFAULT_RULES)
    assert use.age_h == age_h
    assert (use.status is ForecastStatus.STALE) == (said == REFUSED)
    assert Standing.CLEAR.value not in standings(found, later)


def test_an_old_answer_with_a_fresh_date_from_a_cache_on_the_way_is_refused() -> None:
    with FakeService(harsh, now=NOW) as service:
        service.updated_at = NOW - 25 * HOUR
        service.headers = {"Last-Modified": "Fri, 09 Apr 2027 09:00:00 GMT", "Age": "0"}
        urls = dict.fromkeys(("nws", "met-norway"), service.base_url)
        sources = build_sources(urls, Http(MemoryAnswers()), urls)
        found, complaints = first_forecast(sources, PLACE, NOW)
    assert found is None
    assert [bool(re.search("25 hours old", one)) for one in complaints] == [True, True]


# Sockets ---------------------------------------------------------------------------------

HEAD = b"HTTP/1.1 200 OK\r\nContent-Type: application/json\r\n"


@dataclass(frozen=True)
class Sent:
    """Bytes that are sent once, then drops until the asker is gone."""

    first: bytes
    drop: bytes = b""

    def __call__(self, connection: socket.socket, gone: threading.Event) -> None:
        connection.sendall(self.first)
        while self.drop and not gone.wait(0.01):
            connection.sendall(self.drop)


def packed(times: int) -> bytes:
    """A gzip body that unpacks to 200 MB of zeros; packed twice it is tiny."""
    squeezed = gzip.compress(bytes(1_000_000)) * 200
    for _ in range(times - 1):
        squeezed = gzip.compress(squeezed)
    coding = b", ".join([b"gzip"] * times)
    return (
        HEAD + b"Content-Encoding: " + coding + b"\r\nContent-Length: %d\r\n\r\n" % len(squeezed)
    ) + squeezed


SOCKETS: Mapping[str, Callable[[socket.socket, threading.Event], None]] = {
    "closed at once": Sent(b""),
    "no HTTP": Sent(b"220 mail.example ESMTP\r\n"),
    "wrong length": Sent(HEAD + b"Content-Length: 999999\r\n\r\n" + body()),
    "chunk garbage": Sent(HEAD + b"Transfer-Encoding: chunked\r\n\r\nxyz\r\n"),
    "dripping status": Sent(b"", b"H"),
    "dripping headers": Sent(b"HTTP/1.1 200 OK\r\nX: ", b"x"),
    "dripping body": Sent(HEAD + b"Content-Length: 9999\r\n\r\n", b" "),
    "2 GB": Sent(HEAD + b"Content-Length: 2147483648\r\n\r\n", b"0" * 1_000_000),
    "endless chunks": Sent(
        HEAD + b"Transfer-Encoding: chunked\r\n\r\n", b"10000\r\n" + b"0" * 65536 + b"\r\n"
    ),
    "gzip bomb": Sent(packed(1)),
    "gzip bomb in a gzip bomb": Sent(packed(2)),
    "endless redirect": Sent(b"HTTP/1.1 302 Found\r\nLocation: /x\r\n\r\n", b"0" * 1_000_000),
    "redirect to a file": Sent(
        b"HTTP/1.1 302 Found\r\nLocation: file:///etc/passwd\r\nContent-Length: 0\r\n\r\n"
    ),
    "redirect to another host": Sent(
        b"HTTP/1.1 302 Found\r\nLocation: http://example.org/\r\nContent-Length: 0\r\n\r\n"
    ),
}


@pytest.mark.parametrize("case", SOCKETS)
def test_a_bad_connection_is_no_forecast_and_ends(case: str) -> None:
    with RawServer(SOCKETS[case]) as server:
        source = OpenMeteo(Http(MemoryAnswers(), fetch_s=SHORT_S), server.base_url)
        found, complaints = first_forecast((source,), PLACE, NOW)
    assert found is None
    assert len(complaints) == 1
    assert complaints[0].startswith("Open-Meteo ")


CERTIFICATES = ("unknown authority", "other host", "expired", "no TLS")


@pytest.mark.parametrize("fault", CERTIFICATES)
def test_a_service_that_cannot_prove_who_it_is_is_no_forecast(fault: str) -> None:
    authority = trustme.CA()
    ours = ssl.create_default_context()
    if fault != "unknown authority":
        authority.configure_trust(ours)
    certificate = authority.issue_cert(
        "weather.example" if fault == "other host" else "127.0.0.1",
        not_after=datetime(2020, 1, 1, tzinfo=UTC) if fault == "expired" else None,
    )
    theirs = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    certificate.configure_cert(theirs)
    good = Sent(HEAD + b"Content-Length: %d\r\n\r\n" % len(body()) + body())
    wrap = None if fault == "no TLS" else lambda raw: theirs.wrap_socket(raw, server_side=True)
    with RawServer(good, wrap=wrap, read_request=wrap is not None) as server:
        http = Http(MemoryAnswers(), tls_context=ours)
        source = OpenMeteo(http, f"https://127.0.0.1:{server.port}")
        found, complaints = first_forecast((source,), PLACE, NOW)
    assert found is None
    assert len(complaints) == 1


def test_the_same_answer_with_a_right_certificate_is_a_forecast() -> None:
    """The counterpart of the faults above: it is the certificate they fail by."""
    authority = trustme.CA()
    ours = ssl.create_default_context()
    authority.configure_trust(ours)
    theirs = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    authority.issue_cert("127.0.0.1").configure_cert(theirs)
    good = Sent(HEAD + b"Content-Length: %d\r\n\r\n" % len(body()) + body())
    with RawServer(good, wrap=lambda raw: theirs.wrap_socket(raw, server_side=True)) as server:
        source = OpenMeteo(
            Http(MemoryAnswers(), tls_context=ours), f"https://127.0.0.1:{server.port}"
        )
        assert standings(source.fetch(PLACE, NOW)) == HOLD


def test_there_are_more_answers_that_misbehave_than_promised() -> None:
    """Forty at least; each of them is a test of its own."""
    answers = [*GOOD_BODIES, *STATUSES, *SOCKETS, *CERTIFICATES]
    record(7, "answers that misbehave, none decided on", len(answers), target=">= 40")


def redirecting(connection: socket.socket, gone: threading.Event) -> None:
    """Drips a redirect for a third of the time: four of them would be too long."""
    gone.wait(LIMIT_S / 3)
    connection.sendall(b"HTTP/1.1 302 Found\r\nLocation: /x\r\nContent-Length: 0\r\n\r\n")


def packed_drops(connection: socket.socket, gone: threading.Event) -> None:
    """A gzip body, a byte at a time."""
    connection.sendall(HEAD + b"Content-Encoding: gzip\r\nContent-Length: 99999\r\n\r\n")
    for byte in gzip.compress(random.Random(7).randbytes(99_000)):
        if gone.wait(0.01):
            return
        connection.sendall(bytes([byte]))


LIMIT_S = 3.0
"""In place of the thirty seconds."""
WITHOUT_END = {
    **{name: behave for name, behave in SOCKETS.items() if name.startswith("dripping")},
    "silence": lambda _connection, gone: gone.wait(),
    "slow redirects": redirecting,
    "dripping gzip": packed_drops,
}


def test_a_fetch_of_a_server_that_drips_ends_within_its_time() -> None:
    """From the question to the complaint, with redirects, reading and unpacking."""
    took: dict[str, float] = {}

    def fetch(name: str, url: str) -> None:
        source = OpenMeteo(Http(MemoryAnswers(), fetch_s=LIMIT_S), url)
        began_s = time.monotonic()
        with pytest.raises(OperationalError, match="did not finish"):
            source.fetch(PLACE, NOW)
        took[name] = (time.monotonic() - began_s) / LIMIT_S

    with ExitStack() as servers:
        askers = [
            threading.Thread(
                target=fetch, args=(name, servers.enter_context(RawServer(behave)).base_url)
            )
            for name, behave in WITHOUT_END.items()
        ]
        for asker in askers:
            asker.start()
        for asker in askers:
            asker.join()
    assert len(took) == len(WITHOUT_END), "one of them got something else than it should"
    slowest = max(took.values())
    longest = "slowest fetch of a server without end, of its time"
    record(7, longest, slowest, target="<= 1", by_clock=True)
    assert FETCH_S <= 30.0


@pytest.mark.parametrize("behave", ["plain", "chunked", "gzip"])
def test_an_answer_over_two_mebibytes_is_not_kept(behave: str) -> None:
    """Unpacked; one of just two is."""
    kept = [largest_kept(behave, BODY_MOST_BYTES + more) for more in (-1, 0, 1, BODY_MOST_BYTES)]
    assert kept == [BODY_MOST_BYTES - 1, BODY_MOST_BYTES, 0, 0]
    record(7, f"largest answer kept, {behave}", max(kept), "B", target=f"<= {2 * 1024 * 1024}")


def largest_kept(behave: str, size: int) -> int:
    """Ask for an answer of a size and return the size of what was kept of it [B]."""
    whole = bytes(size)
    sent = gzip.compress(whole) if behave == "gzip" else whole
    head = {
        "plain": HEAD + b"Content-Length: %d\r\n\r\n" % len(sent),
        "gzip": HEAD + b"Content-Encoding: gzip\r\nContent-Length: %d\r\n\r\n" % len(sent),
        "chunked": HEAD + b"Transfer-Encoding: chunked\r\n\r\n%x\r\n" % len(sent),
    }
    tail = b"\r\n0\r\n\r\n" if behave == "chunked" else b""
    answers = MemoryAnswers()
    with RawServer(Sent(head[behave] + sent + tail)) as server:
        http = Http(answers)
        question = Question("The fake", server.base_url, HOUR)
        with suppress(OperationalError):
            http.ask(question, NOW, lambda body, _at: body)
        found = answers.load(server.base_url)
    return 0 if found is None else len(found.body)


def test_the_lookup_and_the_grid_together_have_one_deadline() -> None:
    """The look-up has used up the time, so the grid is not even asked."""
    ticks = iter([0.0, 0.0, 31.0])
    with FakeService(harsh, now=NOW) as service:
        http = Http(MemoryAnswers(), monotonic=lambda: next(ticks))
        with pytest.raises(OperationalError, match="did not finish"):
            nws.Nws(http, service.base_url).fetch(PLACE, NOW)
        assert [hit.path[:7] for hit in service.hits] == ["/points"]


MEASURE = """
import re, sys
from datetime import datetime, UTC
from strawbell.edges.forecasts.http import FETCH_S, Http, Question
from strawbell.edges.forecasts.open_meteo import OpenMeteo
from strawbell.edges.forecasts.transport import BODY_MOST_BYTES
from strawbell.errors import OperationalError
from strawbell.model.garden import Place
from support.memory_answers import MemoryAnswers

def fetch(url):
    try:
        OpenMeteo(Http(MemoryAnswers(), fetch_s=3.0), url).fetch(
            Place(40.7128, -74.006, "America/New_York"), datetime(2027, 4, 9, 4, 30, tzinfo=UTC))
    except OperationalError:
        return False
    return True

# Not ru_maxrss: that one is inherited from whoever started this process.
peak = lambda: int(re.search(r"VmHWM:\\s*(\\d+)", open("/proc/self/status").read())[1])
good, bad = sys.argv[1], sys.argv[2:]
assert all(fetch(good) for _ in range(3))
before = peak()
assert not any(fetch(url) for url in bad)
print((peak() - before) / 1024)
"""
MEMORY_MOST_MIB = 8.0
BOMBS = ("2 GB", "endless chunks", "gzip bomb", "gzip bomb in a gzip bomb", "endless redirect")


@pytest.mark.skipif(sys.platform != "linux", reason="the peak of memory is read as Linux tells it")
def test_a_bomb_costs_no_more_than_eight_mebibytes() -> None:
    """Of memory, each kind in a process of its own."""
    mib = {}
    for case in BOMBS:
        with FakeOpenMeteo(harsh, now=NOW) as good, RawServer(SOCKETS[case]) as bad:
            mib[case] = grown(good.base_url, bad.base_url)
    target = f"<= {MEMORY_MOST_MIB:g}"
    record(7, "memory a bomb costs, most", max(mib.values()), "MiB", target=target, found=str(mib))


@pytest.mark.skipif(sys.platform != "linux", reason="the peak of memory is read as Linux tells it")
@pytest.mark.parametrize(
    "answer",
    [
        b"[" * 2_000_000,
        b"[[]," * 6_000 + b"0",
        b"[" + b"123456.5," * 60_000 + b"0]",
        b"[" + b'{"a":1},' * 24_000 + b"0]",
        b'"' + b"x" * 2_000_000 + b'"',
        b'"' + b"x" * 2_000_000 + "\U0001f600".encode() + b'"',
        b'"' + b"x" * 2_000_000 + b"\\ud83d\\ude00" + b'"',
        b'"' + b"x" * 500_000 + "\U0001f600".encode() + b'"',
    ],
    ids=[
        "nested",
        "deep",
        "as many numbers as are read",
        "as many objects as are read",
        "a long text",
        "a long text with one wide letter",
        "a long text with one wide letter escaped",
        "as long a text with a wide letter as is read",
    ],
)
def test_json_made_to_fill_the_memory_costs_no_more_than_eight_mebibytes(answer: bytes) -> None:
    with FakeOpenMeteo(harsh, now=NOW) as good, FakeService() as bad:
        bad.fail(200, answer)
        grown_mib = grown(good.base_url, bad.base_url)
    assert grown_mib <= MEMORY_MOST_MIB


def grown(*urls: str) -> float:
    """Return how much the peak of a fresh process grew by asking the bad ones [MiB]."""
    done = subprocess.run(
        [sys.executable, "-c", MEASURE, *urls],
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
        env={"PYTHONPATH": str(Path(__file__).resolve().parents[1]), "PATH": ""},
    )
    assert done.returncode == 0, done.stderr
    return float(done.stdout)


# Mutations -------------------------------------------------------------------------------

Parse = Callable[[bytes, Place, datetime], Forecast]
SHAPES: Mapping[str, tuple[Parse, Callable[..., bytes]]] = {
    "open-meteo": (open_meteo.parse, open_meteo_body),
    "nws": (nws.parse, nws_grid_body),
    "met-norway": (met_norway.parse, met_norway_body),
}
NASTY: tuple[object, ...] = (
    None,
    True,
    "",
    "NaN",
    "\ud800",
    [],
    {},
    [[]],
    -1,
    0,
    999,
    1e308,
    -1e308,
    float("nan"),
    float("inf"),
    10**30,
    "2027-04-09T08:00",
    "9999-12-31T23:59:59Z",
    "0001-01-01T00:00:00+00:00/P999D",
    "2027-04-09T08:00:00+00:00/PT9999H",
)


def mutated(original: bytes, dice: random.Random) -> bytes:
    """Return an answer with one to four faults, in its bytes or in its structure."""
    if dice.random() < 0.5:
        value = json.loads(original)
        for _ in range(dice.randint(1, 4)):
            spoil(value, dice)
        return json.dumps(value).encode()
    raw = bytearray(original)
    for _ in range(dice.randint(1, 4)):
        at = dice.randrange(max(1, len(raw)))
        length = dice.choice((1, 1, 1, 5, 50, 2000))
        match dice.randrange(5):
            case 0:
                raw[at : at + 1] = bytes([dice.randrange(256)])
            case 1:
                del raw[at : at + length]
            case 2:
                raw[at:at] = raw[at : at + length]
            case 3:
                raw[at:at] = dice.choice((b"9", b"-", b"e9", b"null,", b"]", b"\\u0000", b'"'))
            case _:
                del raw[at:]
    return bytes(raw)


def spoil(value: object, dice: random.Random) -> None:
    """Walk down at random and put something nasty, lose something or shuffle there."""
    while True:
        keys: list[Any] = []
        if isinstance(value, dict):
            keys = list(value)
        elif isinstance(value, list):
            keys = list(range(len(value)))
        if not keys:
            return
        key = dice.choice(keys)
        inner = value[key]  # type: ignore[index]
        if isinstance(inner, dict | list) and inner and dice.random() < 0.85:
            value = inner
            continue
        match dice.randrange(4):
            case 0 if isinstance(value, dict):
                del value[key]
            case 1 if isinstance(value, list):
                dice.shuffle(value)
            case 2 if isinstance(value, list):
                del value[dice.randrange(len(value)) :]
            case _:
                value[key] = dice.choice(NASTY)  # type: ignore[index]
        return


def attack(name: str, seeds: range) -> tuple[int, int]:
    """Return how many mutations were read and how many refused; anything else is a failure."""
    parse, build = SHAPES[name]
    original = build(harsh, NOW, PLACE.latitude, PLACE.longitude)
    read = refused = 0
    for seed in seeds:
        answer = mutated(original, random.Random(seed))
        try:
            forecast = parse(answer, PLACE, NOW)
        except OperationalError as error:
            refused += str(error).isprintable()
        else:
            assert_sound(forecast)
            read += 1
    return read, refused


@pytest.mark.parametrize("name", SHAPES)
def test_a_hundred_mutations_of_an_answer_are_read_soundly_or_refused(name: str) -> None:
    read, refused = attack(name, range(100))
    assert min(read, refused) > 10
    assert read + refused == 100


@pytest.mark.nightly
@pytest.mark.parametrize("name", SHAPES)
def test_ten_thousand_mutations_of_an_answer_are_read_soundly_or_refused(name: str) -> None:
    read, refused = attack(name, range(100, 10_100))
    assert min(read, refused) > 1000
    record(7, f"nightly: mutations, {name}", read + refused, target="= 10000")


@pytest.mark.nightly
def test_a_thousand_mutations_leave_the_whole_client_in_no_other_way() -> None:
    """Through the whole client: a forecast, or an operational error."""
    with FakeOpenMeteo() as service:
        original = body()
        for seed in range(1000):
            service.answer_next(Answer(200, mutated(original, random.Random(seed))))
            source = OpenMeteo(Http(MemoryAnswers()), service.base_url)
            found, complaints = first_forecast((source,), PLACE, NOW)
            assert found is not None or len(complaints) == 1
