"""The nitrogen of a bale: what the plan gives, what was given, what rain and air may have taken.

Every dose is followed by itself, once with the least and once with the most that may be lost. Of
a dose of urea a share goes to the air first (`ammonia`); what stays is open to rain (`leaching`)
and is bound by the decomposers little by little. In both reckonings

    given = to the air + leached + kept

holds exactly. Rain that is not known counts as none in the least and as a wet day in the most.

Limits: ammonia from the inside of a hot bale, nitrogen gas from a waterlogged one, and carbon
lost as the straw rots (which lowers the ratio further) are left out. Of a slow organic feed only
what has been set free can leach in the most, and nothing in the least, since hungry straw takes
it up as it comes.

References
----------
[1] Models and their sources are in `leaching` and `ammonia`; straw in `straw`.
[2] USDA NRCS, "Carbon to nitrogen ratios in cropping systems", and "The composting handbook",
    Table 4.2 (25 to 40 ideal, 20 to 60 acceptable) for what a ratio means.
[3] T. K. Hartz and P. R. Johnstone (2006), as given by the University of California: blood meal,
    fish and feather meal set free 47 to 60 % of their nitrogen in two weeks at 10 to 25 C.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from strawbell.agronomy.bale.ammonia import WASHES_IN_MM, volatilised_share
from strawbell.agronomy.bale.leaching import BaleWater, Share, bale_water, leached_share
from strawbell.agronomy.bale.straw import Span, carbon_g, nitrogen_g
from strawbell.agronomy.ranges import within
from strawbell.model.garden import Bale

BINDING_DAYS = 7.0
"""Time in which all but 1/e of a dose is bound by decomposers (design choice: conditioning feeds
straw for about a week and it heats at once; no measurement on bales was found) [d]."""
FOLLOWED_DAYS = 42
"""After six of those all of a dose counts as bound [d]."""
SLOW_AT_ONCE_MOST = 0.10
"""Most of a slow organic feed that dissolves at once (design choice; none in the least)."""
SLOW_PER_DAY_MOST = 1.0 - (1.0 - 0.60) ** (1.0 / 14.0)
"""Most of what is left of it that is set free each day: 60 % in two weeks [3]."""
UNKNOWN_DAY_MM = 12.7
"""Rain that a day of unknown weather may have brought, in the most: 0.5 in, the threshold at
which feeding is held (design choice) [mm]."""
MOST_NITROGEN_G = 2000.0
"""More on one bale is a slip of the pen [g N]."""
MOST_RAIN_MM = 2000.0


@dataclass(frozen=True, slots=True)
class Feeding:
    """One feeding of one bale, planned or given.

    `nitrogen_per_bale_g` is what was really given where that was recorded, else what is planned
    [g N], 0 to 2000, else ValueError. `planned_per_bale_g` is what the plan asked for, None when
    the same; 0 for one the plan did not have. `urea`: whether its nitrogen can go to the air.
    `washed_in`: whether it was watered in at once, None when nobody said. `slow`: whether it is
    an organic feed whose nitrogen is set free over weeks.
    """

    on: date
    feed: str
    nitrogen_per_bale_g: float
    given: bool
    urea: bool = False
    washed_in: bool | None = True
    planned_per_bale_g: float | None = None
    slow: bool = False

    def __post_init__(self) -> None:
        """Refuse what cannot be."""
        within("nitrogen_per_bale_g", self.nitrogen_per_bale_g, 0.0, MOST_NITROGEN_G, "g")
        if self.planned_per_bale_g is not None:
            within("planned_per_bale_g", self.planned_per_bale_g, 0.0, MOST_NITROGEN_G, "g")

    @property
    def planned_g(self) -> float:
        """Return what the plan asked for [g N per bale]."""
        asked = self.planned_per_bale_g
        return self.nitrogen_per_bale_g if asked is None else asked


@dataclass(frozen=True, slots=True)
class Fate:
    """What became of a dose in one reckoning [g N per bale]; the three add up to it."""

    volatilised_g: float
    leached_g: float
    kept_g: float

    @property
    def lost_g(self) -> float:
        """Return what is gone [g N per bale]."""
        return self.volatilised_g + self.leached_g


@dataclass(frozen=True, slots=True)
class LedgerLine:
    """One feeding with what became of it.

    With the least loss, with the most, and with the most when days of unknown rain count as dry;
    None where it is still to be given.
    """

    feeding: Feeding
    least: Fate | None
    most: Fate | None
    most_by_known_rain: Fate | None


@dataclass(frozen=True, slots=True)
class NitrogenLedger:
    """The nitrogen of one bale up to a date [g N]; low and high bound what cannot be known.

    `planned_g` is what the whole plan asks for, `given_g` what was given, `remaining_g` what is
    still to come. `lost_*` is to the air and by leaching together. `lost_known_rain_high_g` is
    the most lost when days of unknown rain count as dry. `unknown_rain_days` counts those days
    since the first feeding. The three ratios are kg C per kg N: of the straw as bought, now, and
    once all that remains has been given.
    """

    planned_g: float
    given_g: float
    remaining_g: float
    lost_low_g: float
    lost_high_g: float
    leached_low_g: float
    leached_high_g: float
    volatilised_low_g: float
    volatilised_high_g: float
    lost_known_rain_high_g: float
    unknown_rain_days: int
    carbon_to_nitrogen_before: Span
    carbon_to_nitrogen_now: Span
    carbon_to_nitrogen_after: Span
    lines: tuple[LedgerLine, ...] = ()

    @property
    def left_low_g(self) -> float:
        """Return the least that is left of what was given [g N]."""
        return max(0.0, self.given_g - self.lost_high_g)

    @property
    def left_high_g(self) -> float:
        """Return the most that is left of what was given [g N]."""
        return max(0.0, self.given_g - self.lost_low_g)


def ledger(
    bale: Bale,
    feedings: Sequence[Feeding],
    daily_rain_mm: Mapping[date, float | None],
    today: date,
) -> NitrogenLedger:
    """Return the nitrogen of one bale of a batch on the morning of a date.

    Parameters
    ----------
    bale : Bale
        Sides 10 to 400 [cm], mass as bought 1 to 1000 [kg]; outside ValueError.
    feedings : sequence of Feeding
        What was given and what is still planned, in any order [g N per bale]. One marked as
        given on a date after `today` is refused with ValueError.
    daily_rain_mm : Mapping
        Rain by local date [mm], 0 to 2000; outside ValueError. None, and a date that is missing
        between a feeding and `today`, is unknown.
    today : date
        Local date; its own rain has not fallen yet.

    Returns
    -------
    NitrogenLedger
        None of it negative; low never above high; masses balanced.

    References
    ----------
    .. [1] See the module, `leaching` and `ammonia`. The rain of the day of a feeding may have
       fallen before it: the least leaves it out, the most counts it.
    """
    for rain in daily_rain_mm.values():
        if rain is not None:
            within("daily_rain_mm", rain, 0.0, MOST_RAIN_MM, "mm")
    water = bale_water(bale)
    in_order = sorted(feedings, key=lambda feeding: feeding.on)
    lines = tuple(_line(water, feeding, daily_rain_mm, today) for feeding in in_order)
    given = [line for line in lines if line.feeding.given]
    least = _total(line.least for line in given)
    most = _total(line.most for line in given)
    known = _total(line.most_by_known_rain for line in given)
    remaining_g = math.fsum(
        line.feeding.nitrogen_per_bale_g for line in lines if not line.feeding.given
    )
    own, carbon = nitrogen_g(bale), carbon_g(bale).value
    middle_g = (least.kept_g + most.kept_g) / 2.0
    kept = Span(middle_g, min(least.kept_g, most.kept_g), max(least.kept_g, most.kept_g))
    return NitrogenLedger(
        planned_g=math.fsum(feeding.planned_g for feeding in in_order),
        given_g=math.fsum(line.feeding.nitrogen_per_bale_g for line in given),
        remaining_g=remaining_g,
        lost_low_g=least.lost_g,
        lost_high_g=most.lost_g,
        leached_low_g=min(least.leached_g, most.leached_g),
        leached_high_g=max(least.leached_g, most.leached_g),
        volatilised_low_g=least.volatilised_g,
        volatilised_high_g=most.volatilised_g,
        lost_known_rain_high_g=known.lost_g,
        unknown_rain_days=_unknown_days(given, daily_rain_mm, today),
        carbon_to_nitrogen_before=_ratio(carbon, own, Span(0.0, 0.0, 0.0), 0.0),
        carbon_to_nitrogen_now=_ratio(carbon, own, kept, 0.0),
        carbon_to_nitrogen_after=_ratio(carbon, own, kept, remaining_g),
        lines=lines,
    )


def _line(
    water: BaleWater, feeding: Feeding, daily: Mapping[date, float | None], today: date
) -> LedgerLine:
    if not feeding.given:
        return LedgerLine(feeding, None, None, None)
    if feeding.on > today:
        raise ValueError(f"feedings: {feeding.feed} is given on {feeding.on}, after {today}")
    first, end = feeding.on.toordinal(), today.toordinal()
    rain = [daily.get(date.fromordinal(day)) for day in range(first, end)][:FOLLOWED_DAYS]
    sky = _air_share(feeding, rain)
    given_g = feeding.nitrogen_per_bale_g
    least = [0.0, *(0.0 if day is None else day for day in rain[1:])][: len(rain)]
    wet = [UNKNOWN_DAY_MM if day is None else day for day in rain]
    dry = [0.0 if day is None else day for day in rain]
    if feeding.slow:
        least = []
    at_once = SLOW_AT_ONCE_MOST if feeding.slow else 1.0
    most = _fate(water, given_g, sky.high, wet, at_once)
    return LedgerLine(
        feeding,
        least=_fate(water, given_g, sky.low, least, least=True),
        most=most,
        most_by_known_rain=(
            _fate(water, given_g, sky.high, dry, at_once) if None in rain else most
        ),
    )


def _air_share(feeding: Feeding, rain: list[float | None]) -> Share:
    """Return what of a dose goes to the air; a soaking on its own day may have come before it."""
    if not feeding.urea:
        return Share(0.0, 0.0)
    since = [None if day is None or day >= WASHES_IN_MM else day for day in rain[:1]] + rain[1:]
    return volatilised_share(since, feeding.washed_in)


def _fate(
    water: BaleWater,
    given_g: float,
    air_share: float,
    rain_mm: list[float],
    at_once: float = 1.0,
    *,
    least: bool = False,
) -> Fate:
    """Follow what the air has left, day by day: rain takes of the open part, then some is bound.

    The share by rain is cumulative; a day takes what it adds, of what was still there. What is
    not dissolved `at_once` is set free little by little.
    """
    volatilised_g = given_g * air_share
    stays_g = given_g - volatilised_g
    open_g = stays_g * at_once
    shut_g = stays_g - open_g
    # Before a bale has filled up, the least drains nothing: no need to follow its days.
    if sum(rain_mm) <= (water.room_mm if least else 0.0):
        return Fate(volatilised_g, 0.0, stays_g)
    unbound = math.exp(-1.0 / BINDING_DAYS)
    fallen_mm, before, leached_g = 0.0, 0.0, 0.0
    for day_mm in rain_mm:
        if day_mm > 0:
            fallen_mm += day_mm
            share = leached_share(water, fallen_mm, fallen_mm)
            now = share.low if least else share.high
            taken = (now - before) / (1.0 - before) if before < 1.0 else 1.0
            leached_g += open_g * taken
            open_g -= open_g * taken
            before = now
        freed_g = shut_g * SLOW_PER_DAY_MOST
        shut_g -= freed_g
        open_g = open_g * unbound + freed_g
    leached_g = min(leached_g, stays_g)
    return Fate(volatilised_g, leached_g, stays_g - leached_g)


def _total(fates: Iterable[Fate | None]) -> Fate:
    listed = [fate for fate in fates if fate is not None]
    return Fate(
        math.fsum(fate.volatilised_g for fate in listed),
        math.fsum(fate.leached_g for fate in listed),
        math.fsum(fate.kept_g for fate in listed),
    )


def _unknown_days(
    given: Sequence[LedgerLine], daily: Mapping[date, float | None], today: date
) -> int:
    """Return the days of unknown rain on which a dose was still open to it."""
    if not given:
        return 0
    first = given[0].feeding.on.toordinal()
    last = min(today.toordinal(), given[-1].feeding.on.toordinal() + FOLLOWED_DAYS)
    return sum(daily.get(date.fromordinal(day)) is None for day in range(first, last))


def _ratio(carbon: float, own: Span, kept: Span, more_g: float) -> Span:
    return Span(
        carbon / (own.value + kept.value + more_g),
        carbon / (own.high + kept.high + more_g),
        carbon / (own.low + kept.low + more_g),
    )
