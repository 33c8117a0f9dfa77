"""One chart: dates across, bars, marks and fields one below the other, drawn as SVG.

It is drawn at a width of its own, so that its words keep their size on a phone and on a desk.
Colours are roles of one palette, data that a test measures every contrast of, put in by classes of
one style sheet for light and dark ("f-held" fills, "s-held" draws a line); they never stand alone:
a shape, a pattern or a word tells the same. All text goes through `escape`.
"""

from __future__ import annotations

import html
import math
from collections.abc import Callable, Iterable, Iterator, Sequence
from datetime import date, timedelta
from enum import StrEnum
from types import MappingProxyType

from msgspec import Struct

from strawbell.words.catalogue import Tongue
from strawbell.words.escaping import clean, columns, cut
from strawbell.words.page import DARK, LIGHT

TEXT_PX, LEAST_TEXT_PX = 12.0, 11.0
"""Size of the words in a chart, and of the smallest in it [px at its own width]."""
LETTER_WIDE = 0.6
"""A letter of a sans-serif face is about this share of its size wide (from memory, on the wide
side), so that a label that is let in never runs over [-]."""
LEAST_LETTERS = 3
"""A name cut to as few letters says nothing."""
MARK_PX, CLOSE_MARK_PX, DOT_PX = 15.0, 20.0, 9.0
"""Sizes of a mark among others, of one that has a day for itself at most, and of a dot [px]."""
LEFT_PX, RIGHT_PX, TOP_PX, AXIS_PX = 58.0, 6.0, 18.0, 26.0
"""Room around the rows: for their names, today's name and the dates [px]."""
NAME_PX, LANE_PX, ROW_PX, GAP_PX = 17.0, 21.0, 19.0, 12.0
"""Heights of a heading, of a bar, of a row of marks, and of a gap [px]."""
HATCHING_PX, SLIMMEST_BAR_PX, WIDEST_BAR_PX = 6.0, 2.0, 14.0
WEEK = 7
LEAST_WEEK_PX = 6.0
"""Ticks of weeks closer than this run into one another [px]."""
DATES_FROM_DAY_PX, DAYS_FROM_DAY_PX = 5.5, 36.0
"""From these widths of a day on, Mondays carry their date instead of months their name, and every
day is ticked and numbered [px]."""
DAY = timedelta(days=1)

Row = tuple[date, float | None]
Span = tuple[date, float | None, float | None]


class Shape(StrEnum):
    """The outline of a mark; no two are told apart by colour alone."""

    DISC = "disc"
    RING = "ring"
    SQUARE = "square"
    CROSS = "cross"
    TRIANGLE = "triangle"


class Mark(Struct, frozen=True):
    """What stands for something of a date: its look, the letter in it, and what it says."""

    on: date
    shape: Shape
    role: str
    letter: str = ""
    says: str = ""


class Bar(Struct, frozen=True):
    """What goes on from `first` through `last`; `short` is said where there is little room."""

    first: date
    last: date
    said: str
    short: str
    role: str
    dashed: bool = False
    hatched: bool = False


class DateScale(Struct, frozen=True):
    """Dates from `first` through `last` laid out between `left` and `right` [px]."""

    first: date
    last: date
    left: float
    right: float

    @property
    def days(self) -> int:
        """Return how many dates it holds."""
        return (self.last - self.first).days + 1

    @property
    def day_px(self) -> float:
        """Return how wide a date is [px]."""
        return (self.right - self.left) / self.days

    def x(self, on: date) -> float:
        """Return where a date begins [px]; outside the scale, its nearer end."""
        return min(max(self.left + (on - self.first).days * self.day_px, self.left), self.right)

    def middle(self, on: date) -> float:
        """Return the middle of a date [px]."""
        return self.x(on) + self.day_px / 2

    def holds(self, on: date) -> bool:
        """Return whether a date is on the scale."""
        return self.first <= on <= self.last


class ValueScale(Struct, frozen=True):
    """Values from `low` at `bottom` to `high` at `top` [px, downwards], in round `step`s."""

    low: float
    high: float
    bottom: float
    top: float
    step: float

    @classmethod
    def over(
        cls, values: Iterable[float], bottom: float, top: float, least_span: float, steps: int = 3
    ) -> ValueScale:
        """Return a scale with round ends that holds all values, over `least_span` at least."""
        known = [value for value in values if math.isfinite(value)] or [0.0]
        low, high = min(known), max(known)
        high = max(high, low + least_span)
        step = round_step((high - low) / steps)
        # A quotient that underflows or is rounded must not leave a value outside.
        under, over = math.floor(low / step) * step, math.ceil(high / step) * step
        return cls(min(under, low), max(over, high), bottom, top, step)

    def y(self, value: float) -> float:
        """Return where a value lies [px]; outside the scale, its nearer end."""
        share = (min(max(value, self.low), self.high) - self.low) / (self.high - self.low)
        return self.bottom + (self.top - self.bottom) * share

    def ticks(self) -> tuple[float, ...]:
        """Return the round values on the scale, from its low end to its high one."""
        first = math.ceil(self.low / self.step - 1e-9)
        last = math.floor(self.high / self.step + 1e-9)
        return tuple(number * self.step for number in range(first, last + 1))


class Chart:
    """Rows one below the other over the same dates, with their axis and today's line."""

    def __init__(
        self, first: date, last: date, width: float, identity: str, tongue: Tongue
    ) -> None:
        """Begin an empty chart; `identity`, of ASCII letters and hyphens, is its own on a page."""
        self.dates = DateScale(first, last, LEFT_PX, width - RIGHT_PX)
        self.y = TOP_PX
        self._width, self._identity, self._tongue = width, identity, tongue
        self._hatch = f"{identity}-hatch"
        self._parts: list[str] = []

    def heading(self, text: str) -> None:
        """Put a name above what comes next."""
        shown = fitted(text, self.dates.right - self.dates.left)
        self._parts.append(words(self.dates.left, self.y + TEXT_PX, shown, bold=True, halo=True))
        self.y += NAME_PX

    def gap(self) -> None:
        """Leave room before what comes next."""
        self.y += GAP_PX

    def lane(self, bars: Iterable[Bar]) -> None:
        """Put bars side by side."""
        self._parts += [self._bar(each) for each in bars]
        self.y += LANE_PX

    def marks(self, label: str, marks: Iterable[Mark], *, close: bool = False) -> None:
        """Put marks in a row; those too near to stand side by side become one with their number.

        `close` gives each a day for itself, without a letter where that is narrow.
        """
        height = CLOSE_MARK_PX if close else ROW_PX
        left, y, size = self.dates.left, self.y + height / 2, MARK_PX
        if close:
            size = min(CLOSE_MARK_PX, self.dates.day_px - 2)
        self._parts += [
            words(left - 11, y + 4, label, "soft", "end", LEAST_TEXT_PX),
            line(left, y, self.dates.right, y),
        ]
        known = sorted((each for each in marks if self.dates.holds(each.on)), key=lambda m: m.on)
        for near in ([each] for each in known) if close else self._clusters(known):
            first = near[0] if len(near) == 1 else _many(near)
            letter = first.letter if size >= LEAST_TEXT_PX else ""
            x = self.dates.middle(near[0].on)
            self._parts.append(mark(first.shape, x, y, first.role, letter, first.says, size))
        self.y += height

    def field(
        self,
        height: float,
        values: Iterable[float | None],
        least_span: float,
        label: Callable[[float], str],
        steps: int = 3,
    ) -> ValueScale:
        """Begin a field for values, none of them left out, and return its scale."""
        top, bottom = self.y + 6, self.y + height
        known = [each for each in values if each is not None]
        scale = ValueScale.over(known, bottom, top, least_span, steps)
        left = self.dates.left
        for tick in scale.ticks():
            y = scale.y(tick)
            self._parts.append(line(left, y, self.dates.right, y))
            self._parts.append(words(left - 4, y + 4, label(tick), "soft", "end", LEAST_TEXT_PX))
        self.y = bottom
        return scale

    def level(self, scale: ValueScale, value: float, role: str) -> None:
        """Put a dashed line at a value."""
        y = scale.y(value)
        self._parts.append(line(self.dates.left, y, self.dates.right, y, role, dashed=True))

    def band(self, scale: ValueScale, rows: Iterable[Span], role: str) -> None:
        """Put the band between lows and highs; a date with either unknown leaves a gap."""
        known = {
            on: (scale.y(low), scale.y(high))
            for on, low, high in rows
            if low is not None and high is not None and self.dates.holds(on)
        }
        for run in _runs(sorted(known)):
            across = [self.dates.x(run[0]), *map(self.dates.middle, run)]
            across.append(self.dates.x(run[-1]) + self.dates.day_px)
            ends = [known[run[0]], *(known[on] for on in run), known[run[-1]]]
            upper = [(x, y) for x, (_, y) in zip(across, ends, strict=True)]
            lower = [(x, y) for x, (y, _) in zip(across, ends, strict=True)]
            points = " ".join(f"{number(x)},{number(y)}" for x, y in (*upper, *reversed(lower)))
            self._parts.append(element("polygon", points=points, class_=f"f-{role}"))

    def bars(self, scale: ValueScale, rows: Iterable[Row], role: str) -> None:
        """Put an upright bar a date, from the low end; unknown and none have no bar."""
        slim = min(max(self.dates.day_px * 0.7, SLIMMEST_BAR_PX), WIDEST_BAR_PX)
        for on, value in rows:
            if value is not None and value > scale.low and self.dates.holds(on):
                x, y = self.dates.middle(on) - slim / 2, scale.y(value)
                self._parts.append(box(x, y, slim, scale.bottom - y, role))

    def steps(self, scale: ValueScale, rows: Iterable[tuple[date, float]], role: str) -> None:
        """Put a line that steps where a value changes."""
        before: float | None = None
        for on, value in rows:
            x, y = self.dates.x(on), scale.y(value)
            if before is not None and y != before:
                self._parts.append(line(x, before, x, y, role))
            self._parts.append(line(x, y, x + self.dates.day_px, y, role))
            before = y

    def dots(self, scale: ValueScale, rows: Iterable[tuple[date, float, str]], role: str) -> None:
        """Put a dot for each value, with what it says."""
        for on, value, says in rows:
            x, y = self.dates.middle(on), scale.y(value)
            self._parts.append(mark(Shape.DISC, x, y, role, says=says, size=DOT_PX))

    def unknown(self, scale: ValueScale, known: Iterable[date]) -> None:
        """Hatch the dates up to the last known one of which nothing is known."""
        held = {on for on in known if self.dates.holds(on)}
        days = (max(held) - self.dates.first).days if held else 0
        missing = [on for n in range(days) if (on := self.dates.first + n * DAY) not in held]
        for run in _runs(missing):
            x = self.dates.x(run[0])
            right = self.dates.x(run[-1] + DAY)
            height = scale.bottom - scale.top
            self._parts.append(box(x, scale.top, right - x, height, pattern=self._hatch))

    def drawn(self, title: str, said: str, today: date | None = None) -> str:
        """Return the picture, with `said` for who cannot see it; the axis lies behind all rows."""
        name, described = f"{self._identity}-title", f"{self._identity}-desc"
        behind = date_axis(self.dates, TOP_PX, self.y, self._tongue)
        if today is not None:
            behind += day_line(self.dates, today, self.y, self._tongue.say("season.today"))
        return element(
            "svg",
            element("title", escape(title), id=name)
            + element("desc", escape(said), id=described)
            + "".join((hatching(self._hatch), behind, *self._parts)),
            xmlns="http://www.w3.org/2000/svg",
            id=self._identity,
            viewBox=f"0 0 {number(self._width)} {number(self.y + AXIS_PX)}",
            width=self._width,
            height=self.y + AXIS_PX,
            role="img",
            aria_labelledby=f"{name} {described}",
        )

    def _bar(self, each: Bar) -> str:
        x, ends, high = self.dates.x(each.first), self.dates.x(each.last + DAY), LANE_PX - 4
        label = fitted(each.said, ends - x - 6)
        if label != each.said:
            label = fitted(each.short, ends - x - 6)
        pattern = self._hatch if each.hatched else ""
        drawn = box(x, self.y, ends - x, high, each.role, "edge", each.dashed, pattern)
        if label and each.hatched:
            # A plain ground keeps words on hatching readable.
            ground = min(wide(label) + 4, ends - x - 4)
            drawn += box(x + 2, self.y + 2, ground, high - 4, each.role)
        return drawn + words(x + 4, self.y + high - 5, label) if label else drawn

    def _clusters(self, marks: Iterable[Mark]) -> Iterator[list[Mark]]:
        near: list[Mark] = []
        for each in marks:
            if near and self.dates.x(each.on) - self.dates.x(near[0].on) >= MARK_PX + 1:
                yield near
                near = []
            near.append(each)
        if near:
            yield near


def _many(near: Sequence[Mark]) -> Mark:
    """Return one mark for several: it looks like the first that is no mere plan."""
    done = next((each for each in near if each.shape is not Shape.RING), near[0])
    says = "; ".join(each.says for each in near)
    return Mark(near[0].on, done.shape, done.role, str(len(near)), says)


# The parts; each returns SVG text.


def escape(text: str) -> str:
    """Return anybody's text fit to stand in SVG and HTML, in an element or in an attribute."""
    return html.escape(clean(text), quote=True)


def number(value: float) -> str:
    """Return a length for an attribute, to a tenth, without idle noughts."""
    if not math.isfinite(value):
        raise ValueError(f"a length must be a finite number, not {value}")
    text = f"{value:.1f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def element(tag: str, content: str = "", **attributes: str | float) -> str:
    """Return an element around SVG text; `text_anchor` is written text-anchor, `class_` class."""
    written = "".join(
        f' {name.rstrip("_").replace("_", "-")}="'
        f'{escape(value) if isinstance(value, str) else number(value)}"'
        for name, value in attributes.items()
        if value != ""
    )
    return f"<{tag}{written}>{content}</{tag}>" if content else f"<{tag}{written}/>"


def swatch(part: str) -> str:
    """Return a small picture for a legend; the words beside it say all, so readers skip it."""
    side = MARK_PX + 4
    view = f"0 0 {number(side)} {number(side)}"
    xmlns = "http://www.w3.org/2000/svg"
    return element(
        "svg", part, xmlns=xmlns, viewBox=view, width=side, height=side,
        aria_hidden="true", focusable="false",
    )  # fmt: skip


def words(
    x: float,
    y: float,
    text: str,
    role: str = "ink",
    anchor: str = "",
    size: float = TEXT_PX,
    *,
    bold: bool = False,
    halo: bool = False,
) -> str:
    """Return a line of text with its baseline at `y`; `anchor` is middle or end.

    A `halo` of the card's colour keeps lines that run behind it out of its letters.
    """
    return element(
        "text", escape(text), x=x, y=y, class_=f"f-{role} halo" if halo else f"f-{role}",
        text_anchor=anchor, font_size=size, font_weight="bold" if bold else "",
    )  # fmt: skip


def wide(text: str) -> float:
    """Return about how wide a text is drawn [px]."""
    return columns(clean(text)) * TEXT_PX * LETTER_WIDE


def fitted(text: str, room: float) -> str:
    """Return a text cut to a room [px], "" where not even three letters fit."""
    most = int(room / (TEXT_PX * LETTER_WIDE))
    shown = clean(text)
    if columns(shown) <= most:
        return shown
    return cut(shown, most) if most > LEAST_LETTERS else ""


def box(
    x: float,
    y: float,
    width: float,
    height: float,
    fill: str = "",
    line: str = "",
    dashed: bool = False,
    pattern: str = "",
) -> str:
    """Return a rectangle; `pattern` is the id of a `hatching` laid over the fill."""
    roles = [f"f-{fill}" if fill else "no-fill", f"s-{line}" if line else "", *_dash(dashed)]
    wide = max(width, 0.0)
    over = f"url(#{pattern})"
    return element(
        "rect", x=x, y=y, width=wide, height=height, class_=" ".join(filter(None, roles))
    ) + (element("rect", x=x, y=y, width=wide, height=height, fill=over) if pattern else "")


def line(
    x1: float, y1: float, x2: float, y2: float, role: str = "rule", *, dashed: bool = False
) -> str:
    """Return a straight line."""
    roles = " ".join((f"s-{role}", *_dash(dashed)))
    return element("line", x1=x1, y1=y1, x2=x2, y2=y2, class_=roles)


def hatching(identity: str) -> str:
    """Return the definition of slanted hatching, for a difference that needs no colour."""
    side = HATCHING_PX
    stripe = element("line", x1=0.0, y1=0.0, x2=0.0, y2=side, class_="s-edge")
    pattern = element(
        "pattern", stripe, id=identity, width=side, height=side,
        patternUnits="userSpaceOnUse", patternTransform="rotate(45)",
    )  # fmt: skip
    return element("defs", pattern)


def mark(
    shape: Shape,
    x: float,
    y: float,
    role: str,
    letter: str = "",
    says: str = "",
    size: float = MARK_PX,
) -> str:
    """Return a mark around a middle; `letter` stands in it, `says` is its text for the pointer."""
    content = element("title", escape(says)) if says else ""
    content += _outline(shape, x, y, size / 2, role)
    if letter and shape is Shape.CROSS:
        content += words(x + size / 2 + 1, y + 4, letter, role, bold=True)
    elif letter:
        ink = role if shape is Shape.RING else "on"
        tall = max(LEAST_TEXT_PX, size * min(0.75, 1.2 / len(letter)))
        content += words(x, y + tall * 0.36, letter, ink, "middle", tall, bold=True)
    return element("g", content)


def _outline(shape: Shape, x: float, y: float, half: float, role: str) -> str:
    match shape:
        case Shape.DISC:
            return element("circle", cx=x, cy=y, r=half, class_=f"f-{role}")
        case Shape.RING:
            ring = f"f-card s-{role}"
            return element("circle", cx=x, cy=y, r=half - 1, class_=ring, stroke_width=2.0)
        case Shape.SQUARE:
            return box(x - half, y - half, 2 * half, 2 * half, role)
        case Shape.TRIANGLE:
            corners = ((x, y - half), (x + half, y + half), (x - half, y + half))
            points = " ".join(f"{number(across)},{number(down)}" for across, down in corners)
            return element("polygon", points=points, class_=f"f-{role}")
        case Shape.CROSS:
            arm = half - 1
            left, right, top, foot = map(number, (x - arm, x + arm, y - arm, y + arm))
            strokes = f"M{left} {top}L{right} {foot}M{right} {top}L{left} {foot}"
            return element("path", d=strokes, class_=f"no-fill s-{role}", stroke_width=3.0)


def date_axis(scale: DateScale, top: float, bottom: float, tongue: Tongue) -> str:
    """Return ticks of weeks and names of months (or dates of Mondays) under a field.

    Lines run from `top` to `bottom`, the names stand under it; a name without room is left out.
    """
    parts = [line(scale.left, bottom, scale.right, bottom, "edge")]
    free, daily = 0.0, scale.day_px >= DAYS_FROM_DAY_PX
    for on in (scale.first + DAY * number for number in range(scale.days)):
        x = scale.x(on)
        weekly = on.weekday() == 0 and scale.day_px * WEEK >= LEAST_WEEK_PX
        if weekly or daily:
            parts.append(line(x, bottom, x, bottom + (4 if weekly else 2), "edge"))
        if on.day == 1:
            parts.append(line(x, top, x, bottom + 8))
        label = _date_label(on, scale, tongue)
        later = (on.replace(day=28) + 4 * DAY).replace(day=1)
        ends = scale.right if scale.day_px >= DATES_FROM_DAY_PX else scale.x(later)
        # Under a numbered day its number stands in the middle, under others it begins with them.
        begins = scale.middle(on) - wide(label) / 2 if daily else x + 2
        if label and begins >= free and begins + wide(label) <= ends + 4:
            parts.append(words(begins, bottom + 6 + TEXT_PX, label, "soft"))
            free = begins + wide(label) + 2
    return "".join(parts)


def _date_label(on: date, scale: DateScale, tongue: Tongue) -> str:
    """Return what stands under a date on the axis, "" where nothing does."""
    if scale.day_px < DATES_FROM_DAY_PX:
        return tongue.date("date.month", on) if on.day == 1 or on == scale.first else ""
    if on.weekday() == 0 or on == scale.first:
        return tongue.date("date.axis", on)
    return str(on.day) if scale.day_px >= DAYS_FROM_DAY_PX else ""


def day_line(scale: DateScale, on: date, bottom: float, label: str) -> str:
    """Return an upright line at a date with its name on top, turned inward near the right end."""
    if not scale.holds(on):
        return ""
    x = scale.middle(on)
    turned = x + wide(label) + 4 > scale.right
    upright = line(x, 0.0, x, bottom, "today", dashed=True)
    begins, anchor = (x - 3, "end") if turned else (x + 3, "")
    return upright + words(begins, TEXT_PX - 2, label, "today", anchor, bold=True)


def _dash(dashed: bool) -> tuple[str, ...]:
    return ("dashed",) if dashed else ()


def _runs(dates: Sequence[date]) -> Iterator[Sequence[date]]:
    """Yield the dates in runs without a gap."""
    start = 0
    for place in range(1, len(dates) + 1):
        if place == len(dates) or dates[place] - dates[place - 1] != DAY:
            yield dates[start:place]
            start = place


def round_step(step: float) -> float:
    """Return the round number (1, 2 or 5 with noughts) at or above a step over 0."""
    if not math.isfinite(step) or step <= 0:
        raise ValueError(f"step must be over 0, not {step}")
    power = 10.0 ** math.floor(math.log10(step))
    return next(nice * power for nice in (1.0, 2.0, 5.0, 10.0) if nice * power >= step * (1 - 1e-9))


LIGHT_INKS: MappingProxyType[str, str] = MappingProxyType(
    {
        **{role: LIGHT[role] for role in ("page", "card", "ink", "soft", "rule", "on", "link")},
        "due": "#0b4f6c",
        "held": "#6b4f88",
        "missed": "#8f3019",
        "edge": "#7a6d50",
        "straw": "#ecd9a0",
        "rest": "#f4ecd8",
        "leaf": "#c3dfb4",
        "fruit": "#f3c6b2",
        "root": "#d6cbe6",
        "warmth": "#e3a36a",
        "wet": "#2f7f9c",
        "cold": "#27548f",
        "today": "#8c1d5b",
    }
)
DARK_INKS: MappingProxyType[str, str] = MappingProxyType(
    {
        **{role: DARK[role] for role in ("page", "card", "ink", "soft", "rule", "link")},
        "on": DARK["page"],
        "due": "#7fc4ea",
        "held": "#c3a6e0",
        "missed": "#f29c92",
        "edge": "#a4987a",
        "straw": "#4d4220",
        "rest": "#2e2a1c",
        "leaf": "#2c4a26",
        "fruit": "#5a3022",
        "root": "#40345a",
        "warmth": "#b0753d",
        "wet": "#62b6d1",
        "cold": "#8fbdf0",
        "today": "#f09ac9",
    }
)


def picture_style() -> str:
    """Return the style sheet of all pictures, in light and in dark."""
    light, dark = (
        ";".join(f"--{role}:{colour}" for role, colour in inks.items())
        for inks in (LIGHT_INKS, DARK_INKS)
    )
    roles = "".join(
        f".f-{role}{{fill:var(--{role})}}.s-{role}{{stroke:var(--{role})}}" for role in LIGHT_INKS
    )
    return (
        f":root{{color-scheme:light dark;{light}}}\n"
        f"@media (prefers-color-scheme:dark){{:root{{{dark}}}}}\n"
        f"{roles}.no-fill{{fill:none}}.dashed{{stroke-dasharray:4 3}}\n"
        ".halo{stroke:var(--card);stroke-width:4px;paint-order:stroke}\n"
    )
