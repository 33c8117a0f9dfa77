"""The grower's own feeds, schedules and crops, and what batches are fed.

Whether each can be what it says; whether what is given can be given, suits the work, and adds up to
a fitting sum.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from math import floor

from strawbell.agronomy.bales import dry_matter_kg
from strawbell.agronomy.crop_table import CROPS
from strawbell.agronomy.doses import (
    ceiling_g,
    dose_of,
    drench_dose,
    feed_of,
    feed_water_l,
    full_doses,
    lack_g,
    nitrogen_dose,
    planned_g,
)
from strawbell.agronomy.feeds import FEEDS, MOST_PER_L, FeedConcern, feed_warnings
from strawbell.agronomy.schedules import LONGEST_DAYS, validate_schedule
from strawbell.agronomy.watering import room_when_moist_l
from strawbell.config.build import (
    DRENCH,
    Context,
    crop_of,
    fed_batch,
    find,
    missing_values,
    perhaps,
    schedule_of,
)
from strawbell.config.keys import Path
from strawbell.config.mistakes import Mistake, finding, shown
from strawbell.config.schema import BatchSection, CropSection, FeedSection
from strawbell.model.feeds import Feed, FeedForm, Material
from strawbell.model.garden import Batch, ScheduleDay, Units, Work
from strawbell.words.catalogue import BRITISH

L_PER_GALLON = 3.785411784
G_PER_OUNCE = 28.349523125
OUNCES_OF_A_POUND = 16
G_PER_KG = 1000.0
MEAL, SALT = FEEDS["Blood meal"], FEEDS["Urea"]
"""What is suggested to carry the nitrogen that a drench cannot."""
_REFUSED = frozenset({FeedConcern.NO_NITROGEN, FeedConcern.NOT_POURED})
_DRENCHED = frozenset({*_REFUSED, FeedConcern.NO_RATE})


def feeds(context: Context) -> Iterator[Mistake]:
    """Yield entries of [[feeds]] that contradict themselves."""
    for number, feed in enumerate(context.settings.feeds):
        path: Path = ("feeds", number)
        if feed.label_rate is not None and feed.form is FeedForm.DRY:
            yield finding(
                "dry-feed-with-rate", (*path, "label_rate"), shown(feed.label_rate), reads=["form"]
            )
        yield from _shed(path, feed)
        if context.supplies.feeds[feed.name].material is Material.AMMONIUM_NITRATE:
            found = f"{shown(feed.name)}, {feed.label}"
            reads = ["label", "material"]
            yield finding("oxidiser", (*path, "name"), found, warning=True, reads=reads)


def _shed(path: Path, feed: FeedSection) -> Iterator[Mistake]:
    """Yield stocks and packages that cannot be counted."""
    for number, package in enumerate(feed.packages):
        where = (*path, "packages", number, "kg")
        if package.kg is None and package.l is None:
            yield finding("package-of-nothing", where, reads=["l"])
        elif package.kg is not None and package.l is not None:
            found = f"kg = {package.kg:g}, l = {package.l:g}"
            yield finding("package-of-both", where, found, reads=["l"])
    volumes = [("in_stock_l", feed.in_stock_l)]
    volumes += [("packages", each.l) for each in feed.packages]
    for key, litres in volumes:
        if litres is not None and feed.density_kg_per_l is None:
            density = ["density_kg_per_l"]
            yield finding("volume-without-density", (*path, key), f"{litres:g} L", reads=density)
    if feed.in_stock_kg is not None and feed.in_stock_l is not None:
        found = f"in_stock_kg = {feed.in_stock_kg:g}, in_stock_l = {feed.in_stock_l:g}"
        yield finding("stock-twice", (*path, "in_stock_l"), found, reads=["in_stock_kg"])
    if feed.in_stock_on is not None and feed.in_stock_kg is None and feed.in_stock_l is None:
        stock = ["in_stock_kg", "in_stock_l"]
        yield finding(
            "stock-of-nothing", (*path, "in_stock_on"), f"{feed.in_stock_on}", reads=stock
        )


def schedules(context: Context) -> Iterator[Mistake]:
    """Yield schedules of the grower's that cannot work."""
    known = context.supplies.feeds
    for number, section in enumerate(context.settings.schedules):
        path: Path = ("schedules", number)
        reads = tuple((*path, key) for key in ("days", "plant_from_day"))
        for each in validate_schedule(schedule_of(section, known)):
            count, plant = len(section.days), section.plant_from_day
            fault = BRITISH.of(
                "fault",
                each.fault,
                most=LONGEST_DAYS,
                found=", ".join(str(day.day) for day in section.days),
                day=each.day,
                rate=f"{each.rate or 0.0:g}",
                count=count,
                plant=plant,
            )
            where = (*path, "days")
            yield finding("schedule", where, reads=reads, fault=fault, count=count, plant=plant)
        for place, day in enumerate(section.days):
            if day.feed is not None and find(known, day.feed) is None:
                yield finding(
                    "feed-of-day",
                    (*path, "days", place, "feed"),
                    shown(day.feed),
                    day=day.day,
                    allowed=", ".join(f'"{each}"' for each in known),
                    remedy=perhaps(known, day.feed),
                    reads=(*reads, *context.names_in("feeds")),
                )


def crops(context: Context) -> Iterator[Mistake]:
    """Yield crops of the grower's that say too little or contradict themselves."""
    for number, section in enumerate(context.settings.crops):
        path: Path = ("crops", number)
        if section.like is not None and find(CROPS, section.like) is None:
            meant = perhaps(CROPS, section.like)
            yield finding("no-built-in-crop", (*path, "like"), shown(section.like), remedy=meant)
        else:
            for key in missing_values(section):
                reads = ["name", "like"]
                yield finding("crop-lacks", (*path, key), key=key, reads=reads)
        yield from _order(path, section)


def _order(path: Path, section: CropSection) -> Iterator[Mistake]:
    for key in ("per_bale", "days_to_maturity", "transplant_weeks"):
        pair = getattr(section, key)
        if pair is not None and pair[0] > pair[1]:
            found, turned = f"[{pair[0]}, {pair[1]}]", f"[{pair[1]}, {pair[0]}]"
            yield finding("first-above-second", (*path, key), found, key=key, turned=turned)
    yield from _apart(path, section, "kill_at_c", "cover_at_c")
    yield from _apart(path, section, "germination_min_c", "germination_max_c")
    points = section.emergence or ()
    warm = [point[0] for point in points]
    if warm != sorted(set(warm)) or any(point[1] <= 0 for point in points):
        found = shown([list(point) for point in points])
        yield finding("emergence-falls", (*path, "emergence"), found)


def _apart(path: Path, section: CropSection, low: str, high: str) -> Iterator[Mistake]:
    """Yield that one temperature lies above another, written here or taken from the base."""
    made = crop_of(section) or section
    below, above = getattr(made, low), getattr(made, high)
    if below is None or above is None or below <= above:
        return
    key = high if getattr(section, high) is not None else low
    yield finding(
        "low-above-high",
        (*path, key),
        f"{low} = {below:g}, {high} = {above:g}",
        low=low,
        high=high,
        written=key == high,
        reads=[high, low, "like", "name"],
    )


def days_fed(context: Context) -> Iterator[Mistake]:
    """Yield feeds for days that the schedule does not have, or has for water."""
    for path, batch in context.batches():
        schedule = context.supplies.schedule_of(batch)
        if schedule is None:
            continue
        work = {day.day: day.work for day in schedule.days}
        feeding = ", ".join(str(day) for day, each in work.items() if each is not Work.WATER)
        for day in batch.feeds:
            asked = work.get(int(day))
            if asked is None or asked is Work.WATER:
                yield finding(
                    "no-such-day",
                    (*path, "feeds", day),
                    water=asked is not None,
                    day=day,
                    schedule=shown(batch.schedule),
                    feeding=feeding,
                    reads=_reads(context, path),
                )


def feeds_in_use(context: Context) -> Iterator[Mistake]:
    """Yield what speaks against the feeds that batches use, each feed once for each work."""
    told: set[tuple[str, Work]] = set()
    for path, batch in context.batches():
        for where, feed, work in _uses(context, path, batch):
            if (feed.name, work) in told:
                continue
            told.add((feed.name, work))
            for each in feed_warnings(feed, work):
                # Said at the entry itself, where the word can be put right.
                if each is FeedConcern.OXIDISER and feed.name not in FEEDS:
                    continue
                # A note names the feed itself; only a mistake says what has to stand there.
                note = each not in (_DRENCHED if work is Work.DRENCH else _REFUSED)
                nitrogen = f"{feed.label.nitrogen_percent:g}"
                yield finding(
                    "unfit-feed",
                    where,
                    "" if note else shown(feed.name),
                    warning=note,
                    concern=BRITISH.of("concern", each, feed=feed.name, nitrogen=nitrogen),
                    work=None if note else work,
                    reads=(where, *_feed_paths(context, feed.name)),
                )


def _uses(context: Context, path: Path, batch: BatchSection) -> Iterator[tuple[Path, Feed, Work]]:
    """Yield where a batch names each of its feeds, and what for."""
    for day, feed in context.supplies.fed_on(batch):
        yield _where(path, batch, day), feed, day.work
    # What plants are fed with in the season.
    if (finishing := context.supplies.finishing_feed_of(batch)) is not None:
        yield (*path, "finishing_feed"), finishing, Work.FINISH


def doses(context: Context) -> Iterator[Mistake]:
    """Yield doses that cannot be given, and sums that are too much for the straw or too little."""
    for path, section in context.batches():
        batch = _sound(context, path, section)
        if batch is None:
            continue
        refused = tuple(_too_much_water(context, path, section, batch))
        yield from refused
        if section.dose_per_kg_straw_g is not None:
            yield from _too_much(context, path, section.dose_per_kg_straw_g, batch)
        elif not refused:
            yield from _too_little(context, path, section, batch)


def _sound(context: Context, path: Path, section: BatchSection) -> Batch | None:
    """Return a batch whose doses can be reckoned, None while something else is wrong with it."""
    for _, feed, work in _uses(context, path, section):
        concerns = set(feed_warnings(feed, work))
        if concerns & (_DRENCHED if work is Work.DRENCH else _REFUSED):
            return None
    return fed_batch(section, context.supplies, context.today)


def _too_much_water(
    context: Context, path: Path, section: BatchSection, batch: Batch
) -> Iterator[Mistake]:
    """Yield the first day on which a share of the nitrogen takes more water than a bale holds."""
    most_l, units = room_when_moist_l(batch.bale), context.settings.units
    for day in batch.schedule.days:
        dose, feed = dose_of(batch, day), feed_of(batch, day)
        if dose is None or feed is None:
            continue
        if feed.form.is_poured and feed.rate is None:
            strength = dose.per_bale_g / dose.water_per_bale_l
            if strength > MOST_PER_L:
                yield finding(
                    "strength-unknown",
                    _where(path, section, day),
                    shown(feed.name),
                    day=day.day,
                    strength=f"{strength:.0f}",
                    feed=feed.name,
                    most=f"{MOST_PER_L:.0f}",
                    drench=f'{day.day} = "{DRENCH}{feed.name}"',
                    meal=MEAL.name,
                    salt=SALT.name,
                    reads=_reads(context, path, feed.name),
                )
                return
        if dose.water_per_bale_l <= most_l:
            continue
        drench = drench_dose(feed, 1, feed_water_l(batch, feed))
        yield finding(
            "too-much-water",
            _where(path, section, day),
            shown(feed.name),
            nitrogen=grams_said(dose.nitrogen_per_bale_g, units),
            feed=feed.name,
            water=litres_said(dose.water_per_bale_l, units),
            most=litres_said(most_l, units),
            drench=f'feeds = {{ {day.day} = "{DRENCH}{feed.name}" }}',
            drench_water=litres_said(drench.water_per_bale_l, units),
            drench_nitrogen=grams_said(drench.nitrogen_per_bale_g, units),
            carried=_carried(dict.fromkeys((MEAL, SALT), dose.nitrogen_per_bale_g), units),
            reads=_reads(context, path, feed.name),
        )
        return


def _carried(nitrogen_g: Mapping[Feed, float], units: Units) -> str:
    """Return how much of each feed carries its amount of nitrogen [g]: "x of y or z of w"."""
    ways = (
        BRITISH.say(
            "mend.carried",
            mass=grams_said(nitrogen_dose(feed, lack, 1).per_bale_g, units),
            feed=BRITISH.say(f"feed.{feed.name.replace(' ', '-')}"),
        )
        for feed, lack in nitrogen_g.items()
        if lack > 0.0
    )
    return BRITISH.listing(ways, "or")


def _too_much(context: Context, path: Path, asked: float, batch: Batch) -> Iterator[Mistake]:
    straw_kg, most_g = dry_matter_kg(batch.bale), ceiling_g(batch.bale)
    total_g = planned_g(batch)
    if total_g <= most_g:
        return
    doses_g = full_doses(batch) * batch.nitrogen_per_full_dose_g
    room_g = max(0.0, most_g - (total_g - doses_g))
    most = floor(room_g / full_doses(batch) / straw_kg * 100.0) / 100.0
    yield finding(
        "too-much-nitrogen",
        (*path, "dose_per_kg_straw_g"),
        f"{asked:g}",
        total=f"{total_g:.0f}",
        straw=f"{straw_kg:.1f}",
        over=f"{most_g:.0f}",
        most=f"{most:g}",
        reads=_reads(context, path),
    )


def _too_little(
    context: Context, path: Path, section: BatchSection, batch: Batch
) -> Iterator[Mistake]:
    units = context.settings.units
    carried = _carried({each: lack_g(batch, each) for each in (MEAL, SALT)}, units)
    if carried:
        where = (*path, "feeds" if section.feeds else "schedule")
        yield finding(
            "too-little-nitrogen",
            where,
            warning=True,
            given=grams_said(planned_g(batch), units),
            carried=carried,
            reads=_reads(context, path),
        )


def _where(path: Path, section: BatchSection, day: ScheduleDay) -> Path:
    if str(day.day) in section.feeds:
        return (*path, "feeds", str(day.day))
    if day.feed is not None:
        return (*path, "schedule")
    return (*path, "finishing_feed" if day.work is Work.FINISH else "feed")


def _reads(context: Context, path: Path, feed: str = "") -> tuple[Path, ...]:
    keys = ("dose_per_kg_straw_g", "bale", "straw", "schedule", "feed", "finishing_feed", "feeds")
    return (
        *((*path, key) for key in keys),
        *context.names_in("schedules"),
        *context.names_in("feeds"),
        *_feed_paths(context, feed),
    )


def _feed_paths(context: Context, name: str) -> Iterator[Path]:
    for number, section in enumerate(context.settings.feeds):
        if section.name == name:
            yield from (("feeds", number, key) for key in type(section).model_fields)


def litres_said(litres: float, units: Units) -> str:
    """Return a volume of water [L] in litres or gallons."""
    if units is Units.US:
        return _amount("gal", litres / L_PER_GALLON, 1)
    return _amount("L", litres, 1)


def grams_said(grams: float, units: Units) -> str:
    """Return a mass [g] in g and kg, or oz and lb."""
    if units is Units.US:
        ounces = grams / G_PER_OUNCE
        if ounces < OUNCES_OF_A_POUND:
            return _amount("oz", ounces, 1)
        return _amount("lb", ounces / OUNCES_OF_A_POUND, 1)
    return _amount("g", grams, 0) if grams < G_PER_KG else _amount("kg", grams / G_PER_KG, 1)


def _amount(unit: str, value: float, digits: int) -> str:
    return BRITISH.say(f"unit.{unit}", n=BRITISH.number(value, digits), count=value)
