"""One morning of a club from its configuration to disk, measured: run as `python FILE ...`.

`python FILE write NUMBER FOLDER --service URL` writes the configuration, `python FILE tell FOLDER`
reads it and tells the morning as a daemon does that has just been started. Prints JSON: seconds of
processor time from the start of the process until all is planned, rendered and stored, and to
send; memory at its peak, of this process and of the one that read the configuration.
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

sys.path.insert(0, str(Path(__file__).parents[1]))

from strawbell.app.outbox import Sender
from strawbell.config.places import read_apart
from strawbell.rehearsal.rehearse import SimulatedClock
from strawbell.wiring import introduce, open_store, pipeline_of

GARDENS_A_CELL = 100
"""Gardens of a neighbourhood that lie in one weather cell, at most."""
NOW = datetime(2027, 4, 9, 4, 30, tzinfo=UTC)
"""06:30 in Vienna, where every garden is told its morning."""
KIB_PER_MIB = 1024.0
STARTS, SIZES = 12, 9
"""Days of conditioning on which gardens are, and bales that they have."""

MAIN = """
[times]
morning = 06:30:00
evening = 18:30:00
watch_every_min = 120
quiet_from = 21:30:00
quiet_to = 06:00:00
give_up = 20:00:00
[weather]
sources = ["open-meteo"]
[weather.base_urls]
open-meteo = "{service}"
[state]
path = "{folder}/state"
{way}
"""
MAIL = """
[email]
host = "127.0.0.1"
port = {port}
security = "none"
sender = "bell@example.org"
recipients = ["grower@example.org"]
"""
GARDEN = """
[[gardens]]
name = "Garden {number}"
latitude = {latitude:.2f}
longitude = {longitude:.2f}
elevation_m = 270
time_zone = "Europe/Vienna"
  [[gardens.batches]]
  name = "Row A"
  bales = {bales}
  start_on = {start_on}
  schedule = "{schedule}"
  feed = "{feed}"
    [[gardens.batches.plantings]]
    crop = "{crop}"
    plants = {plants}
    method = "{method}"
"""
KINDS = (
    {
        "schedule": "alternate-days", "feed": "Blood meal",
        "crop": "tomato", "plants": 2, "method": "transplant",
    },
    {
        "schedule": "soak-first", "feed": "Urea",
        "crop": "radish", "plants": 30, "method": "seed",
    },
)  # fmt: skip
"""What is grown, by turns."""


def write(number: int, folder: Path, service: str, way: str = "", *, alike: bool = False) -> Path:
    """Write gardens at every stage of conditioning, a file each, over the cells of a country.

    Gardens of a cell differ in their plans, but for those that are `alike`: of them there are
    twelve plans a cell.
    """
    (folder / "gardens.d").mkdir(parents=True)
    for each in range(number):
        cell, place = divmod(each, GARDENS_A_CELL)
        (folder / "gardens.d" / f"{each:06}.toml").write_text(
            GARDEN.format(
                number=each + 1,
                latitude=46.5 + 0.02 * (cell % 40),
                longitude=10.0 + 0.05 * (cell // 40),
                bales=3 if alike else 1 + place // STARTS % SIZES,
                start_on=date(2027, 4, 9) - timedelta(days=each % STARTS),
                **KINDS[each % len(KINDS)],
            ),
            encoding="utf-8",
        )
    path = folder / "config.toml"
    path.write_text(MAIN.format(service=service, folder=folder, way=way), encoding="utf-8")
    return path


def peak_mib(whose: int) -> float:
    """Return the most memory this process ever held, or one of its children [MiB]."""
    return resource.getrusage(whose).ru_maxrss / KIB_PER_MIB


def spent_s() -> float:
    """Return the processor time of this process since its start and of its children [s]."""
    uses = [resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)]
    return sum(use.ru_utime + use.ru_stime for use in uses)


def tell(path: Path, *, is_sent: bool) -> None:
    """Play the morning, send what it queued, print what it took."""
    configuration = read_apart(path)
    read_s = spent_s()
    clock = SimulatedClock(NOW)
    with open_store(configuration, NOW, owner=True) as store:
        introduce(configuration, store, NOW)
        pipeline = pipeline_of(configuration, store, Sender(clock, random.Random(1)))
        told = sum(1 for _ in pipeline.tell(NOW))
        stored_s, begin_s = spent_s(), time.perf_counter()
        accepted = 0
        for channel in pipeline.channels if is_sent else ():
            run = pipeline.sender.deliver_due(store, channel)
            accepted += sum(each.state.value == "accepted" for each in run.results)
        print(
            json.dumps(
                {
                    "told": told,
                    "accepted": accepted,
                    "read_s": read_s,
                    "stored_s": stored_s,
                    "send_s": spent_s() - stored_s,
                    "send_wall_s": time.perf_counter() - begin_s,
                    "peak_mib": peak_mib(resource.RUSAGE_SELF),
                    "reader_mib": peak_mib(resource.RUSAGE_CHILDREN),
                }
            )
        )


def main() -> None:
    """Write the configuration, or play its morning."""
    reader = argparse.ArgumentParser()
    commands = reader.add_subparsers(dest="command", required=True)
    writes = commands.add_parser("write")
    writes.add_argument("number", type=int)
    writes.add_argument("folder", type=Path)
    writes.add_argument("--service", required=True)
    writes.add_argument("--alike", action="store_true")
    tells = commands.add_parser("tell")
    tells.add_argument("folder", type=Path)
    tells.add_argument("--no-send", action="store_true")
    options = reader.parse_args()
    if options.command == "write":
        write(options.number, options.folder, options.service, alike=options.alike)
    else:
        tell(options.folder / "config.toml", is_sent=not options.no_send)


if __name__ == "__main__":
    main()
