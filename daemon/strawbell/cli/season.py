"""`strawbell season`: every batch day by day, done and projected; as text, JSON or a page."""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from pathlib import Path

from strawbell.app.word import refusal
from strawbell.cli.context import Seen, seen_gardens
from strawbell.cli.files import write_whole
from strawbell.cli.output import print_json, text_width
from strawbell.decision.projection import season
from strawbell.season.local_time import local_date, zone_of
from strawbell.words.catalogue import BRITISH
from strawbell.words.season_text import season_json
from strawbell.words.terminal import season_screen

STANDARD_OUTPUT = "-"


def run(options: argparse.Namespace) -> int:
    """Print the season of every garden meant, or write all of them into one page."""
    if options.html and options.json:
        raise refusal(BRITISH.say("written.two-ways"), "--html")
    documents = []
    with seen_gardens(options) as gardens:
        if options.html:
            return _write(_page(list(gardens)), options.html)
        for seen in gardens:
            days = season(seen.garden, seen.index, seen.forecast, seen.now)
            today = local_date(seen.now, zone_of(seen.garden.place.time_zone))
            if options.json:
                documents.append(season_json(days, seen.garden, today))
            else:
                rows = [(day.on, task) for day in days for task in day.tasks]
                outlooks = seen.brief().outlooks
                print(season_screen(rows, seen.garden, today, outlooks, text_width()))
    if options.json:
        print_json(documents)
    return 0


def _page(gardens: Sequence[Seen]) -> str:
    """Return the page; what only it needs is loaded here."""
    from strawbell.decision.phases import season_seen
    from strawbell.words.season_page import season_html

    parts = []
    for seen in gardens:
        today = seen.brief()
        parts.append(
            (
                season_seen(seen.garden, seen.rows(None), seen.forecast, seen.now, today),
                today.forecast,
            )
        )
    return season_html(parts)


def _write(page: str, where: str) -> int:
    if where == STANDARD_OUTPUT:
        print(page)
        return 0
    path = Path(where).expanduser()
    write_whole(path, page.encode("utf-8"))
    print(BRITISH.say("written.season", path=str(path)))
    return 0
