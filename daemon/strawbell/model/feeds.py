"""Feeds and doses: what stands on a bag, how much a bale gets of it, what is still to be bought."""

from __future__ import annotations

from datetime import date
from enum import StrEnum

from msgspec import Struct


class FeedForm(StrEnum):
    """How a feed is sold."""

    DRY = "dry"
    LIQUID = "liquid"
    SOLUBLE = "soluble"
    """A powder or crystals that are dissolved before they are given."""

    @property
    def is_poured(self) -> bool:
        """Whether it goes onto the bale in water."""
        return self is not FeedForm.DRY


class Material(StrEnum):
    """What a feed is made of, as far as the cautions and the agronomy must tell it apart."""

    UREA = "urea"
    AMMONIUM_SULFATE = "ammonium-sulfate"
    AMMONIUM_NITRATE = "ammonium-nitrate"
    CALCIUM_NITRATE = "calcium-nitrate"
    BLOOD_MEAL = "blood-meal"
    BONE_MEAL = "bone-meal"
    FEATHER_MEAL = "feather-meal"
    FISH = "fish"
    POULTRY_MANURE = "poultry-manure"
    LAWN_FEED = "lawn-feed"
    BALANCED = "balanced"
    OTHER = "other"


class Label(Struct, frozen=True):
    """The N-P2O5-K2O figures as printed on the bag [percent by mass, 0 to 100]."""

    nitrogen_percent: float
    phosphate_percent: float
    potash_percent: float

    def __str__(self) -> str:
        return f"{self.nitrogen_percent:g}-{self.phosphate_percent:g}-{self.potash_percent:g}"


class Package(Struct, frozen=True):
    """A size a feed is sold in, by mass [kg] or by volume [L]; `price` is the grower's money."""

    kg: float | None = None
    litres: float | None = None
    price: float | None = None


class LabelRate(Struct, frozen=True):
    """How strong a label has a feed mixed: by volume [mL per L of water] or by mass [g per L].

    Exactly one of the two is given.
    """

    ml_per_l: float | None = None
    g_per_l: float | None = None


class Feed(Struct, frozen=True):
    """A bag or bottle of feed.

    `density_kg_per_l` is the loose bulk density of a dry feed, or the density of a liquid
    [kg/L]; None when the grower does not know it, and then no kitchen measure is given.
    `rate` is how strong its label has it mixed, for one that is poured.
    `package_kg`, `package_l` and `price` are of the size it is mostly sold in, `packages` are
    others. `stock_kg` is what was at hand [kg] on the morning of `stock_on`, or before its first
    feeding where that is None; a stock of None is unknown.
    """

    name: str
    label: Label
    form: FeedForm = FeedForm.DRY
    material: Material = Material.OTHER
    density_kg_per_l: float | None = None
    rate: LabelRate | None = None
    slow_release: bool = False
    package_kg: float | None = None
    package_l: float | None = None
    price: float | None = None
    packages: tuple[Package, ...] = ()
    stock_kg: float | None = None
    stock_on: date | None = None


class Dose(Struct, frozen=True):
    """What one bale of a batch gets in one feeding, and the whole batch together.

    Masses in g, volumes in mL or L. For a liquid `per_bale_g` is the mass of the undiluted
    feed. `per_bale_ml` is the volume of the feed itself, None when that is unknown; `rate` is
    what to stir into each litre of water, None for a dry feed and where no label tells.
    """

    feed: str
    form: FeedForm
    bales: int
    per_bale_g: float
    total_g: float
    per_bale_ml: float | None
    total_ml: float | None
    nitrogen_per_bale_g: float
    phosphorus_per_bale_g: float
    potassium_per_bale_g: float
    water_per_bale_l: float
    rate: LabelRate | None = None
    material: Material = Material.OTHER

    @property
    def is_nothing(self) -> bool:
        """Whether nothing is given after all."""
        return self.per_bale_g <= 0.0


class Supply(StrEnum):
    """What kind of thing is needed."""

    FEED = "feed"
    MIX = "mix"
    WATER = "water"


class Bought(Struct, frozen=True):
    """So many packages of one size."""

    count: int
    package: Package


class Need(Struct, frozen=True):
    """All that is still needed of one thing.

    `kg` is None for mix and water, `litres` None for a feed of unknown density. A package is
    `package_kg` or `package_l`; without either `packages` is None. `cost` is None where the price
    or the package is unknown. `needed_by` is the first day it is needed, `last_on` the last.

    Of a feed whose stock is known, `stock_kg` is what is left of it today, `lasts_until` the last
    feeding it is enough for, None for none, and `needed_by` the first that it is not; where it is
    enough for all, that is the first of all. `buy` are the packages one by one, where there is a
    choice of sizes.
    """

    kind: Supply
    name: str
    kg: float | None
    litres: float | None
    package_kg: float | None
    package_l: float | None
    packages: int | None
    cost: float | None
    needed_by: date
    last_on: date
    buy: tuple[Bought, ...] = ()
    stock_kg: float | None = None
    lasts_until: date | None = None

    @property
    def is_at_hand(self) -> bool:
        """Whether all of it is in stock."""
        return self.stock_kg is not None and self.lasts_until == self.last_on
