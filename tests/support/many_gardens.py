"""One morning of many gardens in a process of its own, measured: run as `python FILE NUMBER ...`.

Prints JSON: seconds of processor time to plan, render and store, and to send; memory at its peak.
"""

from __future__ import annotations

import argparse
import json
import random
import resource
import sys
import time
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

from msgspec.structs import replace

sys.path.insert(0, str(Path(__file__).parents[1]))

from strawbell.app.neighbours import cell_of
from strawbell.app.outbox import Sender
from strawbell.app.pipeline import Pipeline
from strawbell.app.ports import Channel
from strawbell.edges.folder import FolderChannel
from strawbell.edges.forecasts.chain import build_sources, first_forecast
from strawbell.edges.forecasts.http import Http
from strawbell.edges.smtp import SmtpChannel
from strawbell.edges.store.sqlite_store import SqliteStore
from strawbell.model.forecast import Forecast
from strawbell.model.garden import Garden, Place
from strawbell.rehearsal.clock import SimulatedClock
from strawbell.rehearsal.scenario import garden as demo_garden

GARDENS_A_CELL = 100
"""Gardens of a neighbourhood that lie in one weather cell, at most."""
NOW = datetime(2027, 4, 9, 4, 30, tzinfo=UTC)
"""06:30 in Vienna, where every garden is told its morning."""
KIB_PER_MIB = 1024.0


def gardens(number: int) -> list[Garden]:
    """Return gardens at every stage of conditioning, spread over the cells of a country."""
    plain = demo_garden()
    found = []
    for each in range(number):
        cell = each // GARDENS_A_CELL
        place = replace(
            plain.place,
            latitude=46.5 + 0.02 * (cell % 40),
            longitude=10.0 + 0.05 * (cell // 40),
        )
        started = date(2027, 4, 9) - timedelta(days=each % 12)
        batches = (replace(plain.batches[each % 2], start_on=started),)
        found.append(replace(plain, name=f"Garden {each + 1}", place=place, batches=batches))
    return found


def peak_mib() -> float:
    """Return the most memory this process ever held [MiB]."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / KIB_PER_MIB


def main() -> None:
    """Play the morning, send what it queued, print what it took."""
    reader = argparse.ArgumentParser()
    reader.add_argument("number", type=int)
    reader.add_argument("folder", type=Path)
    reader.add_argument("--service", required=True)
    reader.add_argument("--smtp-port", type=int)
    options = reader.parse_args()
    options.folder.mkdir(parents=True, exist_ok=True)
    channel: Channel = FolderChannel(options.folder / "notices")
    if options.smtp_port:
        people = ("grower@example.org",)
        port = options.smtp_port
        channel = SmtpChannel("127.0.0.1", port, "none", "bell@example.org", people)
    every = gardens(options.number)
    with SqliteStore(options.folder / "strawbell.db", NOW, owner=True) as store:
        sources = build_sources(("open-meteo",), Http(store), {"open-meteo": options.service})

        def forecast_for(place: Place, now: datetime) -> tuple[Forecast | None, tuple[str, ...]]:
            return first_forecast(sources, cell_of(place), now)

        sender = Sender(SimulatedClock(NOW), random.Random(1))
        pipeline = Pipeline(every, store, (channel,), forecast_for, sender)
        before_mib = peak_mib()
        begin = time.process_time()
        told = sum(1 for _ in pipeline.tell(NOW))
        planned = time.process_time()
        planned_mib = peak_mib()
        wall = time.perf_counter()
        report = sender.deliver_due(store, channel)
        sent = time.process_time()
        print(
            json.dumps(
                {
                    "told": told,
                    "sent": len(report.results),
                    "accepted": sum(each.state.value == "accepted" for each in report.results),
                    "plan_s": planned - begin,
                    "send_s": sent - planned,
                    "send_wall_s": time.perf_counter() - wall,
                    "before_mib": before_mib,
                    "planned_mib": planned_mib,
                    "peak_mib": peak_mib(),
                    "store_mib": (options.folder / "strawbell.db").stat().st_size / 2**20,
                }
            )
        )


if __name__ == "__main__":
    main()
