"""The sections a grower writes first: gardens, batches of bales, plantings."""

from __future__ import annotations

from typing import Annotated

from pydantic import AfterValidator, Discriminator, Field, Tag

from strawbell.agronomy.feeding.dosing import LARGEST_DOSE_G_PER_KG, LEAST_DOSE_G_PER_KG
from strawbell.agronomy.feeding.schedules import LONGEST_DAYS
from strawbell.config.base import Day, Line, Name, Section, refuse
from strawbell.model.garden import Method, RainCover, Straw


class PlantingSection(Section):
    """What grows in a batch."""

    crop: Name = Field(
        description="From the built-in crop table, or the name of a [[crops]] entry.",
        examples=["kale"],
    )
    plants: int = Field(
        ge=1,
        le=10_000,
        description="How many plants in the whole batch.",
        examples=[8],
    )
    method: Annotated[Method, Field(strict=False)] = Field(
        default=Method.TRANSPLANT,
        description="Set out as young plants, or sown into a layer of mix on top.",
    )
    plant_on: Day | None = Field(
        default=None,
        description="Not before this day; without it, when the batch is ready.",
        examples=["2027-04-24"],
    )
    follows: Name | None = Field(
        default=None,
        description="An earlier crop of the batch whose harvest this one waits for.",
        examples=["lettuce"],
    )


class BaleSection(Section):
    """A bale of other than the usual size, as it is set out: cut ends up, dry."""

    length_cm: float = Field(ge=20, le=300, description="Length.", examples=[90])
    width_cm: float = Field(ge=20, le=150, description="Width.", examples=[46])
    height_cm: float = Field(ge=20, le=150, description="Height.", examples=[36])
    dry_mass_kg: float = Field(ge=2, le=600, description="Mass of the dry bale.", examples=[18])


def _bale_tag(value: object) -> str:
    return "size" if isinstance(value, (dict, BaleSection)) else "name"


def _days(feeds: dict[str, str]) -> dict[str, str]:
    for day in feeds:
        if not (day.isascii() and day.isdigit() and 1 <= int(day) <= LONGEST_DAYS):
            raise refuse(
                f'names "{day[:20]}", which is no day of a schedule',
                f'days from 1 to {LONGEST_DAYS}, such as {{ 3 = "Fish emulsion" }}',
            )
    return feeds


class BatchSection(Section):
    """Bales started together and treated alike."""

    name: Name = Field(description="How the batch is called in the briefs.", examples=["Long row"])
    id: Name | None = Field(
        default=None,
        description="What stays when the name changes, so that the journal goes on. "
        "Without it, the name.",
        examples=["b1"],
    )
    bales: int = Field(
        ge=1,
        le=1000,
        description="How many bales. Six two-string ones make a bed of about 1.2 x 2.4 m.",
        examples=[6],
    )
    bale: Annotated[
        Annotated[Line, Tag("name")] | Annotated[BaleSection, Tag("size")],
        Discriminator(_bale_tag),
    ] = Field(
        default="two-string",
        description='"two-string", "three-string", or the size as set out, cut ends up: '
        "{ length_cm = 90, width_cm = 46, height_cm = 36, dry_mass_kg = 18 }.",
    )
    straw: Annotated[Straw, Field(strict=False)] = Field(
        default=Straw.WHEAT, description="What the bales are made of."
    )
    weathered: bool = Field(
        default=False,
        description="Bales that stood outdoors for a season; they heat less (UC ANR Pub. 8559).",
    )
    start_on: Day | None = Field(
        default=None,
        description="The first day of conditioning. Give this or plant_on, not both.",
        examples=["2027-04-10"],
    )
    plant_on: Day | None = Field(
        default=None,
        description="The wished planting day; the first day is counted back from it.",
        examples=["2027-05-15"],
    )
    schedule: Name = Field(
        default="alternate-days",
        description='"alternate-days", "soak-first", or the name of a [[schedules]] entry.',
    )
    feed: Name | None = Field(
        default=None,
        description="The nitrogen feed: a built-in one or the name of a [[feeds]] entry. "
        "Without it, the built-in blood meal.",
        examples=["Blood meal"],
    )
    finishing_feed: Name | None = Field(
        default=None,
        description="The balanced feed of the last feeding. Without it, the built-in 10-10-10.",
        examples=["Balanced"],
    )
    feeds: Annotated[dict[str, Name], AfterValidator(_days)] = Field(
        default={},
        description="What is given on single days of the schedule in place of these two, by the "
        'number of the day; "drench with ..." pours a liquid or soluble feed as strong as its '
        "label has it.",
        examples=[{"1": "Blood meal", "3": "drench with Fish emulsion"}],
    )
    dose_per_kg_straw_g: float | None = Field(
        default=None,
        ge=LEAST_DOSE_G_PER_KG,
        le=LARGEST_DOSE_G_PER_KG,
        description="Nitrogen of a full dose per kg of dry straw; a bale as bought is 88 % of it. "
        "Without it, what brings the straw to 31 parts of carbon to one of nitrogen.",
        examples=[2.3],
    )
    rain_cover: Annotated[RainCover, Field(strict=False)] = Field(
        default=RainCover.NONE,
        description='"tarp": a sheet lies over the bales from the morning after the first feeding '
        "to three days after the last, and is lifted to feed and in heat.",
    )
    mulched: bool = Field(default=False, description="Whether the tops are mulched after planting.")
    plantings: Annotated[tuple[PlantingSection, ...], Field(strict=False)] = Field(
        default=(), description="What grows in the batch; may be left out."
    )


class GardenSection(Section):
    """One place with its bales; it gets one brief a morning."""

    name: Name = Field(description="How the garden is called.", examples=["Mill lane"])
    id: Name | None = Field(
        default=None,
        description="What stays when the name changes, so that the journal goes on. "
        "Without it, the name.",
        examples=["g1"],
    )
    latitude: float = Field(
        ge=-90, le=90, description="Degrees north, negative in the south.", examples=[52.09]
    )
    longitude: float = Field(
        ge=-180, le=180, description="Degrees east, negative in the west.", examples=[-1.95]
    )
    time_zone: Line = Field(
        description='A name of the tz database, such as "America/Chicago".',
        examples=["Europe/London"],
    )
    elevation_m: float | None = Field(
        default=None,
        ge=-450,
        le=6000,
        description="Height above the sea; helps the forecast in hills.",
        examples=[45],
    )
    first_freeze_on: Day | None = Field(
        default=None,
        description="The first freeze of autumn to reckon with: crops that die in it must be ripe "
        "before; what cannot be any more is left out and not fed. `strawbell start-when` shows "
        "when it is likely. Without it, late harvests are only doubted.",
        examples=["2027-10-12"],
    )
    mix_layer_cm: float | None = Field(
        default=None,
        ge=0,
        le=30,
        description="Planting mix on top for sown crops. Without it, 4 cm.",
        examples=[4],
    )
    resting: bool = Field(
        default=False, description="A garden without bales this season; nothing is due in it."
    )
    batches: Annotated[tuple[BatchSection, ...], Field(strict=False)] = Field(
        default=(), description="The bales, in batches started together."
    )
