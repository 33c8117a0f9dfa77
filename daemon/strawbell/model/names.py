"""What is left of a grower's name where only plain words may stand: in keys."""

from __future__ import annotations

import re
import unicodedata
from functools import lru_cache

_NOT_A_WORD = re.compile(r"[^a-z0-9]+")


@lru_cache(maxsize=1024)
def slug(name: str) -> str:
    """Return a name as lower-case ASCII words joined by hyphens ("Row Ä 1" -> "row-a-1").

    A name without any Latin letter or digit keeps its code points in hexadecimal, so that two
    different names never share an empty slug.
    """
    plain = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode("ascii").lower()
    words = _NOT_A_WORD.sub("-", plain).strip("-")
    return words or "-".join(f"{ord(letter):x}" for letter in name.strip()) or "unnamed"
