"""The parts pictures are drawn with: scales, axes, bands, bars, marks; each returns SVG text.

No part knows what it shows. Colours are roles of one palette (`LIGHT_INKS`, `DARK_INKS`), put in by
classes ("f-held" fills, "s-held" draws a line), so that one style sheet (`picture_style`) serves
light and dark, and a test can measure every contrast. A colour never stands alone: what it tells
is told by a shape, a pattern or a word too. All text goes through `escape`.
"""

from __future__ import annotations

import html
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum
from types import MappingProxyType

from strawbell.wording.html import DARK, LIGHT
from strawbell.wording.plain import clean, columns, cut
from strawbell.wording.voice import MONTHS

LIGHT_INKS: MappingProxyType[str, str] = MappingProxyType(
    {
        **{role: LIGHT[role] for role in ("page", "card", "ink", "soft", "rule", "on", "link")},
        **{role: LIGHT[role] for role in ("due", "held", "missed")},
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
        **{role: DARK[role] for role in ("page", "card", "ink", "soft", "rule", "on", "link")},
        **{role: DARK[role] for role in ("due", "held", "missed")},
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
TEXT_CONTRASTS: tuple[tuple[str, str], ...] = (
    *((text, ground) for text in ("ink", "soft", "link") for ground in ("page", "card")),
    *(("ink", ground) for ground in ("straw", "rest", "leaf", "fruit", "root")),
    *(("on", ground) for ground in ("due", "held", "missed", "cold")),
    ("today", "card"),
    ("cold", "card"),
)
"""Text on its ground: at least 4.5 to 1 (WCAG 2.1, criterion 1.4.3, level AA)."""
SHAPE_CONTRASTS: tuple[tuple[str, str], ...] = tuple(
    (shape, "card") for shape in ("edge", "due", "held", "missed", "wet", "cold", "today")
)
"""Shapes that carry meaning on the card: at least 3 to 1 (WCAG 2.1, criterion 1.4.11)."""

TEXT_PX = 12.0
"""Size of the words in a picture [px at its own width]."""
LETTER_WIDE = 0.6
"""A letter of a sans-serif face is about this share of its size wide (from memory, on the wide
side), so that a label that is let in never runs over [-]."""
MARK_PX = 13.0
"""Size of a mark [px]: large enough for the letter inside it."""
WEEK = 7
LEAST_WEEK_PX = 6.0
"""Ticks of weeks closer than this run into one another [px]."""
DATES_FROM_DAY_PX = 5.5
"""From this width of a day on, Mondays carry their date; below it, months their name [px]."""
DAY = timedelta(days=1)


class Shape(StrEnum):
    """The outline of a mark; no two are told apart by colour alone."""

    DISC = "disc"
    RING = "ring"
    SQUARE = "square"
    CROSS = "cross"
    DIAMOND = "diamond"
    TRIANGLE = "triangle"


@dataclass(frozen=True, slots=True)
class DateScale:
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


@dataclass(frozen=True, slots=True)
class ValueScale:
    """Values from `low` at `bottom` to `high` at `top` [px, downwards], in round `step`s."""

    low: float
    high: float
    bottom: float
    top: float
    step: float = 0.0
    """How far ticks are apart; 0 leaves it to about a third of the scale."""

    @classmethod
    def over(
        cls, values: Iterable[float], bottom: float, top: float, least_span: float, steps: int = 3
    ) -> ValueScale:
        """Return a scale with round ends that holds all values, over `least_span` at least."""
        known = [value for value in values if math.isfinite(value)] or [0.0]
        low, high = min(known), max(known)
        high = max(high, low + least_span)
        step = round_step((high - low) / steps)
        return cls(math.floor(low / step) * step, math.ceil(high / step) * step, bottom, top, step)

    def y(self, value: float) -> float:
        """Return where a value lies [px]; outside the scale, its nearer end."""
        share = (min(max(value, self.low), self.high) - self.low) / (self.high - self.low)
        return self.bottom + (self.top - self.bottom) * share

    def ticks(self) -> tuple[float, ...]:
        """Return the round values on the scale, from its low end to its high one."""
        step = self.step or round_step((self.high - self.low) / 3)
        first = math.ceil(self.low / step - 1e-9)
        last = math.floor(self.high / step + 1e-9)
        return tuple(number * step for number in range(first, last + 1))


def round_step(step: float) -> float:
    """Return the round number (1, 2 or 5 with noughts) at or above a step over 0."""
    if not math.isfinite(step) or step <= 0:
        raise ValueError(f"step must be over 0, not {step}")
    power = 10.0 ** math.floor(math.log10(step))
    return next(nice * power for nice in (1.0, 2.0, 5.0, 10.0) if nice * power >= step * (1 - 1e-9))


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


def picture(
    width: float, height: float, title: str, description: str, identity: str, parts: Iterable[str]
) -> str:
    """Return a whole picture that a screen reader reads as one: its title and its description.

    `identity` makes the ids on a page unique; it is a word of ASCII letters and hyphens.
    """
    return element(
        "svg",
        element("title", escape(title), id=f"{identity}-title")
        + element("desc", escape(description), id=f"{identity}-desc")
        + "".join(parts),
        xmlns="http://www.w3.org/2000/svg",
        id=identity,
        viewBox=f"0 0 {number(width)} {number(height)}",
        width=width,
        height=height,
        role="img",
        aria_labelledby=f"{identity}-title {identity}-desc",
    )


def swatch(parts: Iterable[str], width: float = MARK_PX + 4, height: float = MARK_PX + 4) -> str:
    """Return a small picture for a legend; the words beside it say all, so readers skip it."""
    return element(
        "svg",
        "".join(parts),
        xmlns="http://www.w3.org/2000/svg",
        viewBox=f"0 0 {number(width)} {number(height)}",
        width=width,
        height=height,
        aria_hidden="true",
        focusable="false",
    )


def words(
    x: float,
    y: float,
    text: str,
    role: str = "ink",
    anchor: str = "start",
    size: float = TEXT_PX,
    bold: bool = False,
) -> str:
    """Return a line of text with its baseline at `y`; `anchor` is start, middle or end."""
    weight = "bold" if bold else ""
    return element(
        "text",
        escape(text),
        x=x,
        y=y,
        class_=f"f-{role}",
        text_anchor="" if anchor == "start" else anchor,
        font_size=size,
        font_weight=weight,
    )


def wide(text: str, size: float = TEXT_PX) -> float:
    """Return about how wide a text is drawn [px]."""
    return columns(clean(text)) * size * LETTER_WIDE


def fitted(text: str, room: float, size: float = TEXT_PX, least: int = 3) -> str:
    """Return a text cut to a room [px], "" where not even `least` letters fit."""
    most = int(room / (size * LETTER_WIDE))
    shown = clean(text)
    if columns(shown) <= most:
        return shown
    return cut(shown, most) if most > least else ""


def box(
    x: float,
    y: float,
    width: float,
    height: float,
    fill: str = "",
    line: str = "",
    dashed: bool = False,
    corner: float = 0.0,
    pattern: str = "",
) -> str:
    """Return a rectangle; `pattern` is the id of a `hatching` laid over the fill."""
    roles = " ".join(
        [f"f-{fill}" if fill else "no-fill", *([f"s-{line}"] if line else []), *_dash(dashed)]
    )
    plain = element(
        "rect", x=x, y=y, width=max(width, 0.0), height=height, rx=corner or "", class_=roles
    )
    if not pattern:
        return plain
    over = element(
        "rect",
        x=x,
        y=y,
        width=max(width, 0.0),
        height=height,
        rx=corner or "",
        fill=f"url(#{pattern})",
    )
    return plain + over


def line(
    x1: float, y1: float, x2: float, y2: float, role: str = "rule", dashed: bool = False
) -> str:
    """Return a straight line."""
    roles = " ".join((f"s-{role}", *_dash(dashed)))
    return element("line", x1=x1, y1=y1, x2=x2, y2=y2, class_=roles)


def hatching(identity: str, role: str = "edge", every: float = 6.0) -> str:
    """Return the definition of slanted hatching, for a difference that needs no colour."""
    stripe = element("line", x1=0.0, y1=0.0, x2=0.0, y2=every, class_=f"s-{role}")
    return element(
        "defs",
        element(
            "pattern",
            stripe,
            id=identity,
            width=every,
            height=every,
            patternUnits="userSpaceOnUse",
            patternTransform="rotate(45)",
        ),
    )


def date_axis(scale: DateScale, top: float, bottom: float) -> str:
    """Return ticks of weeks and names of months (or dates of Mondays) under a field.

    Lines run from `top` to `bottom`, the names stand under it; a name without room is left out.
    """
    parts = []
    close = scale.day_px >= DATES_FROM_DAY_PX
    free = scale.left
    for on in _dates(scale):
        x = scale.x(on)
        if on.weekday() == 0 and scale.day_px * WEEK >= LEAST_WEEK_PX:
            parts.append(line(x, bottom, x, bottom + 4, "edge"))
        if on.day == 1:
            parts.append(line(x, top, x, bottom + 8, "rule"))
        if on.weekday() == 0 if close else on.day == 1 or on == scale.first:
            month = MONTHS[on.month - 1]
            label = f"{on.day} {month}" if close else month
            room = scale.right if close else min(_month_end(on, scale), scale.right)
            if x >= free and x + wide(label) <= room:
                parts.append(words(x + 2, bottom + 6 + TEXT_PX, label, "soft"))
                free = x + wide(label) + 4
    parts.append(line(scale.left, bottom, scale.right, bottom, "edge"))
    return "".join(parts)


def value_axis(
    dates: DateScale, values: ValueScale, labels: Sequence[tuple[float, str]], role: str = "soft"
) -> str:
    """Return level lines at values, each with its label inside the field at the left."""
    return "".join(
        line(dates.left, values.y(value), dates.right, values.y(value))
        + words(dates.left + 2, values.y(value) - 2, label, role, size=TEXT_PX - 1)
        for value, label in labels
    )


def band(
    dates: DateScale,
    values: ValueScale,
    rows: Iterable[tuple[date, float | None, float | None]],
    role: str,
) -> str:
    """Return the band between lows and highs; a date with either unknown leaves a gap."""
    known = {
        on: (low, high)
        for on, low, high in rows
        if low is not None and high is not None and dates.holds(on)
    }
    parts = []
    for run in _runs(sorted(known)):
        first, last = dates.x(run[0]), dates.x(run[-1]) + dates.day_px
        upper = [(dates.middle(on), values.y(known[on][1])) for on in run]
        lower = [(dates.middle(on), values.y(known[on][0])) for on in run]
        line_of = [
            (first, upper[0][1]), *upper, (last, upper[-1][1]),
            (last, lower[-1][1]), *reversed(lower), (first, lower[0][1]),
        ]  # fmt: skip
        points = " ".join(f"{number(x)},{number(y)}" for x, y in line_of)
        parts.append(element("polygon", points=points, class_=f"f-{role}"))
    return "".join(parts)


def bars(
    dates: DateScale, values: ValueScale, rows: Iterable[tuple[date, float | None]], role: str
) -> str:
    """Return an upright bar a date, from the low end of the scale; unknown and none have no bar."""
    slim = min(max(dates.day_px * 0.7, 1.2), 14.0)
    return "".join(
        box(
            dates.middle(on) - slim / 2,
            values.y(value),
            slim,
            values.bottom - values.y(value),
            role,
        )
        for on, value in rows
        if value is not None and value > values.low and dates.holds(on)
    )


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
    half = size / 2
    content = element("title", escape(says)) if says else ""
    content += _outline(shape, x, y, half, role)
    if letter:
        ink = role if shape in (Shape.RING, Shape.CROSS) else "on"
        content += words(x, y + size * 0.27, letter, ink, "middle", size * 0.75, bold=True)
    return element("g", content)


def day_line(scale: DateScale, on: date, top: float, bottom: float, label: str) -> str:
    """Return an upright line at a date with its name on top, turned inward near the right end."""
    if not scale.holds(on):
        return ""
    x = scale.middle(on)
    turned = x + wide(label) + 4 > scale.right
    return line(x, top, x, bottom, "today", dashed=True) + words(
        x - 3 if turned else x + 3,
        top + TEXT_PX - 2,
        label,
        "today",
        "end" if turned else "start",
        bold=True,
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
    )


def _outline(shape: Shape, x: float, y: float, half: float, role: str) -> str:
    if shape is Shape.DISC:
        return element("circle", cx=x, cy=y, r=half, class_=f"f-{role}")
    if shape is Shape.RING:
        return element(
            "circle", cx=x, cy=y, r=half - 1, class_=f"f-card s-{role}", stroke_width=2.0
        )
    if shape is Shape.SQUARE:
        return box(x - half, y - half, 2 * half, 2 * half, role)
    corners = {
        Shape.DIAMOND: ((x, y - half), (x + half, y), (x, y + half), (x - half, y)),
        Shape.TRIANGLE: ((x, y - half), (x + half, y + half), (x - half, y + half)),
    }.get(shape)
    if corners is not None:
        points = " ".join(f"{number(across)},{number(down)}" for across, down in corners)
        return element("polygon", points=points, class_=f"f-{role}")
    arm = half - 1
    strokes = (
        f"M{number(x - arm)} {number(y - arm)}L{number(x + arm)} {number(y + arm)}"
        f"M{number(x + arm)} {number(y - arm)}L{number(x - arm)} {number(y + arm)}"
    )
    return element("path", d=strokes, class_=f"no-fill s-{role}", stroke_width=3.0)


def _dash(dashed: bool) -> tuple[str, ...]:
    return ("dashed",) if dashed else ()


def _dates(scale: DateScale) -> Iterable[date]:
    return (scale.first + DAY * number for number in range(scale.days))


def _month_end(on: date, scale: DateScale) -> float:
    later = (on.replace(day=28) + 4 * DAY).replace(day=1)
    return scale.x(later)


def _runs(dates: Sequence[date]) -> Iterable[Sequence[date]]:
    """Yield the dates in runs without a gap."""
    start = 0
    for place in range(1, len(dates) + 1):
        if place == len(dates) or dates[place] - dates[place - 1] != DAY:
            yield dates[start:place]
            start = place
