"""A daemon that nobody answers."""

from __future__ import annotations

from strawbell.app.listening import Listening
from strawbell.app.ports import Store


def deaf(store: Store) -> Listening:
    """Return a listening without an ear."""
    return Listening((), (), (), store)
