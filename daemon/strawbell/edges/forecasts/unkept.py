"""Answers of forecast services that the store does not take: a full disk is no rudeness to them."""

from __future__ import annotations

from strawbell.app.ports import AnswerCache, CachedAnswer
from strawbell.errors import OperationalError

MOST_ANSWERS = 64
"""Answers and pauses held in memory: those of some twenty gardens at three services; the oldest
goes first."""


class PatientCache:
    """A cache that holds in memory what the store refuses, until the store takes it again.

    Without it a daemon on a full disk forgets at every beat that a service was asked just now,
    or wished to be left alone.
    """

    def __init__(self, store: AnswerCache) -> None:
        """Keep answers in `store` as long as it takes them."""
        self._store = store
        self._unkept: dict[str, CachedAnswer] = {}

    def load(self, url: str) -> CachedAnswer | None:
        """Return the last good answer of a URL, or None."""
        held = self._unkept.get(url)
        return self._store.load(url) if held is None else held

    def keep(self, answer: CachedAnswer) -> None:
        """Replace the last good answer of `answer.url`."""
        try:
            self._store.keep(answer)
        except OperationalError:
            self._unkept.pop(answer.url, None)
            while len(self._unkept) >= MOST_ANSWERS:
                del self._unkept[next(iter(self._unkept))]
            self._unkept[answer.url] = answer
        else:
            self._unkept.pop(answer.url, None)
