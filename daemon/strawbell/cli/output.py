"""How the commands print JSON: one garden as an object, several as an array of them."""

from __future__ import annotations

import json
from collections.abc import Sequence


def print_json(documents: Sequence[object]) -> None:
    """Print one document by itself, several as an array."""
    content = documents[0] if len(documents) == 1 else list(documents)
    print(json.dumps(content, indent=2, ensure_ascii=False, allow_nan=False))
