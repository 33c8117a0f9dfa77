"""What batches are fed: whether it can be given, suits the work, and adds up to a fitting sum."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from math import floor

from strawbell.agronomy.bales import dry_matter_kg
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
from strawbell.agronomy.watering import room_when_moist_l
from strawbell.config.build import fed_batch
from strawbell.config.checks_context import Context
from strawbell.config.gardens import BatchSection
from strawbell.config.mistakes import Mistake, finding, shown
from strawbell.config.outline import Path
from strawbell.config.supplies_at_hand import DRENCH
from strawbell.model.feeds import Feed
from strawbell.model.garden import Batch, ScheduleDay, Units, Work

L_PER_GALLON = 3.785411784
G_PER_OUNCE = 28.349523125
OUNCES_OF_A_POUND = 16
G_PER_KG = 1000.0


def litres_said(litres: float, units: Units) -> str:
    """Return a volume of water [L] as "3.6 L" or "1 gal"."""
    if units is Units.US:
        return f"{litres / L_PER_GALLON:.1f} gal"
    return f"{litres:.1f} L"


def grams_said(grams: float, units: Units) -> str:
    """Return a mass [g] in g and kg, or oz and lb."""
    if units is Units.US:
        ounces = grams / G_PER_OUNCE
        return f"{ounces:.1f} oz" if ounces < OUNCES_OF_A_POUND else f"{ounces / 16:.1f} lb"
    return f"{grams:.0f} g" if grams < G_PER_KG else f"{grams / G_PER_KG:.1f} kg"


MEAL, SALT = FEEDS["Blood meal"], FEEDS["Urea"]
"""What is suggested to carry the nitrogen that a drench cannot."""
_REFUSED = frozenset({FeedConcern.NO_NITROGEN, FeedConcern.NOT_POURED})
_DRENCHED = frozenset({*_REFUSED, FeedConcern.NO_RATE})
_WANTED = {
    Work.FEED: "a quick nitrogen feed",
    Work.DRENCH: "a liquid or soluble feed with its label_rate",
    Work.FINISH: "a balanced feed",
}


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
                    "no-such-day" if asked is None else "day-of-water",
                    (*path, "feeds", day),
                    f"day {day} of {shown(batch.schedule)}",
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
                if each.concern is FeedConcern.OXIDISER and feed.name not in FEEDS:
                    continue
                # A note names the feed itself; only a mistake says what has to stand there.
                note = each.concern not in (_DRENCHED if work is Work.DRENCH else _REFUSED)
                yield Mistake(
                    each.sentence.rstrip("."),
                    where,
                    "" if note else shown(feed.name),
                    "" if note else _WANTED[work],
                    warning=note,
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
        concerns = {each.concern for each in feed_warnings(feed, work)}
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
    return " or ".join(
        f"{grams_said(nitrogen_dose(feed, lack, 1).per_bale_g, units)} of {feed.name.lower()}"
        for feed, lack in nitrogen_g.items()
        if lack > 0.0
    )


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
        given, reads = grams_said(planned_g(batch), units), _reads(context, path)
        yield finding("too-little-nitrogen", where, given=given, carried=carried, reads=reads)


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
