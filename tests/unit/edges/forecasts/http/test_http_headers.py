"""What the headers of an answer ask of us."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from requests.structures import CaseInsensitiveDict

from strawbell.edges.forecasts.http import expires_at, pause_until

NOW = datetime(2027, 4, 9, 4, 30, tzinfo=UTC)
MINUTE = timedelta(minutes=1)
HOUR = timedelta(hours=1)


@pytest.mark.parametrize(
    ("headers", "wait"),
    [
        ({}, 15 * MINUTE),
        ({"Retry-After": "0"}, MINUTE),
        ({"Retry-After": "59"}, MINUTE),
        ({"Retry-After": "60"}, MINUTE),
        ({"retry-after": "61"}, 61 * MINUTE / 60),
        ({"Retry-After": "21599"}, 6 * HOUR - MINUTE / 60),
        ({"Retry-After": "21600"}, 6 * HOUR),
        ({"Retry-After": "21601"}, 6 * HOUR),
        ({"Retry-After": "9" * 5000}, 6 * HOUR),
        ({"Retry-After": "-5"}, 15 * MINUTE),
        ({"Retry-After": "soon"}, 15 * MINUTE),
        ({"Retry-After": "٣"}, 15 * MINUTE),  # a digit, but not of HTTP's
        ({"Retry-After": "Fri, 09 Apr 2027 05:30:00 GMT"}, HOUR),
        ({"Retry-After": "Fri, 09 Apr 2027 01:00:00 GMT"}, MINUTE),
        ({"Retry-After": "Fri, 09 Apr 9999 01:00:00 GMT"}, 6 * HOUR),
    ],
)
def test_retry_after_is_obeyed_between_a_minute_and_six_hours(
    headers: dict[str, str], wait: timedelta
) -> None:
    assert pause_until(NOW, CaseInsensitiveDict(headers)) == NOW + wait


def test_a_retry_after_date_is_counted_from_the_services_own_clock() -> None:
    """Their clock is two hours behind ours; the wait is still the hour they meant."""
    headers = {
        "Date": "Fri, 09 Apr 2027 02:30:00 GMT",
        "Retry-After": "Fri, 09 Apr 2027 03:30:00 GMT",
    }
    assert pause_until(NOW, CaseInsensitiveDict(headers)) == NOW + HOUR


@pytest.mark.parametrize(
    ("headers", "lifetime"),
    [
        ({}, HOUR),
        ({"Cache-Control": "max-age=60"}, HOUR),
        ({"Cache-Control": "public, max-age=3599"}, HOUR),
        ({"Cache-Control": "public, max-age=3601"}, timedelta(seconds=3601)),
        ({"Cache-Control": "max-age=7200", "Age": "1800"}, 90 * MINUTE),
        ({"Cache-Control": 'max-age="7200"', "Age": "much"}, 2 * HOUR),
        ({"Cache-Control": "max-age=" + "9" * 400}, 6 * HOUR),
        ({"Cache-Control": "no-store"}, HOUR),
        ({"Expires": "Fri, 09 Apr 2027 06:30:00 GMT"}, 2 * HOUR),
        ({"Expires": "Fri, 09 Apr 2027 04:00:00 GMT"}, HOUR),
        ({"Expires": "0"}, HOUR),
        ({"Expires": "Wed, 31 Dec 9999 23:59:59 GMT"}, 6 * HOUR),
        (
            {"Cache-Control": "max-age=7200", "Expires": "Fri, 09 Apr 2027 09:30:00 GMT"},
            2 * HOUR,
        ),
        (
            {"Date": "Thu, 08 Apr 2027 04:30:00 GMT", "Expires": "Thu, 08 Apr 2027 07:30:00 GMT"},
            3 * HOUR,
        ),
    ],
)
def test_an_answer_is_good_as_long_as_the_service_says_and_never_shorter_than_our_interval(
    headers: dict[str, str], lifetime: timedelta
) -> None:
    assert expires_at(NOW, CaseInsensitiveDict(headers), least=HOUR) == NOW + lifetime
