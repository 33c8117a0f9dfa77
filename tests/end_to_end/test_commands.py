"""Each command as a newcomer runs it: what it prints, what it leaves, how it refuses."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

import pytest

from strawbell.agronomy.doses import dosed
from strawbell.agronomy.schedules import SCHEDULES
from strawbell.words.asking import PAGE_PLACE
from support.daemon_process import Setup
from support.forecast_server import FakeOpenMeteo, calm
from support.gardens import batch

NOTABLE = (
    "An ordinary feeding",
    "A feeding held for frost",
    "A feeding held for rain",
    "A hot dry day",
    "A frost after planting",
)
DONE, NOT_NOW, TO_MEND = 0, 1, 2


@pytest.fixture
def service() -> Iterator[FakeOpenMeteo]:
    """A forecast service with mild weather."""
    with FakeOpenMeteo(calm) as running:
        yield running


@pytest.fixture
def setup(tmp_path: Path, service: FakeOpenMeteo) -> Setup:
    """A garden on its fifth day of conditioning, with a forecast."""
    return Setup(tmp_path, service.base_url)


def refused(setup: Setup, *arguments: str) -> str:
    """Return the one sentence with which a command refuses what it was given."""
    answer = setup.command(*arguments)
    assert answer.returncode == TO_MEND
    assert "Traceback" not in answer.stdout + answer.stderr
    assert answer.stdout == ""
    lines = answer.stderr.strip().splitlines()
    (sentence,) = [line for line in lines if not line.startswith("Note: ")]
    return sentence


def test_the_demo_shows_five_notable_mornings_and_leaves_its_notices(tmp_path: Path) -> None:
    """Without configuration or network; every notice lies there as a mail and as a page."""
    setup = Setup(tmp_path)
    setup.config.unlink()
    out = tmp_path / "notices"
    answer = setup.command("demo", "--out", str(out))
    assert answer.returncode == DONE, answer.stderr
    titles = [line.strip("= ") for line in answer.stdout.splitlines() if line.startswith("===")]
    assert sorted(titles) == sorted(NOTABLE)
    mails, pages = list(out.glob("*.eml")), list(out.glob("*.html"))
    assert len(mails) == len(pages) > len(NOTABLE)
    assert f"{len(mails)} notices lie in {out}" in answer.stdout
    shown = {page.name: page.read_text(encoding="utf-8") for page in pages}
    assert all(page.lstrip().startswith("<!") for page in shown.values())
    assert [name for name, page in shown.items() if PAGE_PLACE in page] == []
    assert "No reply means done." in shown["2027-04-07-0630-morning.html"]


def test_the_season_runs_from_the_first_day_to_the_end(setup: Setup) -> None:
    """Four days done, today's feeding due, the rest projected."""
    answer = setup.command("season", "--json")
    assert answer.returncode == DONE, answer.stderr
    document = json.loads(answer.stdout)
    first = setup.today - timedelta(days=4)
    days = document["days"]
    assert [day["date"] for day in days[:6]] == [
        (first + timedelta(days=number)).isoformat() for number in range(6)
    ]
    assert [day["projected"] for day in days[:6]] == [False] * 5 + [True]
    assert {task["state"] for task in days[3]["tasks"]} == {"done"}
    (today,) = days[4]["tasks"]
    assert (today["key"], today["state"]) == ("row-a-5-feed", "due")


def test_the_season_is_also_for_reading(setup: Setup) -> None:
    """The table names the garden, the batch and the feed."""
    answer = setup.command("season")
    assert answer.returncode == DONE, answer.stderr
    assert "Orchard corner" in answer.stdout
    assert "Row A" in answer.stdout
    assert setup.today.strftime("%B") in answer.stdout or str(setup.today.day) in answer.stdout


def test_an_empty_journal_is_said_in_words(setup: Setup) -> None:
    """Nothing told yet is no error."""
    answer = setup.command("journal")
    assert answer.returncode == DONE, answer.stderr
    assert answer.stdout.strip()
    document = json.loads(setup.command("journal", "--json").stdout)
    assert document["entries"] == []


def test_the_supplies_add_up_the_feedings_still_to_come(setup: Setup) -> None:
    """Nitrogen of the schedule's own rates from day 5 on, at 12 percent, for six bales."""
    schedule = SCHEDULES["alternate-days"]
    rates = sum(day.rate for day in schedule.days if day.day >= 5 and day.work == "feed")
    nitrogen_g = rates * dosed(batch(schedule=schedule)).nitrogen_per_full_dose_g * 6
    answer = setup.command("supplies", "--json")
    assert answer.returncode == DONE, answer.stderr
    document = json.loads(answer.stdout)
    (feed,) = [need for need in document["supplies"] if need["name"] == "Blood meal"]
    assert feed["kg"] == pytest.approx(nitrogen_g / 0.12 / 1000, abs=0.01)
    assert feed["needed_by"] == setup.today.isoformat()
    assert "Blood meal" in setup.command("supplies").stdout


def test_the_calendar_is_written_once_and_left_alone_after(setup: Setup, tmp_path: Path) -> None:
    """A second run finds nothing to change."""
    file = tmp_path / "season.ics"
    first = setup.command("calendar", str(file))
    assert first.returncode == DONE, first.stderr
    content = file.read_bytes()
    assert content.startswith(b"BEGIN:VCALENDAR\r\n")
    assert f"{content.count(b'BEGIN:VEVENT')} entries" in first.stdout
    again = setup.command("calendar", str(file))
    assert (again.returncode, file.read_bytes()) == (DONE, content)
    assert "as it was" in again.stdout


def test_a_calendar_that_cannot_be_written_is_a_sentence(setup: Setup, tmp_path: Path) -> None:
    """A folder that is not there is named."""
    assert "calendar" in refused(setup, "calendar", str(tmp_path / "nowhere" / "season.ics"))


def test_why_explains_today_before_and_after_it_was_told(setup: Setup) -> None:
    """Without a date it is about today."""
    before = setup.command("why")
    assert before.returncode == DONE, before.stderr
    assert "row-a-5-feed" in before.stdout
    assert setup.command("run", "--once").returncode == DONE
    after = setup.command("why", "--json")
    kept = json.loads(after.stdout)
    assert (kept["date"], kept["tasks"][0]["key"]) == (setup.today.isoformat(), "row-a-5-feed")


def test_why_cannot_explain_a_day_that_was_not_told(setup: Setup) -> None:
    """It says so, and where to look; nothing is to be mended."""
    answer = setup.command("why", "2020-01-01")
    assert answer.returncode == NOT_NOW
    assert "Nothing was told" in answer.stderr
    assert "Traceback" not in answer.stderr


@pytest.mark.parametrize("kind", ["user", "system"])
def test_the_unit_is_printed_with_the_program_filled_in(setup: Setup, kind: str) -> None:
    """It needs no configuration and leaves no placeholder."""
    setup.config.unlink()
    answer = setup.command("unit", kind)
    assert answer.returncode == DONE, answer.stderr
    assert "[Service]" in answer.stdout
    assert "ExecStart=/" in answer.stdout
    assert "@STRAWBELL@" not in answer.stdout


@pytest.mark.parametrize(
    ("reading", "said"),
    [
        ("warm", "54C or 129F"),
        ("54K", "54C or 129F"),
        ("", "54C or 129F"),
        ("-41C", "-40 °C to 110 °C"),
        ("111C", "-40 °C to 110 °C"),
        ("231F", "-40 °C to 110 °C"),
    ],
)
def test_a_reading_that_is_none_is_refused_in_a_sentence(
    setup: Setup, reading: str, said: str
) -> None:
    """What is allowed is said with it, and nothing is written."""
    assert said in refused(setup, "record", "temperature", "--", reading)
    document = json.loads(setup.command("journal", "--json").stdout)
    assert document["entries"] == []


@pytest.mark.parametrize(
    ("reading", "shown"),
    [("54C", "54"), ("129F", "53.9"), ("54,5 c", "54.5"), ("110C", "110"), ("-40F", "-40")],
)
def test_a_reading_is_taken_in_either_unit(setup: Setup, reading: str, shown: str) -> None:
    """With a point or a comma, up to the edges of what a probe can show."""
    answer = setup.command("record", "temperature", "--", reading)
    assert answer.returncode == DONE, answer.stderr
    assert f"was {shown} °C inside" in answer.stdout


def test_a_reading_of_no_batch_names_the_nearest(setup: Setup) -> None:
    """A slip of the pen is met with the name meant."""
    assert '"Row A"' in refused(setup, "record", "temperature", "54C", "--batch", "Row B")


def test_a_note_is_kept_and_a_note_about_no_batch_refused(setup: Setup) -> None:
    """What was written stands in the journal."""
    assert setup.command("record", "note", "Slugs on the west side").returncode == DONE
    assert "Slugs on the west side" in setup.command("journal").stdout
    assert "No bales are called that" in refused(
        setup, "record", "note", "Slugs", "--batch", "Shed"
    )


@pytest.mark.parametrize("kind", ["done", "missed"])
def test_a_word_about_no_task_names_those_of_today(setup: Setup, kind: str) -> None:
    """The key the grower can type is in the sentence."""
    assert "row-a-5-feed" in refused(setup, "record", kind, "harvest")


@pytest.mark.parametrize("command", ["today", "season", "summary", "supplies", "why", "journal"])
def test_a_garden_that_is_not_there_is_met_with_the_nearest(setup: Setup, command: str) -> None:
    """Every reading command says the same of a mistyped garden."""
    sentence = refused(setup, command, "--garden", "Orchard korner")
    assert '"Orchard corner"' in sentence


@pytest.mark.parametrize("command", ["today", "season", "summary", "supplies", "why", "journal"])
def test_a_moment_that_is_none_is_refused_with_an_example(setup: Setup, command: str) -> None:
    """The example shows how to write one."""
    answer = setup.command(command, "--at", "tomorrow")
    assert answer.returncode == TO_MEND
    assert "2027-04-09T06:30" in answer.stderr


@pytest.mark.parametrize("command", ["today", "season", "summary", "supplies", "why", "journal"])
def test_reading_commands_send_and_tell_nothing(setup: Setup, tmp_path: Path, command: str) -> None:
    """Looking is never telling: no row in the journal, no notice in the folder."""
    assert setup.command(command).returncode == DONE
    document = json.loads(setup.command("journal", "--json").stdout)
    assert document["entries"] == []
    assert not list(tmp_path.rglob("*.eml"))


def test_no_command_is_met_with_the_help(setup: Setup) -> None:
    """The help lists every command."""
    answer = setup.command()
    assert answer.returncode == TO_MEND
    assert all(name in answer.stdout for name in ("demo", "today", "season", "record", "run"))


def test_a_harvest_and_a_cost_are_noted_and_summed_up(setup: Setup) -> None:
    """By their own commands, in text and as JSON; nothing is told by looking."""
    setup.write(
        setup.config.read_text(encoding="utf-8").replace(
            '  feed = "Blood meal"\n',
            '  feed = "Blood meal"\n'
            '    [[gardens.batches.plantings]]\n    crop = "tomato"\n    plants = 12\n',
        )
    )
    assert "in the bales yet" in refused(setup, "record", "harvest", "tomato", "2.4kg")
    assert setup.command("record", "done", "row-a-plant-tomato").returncode == DONE
    answer = setup.command("record", "harvest", "Tomato", "2.4kg")
    assert answer.returncode == DONE, answer.stderr
    assert "That makes 2.4 kg from Row A in all" in answer.stdout
    assert setup.command("record", "cost", "12.50", "Bales").returncode == DONE
    assert '"tomato"' in refused(setup, "record", "harvest", "tomatto", "1kg")
    text = setup.command("summary").stdout
    assert "2.40 kg noted in 1 harvest" in text or "2.4 kg noted in 1 harvest" in text
    document = json.loads(setup.command("summary", "--json").stdout)
    assert document["cost_noted"] == 12.5
    assert document["batches"][0]["crops"][0]["kg"] == 2.4
    entries = json.loads(setup.command("journal", "--json").stdout)["entries"]
    assert [entry["kind"] for entry in entries] == ["done", "harvest", "cost"]


def test_the_season_is_written_as_a_page_or_printed(setup: Setup, tmp_path: Path) -> None:
    """Whole, with its pictures; a folder that is not there is met with a sentence."""
    path = tmp_path / "season.html"
    answer = setup.command("season", "--html", str(path))
    assert answer.returncode == DONE, answer.stderr
    assert str(path) in answer.stdout
    page = path.read_text(encoding="utf-8")
    assert page.rstrip().endswith("</html>")
    assert page.count('role="img"') == 4
    assert "Orchard corner" in page
    printed = setup.command("season", "--html", "-")
    assert printed.stdout.lstrip().startswith("<!DOCTYPE html>")
    assert "can't be written" in refused(setup, "season", "--html", str(tmp_path / "no" / "x"))
    assert "not both" in refused(setup, "season", "--html", "-", "--json")


def test_what_was_written_later_is_not_known_at_a_supposed_earlier_time(setup: Setup) -> None:
    """An answer of today counts today, and not when yesterday is asked about."""
    assert setup.command("run", "--once").returncode == DONE
    assert setup.command("record", "missed", "row-a-5-feed").returncode == DONE
    earlier = (setup.today - timedelta(days=1)).isoformat()
    (then,) = setup.today_json("--at", f"{earlier}T12:00")["tasks"]  # type: ignore[misc]
    (now,) = setup.today_json()["tasks"]  # type: ignore[misc]
    assert then["key"] == "row-a-4-water"
    assert (now["key"], now["state"]) == ("row-a-5-feed", "missed")
    projected = json.loads(setup.command("season", "--json", "--at", f"{earlier}T12:00").stdout)
    keys = {each["date"]: each["tasks"][0] for each in projected["days"]}
    assert keys[setup.today.isoformat()]["state"] == "due"


SECOND_GARDEN = """
[[gardens]]
name = "Far field"
latitude = 47.05
longitude = 8.31
time_zone = "Europe/Zurich"
  [[gardens.batches]]
  name = "Hedge"
  bales = 2
  start_on = 2027-04-05
"""


def test_a_feeding_beyond_the_plan_counts_until_it_is_taken_back(setup: Setup) -> None:
    """In the nitrogen that the brief reckons with."""
    before = given_g(setup)
    answer = setup.command("record", "feed", "100g")
    assert answer.returncode == DONE, answer.stderr
    assert given_g(setup) == pytest.approx(before + 12.0)
    (key,) = re.findall(r"row-a-feed-extra-\d{4}-\d\d-\d\d", answer.stdout)
    assert setup.command("record", "missed", key).returncode == DONE
    assert given_g(setup) == pytest.approx(before)


def given_g(setup: Setup) -> float:
    """Return the nitrogen that counts as given to a bale of row A."""
    found = re.findall(r'"nitrogen_given_g_per_bale": ([0-9.]+)', json.dumps(setup.today_json()))
    return float(found[0])


def test_a_record_finds_its_garden_by_the_task_or_the_batch(setup: Setup) -> None:
    """With two gardens, only words that fit several of them need --garden."""
    setup.extra = SECOND_GARDEN
    setup.write()
    answer = setup.command("record", "done", "row-a-5-feed")
    assert answer.returncode == DONE, answer.stderr
    assert "row-a-5-feed was done" in answer.stdout
    answer = setup.command("record", "note", "Slugs", "--batch", "Hedge")
    assert "Far field, " in answer.stdout
    early = setup.command("record", "temperature", "40C", "--batch", "Hedge")
    assert early.returncode == TO_MEND
    assert "Hedge began later" in early.stderr
    assert "--garden" in refused(setup, "record", "temperature", "40C")
    assert "--garden" in refused(setup, "record", "note", "Slugs")
    unknown = setup.command("record", "done", "nonsense")
    assert unknown.returncode == TO_MEND
    assert 'Orchard corner, record "' in unknown.stderr


def test_a_reading_of_self_heating_is_answered_at_once(setup: Setup) -> None:
    """What to do near a hot bale does not wait for the morning; under the limit nothing is said."""
    assert "fire service" not in setup.command("record", "temperature", "64.9C").stdout
    answer = setup.command("record", "temperature", "65C")
    assert answer.returncode == DONE, answer.stderr
    assert "A bale is very hot inside." in answer.stdout
    assert "fire service" in " ".join(answer.stdout.split())


def test_nothing_is_recorded_ahead_of_time_nor_without_words(setup: Setup) -> None:
    """A reading of next year would overrule all that are taken until then."""
    late = (setup.today + timedelta(days=2)).isoformat()
    assert "still to come" in refused(setup, "record", "temperature", "40C", "--at", late)
    assert "note is empty" in refused(setup, "record", "note", "  ")


def test_what_is_odd_in_the_configuration_is_said_by_check_alone(setup: Setup) -> None:
    """A note that comes with every command is not read any more."""
    drenched = ", ".join(f'{day} = "drench with Fish emulsion"' for day in (1, 3, 5, 7, 8, 9))
    plan = setup.config.read_text(encoding="utf-8")
    setup.write(plan.replace('  feed = "Blood meal"', f"  feeds = {{ {drenched} }}"))
    checked = setup.command("check")
    (note,) = [line for line in checked.stderr.splitlines() if "too little" in line]
    assert note.startswith("Note: ")
    assert "allowed:" not in note, "a note asks for nothing"
    assert f"Notices: files in {setup.folder / 'state' / 'notices'}." in checked.stdout
    assert "Note: " not in setup.command("today").stderr


def test_the_configuration_may_be_named_before_or_after_the_command(setup: Setup) -> None:
    """Both are what hands type; the one given counts."""
    answer = setup.command("check", "--config", str(setup.folder / "none.toml"))
    assert answer.returncode == TO_MEND
    assert "none.toml" in answer.stderr
