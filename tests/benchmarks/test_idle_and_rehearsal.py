"""What an idle daemon costs beside its bare libraries, and how long a season's rehearsal takes."""

from __future__ import annotations

import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date, timedelta
from pathlib import Path
from statistics import median

import pytest
from msgspec.structs import replace

from strawbell.edges.folder import FolderChannel
from strawbell.edges.store.sqlite_store import SqliteStore
from strawbell.model.garden import Garden
from strawbell.rehearsal.recorded import read_weather
from strawbell.rehearsal.rehearse import rehearse
from strawbell.rehearsal.scenario import garden as demo_garden
from strawbell.season.local_time import moment_of
from support.daemon_process import Setup, wait_until
from support.forecast_server import FakeOpenMeteo, calm
from support.speed import figure
from support.station_records import PLACES, station_csv
from support.yardstick import median_s, yardstick

WATCHED_S = 120.0
SETTLE_S = 3.0
ROUNDS = 5
IDLE_OF_BARE = 1.5
"""The daemon may take this much of the processor time of the bare libraries with a tick a minute;
each beat it also looks into the outbox on disk."""
START_OF_BARE = 3.5
"""From start to the first brief on disk, in starts of a bare process with the four libraries."""
REHEARSAL_DAYS = 200
REHEARSAL_S = 10.0
"""The target, on a machine that does a hundred thousand additions in 2.5 ms."""
YARDSTICK_S = 0.0025

BARE_TICK = """
import sys
import requests, pydantic_settings, jinja2
from apscheduler.schedulers.blocking import BlockingScheduler
scheduler = BlockingScheduler(timezone="UTC")
scheduler.add_job(int, "interval", seconds=60)
print("ready", flush=True)
scheduler.start()
"""
BARE_START = "import requests, pydantic_settings, jinja2, apscheduler.schedulers.background"

pytestmark = pytest.mark.benchmark


def used(pid: int) -> tuple[float, int]:
    """Return processor time [ms] and voluntary switches of all threads, from the kernel."""
    spent_ns = switches = 0
    for task in Path(f"/proc/{pid}/task").iterdir():
        spent_ns += int((task / "schedstat").read_text(encoding="ascii").split()[0])
        for line in (task / "status").read_text(encoding="ascii").splitlines():
            if line.startswith("voluntary_ctxt_switches:"):
                switches += int(line.split()[1])
    return spent_ns / 1e6, switches


@contextmanager
def bare_process() -> Iterator[int]:
    """Run the bare libraries with a job a minute."""
    bare = subprocess.Popen([sys.executable, "-c", BARE_TICK], stdout=subprocess.PIPE, text=True)
    assert bare.stdout is not None
    assert bare.stdout.readline() == "ready\n"
    try:
        yield bare.pid
    finally:
        bare.kill()
        bare.communicate()


def test_an_idle_daemon_costs_little_more_than_its_libraries(tmp_path: Path) -> None:
    """Processor time and wake-ups, the same two minutes for both."""
    with FakeOpenMeteo(calm) as service, bare_process() as bare:
        daemon = Setup(tmp_path, service.base_url).start()
        assert wait_until(lambda: any((tmp_path / "state").glob("notices/*.eml")))
        time.sleep(SETTLE_S)
        before = {pid: used(pid) for pid in (bare, daemon.pid)}
        time.sleep(WATCHED_S)
        after = {pid: used(pid) for pid in (bare, daemon.pid)}
        daemon.send_signal(signal.SIGTERM)
        daemon.communicate()
    (bare_ms, bare_wakes), (daemon_ms, daemon_wakes) = (
        (after[pid][0] - before[pid][0], after[pid][1] - before[pid][1])
        for pid in (bare, daemon.pid)
    )
    figure("processor time of an idle daemon in two minutes", daemon_ms, "ms")
    figure("wake-ups of an idle daemon in two minutes", daemon_wakes, "", goal=f"{bare_wakes}")
    what = "processor time of an idle daemon beside the bare libraries with a tick a minute"
    figure(what, daemon_ms / bare_ms, "times", most=IDLE_OF_BARE)


def test_the_first_brief_is_on_disk_within_few_bare_starts(tmp_path: Path) -> None:
    """Configuration, store, forecast over loopback, decision, words, file."""
    bare, first = [], []
    with FakeOpenMeteo(calm) as service:
        for number in range(ROUNDS):
            begin = time.perf_counter()
            subprocess.run([sys.executable, "-c", BARE_START], check=True)
            bare.append(time.perf_counter() - begin)
            folder = tmp_path / str(number)
            folder.mkdir()
            setup = Setup(folder, service.base_url)
            begin = time.perf_counter()
            daemon = setup.start()
            while not any((folder / "state").glob("notices/*.eml")):
                time.sleep(0.002)
            first.append(time.perf_counter() - begin)
            daemon.send_signal(signal.SIGTERM)
            daemon.communicate()
    ratio = median(first) / median(bare)
    what = "from the start of the daemon to the first brief on disk"
    figure(what, ratio, "starts of the bare libraries", most=START_OF_BARE, goal="2")


def rehearsed_garden() -> tuple[Garden, date]:
    """Return a garden of one batch in Seattle that is in use all season."""
    plain = demo_garden()
    start = date(2013, 3, 25)
    times = replace(plain.times, watch_every_min=60)
    batch = replace(plain.batches[0], start_on=start)
    return replace(plain, place=PLACES["Seattle"], times=times, batches=(batch,)), start


def test_a_season_is_rehearsed_within_ten_seconds_of_that_machine(tmp_path: Path) -> None:
    """Two hundred days, a look each hour, through the real store and folder."""
    garden, start = rehearsed_garden()
    weather = read_weather(station_csv(tmp_path, "Seattle"), garden.place.zone)
    dates = (start, start + timedelta(days=REHEARSAL_DAYS - 1))
    begins = moment_of(start, garden.times.morning, weather.zone)
    channels = (FolderChannel(tmp_path / "notices"),)
    with SqliteStore(tmp_path / "rehearsal.db", begins, owner=True) as store:
        zone = garden.place.time_zone
        begin = time.process_time()
        told = rehearse((garden,), {zone: weather}, store, channels, dates, "usual", 1)
        notices = sum(len(each.notices) for each in told)
        took_s = time.process_time() - begin
    stick_s = median_s(yardstick, ROUNDS, time.process_time)
    assert notices > 0
    figure("200 days rehearsed, a look each hour", took_s, "s of one core", goal="10 s")
    what = "200 days rehearsed, beside plain additions"
    unit, most = "times 100,000 additions", REHEARSAL_S / YARDSTICK_S
    figure(what, took_s / stick_s, unit, most=most)
