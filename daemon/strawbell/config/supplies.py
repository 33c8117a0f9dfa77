"""The grower's own feeds, schedules and crops, beside the built-in ones."""

from __future__ import annotations

import re
from typing import Annotated

from pydantic import AfterValidator, BeforeValidator, Field

from strawbell.agronomy.feeding.feeds import parse_label
from strawbell.agronomy.feeding.label_rate import parse_rate
from strawbell.agronomy.feeding.schedules import LONGEST_DAYS
from strawbell.config.base import Day, Line, Name, Section, refuse
from strawbell.model.crops import Appetite, FrostClass, Support
from strawbell.model.feeds import FeedForm, Material
from strawbell.model.schedule import Work

HALF = 0.5
_SHORT_DAY = re.compile(
    r"(water|feed|drench|finish)(?:\s+(full|half|[01](?:\.\d+)?))?(?:\s+with\s+(\S.*))?"
)
_RATES = {None: 1.0, "full": 1.0, "half": HALF}


def _label(text: str) -> str:
    try:
        parse_label(text)
    except ValueError:
        raise refuse(
            "is not what a bag can say",
            '"N-P-K" in percent as printed, at most 100 together, such as "12-0-0"',
        ) from None
    return text.strip()


def _rate(text: str) -> str:
    try:
        parse_rate(text, FeedForm.LIQUID)
    except ValueError:
        raise refuse(
            "is not a rate that a label prints",
            'feed to water, such as "15 mL per L", "1 tbsp per gal" or "1:100"',
        ) from None
    return text.strip()


class PackageSection(Section):
    """A further size in which a feed is sold."""

    kg: float | None = Field(
        default=None, gt=0.001, le=2000, description="Mass in it.", examples=[25]
    )
    l: float | None = Field(  # noqa: E741 - the unit, as in package_l
        default=None, gt=0.001, le=2000, description="Volume in it.", examples=[5]
    )
    price: float | None = Field(
        default=None, ge=0, le=100_000, description="Price, in your money.", examples=[60]
    )


class FeedSection(Section):
    """A bag or bottle on the grower's shelf."""

    name: Name = Field(description="How the feed is called.", examples=["Shelf blood meal"])
    label: Annotated[str, Field(max_length=40), AfterValidator(_label)] = Field(
        description="N-P2O5-K2O in percent, as printed.", examples=["13-0-0"]
    )
    form: Annotated[FeedForm, Field(strict=False)] = Field(
        default=FeedForm.DRY, description="How it is given: scattered, or poured in water."
    )
    material: Annotated[Material, Field(strict=False)] | None = Field(
        default=None,
        description="What it is made of, for cautions and speed. Without it, guessed from name "
        "and label.",
        examples=["blood-meal"],
    )
    density_kg_per_l: float | None = Field(
        default=None,
        ge=0.1,
        le=2.5,
        description="Loose bulk density, or density of a liquid; needed for kitchen measures.",
        examples=[0.6],
    )
    package_kg: float | None = Field(
        default=None, gt=0, le=2000, description="Mass in the package.", examples=[1.5]
    )
    package_l: float | None = Field(
        default=None, gt=0, le=2000, description="Volume in the bottle.", examples=[1]
    )
    price: float | None = Field(
        default=None,
        ge=0,
        le=100_000,
        description="Price of a package, in your money.",
        examples=[12.5],
    )
    packages: Annotated[tuple[PackageSection, ...], Field(strict=False, max_length=8)] = Field(
        default=(),
        description="Other sizes it is sold in; with all prices known the cheapest are bought.",
    )
    in_stock_kg: float | None = Field(
        default=None,
        ge=0,
        le=10_000,
        description="What you have of it. What is fed from then on is taken off.",
        examples=[2],
    )
    in_stock_l: float | None = Field(
        default=None,
        ge=0,
        le=10_000,
        description="The same by volume; needs density_kg_per_l.",
        examples=[1],
    )
    in_stock_on: Day | None = Field(
        default=None,
        description="The morning on which you counted it. Without it, before the first feeding.",
        examples=["2027-04-01"],
    )
    label_rate: Annotated[str, Field(max_length=60), AfterValidator(_rate)] | None = Field(
        default=None,
        description="For a liquid or soluble feed: how strong its label has it mixed, as printed. "
        "Of several rates take that for outdoor vegetables.",
        examples=["1 tbsp per gal"],
    )
    slow_release: bool = Field(
        default=False, description="Coated or slow-release; not fit for conditioning."
    )


class ScheduleDaySection(Section):
    """One day of a conditioning sequence."""

    day: int = Field(ge=1, le=LONGEST_DAYS, description="Day, from 1.", examples=[1])
    work: Annotated[Work, Field(strict=False)] = Field(
        description='"water", "feed" (a share of the nitrogen), "drench" (poured as strong as its '
        'label has it) or "finish" (the last, balanced feeding).',
        examples=["feed"],
    )
    rate: float | None = Field(
        default=None,
        ge=0,
        le=1,
        description="Share of a full dose, or of the label's strength. Without it, 1 for feeding "
        "and 0 for water.",
        examples=[0.5],
    )
    feed: Name | None = Field(
        default=None,
        description="What is given on that day. Without it, the feed of the batch.",
        examples=["Fish emulsion"],
    )


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
        shown = entry[:40]
        raise refuse(
            f'holds "{shown}" for day {number}',
            'for each day "water", "feed", "feed half", "feed 0.25", "drench" or "finish", and '
            'after it the feed: "feed half with Urea", "drench with Fish emulsion"',
        )
    work, rate, feed = match.groups()
    share = _RATES[rate] if rate in _RATES else float(rate)
    day = {"day": number, "work": work, "rate": 0.0 if work == "water" else share}
    return day if feed is None else {**day, "feed": feed}


class ScheduleSection(Section):
    """A conditioning sequence of the grower's own."""

    name: Name = Field(description="How the schedule is called.", examples=["gentle"])
    summary: Line | None = Field(
        default=None, description="One line about it.", examples=["half doses throughout"]
    )
    days: Annotated[
        tuple[ScheduleDaySection, ...],
        Field(strict=False, min_length=1, max_length=LONGEST_DAYS),
        BeforeValidator(_spell_out),
    ] = Field(
        description='One text a day from day 1 ("water", "feed", "feed half", "feed 0.25", '
        '"drench", "finish"), and with it what is given, where that is not the feed of the batch '
        '("feed half with Urea"); or tables with day, work, rate and feed.',
        examples=[["water", "feed half", "drench with Fish emulsion", "feed half", "finish"]],
    )
    plant_from_day: int = Field(
        ge=1,
        le=LONGEST_DAYS + 30,
        description="First day on which planting is possible, once the bale has cooled.",
        examples=[10],
    )
    sources: Annotated[tuple[Line, ...], Field(strict=False)] = Field(
        default=(), description="Where it comes from.", examples=[["my notes of 2026"]]
    )


_Celsius = Annotated[float, Field(ge=-40, le=60)]
_Days = Annotated[int, Field(ge=1, le=400)]
_Weeks = Annotated[int, Field(ge=1, le=40)]


class CropSection(Section):
    """A crop of the grower's own, or other values for a built-in one of the same name."""

    name: Name = Field(description="How the crop is called.", examples=["paste tomato"])
    like: Name | None = Field(
        default=None,
        description="A built-in crop that gives all values not written here.",
        examples=["tomato"],
    )
    frost_class: Annotated[FrostClass, Field(strict=False)] | None = Field(
        default=None, description="How it stands frost.", examples=["tender"]
    )
    cover_at_c: _Celsius | None = Field(
        default=None, description="Cover it at or under this low.", examples=[2]
    )
    kill_at_c: _Celsius | None = Field(
        default=None, description="Serious damage about here.", examples=[0]
    )
    germination_min_c: _Celsius | None = Field(
        default=None, description="Coolest bale it germinates in.", examples=[10]
    )
    germination_max_c: _Celsius | None = Field(
        default=None, description="Warmest bale it germinates in.", examples=[35]
    )
    emergence: (
        Annotated[
            tuple[Annotated[tuple[float, float], Field(strict=False)], ...], Field(strict=False)
        ]
        | None
    ) = Field(
        default=None,
        description="Pairs of bale temperature (C) and days from sowing to emergence, ascending.",
        examples=[[[15, 14], [20, 8], [25, 6]]],
    )
    depth_cm: float | None = Field(
        default=None, ge=0, le=30, description="Sowing depth.", examples=[1]
    )
    spacing_cm: float | None = Field(
        default=None, ge=1, le=300, description="Distance between plants.", examples=[45]
    )
    per_bale: (
        Annotated[
            tuple[Annotated[int, Field(ge=1, le=500)], Annotated[int, Field(ge=1, le=500)]],
            Field(strict=False),
        ]
        | None
    ) = Field(
        default=None, description="Fewest and most plants on a two-string bale.", examples=[[2, 3]]
    )
    days_to_maturity: Annotated[tuple[_Days, _Days], Field(strict=False)] | None = Field(
        default=None, description="Shortest and longest days to harvest.", examples=[[70, 85]]
    )
    maturity_from_transplant: bool | None = Field(
        default=None, description="Whether those days run from transplanting.", examples=[True]
    )
    mature_height_cm: float | None = Field(
        default=None, ge=1, le=600, description="Height when grown.", examples=[120]
    )
    support: Annotated[Support, Field(strict=False)] | None = Field(
        default=None, description="What holds it up.", examples=["cage"]
    )
    appetite: Annotated[Appetite, Field(strict=False)] | None = Field(
        default=None, description="How much it is fed through the season.", examples=["fruiting"]
    )
    harvest_days: _Days | None = Field(
        default=None,
        description="How long it is picked; 1 for a crop taken at once.",
        examples=[60],
    )
    heat_limit_c: _Celsius | None = Field(
        default=None, description="Day temperature that harms it.", examples=[32]
    )
    heat_effect: Line | None = Field(
        default=None, description="What the heat does.", examples=["blossoms drop"]
    )
    degree_day_base_c: _Celsius | None = Field(
        default=None, description="Base of its degree days.", examples=[10]
    )
    degree_days_to_maturity: float | None = Field(
        default=None, ge=10, le=10_000, description="Degree days to harvest (C).", examples=[700]
    )
    thin_to_cm: float | None = Field(
        default=None, ge=1, le=300, description="Distance after thinning.", examples=[30]
    )
    advice_against: Line | None = Field(
        default=None, description="Why it does badly in a bale.", examples=["it falls over"]
    )
    transplant_weeks: Annotated[tuple[_Weeks, _Weeks], Field(strict=False)] | None = Field(
        default=None, description="Youngest and oldest age of a transplant.", examples=[[6, 8]]
    )
    set_out_weeks: float | None = Field(
        default=None,
        ge=-20,
        le=20,
        description="Weeks from the average last frost to setting out; before it is negative.",
        examples=[2],
    )
    sources: Annotated[tuple[Line, ...], Field(strict=False)] | None = Field(
        default=None, description="Where the values come from.", examples=[["seed packet"]]
    )
