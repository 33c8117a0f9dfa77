"""What a command reads of the store of a daemon is what the daemon reads of it."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

import pytest

from strawbell.app.door import Doorman
from strawbell.app.looks import KeptIndexes, kept_in
from strawbell.cli import reach
from strawbell.edges.door import Door
from strawbell.edges.store.sqlite_store import SqliteStore
from strawbell.model.configuration import Configuration, WeatherSettings
from strawbell.rehearsal.rehearse import SimulatedClock
from support.long_journal import BUILD, FIRST, HOURS, build, garden_on, moment

DAYS = 30


def test_a_journal_is_indexed_through_the_door_as_without_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """From the checkpoint, and of the rows only from those that came after it."""
    build(DAYS, tmp_path / "strawbell.db")
    on = FIRST + timedelta(days=DAYS)
    plan, now, door = garden_on(on), moment(on, HOURS[0]), tmp_path / "runtime" / "door"
    monkeypatch.setattr(reach, "doors", lambda _: (door,))
    configuration = Configuration(
        path=str(tmp_path / "config.toml"), gardens=(plan,), weather=WeatherSettings((), None)
    )
    wishes = []
    with SqliteStore(tmp_path / "strawbell.db", now, owner=True) as store:
        doorman = Doorman(lambda: (plan,), store, SimulatedClock(now), lambda: None, "here", print)

        def answer(request, who):  # type: ignore[no-untyped-def]
            wishes.append(request)
            return doorman.answer(request, who)

        with Door(door, answer, print), reach.reached(configuration, now) as behind:
            found = kept_in(behind, plan, BUILD)
            assert found.index == KeptIndexes(store, BUILD).of(plan)
            last, _ = store.checkpoint(plan.name) or (0, b"")
            assert last > 0
            assert [each["after"] for each in wishes if each["ask"] == "planned"] == [last]
            for of_date in (None, on - timedelta(days=1)):
                assert behind.journal(plan.name, of_date) == store.journal(plan.name, of_date) != ()
