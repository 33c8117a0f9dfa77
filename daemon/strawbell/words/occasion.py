"""The picture of a morning: the days ahead, or what its main work asks to see.

Decided 2026-11-29: cells of a table with a ground, no images and no SVG, which mail programs hide
or drop. They show everywhere, grow with the letters, and a screen reader reads them as a table.
"""

from __future__ import annotations

from collections.abc import Sequence, Set
from datetime import date, time

from msgspec.structs import replace

from strawbell.model.brief import Action, AlertCode, Also, Brief, DayAhead, ReasonCode, State, Task
from strawbell.model.details import CoreEstimate, TopWaterDetail
from strawbell.model.forecast import DayWeather
from strawbell.words.advice import FIRST_WATER, LAST_WATER, short_word, waits_for_no_water
from strawbell.words.figures import DAY_ENDS, dry_time
from strawbell.words.merge import MergedTask, importance
from strawbell.words.page import Column, Picture, Piece, Strip
from strawbell.words.reasons import below
from strawbell.words.units import MM_PER_INCH
from strawbell.words.voice import Voice

STRIP_DAYS = 7
"""Most days in a row: as many columns as a phone can show."""
BAR_DAYS = 5
"""Days that have a bar with a number over it."""
STRIP_WORDS = 2
"""Most words in one cell."""
BAR_PX = 48
"""Height of the longest bar."""
LEAST_RAIN_MM, LEAST_COLD_C = 10.0, 8.0
"""What the longest bar stands for at least, so that a drizzle does not look like a flood."""
HOTTEST_C = 70.0
"""Right end of the picture of the warmth inside: few bales get hotter (common practice)."""
ROUTINE = frozenset({Action.WATER, Action.SURFACE_WATER, Action.UNCOVER, Action.HARVEST})
"""Work that comes day after day and is not told ahead."""
_WET = frozenset({ReasonCode.HEAVY_RAIN, ReasonCode.RAIN_POSSIBLE, ReasonCode.UNDER_TARP})
_COLD = frozenset(
    {
        ReasonCode.FREEZE,
        ReasonCode.FROZEN,
        ReasonCode.WARM_HOURS,
        ReasonCode.FROST,
        ReasonCode.CHILLY_NIGHTS,
        ReasonCode.KILLING_AHEAD,
    }
)
_INSIDE = frozenset({ReasonCode.NOT_READY, ReasonCode.FEEL_FIRST, ReasonCode.TOO_HOT_INSIDE})


def days_picture(brief: Brief, voice: Voice) -> Picture | None:
    """Return what is due when on the days ahead, None where none is known."""
    columns = tuple(_day(each, voice) for each in brief.ahead[:STRIP_DAYS])
    return Picture(voice.say("page.next-label"), columns=columns) if columns else None


def picture_of(brief: Brief, main: MergedTask, voice: Voice) -> Picture | None:
    """Return the picture that the main work of a morning asks for, None where it asks for none."""
    hot = next((each for each in brief.alerts if each.code is AlertCode.SELF_HEATING), None)
    if hot is not None or brief.questions:
        core = None if hot is None else _core(brief, hot.batch)
        return None if core is None else _inside(core, voice)
    codes = {each.code for each in main.reasons}
    if main.state is State.DUE and main.first.times_a_day > 1:
        return _top(main, voice)
    if main.action is Action.INSPECT or codes & _INSIDE:
        core = _core(brief, main.first.batch)
        return None if core is None else _inside(core, voice)
    left_to_rain = waits_for_no_water(main.first) and Also.RAIN_WATERS in main.first.also
    if left_to_rain or (main.state is State.HELD and codes & _WET):
        return _rain(brief, voice)
    if codes & _COLD and (main.state is State.HELD or main.action is Action.PROTECT):
        cold = [each for each in main.reasons if each.code in _COLD]
        limits = (each.threshold for each in cold if each.threshold is not None)
        nights = {voice.local(each.at).date() for each in cold if each.at is not None}
        return _cold(brief, max(limits, default=0.0), nights, voice)
    return None


def _core(brief: Brief, batch: str | None) -> CoreEstimate | None:
    return next((each.core for each in brief.outlooks if each.batch == batch), None)


def sky(weather: DayWeather, voice: Voice) -> tuple[str, ...]:
    """Return what the weather of a day brings, by the garden's own rules."""
    rules = voice.rules
    rain, chance = weather.rain_mm, weather.rain_chance_percent
    likely = chance is None or chance >= rules.rain_hold_chance_percent
    brings = (
        ("rain", rain is not None and rain >= rules.rain_hold_mm and likely),
        ("frost", weather.low_c is not None and weather.low_c <= rules.freeze_hold_c),
        ("heat", weather.high_c is not None and weather.high_c >= rules.hot_day_c),
    )
    return tuple(word for word, comes in brings if comes)


def _day(day: DayAhead, voice: Voice) -> Column:
    """Return a day with its work and its weather in a word each."""
    column = _worded(day, voice)
    skies = [voice.say(f"sky.{each}.cell") for each in sky(day.weather, voice)]
    said = (*column.words, *skies) if column.is_work else (*skies, *column.words)
    return replace(column, words=tuple(dict.fromkeys(said))[:STRIP_WORDS])


def _worded(day: DayAhead, voice: Voice) -> Column:
    """Return a day with its work."""
    tasks: list[Task] = [
        each for each in sorted(day.tasks, key=importance) if each.action not in ROUTINE
    ]
    return Column(
        voice.tongue.date("date.short_weekday", day.on),
        voice.tongue.date("date.weekday", day.on),
        tuple(dict.fromkeys(short_word(each, voice.tongue) for each in tasks)),
        any(each.state is State.DUE for each in tasks),
    )


def _shown(brief: Brief) -> Sequence[DayAhead]:
    """Return today and the days after it that have a bar."""
    return (DayAhead(brief.on, brief.weather, brief.tasks), *brief.ahead)[:BAR_DAYS]


def _rain(brief: Brief, voice: Voice) -> Picture:
    """Return how much rain falls on which day."""
    us, days = voice.measures.us, _shown(brief)
    most = max([LEAST_RAIN_MM, *(each.weather.rain_mm or 0.0 for each in days)])
    columns = []
    for each in days:
        rain, column = each.weather.rain_mm, _worded(each, voice)
        shown, digits = (rain, 0) if rain is None or not us else (rain / MM_PER_INCH, 1)
        bar = 0 if rain is None else round(BAR_PX * rain / most)
        strong = rain is not None and rain >= voice.rules.rain_hold_mm
        figure = _figure(shown, digits, voice)
        columns.append(
            replace(column, words=column.words[:1], figure=figure, above=bar, strong=strong)
        )
    return Picture(voice.say("occasion.rain"), columns=tuple(columns))


def _cold(brief: Brief, limit_c: float, nights: Set[date], voice: Voice) -> Picture:
    """Return how cold which day gets; what lies under the limit, and told nights, stand out."""
    days = _shown(brief)
    lows = [each.weather.low_c for each in days]
    most = max([LEAST_COLD_C, *(abs(low) for low in lows if low is not None)])
    columns = []
    for each, low in zip(days, lows, strict=True):
        column = _worded(each, voice)
        bar = 0 if low is None else round(BAR_PX * low / most)
        columns.append(
            replace(
                column,
                words=column.words[:1],
                figure="?" if low is None else voice.measures.whole_degrees(low),
                above=max(bar, 0),
                under=max(-bar, 0),
                strong=each.on in nights or (low is not None and low <= limit_c),
            )
        )
    return Picture(voice.say("occasion.cold"), columns=tuple(columns))


def _figure(value: float | None, digits: int, voice: Voice) -> str:
    return "?" if value is None else voice.measures.number(value, digits)


def _top(main: MergedTask, voice: Voice) -> Picture | None:
    """Return how long the top of a bale stays damp today without water, and with it."""
    dry_at = dry_time(main.detail.dry_at) if isinstance(main.detail, TopWaterDetail) else None
    begin, end, say = voice.morning.hour, DAY_ENDS.hour, voice.say
    if dry_at is None or not begin < dry_at.hour < end:
        return None
    damp = round(100 * (dry_at.hour + dry_at.minute / 60 - begin) / (end - begin))
    first, last = map(voice.clock, (FIRST_WATER, LAST_WATER))
    unwatered = (
        Piece(damp, "act", say("occasion.damp")),
        Piece(100 - damp, "dry", say("occasion.dry")),
    )
    ends = tuple(Piece(50, "", voice.clock(each)) for each in (time(begin), DAY_ENDS))
    return Picture(
        say("occasion.top"),
        strips=(
            Strip(say("occasion.unwatered", at=voice.clock(dry_at)), unwatered),
            Strip(
                say("occasion.watered", first=first, last=last),
                (Piece(100, "act", say("occasion.damp")),),
            ),
        ),
        ends=ends,
    )


def _inside(core: CoreEstimate, voice: Voice) -> Picture:
    """Return how warm the middle of a bale is, beside what roots bear."""
    say, measures = voice.say, voice.measures
    limit_c = voice.rules.plant_below_c
    low, high, limit = (
        round(100 * min(max(each, 0.0), HOTTEST_C) / HOTTEST_C)
        for each in (core.low_c, core.high_c, limit_c)
    )
    high = max(high, low + 1)
    said = measures.from_to(measures.whole_degrees(core.low_c), measures.warmth(core.high_c))
    return Picture(
        say("occasion.inside"),
        strips=(
            Strip(
                say("occasion.now", measured=core.from_probe, warmth=said),
                (Piece(low, "quiet"), Piece(high - low, "high"), Piece(100 - high, "quiet")),
            ),
            Strip(
                say("occasion.roots", limit=below(limit_c, voice)),
                (
                    Piece(limit, "act", say("occasion.plant")),
                    Piece(100 - limit, "dry", say("occasion.too-hot")),
                ),
            ),
        ),
        ends=(
            Piece(50, "", measures.temperature(0.0, 0)),
            Piece(50, "", measures.temperature(HOTTEST_C, 0)),
        ),
    )
