"""`strawbell rehearse`: what would have been told, on recorded weather, and what it came to."""

from __future__ import annotations

import argparse
import sys
import tempfile
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import asdict
from datetime import date, datetime, timedelta
from pathlib import Path

from strawbell.cli.context import gardens_meant, read_configuration
from strawbell.cli.output import print_json
from strawbell.edges.folder import FolderChannel
from strawbell.edges.store.sqlite_store import SqliteStore
from strawbell.errors import GrowerError, Problem
from strawbell.model.garden import Garden
from strawbell.planning.local_time import moment_of, zone_of
from strawbell.rehearsal.recorded import Report, Weather, read_weather
from strawbell.rehearsal.rehearse import rehearse
from strawbell.rehearsal.tally import BatchTally, Tally, tally

FOLDER_NAME = "strawbell-rehearsal"
SEASON_DAYS = 200
"""Days that are rehearsed when nobody says until when (design choice: spring to autumn)."""
GAPS_SHOWN = 5


def run(options: argparse.Namespace) -> int:
    """Rehearse every garden meant, print what it came to, leave the notices in a folder."""
    configuration = read_configuration(options)
    gardens = gardens_meant(configuration, options.garden)
    zones = {garden.place.time_zone for garden in gardens}
    weather = {zone: read_weather(options.weather, zone_of(zone)) for zone in sorted(zones)}
    dates = _dates(options, gardens, next(iter(weather.values())).report)
    out = (options.out or Path(FOLDER_NAME)).expanduser()
    out.mkdir(parents=True, exist_ok=True)
    found = _play(options, gardens, weather, dates, out)
    if options.json:
        print_json([_document(each, options, weather, gardens) for each in found])
        return 0
    print(_weather_text(next(iter(weather.values())).report))
    for each in found:
        print(_text(each, options))
    print(f"\nThe notices lie in {out}.")
    return 0


def _play(
    options: argparse.Namespace,
    gardens: Sequence[Garden],
    weather: Mapping[str, Weather],
    dates: tuple[date, date],
    out: Path,
) -> list[Tally]:
    notices: Counter[str] = Counter()
    begins = min(
        moment_of(dates[0], garden.times.morning, weather[garden.place.time_zone].zone)
        for garden in gardens
    )
    with (
        tempfile.TemporaryDirectory(prefix="strawbell-rehearsal-") as folder,
        SqliteStore(Path(folder) / "rehearsal.db", begins, owner=True) as store,
    ):
        channels = (FolderChannel(out),)
        progress = _Progress(dates)
        for told in rehearse(
            gardens, weather, store, channels, dates, options.forecast_error, options.seed
        ):
            notices[told.garden] += len(told.notices)
            progress.show(told.on)
        progress.end()
        return [
            tally(
                garden,
                store.journal(garden.name),
                weather[garden.place.time_zone],
                dates,
                notices[garden.name],
            )
            for garden in gardens
        ]


class _Progress:
    """One line that is written over, on a terminal only."""

    def __init__(self, dates: tuple[date, date]) -> None:
        self._first, self._last = dates
        self._shown: date | None = None
        self._wanted = sys.stderr.isatty()

    def show(self, on: date) -> None:
        """Say how far it is, once a date."""
        if not self._wanted or on == self._shown:
            return
        self._shown = on
        share = ((on - self._first).days + 1) / ((self._last - self._first).days + 1)
        print(f"\rRehearsing {on} ({share:.0%})", end="", file=sys.stderr, flush=True)

    def end(self) -> None:
        """Clear the line."""
        if self._shown is not None:
            print("\r\033[K", end="", file=sys.stderr, flush=True)


def _dates(
    options: argparse.Namespace, gardens: Sequence[Garden], report: Report
) -> tuple[date, date]:
    """Return the dates to rehearse: as asked, else from the first start, for a season."""
    held = f"{report.first} to {report.last}"
    starts = [batch.start_on for garden in gardens for batch in garden.batches]
    inside = [on for on in starts if report.first <= on <= report.last]
    first = options.first or min(inside, default=None)
    if first is None:
        raise GrowerError(
            Problem(
                what="no batch of the plan starts in the recorded weather",
                where="--weather",
                found=", ".join(sorted({str(on) for on in starts})) or "no batches",
                allowed=held,
                remedy="Set start_on to dates of the record in a copy of the configuration.",
            )
        )
    last = options.last or min(report.last, first + timedelta(days=SEASON_DAYS - 1))
    for name, on in (("--from", first), ("--to", last)):
        if not report.first <= on <= report.last:
            raise GrowerError(Problem("the record does not reach there", name, str(on), held))
    if last < first:
        raise GrowerError(
            Problem("it ends before it begins", "--to", str(last), f"{first} or later")
        )
    if not any(on <= last for on in starts):
        raise GrowerError(
            Problem("no batch of the plan has started by then", "--to", str(last), str(min(starts)))
        )
    return first, last


_ROWS: tuple[tuple[str, str], ...] = (
    ("feedings", "feedings"),
    ("held_days", "days a feeding was held"),
    ("moved_days", "days the last feeding moved"),
    ("before_heavy_rain", "feedings within 24 h before 12.7 mm of rain"),
    ("on_freezing_nights", "feedings within 24 h before a freeze"),
    ("weather_unknown", "feedings with weather unknown after them"),
    ("frost_nights_protected", "nights of frost danger, told"),
    ("frost_nights_unprotected", "nights of frost danger, not told"),
    ("hot_dry_days_told", "hot dry days, told"),
    ("hot_dry_days_untold", "hot dry days, not told"),
)


def _text(found: Tally, options: argparse.Namespace) -> str:
    lines = [
        "",
        f"{found.garden}, {found.first} to {found.last}, forecast: {options.forecast_error}"
        f" (seed {options.seed})",
        f"  {found.notices} notices, {found.notices_per_week:.1f} a week",
    ]
    for ours, plain in zip(found.strawbell, found.calendar, strict=True):
        lines += ["", f"  {ours.batch:<46}{'Strawbell':>12}{'calendar':>12}"]
        lines += [
            f"    {label:<44}{getattr(ours, name):>12}{getattr(plain, name):>12}"
            for name, label in _ROWS
        ]
        given = f"{ours.nitrogen_given_g:>12.0f}{plain.nitrogen_given_g:>12.0f}"
        lines.append(f"    {'nitrogen given [g a bale]':<44}{given}")
        lines.append(
            f"    {'of it washed out [g a bale]':<44}{_leached(ours):>12}{_leached(plain):>12}"
        )
    return "\n".join(lines)


def _leached(each: BatchTally) -> str:
    return f"{each.leached_low_g:.1f}-{each.leached_high_g:.1f}"


def _weather_text(report: Report) -> str:
    kind = "days, spread over their hours" if report.daily else "hours"
    lines = [f"Weather by {kind}, {report.first} to {report.last}."]
    if report.gaps:
        lines.append(f"Unknown: {report.unknown_hours} hours in {len(report.gaps)} gaps:")
        lines += [
            f"  {gap.start:%Y-%m-%d %H:%M}, {gap.hours} h" for gap in report.gaps[:GAPS_SHOWN]
        ]
        if len(report.gaps) > GAPS_SHOWN:
            lines.append(f"  and {len(report.gaps) - GAPS_SHOWN} more")
    if report.rejected:
        first = report.rejected[0]
        example = f"line {first.line}, {first.column}: {first.text}"
        lines.append(f"Rejected as impossible: {len(report.rejected)} figures (first: {example}).")
    if report.doubles:
        lines.append(f"Lines of a time that had been before, passed over: {report.doubles}.")
    return "\n".join(lines)


def _document(
    found: Tally,
    options: argparse.Namespace,
    weather: Mapping[str, Weather],
    gardens: Sequence[Garden],
) -> Mapping[str, object]:
    zone = next(each.place.time_zone for each in gardens if each.name == found.garden)
    report = weather[zone].report
    return {
        "garden": found.garden,
        "first": found.first.isoformat(),
        "last": found.last.isoformat(),
        "forecast_error": options.forecast_error,
        "seed": options.seed,
        "weather": {
            "first": report.first.isoformat(),
            "last": report.last.isoformat(),
            "daily": report.daily,
            "unknown_hours": report.unknown_hours,
            "gaps": [{"start": _stamp(gap.start), "hours": gap.hours} for gap in report.gaps],
            "rejected": [asdict(each) for each in report.rejected],
            "doubles": report.doubles,
        },
        "notices": found.notices,
        "notices_per_week": round(found.notices_per_week, 2),
        "strawbell": [_batch_document(each) for each in found.strawbell],
        "calendar": [_batch_document(each) for each in found.calendar],
    }


def _batch_document(each: BatchTally) -> Mapping[str, object]:
    document: dict[str, object] = {
        name: round(value, 2) if isinstance(value, float) else value
        for name, value in asdict(each).items()
    }
    document["feedings_on"] = [on.isoformat() for on in each.feedings_on]
    return document


def _stamp(moment: datetime) -> str:
    return moment.isoformat().replace("+00:00", "Z")
