"""The grower's own feeds, schedules and crops, beside the built-in ones."""

from __future__ import annotations

import re
from typing import Annotated

from pydantic import AfterValidator, BeforeValidator, Field

from strawbell.agronomy.feeds import parse_label, parse_rate
from strawbell.agronomy.schedules import LONGEST_DAYS
from strawbell.config.base import Day, Lax, Line, Name, Section, refuse
from strawbell.model.feeds import FeedForm, Material
from strawbell.model.garden import Appetite, FrostClass, Support, Work

HALF = 0.5
_SHORT_DAY = re.compile(
    r"(water|feed|drench|finish)(?:\s+(full|half|[01](?:\.\d+)?))?(?:\s+with\s+(\S.*))?"
)
_RATES = {None: 1.0, "full": 1.0, "half": HALF}


def _label(text: str) -> str:
    try:
        parse_label(text)
    except ValueError:
        raise refuse("no-label") from None
    return text.strip()


def _rate(text: str) -> str:
    try:
        parse_rate(text, FeedForm.LIQUID)
    except ValueError:
        raise refuse("no-rate") from None
    return text.strip()


class PackageSection(Section):
    """A further size in which a feed is sold."""

    kg: float | None = Field(None, gt=0.001, le=2000, examples=[25])
    """Mass in it."""
    l: float | None = Field(None, gt=0.001, le=2000, examples=[5])  # noqa: E741 - the unit, as in package_l
    """Volume in it."""
    price: float | None = Field(None, ge=0, le=100_000, examples=[60])
    """Price, in your money."""


class FeedSection(Section):
    """A bag or bottle on the grower's shelf."""

    name: Name = Field(examples=["Shelf blood meal"])
    """How the feed is called."""
    label: Annotated[str, Field(max_length=40), AfterValidator(_label)] = Field(examples=["13-0-0"])
    """N-P2O5-K2O in percent, as printed."""
    form: Lax[FeedForm] = FeedForm.DRY
    """How it is given: scattered, or poured in water."""
    material: Lax[Material] | None = Field(None, examples=["blood-meal"])
    """What it is made of, for cautions and speed. Without it, guessed from name and label."""
    density_kg_per_l: float | None = Field(None, ge=0.1, le=2.5, examples=[0.6])
    """Loose bulk density, or density of a liquid; needed for kitchen measures."""
    package_kg: float | None = Field(None, gt=0, le=2000, examples=[1.5])
    """Mass in the package."""
    package_l: float | None = Field(None, gt=0, le=2000, examples=[1])
    """Volume in the bottle."""
    price: float | None = Field(None, ge=0, le=100_000, examples=[12.5])
    """Price of a package, in your money."""
    packages: Lax[tuple[PackageSection, ...]] = Field((), max_length=8)
    """Other sizes it is sold in; with all prices known the cheapest are bought."""
    in_stock_kg: float | None = Field(None, ge=0, le=10_000, examples=[2])
    """What you have of it. What is fed from then on is taken off."""
    in_stock_l: float | None = Field(None, ge=0, le=10_000, examples=[1])
    """The same by volume; needs density_kg_per_l."""
    in_stock_on: Day | None = Field(None, examples=["2027-04-01"])
    """The morning on which you counted it. Without it, before the first feeding."""
    label_rate: Annotated[str, Field(max_length=60), AfterValidator(_rate)] | None = Field(
        None, examples=["1 tbsp per gal"]
    )
    """For a liquid or soluble feed: how strong its label has it mixed, as printed. Of several rates
    take that for outdoor vegetables."""
    slow_release: bool = False
    """Coated or slow-release; not fit for conditioning."""


class ScheduleDaySection(Section):
    """One day of a conditioning sequence."""

    day: int = Field(ge=1, le=LONGEST_DAYS, examples=[1])
    """Day, from 1."""
    work: Lax[Work] = Field(examples=["feed"])
    """"water", "feed" (a share of the nitrogen), "drench" (poured as strong as its label has it) or
    "finish" (the last, balanced feeding)."""
    rate: float | None = Field(None, ge=0, le=1, examples=[0.5])
    """Share of a full dose, or of the label's strength. Without it, 1 for feeding and 0 for
    water."""
    feed: Name | None = Field(None, examples=["Fish emulsion"])
    """What is given on that day. Without it, the feed of the batch."""


def _spell_out(days: object) -> object:
    """Turn the short form, one text a day, into tables; leave everything else as it is."""
    if not isinstance(days, list):
        return days
    return [_spell_out_day(number, entry) for number, entry in enumerate(days, start=1)]


def _spell_out_day(number: int, entry: object) -> object:
    if not isinstance(entry, str):
        return entry
    match = _SHORT_DAY.fullmatch(entry.strip())
    if match is None:
        raise refuse("no-short-day", entry=entry[:40], day=number)
    work, rate, feed = match.groups()
    share = _RATES[rate] if rate in _RATES else float(rate)
    day = {"day": number, "work": work, "rate": 0.0 if work == "water" else share}
    return day if feed is None else {**day, "feed": feed}


class ScheduleSection(Section):
    """A conditioning sequence of the grower's own."""

    name: Name = Field(examples=["gentle"])
    """How the schedule is called."""
    summary: Line | None = Field(None, examples=["half doses throughout"])
    """One line about it."""
    days: Annotated[Lax[tuple[ScheduleDaySection, ...]], BeforeValidator(_spell_out)] = Field(
        min_length=1,
        max_length=LONGEST_DAYS,
        examples=[["water", "feed half", "drench with Fish emulsion", "feed half", "finish"]],
    )
    """One text a day from day 1 ("water", "feed", "feed half", "feed 0.25", "drench", "finish"),
    and with it what is given, where that is not the feed of the batch ("feed half with Urea");
    or tables with day, work, rate and feed."""
    plant_from_day: int = Field(ge=1, le=LONGEST_DAYS + 30, examples=[10])
    """First day on which planting is possible, once the bale has cooled."""
    sources: Lax[tuple[Line, ...]] = Field((), examples=[["my notes of 2026"]])
    """Where it comes from."""


_Celsius = Annotated[float, Field(ge=-40, le=60)]
_Plants = Annotated[int, Field(ge=1, le=500)]
_Days = Annotated[int, Field(ge=1, le=400)]
_Weeks = Annotated[int, Field(ge=1, le=40)]


class CropSection(Section):
    """A crop of the grower's own, or other values for a built-in one of the same name."""

    name: Name = Field(examples=["paste tomato"])
    """How the crop is called."""
    like: Name | None = Field(None, examples=["tomato"])
    """A built-in crop that gives all values not written here."""
    frost_class: Lax[FrostClass] | None = Field(None, examples=["tender"])
    """How it stands frost."""
    cover_at_c: _Celsius | None = Field(None, examples=[2])
    """Cover it at or under this low."""
    kill_at_c: _Celsius | None = Field(None, examples=[0])
    """Serious damage about here."""
    germination_min_c: _Celsius | None = Field(None, examples=[10])
    """Coolest bale it germinates in."""
    germination_max_c: _Celsius | None = Field(None, examples=[35])
    """Warmest bale it germinates in."""
    emergence: Lax[tuple[Lax[tuple[float, float]], ...]] | None = Field(
        None, examples=[[[15, 14], [20, 8], [25, 6]]]
    )
    """Pairs of bale temperature (C) and days from sowing to emergence, ascending."""
    depth_cm: float | None = Field(None, ge=0, le=30, examples=[1])
    """Sowing depth."""
    spacing_cm: float | None = Field(None, ge=1, le=300, examples=[45])
    """Distance between plants."""
    per_bale: Lax[tuple[_Plants, _Plants]] | None = Field(None, examples=[[2, 3]])
    """Fewest and most plants on a two-string bale."""
    days_to_maturity: Lax[tuple[_Days, _Days]] | None = Field(None, examples=[[70, 85]])
    """Shortest and longest days to harvest."""
    maturity_from_transplant: bool | None = Field(None, examples=[True])
    """Whether those days run from transplanting."""
    mature_height_cm: float | None = Field(None, ge=1, le=600, examples=[120])
    """Height when grown."""
    support: Lax[Support] | None = Field(None, examples=["cage"])
    """What holds it up."""
    appetite: Lax[Appetite] | None = Field(None, examples=["fruiting"])
    """How much it is fed through the season."""
    harvest_days: _Days | None = Field(None, examples=[60])
    """How long it is picked; 1 for a crop taken at once."""
    heat_limit_c: _Celsius | None = Field(None, examples=[32])
    """Day temperature that harms it."""
    heat_effect: Line | None = Field(None, examples=["blossoms drop"])
    """What the heat does."""
    degree_day_base_c: _Celsius | None = Field(None, examples=[10])
    """Base of its degree days."""
    degree_days_to_maturity: float | None = Field(None, ge=10, le=10_000, examples=[700])
    """Degree days to harvest (C)."""
    thin_to_cm: float | None = Field(None, ge=1, le=300, examples=[30])
    """Distance after thinning."""
    advice_against: Line | None = Field(None, examples=["it falls over"])
    """Why it does badly in a bale."""
    transplant_weeks: Lax[tuple[_Weeks, _Weeks]] | None = Field(None, examples=[[6, 8]])
    """Youngest and oldest age of a transplant."""
    set_out_weeks: float | None = Field(None, ge=-20, le=20, examples=[2])
    """Weeks from the average last frost to setting out; before it is negative."""
    sources: Lax[tuple[Line, ...]] | None = Field(None, examples=[["seed packet"]])
    """Where the values come from."""
