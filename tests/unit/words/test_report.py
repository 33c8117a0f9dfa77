"""The report of a rehearsed season: readable on a phone, without scripts, the same in numbers."""

from __future__ import annotations

import json
import re
from datetime import date, timedelta
from html.parser import HTMLParser
from xml.etree import ElementTree

import pytest
from msgspec import to_builtins
from msgspec.structs import replace

from strawbell.model.garden import Units
from strawbell.model.season import BatchReport, ReportDay, ReportFigure, SeasonReport
from strawbell.words.report import LEGEND, MOST_CLOSE_DAYS, report_html
from support.made_up_locale import TYPED, english_left, made_up_locale

FIRST = date(2012, 3, 1)
SVG = "{http://www.w3.org/2000/svg}"


def day(number: int, **figures: object) -> ReportDay:
    """Return a plain day of the season."""
    plain = ReportDay(FIRST + timedelta(days=number), 2.0, 11.0, 0.0, messages=1)
    return replace(plain, **figures)  # type: ignore[arg-type]


def season(*days: ReportDay, **changes: object) -> SeasonReport:
    """Return the report of a batch with some days."""
    listed = days or tuple(day(number) for number in range(50))
    batch = BatchReport(
        name="Row A",
        feed="Urea",
        days=listed,
        figures=(ReportFigure("feedings", "7", "6"),),
        planted=((listed[0].on, "tomato"),),
    )
    plain = SeasonReport(
        garden="Orchard corner",
        units=Units.METRIC,
        first=listed[0].on,
        last=listed[-1].on,
        forecast="The forecasts knew ten days ahead what came. Seed 1.",
        weather=("Weather by hours.",),
        notices=50,
        notices_per_week=7.0,
        batches=(batch,),
        plant_below_c=37.5,
    )
    return replace(plain, **changes)  # type: ignore[arg-type]


class _Checker(HTMLParser):
    """Collects what a page loads and runs, and whether its tags are closed."""

    VOID = frozenset({"meta", "br", "line", "rect", "circle", "path", "polygon", "img", "link"})

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.wrong: list[str] = []
        self.links: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag in ("script", "iframe", "object", "embed"):
            self.wrong.append(tag)
        self.wrong += [name for name, _ in attrs if name.startswith("on")]
        self.links += [value or "" for name, value in attrs if name in ("src", "href")]
        if tag not in self.VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        del tag, attrs

    def handle_endtag(self, tag: str) -> None:
        if self.open and self.open[-1] == tag:
            self.open.pop()
        else:
            self.wrong.append(f"/{tag}")


def test_the_page_runs_and_loads_nothing() -> None:
    """No script, no handler, no address; every tag closed."""
    checker = _Checker()
    checker.feed(report_html(season()))
    assert checker.wrong == []
    assert checker.open == []
    assert checker.links == []


def test_the_page_has_one_main_heading_and_each_level_stands_in_the_one_above() -> None:
    """Who listens to a page goes from heading to heading: garden, batch, picture (WCAG 2.2,
    technique H42 and G141, from memory)."""
    report = season(day(0, core_low_c=30.0, core_high_c=50.0))
    page = report_html(replace(report, batches=report.batches * 2))
    levels = [int(level) for level in re.findall(r"<h([1-6])", page)]
    assert levels[:2] == [1, 2]
    assert levels.count(1) == 1
    assert levels.count(2) == 2
    assert set(levels[2:]) == {2, 3}


def pictures(report: SeasonReport) -> dict[str, ElementTree.Element]:
    """Return the pictures drawn for a phone, by the end of their ids."""
    svgs = re.findall(r"<svg[^>]* id=.*?</svg>", report_html(report), flags=re.DOTALL)
    roots = [ElementTree.fromstring(each) for each in svgs]
    return {
        root.attrib["id"].split("-")[2]: root for root in roots if "narrow" in root.attrib["id"]
    }


def says(root: ElementTree.Element) -> list[str]:
    """Return what the marks of a picture say to the pointer."""
    titles = [group[0].text or "" for group in root.iter(f"{SVG}g")]
    return [part for title in titles for part in title.split("; ")]


def test_every_picture_is_valid_and_has_a_name() -> None:
    """Title and description, tied to the picture; ids come once on a page."""
    page = report_html(season())
    for root in pictures(season()).values():
        names = {element.get("id"): element for element in root.iter() if element.get("id")}
        labels = (root.get("aria-labelledby") or "").split()
        assert all(names[label].text for label in labels)
    identities = re.findall(r'\bid="([^"]+)"', page)
    assert len(identities) == len(set(identities))


def test_what_was_told_stands_over_what_the_calendar_did() -> None:
    """Each by its mark, and each mark in words."""
    days = (day(0, fed=True), day(1, held=True, fed=True), day(2, calendar_fed=True), day(30))
    drawn = pictures(season(*days))
    assert (
        says(drawn["saved"])
        == [
            "Thu 1 Mar: tomato went in",
            "Fri 2 Mar: feeding held",
            "Sat 3 Mar: fed",
        ]
        or says(drawn["saved"])[-1] == "Sat 3 Mar: fed"
    )


def test_the_first_weeks_end_some_days_after_the_planting() -> None:
    """So that a day is wide enough for a mark on a phone; without a planting, after six weeks."""
    days = tuple(day(number) for number in range(100))
    for planted, last in ((20, 30), (1, 13), (80, MOST_CLOSE_DAYS - 1)):
        report = season(*days)
        batch = replace(report.batches[0], planted=((days[planted].on, "tomato"),))
        title = pictures(replace(report, batches=(batch,)))["saved"][0].text or ""
        on = days[last].on
        assert title.endswith(f" to {on:%a} {on.day} {on:%b}")


def test_what_nothing_is_known_of_is_not_drawn() -> None:
    """And unknown weather is no bar and no band."""
    empty = replace(day(0), low_c=None, high_c=None, rain_mm=None, messages=0)
    bare = report_html(season(empty))
    assert "Nitrogen a bale" not in bare
    assert "How warm was it inside?" not in bare
    assert "Nights" not in bare
    assert "polygon class" not in bare
    full = day(
        0,
        core_low_c=30.0,
        core_high_c=50.0,
        nitrogen_given_g=60.0,
        nitrogen_left_low_g=40.0,
        nitrogen_left_high_g=60.0,
        dry_top_h=3.0,
        frost=True,
        alerts=("freeze",),
    )
    rich = report_html(season(full))
    for said in ("Nitrogen a bale", "How warm was it inside?", "Nights", "40 to 60"):
        assert said in rich


def test_a_frost_that_nobody_told_is_crossed() -> None:
    """And one that was told is a ring; the words are there for both."""
    drawn = pictures(season(day(0, frost=True, covered=True), day(40, frost=True)))["done"]
    assert says(drawn)[-2:] == [
        "Thu 1 Mar: frost at night, told",
        "Tue 10 Apr: frost at night, not told",
    ]
    assert len(list(drawn.iter(f"{SVG}path"))) == 1


def test_what_neither_did_is_not_a_row() -> None:
    """A dozen noughts would hide what differs."""
    report = season()
    figures = (ReportFigure("feedings", "7", "6"), ReportFigure("frosts", "0", "0"))
    page = report_html(replace(report, batches=(replace(report.batches[0], figures=figures),)))
    assert ">feedings<" in page
    assert ">frosts<" not in page


@pytest.mark.parametrize("units", Units)
def test_a_rehearsed_season_leaves_no_english(units: Units) -> None:
    """But for names, and what the rehearsal itself said."""
    full = day(0, core_low_c=3.0, core_high_c=5.0, frost=True, fed=True, nitrogen_given_g=9.0)
    with made_up_locale():
        html = report_html(season(full, day(1, held=True), units=units, forecast="", weather=()))
    said = re.sub(r"<style.*?</style>|<[^>]*>|&\w+;", " ", html, flags=re.DOTALL)
    labels = " ".join(re.findall(r'aria-label="([^"]*)"', html))
    names = f"Orchard corner Row Urea tomato feedings {TYPED}"
    assert sorted(set(english_left(f"{said} {labels}", names))) == []


def test_the_table_has_a_row_for_every_date_and_a_question_for_the_unknown() -> None:
    """The same numbers as the pictures, in words."""
    page = report_html(season(day(0, rain_mm=None, told=("feed (day 1)",), fed=True), day(1)))
    assert page.count('<th scope="row">Thu 1 Mar') == 1
    assert page.count('<th scope="row">Fri 2 Mar') == 1
    assert "<td>?</td>" in page
    assert "feed (day 1)" in page
    for column in ("Date", "Low", "Told", "Inside", "Nitrogen left", "Messages"):
        assert f'<th scope="col">{column}</th>' in page


def test_amounts_are_in_the_growers_units() -> None:
    """11 degC is 51.8 F, 25.4 mm an inch."""
    page = report_html(season(day(0, rain_mm=25.4), units=Units.US))
    assert "51.8" in page
    assert "°F" in page
    assert "1\N{NO-BREAK SPACE}in" in page
    assert "°C" not in page.partition("<details>")[2]


def test_scales_are_round_in_the_degrees_that_are_shown() -> None:
    """36 to 52 F, with the freeze at 32, goes from 30 to 60 by tens."""
    drawn = pictures(season(day(0), units=Units.US))["saved"]
    labels = [each.text or "" for each in drawn.iter(f"{SVG}text")]
    assert [each[:-3] for each in labels if each.endswith("°F")] == ["30", "40", "50", "60"]


def test_names_of_others_are_text_and_nothing_else() -> None:
    """A batch that is called like a script stays a name."""
    evil = '<script>alert("x")</script>"&'
    report = season(garden=evil)
    report = replace(
        report,
        batches=(replace(report.batches[0], name=evil, planted=((FIRST, evil),)),),
    )
    page = report_html(report)
    assert "<script" not in page
    checker = _Checker()
    checker.feed(page)
    assert checker.wrong == []


def test_every_mark_of_the_legend_has_a_shape_of_its_own() -> None:
    """No two are told apart by colour alone."""
    shapes = [shape for shape, _ in LEGEND.values()]
    assert len(set(shapes)) == len(shapes) == 5


def test_the_json_has_the_same_numbers() -> None:
    """It survives being written and read."""
    report = season(day(0, fed=True, nitrogen_given_g=60.0, rain_mm=None))
    document = json.loads(json.dumps(to_builtins(report), allow_nan=False))
    (batch,) = document["batches"]
    (only,) = batch["days"]
    assert (only["on"], only["fed"], only["nitrogen_given_g"]) == ("2012-03-01", True, 60.0)
    assert only["rain_mm"] is None
    assert batch["planted"] == [["2012-03-01", "tomato"]]
    assert (document["units"], document["notices"]) == ("metric", 50)
    assert batch["figures"] == [{"label": "feedings", "strawbell": "7", "calendar": "6"}]
