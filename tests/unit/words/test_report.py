"""The report of a rehearsed season: readable on a phone, without scripts, the same in numbers."""

from __future__ import annotations

import json
import re
from datetime import date, timedelta
from html.parser import HTMLParser
from xml.etree import ElementTree

import pytest
from msgspec.structs import replace

from strawbell.model.garden import Units
from strawbell.model.report import BatchReport, ReportDay, ReportFigure, SeasonReport
from strawbell.words.report import COLUMNS, report_html, report_json
from strawbell.words.report_picture import SHEET_DAYS, legend, sheets

FIRST = date(2012, 3, 1)


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


def test_every_picture_is_valid_and_says_in_words_what_it_shows() -> None:
    """Title and description, tied to the picture; ids come once on a page."""
    report = season(day(0, fed=True), day(1, held=True), day(2, calendar_fed=True))
    (sheet,) = sheets(report, report.batches[0], 0)
    root = ElementTree.fromstring(sheet.svg)
    names = {element.get("id"): element for element in root.iter() if element.get("id")}
    labels = (root.get("aria-labelledby") or "").split()
    said = " ".join(names[label].text or "" for label in labels)
    assert "Fed on Thu 1 Mar." in said
    assert "Feeding held on Fri 2 Mar." in said
    assert "The calendar fed on Sat 3 Mar." in said
    page = report_html(season())
    identities = re.findall(r'\bid="([^"]+)"', page)
    assert len(identities) == len(set(identities))


@pytest.mark.parametrize(
    ("days", "count"), [(1, 1), (SHEET_DAYS, 1), (SHEET_DAYS + 1, 2), (200, 5)]
)
def test_six_weeks_make_a_sheet(days: int, count: int) -> None:
    """So a phone can read it."""
    report = season(*(day(number) for number in range(days)))
    assert len(sheets(report, report.batches[0], 0)) == count


def test_a_field_of_which_nothing_is_known_is_left_out() -> None:
    """And unknown weather is no bar and no band."""
    empty = replace(day(0), low_c=None, high_c=None, rain_mm=None, messages=0)
    report = season(empty)
    (bare,) = sheets(report, report.batches[0], 0)
    for head in ("Air", "Core", "Nitrogen", "Hours", "Messages", "Nights", "Alerts"):
        assert f">{head}" not in bare.svg
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
    report = season(full)
    (rich,) = sheets(report, report.batches[0], 0)
    for head in ("Air", "Core", "Nitrogen", "Hours", "Messages", "Nights", "Alerts"):
        assert f">{head}" in rich.svg


def test_a_frost_that_nobody_told_is_crossed() -> None:
    """And one that was told is a diamond; the words are there for both."""
    report = season(day(0, frost=True, covered=True), day(1, frost=True))
    (sheet,) = sheets(report, report.batches[0], 0)
    assert "Night after Thu 1 Mar: told" in sheet.svg
    assert "Night after Fri 2 Mar: not told" in sheet.svg
    assert "of them not told: 1" in sheet.svg


def test_the_table_has_a_row_for_every_date_and_a_question_for_the_unknown() -> None:
    """The same numbers as the pictures, in words."""
    page = report_html(season(day(0, rain_mm=None, told=("feed (day 1)",), fed=True), day(1)))
    assert page.count('<th scope="row">Thu 1 Mar') == 1
    assert page.count('<th scope="row">Fri 2 Mar') == 1
    assert "<td>?</td>" in page
    assert "feed (day 1)" in page
    for column in COLUMNS:
        assert f'<th scope="col">{column}</th>' in page


def test_amounts_are_in_the_growers_units() -> None:
    """11 degC is 51.8 F, 25.4 mm an inch."""
    page = report_html(season(day(0, rain_mm=25.4), units=Units.US))
    assert "51.8" in page
    assert "°F" in page
    assert "1\N{NO-BREAK SPACE}in" in page
    assert "°C" not in page.partition("<details>")[2]


def test_scales_are_round_in_the_degrees_that_are_shown() -> None:
    """36 to 52 F goes from 30 to 60 by tens, and the freeze lies at 32."""
    report = season(day(0), units=Units.US)
    (sheet,) = sheets(report, report.batches[0], 0)
    labels = re.findall(r">(\d+)\s°F<", sheet.svg)
    assert labels == ["30", "40", "50", "60"]


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
    shapes = [re.sub(r'class="[^"]*"', "", picture) for picture, _ in legend()]
    assert len(set(shapes)) == len(shapes) == 6


def test_the_json_has_the_same_numbers() -> None:
    """It survives being written and read."""
    report = season(day(0, fed=True, nitrogen_given_g=60.0, rain_mm=None))
    document = json.loads(json.dumps(report_json(report), allow_nan=False))
    (batch,) = document["batches"]
    (only,) = batch["days"]
    assert (only["on"], only["fed"], only["nitrogen_given_g"]) == ("2012-03-01", True, 60.0)
    assert only["rain_mm"] is None
    assert batch["planted"] == [["2012-03-01", "tomato"]]
    assert (document["units"], document["notices"]) == ("metric", 50)
    assert batch["figures"] == [{"label": "feedings", "strawbell": "7", "calendar": "6"}]
