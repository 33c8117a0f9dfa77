"""What commands print is plain, lines up, and steers no terminal."""

from __future__ import annotations

import json
import math
import re
from collections.abc import Callable
from datetime import UTC, date, datetime

import pytest
from msgspec.structs import replace

from strawbell.model.brief import Action, Brief, State
from strawbell.model.garden import Units
from strawbell.model.journal import EntryKind, JournalEntry
from strawbell.model.season import ChanceKept, Chances
from strawbell.words.catalogue import BRITISH
from strawbell.words.documents import brief_json
from strawbell.words.escaping import columns
from strawbell.words.morning import morning_page
from strawbell.words.page import page_text
from strawbell.words.terminal import (
    how_screen,
    journal_screen,
    season_screen,
    today_screen,
    why_screen,
)
from support.briefs import (
    TODAY,
    catch_up_brief,
    feeding,
    feeding_brief,
    frost_brief,
    garden,
    hot_brief,
    protecting,
    unjudged_brief,
    watering,
)

NOW = datetime(2027, 4, 9, 4, 30, tzinfo=UTC)
HOSTILE = "Row \x1b[31mred\x1b[0m \x07\u202e\x9b"
STEERING = re.compile("[\x00-\x09\x0b-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069]")


def entry(kind: EntryKind, **parts: object) -> JournalEntry:
    """Return a journal row of this morning."""
    return JournalEntry(NOW, "Orchard corner", TODAY, kind, **parts)  # type: ignore[arg-type]


def test_today_prints_the_text_of_the_brief_and_how_its_tasks_are_answered() -> None:
    """Whoever has to type the key of a task reads it here; work that needs no answer has none."""
    text = page_text(morning_page(feeding_brief(), garden()))
    screen = today_screen(feeding_brief(), garden())
    assert screen.startswith(text)
    keys = [task.key for task in feeding_brief().tasks if task.action is Action.FEED]
    assert keys
    assert all(f"  strawbell record missed {key}\n" in screen for key in keys)
    assert today_screen(frost_brief(), garden()) == page_text(morning_page(frost_brief(), garden()))


@pytest.mark.parametrize("width", [40, 60, 78, 100])
@pytest.mark.parametrize("made", [feeding_brief, catch_up_brief, frost_brief, hot_brief])
def test_today_is_wrapped_at_the_width_that_is_given(made: Callable[[], Brief], width: int) -> None:
    """Only what is copied whole, a link or a command, may be wider; not a word differs."""
    screen = today_screen(made(), garden(), width)
    lines = [
        line
        for line in screen.split("\n")
        if "https://" not in line and "strawbell record " not in line
    ]
    commands = [line for line in screen.split("\n") if "strawbell record " in line]
    assert all(re.search("record (done|missed) .", line) for line in commands)
    assert width - 15 < max(map(columns, lines)) <= width
    assert screen.split() == today_screen(made(), garden()).split()


def test_work_that_nobody_could_judge_is_asked_about_and_not_taken_for_done() -> None:
    said = " ".join(today_screen(unjudged_brief(), garden()).split())
    assert "What you don't answer I'll ask about tomorrow." in said
    assert "counts as done" not in said


def test_how_prints_steps_and_care_whatever_was_explained() -> None:
    screen = how_screen(feeding_brief().tasks, garden(), TODAY, 60)
    assert "- Gloves on." in screen
    assert "- Pets: Keep dogs and cats away" in screen
    assert all(len(line) <= 60 for line in screen.split("\n"))


def test_a_season_is_a_table_with_what_is_planned_marked() -> None:
    rows = [
        (date(2027, 4, 7), feeding(state=State.DONE, day=3)),
        (TODAY, feeding()),
        (date(2027, 4, 10), watering()),
        (date(2027, 4, 11), protecting()),
    ]
    screen = season_screen(rows, garden(), TODAY)
    lines = screen.split("\n")
    assert lines[2].split() == ["Date", "Batch", "Day", "Task", "State", "Amount"]
    assert re.fullmatch(r"Wed 7 Apr +Row A +3 +feed +done +500 g of blood meal a bale", lines[3])
    assert re.fullmatch(r"Fri 9 Apr +Row A +5 +feed +due +500 g of blood meal a bale", lines[4])
    assert re.fullmatch(r"Sat 10 Apr +Row A +6 +watering +planned +4 L a bale", lines[5])
    assert re.fullmatch(r"Sun 11 Apr +Row C +cover \(tomato\) +planned +6 plants", lines[6])
    assert "a projection" in screen


def test_the_same_work_day_after_day_is_one_line() -> None:
    """A gap, another amount and a day of the sequence begin a new one."""
    daily = replace(watering(), day=None)
    dates = [date(2027, 5, number) for number in (1, 2, 3, 5)]
    rows = [(on, daily) for on in dates] + [(date(2027, 5, 6), replace(daily, batch="Row B"))]
    lines = season_screen(rows, garden(), TODAY).split("\n")[3:6]
    assert [re.split(r"  +", line)[0] for line in lines] == [
        "Sat 1 May to Mon 3 May",
        "Wed 5 May",
        "Thu 6 May",
    ]
    numbered = [(on, feeding(day=5)) for on in dates[:2]]
    lines = season_screen(numbered, garden(), TODAY).split("\n")[3:5]
    assert [re.split(r"  +", line)[0] for line in lines] == ["Sat 1 May", "Sun 2 May"]


def test_below_the_journal_stands_how_the_chances_came_out() -> None:
    """Each with how often it was told; without any nothing is said of them."""
    rows = [entry(EntryKind.NOTE, text="a")]
    chances = Chances((ChanceKept(3, times=11, came=4, held=0, needless=0),))
    screen = journal_screen(rows, garden(), chances=chances)
    table = journal_screen(rows, garden())
    assert screen.startswith(table)
    said = " ".join(screen.removeprefix(table).split())
    assert said == (
        "Chances of heavy rain about 3 in 10 told on 11 mornings, and it rained so on 4"
    )


def test_an_empty_season_and_an_empty_journal_say_so() -> None:
    assert season_screen([], garden(), TODAY) == "Orchard corner: nothing planned.\n"
    assert journal_screen([], garden()) == "Orchard corner: nothing in the journal yet.\n"


@pytest.mark.parametrize("kind", EntryKind)
def test_every_kind_of_row_is_a_line_on_the_gardens_clock(kind: EntryKind) -> None:
    screen = journal_screen([entry(kind, batch="Row A", task="row-a-5-feed", text="a")], garden())
    assert f"2027-04-09 06:30  {BRITISH.of('entry', kind)}" in screen


def test_dates_and_clocks_are_the_growers_in_tables_too() -> None:
    """The month first and a clock of twelve hours in the United States (CLDR, en-US)."""
    rows = [entry(EntryKind.NOTE, text="Slugs")]
    assert "04/09/2027 6:30 AM  note" in journal_screen(rows, garden(Units.US))
    season = season_screen([(date(2027, 4, 7), feeding(state=State.DONE))], garden(Units.US), TODAY)
    assert "Wed, Apr 7" in season


def test_a_table_that_is_too_wide_for_a_telephone_flows() -> None:
    """Row by row, each cell with its heading; nothing is cut and nothing runs over."""
    rows = [(TODAY, feeding()), (date(2027, 4, 10), watering())]
    screen = season_screen(rows, garden(), TODAY, width=40)
    assert max(map(len, screen.split("\n"))) <= 40
    assert "Fri 9 Apr\n  Batch: Row A\n  Day: 5\n  Task: feed" in screen
    assert "Amount: 500 g of blood meal a bale" in screen


def test_readings_and_harvests_are_in_the_growers_units() -> None:
    rows = [entry(EntryKind.TEMPERATURE, value=54.0), entry(EntryKind.HARVEST, value=1.2)]
    assert "54 °C" in journal_screen(rows, garden())
    assert "1.2 kg" in journal_screen(rows, garden())
    assert "129.2 °F" in journal_screen(rows, garden(Units.US))
    assert "2 lb 10 oz" in journal_screen(rows, garden(Units.US))


def test_a_counted_harvest_is_shown_in_pieces() -> None:
    row = entry(EntryKind.HARVEST, text="lettuce", data={"pieces": 12.0})
    assert "12 pieces, lettuce" in journal_screen([row], garden())


@pytest.mark.parametrize(
    "made", [feeding_brief(), frost_brief(), unjudged_brief(), hot_brief(), catch_up_brief()]
)
def test_why_explains_every_task_of_a_kept_brief(made: object) -> None:
    data = json.loads(json.dumps(brief_json(made, garden())))  # type: ignore[arg-type]
    screen = why_screen(data, garden())
    for task in made.tasks:  # type: ignore[attr-defined]
        assert task.key.text() in screen
    assert "None" not in screen
    assert "tomorrow" not in screen, "a day long past has no tomorrow"


def test_why_says_in_words_whether_a_probe_was_there() -> None:
    """A figure of 0 or 1 says nothing to a grower."""
    for probe, said in ((0.0, "Core by the model alone"), (1.0, "Core by your thermometer")):
        outlook = {"batch": "Row A", "stage": "conditioning", "figures": {"core_from_probe": probe}}
        screen = why_screen({"date": "2027-04-09", "outlooks": [outlook]}, garden())
        assert said in screen
        assert "from probe" not in screen


@pytest.mark.parametrize(
    ("figures", "words"),
    [
        ({"core_c_low": 38.0, "core_c_high": 46.0}, "core 38 °C to 46 °C"),
        ({"core_c_low": 38.0}, "core at least 38 °C"),
        ({"core_c_high": 38.0}, "core at most 38 °C"),
        ({"core_c_low": 38.0, "core_c_high": 38.0}, "core 38 °C"),
        (
            {"nitrogen_lost_g_per_bale_low": 900.0, "nitrogen_lost_g_per_bale_high": 1100.0},
            "nitrogen lost 900 g to 1.1 kg a bale",
        ),
        ({"water_l_per_bale": 2.5}, "water 2.5 L a bale"),
        ({"times_a_day": 2.0}, "times a day 2"),
        ({"to_go_days_low": 1.0, "to_go_days_high": 1.0}, "to go 1 day"),
        ({"dry_at_hour": 14.5}, "dry by 14:30"),
        ({"carbon_to_nitrogen_low": 30.4}, "carbon to nitrogen at least 30.4"),
        ({"core_expected_c": math.nan}, "core most likely unknown"),
        ({"area_m2": 1.5}, "area 1.5 m²"),
        ({"Odd name!": 3.0}, "Odd name! 3"),
    ],
)
def test_why_says_each_number_of_a_document_by_its_name(
    figures: dict[str, float], words: str
) -> None:
    """One that this version does not know is shown as it stands."""
    outlook = {"batch": "Row A", "stage": "conditioning", "figures": figures}
    screen = why_screen({"date": "2027-04-09", "outlooks": [outlook]}, garden())
    assert f"  Figures: {words}.\n" in screen


def test_why_shows_each_number_against_its_threshold() -> None:
    data = json.loads(json.dumps(brief_json(frost_brief(), garden())))
    screen = " ".join(why_screen(data, garden()).split())
    assert "(freeze: -3.1 °C against 0 °C)" in screen
    assert "Frost (-3 °C) at 05:00 on Sat 10 Apr" in screen
    assert "Held until 2027-04-10 at the earliest." in screen
    assert "nitrogen 60 g a bale" in screen


def test_why_survives_what_an_older_or_newer_version_kept() -> None:
    data = {
        "date": "2027-04-09",
        "tasks": [
            {"key": "k", "reasons": [{"code": "moon", "value": 1.0, "threshold": 2.0}, "odd"]},
            "odd",
        ],
        "alerts": None,
    }
    screen = why_screen(data, garden())
    assert "moon: 1 against 2" in screen
    assert "Forecast: none." in screen


def test_no_screen_lets_a_name_steer_the_terminal() -> None:
    made = feeding_brief(tasks=(feeding(HOSTILE, crops=(HOSTILE,)),))
    rows = [entry(EntryKind.NOTE, batch=HOSTILE, task=HOSTILE, text=HOSTILE, state=HOSTILE)]
    screens = (
        today_screen(made, garden(name=HOSTILE)),
        season_screen([(TODAY, feeding(HOSTILE))], garden(name=HOSTILE), TODAY),
        journal_screen(rows, garden(name=HOSTILE)),
        why_screen(brief_json(made, garden()), garden(name=HOSTILE)),
    )
    for screen in screens:
        assert STEERING.search(screen) is None
        assert "[31mred" in screen, "shown, not obeyed"
