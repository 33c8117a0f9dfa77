"""Forecast services are asked politely: kept answers, conditions, pauses."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta

import pytest
from msgspec.structs import replace

from strawbell import __version__
from strawbell.app.ports import CachedAnswer
from strawbell.edges.forecasts.http import Http, Question, Refused, user_agent
from strawbell.errors import OperationalError, Outlook
from support.forecast_server import Answer, FakeService
from support.memory_answers import MemoryAnswers

NOW = datetime(2027, 4, 9, 4, 30, tzinfo=UTC)
MINUTE = timedelta(minutes=1)
HOUR = timedelta(hours=1)


def text(body: bytes, at: datetime) -> str:
    """A reader that refuses what does not begin with "good"."""
    if not body.startswith(b"good"):
        raise OperationalError("The fake sent something bad.")
    return f"{body.decode()} of {at:%H:%M}"


class Setting:
    """A server, a cache and a client."""

    def __init__(self, service: FakeService) -> None:
        self.service = service
        self.cache = MemoryAnswers()
        self.http = Http(self.cache, contact="grower@example.org")
        self.question = Question("The fake", f"{service.base_url}/a", HOUR)

    def ask(self, now: datetime, path: str = "/a", *, anew: bool = False) -> str:
        question = replace(self.question, url=self.service.base_url + path)
        return self.http.ask(question, now, text, anew=anew)

    @property
    def hits(self) -> int:
        return len(self.service.hits)


@pytest.fixture
def setting() -> Iterator[Setting]:
    with FakeService() as service:
        service.fail(200, b"good")
        yield Setting(service)


def test_within_our_interval_nothing_is_asked_and_at_its_end_it_is(setting: Setting) -> None:
    assert setting.ask(NOW) == "good of 04:30"
    assert setting.ask(NOW + HOUR - MINUTE) == "good of 04:30"
    assert setting.hits == 1
    assert setting.ask(NOW + HOUR) == "good of 05:30"
    assert setting.hits == 2


def test_nothing_is_asked_before_the_services_own_expiry(setting: Setting) -> None:
    setting.service.fail(200, b"good", {"Cache-Control": "max-age=7200"})
    setting.ask(NOW)
    setting.ask(NOW + 2 * HOUR - MINUTE)
    assert setting.hits == 1
    setting.ask(NOW + 2 * HOUR)
    assert setting.hits == 2


def test_conditions_are_given_back_word_for_word_and_304_renews_the_answer(
    setting: Setting,
) -> None:
    stamp = "Fri, 9 Apr 2027  04:00:00 gmt"
    setting.service.fail(200, b"good", {"ETag": 'W/"x y"', "Last-Modified": stamp})
    setting.ask(NOW)
    setting.service.fail(304, b"", {"ETag": '"second"'})
    assert setting.ask(NOW + 2 * HOUR) == "good of 06:30"
    headers = setting.service.hits[-1].headers
    assert headers["If-None-Match"] == 'W/"x y"'
    assert headers["If-Modified-Since"] == stamp
    assert setting.ask(NOW + 3 * HOUR - MINUTE) == "good of 06:30"
    assert setting.hits == 2
    setting.ask(NOW + 3 * HOUR)
    assert setting.service.hits[-1].headers["If-None-Match"] == '"second"'


def test_a_deprecated_product_is_read_but_not_asked_for_conditionally(setting: Setting) -> None:
    setting.service.fail(203, b"good", {"ETag": '"x"', "Last-Modified": "then"})
    assert setting.ask(NOW) == "good of 04:30"
    setting.ask(NOW + 2 * HOUR)
    assert "If-None-Match" not in setting.service.hits[-1].headers
    assert "If-Modified-Since" not in setting.service.hits[-1].headers


def test_not_modified_without_anything_kept_is_an_error(setting: Setting) -> None:
    setting.service.fail(304)
    with pytest.raises(Refused):
        setting.ask(NOW)


@pytest.mark.parametrize("status", [201, 204, 206, 400, 418, 500, 502, 503, 504, 599])
def test_after_an_error_a_quarter_of_an_hour_passes_before_the_next_request(
    setting: Setting, status: int
) -> None:
    setting.service.fail(status, b"<html><b>Bad</b> gateway</html>")
    with pytest.raises(Refused) as caught:
        setting.ask(NOW)
    assert caught.value.status == status
    with pytest.raises(OperationalError, match=r"not asked again before 04:45 UTC"):
        setting.ask(NOW + 15 * MINUTE - MINUTE / 60)
    assert setting.hits == 1
    setting.service.fail(200, b"good")
    assert setting.ask(NOW + 15 * MINUTE) == "good of 04:45"


def test_a_pause_is_kept_where_answers_are_so_a_new_process_minds_it(setting: Setting) -> None:
    setting.service.fail(503, b"", {"Retry-After": "7200"})
    with pytest.raises(Refused):
        setting.ask(NOW)
    setting.http = Http(setting.cache)
    with pytest.raises(OperationalError, match="not asked again"):
        setting.ask(NOW + 2 * HOUR - MINUTE)
    assert setting.hits == 1


def test_a_clock_set_back_does_not_lengthen_a_pause_beyond_six_hours(setting: Setting) -> None:
    setting.service.fail(500)
    with pytest.raises(Refused):
        setting.ask(NOW)
    setting.service.fail(200, b"good")
    assert setting.ask(NOW - timedelta(days=400)) == "good of 04:30"


def test_an_answer_from_the_future_is_not_used_unasked(setting: Setting) -> None:
    setting.ask(NOW)
    assert setting.ask(NOW - HOUR) == "good of 03:30"
    assert setting.hits == 2


@pytest.mark.parametrize("status", [401, 403, 429])
def test_a_refusal_of_us_counts_for_every_place(setting: Setting, status: int) -> None:
    setting.service.fail(status)
    with pytest.raises(Refused):
        setting.ask(NOW)
    with pytest.raises(OperationalError, match="not asked again"):
        setting.ask(NOW, "/b")
    assert setting.hits == 1


@pytest.mark.parametrize("status", [404, 500, 503])
def test_an_error_of_one_place_leaves_the_others_alone(setting: Setting, status: int) -> None:
    setting.service.fail_at("/a", Answer(status))
    setting.service.fail_at("/b", Answer(200, b"good"))
    with pytest.raises(Refused):
        setting.ask(NOW)
    assert setting.ask(NOW, "/b") == "good of 04:30"


def test_an_answer_that_cannot_be_used_is_not_kept_and_counts_as_an_error(
    setting: Setting,
) -> None:
    setting.ask(NOW)
    setting.service.fail(200, b"bad", {"ETag": '"bad"', "Cache-Control": "max-age=86400"})
    with pytest.raises(OperationalError, match="something bad"):
        setting.ask(NOW + 2 * HOUR)
    with pytest.raises(OperationalError, match="something bad"):
        setting.ask(NOW + 2 * HOUR + MINUTE)
    url = setting.question.url
    assert setting.http.last(url, text) == "good of 04:30"


def test_a_kept_answer_that_can_no_longer_be_read_is_asked_for_without_conditions(
    setting: Setting,
) -> None:
    url = setting.question.url
    setting.cache.keep(CachedAnswer(url, '"x"', "then", NOW + HOUR, NOW, b"rotten"))
    assert setting.ask(NOW + MINUTE) == "good of 04:31"
    assert "If-None-Match" not in setting.service.hits[-1].headers


def test_a_reader_that_stumbles_costs_the_answer_and_not_the_morning(setting: Setting) -> None:
    def stumble(body: bytes, at: datetime) -> str:
        raise KeyError("temperature")

    with pytest.raises(OperationalError, match=r"nobody foresaw \(KeyError\)") as caught:
        setting.http.ask(setting.question, NOW, stumble)
    assert caught.value.outlook is Outlook.UNKNOWN


def test_anew_passes_the_kept_answer_over(setting: Setting) -> None:
    setting.ask(NOW)
    assert setting.ask(NOW + MINUTE, anew=True) == "good of 04:31"
    assert setting.hits == 2


def test_a_store_that_fails_does_not_cost_the_forecast() -> None:
    class Broken:
        def load(self, url: str) -> CachedAnswer | None:
            raise OperationalError("disk full")

        def keep(self, answer: CachedAnswer) -> None:
            raise OperationalError("disk full")

    with FakeService() as service:
        service.fail(200, b"good")
        http = Http(Broken())
        question = Question("The fake", service.base_url, HOUR)
        assert http.ask(question, NOW, text) == "good of 04:30"
        assert http.last(question.url, text) is None


@pytest.mark.parametrize(
    ("status", "outlook"),
    [
        (400, Outlook.FOR_GOOD),
        (403, Outlook.FOR_GOOD),
        (404, Outlook.FOR_GOOD),
        (422, Outlook.FOR_GOOD),
        (429, Outlook.FOR_NOW),
        (500, Outlook.FOR_NOW),
        (503, Outlook.FOR_NOW),
    ],
)
def test_a_refusal_says_whether_another_try_makes_sense(
    setting: Setting, status: int, outlook: Outlook
) -> None:
    setting.service.fail(status)
    with pytest.raises(Refused) as caught:
        setting.ask(NOW)
    assert caught.value.outlook is outlook


@pytest.mark.parametrize(
    ("body", "words"),
    [
        (b'{"error": true, "reason": "The service is overloaded"}', ": The service is overloaded)"),
        (b'{"title": "Bad", "detail": "Query parameter"}', ": Query parameter)"),
        (b"<html><h1>502</h1>\n<script>Bad</script> gateway</html>", ": 502 Bad gateway)"),
        (b'{"reason": "a\\u001b[31m\\n\\u202eb"}', ": a [31m b)"),
        (b'{"reason": ["x"]}', "(HTTP 503)"),
        (b"\xff\xfe" + b"x" * 9000, "x"),
        (b"[" * 100000, "["),
        (b"", "(HTTP 503)"),
    ],
)
def test_the_services_own_words_are_given_short_and_printable(
    setting: Setting, body: bytes, words: str
) -> None:
    setting.service.fail(503, body)
    with pytest.raises(Refused) as caught:
        setting.ask(NOW)
    sentence = str(caught.value)
    assert words in sentence
    assert sentence.isprintable()
    assert len(sentence) < 220
    assert sentence.startswith("The fake has no forecast for us now (HTTP 503")


@pytest.mark.parametrize(
    ("wants_contact", "said"),
    [(True, "grower@example.org"), (False, "straw bale garden reminders")],
)
def test_the_contact_goes_only_to_a_service_that_asks_for_one(
    setting: Setting, wants_contact: bool, said: str
) -> None:
    setting.question = replace(setting.question, wants_contact=wants_contact)
    setting.ask(NOW)
    headers = setting.service.hits[0].headers
    assert headers["User-Agent"] == f"strawbell/{__version__} ({said})"
    assert headers["Accept-Encoding"] == "gzip"
    assert "Cookie" not in headers
    assert "Authorization" not in headers


@pytest.mark.parametrize(
    ("contact", "shown"),
    [
        ("a@b.example\r\nX-Evil: 1", "(a@b.exampleX-Evil: 1)"),
        ("(gärtner)", "(grtner)"),
        ("", "(straw bale garden reminders)"),
        (None, "(straw bale garden reminders)"),
    ],
)
def test_a_contact_cannot_break_the_header(contact: str | None, shown: str) -> None:
    assert user_agent(contact) == f"strawbell/{__version__} {shown}"


def test_reading_kept_answers_needs_no_network_library() -> None:
    """The idle daemon and quick commands stay small (checked in a fresh interpreter)."""
    code = (
        "import sys, strawbell.edges.forecasts.chain, strawbell.edges.forecasts.open_meteo;"
        "print({'requests', 'urllib3', 'ssl'} & set(sys.modules))"
    )
    found = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, timeout=60
    )
    assert found.stdout.strip() == "set()"
