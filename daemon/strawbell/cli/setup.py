"""`strawbell setup`: from nothing to the first notice, by a few questions.

A question is a row of `QUESTIONS`; a flag answers it as well. What was typed is kept beside the
configuration until it is written (never a password), so that a dialogue broken off goes on where it
was. Nothing that exists is overwritten.
"""

from __future__ import annotations

import argparse
import getpass
import json
import os
import sys
from collections.abc import Callable, Iterator
from contextlib import suppress
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

from msgspec import Struct

from strawbell.agronomy.air.frost_dates import FreezeRisk, FrostSeason, freeze_table
from strawbell.agronomy.feeding.schedules import ALTERNATE_DAYS
from strawbell.cli import ring
from strawbell.cli.installing import install, what_sleep_means
from strawbell.cli.output import text_width
from strawbell.cli.setup_talk import PASSWORD_NAME, PRIVATE, Talk, configured, place_of, plan_of
from strawbell.cli.setup_ways import find_ways
from strawbell.config.first_plan import (
    Reach,
    feeds_meant,
    read_bales,
    read_coordinates,
    read_crops,
    read_feeds,
    read_first_day,
    read_reach,
    written,
)
from strawbell.config.places import config_path
from strawbell.config.plain import read_plain
from strawbell.decision.brief import brief
from strawbell.edges.archive import from_archive
from strawbell.edges.clock import SystemClock
from strawbell.edges.forecasts.http import Http
from strawbell.edges.geocoding import FEWEST_LETTERS, GEOCODER_URL, FoundPlace, find_places, zone_at
from strawbell.edges.whole_file import replace_whole
from strawbell.errors import GrowerError, OperationalError, Problem
from strawbell.model.configuration import Configuration
from strawbell.season.local_time import moment_of, zone_of
from strawbell.wiring import MemoryCache
from strawbell.words.terminal import today_screen

KEPT_NAME = "setup-unfinished.json"
LIKELY_RISK, CAREFUL_RISK = 50.0, 10.0
"""Frost dates told: even odds, and one year in ten [percent]."""


class Question(Struct, frozen=True):
    """One thing asked: its flag, the words, what `?` explains, the default, what it sets."""

    flag: str
    words: str
    explained: str
    default: Callable[[Talk], str]
    take: Callable[[Talk, str], None]
    before: Callable[[Talk], Iterator[str]] = lambda _talk: iter(())
    """What is said before it."""


def run(options: argparse.Namespace) -> int:
    """Ask, try, write, start; or write straight from flags where nobody can be asked."""
    path = config_path(options.config, os.environ)
    _never_clobber(path)
    talk = _talk(options)
    kept = path.parent / KEPT_NAME
    given = {
        question.flag: text
        for question in QUESTIONS
        if (text := getattr(options, question.flag.replace("-", "_"))) is not None
    }
    if talk.interactive:
        talk.tell("A few questions, then the first notice. Enter takes what is in brackets.")
        talk.tell("? explains a question.")
        talk.typed = _kept_answers(kept)
        if talk.typed:
            talk.tell("Your answers of last time stand in the brackets.")
    _go_through(talk, given, kept)
    text = _sound(talk)
    if options.dry_run:
        talk.say(text)
        return 0
    _write(path, text, talk.password)
    with suppress(FileNotFoundError):
        kept.unlink()
    talk.say("")
    talk.tell(f"Written: {path}. It is yours to change; `strawbell check` reads it.")
    return _begin(talk, options, path)


def _never_clobber(path: Path) -> None:
    if path.exists():
        raise GrowerError(
            Problem(
                "there is a configuration already, and it stays as it is",
                where=str(path),
                remedy="Change it by hand and run `strawbell check`, or set up another with"
                " `strawbell setup --config FILE`.",
            )
        )


def _talk(options: argparse.Namespace) -> Talk:
    interactive = sys.stdin.isatty() and sys.stdout.isatty()
    return Talk(
        read=input,
        read_hidden=getpass.getpass,
        say=print,
        interactive=interactive,
        http=Http(MemoryCache(), contact=None),
        today=SystemClock().now().date(),
        options=options,
    )


def _kept_answers(kept: Path) -> dict[str, str]:
    try:
        found = json.loads(kept.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}
    known = {question.flag for question in QUESTIONS}
    return {key: text for key, text in found.items() if key in known and isinstance(text, str)}


def _go_through(talk: Talk, given: dict[str, str], kept: Path) -> None:
    """Answer every question by its flag or by asking; all that is missing is told at once."""
    missing: list[Problem] = []
    for question in QUESTIONS:
        if question.flag in given:
            question.take(talk, given[question.flag])
        elif talk.interactive:
            _ask(talk, question)
            kept.parent.mkdir(parents=True, exist_ok=True)
            replace_whole(kept, json.dumps(talk.typed).encode(), mode=PRIVATE)
        elif (default := question.default(talk)) or question.flag in OPTIONAL:
            question.take(talk, default)
        else:
            missing.append(Problem(f"not answered: {question.words}", where=f"--{question.flag}"))
    if missing:
        raise GrowerError([*missing, Problem(
            "nobody can be asked here, since this is no terminal",
            remedy="Give every answer as a flag; `strawbell setup --help` lists them.",
        )])  # fmt: skip
    if not talk.interactive:
        find_ways(talk)


def _ask(talk: Talk, question: Question) -> None:
    """Ask until the answer is understood."""
    while True:
        default = talk.typed.get(question.flag) or question.default(talk)
        bracket = f" [{default}]" if default else ""
        talk.say("")
        for line in question.before(talk):
            talk.tell(line)
        answer = talk.ask(f"{question.words}{bracket}")
        if answer == "?":
            talk.tell(question.explained)
            continue
        try:
            question.take(talk, answer or default)
        except (GrowerError, OperationalError) as error:
            for line in str(error).splitlines():
                talk.tell(line[:1].upper() + line[1:])
            continue
        talk.typed[question.flag] = answer or default
        return


def _take_place(talk: Talk, text: str) -> None:
    if len(text) < FEWEST_LETTERS:
        raise GrowerError(
            Problem("a place is needed", allowed="a town, a postal code, or 47.05, 8.31")
        )
    point = read_coordinates(text)
    if point is not None:
        zone = zone_at(*point)
        if not zone or zone.startswith("Etc/"):
            raise GrowerError(
                Problem("no garden lies there", found=text, remedy="Latitude comes first.")
            )
        talk.place = FoundPlace("My garden", *point, zone)
    else:
        talk.place = _chosen(talk, text)
    talk.tell(
        f"{_described(talk.place)}: {talk.place.latitude:g}, {talk.place.longitude:g};"
        f" clocks of {talk.place.time_zone}."
    )
    talk.frosts = _frosts(talk)


def _chosen(talk: Talk, text: str) -> FoundPlace:
    now = datetime.now(UTC)
    try:
        found = find_places(talk.http, talk.options.mirror or GEOCODER_URL, text, now)
    except OperationalError as error:
        raise OperationalError(
            f"{error} Type the coordinates instead, such as 47.05, 8.31 (degrees north, degrees"
            " east; south and west are negative). A map shows them."
        ) from error
    if not found:
        raise GrowerError(
            Problem(
                "no place of that name was found",
                found=repr(text),
                remedy="Add the country after a comma, or type coordinates such as 47.05, 8.31.",
            )
        )
    if len(found) == 1 or not talk.interactive:
        return found[0]
    for number, place in enumerate(found, start=1):
        talk.tell(f"  {number}  {_described(place)}")
    while True:
        answer = talk.ask("Which one? [1]") or "1"
        if answer.isdigit() and 1 <= int(answer) <= len(found):
            return found[int(answer) - 1]
        talk.tell(f"A number from 1 to {len(found)}.")


def _described(place: FoundPlace) -> str:
    return f"{place.name}, {place.region}" if place.region else place.name


def _frosts(talk: Talk) -> tuple[FreezeRisk, ...]:
    """Return what thirty years of an open archive say of freezes; nothing without the archive."""
    assert talk.place is not None  # noqa: S101 - the question before asked for it
    try:
        minima = from_archive(
            talk.http, talk.options.mirror, place_of(talk.place), datetime.now(UTC)
        )
    except OperationalError:
        return ()
    return freeze_table(minima, talk.place.latitude)


def _last_freeze(talk: Talk, risk: float) -> date | None:
    spring = next(
        (
            each
            for each in talk.frosts
            if each.season is FrostSeason.SPRING and each.threshold_c == 0.0
        ),
        None,
    )
    if spring is None:
        return None
    ahead = (spring.on(risk, year) for year in (talk.today.year, talk.today.year + 1))
    return next((on for on in ahead if on is not None and on > talk.today), None)


def _default_day(talk: Talk) -> str:
    """Return the first soaking that puts young plants out about the usual last frost."""
    last = _last_freeze(talk, LIKELY_RISK)
    if last is None:
        return ""
    soaking = last - timedelta(days=ALTERNATE_DAYS.plant_from_day - 1)
    return max(soaking, talk.today + timedelta(days=1)).isoformat()


def _take_bales(talk: Talk, text: str) -> None:
    talk.bales = read_bales(text)


def _take_feeds(talk: Talk, text: str) -> None:
    talk.feeds = read_feeds(text)
    nitrogen, finishing = feeds_meant(talk.feeds)
    carries = nitrogen.name if nitrogen else "none of them; I'll reckon with blood meal 12-0-0"
    ends = finishing.name if finishing else "none of them; I'll reckon with a balanced 10-10-10"
    if talk.feeds:
        talk.tell(f"Nitrogen from: {carries}. Last, balanced feed: {ends}.")


def _take_crops(talk: Talk, text: str) -> None:
    talk.crops = read_crops(text)


def _take_day(talk: Talk, text: str) -> None:
    talk.first_day = read_first_day(text, talk.today)


def _take_reach(talk: Talk, text: str) -> None:
    talk.reach = read_reach(text)
    if talk.interactive:
        find_ways(talk)


def _sound(talk: Talk) -> str:
    """Return the configuration after it was read as `check` reads it; odd things are told."""
    for warning in configured(talk).warnings:
        talk.tell(f"Note: {warning.what}. {warning.remedy}")
    return written(plan_of(talk))


def _write(path: Path, text: str, password: str | None) -> None:
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        if password:
            replace_whole(path.parent / PASSWORD_NAME, password.encode(), mode=PRIVATE)
        replace_whole(path, text.encode(), mode=PRIVATE)
    except OSError as error:
        raise GrowerError(
            Problem(
                f"the configuration cannot be written: {error.strerror}", where=str(path),
                remedy="Name a file in a folder you may write to with --config FILE.",
            )
        ) from error  # fmt: skip


def _begin(talk: Talk, options: argparse.Namespace, path: Path) -> int:
    """Send a test through every way, show the first morning, and start the daemon."""
    configuration = read_plain(path, os.environ)
    _show_first_morning(talk, configuration)
    code = 0
    was_tried = talk.interactive and talk.reach != Reach()
    if not options.no_test and not was_tried:
        talk.say("")
        talk.tell("A test notice goes out:")
        code = ring.run(argparse.Namespace(config=path))
    if talk.interactive and not options.no_start:
        talk.say("")
        if talk.agrees("Start Strawbell now, and at each login?"):
            code = install(talk.tell, path) or code
    else:
        talk.tell("Start it with `strawbell run`, or see `strawbell unit user`.")
    talk.tell(what_sleep_means(configuration.gardens[0].times))
    return code


def _show_first_morning(talk: Talk, configuration: Configuration) -> None:
    garden = configuration.gardens[0]
    first = min(batch.start_on for batch in garden.batches)
    on = max(first, talk.today + timedelta(days=1))
    morning = moment_of(on, garden.times.morning, zone_of(garden.place.time_zone))
    talk.say("")
    talk.tell(f"Your first working morning, {on}, will read like this (no forecast yet):")
    talk.say("")
    shown = today_screen(brief(garden, (), None, morning), garden, text_width() - 2)
    for line in shown.splitlines():
        talk.say(f"  {line}".rstrip())


def _frosts_told(talk: Talk) -> Iterator[str]:
    likely, careful = _last_freeze(talk, LIKELY_RISK), _last_freeze(talk, CAREFUL_RISK)
    if likely is not None:
        until = f", in one year of ten after {careful.isoformat()}" if careful else ""
        yield f"Half the years have their last frost here after {likely.isoformat()}{until}."


def _nothing(_talk: Talk) -> str:
    return ""


def _today_or_files(_talk: Talk) -> str:
    return "files"


_DAY = (
    "Bales take about two weeks of water and feed before anything can be planted. Type the day of"
    " the first soaking, or the day you wish to plant: plant 2027-05-15."
)
OPTIONAL = ("feeds", "crops", "reach")
"""What may stay unanswered where nobody can be asked."""
QUESTIONS = (
    Question(
        "place", "Where is the garden?",
        "A town or postal code (with the country after a comma where there are several), or"
        " coordinates such as 47.05, 8.31. The name is sent once to an open geocoder;"
        " coordinates are not sent anywhere but, with two decimals, to the forecast.",
        _nothing, _take_place,
    ),
    Question(
        "bales", "How many bales, of what straw?",
        "Such as 6, or 6 oat, or 4 three-string. Two strings and wheat are the usual. Straw,"
        " not hay: hay sprouts.",
        _nothing, _take_bales,
    ),
    Question(
        "feeds", "Which feeds are on your shelf? (Enter for none)",
        "As printed on the bag, with commas between: urea 46-0-0, fish 5-1-1 liquid. Weed-and-feed"
        " and anything against moss or weeds is not for food plants.",
        _nothing, _take_feeds,
    ),
    Question(
        "crops", "What will grow in them? (Enter for later)",
        "How many plants of what, with commas between: 8 tomato, 12 lettuce, 40 carrot seed.",
        _nothing, _take_crops,
    ),
    Question(
        "day", "On which day is the first soaking?",
        _DAY,
        _default_day, _take_day, _frosts_told,
    ),
    Question(
        "reach", "How shall I tell you?",
        "A mail address, desktop, the address of a push server (https://...), or files (pages in"
        " a folder); several with commas between. Each is tried at once.",
        _today_or_files, _take_reach,
    ),
)  # fmt: skip
"""What is asked, in order; each a flag too."""
