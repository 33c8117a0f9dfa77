"""A club in shards: moved to another host with its store, and a garden in two of them."""

from __future__ import annotations

import json
import shutil
import sqlite3
from pathlib import Path

from support.daemon_process import Setup
from support.forecast_server import FakeOpenMeteo, calm
from support.smtp_sink import smtp_sink


def shard(folder: Path, service: FakeOpenMeteo, smtp_port: int) -> Setup:
    """Write a shard whose store lies beside its configuration, whatever host that is on."""
    folder.mkdir(parents=True)
    made = Setup(folder, service.base_url, smtp_port)
    text = made.config.read_text(encoding="utf-8")
    made.write(text.replace(str(folder / "state"), "state"))
    return made


def moved(here: Setup, folder: Path) -> Setup:
    """Copy configuration and store to another host, and let nothing of them stay behind."""
    text = here.config.read_text(encoding="utf-8")
    shutil.copytree(here.folder, folder, ignore=shutil.ignore_patterns("runtime"))
    shutil.rmtree(here.folder)
    there = Setup(folder)
    there.write(text)
    return there


def kinds(setup: Setup) -> list[str]:
    entries = json.loads(setup.command("journal", "--json").stdout)["entries"]
    return [each["kind"] for each in entries]


def test_a_shard_that_moved_goes_on_where_it_was(tmp_path: Path) -> None:
    """What was told is not told again; the journal has what was before, and what comes after."""
    with FakeOpenMeteo(calm) as service, smtp_sink("none") as sink:
        here = shard(tmp_path / "one" / "strawbell" / "north", service, sink.port)
        assert here.command("run", "--once").returncode == 0
        assert len(sink.envelopes) == 1
        before = kinds(here)
        assert "brief" in before
        there = moved(here, tmp_path / "two" / "strawbell" / "north")
        assert there.command("run", "--once").returncode == 0
        assert len(sink.envelopes) == 1
        assert kinds(there) == before
        assert there.command("record", "done", "row-a-5-feed").returncode == 0
        assert kinds(there) == [*before, "done"]
        (task,) = there.today_json()["tasks"]  # type: ignore[misc]
        assert (task["key"], task["state"]) == ("row-a-5-feed", "done")


def test_what_could_not_be_sent_before_the_move_is_sent_after_it_once(tmp_path: Path) -> None:
    """The queue moves with the store, and so do the times at which it tries again."""
    with FakeOpenMeteo(calm) as service, smtp_sink("none") as sink:
        here = shard(tmp_path / "one" / "strawbell" / "north", service, smtp_port=9)
        here.command("run", "--once")
        there = moved(here, tmp_path / "two" / "strawbell" / "north")
        text = there.config.read_text(encoding="utf-8")
        there.write(text.replace("port = 9\n", f"port = {sink.port}\n"))
        with sqlite3.connect(there.folder / "state" / "strawbell.db") as store:
            later = "UPDATE outbox SET next_attempt_at = created_at WHERE state = 'later'"
            assert store.execute(later).rowcount == 1
        for _ in range(2):
            assert there.command("run", "--once").returncode == 0
            assert len(sink.envelopes) == 1
        assert kinds(there).count("brief") == 1


def test_a_garden_in_two_shards_is_found_by_the_check_of_either(tmp_path: Path) -> None:
    with FakeOpenMeteo(calm) as service:
        club = tmp_path / "strawbell"
        north, south = (shard(club / name, service, 9) for name in ("north", "south"))
        for here, other in ((north, south), (south, north)):
            checked = here.command("check", "--json")
            assert checked.returncode == 0, checked.stderr
            what = 'the garden "Orchard corner" stands in two shards, and each would tell it'
            notes = json.loads(checked.stdout)["warnings"]
            (note,) = [each for each in notes if each["what"] == what]
            assert (note["where"], str(other.config) in note["found"]) == (str(here.config), True)
