"""What stands beside a forecast: the run it came from, and the members of an ensemble.

Neither is needed to get through a day, so whatever is the matter with them is passed over. What
they are good for beside chances: an answer that was frozen days ago looks young, and is found out
by standing far from everything else that is known of the place.

The answers of the default service carry no time of issue. They mix several models; the one asked
about here covers every place and every day of them and comes every six hours, so an answer is at
least as old as that run.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from contextlib import suppress
from datetime import UTC, datetime, timedelta

from msgspec import Struct
from msgspec.structs import replace

from strawbell.app.ports import ForecastSource
from strawbell.edges.forecasts.checks import HOUR, mapping, number, read_json
from strawbell.edges.forecasts.ensemble import Ensembles
from strawbell.edges.forecasts.http import Asker, Question
from strawbell.edges.forecasts.open_meteo import BASE_URL, SERVICE
from strawbell.edges.forecasts.previous_runs import PreviousRuns
from strawbell.errors import OperationalError
from strawbell.model.forecast import Ensemble, Forecast
from strawbell.model.garden import Place

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


COMPARED_H = 48
"""Coming hours that are compared [h]: over these services differ by a degree or two."""
FEWEST_COMPARED_H = 24
FAR_APART_C = 5.0
"""Mean distance of two forecasts of one place from which one of them must be wrong: three times
the standard error of a day ahead (design choice) [degC]."""


class Beside:
    """Asks for what stands beside a forecast."""

    def __init__(
        self, runs: Runs, ensembles: Ensembles, previous: PreviousRuns | None = None
    ) -> None:
        """Keep whom to ask; without `previous` nothing is known of earlier errors."""
        self._runs = runs
        self._ensembles = ensembles
        self._previous = previous

    def completed(
        self, found: Forecast, others: Sequence[ForecastSource], place: Place, now: datetime
    ) -> tuple[Forecast, tuple[str, ...]]:
        """Return a forecast with its run and members, or that of another service where it is wrong.

        Where forecast and members are far apart the next of `others` has the casting vote: the
        forecast gives way to it, or the members are left out.
        """
        found = self._dated(found, place, now)
        try:
            members = self._ensembles.fetch(place, now)
        except OperationalError:
            return found, ()
        if not _far_apart(found, members, now):
            return replace(found, ensemble=members), ()
        for other in others:
            if not other.covers(place):
                continue
            with suppress(OperationalError):
                third = other.fetch(place, now)
                if _far_apart(third, members, now):
                    return found, ()
                complaint = (
                    f"The forecast of {found.source} is far from all others of this place; that of "
                    f"{third.source} is taken."
                )
                return replace(third, ensemble=members), (complaint,)
        return found, ()

    def _dated(self, found: Forecast, place: Place, now: datetime) -> Forecast:
        """Return the default service's forecast with its run, and with what it said before."""
        if found.source != SERVICE.name:
            return found
        if self._previous is not None:
            with suppress(OperationalError):
                found = replace(found, past=self._previous.errors(place, now))
        try:
            run = self._runs.newest(now).as_of(found.fetched_at)
        except OperationalError:
            return found
        return replace(found, issued_at=run.began_at, good_until=run.good_until)


def _far_apart(forecast: Forecast, ensemble: Ensemble, now: datetime) -> bool:
    """Return whether a forecast and the mean of the members cannot both be of this place."""
    distances = []
    for hour in forecast.hours:
        if hour.temperature_c is None or not now <= hour.starts_at < now + COMPARED_H * HOUR:
            continue
        number = round((hour.starts_at - ensemble.starts_at) / HOUR)
        known = [
            (each.weight, value)
            for each in ensemble.members
            if 0 <= number < len(each.temperature_c)
            and (value := each.temperature_c[number]) is not None
        ]
        if known:
            mean_c = math.fsum(w * c for w, c in known) / math.fsum(w for w, _ in known)
            distances.append(abs(hour.temperature_c - mean_c))
    if len(distances) < FEWEST_COMPARED_H:
        return False
    return math.fsum(distances) / len(distances) > FAR_APART_C
