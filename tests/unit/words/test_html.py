"""The page reads without pictures, in light and dark, on a phone, and to a screen reader."""

from __future__ import annotations

import re
import subprocess
import sys
from html.parser import HTMLParser
from itertools import pairwise

import pytest

from strawbell.model.garden import Units
from strawbell.words.html import DARK, LIGHT, brief_html, letter_html, strip
from strawbell.words.voice import Voice
from support.briefs import (
    TODAY,
    brief,
    catch_up_brief,
    days_ahead,
    feeding_brief,
    fresh_use,
    frost_brief,
    garden,
    hot_brief,
    unjudged_brief,
)

CONTRASTS: tuple[tuple[str, str], ...] = (
    *((text, ground) for text in ("ink", "soft", "link") for ground in ("page", "card", "warn")),
    *(("ink", ground) for ground in ("cold", "hot", "wet")),
    *((text, "card") for text in ("due", "held", "done", "missed")),
    *(("on", ground) for ground in ("due", "held", "done", "missed")),
)
"""Every pair of text and ground that the templates put together."""
MORNINGS = (feeding_brief, frost_brief, unjudged_brief, hot_brief, catch_up_brief, brief)
VOID = {"meta", "br", "img", "link", "hr", "input"}
WCAG_AA = 4.5
"""Least contrast of ordinary text: WCAG 2.2, success criterion 1.4.3."""


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


def test_every_colour_on_the_page_comes_from_the_palette() -> None:
    html = "".join(morning() for morning in (lambda: brief_html(frost_brief(), garden()),))
    assert set(re.findall(r"#[0-9a-f]{6}", html)) <= {*LIGHT.values(), *DARK.values()}
    assert "dark" in DARK or len(DARK) == len(LIGHT)


@pytest.mark.parametrize("morning", MORNINGS)
@pytest.mark.parametrize("units", Units)
def test_the_page_is_well_formed_and_needs_nothing_from_outside(
    morning: object, units: Units
) -> None:
    html = brief_html(morning(), garden(units))  # type: ignore[operator]
    page = Page(html)
    assert page.open == []
    names = {name for name, _ in page.tags}
    assert not names & {"img", "script", "link", "iframe", "object", "form", "svg", "video"}
    assert "url(" not in html
    assert "@import" not in html
    links = [attributes["href"] for attributes in page.all("a")]
    assert set(links) <= {"https://open-meteo.com/"}
    assert len(html.encode()) < 100_000, "one large provider cuts mails at 102 kB"
    for flaw in ("None", "nan", "Undefined"):
        assert flaw not in page.text


def test_the_page_says_its_language_its_schemes_and_its_width() -> None:
    page = Page(brief_html(feeding_brief(), garden()))
    assert page.all("html")[0]["lang"] == "en"
    metas = {meta.get("name"): meta.get("content") for meta in page.all("meta")}
    assert metas["color-scheme"] == "light dark"
    assert metas["viewport"] == "width=device-width, initial-scale=1"
    assert any("max-width:600px" in (each.get("style") or "") for each in page.all("table"))


def test_tables_of_layout_say_so_and_the_strip_has_real_headers() -> None:
    page = Page(brief_html(feeding_brief(), garden()))
    data = [table for table in page.all("table") if table.get("role") != "presentation"]
    assert len(data) == 1
    assert data[0]["aria-label"]
    scopes = [head["scope"] for head in page.all("th")]
    assert scopes.count("col") == 7
    assert scopes.count("row") == 4


@pytest.mark.parametrize("morning", MORNINGS)
def test_headings_go_down_by_one_and_there_is_one_of_the_first(morning: object) -> None:
    page = Page(brief_html(morning(), garden()))  # type: ignore[operator]
    levels = [int(name[1]) for name, _ in page.tags if re.fullmatch(r"h[1-6]", name)]
    assert levels.count(1) == 1
    assert levels[0] == 1
    assert all(after - before <= 1 for before, after in pairwise(levels))


def test_task_and_dose_come_first_then_why_then_the_days_then_cautions() -> None:
    text = Page(brief_html(feeding_brief(), garden())).text
    order = (
        "Due today",
        "Feed Row A and Row C",
        "500\u00a0g",
        "Blood meal, 4.5\u00a0kg in all",
        "Why?",
        "Days ahead",
        "Take care",
        "Forecast: open-meteo",
    )
    found = text.partition("Today: ")[2]
    places = [found.index(part.replace("\u00a0", " ")) for part in order]
    assert places == sorted(places)


def test_a_hold_shows_until_when_and_what_instead() -> None:
    text = Page(brief_html(frost_brief(), garden())).text
    for part in ("Hold the feed on Row A", "Until tomorrow, Sat 10 Apr", "Drain the hose"):
        assert part in text
    assert "−3.1 °C" in text, "a real minus in print"


def test_without_a_forecast_the_page_says_so_beside_the_task() -> None:
    text = Page(brief_html(unjudged_brief(), garden())).text
    assert "Not checked against the weather" in text
    assert "No usable forecast" in text
    assert "A question mark is unknown, not zero." in text


def test_the_strip_marks_frost_heat_and_heavy_rain_in_words_and_unknown_as_unknown() -> None:
    days = strip(days_ahead(), Voice.of(garden(), TODAY))
    assert [(day.weekday, day.number) for day in days[:2]] == [("Sat", "10"), ("Sun", "11")]
    assert (days[0].low.value, days[0].low.word, days[0].low.ground) == ("-3", "frost", "cold")
    assert (days[2].rain.value, days[2].rain.word) == ("16.2", "heavy")
    assert (days[6].high.value, days[6].high.word) == ("31", "hot")
    assert (days[5].high.value, days[5].rain.word) == ("?", "unknown")
    assert days[4].tasks == ("Cover", "Water")
    assert days[1].low.ground == ""


@pytest.mark.parametrize(
    ("rain_mm", "chance", "heavy"),
    [(12.6, 90.0, False), (12.7, 90.0, True), (12.7, 49.0, False), (12.7, None, True)],
)
def test_the_strip_marks_rain_by_the_gardens_own_rule(
    rain_mm: float, chance: float | None, heavy: bool
) -> None:
    from dataclasses import replace

    from strawbell.model.forecast import DayWeather

    weather = DayWeather(5.0, 9.0, rain_mm, chance, True)
    (day, *_) = strip((replace(days_ahead()[0], weather=weather),), Voice.of(garden(), TODAY))
    assert (day.rain.word == "heavy") is heavy


def test_a_cell_with_many_tasks_counts_the_rest() -> None:
    from dataclasses import replace

    from strawbell.model.brief import Action
    from support.briefs import watering

    actions = (Action.FEED, Action.WATER, Action.PLANT, Action.MULCH)
    tasks = tuple(watering(action=action) for action in actions)
    (day, *_) = strip((replace(days_ahead()[0], tasks=tasks),), Voice.of(garden(), TODAY))
    assert day.tasks == ("Feed", "Plant", "+2")


def test_a_link_that_is_not_plain_http_is_no_link() -> None:
    for url in ("javascript:alert(1)", "https://a b", "http://x\n", 'https://x"onclick="y'):
        page = Page(brief_html(feeding_brief(forecast=fresh_use(attribution_url=url)), garden()))
        assert all("onclick" not in attributes for _, attributes in page.tags)
        assert not any((each["href"] or "").startswith("javascript") for each in page.all("a"))


def test_a_letter_is_a_whole_page_too() -> None:
    page = Page(letter_html("Title", "Orchard corner", "Friday", "A heading", ("A sentence.",)))
    assert page.open == []
    assert "A heading A sentence." in page.text


def test_commands_that_print_no_page_do_not_load_the_template_library() -> None:
    """The import of every wording module leaves Jinja2 alone until a page is rendered."""
    code = (
        "import sys, strawbell.words.notices, strawbell.words.terminal, "
        "strawbell.words.json_v1; sys.exit('jinja2' in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
