"""The parts pictures are drawn with: scales, axes, bands, bars, marks; each returns SVG text.

No part knows what it shows. Colours are roles of one palette (`words.inks`), put in by classes
("f-held" fills, "s-held" draws a line). A colour never stands alone: what it tells is told by a
shape, a pattern or a word too. All text goes through `escape`.
"""

from __future__ import annotations

import html
import math
from collections.abc import Iterable, Sequence
from datetime import date, timedelta
from enum import StrEnum

from strawbell.words.catalogue import BRITISH, Tongue
from strawbell.words.escaping import clean, columns, cut
from strawbell.words.inks import DARK_INKS, LIGHT_INKS, picture_style
from strawbell.words.scales import DateScale, ValueScale, round_step

__all__ = [
    "DARK_INKS",
    "LIGHT_INKS",
    "MARK_PX",
    "TEXT_PX",
    "DateScale",
    "Shape",
    "ValueScale",
    "band",
    "bars",
    "box",
    "date_axis",
    "day_line",
    "element",
    "escape",
    "fitted",
    "hatching",
    "line",
    "mark",
    "number",
    "picture",
    "picture_style",
    "round_step",
    "swatch",
    "value_axis",
    "wide",
    "words",
]

TEXT_PX = 12.0
"""Size of the words in a picture [px at its own width]."""
LETTER_WIDE = 0.6
"""A letter of a sans-serif face is about this share of its size wide (from memory, on the wide
side), so that a label that is let in never runs over [-]."""
MARK_PX = 14.0
"""Size of a mark [px]: large enough for the letter inside it."""
SWATCH_PX = MARK_PX + 4
"""Side of a little picture in a legend [px]."""
HATCHING_PX = 6.0
"""Distance of the lines of a hatching [px]."""
LEAST_LETTERS = 3
"""A name cut to as few letters says nothing."""
WEEK = 7
LEAST_WEEK_PX = 6.0
"""Ticks of weeks closer than this run into one another [px]."""
DATES_FROM_DAY_PX = 5.5
"""From this width of a day on, Mondays carry their date; below it, months their name [px]."""
DAYS_FROM_DAY_PX = 18.0
"""From this width of a day on, every day is ticked and numbered where there is room [px]."""
SLIMMEST_BAR_PX = 2.0
DAY = timedelta(days=1)


class Shape(StrEnum):
    """The outline of a mark; no two are told apart by colour alone."""

    DISC = "disc"
    RING = "ring"
    SQUARE = "square"
    CROSS = "cross"
    DIAMOND = "diamond"
    TRIANGLE = "triangle"


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


def swatch(parts: Iterable[str]) -> str:
    """Return a small picture for a legend; the words beside it say all, so readers skip it."""
    return element(
        "svg",
        "".join(parts),
        xmlns="http://www.w3.org/2000/svg",
        viewBox=f"0 0 {number(SWATCH_PX)} {number(SWATCH_PX)}",
        width=SWATCH_PX,
        height=SWATCH_PX,
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
    halo: bool = False,
) -> str:
    """Return a line of text with its baseline at `y`; `anchor` is start, middle or end.

    A `halo` of the card's colour keeps lines that run behind it out of its letters.
    """
    weight = "bold" if bold else ""
    return element(
        "text",
        escape(text),
        x=x,
        y=y,
        class_=f"f-{role} halo" if halo else f"f-{role}",
        text_anchor="" if anchor == "start" else anchor,
        font_size=size,
        font_weight=weight,
    )


def wide(text: str, size: float = TEXT_PX) -> float:
    """Return about how wide a text is drawn [px]."""
    return columns(clean(text)) * size * LETTER_WIDE


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
    roles = " ".join(
        [f"f-{fill}" if fill else "no-fill", *([f"s-{line}"] if line else []), *_dash(dashed)]
    )
    plain = element("rect", x=x, y=y, width=max(width, 0.0), height=height, class_=roles)
    if not pattern:
        return plain
    over = element(
        "rect",
        x=x,
        y=y,
        width=max(width, 0.0),
        height=height,
        fill=f"url(#{pattern})",
    )
    return plain + over


def line(
    x1: float, y1: float, x2: float, y2: float, role: str = "rule", dashed: bool = False
) -> str:
    """Return a straight line."""
    roles = " ".join((f"s-{role}", *_dash(dashed)))
    return element("line", x1=x1, y1=y1, x2=x2, y2=y2, class_=roles)


def hatching(identity: str) -> str:
    """Return the definition of slanted hatching, for a difference that needs no colour."""
    stripe = element("line", x1=0.0, y1=0.0, x2=0.0, y2=HATCHING_PX, class_="s-edge")
    return element(
        "defs",
        element(
            "pattern",
            stripe,
            id=identity,
            width=HATCHING_PX,
            height=HATCHING_PX,
            patternUnits="userSpaceOnUse",
            patternTransform="rotate(45)",
        ),
    )


def date_axis(scale: DateScale, top: float, bottom: float, tongue: Tongue = BRITISH) -> str:
    """Return ticks of weeks and names of months (or dates of Mondays) under a field.

    Lines run from `top` to `bottom`, the names stand under it; a name without room is left out.
    """
    parts = []
    free = 0.0
    for on in _dates(scale):
        x = scale.x(on)
        weekly = on.weekday() == 0 and scale.day_px * WEEK >= LEAST_WEEK_PX
        if weekly or scale.day_px >= DAYS_FROM_DAY_PX:
            parts.append(line(x, bottom, x, bottom + (4 if weekly else 2), "edge"))
        if on.day == 1:
            parts.append(line(x, top, x, bottom + 8, "rule"))
        label = _date_label(on, scale, tongue)
        ends = scale.right if scale.day_px >= DATES_FROM_DAY_PX else _month_end(on, scale)
        # Under a numbered day its number stands in the middle, under others it begins with them.
        begins = x + 2
        if scale.day_px >= DAYS_FROM_DAY_PX:
            begins = scale.middle(on) - wide(label) / 2
        if label and begins >= free and begins + wide(label) <= ends + 4:
            parts.append(words(begins, bottom + 6 + TEXT_PX, label, "soft"))
            free = begins + wide(label) + 2
    parts.append(line(scale.left, bottom, scale.right, bottom, "edge"))
    return "".join(parts)


def _date_label(on: date, scale: DateScale, tongue: Tongue) -> str:
    """Return what stands under a date on the axis, "" where nothing does."""
    if scale.day_px < DATES_FROM_DAY_PX:
        return tongue.date("date.month", on) if on.day == 1 or on == scale.first else ""
    if on.weekday() == 0 or on == scale.first:
        return tongue.date("date.axis", on)
    return str(on.day) if scale.day_px >= DAYS_FROM_DAY_PX else ""


def value_axis(dates: DateScale, values: ValueScale, labels: Sequence[tuple[float, str]]) -> str:
    """Return level lines at values, each with its label in the margin left of the field."""
    return "".join(
        line(dates.left, values.y(value), dates.right, values.y(value))
        + words(dates.left - 4, values.y(value) + 4, label, "soft", "end", TEXT_PX - 1)
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
    slim = min(max(dates.day_px * 0.7, SLIMMEST_BAR_PX), 14.0)
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
        low, tall = (0.42, 0.6) if shape is Shape.TRIANGLE else (0.27, 0.75)
        tall = min(tall, (1.0 if shape is Shape.RING else 1.2) / len(letter))
        content += words(x, y + size * low, letter, ink, "middle", size * tall, bold=True)
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
    return min(scale.x(later), scale.right)


def _runs(dates: Sequence[date]) -> Iterable[Sequence[date]]:
    """Yield the dates in runs without a gap."""
    start = 0
    for place in range(1, len(dates) + 1):
        if place == len(dates) or dates[place] - dates[place - 1] != DAY:
            yield dates[start:place]
            start = place
