"""`strawbell demo`: a built-in garden played through a built-in spring, without a network."""

from __future__ import annotations

import argparse
import random
import tempfile
from collections.abc import Iterator, Mapping
from datetime import date, datetime
from pathlib import Path

from strawbell.app.outbox import Sender
from strawbell.app.pipeline import Pipeline, Told
from strawbell.app.ports import Channel
from strawbell.decision.brief import brief
from strawbell.edges.folder import FolderChannel
from strawbell.edges.store.sqlite_store import SqliteStore
from strawbell.model.brief import Action, AlertCode, Brief, ReasonCode, State, WorkKind
from strawbell.model.forecast import Forecast
from strawbell.model.garden import Garden, Place
from strawbell.model.notice import NoticeKind
from strawbell.rehearsal import scenario
from strawbell.rehearsal.rehearse import SimulatedClock, moments_of, play
from strawbell.season.journal_index import JournalIndex
from strawbell.season.local_time import moment_of
from strawbell.words.asking import addressed
from strawbell.words.catalogue import BRITISH
from strawbell.words.terminal import today_screen

FOLDER_NAME = "strawbell-demo"

_Morning = tuple[Told, Brief | None, Mapping[WorkKind, date]]
"""What was told, the brief where it was a morning, and what was explained before it."""


def demo(options: argparse.Namespace) -> int:
    """Play the spring, print its notable mornings, leave every notice in the folder."""
    out = (options.out or Path(FOLDER_NAME)).expanduser()
    out.mkdir(parents=True, exist_ok=True)
    garden = scenario.garden()
    shown: set[str] = set()
    notices = 0
    with tempfile.TemporaryDirectory(prefix="strawbell-demo-") as folder:
        for told, journal_brief, explained in _mornings(garden, Path(folder), out):
            notices += len(told.notices)
            _write_pages(told, garden, out)
            title = _notable(journal_brief, shown) if journal_brief else None
            if title and journal_brief:
                shown.add(title)
                print(f"=== {BRITISH.say(f'notable.{title}')} ===\n")
                print(today_screen(journal_brief, garden, explained=explained))
    print(BRITISH.say("demo.end", count=notices, folder=str(out)))
    print(BRITISH.say("demo.invented"))
    return 0


def _mornings(garden: Garden, state: Path, out: Path) -> Iterator[_Morning]:
    clock = SimulatedClock(moment_of(scenario.FIRST_DAY, garden.times.morning, garden.place.zone))
    channels: tuple[Channel, ...] = (FolderChannel(out),)

    def forecast_for(place: Place, now: datetime) -> tuple[Forecast | None, tuple[str, ...]]:
        del place
        return scenario.forecast(now), ()

    with SqliteStore(state / "demo.db", clock.now(), owner=True) as store:
        sender = Sender(clock, random.Random(0))  # noqa: S311 - the demo is the same each time
        pipeline = Pipeline((garden,), store, channels, forecast_for, sender)
        moments = moments_of(garden, scenario.FIRST_DAY, scenario.LAST_DAY)
        for told in play(pipeline, clock, moments):
            if any(notice.kind is NoticeKind.MORNING for notice in told.notices):
                journal = tuple(
                    entry for entry in store.journal(garden.name) if entry.local_date < told.on
                )
                index = JournalIndex.of(journal)
                today = brief(garden, index, scenario.forecast(clock.now()), clock.now())
                yield told, today, index.explained(today.on)
            else:
                yield told, None, {}


def _notable(today: Brief, shown: set[str]) -> str | None:
    """Return why a morning is worth printing (a row of the catalogue), the first time it comes."""
    return next((title for title in _titles(today) if title not in shown), None)


def _titles(today: Brief) -> Iterator[str]:
    feedings = [task for task in today.tasks if task.action is Action.FEED]
    held_for = {why.code for task in feedings if task.state is State.HELD for why in task.reasons}
    alerts = {alert.code for alert in today.alerts}
    if ReasonCode.FREEZE in held_for:
        yield "frost"
    if ReasonCode.HEAVY_RAIN in held_for:
        yield "rain"
    if AlertCode.FROST in alerts:
        yield "late-frost"
    if AlertCode.HOT_DRY in alerts:
        yield "hot"
    if any(task.state is State.DUE for task in feedings) and today.on > scenario.FIRST_DAY:
        yield "ordinary"


def _write_pages(told: Told, garden: Garden, out: Path) -> None:
    zone = garden.place.zone
    for notice in told.notices:
        at = notice.created_at.astimezone(zone).strftime("%H%M")
        name = f"{notice.local_date.isoformat()}-{at}-{notice.kind.value}.html"
        (out / name).write_text(addressed(notice).html, encoding="utf-8")
