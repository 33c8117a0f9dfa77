"""`strawbell rehearse`: what would have been told, on recorded weather, and what it came to."""

from __future__ import annotations

import argparse
import json
import sys
import tempfile
from collections import Counter
from collections.abc import Mapping, Sequence
from datetime import date, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

from msgspec import to_builtins
from msgspec.structs import asdict, replace

from strawbell.app.word import gardens_meant, refusal
from strawbell.cli.main import print_json
from strawbell.cli.reach import read_configuration
from strawbell.edges.folder import FolderChannel
from strawbell.edges.forecasts.http import Http
from strawbell.edges.forecasts.past import LATENESS, PreviousRuns, errors_of, hours_from_archive
from strawbell.edges.machine import SystemClock
from strawbell.edges.store.sqlite_store import SqliteStore
from strawbell.model.configuration import Configuration
from strawbell.model.garden import Garden, slug
from strawbell.model.journal import Journal
from strawbell.rehearsal import rehearse as rehearsal
from strawbell.rehearsal.recorded import Report, Weather, read_weather, weather_of
from strawbell.rehearsal.report import (
    BatchTally,
    Tally,
    figure_rows,
    season_report,
    tally,
    weather_sentences,
)
from strawbell.rehearsal.skill import PARAMETERS
from strawbell.season.local_time import moment_of
from strawbell.wiring import MemoryCache
from strawbell.words.catalogue import BRITISH
from strawbell.words.documents import journal_json
from strawbell.words.report import report_html

SIGN = "strawbell-rehearsal.txt"
"""Lies in a folder whose notices, reports and journals are a rehearsal's own."""
OWN = ("*.eml", "report*.html", "journal*.jsonl")
"""What a rehearsal writes."""
FOLDER_NAME = "strawbell-rehearsal"
SEASON_DAYS = 200
"""Days that are rehearsed when nobody says until when (design choice: spring to autumn)."""
LEAD_IN = timedelta(days=2)
"""How much weather before the first date is fetched: persistence looks back."""
TAIL = timedelta(days=10)
"""How much after the last: the last forecasts look ahead that far."""


def rehearse(options: argparse.Namespace) -> int:
    """Rehearse every garden meant, print what it came to, leave all of it in a folder."""
    configuration = read_configuration(options)
    gardens = gardens_meant(configuration.gardens, options.garden)
    records, dates = _weather(options, configuration, gardens)
    if options.forecast_error == "issued":
        records = _with_issued(configuration, gardens, records, dates)
    out = RehearsalFolder((options.out or Path(FOLDER_NAME)).expanduser())
    out.prepare()
    documents, texts = [], []
    for garden in gardens:
        weather = records[garden.name]
        found, journal = _play(options, garden, weather, dates, out)
        report = season_report(
            garden, journal, weather, found, options.forecast_error, options.seed
        )
        out.write(garden, journal, report_html(report), alone=len(gardens) == 1)
        documents.append({**_document(found, options, weather), "report": to_builtins(report)})
        texts.append(_text(found, garden, options))
    if options.json:
        print_json(documents)
        return 0
    print("\n".join(weather_sentences(records[gardens[0].name].report)))
    print("\n".join(texts))
    print("\n" + BRITISH.say("rehearse.end", folder=str(out.path)))
    return 0


def _weather(
    options: argparse.Namespace, configuration: Configuration, gardens: Sequence[Garden]
) -> tuple[Mapping[str, Weather], tuple[date, date]]:
    """Return the record of each garden by its name, and the dates to rehearse."""
    if options.weather is not None:
        zones = {garden.place.time_zone for garden in gardens}
        files = {zone: read_weather(options.weather, ZoneInfo(zone)) for zone in sorted(zones)}
        records = {garden.name: files[garden.place.time_zone] for garden in gardens}
        report = records[gardens[0].name].report
        return records, _dates(options, gardens, report.first, report.last)
    now = SystemClock().now()
    newest = (now - LATENESS).date() - timedelta(days=1)
    first, last = _dates(options, gardens, date.min, newest)
    http = Http(MemoryCache(), contact=configuration.weather.contact)
    base_url = configuration.weather.base_urls.get("open-meteo")
    wanted = (first - LEAD_IN, min(last + TAIL, newest))
    progress = _Progress(wanted, BRITISH.say("rehearse.fetching"))
    records = {}
    for garden in gardens:
        hours = hours_from_archive(http, base_url, garden.place, wanted, now, progress.show)
        records[garden.name] = weather_of(hours, garden.place.zone)
    progress.end()
    return records, (first, last)


def _with_issued(
    configuration: Configuration,
    gardens: Sequence[Garden],
    records: Mapping[str, Weather],
    dates: tuple[date, date],
) -> Mapping[str, Weather]:
    """Return the records with what the default service forecast for each garden at the time."""
    now = SystemClock().now()
    asked = PreviousRuns(Http(MemoryCache(), contact=configuration.weather.contact))
    progress = _Progress(dates, BRITISH.say("rehearse.fetching-forecasts"))
    wanted = (dates[0] - LEAD_IN, min(dates[1] + TAIL, now.date() - timedelta(days=1)))
    found = {}
    for garden in gardens:
        issued = asked.issued(garden.place, wanted, now, progress.show)
        found[garden.name] = replace(records[garden.name], issued=issued)
    progress.end()
    return found


def _play(
    options: argparse.Namespace,
    garden: Garden,
    weather: Weather,
    dates: tuple[date, date],
    out: RehearsalFolder,
) -> tuple[Tally, Journal]:
    notices: Counter[date] = Counter()
    begins = moment_of(dates[0], garden.times.morning, weather.zone)
    with (
        tempfile.TemporaryDirectory(prefix="strawbell-rehearsal-") as folder,
        SqliteStore(Path(folder) / "rehearsal.db", begins, owner=True) as store,
    ):
        records = {garden.place.time_zone: weather}
        channels = (FolderChannel(out.path),)
        progress = _Progress(dates, BRITISH.say("rehearse.playing", garden=garden.name))
        for told in rehearsal.rehearse(
            (garden,), records, store, channels, dates, options.forecast_error, options.seed
        ):
            notices[told.on] += len(told.notices)
            progress.show(told.on)
        progress.end()
        journal = store.journal(garden.name)
    return tally(garden, journal, weather, dates, notices), journal


class RehearsalFolder:
    """Where the report, the journal and the notices of a rehearsal go."""

    def __init__(self, path: Path) -> None:
        """Name the folder; nothing is touched yet."""
        self.path = path

    def prepare(self) -> None:
        """Make the folder, or clear it of an earlier rehearsal; anybody else's is refused."""
        try:
            self.path.mkdir(parents=True, exist_ok=True)
            sign = self.path / SIGN
            if not sign.exists() and any(self.path.iterdir()):
                said = BRITISH.say("rehearse.folder-of-others")
                raise refusal(said, "--out", str(self.path))
            sign.write_text(BRITISH.say("rehearse.sign") + "\n", encoding="utf-8")
            for pattern in OWN:
                for old in self.path.glob(pattern):
                    old.unlink()
        except OSError as error:
            said = BRITISH.say("written.not", error=str(error.strerror or error))
            raise refusal(said, "--out", str(self.path)) from error

    def write(self, garden: Garden, journal: Journal, page: str, *, alone: bool) -> None:
        """Write the report of a garden, and its journal a row a line."""
        mark = "" if alone else f"-{slug(garden.name)}"
        (self.path / f"report{mark}.html").write_text(page, encoding="utf-8")
        rows = journal_json(journal, garden.place.zone)
        lines = "".join(json.dumps(row, ensure_ascii=False) + "\n" for row in rows)
        (self.path / f"journal{mark}.jsonl").write_text(lines, encoding="utf-8")


class _Progress:
    """A bar of one line that is written over, on a terminal only."""

    WIDE = 24

    def __init__(self, dates: tuple[date, date], what: str) -> None:
        self._first, self._last = dates
        self._what = what
        self._shown: date | None = None
        self._wanted = sys.stderr.isatty()

    def show(self, on: date) -> None:
        """Say how far it is, once a date."""
        if not self._wanted or on == self._shown:
            return
        self._shown = on
        share = ((on - self._first).days + 1) / ((self._last - self._first).days + 1)
        done = round(min(1.0, share) * self.WIDE)
        bar = "#" * done + "." * (self.WIDE - done)
        text = f"\r\033[K{self._what} [{bar}] {share:4.0%} {on}"
        print(text, end="", file=sys.stderr, flush=True)

    def end(self) -> None:
        """Clear the line."""
        if self._shown is not None:
            print("\r\033[K", end="", file=sys.stderr, flush=True)


def _dates(
    options: argparse.Namespace, gardens: Sequence[Garden], begins: date, ends: date
) -> tuple[date, date]:
    """Return the dates to rehearse: as asked, else from the first start, for a season."""
    fetched = options.weather is None
    held = {"first": None if fetched else str(begins), "last": str(ends)}
    starts = [batch.start_on for garden in gardens for batch in garden.batches]
    inside = [on for on in starts if begins <= on <= ends]
    first = options.first or min(inside, default=None)
    if first is None:
        planned = BRITISH.listing(sorted({str(on) for on in starts}))
        said = BRITISH.say("rehearse.no-batch", starts=planned, **held)
        raise refusal(said, "" if fetched else "--weather")
    last = options.last or min(ends, first + timedelta(days=SEASON_DAYS - 1))
    for name, on in (("--from", first), ("--to", last)):
        if not begins <= on <= ends:
            raise refusal(BRITISH.say("rehearse.out-of-record", **held), name, str(on))
    if last < first:
        raise refusal(BRITISH.say("rehearse.ends-first", first=str(first)), "--to", str(last))
    if not any(on <= last for on in starts):
        earliest = str(min(starts))
        raise refusal(BRITISH.say("rehearse.not-begun", earliest=earliest), "--to", str(last))
    return first, last


def _text(found: Tally, garden: Garden, options: argparse.Namespace) -> str:
    lines = [
        "",
        BRITISH.say(
            "rehearse.head",
            garden=found.garden,
            first=str(found.first),
            last=str(found.last),
            forecast=options.forecast_error,
            seed=str(options.seed),
        ),
        "  "
        + BRITISH.say(
            "rehearse.notices",
            count=found.notices,
            weekly=BRITISH.number(found.notices_per_week, 1, padded=True),
        ),
    ]
    strawbell, calendar = BRITISH.say("rehearse.strawbell"), BRITISH.say("rehearse.calendar")
    for ours, plain in zip(found.strawbell, found.calendar, strict=True):
        lines += ["", f"  {ours.batch:<54}{strawbell:>14}{calendar:>14}"]
        lines += [
            f"    {label:<52}{show(ours):>14}{show(plain):>14}"
            for label, show in figure_rows(garden.units)
        ]
    return "\n".join(lines)


def _document(found: Tally, options: argparse.Namespace, weather: Weather) -> Mapping[str, object]:
    return {
        "garden": found.garden,
        "first": found.first.isoformat(),
        "last": found.last.isoformat(),
        "forecast_error": options.forecast_error,
        "seed": options.seed,
        "forecast_parameters": dict(PARAMETERS[options.forecast_error]),
        "forecast_errors": [
            asdict(each) for each in errors_of(weather.issued, weather.zone, found.last)
        ],
        "weather": _weather_document(weather.report),
        "notices": found.notices,
        "notices_per_week": round(found.notices_per_week, 2),
        "strawbell": [_batch_document(each) for each in found.strawbell],
        "calendar": [_batch_document(each) for each in found.calendar],
    }


def _weather_document(report: Report) -> Mapping[str, object]:
    return {
        "first": report.first.isoformat(),
        "last": report.last.isoformat(),
        "daily": report.daily,
        "unknown_hours": report.unknown_hours,
        "gaps": [
            {"start": gap.start.isoformat().replace("+00:00", "Z"), "hours": gap.hours}
            for gap in report.gaps
        ],
        "rejected": [asdict(each) for each in report.rejected],
        "doubles": report.doubles,
    }


def _batch_document(each: BatchTally) -> Mapping[str, object]:
    document: dict[str, object] = {
        name: round(value, 2) if isinstance(value, float) else value
        for name, value in asdict(each).items()
    }
    document["feedings_on"] = [on.isoformat() for on in each.feedings_on]
    return document
