"""Service by service in the configured order, until one knows; else the last good answer.

Beside a forecast stand the run it came from and the members of an ensemble. Neither is needed to
get through a day, so whatever is the matter with them is passed over. What they are good for beside
chances: an answer that was frozen days ago looks young, and is found out by standing far from
everything else that is known of the place.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from contextlib import suppress
from datetime import datetime
from importlib import import_module

from msgspec.structs import replace

from strawbell.app.ports import ForecastSource
from strawbell.edges.forecasts.checks import HOUR
from strawbell.edges.forecasts.http import Http
from strawbell.edges.forecasts.open_meteo import SERVICE, Ensembles, Runs
from strawbell.edges.forecasts.past import PreviousRuns
from strawbell.errors import OperationalError
from strawbell.model.forecast import Ensemble, Forecast
from strawbell.model.garden import Place
from strawbell.words.catalogue import BRITISH

ADAPTERS: Mapping[str, str] = {
    "open-meteo": "strawbell.edges.forecasts.open_meteo:OpenMeteo",
    "nws": "strawbell.edges.forecasts.nws:Nws",
    "met-norway": "strawbell.edges.forecasts.met_norway:MetNorway",
}
"""Each adapter by its name in the configuration; imported only when configured."""
DEFAULT = "open-meteo"
"""Whose runs and ensemble stand beside a forecast."""
LOOK_AHEAD_H = 24
"""What the rules look at by default [h]; a source that knows all of it is preferred."""


def build_sources(
    names: Iterable[str], http: Http, base_urls: Mapping[str, str] | None = None
) -> tuple[ForecastSource, ...]:
    """Return the named sources in order."""
    sources: list[ForecastSource] = []
    for name in names:
        module, _, adapter = ADAPTERS[name].partition(":")
        make = getattr(import_module(module), adapter)
        sources.append(make(http, (base_urls or {}).get(name)))
    return tuple(sources)


def build_beside(
    names: Iterable[str], http: Http, base_urls: Mapping[str, str] | None = None
) -> Beside | None:
    """Return who is asked beside the forecast: the default service, where the grower wants it."""
    if DEFAULT not in names:
        return None
    base_url = (base_urls or {}).get(DEFAULT)
    previous = None if base_url else PreviousRuns(http)
    return Beside(Runs(http, base_url), Ensembles(http, base_url), previous)


def best_forecast(
    sources: Sequence[ForecastSource], place: Place, now: datetime, beside: Beside | None
) -> tuple[Forecast | None, tuple[str, ...]]:
    """Return the first full forecast, as `first_forecast` does, with what stands beside it."""
    found, complaints = first_forecast(sources, place, now)
    if found is None or beside is None:
        return found, complaints
    after = [number for number, source in enumerate(sources, 1) if source.name == found.source]
    found, more = beside.completed(found, sources[after[0] :] if after else (), place, now)
    return found, complaints + more


def first_forecast(
    sources: Sequence[ForecastSource], place: Place, now: datetime
) -> tuple[Forecast | None, tuple[str, ...]]:
    """Return the first full forecast, and a sentence about each source that could not give one.

    A forecast that leaves rain or temperature of the next 24 hours partly unknown is only taken
    when no later source knows them. When all fail, the youngest of the last good answers is
    returned as it was, with its own times, so that the judgement sees its age.
    """
    complaints: list[str] = []
    partial: Forecast | None = None
    for source in sources:
        if not source.covers(place):
            continue
        try:
            forecast = source.fetch(place, now)
        except OperationalError as error:
            complaints.append(str(error))
            continue
        gap = _gap(forecast, now)
        if gap is None:
            return forecast, tuple(complaints)
        complaints.append(
            BRITISH.say("doubted.partly", service=source.name, what=gap, hours=LOOK_AHEAD_H)
        )
        partial = partial or forecast
    if partial is not None:
        return partial, tuple(complaints)
    return _youngest(sources, place), tuple(complaints)


def _gap(forecast: Forecast, now: datetime) -> str | None:
    """Return what of the next 24 hours a forecast does not know, None when it knows all."""
    ahead = [h for h in forecast.hours if now - HOUR < h.starts_at < now + LOOK_AHEAD_H * HOUR]
    warm = sum(hour.temperature_c is not None for hour in ahead)
    wet = sum(hour.rain_mm is not None for hour in ahead)
    # Between two full hours the 24 hours begin and end inside one: 25 are touched.
    touched = LOOK_AHEAD_H + (now.minute > 0 or now.second > 0 or now.microsecond > 0)
    what = [name for name, known in (("rain", wet), ("temperature", warm)) if known < touched]
    return " and ".join(what) or None


def _youngest(sources: Sequence[ForecastSource], place: Place) -> Forecast | None:
    kept = [each.last_good(place) for each in sources if each.covers(place)]
    known = [each for each in kept if each is not None]
    return max(known, key=lambda one: min(one.issued_at, one.fetched_at), default=None)


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
                said = BRITISH.say("doubted.far", service=found.source, other=third.source)
                return replace(third, ensemble=members), (said,)
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
