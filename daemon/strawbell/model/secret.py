"""What only one store knows, so that only it can make what it later takes for its own."""

from __future__ import annotations

import hashlib
import hmac

from msgspec import Struct

KEY_BYTES = 32
"""As long as what the MAC gives; a longer key proves no more (RFC 2104, section 3)."""

SEPARATOR = "\x1f"
"""Stands between the parts (ASCII unit separator). Without it "ab", "c" were "a", "bc"."""


class StoreSecret(Struct, frozen=True):
    """The key of one store, made once with it and copied with it; never shown."""

    key: bytes

    def __repr__(self) -> str:
        return f"{type(self).__name__}()"

    def __post_init__(self) -> None:
        """Refuse a key of another length: half a secret is none."""
        if len(self.key) != KEY_BYTES:
            raise ValueError(f"key must have {KEY_BYTES} bytes")

    def mac(self, *parts: str) -> bytes:
        """Return HMAC-SHA-256 of the parts (RFC 2104), 32 bytes.

        The first part says what it is for, so that one thing can never be taken for another.
        Raises ValueError when a part holds the separator.
        """
        if any(SEPARATOR in part for part in parts):
            raise ValueError("parts must not hold the separator")
        said = SEPARATOR.join(parts).encode("utf-8", "surrogatepass")
        return hmac.new(self.key, said, hashlib.sha256).digest()
