"""The whole configuration, from what a value may be to the sections; the schema is the manual.

What stands below each key is what `strawbell settings` and config.example.toml say of it, in
English: those docstrings are no messages of the catalogue.
"""

from __future__ import annotations

import re
import shlex
import unicodedata
from collections.abc import Callable
from datetime import date, time
from typing import Annotated, Literal, TypeVar

from pydantic import (
    AfterValidator,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Discriminator,
    Field,
    SecretStr,
    Tag,
)
from pydantic_core import PydanticCustomError
from pydantic_settings import BaseSettings, PydanticBaseSettingsSource, SettingsConfigDict

from strawbell.agronomy.doses import LARGEST_DOSE_G_PER_KG, LEAST_DOSE_G_PER_KG
from strawbell.agronomy.feeds import parse_label, parse_rate
from strawbell.agronomy.schedules import LONGEST_DAYS
from strawbell.model.feeds import FeedForm, Material
from strawbell.model.garden import (
    Appetite,
    FrostClass,
    Method,
    RainCover,
    Straw,
    Support,
    Units,
    Work,
)
from strawbell.weather import thresholds

ENVIRONMENT_PREFIX = "STRAWBELL_"

NESTED = "__"

NAME_LETTERS_MAX = 120
"""Longest name of anything; longer ones do not fit a subject line."""

TEXT_LETTERS_MAX = 1000
"""Longest other text; nothing in a configuration needs more."""

YEAR_FIRST, YEAR_LAST = 2000, 2099
"""Years a plan may lie in; others are slips of the finger."""

T = TypeVar("T")

_LINE_BREAKING = ("Zl", "Zp")

_ADDRESS = re.compile(r"[A-Za-z0-9.!#$%&'*+/?^_`{|}~-]+@[A-Za-z0-9-]+(\.[A-Za-z0-9-]+)*")


class Section(BaseModel):
    """A table of the configuration: unknown keys are mistakes, values keep their TOML type.

    What stands below each key is its manual: the example and `strawbell settings` are made of it.
    """

    model_config = ConfigDict(
        extra="forbid",
        frozen=True,
        strict=True,
        allow_inf_nan=False,
        hide_input_in_errors=True,
        validate_default=False,
        defer_build=True,
    )


def refuse(name: str, /, **places: str | int) -> PydanticCustomError:
    """Return a finding for a validator; `validate` says it, with the name of the key as {key}."""
    return PydanticCustomError("strawbell", name, {"finding": name, **places})


def left_out(section: Callable[..., T]) -> T:
    """Return the default of a table that may be left out: the defaults of all its keys."""
    made: T = Field(default_factory=section)
    return made


def breaks_a_line(letter: str) -> bool:
    """Return whether a letter is a control, a line separator or half of a surrogate pair."""
    category = unicodedata.category(letter)
    return category in ("Cc", "Cs") or category in _LINE_BREAKING


def _one_line(text: str) -> str:
    if any(breaks_a_line(letter) for letter in text):
        raise refuse("unprintable")
    return text


def _name(text: str) -> str:
    if not text.strip():
        raise refuse("name-empty")
    if text != text.strip():
        raise refuse("space-around", meant=text.strip())
    return _one_line(text)


def _address(text: str) -> str:
    if "=?" in text or any(breaks_a_line(letter) for letter in text):
        raise refuse("no-plain-address")
    if not _ADDRESS.fullmatch(text):
        raise refuse("no-mail-address" if "@" in text else "address-without-at")
    return text


def _mailbox(text: str) -> str:
    """Check an address that may have a name before it, as in a letter head."""
    name, bracket, rest = text.rpartition("<")
    if not bracket:
        return _address(text)
    shown = name.strip().strip('"')
    if not rest.endswith(">") or any(sign in shown for sign in '<>"\\') or "=?" in text:
        raise refuse("no-mailbox")
    _address(rest[:-1])
    return f'"{_one_line(shown)}" <{rest}' if shown else rest[:-1]


def _sensible_year(day: date) -> date:
    if not YEAR_FIRST <= day.year <= YEAR_LAST:
        raise refuse("strange-year", first=YEAR_FIRST, last=YEAR_LAST)
    return day


def _whole_second(moment: time) -> time:
    return moment.replace(microsecond=0)


Lax = Annotated[T, Field(strict=False)]
"""What TOML has no type of its own for: choices are texts there, tuples are lists."""

Name = Annotated[str, Field(max_length=NAME_LETTERS_MAX), AfterValidator(_name)]
"""A name the grower gives."""

Line = Annotated[str, Field(min_length=1, max_length=TEXT_LETTERS_MAX), AfterValidator(_one_line)]
"""Printable text on one line."""

Address = Annotated[str, Field(max_length=254), AfterValidator(_address)]
"""A mail address without a display name (at most 254 letters, RFC 5321 with its erratum 1690)."""

Mailbox = Annotated[str, Field(max_length=400), AfterValidator(_mailbox)]
"""A mail address, with or without a display name."""

Day = Annotated[date, AfterValidator(_sensible_year)]
"""A day of the plan."""

TimeOfDay = Annotated[time, AfterValidator(_whole_second)]
"""A garden-local time of day."""


class PlantingSection(Section):
    """What grows in a batch."""

    crop: Name = Field(examples=["kale"])
    """From the built-in crop table, or the name of a [[crops]] entry."""
    plants: int = Field(ge=1, le=10_000, examples=[8])
    """How many plants in the whole batch."""
    method: Lax[Method] = Method.TRANSPLANT
    """Set out as young plants, or sown into a layer of mix on top."""
    plant_on: Day | None = Field(None, examples=["2027-04-24"])
    """Not before this day; without it, when the batch is ready."""
    follows: Name | None = Field(None, examples=["lettuce"])
    """An earlier crop of the batch whose harvest this one waits for."""


class BaleSection(Section):
    """A bale of other than the usual size, as it is set out: cut ends up, dry."""

    length_cm: float = Field(ge=20, le=300, examples=[90])
    """Length."""
    width_cm: float = Field(ge=20, le=150, examples=[46])
    """Width."""
    height_cm: float = Field(ge=20, le=150, examples=[36])
    """Height."""
    dry_mass_kg: float = Field(ge=2, le=600, examples=[18])
    """Mass of the dry bale."""


def _bale_tag(value: object) -> str:
    return "size" if isinstance(value, (dict, BaleSection)) else "name"


def _days(feeds: dict[str, str]) -> dict[str, str]:
    for day in feeds:
        if not (day.isascii() and day.isdigit() and 1 <= int(day) <= LONGEST_DAYS):
            raise refuse(
                "no-day", day=day[:20], last=LONGEST_DAYS, example='{ 3 = "Fish emulsion" }'
            )
    return feeds


class BatchSection(Section):
    """Bales started together and treated alike."""

    name: Name = Field(examples=["Long row"])
    """How the batch is called in the briefs."""
    id: Name | None = Field(None, examples=["b1"])
    """What stays when the name changes, so that the journal goes on. Without it, the name."""
    bales: int = Field(ge=1, le=1000, examples=[6])
    """How many bales. Six two-string ones make a bed of about 1.2 x 2.4 m."""
    bale: Annotated[
        Annotated[Line, Tag("name")] | Annotated[BaleSection, Tag("size")], Discriminator(_bale_tag)
    ] = "two-string"
    """"two-string", "three-string", or the size as set out, cut ends up: { length_cm = 90, width_cm
    = 46, height_cm = 36, dry_mass_kg = 18 }."""
    straw: Lax[Straw] = Straw.WHEAT
    """What the bales are made of."""
    weathered: bool = False
    """Bales that stood outdoors for a season; they heat less (UC ANR Pub. 8559)."""
    start_on: Day | None = Field(None, examples=["2027-04-10"])
    """The first day of conditioning. Give this or plant_on, not both."""
    plant_on: Day | None = Field(None, examples=["2027-05-15"])
    """The wished planting day; the first day is counted back from it."""
    schedule: Name = "alternate-days"
    """"alternate-days", "soak-first", or the name of a [[schedules]] entry."""
    feed: Name | None = Field(None, examples=["Blood meal"])
    """The nitrogen feed: a built-in one or the name of a [[feeds]] entry. Without it, the built-in
    blood meal."""
    finishing_feed: Name | None = Field(None, examples=["Balanced"])
    """The balanced feed of the last feeding. Without it, the built-in 10-10-10."""
    feeds: Annotated[dict[str, Name], AfterValidator(_days)] = Field(
        {}, examples=[{"1": "Blood meal", "3": "drench with Fish emulsion"}]
    )
    """What is given on single days of the schedule in place of these two, by the number of the day;
    "drench with ..." pours a liquid or soluble feed as strong as its label has it."""
    dose_per_kg_straw_g: float | None = Field(
        None, ge=LEAST_DOSE_G_PER_KG, le=LARGEST_DOSE_G_PER_KG, examples=[2.3]
    )
    """Nitrogen of a full dose per kg of dry straw; a bale as bought is 88 % of it. Without it, what
    brings the straw to 31 parts of carbon to one of nitrogen."""
    rain_cover: Lax[RainCover] = RainCover.NONE
    """"tarp": you have a sheet to lay over the bales; it is told where rain would wash out more
    than the work is worth, and lifted to feed and in heat."""
    mulched: bool = False
    """Whether the tops are mulched after planting."""
    plantings: Lax[tuple[PlantingSection, ...]] = ()
    """What grows in the batch; may be left out."""


class GardenSection(Section):
    """One place with its bales; it gets one brief a morning."""

    name: Name = Field(examples=["Mill lane"])
    """How the garden is called."""
    id: Name | None = Field(None, examples=["g1"])
    """What stays when the name changes, so that the journal goes on. Without it, the name."""
    latitude: float = Field(ge=-90, le=90, examples=[52.09])
    """Degrees north, negative in the south."""
    longitude: float = Field(ge=-180, le=180, examples=[-1.95])
    """Degrees east, negative in the west."""
    time_zone: Line = Field(examples=["Europe/London"])
    """A name of the tz database, such as "America/Chicago"."""
    elevation_m: float | None = Field(None, ge=-450, le=6000, examples=[45])
    """Height above the sea; helps the forecast in hills."""
    first_freeze_on: Day | None = Field(None, examples=["2027-10-12"])
    """The first freeze of autumn to reckon with: crops that die in it must be ripe before; what is
    expected to bear less than it costs to put in is left out and not fed. `strawbell start-when`
    shows when it is likely. Without it, late harvests are only doubted."""
    mix_layer_cm: float | None = Field(None, ge=0, le=30, examples=[4])
    """Planting mix on top for sown crops. Without it, 4 cm."""
    resting: bool = False
    """A garden without bales this season; nothing is due in it."""
    batches: Lax[tuple[BatchSection, ...]] = ()
    """The bales, in batches started together."""


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


Source = Literal["open-meteo", "nws", "met-norway"]
"""The forecast services there are adapters for."""

DEFAULT_PORTS = {"starttls": 587, "tls": 465, "none": 25}
"""Submission (RFC 6409), implicit TLS (RFC 8314), plain SMTP (RFC 5321)."""

SENDER_NAME = "Strawbell"
"""Shown where the grower gives the sender no name: a mail to oneself is else one of many."""

SECRET_KEYS = ("password", "password_file", "password_command", "oauth_token_command")
"""Where the login gets its secret; one of them at most."""

_HOST = re.compile(r"[A-Za-z0-9]([A-Za-z0-9._-]*[A-Za-z0-9])?|\[?[0-9A-Fa-f:]+(%\w+)?\]?")

_URL = re.compile(r"https?://[A-Za-z0-9._:\[\]-]+(/[A-Za-z0-9._~/%-]*)?")


class RulesSection(Section):
    """Thresholds of the judgement; every default carries its source."""

    rain_hold_mm: float = Field(thresholds.RAIN_HOLD_MM, gt=0, le=500)
    """A feeding is held from this much rain on: 0.5 in (Ohio State University Extension,
    ANR-0156)."""
    rain_hold_chance_percent: float = Field(thresholds.RAIN_HOLD_CHANCE_PERCENT, ge=0, le=100)
    """From this chance of so much rain on, in percent (the same rule)."""
    rain_look_ahead_h: float = Field(thresholds.RAIN_LOOK_AHEAD_H, ge=1, le=168)
    """How far a feeding looks ahead for rain (the same rule)."""
    freeze_hold_c: float = Field(thresholds.FREEZE_HOLD_C, ge=-20, le=10)
    """A freeze ahead at or under it postpones a feeding (NWS: a freeze is 32 F)."""
    freeze_look_ahead_h: float = Field(thresholds.FREEZE_LOOK_AHEAD_H, ge=1, le=168)
    """How far a feeding looks ahead for a freeze (as the rain rule)."""
    frost_look_ahead_h: float = Field(thresholds.FROST_LOOK_AHEAD_H, ge=1, le=168)
    """How far planted bales are watched for frost (NWS: 12 to 36 h ahead)."""
    hot_day_c: float = Field(thresholds.HOT_DAY_C, ge=15, le=50)
    """A day is hot from this high on (86 F, common practice)."""
    dry_day_mm: float = Field(thresholds.DRY_DAY_MM, ge=0, le=50)
    """A day is dry under this much rain: 0.1 in (common practice)."""
    ask_after_held_days: int = Field(thresholds.ASK_AFTER_HELD_DAYS, ge=1, le=60)
    """Days of holding after which you are asked to decide (common practice)."""
    plant_below_c: float = Field(thresholds.PLANT_BELOW_C, ge=15, le=50)
    """Core temperature under which roots are safe (WSU Extension FS109E: 99 F)."""
    self_heating_c: float = Field(thresholds.SELF_HEATING_C, ge=40, le=80)
    """Core temperature from which self-heating is warned of (Cornell Waste Management Institute:
    keep a pile under 65 C)."""


def _stretch(text: str) -> str:
    try:
        first, last = (date.fromisoformat(part) for part in text.split("/"))
    except ValueError:
        raise refuse("no-time-away") from None
    if last < first:
        raise refuse("ends-before-begin")
    return text


_Stretch = Annotated[Line, AfterValidator(_stretch)]


class TimesSection(Section):
    """When Strawbell speaks, garden-local."""

    morning: TimeOfDay = time(6, 30)
    """The morning brief."""
    evening: TimeOfDay = time(18, 30)
    """The evening notice; only when there is something to prepare or protect."""
    watch_every_min: int = Field(60, ge=15, le=720)
    """How often the weather is looked at in between."""
    quiet_from: TimeOfDay = time(21, 30)
    """No change notices from here."""
    quiet_to: TimeOfDay = time(6, 0)
    """Change notices again from here."""
    away: Lax[tuple[_Stretch, ...]] = Field((), max_length=50, examples=[["2027-06-12/2027-06-20"]])
    """When nobody is in the garden, first and last day included: what is told then counts as not
    done unless somebody says it was, and the mails before say what cannot wait. `strawbell away`
    and a reply say the same."""
    routine: Literal["weekly", "daily"] = "weekly"
    """How the same watering is told: once for the days ahead, with a mail only when something
    differs, or every morning."""
    give_up: TimeOfDay = time(20, 0)
    """A missed morning brief is not sent later than this."""


def _base_url(text: str) -> str:
    if not _URL.fullmatch(text):
        raise refuse("no-service-address")
    return text.rstrip("/")


_BaseUrl = Annotated[str, Field(max_length=500), AfterValidator(_base_url)]


class BaseUrlsSection(Section):
    """Other addresses of the services; only for tests and mirrors."""

    open_meteo: _BaseUrl | None = Field(
        None, alias="open-meteo", examples=["http://127.0.0.1:8099"]
    )
    """https, or http on this machine (loopback)."""
    nws: _BaseUrl | None = Field(None, examples=["http://127.0.0.1:8099"])
    """As open-meteo."""
    met_norway: _BaseUrl | None = Field(
        None, alias="met-norway", examples=["http://127.0.0.1:8099"]
    )
    """As open-meteo."""


def _contact(text: str) -> str:
    if not text.isascii() or not text.isprintable():
        raise refuse("no-header")
    return text


def _no_doubles(sources: tuple[str, ...]) -> tuple[str, ...]:
    if len(set(sources)) != len(sources):
        raise refuse("service-twice")
    return sources


class WeatherSection(Section):
    """Where forecasts come from."""

    sources: Annotated[Lax[tuple[Source, ...]], AfterValidator(_no_doubles)] = Field(
        ("open-meteo", "nws", "met-norway"), min_length=1
    )
    """Services in order; one that does not cover the place is passed over."""
    contact: Annotated[Line, AfterValidator(_contact)] | None = Field(
        None, examples=["grower@example.org"]
    )
    """Goes to the services that ask for one, so that they can reach you."""
    stale_after_h: float = Field(thresholds.STALE_AFTER_H, ge=1, le=72)
    """A forecast older than this is not decided on."""
    base_urls: BaseUrlsSection = left_out(BaseUrlsSection)
    """Only for tests and mirrors, such as a caching one that several daemons share."""


def _host(text: str) -> str:
    if not _HOST.fullmatch(text):
        raise refuse("no-host")
    return text


def _command(text: str) -> str:
    try:
        words = shlex.split(text)
    except ValueError:
        words = []
    if not words:
        raise refuse("no-command")
    return text


_Command = Annotated[Line, AfterValidator(_command)]
"""A command that is run without a shell."""

_Host = Annotated[str, Field(max_length=253), AfterValidator(_host)]

Secret = Annotated[SecretStr, Field(min_length=1, max_length=1000)]


class EmailSection(Section):
    """Notices by mail; leave the section out for none."""

    via: Literal["smtp", "sendmail"] = "smtp"
    """How mails leave: "smtp" to the server in host, or "sendmail" through the sendmail program of
    this machine, which then needs no more than recipients."""
    host: _Host | None = Field(None, examples=["smtp.example.org"])
    """The outgoing mail server; needed unless via = "sendmail"."""
    port: int | None = Field(None, ge=1, le=65_535, examples=[587])
    """Its port. Without it, 587 for starttls, 465 for tls, 25 for none."""
    security: Literal["starttls", "tls", "none"] = "starttls"
    """How the connection is secured; "none" only to this machine (loopback)."""
    username: Line | None = Field(None, examples=["grower"])
    """The login, where one is needed."""
    password: Secret | None = Field(None, examples=["keep it out of this file"])
    """Better in STRAWBELL_EMAIL__PASSWORD, a systemd credential named strawbell_email__password, or
    password_file."""
    password_file: Line | None = Field(None, examples=["mail-password"])
    """A file that holds the password alone; relative to this file."""
    password_command: _Command | None = Field(None, examples=["pass show mail/bales"])
    """A command that prints the password in its first line, run without a shell at each login."""
    oauth_token_command: _Command | None = Field(None, examples=["mail-token bales@example.org"])
    """A command that prints an access token (XOAUTH2), for providers that take no passwords; run as
    password_command."""
    sender: Mailbox | None = Field(None, examples=["Bales <bales@example.org>"])
    """From whom the mails come, with or without a name. Without it, the username where it is an
    address, else the first recipient; without a name, Strawbell."""
    recipients: Lax[tuple[Address, ...]] = Field(
        min_length=1, max_length=50, examples=[["grower@example.org"]]
    )
    """Who gets the mails."""

    @property
    def effective_port(self) -> int:
        """Return the port, or the usual one of the chosen security."""
        return self.port if self.port is not None else DEFAULT_PORTS[self.security]

    @property
    def effective_sender(self) -> str:
        """Return the sender, or the address it defaults to, always with a name."""
        sender = self.sender
        if sender is None:
            has_address = self.username is not None and "@" in self.username
            sender = self.username if has_address and self.username else self.recipients[0]
        return sender if "<" in sender else f'"{SENDER_NAME}" <{sender}>'

    @property
    def secrets(self) -> tuple[str, ...]:
        """Return the keys that say where the password or the token comes from."""
        return tuple(key for key in SECRET_KEYS if getattr(self, key) is not None)


class HelperSection(Section):
    """Somebody else who is told by mail, such as a neighbour while you are away."""

    address: Address = Field(examples=["nell@example.org"])
    """Where the mails go, by the server of [email]."""
    name: Line | None = Field(None, examples=["Nell"])
    """How they are greeted."""
    gardens: Lax[tuple[Line, ...]] = Field((), max_length=50, examples=[["Mill lane"]])
    """Which gardens they look after. Without it, all of them."""
    work: Literal["water", "all"] = "water"
    """What they are told of: the watering alone, or everything."""
    when: Literal["away", "always"] = "away"
    """On which days: while you are away, or always."""


class HouseholdSection(Section):
    """Who lives with the bales."""

    merge: bool = True
    """One mail for all gardens that are due together; false for one each."""
    helpers: Lax[tuple[HelperSection, ...]] = Field((), max_length=20)
    """Who else is told, and of what."""


INBOX_PORTS = {"starttls": 143, "tls": 993, "none": 143}
"""IMAP (RFC 9051), and IMAP within TLS (RFC 8314)."""


class InboxSection(Section):
    """The mailbox that answers to notices come to; it is read, and nothing in it is changed."""

    host: _Host = Field(examples=["imap.example.org"])
    """The server that mail is read from, by IMAP."""
    port: int | None = Field(None, ge=1, le=65_535, examples=[993])
    """Its port. Without it, 993 for tls, 143 for starttls and none."""
    security: Literal["tls", "starttls", "none"] = "tls"
    """How the connection is secured; "none" only to this machine (loopback)."""
    username: Line | None = Field(None, examples=["grower@example.org"])
    """The login. Without it, that of [email]."""
    password: Secret | None = Field(None, examples=["keep it out of this file"])
    """Without it, that of [email]. Better in STRAWBELL_INBOX__PASSWORD or a systemd credential
    named strawbell_inbox__password."""
    address: Address | None = Field(None, examples=["bales@example.org"])
    """Where answers are sent to. Without it, the sender of [email]."""
    folder: Line = "INBOX"
    """The folder that is looked into."""
    poll_every_min: int = Field(5, ge=2, le=120)
    """How often it is looked into; providers refuse whoever comes more often."""

    @property
    def effective_port(self) -> int:
        """Return the port, or the usual one of the chosen security."""
        return self.port if self.port is not None else INBOX_PORTS[self.security]


_TOPIC = re.compile(r"[-_A-Za-z0-9]{1,50}")
"""Servers take 64 characters; the topic of the answers is a little longer."""


def _topic(text: str) -> str:
    if not _TOPIC.fullmatch(text):
        raise refuse("no-topic")
    return text


class PushSection(Section):
    """Notices to a phone, by a push server of your own or another's."""

    url: _BaseUrl = Field(examples=["https://push.example.org"])
    """The address of the server; https, or http on this machine (loopback)."""
    topic: Annotated[Line, AfterValidator(_topic)] | None = Field(
        None, examples=["bales-5d81c0aa47e2"]
    )
    """The topic that the phone listens to; hard to guess, since who knows it can read along.
    Answers go to the same with -answers added. Without it, each notice is posted to url as JSON."""
    token: Secret | None = Field(None, examples=["keep it out of this file"])
    """The access token, where the server wants one. Better in STRAWBELL_PUSH__TOKEN or a systemd
    credential named strawbell_push__token."""
    answer_token: Secret | None = Field(None, examples=["keep it out of this file"])
    """An access token that may write to the topic of the answers and do nothing else, where the
    server wants one: it goes to every phone within the buttons."""


class DesktopSection(Section):
    """Notices on the desktop of the user the daemon runs as."""

    enabled: bool = False
    """Whether to show them."""


class FolderSection(Section):
    """Every notice also as an .eml file."""

    path: Line | None = Field(None, examples=["~/strawbell-notices"])
    """The folder. Without it, files are written only when no other channel is configured, to the
    folder notices beside the store."""


class CalendarSection(Section):
    """The season as calendar files that other programs can read or subscribe to."""

    path: Line | None = Field(None, examples=["~/strawbell-calendars"])
    """A folder in which the daemon keeps an .ics file for each garden and writes it again whenever
    the plan moves. Without it none is written; `strawbell calendar FILE` writes one at any time."""


class StateSection(Section):
    """Where journal, outbox and backups live."""

    path: Line | None = Field(None, examples=["~/.local/state/strawbell"])
    """The folder of the store. Without it, $STATE_DIRECTORY, else the platform's state folder."""


class Settings(BaseSettings):
    """The configuration of one daemon.

    The layers are laid over each other in `strawbell.config.layers`, because a mistake has to
    name the file, variable or credential it came from; so only what is given counts here.
    """

    model_config = SettingsConfigDict(
        env_prefix=ENVIRONMENT_PREFIX,
        env_nested_delimiter=NESTED,
        enable_decoding=False,
        extra="forbid",
        frozen=True,
        strict=True,
        allow_inf_nan=False,
        hide_input_in_errors=True,
        validate_default=False,
    )

    units: Lax[Units] = Units.METRIC
    """How amounts and temperatures are shown."""
    gardens: Lax[tuple[GardenSection, ...]] = ()
    """One table for each place. More may lie beside this file, in gardens.d/*.toml."""
    feeds: Lax[tuple[FeedSection, ...]] = ()
    """Feeds of your own, beside the built-in ones."""
    schedules: Lax[tuple[ScheduleSection, ...]] = ()
    """Conditioning sequences of your own."""
    crops: Lax[tuple[CropSection, ...]] = ()
    """Crops of your own, or other values for built-in ones."""
    rules: RulesSection = left_out(RulesSection)
    """Thresholds of the judgement."""
    times: TimesSection = left_out(TimesSection)
    """When Strawbell speaks."""
    weather: WeatherSection = left_out(WeatherSection)
    """Where forecasts come from."""
    email: EmailSection | None = None
    """Notices by mail."""
    household: HouseholdSection = left_out(HouseholdSection)
    """Who lives with the bales."""
    inbox: InboxSection | None = None
    """Answers by mail."""
    push: PushSection | None = None
    """Notices to a phone."""
    desktop: DesktopSection = left_out(DesktopSection)
    """Notices on the desktop."""
    folder: FolderSection = left_out(FolderSection)
    """Notices as files."""
    calendar: CalendarSection = left_out(CalendarSection)
    """The season as calendar files."""
    state: StateSection = left_out(StateSection)
    """Where the store lies."""

    @classmethod
    def settings_customise_sources(
        cls,
        settings_cls: type[BaseSettings],
        init_settings: PydanticBaseSettingsSource,
        env_settings: PydanticBaseSettingsSource,
        dotenv_settings: PydanticBaseSettingsSource,
        file_secret_settings: PydanticBaseSettingsSource,
    ) -> tuple[PydanticBaseSettingsSource, ...]:
        """Take only what is handed over; see the class."""
        del settings_cls, env_settings, dotenv_settings, file_secret_settings
        return (init_settings,)
