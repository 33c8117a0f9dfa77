"""The ensemble of the default service: the same days forecast many times over.

It stands beside a forecast and never in its place: whatever is the matter with it, the day goes on
without. Licence and rules of the service are those of its forecast.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from datetime import datetime, timedelta
from itertools import pairwise, takewhile
from typing import Any

from strawbell.edges.forecasts import checks
from strawbell.edges.forecasts.http import Asker, Question
from strawbell.edges.forecasts.open_meteo import SERVICE, answer_about, times_of, url_about
from strawbell.model.forecast import Ensemble, Member
from strawbell.model.garden import Place

BASE_URL = "https://ensemble-api.open-meteo.com"
MODEL = "ecmwf_ifs025"
"""The 51 members of the European Centre: they cover the world, and are steps of three hours for
longest (the service's table of models). One request weighs as 10.2 ordinary ones of the 10,000
that are free in a day."""
INTERVAL = timedelta(hours=6)
"""A new run comes every six hours: a cell is asked four times a day at most."""
DAYS = 6
"""Days asked: from 144 h on the steps are six hours long, and the night's lowest temperature, which
lies between two of them, is 1 to 2 degC too warm in all members at once."""
FEWEST_MEMBERS = 5
"""Fewer say too little of what is rare (design choice)."""
MOST_MEMBERS = 200
HOURS_MOST = 24 * 36

TEMPERATURE, RAIN = "temperature_2m", "precipitation"
_UNITS = {TEMPERATURE: "°C", RAIN: "mm"}
_FIELDS = {TEMPERATURE: "temperature_c", RAIN: "rain_mm"}
_KEY = re.compile(r"(temperature_2m|precipitation)(?:_member(\d{2}))?(?:_([a-z][a-z0-9_]*))?")
_NOT_COVERED = re.compile(rb'"latitude"\s*:\s*nan\b')
"""A regional model's body for a place outside it: status 200, and no JSON."""

Series = dict[tuple[str, int], dict[str, tuple[float | None, ...]]]
"""By model and number of the member its values by variable; number 0 is the control run."""


class Ensembles(Asker):
    """Asks for the members over a place."""

    base_url = BASE_URL

    def fetch(self, place: Place, now: datetime) -> Ensemble:
        """Return the members; `strawbell.errors.OperationalError` when none could be had."""
        question = Question(f"{SERVICE.spoken}'s ensemble", self.url(place), INTERVAL)
        return self._http.ask(question, now, lambda body, _: parse(body, place))

    def url(self, place: Place) -> str:
        """Return the one request for a place."""
        return url_about(
            place,
            f"{self._base}/v1/ensemble",
            hourly=(TEMPERATURE, RAIN),
            models=MODEL,
            timezone="GMT",
            timeformat="unixtime",
            forecast_days=DAYS,
        )


def parse(body: bytes, place: Place) -> Ensemble:
    """Return the members in a body; `OperationalError` where there are none for this place.

    Names are read with and without a model behind them; each model has the same say, however many
    members it has. Rain is stamped with the end of its hour. A variable in another unit than asked,
    and whatever cannot be, stays unknown.
    """
    if _NOT_COVERED.search(body):
        raise SERVICE.unusable("has no ensemble for this place")
    answer = answer_about(place, body)
    hourly, units = checks.mapping(answer.get("hourly")), checks.mapping(answer.get("hourly_units"))
    rows = takewhile(lambda at: at is not None, times_of(answer)[:HOURS_MOST])
    times = [at for at in rows if at is not None]
    if not times or any(after - before != checks.HOUR for before, after in pairwise(times)):
        raise SERVICE.unusable("sent an ensemble that is not one of hours")
    series = _series(hourly, units, len(times))
    members = tuple(_members(series, len(times)))
    if len(members) < FEWEST_MEMBERS:
        raise SERVICE.unusable(f"sent an ensemble of only {len(members)} members")
    models = sorted({model for model, _ in series if model})
    # A rain row tells of the hour before its stamp, so the series begins an hour earlier.
    return Ensemble(", ".join(models) or MODEL, times[0] - checks.HOUR, members)


def _series(hourly: Mapping[str, Any], units: Mapping[str, Any], hours: int) -> Series:
    found: Series = {}
    for key, values in hourly.items():
        named = _KEY.fullmatch(key)
        if named is None or units.get(key) != _UNITS[named[1]]:
            continue
        known = checks.column(checks.sequence(values)[:hours], _FIELDS[named[1]], checks.identity)
        known += [None] * (hours - len(known))
        member = (named[3] or "", int(named[2] or 0))
        found.setdefault(member, {})[named[1]] = tuple(known)
    return found


def _members(series: Series, hours: int) -> Iterator[Member]:
    nothing = (None,) * hours
    numbers: dict[str, int] = {}
    for model, _ in series:
        numbers[model] = numbers.get(model, 0) + 1
    for (model, _), values in sorted(series.items())[:MOST_MEMBERS]:
        temperature, rain = values.get(TEMPERATURE, nothing), values.get(RAIN, nothing)
        if any(each is not None for each in (*temperature, *rain)):
            yield Member(1.0 / numbers[model], (None, *temperature), (*rain, None))
