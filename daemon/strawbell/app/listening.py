"""When each way of answers is asked, and what is said where one hears nothing."""

from __future__ import annotations

import threading
from collections.abc import Callable, Sequence
from datetime import datetime, timedelta

from strawbell.app.answering import Answering
from strawbell.app.outbox import queue
from strawbell.app.ports import Channel, Ear, Store, Unheard
from strawbell.model.garden import Garden
from strawbell.model.household import Helper
from strawbell.season.local_time import local_date, zone_of
from strawbell.words.notices import trouble_notice

UNHEARD_USEFUL = timedelta(days=1)
"""How long word is useful that answers cannot be read."""
SOON_S = 1.0
"""When an ear that has more is asked again [s]."""
REFUSED_S = 15.0
"""When an ear is asked again whose answers the store did not take [s]."""


class Listening:
    """Asks each ear in its time. Nothing is remembered but moments of the monotonic clock [s]."""

    def __init__(
        self,
        ears: Sequence[Ear],
        gardens: Sequence[Garden],
        channels: Sequence[Channel],
        store: Store,
        spare: Channel | None = None,
        helpers: Sequence[Helper] = (),
    ) -> None:
        """Keep the parts; every ear is due at first. `spare` is the channel of last resort."""
        self.ears = tuple(ears)
        self._gardens, self._channels, self._store = tuple(gardens), tuple(channels), store
        self._answering = Answering(gardens, store, channels, spare, helpers)
        self._guard = threading.Lock()
        self._next_s: dict[str, float] = {}
        self._unheard: set[str] = set()

    def call(self, ring: Callable[[], object] | None) -> None:
        """Let every ear ring when something comes by itself; None: none is wanted any more."""
        for ear in self.ears:
            ear.call(ring)

    def due(self, now_s: float) -> tuple[Ear, ...]:
        """Return the ears that are to be asked now."""
        with self._guard:
            return tuple(
                ear
                for ear in self.ears
                if ear.is_ringing or now_s >= self._next_s.get(ear.name, now_s)
            )

    def wait_s(self, now_s: float) -> float:
        """Return how long it is until an ear is due [s]; infinite without any."""
        with self._guard:
            moments = (self._next_s.get(ear.name, now_s) for ear in self.ears)
            return max(0.0, min(moments, default=float("inf")) - now_s)

    def listen(self, ear: Ear, now: datetime, now_s: float) -> tuple[str, ...]:
        """Ask one ear and take what came; return lines for the log.

        Raises `strawbell.errors.OperationalError` where the store failed; it is tried again.
        """
        self._ask_next(ear, float("inf"))
        try:
            heard = self._answering.listen(ear, now)
        except Unheard as error:
            self._ask_next(ear, now_s + ear.every_s)
            if error.settings_problem:
                self._tell(error, now)
            is_news = ear.name not in self._unheard
            self._unheard.add(ear.name)
            return (f"{ear.name}: {error}",) if is_news else ()
        except BaseException:
            self._ask_next(ear, now_s + REFUSED_S)
            raise
        self._unheard.discard(ear.name)
        self._ask_next(ear, now_s + (ear.every_s if heard.is_all else SOON_S))
        return tuple(f"{ear.name}: {line}" for line in heard.lines)

    def _ask_next(self, ear: Ear, at_s: float) -> None:
        with self._guard:
            self._next_s[ear.name] = at_s

    def _tell(self, error: Unheard, now: datetime) -> None:
        """Tell what only the grower can mend; the key of the notice makes it once a date."""
        for garden in self._gardens[:1]:
            on = local_date(now, zone_of(garden.place.time_zone))
            notice = trouble_notice(garden, on, "answers", (str(error),), now, now + UNHEARD_USEFUL)
            self._store.enqueue(queue(notice, self._channels, now, self._store.secret))
