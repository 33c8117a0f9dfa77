"""Frost dates and proposed starts, as a table."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date
from typing import Protocol

from strawbell.model.garden import Garden
from strawbell.words.escaping import clean_lines, name, table, wrap
from strawbell.words.units import Measures
from strawbell.words.voice import Voice, crops_name

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
            voice.say("start.last" if risk.season == "spring" else "start.first"),
            voice.measures.temperature(risk.threshold_c),
            *(_day(risk.on(percent, year), voice) for percent in RISKS_PERCENT),
        )
        for risk in risks
    ]
    crop_rows = [
        (
            crops_name(each.crop, voice.tongue),
            voice.day(each.soak_on),
            voice.day(each.plant_on),
            voice.day(each.ripe_by),
            _remark(each, voice),
        )
        for each in proposals
    ]
    methods = {risk.method for risk in risks}
    years = min((risk.years for risk in risks), default=0)
    say, percent = voice.say, voice.measures.percent
    note = say("start.note", years=years, normal=methods == {"normal"})
    freezes = (say("start.freeze"), say("start.at-or-under"), *map(percent, RISKS_PERCENT))
    crops = (
        say("start.crop"),
        say("start.soak"),
        say("start.plant"),
        say("start.ripe"),
        say("start.remark"),
    )
    parts = [
        say("start.head", garden=name(garden.name), year=str(year)),
        table(freezes, risk_rows),
        table(crops, crop_rows),
        wrap(note),
    ]
    return clean_lines("\n\n".join(parts)) + "\n"


def other_hemisphere(garden: Garden, *, southern: bool) -> str:
    """Return the warning that lows are not of the garden's side of the equator.

    `southern` is the side of the lows.
    """
    measures = Measures(garden.units)
    return wrap(
        measures.tongue.say(
            "start.hemisphere",
            garden=name(garden.name),
            south=southern,
            latitude=measures.number(garden.place.latitude, 4),
        )
    )


def _remark(proposal: Proposal, voice: Voice) -> str:
    if proposal.ripens is False:
        return voice.say("start.not-ripe")
    return voice.say("start.few-years") if proposal.uncertain else ""


def _day(on: date | None, voice: Voice) -> str:
    return voice.say("start.none") if on is None else voice.day(on)
