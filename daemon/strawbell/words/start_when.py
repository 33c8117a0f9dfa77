"""Frost dates and proposed starts, as a table and as JSON."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date
from typing import Protocol

from strawbell.model.garden import Garden
from strawbell.words.escaping import clean_lines, name, table, wrap
from strawbell.words.json_v1 import VERSION, Json
from strawbell.words.voice import Voice, day

RISKS_PERCENT = (50.0, 20.0, 10.0)


class Risk(Protocol):
    """The dates of one season at one threshold."""

    @property
    def season(self) -> str:
        """Spring or autumn."""
        ...

    @property
    def threshold_c(self) -> float:
        """A day counts at or under this [degC]."""
        ...

    @property
    def method(self) -> str:
        """How the dates were reckoned."""
        ...

    @property
    def years(self) -> int:
        """How many years were used."""
        ...

    def on(self, risk_percent: float, year: int) -> date | None:
        """Return the date of a risk in a year."""
        ...


class Proposal(Protocol):
    """The first soaking day for a crop, and what it rests on."""

    @property
    def crop(self) -> str:
        """The crop's name."""
        ...

    @property
    def soak_on(self) -> date:
        """First soaking."""
        ...

    @property
    def plant_on(self) -> date:
        """Planting."""
        ...

    @property
    def ripe_by(self) -> date:
        """Harvest at the latest."""
        ...

    @property
    def ripens(self) -> bool | None:
        """Whether it is ripe before the freeze of autumn; None where that does not matter."""
        ...

    @property
    def uncertain(self) -> bool:
        """Whether too few years stand behind it."""
        ...


def start_screen(
    garden: Garden, risks: Sequence[Risk], proposals: Iterable[Proposal], year: int
) -> str:
    """Return the answer as `strawbell start-when` prints it."""
    voice = Voice.of(garden, date(year, 1, 1))
    risk_rows = [
        (
            "last in spring" if risk.season == "spring" else "first in autumn",
            voice.measures.temperature(risk.threshold_c),
            *(_day(risk.on(percent, year)) for percent in RISKS_PERCENT),
        )
        for risk in risks
    ]
    crop_rows = [
        (
            name(each.crop),
            day(each.soak_on),
            day(each.plant_on),
            day(each.ripe_by),
            _remark(each),
        )
        for each in proposals
    ]
    methods = {risk.method for risk in risks}
    years = min((risk.years for risk in risks), default=0)
    how = (
        "a normal distribution of the dates of freeze years, mixed with the share of years that "
        "freeze at all"
        if methods == {"normal"}
        else "the order of the dates on record (rank divided by years and one), since under 20 "
        "years or too few freezes are known"
    )
    note = (
        f"Reckoned from the daily lows of {years} years, by {how}. The last column "
        "means: in one year of ten it freezes later in spring, or earlier in autumn. Bales stand "
        "higher than beds and low corners are colder."
    )
    parts = [
        f"{name(garden.name)}, {year}",
        table(("Freeze", "At or under", "50 %", "20 %", "10 %"), risk_rows),
        table(("Crop", "First soaking", "Plant", "Ripe by", "Remark"), crop_rows),
        wrap(note),
    ]
    return clean_lines("\n\n".join(parts)) + "\n"


def start_json(
    garden: Garden, risks: Sequence[Risk], proposals: Iterable[Proposal], year: int
) -> Json:
    """Return the answer as JSON."""
    return {
        "version": VERSION,
        "garden": garden.name,
        "year": year,
        "freezes": [
            {
                "season": str(risk.season),
                "threshold_c": risk.threshold_c,
                "method": str(risk.method),
                "years": risk.years,
                "dates": {
                    f"risk_{percent:.0f}_percent": _iso(risk.on(percent, year))
                    for percent in RISKS_PERCENT
                },
            }
            for risk in risks
        ],
        "crops": [
            {
                "crop": each.crop,
                "soak_on": each.soak_on.isoformat(),
                "plant_on": each.plant_on.isoformat(),
                "ripe_by": each.ripe_by.isoformat(),
                "ripens_before_freeze": each.ripens,
                "uncertain": each.uncertain,
            }
            for each in proposals
        ],
    }


def other_hemisphere(garden: Garden, *, southern: bool) -> str:
    """Return the warning that lows are not of the garden's side of the equator.

    `southern` is the side of the lows.
    """
    months, side = ("May to October", "south") if southern else ("November to April", "north")
    return wrap(
        f"{name(garden.name)}: these lows are coldest from {months}, as {side} of the equator, but "
        f"the garden's latitude is {garden.place.latitude:g}. One of them is wrong, and so are the "
        "dates: give the latitude as degrees north, negative in the south, and lows of this place."
    )


def _remark(proposal: Proposal) -> str:
    if proposal.ripens is False:
        return "not ripe before the freeze of autumn"
    return "few years known" if proposal.uncertain else ""


def _day(on: date | None) -> str:
    return day(on) if on is not None else "none"


def _iso(on: date | None) -> str | None:
    return on.isoformat() if on is not None else None
