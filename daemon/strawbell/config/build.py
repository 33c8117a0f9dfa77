"""Turn checked settings into the vocabulary of the plan, and what the checks look at on the way.

Feeds, schedules and crops are found by name, the built-in ones together with the grower's own.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from datetime import date, timedelta
from difflib import get_close_matches
from pathlib import Path as FilePath
from typing import TypeVar

from msgspec import Struct
from msgspec.structs import fields, replace

from strawbell.agronomy.bales import BALES, dry_matter_kg
from strawbell.agronomy.crop_table import CROP_NEEDS, CROPS, crop_from
from strawbell.agronomy.doses import dosed
from strawbell.agronomy.feeds import FEEDS, guess_material, parse_label, parse_rate
from strawbell.agronomy.schedules import SCHEDULES, start_for
from strawbell.config.keys import Path
from strawbell.config.mistakes import did_you_mean
from strawbell.config.reading import Readers
from strawbell.config.schema import (
    BaleSection,
    BatchSection,
    CropSection,
    FeedSection,
    GardenSection,
    PlantingSection,
    RulesSection,
    ScheduleSection,
    Settings,
    TimesSection,
)
from strawbell.errors import Defect
from strawbell.model.feeds import Feed, Package
from strawbell.model.garden import (
    Bale,
    Batch,
    Crop,
    Garden,
    Place,
    Planting,
    Rules,
    Schedule,
    ScheduleDay,
    Times,
    Work,
)
from strawbell.words.catalogue import BRITISH

DEFAULT_FEED = "Blood meal"
"""The nitrogen feed of a batch that names none: dry, sold everywhere, quick enough."""
DEFAULT_FINISHING_FEED = "Balanced"
DRENCH = "drench with "
LIKENESS = 0.5
"""Likeness of two spellings (difflib ratio) from which a name is suggested."""
MIX_LAYER_CM = 4.0
"""Planting mix on top for sown crops: 1 to 2 in (common practice)."""

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


def perhaps(known: Mapping[str, object], name: str) -> str:
    """Return the question whether another name was meant, "" where none is near."""
    by_lower = {key.lower(): key for key in known}
    near = get_close_matches(name.lower()[:60], list(by_lower), n=1, cutoff=LIKENESS)
    return did_you_mean(f'"{by_lower[near[0]]}"' if near else "")


def why_against(reason: str) -> str:
    """Return why a crop does badly in bales: as the catalogue has it, or the grower."""
    return BRITISH.known(f"against.{reason}") or reason


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


class Context(Struct, frozen=True):
    """The settings, what they can name, today, and facts about the file.

    `file_holds_password` is true when the password stands in the file itself; `readers` are
    the others who may read that file; relative paths count from `folder`.
    """

    settings: Settings
    supplies: Supplies
    today: date
    folder: FilePath
    readers: Readers | None = None
    file_holds_password: bool = False
    doubtful: Callable[[tuple[Path, ...]], bool] = lambda _: False
    """Whether values at these paths are wrong themselves and stand for something unknown."""

    def gardens(self) -> Iterator[tuple[Path, GardenSection]]:
        """Yield every garden with its path."""
        for number, garden in enumerate(self.settings.gardens):
            yield ("gardens", number), garden

    def batches(self) -> Iterator[tuple[Path, BatchSection]]:
        """Yield every batch with its path."""
        for path, garden in self.gardens():
            for number, batch in enumerate(garden.batches):
                yield (*path, "batches", number), batch

    def plantings(self) -> Iterator[tuple[Path, BatchSection, PlantingSection]]:
        """Yield every planting with its path and its batch."""
        for path, batch in self.batches():
            for number, planting in enumerate(batch.plantings):
                yield (*path, "plantings", number), batch, planting

    def names_in(self, section: str) -> tuple[Path, ...]:
        """Return the paths of the names of the grower's own entries of a section."""
        count = len(getattr(self.settings, section))
        return tuple((section, number, "name") for number in range(count))


def first_day(batch: BatchSection, supplies: Supplies) -> date | None:
    """Return the first day of a batch, None while it cannot be told."""
    schedule = find(supplies.schedules, batch.schedule)
    if batch.start_on is not None or batch.plant_on is None or schedule is None:
        return batch.start_on
    return start_for(batch.plant_on, schedule)


def ready_day(batch: BatchSection, supplies: Supplies) -> date | None:
    """Return the first day on which a batch can be planted, None while it cannot be told."""
    start = first_day(batch, supplies)
    schedule = find(supplies.schedules, batch.schedule)
    if start is None or schedule is None:
        return None
    return start + timedelta(days=schedule.plant_from_day - 1)


def gardens_of(settings: Settings, supplies: Supplies) -> tuple[Garden, ...]:
    """Return the gardens of settings that every check has passed."""
    rules = rules_of(settings.rules, settings.weather.stale_after_h)
    times = times_of(settings.times)
    return tuple(_garden(each, settings, supplies, rules, times) for each in settings.gardens)


def rules_of(section: RulesSection, stale_after_h: float) -> Rules:
    """Return the thresholds of the judgement."""
    return Rules(stale_after_h=stale_after_h, **dict(section))


def times_of(section: TimesSection) -> Times:
    """Return the times of day."""
    away = tuple(
        (date.fromisoformat(first), date.fromisoformat(last))
        for first, last in (each.split("/") for each in section.away)
    )
    given = dict(section)
    weekly = given.pop("routine") == "weekly"
    return Times(**{**given, "away": away, "weekly_routine": weekly})


def _garden(
    section: GardenSection, settings: Settings, supplies: Supplies, rules: Rules, times: Times
) -> Garden:
    mix_layer_cm = MIX_LAYER_CM if section.mix_layer_cm is None else section.mix_layer_cm
    return Garden(
        name=section.name,
        place=Place(section.latitude, section.longitude, section.time_zone, section.elevation_m),
        batches=tuple(_batch(each, supplies) for each in section.batches),
        rules=rules,
        times=times,
        units=settings.units,
        mix_layer_cm=mix_layer_cm,
        first_freeze_on=section.first_freeze_on,
        id=section.id,
    )


def _batch(section: BatchSection, supplies: Supplies) -> Batch:
    start_on = _sure(first_day(section, supplies), "start_on")
    batch = fed_batch(section, supplies, start_on)
    plantings = tuple(_planting(each, section, supplies) for each in section.plantings)
    return replace(_sure(batch, "feed"), plantings=plantings)


def fed_batch(section: BatchSection, supplies: Supplies, start_on: date) -> Batch | None:
    """Return a batch with its full dose, without its plantings; None where a name is unknown."""
    bale, schedule = bale_of(section), supplies.schedule_of(section)
    feed, finishing = supplies.feed_of(section), supplies.finishing_feed_of(section)
    if bale is None or schedule is None or feed is None or finishing is None:
        return None
    per_kg_g = section.dose_per_kg_straw_g
    batch = Batch(
        name=section.name,
        bales=section.bales,
        bale=bale,
        start_on=start_on,
        schedule=schedule,
        feed=feed,
        finishing_feed=finishing,
        nitrogen_per_full_dose_g=(per_kg_g or 1.0) * dry_matter_kg(bale),
        mulched=section.mulched,
        rain_cover=section.rain_cover,
        id=section.id,
    )
    return batch if per_kg_g is not None else dosed(batch)


def _planting(section: PlantingSection, batch: BatchSection, supplies: Supplies) -> Planting:
    # A batch counted back from its planting day is meant to be planted on it, not before.
    plant_on = section.plant_on
    if plant_on is None and section.follows is None:
        plant_on = batch.plant_on
    crop = _sure(find(supplies.crops, section.crop), section.crop)
    followed = find(supplies.crops, section.follows) if section.follows else None
    return Planting(
        crop=crop,
        plants=section.plants,
        method=section.method,
        plant_on=plant_on,
        follows=followed.name if followed else None,
    )


def _sure(value: Thing | None, name: str) -> Thing:
    if value is None:
        raise Defect(f"The checks let an unknown {name} pass.")
    return value
