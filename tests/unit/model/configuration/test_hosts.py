"""Which hosts are this very machine."""

from __future__ import annotations

import pytest

from strawbell.model.configuration import is_loopback


@pytest.mark.parametrize(
    ("host", "loopback"),
    [
        ("localhost", True),
        ("LOCALHOST", True),
        ("127.0.0.1", True),
        ("127.9.9.9", True),
        ("::1", True),
        ("[::1]", True),
        ("128.0.0.1", False),
        ("localhost.example.org", False),
        ("127.0.0.1.example.org", False),
        ("", False),
        ("0.0.0.0", False),
    ],
)
def test_loopback_is_known_by_its_very_name(host: str, loopback: bool) -> None:
    """A name that only looks like it is another machine."""
    assert is_loopback(host) is loopback
