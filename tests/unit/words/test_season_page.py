"""The page of a season shows every batch and event twice: as a sign, and in words.

It needs nothing from outside, is sound HTML and SVG, and shows hostile names literally.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from html.parser import HTMLParser
from xml.etree import ElementTree

import pytest
from msgspec.structs import replace

from strawbell.model.brief import Action, ReasonCode, TaskKey
from strawbell.model.forecast import DayWeather, ForecastStatus, ForecastUse
from strawbell.model.garden import Units
from strawbell.model.season import (
    BatchCourse,
    BatchSummary,
    CoreReading,
    CoreReadings,
    CropSummary,
    FeedingDay,
    FeedingFate,
    Phase,
    PhaseKind,
    SeasonSeen,
    Summary,
)
from strawbell.words.catalogue import BRITISH
from strawbell.words.chart import DARK_INKS, LIGHT_INKS
from strawbell.words.season_page import (
    CLOSE_DAYS,
    NARROW_PX,
    WIDE_PX,
    close_groups,
    season_html,
    season_picture,
    waiting_pictures,
    warmth_pictures,
)
from support.gardens import START, garden
from support.made_up_locale import TYPED, english_left, made_up_locale

SVG = "{http://www.w3.org/2000/svg}"
VOID = {"meta", "br", "img", "link", "hr", "input"}
TODAY = START + timedelta(days=45)
HOSTILE = "<script>alert('x')</script>\"&\x1b[31m\u202e"
USE = ForecastUse(
    ForecastStatus.FRESH,
    "open-meteo",
    datetime(2027, 5, 20, 3, tzinfo=UTC),
    1.0,
    "Weather data by Open-Meteo.com",
    "https://open-meteo.com/",
)


def on(days: int) -> date:
    """Return a date counted from the first soaking."""
    return START + timedelta(days=days)


def feeding(days: int, day: int | None, fate: FeedingFate, *reasons: ReasonCode) -> FeedingDay:
    """Return a feeding of row A."""
    return FeedingDay(
        on(days),
        TaskKey("row-a", Action.FEED, on=on(days)),
        day,
        fate,
        reasons,
        "Blood meal",
        60.0,
        3000.0,
    )


FEEDINGS = (
    feeding(0, 1, FeedingFate.SUPPOSED),
    feeding(2, 3, FeedingFate.TOLD),
    feeding(4, 5, FeedingFate.HELD, ReasonCode.FREEZE),
    feeding(5, 5, FeedingFate.HELD, ReasonCode.HEAVY_RAIN),
    feeding(6, 5, FeedingFate.HELD, ReasonCode.HEAVY_RAIN, ReasonCode.FREEZE),
    feeding(7, 5, FeedingFate.HELD, ReasonCode.NOT_TOLD),
    feeding(8, 5, FeedingFate.HELD, ReasonCode.SELF_HEATING),
    feeding(9, 5, FeedingFate.MISSED),
    feeding(10, 5, FeedingFate.CONFIRMED),
    feeding(30, None, FeedingFate.TOLD),
)
READINGS = (CoreReading(on(5), 31.0), CoreReading(on(12), 54.5))
WENT = BatchSummary(
    batch="Row A",
    bales=6,
    start_on=START,
    conditioned_on=on(16),
    conditioned_by_plan=on(10),
    feedings=FEEDINGS,
    water_l=300.0,
    frost_nights=(on(25),),
    hot_dry_days=(on(35), on(36)),
    readings=CoreReadings(2, READINGS[0], READINGS[1], READINGS[1], READINGS),
    crops=(CropSummary("tomato", "tomato", on(20), standing=True),),
)
COURSES = (
    BatchCourse(
        "Row A",
        6,
        START,
        on(150),
        (
            Phase(PhaseKind.CONDITIONING, START, on(16)),
            Phase(PhaseKind.WAITING, on(17), on(19)),
            Phase(PhaseKind.GROWING, on(20), on(90), "tomato", projected=True),
            Phase(PhaseKind.PICKING, on(91), on(149), "tomato", projected=True),
        ),
        (on(50), on(64)),
        on(150),
    ),
    BatchCourse(
        "Row B",
        3,
        on(60),
        on(80),
        (Phase(PhaseKind.CONDITIONING, on(60), on(70), projected=True),),
        (on(60), on(62)),
    ),
)
FOUND = Summary("Orchard corner", START, TODAY, START, 44, (on(12),), (WENT,))
WEATHER = {
    **{on(days): DayWeather(5.0, 18.0, 2.0, None, complete=True) for days in range(52)},
    on(3): DayWeather(None, None, None),
}
SEEN = SeasonSeen(garden(), TODAY, COURSES, FOUND, WEATHER)


class Page(HTMLParser):
    """Reads a page: its tags with attributes, its visible text, and whether every tag closes."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.open: list[str] = []
        self.words: list[str] = []
        self.outside: list[str] = []
        self.feed(html)
        self.close()
        assert self.open == []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        if "style" in self.open:
            return
        self.words.append(data)
        if "svg" not in self.open:
            self.outside.append(data)

    @property
    def text(self) -> str:
        """Return the text outside pictures, blanks put together."""
        return " ".join(" ".join(self.outside).split())


def page(seen: SeasonSeen = SEEN) -> str:
    """Return the page of one garden."""
    return season_html([(seen, USE)])


def pictures(html: str) -> Iterator[ElementTree.Element]:
    """Yield every picture of a page as a parser of XML reads it."""
    for svg in re.findall(r"<svg.*?</svg>", html, flags=re.DOTALL):
        yield ElementTree.fromstring(svg)


def says(svg: str) -> Counter[str]:
    """Return what the marks of a picture say to the pointer."""
    root = ElementTree.fromstring(svg)
    titles = [each.text or "" for group in root.iter(f"{SVG}g") for each in group[:1]]
    return Counter(part for title in titles for part in title.split("; "))


def test_the_page_is_sound_and_needs_nothing_from_outside() -> None:
    """No script, no picture file, no address but the forecast service's; it knows a phone."""
    html = page()
    found = Page(html)
    tags = Counter(tag for tag, _ in found.tags)
    assert html.lstrip().startswith("<!DOCTYPE html>")
    assert not {"script", "img", "link", "iframe", "form", "object"} & set(tags)
    links = [attrs.get("href") for tag, attrs in found.tags if tag == "a"]
    assert links == ["https://open-meteo.com/"]
    assert not re.search(r"url\((?!#)|@import|javascript:|\son\w+=", html)
    assert ("meta", {"name": "viewport", "content": "width=device-width, initial-scale=1"}) in (
        found.tags
    )
    assert "prefers-color-scheme:dark" in html
    assert tags["main"] == 1
    assert ("html", {"lang": "en-GB", "dir": "ltr"}) in found.tags


def test_each_garden_has_its_own_date() -> None:
    """At noon in Chicago the next day has begun in Melbourne."""
    later = replace(SEEN, today=TODAY + timedelta(days=1))
    text = Page(season_html([(SEEN, USE), (later, USE)])).text
    assert text.index(BRITISH.long_day(TODAY)) < text.index(BRITISH.long_day(later.today))


def test_every_picture_is_sound_svg_with_a_name_or_passed_over() -> None:
    """Those that show something have title and description by reference; ids are unique."""
    html = page()
    roots = list(pictures(html))
    named = [root for root in roots if root.get("role") == "img"]
    assert len(named) == 2 + 2 * 2 + 2
    for root in named:
        by_id = {each.get("id"): each.text for each in root.iter() if each.get("id")}
        texts = [by_id[each] for each in root.attrib["aria-labelledby"].split()]
        assert all(texts)
    assert all(root.get("aria-hidden") == "true" for root in roots if root not in named)
    ids = re.findall(r'\sid="([^"]+)"', html)
    assert len(ids) == len(set(ids))
    assert set(re.findall(r"url\(#([^)]+)\)", html)) <= set(ids)


def test_every_colour_comes_from_the_palette() -> None:
    """None is written into a picture or the page."""
    colours = set(re.findall(r"#[0-9a-fA-F]{3,8}\b(?!-)", page()))
    assert colours <= {*LIGHT_INKS.values(), *DARK_INKS.values()}


@pytest.mark.parametrize("width", [NARROW_PX, WIDE_PX])
def test_every_event_has_a_mark_that_says_what_it_is(width: float) -> None:
    """Told, given, held by each reason, missed and planned."""
    found = says(*season_picture(SEEN, width, "one"))
    for said in (
        "Mon 5 Apr: feeding of day 1, by plan, before the journal",
        "Wed 7 Apr: feeding of day 3, told, counts as given",
        "Fri 9 Apr: feeding of day 5, held for a freeze",
        "Sat 10 Apr: feeding of day 5, held for rain",
        "Sun 11 Apr: feeding of day 5, held for rain and a freeze",
        "Mon 12 Apr: feeding of day 5, held for want of an answer",
        "Tue 13 Apr: feeding of day 5, held for another reason",
        "Wed 14 Apr: feeding of day 5, missed",
        "Thu 15 Apr: feeding of day 5, given, as you said",
        "Wed 5 May: feeding of the season, told, counts as given",
        "Tue 25 May: feeding planned",
    ):
        assert found[said] == 1, said


def test_the_close_view_has_a_mark_for_each_day_of_conditioning() -> None:
    """With its letter: the day of the sequence, what held it, a check for the grower's word."""
    first, second = waiting_pictures(SEEN, WIDE_PX, "close")
    root = ElementTree.fromstring(first)
    letters = [
        "".join(text.text or "" for text in group.iter(f"{SVG}text"))
        for group in root.iter(f"{SVG}g")
    ]
    assert letters == ["1", "3", "F", "R", "B", "?", "H", "", "\N{CHECK MARK}"]
    assert says(second) == Counter(["Fri 4 Jun: feeding planned", "Sun 6 Jun: feeding planned"])


def test_readings_are_shown_against_the_limit_for_planting() -> None:
    """Each by a dot that says its value; a batch nobody measured has no picture."""
    (drawn,) = warmth_pictures(SEEN, NARROW_PX, "warm")
    assert says(drawn) == Counter(["Sat 10 Apr: 31 °C", "Sat 17 Apr: 54.5 °C"])
    root = ElementTree.fromstring(drawn)
    dots = [float(each.attrib["cy"]) for each in root.iter(f"{SVG}circle")]
    (limit,) = (
        float(each.attrib["y1"])
        for each in root.iter(f"{SVG}line")
        if each.get("class") == "s-held dashed"
    )
    assert dots[0] > limit > dots[1]
    found = replace(FOUND, batches=(replace(WENT, readings=None),))
    assert warmth_pictures(replace(SEEN, found=found), NARROW_PX, "warm") == ()


def test_batches_that_begin_together_share_a_close_view() -> None:
    """Up to what a day still has room for; the boundary is tested on both sides."""
    plain = COURSES[1]

    def later(days: int) -> BatchCourse:
        phase = Phase(PhaseKind.CONDITIONING, START, on(days))
        return replace(plain, start_on=START, phases=(phase,))

    first = replace(plain, start_on=START)
    assert len(close_groups([first, later(CLOSE_DAYS - 1)])) == 1
    assert len(close_groups([first, later(CLOSE_DAYS)])) == 2


@pytest.mark.parametrize(
    "said",
    [
        "Orchard corner",
        "Row A",
        "Row B",
        "6 bales, begun Mon 5 Apr",
        "3 bales, begins Fri 4 Jun",
        "Conditioning Mon 5 Apr Wed 21 Apr",
        "tomato, growing Sun 25 Apr Sun 4 Jul (planned)",
        "tomato, picking Mon 5 Jul (planned) Wed 1 Sept (planned)",
        "Straw spread Thu 2 Sept (planned)",
        "Sat 10 Apr day 5 held for rain",
        "Wed 14 Apr day 5 missed",
        "Thu 15 Apr day 5 given, as you said 3\u00a0kg of Blood meal",
        "Tue 25 May planned",
        "1 night warned of, Fri 30 Apr",
        "2 days warned of, Mon 10 May to Tue 11 May",
        "Wed 7 Apr 5\u00a0°C 18\u00a0°C 2\u00a0mm",
        "Thu 8 Apr unknown unknown unknown",
        "Thu 20 May (forecast)",
        "nothing could be told on 1 day",
        "Weather data by Open-Meteo.com",
    ],
)
def test_what_the_pictures_show_is_told_in_words_too(said: str) -> None:
    """In lists and tables outside every picture."""
    normal = Page(page()).text.replace("\u00a0", " ")
    assert said.replace("\u00a0", " ") in normal


def test_tables_name_their_columns_and_rows() -> None:
    """A screen reader says where a figure stands."""
    tags = Page(page()).tags
    scopes = Counter(attrs.get("scope") for tag, attrs in tags if tag == "th")
    assert set(scopes) == {"col", "row"}
    assert sum(tag == "caption" for tag, _ in tags) == sum(tag == "table" for tag, _ in tags) == 5


def test_us_units_are_used_in_pictures_and_words() -> None:
    """Degrees Fahrenheit and inches."""
    html = page(replace(SEEN, garden=garden(units=Units.US)))
    text = Page(html).text.replace("\u00a0", " ")
    assert "Wed, Apr 7 41 °F 64 °F 0.08 in" in text
    labels = [each.text for root in pictures(html) for each in root.iter(f"{SVG}text")]
    assert any("°F" in (label or "") for label in labels)
    assert any((label or "").endswith(" in") for label in labels)
    assert not any("°C" in (label or "") for label in labels)


def test_unknown_weather_leaves_a_gap_and_is_hatched() -> None:
    """It is neither dry nor mild; without any weather nothing is hatched as if it had been."""
    (first, _) = waiting_pictures(SEEN, WIDE_PX, "one")
    root = ElementTree.fromstring(first)
    bands = [each for each in root.iter(f"{SVG}polygon") if each.get("class") == "f-warmth"]
    assert len(bands) == 2
    hatched = [each for each in root.iter(f"{SVG}rect") if each.get("fill") == "url(#one-1-hatch)"]
    assert len(hatched) == 1
    bare, _ = waiting_pictures(replace(SEEN, weather={}), WIDE_PX, "one")
    assert "f-warmth" not in bare


@pytest.mark.parametrize("width", [NARROW_PX, WIDE_PX])
def test_nothing_is_drawn_outside_the_picture(width: float) -> None:
    """Bars, marks and words end inside it, long names too."""
    long = "A very long name of a row of bales along the northern fence of the yard"
    courses = (replace(COURSES[0], batch=long), COURSES[1])
    found = replace(FOUND, batches=(replace(WENT, batch=long),))
    seen = replace(SEEN, courses=courses, found=found)
    for svg in (
        *season_picture(seen, width, "one"),
        *waiting_pictures(seen, width, "close"),
        *warmth_pictures(seen, width, "warm"),
    ):
        root = ElementTree.fromstring(svg)
        height = float(root.attrib["height"])
        for each in root.iter():
            x, y = float(each.get("x", 0)), float(each.get("y", 0))
            assert 0 <= x <= width
            assert 0 <= y <= height
            if each.tag == f"{SVG}rect":
                assert x + float(each.attrib["width"]) <= width
            if each.tag == f"{SVG}text" and each.get("text-anchor") is None:
                size = float(each.attrib["font-size"])
                assert x + len(each.text or "") * size * 0.5 <= width
            if each.tag == f"{SVG}text":
                assert float(each.attrib["font-size"]) >= 11


def test_hostile_names_are_shown_literally() -> None:
    """In titles, bars, marks, lists and tables; nothing becomes a tag or steers anything."""
    crop = Phase(PhaseKind.GROWING, on(20), on(90), HOSTILE)
    course = replace(COURSES[0], batch=HOSTILE, phases=(*COURSES[0].phases[:2], crop))
    fed = tuple(replace(each, feed=HOSTILE) for each in FEEDINGS)
    went = replace(
        WENT, batch=HOSTILE, feedings=fed, crops=(CropSummary(HOSTILE, HOSTILE, on(20)),)
    )
    found = replace(FOUND, garden=HOSTILE, batches=(went,))
    seen = SeasonSeen(garden(name=HOSTILE), TODAY, (course,), found, WEATHER)
    use = replace(USE, attribution=HOSTILE, attribution_url="javascript:alert(1)")
    html = season_html([(seen, use)])
    parsed = Page(html)
    assert not [tag for tag, _ in parsed.tags if tag == "script"]
    assert not [attrs for tag, attrs in parsed.tags if tag == "a"]
    assert "\x1b" not in html
    assert "\u202e" not in html
    assert "".join(parsed.words).count("<script>alert('x')</script>") >= 6
    for root in pictures(html):
        assert not [each for each in root.iter() if each.tag.endswith("script")]


def test_several_gardens_share_a_page() -> None:
    """Each with its own part; ids stay unique."""
    other = replace(SEEN, garden=garden(name="Roof"))
    html = season_html([(SEEN, USE), (other, USE)])
    parsed = Page(html)
    assert sum(tag == "h1" for tag, _ in parsed.tags) == 2
    ids = re.findall(r'\sid="([^"]+)"', html)
    assert len(ids) == len(set(ids)), [each for each, n in Counter(ids).items() if n > 1]


def test_a_garden_before_its_first_day_has_a_page_too() -> None:
    """Only what is planned is on it."""
    nothing = Summary("Orchard corner", None, on(-10), None, 0, (), ())
    seen = SeasonSeen(garden(), on(-10), COURSES, nothing, {})
    text = Page(page(seen)).text
    assert "6 bales, begins Mon 5 Apr" in text
    assert "No morning has been told yet" in text
    assert "today" in season_picture(seen, WIDE_PX, "one")[0]


_MARKUP = re.compile(r"<style.*?</style>|<[^>]*>|&\w+;", re.DOTALL)
_NAMED = re.compile(r'(?:aria-label|alt|title)="([^"]*)"')


@pytest.mark.parametrize("units", Units)
def test_a_season_page_leaves_no_english(units: Units) -> None:
    """Nor what only a screen reader says."""
    with made_up_locale():
        html = page(replace(SEEN, garden=replace(SEEN.garden, units=units)))
    said = f"{_MARKUP.sub(' ', html)} {' '.join(_NAMED.findall(html))}"
    names = f"{OWN} {TYPED}"
    assert sorted(set(english_left(said, names))) == []


OWN = """Orchard corner Row tomato lettuce cucumber Blood meal open meteo Weather data by Open
Meteo com"""
