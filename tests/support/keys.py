"""Keys of tasks from their text, as a test would write them."""

from __future__ import annotations

from strawbell.model.brief import TaskKey


def key_of(text: str) -> TaskKey:
    """Return the key that a text stands for."""
    found = TaskKey.parse(text)
    assert found is not None, text
    return found
