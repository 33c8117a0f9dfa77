"""When the forecast of the default service was really made, from what it says of its models.

Its answers carry no such time. They mix several models; the one asked about here covers every place
and every day of them and comes every six hours, so an answer is at least as old as that run.
"""

from __future__ import annotations

import math
from datetime import UTC, datetime, timedelta

from msgspec import Struct

from strawbell.edges.forecasts.checks import mapping, number, read_json
from strawbell.edges.forecasts.http import Asker, Question
from strawbell.edges.forecasts.open_meteo import BASE_URL, SERVICE

MODEL = "ecmwf_ifs025"
INTERVAL = timedelta(hours=1)
SETTLES = timedelta(minutes=10)
"""How long after a run is said to be there all servers have it (the service's documentation)."""
LATE_AFTER_INTERVALS = 2
LATE_MARGIN = timedelta(minutes=20)
"""A run is old two intervals and 20 minutes after it was there, as the service's own page of model
updates has it; a later one has then failed twice."""
INTERVAL_LEAST, INTERVAL_MOST = timedelta(minutes=30), timedelta(days=2)


class Run(Struct, frozen=True):
    """One run of a model: when it began, when it could be had, and how often one comes."""

    began_at: datetime
    available_at: datetime
    every: timedelta

    def as_of(self, fetched_at: datetime) -> Run:
        """Return the run that an answer fetched earlier came from: this one, or one before it."""
        behind = max(math.ceil((self.available_at + SETTLES - fetched_at) / self.every), 0)
        return Run(
            self.began_at - behind * self.every, self.available_at - behind * self.every, self.every
        )

    @property
    def good_until(self) -> datetime:
        """Return when the run counts as old, since newer ones are overdue."""
        return self.available_at + LATE_AFTER_INTERVALS * self.every + LATE_MARGIN


class Runs(Asker):
    """Asks the default service about its newest run."""

    base_url = BASE_URL

    def newest(self, now: datetime) -> Run:
        """Return the newest run; `strawbell.errors.OperationalError` where it is not told."""
        url = f"{self._base}/data/{MODEL}/static/meta.json"
        question = Question(f"{SERVICE.spoken}'s list of runs", url, INTERVAL)
        return self._http.ask(question, now, lambda body, _: parse(body))


def parse(body: bytes) -> Run:
    """Return the run that a body tells of; `OperationalError` where it tells of none."""
    answer = mapping(read_json(SERVICE.spoken, body))
    began, available, every = (
        number(answer.get(name))
        for name in (
            "last_run_initialisation_time",
            "last_run_availability_time",
            "update_interval_seconds",
        )
    )
    if began is None or available is None or every is None or not 0 < began <= available:
        raise SERVICE.unusable("did not say when its models ran")
    interval = timedelta(seconds=every)
    if not INTERVAL_LEAST <= interval <= INTERVAL_MOST:
        raise SERVICE.unusable("did not say how often its models run")
    return Run(datetime.fromtimestamp(began, UTC), datetime.fromtimestamp(available, UTC), interval)
