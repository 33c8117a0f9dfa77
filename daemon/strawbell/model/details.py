"""What belongs to one kind of work, alert or estimate alone, beside what all of them have.

Each action that has something of its own to say carries one of these values in `Task.detail`; an
action that is not named here has none. SI inside, units in the names; None is unknown.
"""

from __future__ import annotations

from datetime import time
from enum import StrEnum

from msgspec import Struct


class Band(Struct, frozen=True):
    """A value that lies from `low` to `high`; None where there is no upper end."""

    low: float
    high: float | None


class SoakDetail(Struct, frozen=True):
    """Of a soaking: whether the bales were soaked before."""

    again: bool


class FeedDetail(Struct, frozen=True):
    """Of a feeding of the season: after how many days the next one follows."""

    every_days: int


class Sign(StrEnum):
    """What a look at planted bales may find, by their age and the weather of the week before."""

    SPROUTS = "sprouts"
    MUSHROOMS = "mushrooms"
    SLUGS = "slugs"
    SUNK = "sunk"


class LookDetail(Struct, frozen=True):
    """Of the weekly look at planted bales: which week since the first crop went in, what to see."""

    week: int
    signs: tuple[Sign, ...] = ()


class MixDetail(Struct, frozen=True):
    """Of a layer of potting mix: how thick it is [cm] and what one bale takes [L]."""

    layer_cm: float
    per_bale_l: float


class PlantDetail(Struct, frozen=True):
    """Of a crop that goes in, as plants or as seed.

    `per_bale` is None where there are more bales than plants, `rows` where no layout is known;
    `up_in_days` counts from sowing. `upright_cm` is the length of stakes that go in with the
    plants, None where none do. `again` says that a freeze is likely to have killed the first ones.
    """

    spacing_cm: float
    edge_cm: float
    per_bale: Band | None = None
    rows: int | None = None
    again: bool = False
    depth_cm: float | None = None
    up_in_days: Band | None = None
    upright_cm: float | None = None


class TopWaterDetail(Struct, frozen=True):
    """Of water on the top of a bale: when it would be dry, garden-local, and when seed comes up.

    `dry_at` is None where it stays moist through the day, or nothing is known; `up_in_days` counts
    from sowing, None once the seed is up.
    """

    dry_at: time | None = None
    up_in_days: Band | None = None


class ThinDetail(Struct, frozen=True):
    """Of thinning: how far apart the plants are left [cm]."""

    to_cm: float


class SupportDetail(Struct, frozen=True):
    """Of a support: how high the crop grows, and how long its uprights are from the ground [cm]."""

    height_cm: float
    upright_cm: float


class Ending(StrEnum):
    """Why a crop is over with a task of the harvest."""

    LAST = "last"
    """Its days are over: all that is left comes out."""
    KILLED = "killed"
    """A freeze is likely to have killed it."""
    TOO_LATE = "too-late"
    """It never went in: put in now it would not ripen before the first freeze."""


class HarvestDetail(Struct, frozen=True):
    """Of the harvest that ends a crop; a picking that goes on has none."""

    ending: Ending


class SpreadDetail(Struct, frozen=True):
    """Of spent bales: strings to cut, and what their straw covers and carries, all bales together.

    Area in m2 at a depth in cm, nitrogen in g, None where the bales were not followed.
    """

    strings: int
    depth_cm: float
    area_m2: Band
    nitrogen_g: Band | None = None


Detail = (
    SoakDetail
    | FeedDetail
    | LookDetail
    | MixDetail
    | PlantDetail
    | TopWaterDetail
    | ThinDetail
    | SupportDetail
    | HarvestDetail
    | SpreadDetail
)
"""What is told of one kind of work alone."""


class DryTopDetail(Struct, frozen=True):
    """Of a hot dry day: what the top of a bale asks for.

    `dry_at` is when it would be dry, garden-local, None where not on that day. `water_per_bale_l`
    is one watering [L].
    """

    water_per_bale_l: float | None
    times_a_day: int
    dry_at: time | None


class BatchStage(StrEnum):
    """How far a batch has come."""

    NOT_BEGUN = "not begun"
    CONDITIONING = "conditioning"
    RESTING = "resting"
    GROWING = "growing"


class ConditioningEstimate(Struct, frozen=True):
    """Days of mild weather that a bale has had, and days it still needs."""

    done_days: Band
    to_go_days: Band


class CoreEstimate(Struct, frozen=True):
    """The middle of a bale today [degC], and whether a probe reading stands behind it."""

    low_c: float
    expected_c: float
    high_c: float
    from_probe: bool


class NitrogenEstimate(Struct, frozen=True):
    """Nitrogen of one bale [g]: given, asked for by the plan, lost; and carbon to nitrogen now.

    `unknown_rain_days` are past days whose rain nobody knows.
    """

    given_g: float
    planned_g: float
    lost_g: Band
    carbon_to_nitrogen: Band
    unknown_rain_days: int


class MakeUpEstimate(Struct, frozen=True):
    """What one bale would be given for what a storm took: the nitrogen, and the feed for it [g]."""

    nitrogen_g: float
    feed_g: float
