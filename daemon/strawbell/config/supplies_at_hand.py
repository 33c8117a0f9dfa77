"""Built-in feeds, schedules and crops together with the grower's own, by name."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from difflib import get_close_matches
from typing import TypeVar

from msgspec import Struct
from msgspec.structs import fields, replace

from strawbell.agronomy.bales import BALES
from strawbell.agronomy.crop_table import CROP_NEEDS, CROPS, crop_from
from strawbell.agronomy.feeds import FEEDS, guess_material, parse_label, parse_rate
from strawbell.agronomy.schedules import SCHEDULES
from strawbell.config.gardens import BaleSection, BatchSection
from strawbell.config.schema import Settings
from strawbell.config.supplies import CropSection, FeedSection, ScheduleSection
from strawbell.model.feeds import Feed, Package
from strawbell.model.garden import Bale, Crop, Schedule, ScheduleDay, Work

DEFAULT_FEED = "Blood meal"
"""The nitrogen feed of a batch that names none: dry, sold everywhere, quick enough."""
DEFAULT_FINISHING_FEED = "Balanced"
DRENCH = "drench with "
LIKENESS = 0.5
"""Likeness of two spellings (difflib ratio) from which a name is suggested."""

Thing = TypeVar("Thing")


class Supplies(Struct, frozen=True):
    """Everything a plan can name."""

    feeds: Mapping[str, Feed]
    schedules: Mapping[str, Schedule]
    crops: Mapping[str, Crop]

    def schedule_of(self, batch: BatchSection) -> Schedule | None:
        """Return the schedule of a batch with the feeds of its days, None for an unknown one.

        Names that nothing has are left out of it.
        """
        schedule = find(self.schedules, batch.schedule)
        if schedule is None or not batch.feeds:
            return schedule
        meant = {int(day): self.meant(text) for day, text in batch.feeds.items()}
        return replace(
            schedule, days=tuple(_with(day, meant.get(day.day)) for day in schedule.days)
        )

    def meant(self, text: str) -> tuple[Feed | None, bool]:
        """Return the feed that a text of `feeds` names, and whether it is a drench."""
        drench = find(self.feeds, text) is None and text.startswith(DRENCH)
        return find(self.feeds, text.removeprefix(DRENCH) if drench else text), drench

    def feed_of(self, batch: BatchSection) -> Feed | None:
        """Return the nitrogen feed of a batch, None where it names an unknown one.

        Without a name it is that of the first day that names one.
        """
        return self._named(batch, batch.feed, Work.FEED, DEFAULT_FEED)

    def finishing_feed_of(self, batch: BatchSection) -> Feed | None:
        """Return the balanced feed of a batch, None where it names an unknown one."""
        return self._named(batch, batch.finishing_feed, Work.FINISH, DEFAULT_FINISHING_FEED)

    def fed_on(self, batch: BatchSection) -> Iterator[tuple[ScheduleDay, Feed]]:
        """Yield the days on which a batch is fed, each with its feed."""
        schedule = self.schedule_of(batch)
        feed, finishing = self.feed_of(batch), self.finishing_feed_of(batch)
        for day in () if schedule is None else schedule.days:
            own = day.feed or (finishing if day.work is Work.FINISH else feed)
            if day.work is not Work.WATER and own is not None:
                yield day, own

    def _named(
        self, batch: BatchSection, name: str | None, work: Work, default: str
    ) -> Feed | None:
        if name is not None:
            return find(self.feeds, name)
        schedule = self.schedule_of(batch)
        days = () if schedule is None else schedule.days
        of_days = (day.feed for day in days if day.work is work and day.feed is not None)
        return next(of_days, None) or find(self.feeds, default)


def _with(day: ScheduleDay, meant: tuple[Feed | None, bool] | None) -> ScheduleDay:
    """Return a day with what the batch gives on it; a drench may stand on a day of water."""
    feed, drench = meant or (None, False)
    if feed is None or not (drench or day.work is not Work.WATER):
        return day
    if drench and day.work is not Work.DRENCH:
        return replace(day, work=Work.DRENCH, rate=1.0, feed=feed)
    return replace(day, feed=feed)


def supplies_of(settings: Settings) -> Supplies:
    """Return what a configuration can name; entries that cannot be made are left out."""
    feeds = {**FEEDS, **{each.name: feed_of(each) for each in settings.feeds}}
    own = {each.name: schedule_of(each, feeds) for each in settings.schedules}
    return Supplies(
        feeds=feeds, schedules={**SCHEDULES, **own}, crops={**CROPS, **dict(_own_crops(settings))}
    )


def find(things: Mapping[str, Thing], name: str) -> Thing | None:
    """Return what has that name, whatever its capitals."""
    if name in things:
        return things[name]
    folded = name.casefold()
    return next((thing for key, thing in things.items() if key.casefold() == folded), None)


def nearest(things: Mapping[str, object], name: str) -> str:
    """Return the name that was probably meant, or nothing."""
    by_lower = {key.lower(): key for key in things}
    near = get_close_matches(name.lower()[:60], list(by_lower), n=1, cutoff=LIKENESS)
    return by_lower[near[0]] if near else ""


def feed_of(section: FeedSection) -> Feed:
    """Return a feed of the grower's."""
    label = parse_label(section.label)
    return Feed(
        name=section.name,
        label=label,
        form=section.form,
        material=section.material or guess_material(section.name, label),
        density_kg_per_l=section.density_kg_per_l,
        rate=None if section.label_rate is None else parse_rate(section.label_rate, section.form),
        slow_release=section.slow_release,
        package_kg=section.package_kg,
        package_l=section.package_l,
        price=section.price,
        packages=tuple(Package(each.kg, each.l, each.price) for each in section.packages),
        stock_kg=_stock_kg(section),
        stock_on=section.in_stock_on,
    )


def _stock_kg(section: FeedSection) -> float | None:
    """Return what is at hand of a feed [kg], None where that is not known."""
    if section.in_stock_kg is not None:
        return section.in_stock_kg
    if section.in_stock_l is None or section.density_kg_per_l is None:
        return None
    return section.in_stock_l * section.density_kg_per_l


def schedule_of(section: ScheduleSection, feeds: Mapping[str, Feed]) -> Schedule:
    """Return a schedule of the grower's; it may still be one that cannot work."""
    return Schedule(
        name=section.name,
        summary=section.summary or "",
        days=tuple(
            ScheduleDay(
                each.day,
                each.work,
                each.rate if each.rate is not None else float(each.work is not Work.WATER),
                None if each.feed is None else find(feeds, each.feed),
            )
            for each in section.days
        ),
        plant_from_day=section.plant_from_day,
        sources=section.sources or ("the grower's own",),
    )


def base_of(section: CropSection) -> Crop | None:
    """Return the built-in crop an entry builds on: the one it is like, or its namesake."""
    return find(CROPS, section.like or section.name)


def missing_values(section: CropSection) -> list[str]:
    """Return what a crop without a built-in base fails to say."""
    if base_of(section) is not None:
        return []
    return [name for name in CROP_NEEDS if getattr(section, name) is None]


def crop_of(section: CropSection) -> Crop | None:
    """Return a crop of the grower's, None while it lacks something."""
    given = {
        each.name: getattr(section, each.name)
        for each in fields(Crop)
        if getattr(section, each.name, None) is not None
    }
    return None if missing_values(section) else crop_from(given, base_of(section))


def _own_crops(settings: Settings) -> Iterator[tuple[str, Crop]]:
    for section in settings.crops:
        crop = crop_of(section)
        if crop is not None:
            yield section.name, crop


def bale_of(batch: BatchSection) -> Bale | None:
    """Return the bale of a batch, None where its kind is unknown."""
    if isinstance(batch.bale, BaleSection):
        size = batch.bale
        bale = Bale("own", size.length_cm, size.width_cm, size.height_cm, size.dry_mass_kg)
    else:
        known = find(BALES, batch.bale)
        if known is None:
            return None
        bale = known
    return replace(bale, straw=batch.straw, weathered=batch.weathered)
