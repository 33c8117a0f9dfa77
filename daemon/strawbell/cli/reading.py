"""The commands that read: the day, the season, what is told of them and what is kept.

Each shows every garden meant: as a screen, or with --json as a document. What words a command
needs is loaded by it alone, since loading is most of what it costs.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import date, datetime
from functools import partial
from pathlib import Path
from typing import TypeVar

from msgspec import Struct
from msgspec.structs import replace

from strawbell.app.identity import settled_in
from strawbell.app.looks import KeptIndex, kept_in
from strawbell.app.word import gardens_meant, moment_meant, one_garden, refusal, tongue_of
from strawbell.cli.main import print_json, text_width
from strawbell.cli.reach import Reached, reached, read_configuration
from strawbell.decision.brief import brief, suppose_told
from strawbell.edges.machine import SystemClock, replace_whole
from strawbell.errors import OperationalError
from strawbell.model.brief import Brief, State, Task
from strawbell.model.forecast import Forecast
from strawbell.model.garden import Garden
from strawbell.model.journal import EntryKind, Journal
from strawbell.model.season import Chances
from strawbell.season.journal_index import JournalIndex
from strawbell.wiring import MemoryCache, build, forecasts_of
from strawbell.words.catalogue import BRITISH

STANDARD_OUTPUT = "-"
T = TypeVar("T")


class Seen(Struct, frozen=True):
    """A garden as a reading command sees it."""

    garden: Garden
    kept: KeptIndex
    rows: Callable[[date | None], Journal]
    """All rows that were there, or those of one local date; most commands need none."""
    forecast: Forecast | None
    now: datetime
    complaints: tuple[str, ...]
    asked: tuple[str, ...] = ()
    """Questions about what the running season knows and the configuration lost."""

    @property
    def index(self) -> JournalIndex:
        """Return what its journal says."""
        return self.kept.index

    def brief(self) -> Brief:
        """Return the brief, the same one the daemon would make."""
        folds = self.kept.folds
        return brief(self.garden, self.index, self.forecast, self.now, folds=folds)

    @property
    def today(self) -> date:
        """Return the local date it is seen on."""
        return self.garden.place.date_at(self.now)


def _rows_of(journal: Journal, on: date | None) -> Journal:
    """Return the rows of a date, or all of them."""
    return tuple(row for row in journal if on is None or row.local_date == on)


@contextmanager
def seen_gardens(options: argparse.Namespace) -> Iterator[Iterator[Seen]]:
    """Give every garden meant, with its journal and the forecast for the moment meant.

    A supposed time (--at) leaves the store as it is: answers of the services are kept for this
    command only. What lies between now and a supposed later time is taken as told and done; rows
    written after a supposed earlier time are left out, and so all rows are read. Without one, the
    checkpoint of the journal is read, and what came after it.
    """
    configuration = read_configuration(options)
    gardens = gardens_meant(configuration.gardens, options.garden)
    real_now = SystemClock().now()
    with reached(configuration, real_now) as store:
        which = settled_in(store, configuration.gardens, real_now)
        forecast_for = forecasts_of(configuration, store if options.at is None else MemoryCache())

        def each() -> Iterator[Seen]:
            for garden in gardens:
                now = moment_meant(options.at, garden, real_now)
                forecast, complaints = forecast_for(garden.place, now)
                if options.at is None:
                    kept = kept_in(store, garden, build())
                    rows = partial(store.journal, garden.name)
                else:
                    # What was written later was not known then.
                    known = tuple(each for each in store.journal(garden.name) if each.at <= now)
                    journal = suppose_told(garden, known, forecast, real_now, now)
                    kept = KeptIndex(JournalIndex.of(journal))
                    rows = partial(_rows_of, journal)
                asked = which.questions(garden.name)
                yield Seen(garden, kept, rows, forecast, now, complaints, asked)

        yield each()


def _show(
    options: argparse.Namespace,
    each: Iterator[T],
    document: Callable[[T], object],
    screen: Callable[[T], str],
) -> int:
    """Print each as a screen, or all of them as JSON: one as an object, several as an array."""
    documents = []
    for one in each:
        if options.json:
            documents.append(document(one))
        else:
            print(screen(one))
    if options.json:
        print_json(documents)
    return 0


def today(options: argparse.Namespace) -> int:
    """Print the brief of the day."""

    def screen(seen: Seen) -> str:
        from strawbell.words.terminal import today_screen

        made = _made(seen)
        return today_screen(made, seen.garden, text_width(), seen.index.explained(made.on))

    def document(seen: Seen) -> object:
        from strawbell.words.documents import brief_json

        return {**brief_json(_made(seen), seen.garden), "asked": list(seen.asked)}

    with seen_gardens(options) as gardens:
        return _show(options, gardens, document, screen)


def _made(seen: Seen) -> Brief:
    """Return the brief, and say what it could not know."""
    for complaint in (*seen.asked, *seen.complaints):
        print(complaint, file=sys.stderr)
    return seen.brief()


def how(options: argparse.Namespace) -> int:
    """Print the steps and cautions of the work meant: that of today, else of the week ahead."""
    from strawbell.words.morning import how_lines
    from strawbell.words.terminal import how_screen

    def document(garden: Garden, on: date, tasks: tuple[Task, ...]) -> object:
        work = [
            {"work": first, "steps_and_cautions": rest}
            for first, *rest in how_lines(tasks, garden, on)
        ]
        return {"version": 1, "garden": garden.name, "date": on.isoformat(), "tasks": work}

    known: dict[str, None] = {}
    with seen_gardens(options) as gardens:
        found = []
        for seen in gardens:
            made = seen.brief()
            known.update(dict.fromkeys(task.key.text() for task in made.tasks))
            tasks = _tasks_meant(made, options.task, seen.garden)
            found += [(seen.garden, made.on, tasks)] if tasks else []
    if not found:
        tasks_said = BRITISH.listing(known)
        raise OperationalError(BRITISH.say("how.none", asked=options.task, tasks=tasks_said))
    if options.json:
        print_json([document(*each) for each in found])
        return 0
    screens = (how_screen(tasks, garden, on, text_width()) for garden, on, tasks in found)
    print("\n".join(screens), end="")
    return 0


def _tasks_meant(made: Brief, called: str, garden: Garden) -> tuple[Task, ...]:
    """Return the work of today that is called so, as if due; else of the first day ahead."""
    from strawbell.words.advice import noun

    wanted, tongue = called.casefold(), tongue_of(garden)
    for tasks in (made.tasks, *(day.tasks for day in made.ahead)):
        due = tuple(
            replace(task, state=State.DUE, held_until=None, instead=())
            for task in tasks
            if any(
                wanted in name.casefold()
                for name in (task.key.text(), noun(task.action, tongue), *task.crops)
            )
        )
        if due:
            return due
    return ()


def season(options: argparse.Namespace) -> int:
    """Print every batch day by day, done and projected, or write all of them into one page."""
    from strawbell.decision import projection

    if options.html and options.json:
        raise refusal(BRITISH.say("written.two-ways"), "--html")

    def document(seen: Seen) -> object:
        from strawbell.words.documents import season_json

        days = projection.season(seen.garden, seen.index, seen.forecast, seen.now)
        return season_json(days, seen.garden, seen.today)

    def screen(seen: Seen) -> str:
        from strawbell.words.terminal import season_screen

        days = projection.season(seen.garden, seen.index, seen.forecast, seen.now)
        rows = [(day.on, task) for day in days for task in day.tasks]
        outlooks = seen.brief().outlooks
        return season_screen(rows, seen.garden, seen.today, outlooks, text_width())

    with seen_gardens(options) as gardens:
        if not options.html:
            return _show(options, gardens, document, screen)
        page = _season_page(gardens)
    if options.html == STANDARD_OUTPUT:
        print(page)
        return 0
    path = Path(options.html).expanduser()
    _write_whole(path, page.encode("utf-8"))
    print(BRITISH.say("written.season", path=str(path)))
    return 0


def _write_whole(path: Path, content: bytes) -> None:
    """Replace a file at once, so that a program that reads it never sees half of it."""
    try:
        replace_whole(path, content)
    except OSError as error:
        said = BRITISH.say("written.not", error=str(error.strerror))
        raise refusal(said, str(path)) from error


def _season_page(gardens: Iterator[Seen]) -> str:
    from strawbell.decision.projection import season_seen
    from strawbell.words.season_page import season_html

    parts = []
    for seen in gardens:
        made, rows = seen.brief(), seen.rows(None)
        lived = season_seen(seen.garden, rows, seen.forecast, seen.now, made)
        parts.append((lived, made.forecast))
    return season_html(parts)


def calendar(options: argparse.Namespace) -> int:
    """Write the season as an iCalendar file, anew in place, and say how many entries it has."""
    from strawbell.decision import projection
    from strawbell.words.calendar import calendar_bytes

    path: Path = options.file.expanduser()
    with seen_gardens(options) as gardens:
        every = list(gardens)
        if len(every) != 1:
            one_garden([each.garden for each in every], options.garden)
        seen = every[0]
        days = projection.season(seen.garden, seen.index, seen.forecast, seen.now)
        previous = path.read_bytes() if path.is_file() else None
        content = calendar_bytes(days, seen.garden, previous, seen.now)
    if content == previous:
        print(BRITISH.say("written.same", path=str(path)))
        return 0
    _write_whole(path, content)
    entries = content.count(b"BEGIN:VEVENT")
    print(BRITISH.say("written.calendar", path=str(path), count=entries))
    return 0


def supplies(options: argparse.Namespace) -> int:
    """Print what is still to be bought, in packages, and by when."""
    from strawbell.decision.projection import shopping
    from strawbell.words.documents import supplies_json
    from strawbell.words.shopping import supplies_screen

    def shown(seen: Seen, form: Callable[..., T]) -> T:
        wanted = shopping(seen.garden, seen.index, seen.forecast, seen.now)
        return form(wanted, seen.garden, seen.today)

    with seen_gardens(options) as gardens:
        return _show(
            options,
            gardens,
            partial(shown, form=supplies_json),
            partial(shown, form=supplies_screen),
        )


def why(options: argparse.Namespace) -> int:
    """Print the numbers behind a day's decisions, as they were when it was told."""
    from strawbell.words.terminal import why_screen

    def document(seen: Seen) -> dict[str, object]:
        return _brief_told(seen, options.date or seen.today)

    with seen_gardens(options) as gardens:
        return _show(
            options, gardens, document, lambda seen: why_screen(document(seen), seen.garden)
        )


def _brief_told(seen: Seen, on: date) -> dict[str, object]:
    """Return the brief as it was told on a date, or for today as it would be told now."""
    from strawbell.words.documents import brief_json

    for entry in reversed(seen.rows(on)):
        if entry.kind is EntryKind.BRIEF and entry.data:
            return dict(entry.data)
    made = seen.brief()
    if made.on == on:
        return dict(brief_json(made, seen.garden))
    raise OperationalError(
        tongue_of(seen.garden).say("why.nothing", garden=seen.garden.name, day=on.isoformat())
    )


class KeptJournal(Struct, frozen=True):
    """The journal of a garden up to the moment meant, for what asks for no forecast."""

    garden: Garden
    rows: Journal
    until: datetime
    store: Reached

    @property
    def today(self) -> date:
        """Return the local date of the moment."""
        return self.garden.place.date_at(self.until)


@contextmanager
def _kept_journals(options: argparse.Namespace) -> Iterator[Iterator[KeptJournal]]:
    configuration, now = read_configuration(options), SystemClock().now()
    with reached(configuration, now) as store:

        def each() -> Iterator[KeptJournal]:
            for garden in gardens_meant(configuration.gardens, options.garden):
                until = moment_meant(options.at, garden, now)
                rows = tuple(row for row in store.journal(garden.name) if row.at <= until)
                yield KeptJournal(garden, rows, until, store)

        yield each()


def summary(options: argparse.Namespace) -> int:
    """Print what the season came to by the journal, and what to change next year."""
    from strawbell.season.season_summary import summarise
    from strawbell.words.documents import summary_json
    from strawbell.words.summary import summary_screen

    def shown(kept: KeptJournal, form: Callable[..., T]) -> T:
        index = JournalIndex.of(kept.rows)
        return form(summarise(kept.garden, kept.rows, index, kept.today), kept.garden)

    with _kept_journals(options) as gardens:
        return _show(
            options, gardens, partial(shown, form=summary_json), partial(shown, form=summary_screen)
        )


def journal(options: argparse.Namespace) -> int:
    """Print what was told, done, missed, measured and sent."""
    from strawbell.season.journal_index import standing
    from strawbell.season.season_summary import chances_kept
    from strawbell.words.documents import chances_json, journal_json
    from strawbell.words.terminal import journal_screen

    def rows_of(kept: KeptJournal) -> Journal:
        return tuple(
            row
            for row in kept.rows
            # What a garden is known by is news only where a name has changed.
            if (row.kind is not EntryKind.KNOWN or row.text)
            and (options.since is None or row.local_date >= options.since)
        )

    def chances(kept: KeptJournal, rows: Journal) -> Chances:
        # Every row is shown; only a supposed time has them indexed anew.
        at_hand, garden = options.at is None, kept.garden
        found = (
            kept_in(kept.store, garden, build()).index if at_hand else JournalIndex.of(kept.rows)
        )
        return chances_kept(garden, standing(rows), found, kept.today)

    def document(kept: KeptJournal) -> object:
        rows, zone = rows_of(kept), kept.garden.place.zone
        entries, came = journal_json(rows, zone), chances_json(chances(kept, rows))
        return {"garden": kept.garden.name, "entries": entries, **came}

    def screen(kept: KeptJournal) -> str:
        rows = rows_of(kept)
        # The whole brief of a day is for `why`; its tasks have rows of their own.
        shown = [row for row in rows if row.kind is not EntryKind.BRIEF]
        return journal_screen(shown, kept.garden, text_width(), chances(kept, rows))

    with _kept_journals(options) as gardens:
        return _show(options, gardens, document, screen)
