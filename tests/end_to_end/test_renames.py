"""A garden or a batch that changes its name in mid-season, and one that is lost."""

from __future__ import annotations

import json
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

import pytest

from support.daemon_process import Setup
from support.forecast_server import FakeOpenMeteo, calm


@pytest.fixture
def setup(tmp_path: Path) -> Iterator[Setup]:
    """A garden on its fifth day, a feeding, whose brief is told."""
    with FakeOpenMeteo(calm) as service:
        told = Setup(tmp_path, service.base_url)
        assert told.command("run", "--once").returncode == 0
        yield told


def rename(setup: Setup, before: str, after: str) -> None:
    """Write another name into the configuration."""
    text = setup.config.read_text(encoding="utf-8")
    setup.config.write_text(text.replace(f'"{before}"', f'"{after}"'), encoding="utf-8")


def asked(setup: Setup) -> list[str]:
    """Return the notes of `check` that ask about something lost."""
    answer = setup.command("check", "--json")
    assert answer.returncode == 0, answer.stderr
    sentences = [each["sentence"] for each in json.loads(answer.stdout)["warnings"]]
    return [each for each in sentences if "no longer in the configuration" in each]


@pytest.mark.parametrize(
    ("before", "after", "key"),
    [
        pytest.param("Row A", "Long row", "long-row-5-feed", id="batch"),
        pytest.param("Orchard corner", "Mill lane", "row-a-5-feed", id="garden"),
    ],
)
def test_a_rename_goes_on_with_the_same_journal(
    setup: Setup, before: str, after: str, key: str
) -> None:
    """A feeding that was missed under the old name is due again under the new one."""
    assert setup.command("record", "missed", "row-a-5-feed").returncode == 0
    rename(setup, before, after)
    assert asked(setup) == []
    once = setup.command("run", "--once")
    assert f'"{before}" is called "{after}" now; its journal goes on.' in once.stderr
    entries = json.loads(setup.command("journal", "--json").stdout)["entries"]
    assert [each["task"] for each in entries if each["kind"] == "missed"] == [key]
    assert [each["kind"] for each in entries].count("brief") == 1
    (task,) = setup.today_json()["tasks"]  # type: ignore[misc]
    assert (task["key"], task["state"]) == (key, "missed")


def test_a_batch_that_is_lost_is_asked_about_everywhere_until_it_is_answered(setup: Setup) -> None:
    text = setup.config.read_text(encoding="utf-8")
    start = next(line for line in text.splitlines() if "start_on" in line)
    other = f"  start_on = {setup.today + timedelta(days=10)}"
    setup.config.write_text(
        text.replace('"Row A"', '"Long row"').replace(start, other), encoding="utf-8"
    )
    (question,) = asked(setup)
    assert 'it may be "Long row"' in question
    today = setup.command("today")
    assert question in today.stderr
    assert question in setup.command("run", "--once").stderr
    with setup.config.open("r+", encoding="utf-8") as file:
        named = file.read().replace('name = "Long row"', 'name = "Long row"\n  id = "Row A"')
        file.seek(0)
        file.write(named)
    assert asked(setup) == []


def test_what_the_grower_says_is_gone_is_asked_about_no_more(setup: Setup) -> None:
    text = setup.config.read_text(encoding="utf-8")
    start = next(line for line in text.splitlines() if "start_on" in line)
    later = f"  start_on = {setup.today + timedelta(days=10)}"
    setup.config.write_text(
        text.replace('"Row A"', '"Long row"').replace(start, later), encoding="utf-8"
    )
    assert len(asked(setup)) == 1
    wrong = setup.command("record", "gone", "Row B")
    assert wrong.returncode == 2
    assert 'Nothing of that name is missing. What is missing is "Row A".' in wrong.stderr
    assert setup.command("record", "gone", "Row A").returncode == 0
    assert asked(setup) == []
