"""What a grower reads in four whole seasons: words a morning, how much of it is yesterday's.

`python -m tests.value.mornings --write` plays them as `judge` plays springs, and writes the table
beside it; with `--pages FOLDER` every mail is left there as a page to look at. What stands on the
first screen of a phone is measured by a headless browser, where the machine has one.
"""

from __future__ import annotations

import argparse
import json
import re
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator, Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor
from datetime import date, timedelta
from html import escape
from pathlib import Path
from statistics import mean, median, quantiles
from typing import NamedTuple

from msgspec.structs import replace

from strawbell.model.garden import Batch, Garden, Method, Planting
from strawbell.model.notice import Delivery, Notice, NoticeKind, OutboxRow, Outcome
from strawbell.rehearsal.rehearse import rehearse
from tests.support.memory_store import MemoryStore
from tests.support.whole_seasons import HASTY, PATIENT, SPRING, SUMMER, crop
from tests.value.springs import PLACES, batch_on, garden_with, records

TABLE = Path(__file__).with_suffix(".md")
PERCENT, WEEK_DAYS, DAY = 100.0, 7.0, timedelta(days=1)
BROWSERS = ("chromium", "google-chrome", "chrome")
SCREEN_PX = (380, 640)
"""Width and height of the first screen of a small phone (design choice)."""
AT_A_TIME = 80
"""Mails that are laid out in one run of the browser."""
MEASURE = """
onload = () => document.title = JSON.stringify([...document.querySelectorAll("iframe")].map(f => {
  const page = f.contentDocument, bold = [...page.querySelectorAll("strong")];
  const answers = page.querySelector("a[href^=mailto]").closest("td");
  const why = bold.find(each => each.textContent.trim() == "Why:");
  const silence = [...answers.querySelectorAll("p strong")][0];
  return [(why ? why.closest("td") : answers).getBoundingClientRect().top,
          silence.getBoundingClientRect().bottom];
}))
"""
"""Finds where the work ends, and where it is said what silence means [px]."""
CONDITIONING, SEASON = "getting ready", "planted"
WANTED: Mapping[str, tuple[int, int]] = {CONDITIONING: (120, 220), SEASON: (80, 220)}
"""Words a morning at most: the median, and the 90th percentile (design choice)."""
WANTED_SILENCE = 95.0
"""Percent of mornings on which the meaning of silence is on the first screen, at least."""
WANTED_REPEATED = 25.0
"""Percent of the words that stand word for word in the mail before, at most (design choice)."""


class Played(NamedTuple):
    """A season to play: its name, its skill, the last date, its batches."""

    name: str
    skill: str
    last: date
    batches: tuple[Batch, ...]


class Mail(NamedTuple):
    """A mail of a season: of which date, phase and kind, and what it says."""

    on: date
    phase: str
    kind: NoticeKind
    subject: str
    text: str
    html: str


def row(name: str, start: date, *plantings: Planting) -> Batch:
    """Return six bales that are fed blood meal."""
    return replace(batch_on("Blood meal", *plantings), name=name, start_on=start)


TWO_ROWS = (row("Row A", date(2013, 3, 10), *SPRING), row("Row B", date(2013, 4, 20), *SUMMER))
SEASONS = (
    Played("2013, perfect forecasts", "perfect", date(2013, 11, 15), TWO_ROWS),
    Played("2013, usual forecasts", "usual", date(2013, 11, 15), TWO_ROWS),
    Played(
        "2012, perfect forecasts",
        "perfect",
        date(2012, 11, 20),
        (
            row("Row A", date(2012, 2, 20), *PATIENT),
            row("Row B", date(2012, 2, 22), *HASTY),
        ),
    ),
    Played(
        "2014, usual forecasts, one row",
        "usual",
        date(2014, 10, 15),
        (row("Row A", date(2014, 4, 5), crop("tomato", 12, Method.TRANSPLANT)),),
    ),
)


class Letterbox:
    """A channel that keeps what it is given."""

    name, recipients, answers_to = "letterbox", ("grower@example.org",), "bales@example.org"

    def __init__(self) -> None:
        """Begin empty."""
        self.notices: dict[str, Notice] = {}

    def render(self, notice: Notice, recipient: str, message_id: str) -> bytes:
        """Keep a notice; one is written anew where what goes with it changes."""
        self.notices[message_id] = notice
        return f"{recipient} {message_id}".encode()

    def send(self, row: OutboxRow) -> Delivery:
        """Take it."""
        return Delivery(Outcome.ACCEPTED)

    def close(self) -> None:
        """Keep nothing open."""


def played(season: Played) -> list[Mail]:
    """Return the mails of a season, in order."""
    first = min(each.start_on for each in season.batches)
    plan = garden_with(PLACES["Seattle"], *season.batches)
    plan = replace(plan, times=replace(plan.times, weekly_routine=True))
    with tempfile.TemporaryDirectory() as folder:
        weather = records((), None, Path(folder))["Seattle"][1]
    box, store = Letterbox(), MemoryStore()
    known, dates = {plan.place.time_zone: weather}, (first, season.last)
    for _ in rehearse((plan,), known, store, (box,), dates, season.skill, 1):
        pass
    planted = _planted(plan, store)
    return [
        Mail(each.local_date, SEASON if planted < each.local_date else CONDITIONING, each.kind,
             each.subject, each.text, each.html)
        for each in box.notices.values()
    ]  # fmt: skip


def _planted(plan: Garden, store: MemoryStore) -> date:
    """Return when the last batch was first planted."""
    rows = [each for each in store.journal(plan.name) if each.task]
    return max(
        min(
            each.local_date
            for each in rows
            if each.batch == batch.name
            and each.state == "due"
            and each.data.get("action") in ("plant", "sow")
        )
        for batch in plan.batches
    )


def words_of(text: str) -> int:
    """Return how many words a text has; numbers, units and signs with letters count."""
    return len(re.findall(r"\S*\w\S*", text))


def sentences(text: str) -> list[str]:
    """Return the sentences of a mail, with its lines joined where they are broken only to fit."""
    joined = re.sub(r"(?<!\n)\n(?!\n|- |\d+\. )", " ", text)
    return [each.strip() for each in re.split(r"(?<=[.!?])\s+|\n+", joined) if each.strip()]


def repeated(mails: Sequence[Mail]) -> Iterator[tuple[int, int]]:
    """Yield for each mail but the first its words, and those in sentences of the mail before."""
    before: set[str] = set()
    for number, mail in enumerate(mails):
        said = sentences(mail.text)
        if number:
            yield words_of(mail.text), sum(words_of(each) for each in said if each in before)
        before = set(said)


def table_of(seasons: Mapping[str, Sequence[Mail]]) -> str:
    """Return the measures as a page."""
    mornings = [
        mail for mails in seasons.values() for mail in mails if mail.kind is NoticeKind.MORNING
    ]
    lines = [
        "# What a grower reads",
        "",
        "Written by `python -m tests.value.mornings --write`; how, is in that module. The four",
        "seasons, by the weather of Seattle and with the routine told by the week:",
        f"{'; '.join(seasons)}.",
        "Counted is the text part of a mail that is answered by mail, foot included.",
        "",
        "| | mornings | median words | 90th percentile | wanted |",
        "|---|---|---|---|---|",
    ]
    for phase, (middle, most) in WANTED.items():
        counts = [words_of(each.text) for each in mornings if each.phase == phase]
        high = quantiles(counts, n=10)[-1]
        lines.append(
            f"| {phase} | {len(counts)} | {median(counts):.0f} | {high:.0f} | {middle}, {most} |"
        )
    pairs = [
        pair
        for mails in seasons.values()
        for pair in repeated([each for each in mails if each.kind is NoticeKind.MORNING])
    ]
    by_words = PERCENT * sum(again for _, again in pairs) / sum(count for count, _ in pairs)
    by_mails = PERCENT * mean(again / count for count, again in pairs)
    lines += [
        "",
        f"Word for word as in the mail before: {by_words:.1f} % of all words, {by_mails:.1f} % of",
        f"a mail in the mean; wanted under {WANTED_REPEATED:.0f} %.",
        "",
        *_screens_said(mornings),
        "| season | notices | notices a week, getting ready | planted |",
        "|---|---|---|---|",
    ]
    for name, mails in seasons.items():
        rates = (f"{_weekly(mails, phase):.1f}" for phase in WANTED)
        lines.append(f"| {name} | {len(mails)} | {' | '.join(rates)} |")
    return "\n".join(lines) + "\n"


def _screens_said(mornings: Sequence[Mail]) -> list[str]:
    shares = first_screens(mornings)
    if shares is None:
        return []
    work, silence = shares
    return [
        f"On the first screen of {SCREEN_PX[0]} x {SCREEN_PX[1]} px: all work of the day on"
        f" {work:.0f} %",
        f"of mornings, what silence means on {silence:.0f} %; wanted 100 % and"
        f" {WANTED_SILENCE:.0f} %.",
        "",
    ]


def first_screens(mails: Sequence[Mail]) -> tuple[float, float] | None:
    """Return on how many mornings all work, and what silence means, are on the first screen [%].

    None where there is no browser.
    """
    browser = next(filter(None, map(shutil.which, BROWSERS)), None)
    asked = [each for each in mails if "mailto:" in each.html]
    if browser is None or not asked:
        return None
    found = [
        ends
        for first in range(0, len(asked), AT_A_TIME)
        for ends in _laid_out(browser, asked[first : first + AT_A_TIME])
    ]
    work, silence = zip(*found, strict=True)
    return tuple(  # type: ignore[return-value]
        PERCENT * sum(each <= SCREEN_PX[1] for each in ends) / len(found)
        for ends in (work, silence)
    )


def _laid_out(browser: str, mails: Sequence[Mail]) -> list[list[float]]:
    """Return where the work and the meaning of silence end in each mail [px]."""
    width, height = SCREEN_PX
    frames = "".join(
        f'<iframe width="{width}" height="{height}" style="border:0" srcdoc="{escape(each.html)}">'
        "</iframe>"
        for each in mails
    )
    with tempfile.TemporaryDirectory() as folder:
        page = Path(folder) / "mails.html"
        page.write_text(f"<!DOCTYPE html><script>{MEASURE}</script>{frames}", encoding="utf-8")
        command = (browser, "--headless", "--no-sandbox", "--disable-gpu", "--dump-dom")
        done = subprocess.run(
            (*command, "--virtual-time-budget=30000", page.as_uri()),
            capture_output=True, text=True, check=True, timeout=300,
        )  # fmt: skip
    title = re.search(r"<title>(.*?)</title>", done.stdout)
    assert title is not None, done.stderr
    ends: list[list[float]] = json.loads(title[1])
    return ends


def _weekly(mails: Sequence[Mail], phase: str) -> float:
    """Return the notices a week of a phase, from its first mail to its last."""
    dates = [each.on for each in mails if each.phase == phase]
    return len(dates) / (((max(dates) - min(dates)).days + 1) / WEEK_DAYS)


def main(arguments: Sequence[str]) -> int:
    """Play, measure and print; return the exit code."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--write", action="store_true", help="write the table beside this file")
    parser.add_argument("--pages", type=Path, help="folder for the mails as pages")
    options = parser.parse_args(arguments)
    with ProcessPoolExecutor(2) as pool:
        seasons = dict(zip((each.name for each in SEASONS), pool.map(played, SEASONS), strict=True))
    if options.pages:
        for number, mails in enumerate(seasons.values()):
            _leave(mails, options.pages / str(number))
    text = table_of(seasons)
    if options.write:
        TABLE.write_text(text, encoding="utf-8")
    print(text)
    return 0


def _leave(mails: Sequence[Mail], folder: Path) -> None:
    folder.mkdir(parents=True, exist_ok=True)
    for number, mail in enumerate(mails):
        name = f"{mail.on}-{number:03}-{mail.kind}-{mail.phase.split()[0]}"
        (folder / f"{name}.html").write_text(mail.html, encoding="utf-8")
        (folder / f"{name}.txt").write_text(f"{mail.subject}\n\n{mail.text}", encoding="utf-8")


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
