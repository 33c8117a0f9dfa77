"""A morning of a club, from its configuration to disk: each garden costs the same."""

from __future__ import annotations

import json
import os
import smtplib
import subprocess
import sys
import time
from collections import Counter
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from tempfile import mkdtemp

import pytest
from msgspec.structs import replace

from strawbell.app.pipeline import Pipeline
from strawbell.edges.forecasts.chain import build_sources, first_forecast
from strawbell.edges.forecasts.http import Http
from strawbell.rehearsal.rehearse import moments_of
from strawbell.rehearsal.scenario import garden as demo_garden
from support.cost import COUNTER, cost_of
from support.fake_clock import sender
from support.forecast_server import FakeOpenMeteo, calm
from support.many_gardens import GARDENS_A_CELL, MAIL, NOW, write
from support.memory_answers import MemoryAnswers
from support.memory_store import MemoryStore
from support.smtp_sink import smtp_sink
from support.speed import curve, figure

PROGRAM = Path(__file__).parents[1] / "support" / "many_gardens.py"
FEW, SOME, MANY = 100, 1_000, 10_000
TARGET_S = {False: 100.0, True: 60.0}
"""For ten thousand gardens of one core, and where neighbours share plan and cell. Seconds differ
from one machine to the next, so they are told; what is held to is the growth, and instructions."""
GROWTH_OF_TIME = 1.5
"""A garden among ten thousand may take this much of what it takes among a thousand."""
MOST_MEMORY_MIB = 300.0
MEMORY_KIB_A_GARDEN = 10.0
"""What a garden may add to the peak; its plan alone is about a kilobyte."""
COUNTED = 20, 120
"""Gardens whose mornings are counted in instructions; what is between them is not the start."""
MOST_STARTS_A_GARDEN = 1.6
"""What the morning of a garden may cost, in starts of a bare interpreter."""
ALIKE_OF_DIFFERENT = 0.75
"""A garden of twelve plans a cell may cost this much of one whose plan is its own."""
SHARDS, IN_A_SHARD = 2, 400
BARE_LOOP = "for number in range(20_000_000): number + 1"
TURNS = 3
"""How often each is measured; the quickest counts, which was disturbed least."""
LEAST_OF_TWO_SHARDS = 1.8
"""Work of two shards beside that of one, where two bare loops do twice that of one."""
MAILS = 500
OF_BARE_SMTP = 0.8
LEAST_OF_BARE_SMTP = 0.5
"""Share of the messages a second of a bare loop that the outbox is to reach, and what it may not
fall under: it syncs each message to disk twice, so the share follows the disk."""
MOST_REQUESTS_A_DAY = 24

pytestmark = pytest.mark.benchmark


@dataclass(frozen=True)
class Morning:
    """What one run of the program took."""

    told: int
    accepted: int
    read_s: float
    stored_s: float
    send_s: float
    send_wall_s: float
    peak_mib: float
    reader_mib: float


def told_in(folder: Path, *options: str) -> Morning:
    """Play the morning of a configuration in a process of its own."""
    line = [sys.executable, str(PROGRAM), "tell", str(folder), *options]
    return Morning(**json.loads(subprocess.run(line, stdout=subprocess.PIPE, check=True).stdout))


def kinds_of(service: FakeOpenMeteo) -> Counter[str]:
    """Return how often each thing was asked for."""
    return Counter(hit.path.partition("?")[0] for hit in service.hits)


@pytest.mark.parametrize("alike", TARGET_S)
def test_ten_thousand_gardens_take_no_more_each_than_a_thousand(
    tmp_path: Path, alike: bool
) -> None:
    """Read, checked, planned, rendered and stored on one core, the cold start counted."""
    rows = {}
    for number in (FEW, SOME, MANY):
        with FakeOpenMeteo(calm, now=NOW) as service:
            write(number, tmp_path / str(number), service.base_url, alike=alike)
            rows[number] = took = told_in(tmp_path / str(number), "--no-send")
            asked = kinds_of(service)
        print(f"\n{number} gardens: {took}, asked {dict(asked)}")
        assert took.told == number
        assert set(asked.values()) <= {1, -(-number // GARDENS_A_CELL)}
    few, some, many = rows.values()
    kind = "alike by twelves" if alike else "each of its own plan"
    each_ms = {number: took.stored_s / number * 1e3 for number, took in rows.items()}
    curve(f"a morning from a cold start, by the number of gardens: {kind}", "ms a garden", each_ms)
    goal = f"{TARGET_S[alike]:.0f} s"
    what = f"10,000 gardens from their configuration to disk: {kind}"
    figure(what, many.stored_s, "s of one core", goal=goal)
    figure(f"of it to read and check the configuration: {kind}", many.read_s, "s of one core")
    growth = (many.stored_s - some.stored_s) / (MANY - SOME)
    growth /= (some.stored_s - few.stored_s) / (SOME - FEW)
    what = f"a garden among ten thousand beside one among a thousand: {kind}"
    figure(what, growth, "times", most=GROWTH_OF_TIME)
    figure(f"most memory with 10,000 gardens: {kind}", many.peak_mib, "MiB", most=MOST_MEMORY_MIB)
    what = f"most memory of what reads and checks 10,000: {kind}"
    figure(what, many.reader_mib, "MiB", most=MOST_MEMORY_MIB)
    grown_kib = (many.peak_mib - few.peak_mib) * 1024 / (MANY - FEW)
    figure(f"memory for each garden more: {kind}", grown_kib, "KiB", most=MEMORY_KIB_A_GARDEN)


@pytest.mark.skipif(COUNTER is None, reason="needs a counter of instructions (valgrind)")
def test_neighbours_of_one_plan_are_decided_once(tmp_path: Path) -> None:
    """The same on a busy machine; what reads the configuration is another process, uncounted."""
    cost = {}
    bare = cost_of((sys.executable, "-c", "pass"))
    with FakeOpenMeteo(calm, now=NOW) as service:
        for alike in TARGET_S:
            counted = []
            for number in COUNTED:
                folder = tmp_path / f"{alike}-{number}"
                write(number, folder, service.base_url, alike=alike)
                counted.append(cost_of((sys.executable, PROGRAM, "tell", folder, "--no-send")))
            cost[alike] = (counted[1] - counted[0]) / (COUNTED[1] - COUNTED[0])
    ratio = cost[True] / cost[False]
    what = "the morning of a garden more"
    figure(what, cost[False] / bare, "starts of a bare interpreter", most=MOST_STARTS_A_GARDEN)
    figure("the same of a plan that neighbours have", ratio, "of it", most=ALIKE_OF_DIFFERENT)


@pytest.mark.skipif(len(os.sched_getaffinity(0)) < SHARDS, reason="needs a core for each shard")
def test_two_shards_on_two_cores_do_nearly_twice_the_work(tmp_path: Path) -> None:
    """Each with configuration and store of its own, from its start to the last notice on disk.

    What two cores can do beside one is told by bare loops in the same turn: twice where nobody
    else works.
    """
    spent: list[float] = []

    def shard(folder: Path) -> None:
        took = told_in(folder)
        assert took.told == IN_A_SHARD
        spent.append(took.stored_s + took.send_s)

    def loop(_: Path) -> None:
        subprocess.run([sys.executable, "-c", BARE_LOOP], check=True)

    def took_s(job: Callable[[Path], None], at_once: int) -> float:
        folders = [Path(mkdtemp(dir=tmp_path)) / "shard" for _ in range(at_once)]
        for folder in folders:
            write(IN_A_SHARD, folder, service.base_url)
        begin = time.perf_counter()
        with ThreadPoolExecutor(at_once) as side_by_side:
            list(side_by_side.map(job, folders))
        return time.perf_counter() - begin

    with FakeOpenMeteo(calm, now=NOW) as service:
        jobs = [(job, at_once) for job in (shard, loop) for at_once in (1, SHARDS)]
        turns = [[took_s(*job) for job in jobs] for _ in range(TURNS)]
    one_s, all_s, bare_s, bares_s = (min(each) for each in zip(*turns, strict=True))
    work, bare = SHARDS * one_s / all_s, SHARDS * bare_s / bares_s
    print(f"\nturns {turns}")
    figure("work of two bare loops on two cores beside one", bare, "times", goal="2, when quiet")
    figure("processor time of a shard of 400 gardens", min(spent), "s")
    what = "work of two shards on two cores beside one"
    least = LEAST_OF_TWO_SHARDS * min(bare / SHARDS, 1)
    figure(what, work, "times", least=least, goal=f"{LEAST_OF_TWO_SHARDS:g}, when quiet")


def test_mail_goes_out_nearly_as_fast_as_from_a_bare_loop(tmp_path: Path) -> None:
    """Over one connection, to the same sink; every claim and outcome synced to disk."""
    with smtp_sink("none") as sink, FakeOpenMeteo(calm, now=NOW) as service:
        way = MAIL.format(port=sink.port) + "[household]\nmerge = false\n"
        write(MAILS, tmp_path / "club", service.base_url, way)
        took = told_in(tmp_path / "club")
        assert took.accepted == MAILS
        bodies = [bytes(each.content) for each in sink.envelopes]
    with smtp_sink("none") as sink:
        begin = time.perf_counter()
        with smtplib.SMTP("127.0.0.1", sink.port) as bare:
            for body in bodies:
                bare.sendmail("bell@example.org", ["grower@example.org"], body)
        bare_s = time.perf_counter() - begin
    share = bare_s / took.send_wall_s
    figure("mails sent over one connection", MAILS / took.send_wall_s, "a second")
    what = "mails a second beside a bare `smtplib` loop"
    figure(what, share, "times", least=LEAST_OF_BARE_SMTP, goal=f"{OF_BARE_SMTP:g}")


def test_a_day_of_watches_asks_at_most_once_an_hour_and_cell() -> None:
    """Two gardens of one cell, watched every hour from morning to night."""
    plain = demo_garden()
    pair = [plain, replace(plain, name="Next door")]
    day = date(2027, 4, 9)
    with FakeOpenMeteo(calm, now=NOW) as service:
        sources = build_sources(
            ("open-meteo",), Http(MemoryAnswers()), {"open-meteo": service.base_url}
        )
        pipeline = Pipeline(
            pair,
            MemoryStore(),
            (),
            lambda place, now: first_forecast(sources, place, now),
            sender(),
        )
        looks = 0
        for moment in moments_of(plain, day, day):
            service.set_now(moment)
            looks += len(pipeline.tick(moment))
        body = service.answer(service.hits[0].path, {}).body
        requests = len(service.hits) - 1
    assert looks > 0
    what = "forecast requests of a cell in a day, watched each hour"
    figure(what, requests, "", least=1, most=MOST_REQUESTS_A_DAY)
    figure("bytes of a forecast before compression", len(body), "")
