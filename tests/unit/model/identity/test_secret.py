"""The secret of a store and what is proved with it."""

from __future__ import annotations

import hashlib
import hmac

import pytest

from strawbell.model.identity import KEY_BYTES, SEPARATOR, StoreSecret

SECRET = StoreSecret(bytes(range(KEY_BYTES)))


def test_the_mac_is_that_of_the_standard() -> None:
    """HMAC-SHA-256 over the parts with the separator between them."""
    want = hmac.new(bytes(range(KEY_BYTES)), b"what\x1ffor", hashlib.sha256).digest()
    assert SECRET.mac("what", "for") == want


def test_parts_cannot_be_shifted_into_each_other() -> None:
    """The same letters cut elsewhere prove something else, and no part holds the separator."""
    assert SECRET.mac("ab", "c") != SECRET.mac("a", "bc")
    with pytest.raises(ValueError, match="separator"):
        SECRET.mac(f"a{SEPARATOR}b")


def test_a_name_that_is_not_utf_8_has_a_mac_too() -> None:
    """A lone surrogate from a file name or a command line costs no notice."""
    assert SECRET.mac("row \udcff") != SECRET.mac("row ?")


@pytest.mark.parametrize("length", [0, KEY_BYTES - 1, KEY_BYTES + 1])
def test_half_a_secret_is_none(length: int) -> None:
    """Only a key of the full length is taken."""
    with pytest.raises(ValueError, match=str(KEY_BYTES)):
        StoreSecret(bytes(length))


def test_a_secret_is_never_shown() -> None:
    """Neither in a log nor in the words of an error."""
    assert repr(SECRET) == "StoreSecret()"
