"""The page reads without pictures, in light and dark, on a phone, and to a screen reader."""

from __future__ import annotations

import re
import subprocess
import sys
from collections.abc import Callable
from datetime import UTC, datetime
from html.parser import HTMLParser

import pytest
from msgspec.structs import replace

from strawbell.model.brief import Brief
from strawbell.model.garden import Units
from strawbell.model.notice import Useful
from strawbell.words.asking import addressed
from strawbell.words.morning import morning_page
from strawbell.words.notices import morning_notice
from strawbell.words.page import DARK, LIGHT, Mood, page_html
from support.briefs import (
    brief,
    catch_up_brief,
    feeding_brief,
    fresh_use,
    frost_brief,
    garden,
    held_feeding,
    hot_brief,
    unjudged_brief,
)

CONTRASTS: tuple[tuple[str, str], ...] = (
    *((text, "card") for text in ("ink", "soft", "link")),
    *(("on", ground) for ground in ("due", "held", "missed", "done", "act", "dry")),
    ("note-ink", "note"),
    ("ink", "quiet"),
)
"""Every pair of text and ground that the templates put together."""
MORNINGS = (feeding_brief, frost_brief, unjudged_brief, hot_brief, catch_up_brief, brief)
NOW = datetime(2027, 4, 9, 4, 30, tzinfo=UTC)
VOID = {"meta", "br", "img", "link", "hr", "input"}
WCAG_AA, SHAPE_AA = 4.5, 3.0
"""Least contrast of ordinary text, and of what carries meaning without letters: WCAG 2.2, success
criteria 1.4.3 and 1.4.11."""


def shown(made: Brief, units: Units = Units.METRIC) -> str:
    """Return a morning as a recipient gets it."""
    notice = morning_notice(made, garden(units), Useful(NOW, NOW))
    return addressed(notice, "bales@example.org", "token", "[40V71-STNWB]").html


class Page(HTMLParser):
    """Reads a page: its tags with attributes, its text, and whether every tag is closed."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.open: list[str] = []
        self.words: list[str] = []
        self.feed(html)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        if "style" not in self.open:
            self.words.append(data)

    @property
    def text(self) -> str:
        """Return all text in reading order, blanks put together."""
        return " ".join("".join(self.words).split())

    def all(self, tag: str) -> list[dict[str, str | None]]:
        """Return the attributes of every such tag."""
        return [attributes for name, attributes in self.tags if name == tag]


def luminance(colour: str) -> float:
    """Return the relative luminance of #rrggbb (WCAG 2.2, "relative luminance")."""
    parts = (int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5))
    red, green, blue = (
        part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts
    )
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    """Return the contrast ratio of two colours (WCAG 2.2, "contrast ratio")."""
    low, high = sorted((luminance(one), luminance(other)))
    return (high + 0.05) / (low + 0.05)


def test_the_measure_of_contrast_is_right() -> None:
    """Black on white is 21:1 by definition; #767676 on white is the well-known 4.54:1."""
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)
    assert contrast("#767676", "#ffffff") == pytest.approx(4.54, abs=0.01)


@pytest.mark.parametrize("palette", [LIGHT, DARK], ids=["light", "dark"])
@pytest.mark.parametrize(("text", "ground"), CONTRASTS)
def test_every_text_stands_out_from_its_ground(
    palette: dict[str, str], text: str, ground: str
) -> None:
    assert contrast(palette[text], palette[ground]) >= WCAG_AA


@pytest.mark.parametrize("palette", [LIGHT, DARK], ids=["light", "dark"])
@pytest.mark.parametrize("bar", ["high", "low"])
def test_every_bar_stands_out_from_the_card(palette: dict[str, str], bar: str) -> None:
    assert contrast(palette[bar], palette["card"]) >= SHAPE_AA


def test_every_colour_on_the_page_comes_from_the_palette() -> None:
    html = "".join(shown(morning()) for morning in MORNINGS)
    assert set(re.findall(r"#[0-9a-f]{6}", html)) <= {*LIGHT.values(), *DARK.values()}
    assert set(DARK) == set(LIGHT)


@pytest.mark.parametrize("morning", MORNINGS)
@pytest.mark.parametrize("units", Units)
def test_the_page_is_well_formed_and_needs_nothing_from_outside(
    morning: Callable[[], Brief], units: Units
) -> None:
    html = shown(morning(), units)
    page = Page(html)
    assert page.open == []
    names = {name for name, _ in page.tags}
    assert not names & {"img", "script", "link", "iframe", "object", "form", "svg", "video"}
    assert "url(" not in html
    assert "@import" not in html
    links = [attributes["href"] for attributes in page.all("a")]
    assert all(
        link == "https://open-meteo.com/" or str(link).startswith("mailto:bales@example.org?")
        for link in links
    )
    assert len(html.encode()) < 100_000, "one large provider cuts mails at 102 kB"
    for flaw in ("None", "nan", "Undefined"):
        assert flaw not in page.text


def test_the_page_says_its_language_its_schemes_and_its_width() -> None:
    page = Page(shown(feeding_brief()))
    assert page.all("html")[0]["lang"] == "en-GB"
    metas = {meta.get("name"): meta.get("content") for meta in page.all("meta")}
    assert metas["color-scheme"] == "light dark"
    assert metas["viewport"] == "width=device-width, initial-scale=1"
    assert any("max-width:560px" in (each.get("style") or "") for each in page.all("table"))


def test_tables_of_layout_say_so_and_the_strip_has_real_headers() -> None:
    page = Page(shown(feeding_brief()))
    data = [table for table in page.all("table") if table.get("role") != "presentation"]
    assert len(data) == 1
    assert data[0]["aria-label"]
    assert [head["scope"] for head in page.all("th")] == ["col"] * 7


def test_a_screen_reader_hears_the_work_first_and_the_source_last() -> None:
    text = Page(shown(feeding_brief())).text
    order = (
        "Today, Friday 9 April",
        "Feed all 9 bales",
        "500 g",
        "blood meal each",
        "4.5 kg and 36 L in all.",
        "Why:",
        "Done",
        "No reply means done.",
        "Next",
        "How",
        "Care",
        "Orchard corner, Fri 9 Apr.",
    )
    start = text.index("Today, Friday")
    places = [text.replace("\u00a0", " ").index(part, start) for part in order]
    assert places == sorted(places)


def test_a_hold_shows_until_when_and_what_instead() -> None:
    text = Page(shown(frost_brief())).text
    for part in ("don't feed today", "Tomorrow at the earliest", "Empty the hose"):
        assert part in text
    assert "\u22123" in text, "a real minus in print"


def test_every_state_has_a_band_of_its_own_and_says_it_in_words() -> None:
    """Colour alone would tell nothing to who does not see it, or prints the mail."""
    bands = {}
    for made in (feeding_brief(), brief(held_feeding()), hot_brief(), brief()):
        page = morning_page(made, garden(), typographic=True)
        bands[page.band.mood] = page.band.heading
        assert f'bgcolor="{LIGHT[page.band.mood.value]}"' in shown(made)
    assert len(bands) == len(Mood)
    assert bands[Mood.WAIT] == "Row A: don't feed today"


def test_a_link_that_is_not_plain_http_is_no_link() -> None:
    for url in ("javascript:alert(1)", "https://a b", "http://x\n", 'https://x"onclick="y'):
        page = Page(shown(feeding_brief(forecast=fresh_use(attribution_url=url))))
        assert all("onclick" not in attributes for _, attributes in page.tags)
        assert not any((each["href"] or "").startswith("javascript") for each in page.all("a"))


def test_commands_that_print_no_page_do_not_load_the_template_library() -> None:
    """The import of every wording module leaves Jinja2 alone until a page is rendered."""
    code = (
        "import sys, strawbell.words.notices, strawbell.words.terminal, "
        "strawbell.words.documents; sys.exit('jinja2' in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


WIDE = {" ": 0.3, "i": 0.35, "l": 0.35, "r": 0.5, "m": 1.0, "w": 0.9, "W": 1.05}
"""Shares of its size that a bold sign of a sans-serif face is wide; 0.68 for others (from memory,
on the wide side)."""
PHONE_PX, PADDING_PX = 360, 20


@pytest.mark.parametrize("large", ["Tomorrow", "Wednesday", "7 in 10", "500 g", "18 April"])
def test_large_figures_side_by_side_never_run_into_each_other(large: str) -> None:
    """On the narrowest phone; alone a figure has the whole width."""
    page = morning_page(feeding_brief(), garden())
    for figures in (1, 2):
        band = replace(page.band, figures=((large, "at the earliest"),) * figures)
        html = page_html(replace(page, band=band))
        sizes = {int(each) for each in re.findall(r"<strong [^>]*font-size:(\d+)px", html)}
        (size,) = sizes - {16, 17, 18}
        room = (PHONE_PX - 2 * PADDING_PX) / figures - 10
        assert sum(WIDE.get(sign, 0.68) for sign in large) * size <= room
