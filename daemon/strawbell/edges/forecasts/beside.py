"""What stands beside a forecast: the run it came from, and the members of an ensemble.

Neither is needed to get through a day, so whatever is the matter with them is passed over. What
they are good for beside chances: an answer that was frozen days ago looks young, and is found out
by standing far from everything else that is known of the place.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from contextlib import suppress
from datetime import datetime

from msgspec.structs import replace

from strawbell.app.ports import ForecastSource
from strawbell.edges.forecasts.checks import HOUR
from strawbell.edges.forecasts.ensemble import Ensembles
from strawbell.edges.forecasts.open_meteo import SERVICE
from strawbell.edges.forecasts.previous_runs import PreviousRuns
from strawbell.edges.forecasts.runs import Runs
from strawbell.errors import OperationalError
from strawbell.model.forecast import Ensemble, Forecast
from strawbell.model.garden import Place

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
