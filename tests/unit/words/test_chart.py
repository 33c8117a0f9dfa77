"""Pictures are sound SVG, say what they show, keep to their field, and stand out from the page."""

from __future__ import annotations

import math
import re
from datetime import date, timedelta
from itertools import pairwise
from xml.etree import ElementTree

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from strawbell.words.catalogue import BRITISH
from strawbell.words.chart import (
    DARK_INKS,
    LEAST_TEXT_PX,
    LIGHT_INKS,
    Bar,
    Chart,
    DateScale,
    Mark,
    Shape,
    ValueScale,
    box,
    date_axis,
    day_line,
    element,
    escape,
    fitted,
    hatching,
    line,
    mark,
    number,
    picture_style,
    round_step,
    swatch,
    wide,
    words,
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
SVG = "{http://www.w3.org/2000/svg}"
FIRST = date(2027, 4, 5)
SEASON = DateScale(FIRST, FIRST + timedelta(days=179), 0.0, 360.0)
CLOSE = DateScale(FIRST, FIRST + timedelta(days=19), 0.0, 360.0)
WEEKS = DateScale(FIRST, FIRST + timedelta(days=20), 0.0, 360.0)
LAST = FIRST + timedelta(days=19)
HOSTILE = "<script>alert(\"x\")</script> & 'y' \x1b[31m"
TEXT_AA, SHAPE_AA = 4.5, 3.0
"""WCAG 2.1, success criteria 1.4.3 and 1.4.11, level AA."""


def chart() -> Chart:
    """Return an empty chart of twenty days, 18 px each."""
    return Chart(FIRST, LAST, 424.0, "one", BRITISH)


def read(made: Chart) -> ElementTree.Element:
    """Return a chart as a parser of XML reads it."""
    return ElementTree.fromstring(made.drawn("Title", "What it shows"))


def drawn(part: str) -> ElementTree.Element:
    """Return a part as a parser of XML reads it."""
    return ElementTree.fromstring(f'<svg xmlns="http://www.w3.org/2000/svg">{part}</svg>')


def contrast(one: str, other: str) -> float:
    """Return the contrast ratio of two colours (WCAG 2.1, "contrast ratio")."""

    def luminance(colour: str) -> float:
        shares = [int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5)]
        linear = [s / 12.92 if s <= 0.04045 else ((s + 0.055) / 1.055) ** 2.4 for s in shares]
        return sum(w * s for w, s in zip((0.2126, 0.7152, 0.0722), linear, strict=True))

    low, high = sorted((luminance(one), luminance(other)))
    return (high + 0.05) / (low + 0.05)


@pytest.mark.parametrize("inks", [LIGHT_INKS, DARK_INKS], ids=["light", "dark"])
@pytest.mark.parametrize(("role", "ground"), TEXT_CONTRASTS)
def test_every_text_stands_out(inks: dict[str, str], role: str, ground: str) -> None:
    """At least 4.5 to 1 in light and in dark."""
    assert contrast(inks[role], inks[ground]) >= TEXT_AA


@pytest.mark.parametrize("inks", [LIGHT_INKS, DARK_INKS], ids=["light", "dark"])
@pytest.mark.parametrize(("role", "ground"), SHAPE_CONTRASTS)
def test_every_shape_stands_out(inks: dict[str, str], role: str, ground: str) -> None:
    """At least 3 to 1 in light and in dark."""
    assert contrast(inks[role], inks[ground]) >= SHAPE_AA


def test_light_and_dark_have_the_same_roles_and_the_style_names_each() -> None:
    """A role without a colour in the dark would vanish there."""
    assert set(LIGHT_INKS) == set(DARK_INKS)
    style = picture_style()
    assert all(f".f-{role}{{" in style and f"--{role}:" in style for role in LIGHT_INKS)
    assert set(re.findall(r"#[0-9a-f]{6}", style)) == {*LIGHT_INKS.values(), *DARK_INKS.values()}


def test_a_picture_is_one_image_with_title_and_description() -> None:
    """A screen reader reads its name and what it shows, by reference."""
    root = read(chart())
    assert root.tag == f"{SVG}svg"
    assert root.attrib["role"] == "img"
    ids = root.attrib["aria-labelledby"].split()
    named = {child.attrib["id"]: child.text for child in root if "id" in child.attrib}
    assert [named[each] for each in ids] == ["Title", "What it shows"]


def test_a_swatch_is_passed_over_by_screen_readers() -> None:
    """The words beside it say it already."""
    root = ElementTree.fromstring(swatch(mark(Shape.DISC, 8, 8, "due")))
    assert root.attrib["aria-hidden"] == "true"


@pytest.mark.parametrize("place", ["title", "text", "mark"])
def test_hostile_text_is_shown_literally(place: str) -> None:
    """Nothing anybody wrote becomes an element, an attribute or a control byte."""
    made, title = chart(), HOSTILE if place == "title" else "t"
    if place == "text":
        made.heading(HOSTILE)
    if place == "mark":
        made.marks("", [Mark(FIRST, Shape.RING, "due", "", HOSTILE)])
    text = made.drawn(title, title)
    root = ElementTree.fromstring(text)
    assert not [each for each in root.iter() if each.tag.endswith("script")]
    assert "\x1b" not in text
    assert any("<script>alert(\"x\")</script> & 'y'" in (each.text or "") for each in root.iter())


@given(st.text())
def test_any_text_can_stand_in_element_and_attribute(text: str) -> None:
    """Whatever is written, the picture stays well-formed."""
    ElementTree.fromstring(f'<svg title="{escape(text)}">{escape(text)}</svg>')


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf])
def test_a_length_that_is_no_number_is_refused(value: float) -> None:
    """A picture with "nan" in it shows nothing, without a word."""
    with pytest.raises(ValueError, match="finite"):
        number(value)


@pytest.mark.parametrize(
    ("value", "text"), [(3.0, "3"), (2.25, "2.2"), (-0.01, "0"), (0.06, "0.1")]
)
def test_lengths_are_short(value: float, text: str) -> None:
    """To a tenth of a pixel, without idle noughts."""
    assert number(value) == text


def test_attributes_are_named_as_svg_has_them() -> None:
    """Underscores are hyphens, a last one is dropped, empty ones are left out."""
    assert element("g", text_anchor="end", class_="a", rx="") == '<g text-anchor="end" class="a"/>'


def test_a_date_scale_shares_out_its_width() -> None:
    """The first date begins at the left, the last one ends at the right."""
    assert CLOSE.days == 20
    assert CLOSE.x(FIRST) == 0.0
    assert CLOSE.x(CLOSE.last) + CLOSE.day_px == pytest.approx(360.0)
    assert CLOSE.middle(FIRST) == pytest.approx(9.0)
    assert CLOSE.x(FIRST - timedelta(days=5)) == 0.0
    assert CLOSE.x(CLOSE.last + timedelta(days=5)) == 360.0
    assert CLOSE.holds(CLOSE.last)
    assert not CLOSE.holds(CLOSE.last + timedelta(days=1))


@pytest.mark.parametrize(
    ("step", "nice"), [(0.9, 1.0), (1.0, 1.0), (1.1, 2.0), (2.1, 5.0), (5.1, 10.0), (30.0, 50.0)]
)
def test_steps_are_round(step: float, nice: float) -> None:
    """1, 2 or 5, with noughts."""
    assert round_step(step) == pytest.approx(nice)


@pytest.mark.parametrize("step", [0.0, -1.0, math.nan])
def test_a_step_that_leads_nowhere_is_refused(step: float) -> None:
    """Neither back nor on the spot."""
    with pytest.raises(ValueError, match="step"):
        round_step(step)


@given(st.lists(st.floats(-60.0, 60.0), max_size=30))
@example([-5e-324])  # underflows to 0 when it is divided by a step
def test_a_value_scale_holds_every_value_between_round_ends(values: list[float]) -> None:
    """No value is drawn outside the field; the ticks lie in it too."""
    scale = ValueScale.over(values, 100.0, 0.0, 10.0)
    assert all(scale.low <= value <= scale.high for value in values)
    assert all(0.0 <= scale.y(value) <= 100.0 for value in (*values, *scale.ticks()))
    assert len(scale.ticks()) >= 2


def test_an_unknown_day_leaves_a_gap_in_the_band() -> None:
    """What is not known is neither warm nor cold."""
    days = [FIRST + timedelta(days=each) for each in range(5)]
    rows = [(on, None if on == days[2] else 4.0, 15.0) for on in days]
    made = chart()
    made.band(made.field(100.0, [0.0, 30.0], 10.0, str), rows, "warmth")
    shapes = read(made).findall(f"{SVG}polygon")
    across = [
        sorted(float(point.split(",")[0]) for point in shape.attrib["points"].split())
        for shape in shapes
    ]
    assert [(each[0], each[-1]) for each in across] == [(58.0, 94.0), (112.0, 148.0)]


def test_unknown_rain_and_none_have_no_bar_and_more_rain_has_a_taller_one() -> None:
    """The heights are in the proportion of the amounts."""
    days = [FIRST + timedelta(days=each) for each in range(4)]
    rows = list(zip(days, (None, 0.0, 10.0, 30.0), strict=True))
    made = chart()
    made.bars(made.field(96.0, [0.0, 30.0], 10.0, str), rows, "wet")
    heights = [float(each.attrib["height"]) for each in read(made).findall(f"{SVG}rect")]
    assert heights == pytest.approx([30.0, 90.0])


def test_what_lies_outside_the_dates_is_not_drawn() -> None:
    """Neither band, bar, mark nor line."""
    far, made = LAST + timedelta(days=1), chart()
    scale = made.field(96.0, [0.0, 30.0], 10.0, str)
    made.marks("", [])
    bare = made.drawn("", "")
    made.band(scale, [(far, 1.0, 2.0)], "warmth")
    made.bars(scale, [(far, 2.0)], "wet")
    assert made.drawn("", "") == bare
    made.marks("", [Mark(far, Shape.DISC, "due")])
    assert "<circle" not in made.drawn("", "")
    assert day_line(CLOSE, far, 10, "today") == ""


def test_days_before_the_last_known_one_are_hatched_and_none_after_it() -> None:
    """Unknown is not dry; what lies past the forecast is not unknown, it has not come."""
    made = chart()
    scale = made.field(96.0, [0.0, 30.0], 10.0, str)
    made.unknown(scale, [FIRST, FIRST + timedelta(days=3)])
    (hatched,) = (each for each in read(made).findall(f"{SVG}rect") if each.get("fill"))
    assert float(hatched.attrib["x"]) == pytest.approx(58.0 + 18.0)
    assert float(hatched.attrib["width"]) == pytest.approx(36.0)
    bare = chart()
    bare.unknown(bare.field(96.0, [0.0], 10.0, str), [])
    assert not read(bare).findall(f"{SVG}rect")


def test_marks_too_near_become_one_with_their_number_and_all_their_words() -> None:
    """It looks like what was done, where a mere plan stands beside it."""
    on = [FIRST + timedelta(days=each) for each in range(20)]
    made = Chart(FIRST, FIRST + timedelta(days=199), 424.0, "one", BRITISH)
    near = [Mark(on[0], Shape.RING, "due", "", "a"), Mark(on[1], Shape.DISC, "due", "", "b")]
    made.marks("Feed", [*near, Mark(on[19], Shape.SQUARE, "held", "R", "c")])
    groups = read(made).findall(f"{SVG}g")
    assert [group[0].text for group in groups] == ["a; b", "c"]
    assert [group[-1].text for group in groups] == ["2", "R"]
    assert groups[0].find(f"{SVG}circle").get("class") == "f-due"  # type: ignore[union-attr]


def test_a_bar_says_as_much_as_it_has_room_for() -> None:
    """The whole, else a short word, else nothing."""
    said = {}
    for days in (1, 3, 20):
        made = chart()
        last = FIRST + timedelta(days=days - 1)
        made.lane([Bar(FIRST, last, "conditioning", "feed", "straw", hatched=True)])
        texts = [e.text for e in read(made).findall(f"{SVG}text") if e.get("class") == "f-ink"]
        said[days] = texts
    assert said == {1: [], 3: ["feed"], 20: ["conditioning"]}


def test_a_step_rises_on_its_date() -> None:
    """Level on each day, upright between two that differ."""
    made = chart()
    rows = [(FIRST + timedelta(days=n), value) for n, value in enumerate((0.0, 0.0, 30.0))]
    scale = made.field(96.0, [0.0, 30.0], 10.0, str)
    made.steps(scale, rows, "due")
    drawn_lines = [e for e in read(made).findall(f"{SVG}line") if e.get("class") == "s-due"]
    assert len(drawn_lines) == 4
    assert [e.attrib["x1"] for e in drawn_lines if e.attrib["x1"] == e.attrib["x2"]] == ["94"]


@pytest.mark.parametrize("scale", [SEASON, CLOSE], ids=["season", "close"])
def test_names_on_the_axis_never_run_into_one_another(scale: DateScale) -> None:
    """Each begins after the one before it has ended, and all end inside the field."""
    root = drawn(date_axis(scale, 0, 100, BRITISH))
    labels = [(float(each.attrib["x"]), each.text or "") for each in root.findall(f"{SVG}text")]
    assert len(labels) >= 3
    assert all(x + wide(text) <= later for (x, text), (later, _) in pairwise(labels))
    assert labels[-1][0] + wide(labels[-1][1]) <= scale.right + 2


def test_a_season_names_months_and_a_close_view_names_mondays() -> None:
    """As much as there is room for."""
    season = [each.text for each in drawn(date_axis(SEASON, 0, 9, BRITISH)).findall(f"{SVG}text")]
    assert season == ["Apr", "May", "Jun", "Jul", "Aug", "Sept"]
    close = [each.text for each in drawn(date_axis(WEEKS, 0, 9, BRITISH)).findall(f"{SVG}text")]
    assert close == ["5 Apr", "12 Apr", "19 Apr"]


def test_days_with_room_are_numbered_under_their_middle() -> None:
    """Mondays and the first with their month."""
    days = DateScale(FIRST, FIRST + timedelta(days=8), 60.0, 420.0)
    daily = [each.text for each in drawn(date_axis(days, 0, 9, BRITISH)).findall(f"{SVG}text")]
    assert daily == ["5 Apr", "6", "7", "8", "9", "10", "11", "12 Apr", "13"]


def test_every_shape_has_an_outline_of_its_own() -> None:
    """Told apart without colour, each with its letter and its words."""
    outlines = set()
    for shape in Shape:
        (group,) = drawn(mark(shape, 20, 20, "held", "R", "Held for rain")).findall(f"{SVG}g")
        assert group[0].text == "Held for rain"
        assert group[-1].text == "R"
        body = group[1]
        outlines.add(
            (body.tag, len(body.attrib.get("points", "").split()), body.get("stroke-width"))
        )
        assert float(group[-1].attrib["font-size"]) >= LEAST_TEXT_PX
    assert len(outlines) == len(Shape)


def test_the_name_of_a_day_turns_inward_at_the_right_end() -> None:
    """It is never cut off by the edge."""
    for on, anchor in ((CLOSE.first, None), (CLOSE.last, "end")):
        (text,) = drawn(day_line(CLOSE, on, 90, "today")).findall(f"{SVG}text")
        assert text.get("text-anchor") == anchor


@pytest.mark.parametrize(
    ("room", "shown"), [(500.0, "Row A by the wall"), (80.0, "Row A by\u2026"), (20.0, "")]
)
def test_a_label_is_cut_to_its_room(room: float, shown: str) -> None:
    """Or left out where not even a few letters fit."""
    found = fitted("Row A by the wall", room)
    assert wide(found) <= room
    assert bool(found) == bool(shown)
    assert found[:4] == shown[:4]


def test_boxes_lines_and_hatching_carry_roles_and_no_colours() -> None:
    """Colours stand in the palette alone."""
    part = (
        hatching("slant")
        + box(0, 0, 10, 10, "straw", "edge", dashed=True, pattern="slant")
        + box(0, 0, -3, 10)
        + line(0, 0, 9, 9)
        + words(0, 0, "10 C")
    )
    root = drawn(part)
    assert "#" not in part.replace("url(#slant)", "")
    rects = root.findall(f"{SVG}rect")
    assert [each.attrib.get("class") for each in rects] == [
        "f-straw s-edge dashed",
        None,
        "no-fill",
    ]
    assert rects[2].attrib["width"] == "0"
    assert [each.text for each in root.findall(f"{SVG}text")] == ["10 C"]
