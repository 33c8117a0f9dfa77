"""The sections a grower writes first: gardens, batches of bales, plantings."""

from __future__ import annotations

from typing import Annotated

from pydantic import AfterValidator, Discriminator, Field, Tag

from strawbell.agronomy.doses import LARGEST_DOSE_G_PER_KG, LEAST_DOSE_G_PER_KG
from strawbell.agronomy.schedules import LONGEST_DAYS
from strawbell.config.base import Day, Lax, Line, Name, Section, refuse
from strawbell.model.garden import Method, RainCover, Straw


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
            raise refuse("no-day", day=day[:20], last=LONGEST_DAYS)
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
