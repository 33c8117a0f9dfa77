"""What the headers of an answer ask of us: when to come back, where to go instead. Pure."""

from __future__ import annotations

import ipaddress
from collections.abc import Mapping
from datetime import UTC, datetime, timedelta
from urllib.parse import urljoin, urlsplit

PAUSE_AFTER_ERROR = timedelta(minutes=15)
"""Where a failing service does not say when to come back; common practice of its users."""
RETRY_AFTER_LEAST = timedelta(minutes=1)
RETRY_AFTER_MOST = timedelta(hours=6)
"""Retry-After is obeyed between these, so that a slip of the service is no outage of a week."""
LIFETIME_MOST = timedelta(hours=6)
"""No answer is kept longer than this unasked, whatever its Expires says."""
SECONDS_DIGITS_MOST = 9
"""More digits than these in a number of seconds are read as "very long"."""


def pause_until(now: datetime, headers: Mapping[str, str]) -> datetime:
    """Return when a service that failed may be asked again: its Retry-After, or 15 minutes."""
    wished = _lowered(headers).get("retry-after", "").strip()
    if _is_count(wished):
        return now + _between(_seconds(wished), RETRY_AFTER_LEAST, RETRY_AFTER_MOST)
    date = _http_date(wished)
    if date is None:
        return now + PAUSE_AFTER_ERROR
    # Their clock may not be ours: what counts is how far their date lies from their own Date.
    theirs = _http_date(_lowered(headers).get("date", "")) or now
    return now + _between(date - theirs, RETRY_AFTER_LEAST, RETRY_AFTER_MOST)


def expires_at(now: datetime, headers: Mapping[str, str], least: timedelta) -> datetime:
    """Return until when an answer is good without asking again.

    max-age goes before Expires (RFC 9111, section 5.3). `least` is our own interval, used where
    the service gives none or a shorter one.
    """
    lifetime = _lifetime(_lowered(headers), now)
    return now + _between(lifetime, least, max(least, LIFETIME_MOST))


def redirect_target(url: str, location: str) -> str | None:
    """Return where a redirect leads, or None where we do not follow: another scheme, or unsafe."""
    try:
        target = urljoin(url, location)
        if urlsplit(target).scheme != urlsplit(url).scheme or not is_allowed(target):
            return None
        if is_loopback(target) != is_loopback(url):
            return None
    except ValueError:
        return None
    return target


def is_allowed(url: str) -> bool:
    """Return whether a URL may be asked at all: https, or plain http to a loopback address."""
    try:
        parts = urlsplit(url)
        has_host = bool(parts.hostname) and parts.port != 0
    except ValueError:
        return False
    return has_host and (parts.scheme == "https" or (parts.scheme == "http" and is_loopback(url)))


def is_loopback(url: str) -> bool:
    """Return whether a URL leads to this very machine."""
    host = urlsplit(url).hostname or ""
    if host == "localhost":
        return True
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return False


def origin(url: str) -> str:
    """Return scheme, host and port of a URL: whom a pause concerns."""
    parts = urlsplit(url)
    return f"{parts.scheme}://{parts.netloc}"


def _lifetime(headers: Mapping[str, str], now: datetime) -> timedelta:
    for directive in headers.get("cache-control", "").lower().split(","):
        key, _, value = directive.strip().partition("=")
        value = value.strip('" ')
        if key == "max-age" and _is_count(value):
            age = headers.get("age", "").strip()
            return _seconds(value) - (_seconds(age) if _is_count(age) else timedelta())
    expires = _http_date(headers.get("expires", ""))
    if expires is None:
        return timedelta()
    return expires - (_http_date(headers.get("date", "")) or now)


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


def _lowered(headers: Mapping[str, str]) -> dict[str, str]:
    return {name.lower(): value for name, value in headers.items()}


def _between(value: timedelta, least: timedelta, most: timedelta) -> timedelta:
    return min(max(value, least), most)
