"""What a notice says, part by part in the order it is read; the same as text and as an HTML mail.

Work first, the most urgent on top; what to leave; why; how to answer; what is next; and steps and
cautions only where they are new. The mail is a page for a phone at dawn, readable without pictures,
in light and in dark: no image, no script, no outside address but the forecast service's link.
Colours live here, as data, so that a test can measure every contrast; the template only lays out.

Decided 2026-11-29: the picture of a morning (the days ahead, or what its main work asks to see) is
cells of a table with a ground, no image and no SVG, which mail programs hide or drop. They show
everywhere, grow with the letters, and a screen reader reads them as a table.

Decided 2026-11-29: a wheel brings the templates compiled ahead (`daemon/build_pages.py`), for the
version of Jinja2 that it was built with and for no other; a checkout, and a newer Jinja2, compiles
them. That costs five starts of a bare interpreter and 2 MiB of an idle daemon.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence, Set
from datetime import date, time
from enum import StrEnum
from functools import cache
from types import MappingProxyType
from typing import TYPE_CHECKING

from msgspec import Struct
from msgspec.structs import replace

from strawbell.model.brief import Action, AlertCode, Also, Brief, DayAhead, ReasonCode, State, Task
from strawbell.model.details import CoreEstimate, TopWaterDetail
from strawbell.model.forecast import DayWeather
from strawbell.words import __path__ as package_path
from strawbell.words.advice import FIRST_WATER, LAST_WATER, Figure, short_word, waits_for_no_water
from strawbell.words.catalogue import Tongue
from strawbell.words.escaping import LINE_WIDTH, clean_lines, wrap
from strawbell.words.merge import importance
from strawbell.words.reasons import CautionWords, below
from strawbell.words.units import MM_PER_INCH
from strawbell.words.voice import DAY_ENDS, Voice, dry_time

_ITEM = "- "


class Mood(StrEnum):
    """What a day asks for, as its band shows it; the words say it too."""

    WORK = "due"
    WAIT = "held"
    URGENT = "missed"
    QUIET = "done"


class Band(Struct, frozen=True):
    """The head of a page: what the day is about, and its amounts written large."""

    mood: Mood
    above: str
    heading: str
    figures: tuple[Figure, ...] = ()
    below: str = ""


class Column(Struct, frozen=True):
    """A day of a picture: its work in a word or two; where it has a bar, its figure and height.

    `above` and `under` are how far the bar goes from its base line [px]; a `strong` one is what
    the picture is about.
    """

    weekday: str
    weekday_whole: str
    words: tuple[str, ...]
    is_work: bool
    figure: str = ""
    above: int = 0
    under: int = 0
    strong: bool = False


class Piece(Struct, frozen=True):
    """A part of a strip: its share of the width [percent], its ground, and the words in it."""

    share: int
    role: str
    words: str = ""


class Strip(Struct, frozen=True):
    """A bar across the page, with what it says above it."""

    label: str
    pieces: tuple[Piece, ...]


class Picture(Struct, frozen=True):
    """One question and its answer, drawn by days in `columns` or along `strips` with their `ends`.

    All that it shows is in its words and figures too.
    """

    question: str
    columns: tuple[Column, ...] = ()
    strips: tuple[Strip, ...] = ()
    ends: tuple[Piece, ...] = ()


class Steps(Struct, frozen=True):
    """The steps of one piece of work."""

    head: str
    steps: tuple[str, ...]


class Page(Struct, frozen=True):
    """A notice in words.

    `line` is what the band says, as a sentence; `more` goes with it, `lines` are the rest of the
    work. `commands` are typed as they stand. `answers` holds the place of how to answer, "" for
    none.
    """

    subject: str
    garden: str
    date: str
    band: Band
    line: str
    tongue: Tongue
    lead: tuple[str, ...] = ()
    more: tuple[str, ...] = ()
    lines: tuple[str, ...] = ()
    commands: tuple[str, ...] = ()
    blocks: tuple[Steps, ...] = ()
    """Work that needs more than a line, each with its heading."""
    note: str = ""
    """What must not be overlooked, on a ground of its own."""
    why: tuple[str, ...] = ()
    next: str = ""
    pictures: tuple[Picture, ...] = ()
    as_before: str = ""
    how: tuple[Steps, ...] = ()
    care: tuple[CautionWords, ...] = ()
    paragraphs: tuple[str, ...] = ()
    foot: str = ""
    attribution: str = ""
    link: str = ""

    @property
    def work(self) -> tuple[str, ...]:
        """Return all that is to be done and left, a sentence or two each."""
        return (" ".join((self.line, *self.more)), *self.lines)


def page_text(page: Page, answers: str = "", width: int = LINE_WIDTH) -> str:
    """Return a page as text in lines of `width` columns; `answers` says how to answer."""
    say = page.tongue.say

    def block(lines: Iterable[str]) -> str:
        return "\n".join(lines)

    def said(text: str, first: str = "") -> str:
        return wrap(text, first, width=width)

    # A narrow terminal breaks a long line itself; a command is copied whole only that way.
    typed = (wrap(each, "  ", width=max(width, LINE_WIDTH)) for each in page.commands)
    blocks = [
        said(say("page.head", garden=page.garden, date=page.date)),
        block(map(said, page.lead)),
        block(map(said, page.work)),
        block(typed),
        said(page.note) if page.note else "",
        said(say("page.why", why=" ".join(page.why))) if page.why else "",
        answers,
        *(_numbered(each, page.tongue, width) for each in page.blocks),
        block(map(said, page.paragraphs)),
        said(page.next) if page.next else "",
        said(page.as_before) if page.as_before else "",
        *(_numbered(each, page.tongue, width) for each in page.how),
        block(
            (
                said(say("page.care")),
                *(said(each.whole, _ITEM) for each in page.care),
            )
        )
        if page.care
        else "",
        block(
            (
                *((said(page.foot),) if page.foot else ()),
                *((said(page.attribution),) if page.attribution else ()),
                *((page.link,) if page.link else ()),
            )
        ),
    ]
    return clean_lines("\n\n".join(each for each in blocks if each)) + "\n"


def _numbered(steps: Steps, tongue: Tongue, width: int) -> str:
    if len(steps.steps) == 1:
        return wrap(tongue.say("page.step", head=steps.head, step=steps.steps[0]), width=width)
    return "\n".join(
        (
            wrap(steps.head, width=width),
            *(wrap(step, f"{at}. ", width=width) for at, step in enumerate(steps.steps, 1)),
        )
    )


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


def picture_of(brief: Brief, main: Task, voice: Voice) -> Picture | None:
    """Return the picture that the main work of a morning asks for, None where it asks for none."""
    hot = next((each for each in brief.alerts if each.code is AlertCode.SELF_HEATING), None)
    if hot is not None or brief.questions:
        core = None if hot is None else _core(brief, hot.batch)
        return None if core is None else _inside(core, voice)
    codes = {each.code for each in main.reasons}
    if main.state is State.DUE and main.times_a_day > 1:
        return _top(main, voice)
    if main.action is Action.INSPECT or codes & _INSIDE:
        core = _core(brief, main.batch)
        return None if core is None else _inside(core, voice)
    left_to_rain = waits_for_no_water(main) and Also.RAIN_WATERS in main.also
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


def _top(main: Task, voice: Voice) -> Picture | None:
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


if TYPE_CHECKING:
    from jinja2 import Environment

NOTICE_TEMPLATES = ("notice.html.j2", "asking.html.j2")
"""What a notice is made of."""

LIGHT: MappingProxyType[str, str] = MappingProxyType(
    {
        "page": "#eceff2",
        "card": "#ffffff",
        "ink": "#17222d",
        "soft": "#4d5b68",
        "rule": "#cfd6dc",
        "due": "#0b4f6c",
        "held": "#563f6e",
        "missed": "#8f3019",
        "done": "#3f5261",
        "act": "#0b4f6c",
        "on": "#ffffff",
        "note": "#fdf0cf",
        "note-ink": "#3b2c05",
        "quiet": "#e3e9ee",
        "high": "#563f6e",
        "low": "#7a8995",
        "dry": "#8f3019",
        "link": "#0b4f6c",
        "sun": "#f2c230",
    }
)
DARK: MappingProxyType[str, str] = MappingProxyType(
    {
        "page": "#0d1318",
        "card": "#172029",
        "ink": "#eef2f5",
        "soft": "#aebbc6",
        "rule": "#35424e",
        "due": "#0d5577",
        "held": "#563f6e",
        "missed": "#8f3019",
        "done": "#3f5261",
        "act": "#14749d",
        "on": "#ffffff",
        "note": "#40330f",
        "note-ink": "#fbeac0",
        "quiet": "#25323d",
        "high": "#b497d0",
        "low": "#7d90a3",
        "dry": "#b8432c",
        "link": "#7fc4ea",
        "sun": "#f2c230",
    }
)


def page_html(page: Page, answers: str = "") -> str:
    """Return a page as HTML; `answers` is markup that holds the place of how to answer."""
    preview = " ".join(page.work)
    template = environment().get_template("notice.html.j2")
    return template.render(page=page, preview=preview, answers=answers, say=page.tongue.say)


@cache
def environment() -> Environment:
    """Return the templates' environment, made once; Jinja2 is imported only here."""
    from jinja2 import ChoiceLoader, Environment, ModuleLoader, PackageLoader, StrictUndefined
    from jinja2 import __version__ as version

    ahead = f"{package_path[0]}/{compiled_for(version)}"
    environment = Environment(
        loader=ChoiceLoader((ModuleLoader(ahead), PackageLoader(__package__))),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        auto_reload=False,
    )
    environment.globals.update(light=LIGHT, dark=DARK)
    return environment


def compiled_for(version: str) -> str:
    """Return the folder, below that of this package, of templates compiled for a Jinja2."""
    return f"ahead/jinja-{version}"


def load_templates() -> None:
    """Read what every notice is made of, so that nothing is read when it is made."""
    for name in NOTICE_TEMPLATES:
        environment().get_template(name)
