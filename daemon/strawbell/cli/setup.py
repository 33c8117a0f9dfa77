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

from strawbell.agronomy.frost_dates import FreezeRisk, FrostSeason, freeze_table
from strawbell.agronomy.schedules import ALTERNATE_DAYS
from strawbell.app.word import refusal
from strawbell.cli import ring
from strawbell.cli.output import text_width
from strawbell.cli.setup_talk import PASSWORD_NAME, PRIVATE, Talk, configured, place_of, plan_of
from strawbell.cli.setup_ways import find_ways
from strawbell.cli.unit import install, what_sleep_means
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
from strawbell.words.catalogue import BRITISH
from strawbell.words.terminal import today_screen

say = BRITISH.say
KEPT_NAME = "setup-unfinished.json"
LIKELY_RISK, CAREFUL_RISK = 50.0, 10.0
"""Frost dates told: even odds, and one year in ten [percent]."""


class Question(Struct, frozen=True):
    """One thing asked: its flag, the default, what it sets; the words are in the catalogue."""

    flag: str
    default: Callable[[Talk], str]
    take: Callable[[Talk, str], None]
    before: Callable[[Talk], Iterator[str]] = lambda _talk: iter(())
    """What is said before it."""

    @property
    def words(self) -> str:
        """Return what is asked."""
        return say(f"question-of.{self.flag}.words")

    @property
    def explained(self) -> str:
        """Return what "?" explains."""
        return say(f"question-of.{self.flag}.explained")


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
        talk.tell(say("setup.begin"))
        talk.tell(say("setup.explains"))
        talk.typed = _kept_answers(kept)
        if talk.typed:
            talk.tell(say("setup.kept"))
    _go_through(talk, given, kept)
    text = _sound(talk)
    if options.dry_run:
        talk.say(text)
        return 0
    _write(path, text, talk.password)
    with suppress(FileNotFoundError):
        kept.unlink()
    talk.say("")
    talk.tell(say("setup.written", path=str(path)))
    return _begin(talk, options, path)


def _never_clobber(path: Path) -> None:
    if path.exists():
        raise refusal(say("setup.there-already"), str(path), remedy=say("setup.change-it"))


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
            missing.append(
                Problem(say("setup.unanswered", question=question.words), f"--{question.flag}")
            )
    if missing:
        raise GrowerError([*missing, Problem(say("setup.no-terminal"))])
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
                talk.tell(line)
            continue
        talk.typed[question.flag] = answer or default
        return


def _take_place(talk: Talk, text: str) -> None:
    if len(text) < FEWEST_LETTERS:
        raise refusal(say("setup.no-place"), "")
    point = read_coordinates(text)
    if point is not None:
        zone = zone_at(*point)
        if not zone or zone.startswith("Etc/"):
            raise refusal(say("setup.no-garden-there"), "")
        talk.place = FoundPlace(say("setup.my-garden"), *point, zone)
    else:
        talk.place = _chosen(talk, text)
    where = f"{talk.place.latitude:g}, {talk.place.longitude:g}"
    zone = talk.place.time_zone
    talk.tell(say("setup.place", place=_described(talk.place), where=where, zone=zone))
    talk.frosts = _frosts(talk)


def _chosen(talk: Talk, text: str) -> FoundPlace:
    now = datetime.now(UTC)
    try:
        found = find_places(talk.http, talk.options.mirror or GEOCODER_URL, text, now)
    except OperationalError as error:
        raise OperationalError(say("setup.no-geocoder", error=str(error))) from error
    if not found:
        raise refusal(say("setup.unknown-place", typed=text), "")
    if len(found) == 1 or not talk.interactive:
        return found[0]
    for number, place in enumerate(found, start=1):
        talk.tell(f"  {number}  {_described(place)}")
    while True:
        answer = talk.ask(say("setup.which")) or "1"
        if answer.isdigit() and 1 <= int(answer) <= len(found):
            return found[int(answer) - 1]
        talk.tell(say("setup.number", most=len(found)))


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
    if talk.feeds:
        carries, ends = (None if each is None else each.name for each in (nitrogen, finishing))
        talk.tell(say("setup.feeds-meant", nitrogen=carries, last=ends))


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
        talk.tell(say("check.note", note=warning.sentence()))
    return written(plan_of(talk))


def _write(path: Path, text: str, password: str | None) -> None:
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        if password:
            replace_whole(path.parent / PASSWORD_NAME, password.encode(), mode=PRIVATE)
        replace_whole(path, text.encode(), mode=PRIVATE)
    except OSError as error:
        said = say("setup.unwritable", error=str(error.strerror))
        raise refusal(said, str(path)) from error


def _begin(talk: Talk, options: argparse.Namespace, path: Path) -> int:
    """Send a test through every way, show the first morning, and start the daemon."""
    configuration = read_plain(path, os.environ)
    _show_first_morning(talk, configuration)
    code = 0
    was_tried = talk.interactive and talk.reach != Reach()
    if not options.no_test and not was_tried:
        talk.say("")
        talk.tell(say("setup.test"))
        code = ring.run(argparse.Namespace(config=path))
    if talk.interactive and not options.no_start:
        talk.say("")
        if talk.agrees(say("setup.start")):
            code = install(talk.tell, path) or code
    else:
        talk.tell(say("setup.start-yourself"))
    talk.tell(what_sleep_means(configuration.gardens[0].times))
    return code


def _show_first_morning(talk: Talk, configuration: Configuration) -> None:
    garden = configuration.gardens[0]
    first = min(batch.start_on for batch in garden.batches)
    on = max(first, talk.today + timedelta(days=1))
    morning = moment_of(on, garden.times.morning, zone_of(garden.place.time_zone))
    talk.say("")
    talk.tell(say("setup.first-morning", day=str(on)))
    talk.say("")
    shown = today_screen(brief(garden, (), None, morning), garden, text_width() - 2)
    for line in shown.splitlines():
        talk.say(f"  {line}".rstrip())


def _frosts_told(talk: Talk) -> Iterator[str]:
    likely, careful = _last_freeze(talk, LIKELY_RISK), _last_freeze(talk, CAREFUL_RISK)
    if likely is not None:
        late = None if careful is None else str(careful)
        yield say("setup.frosts", likely=str(likely), careful=late)


def _nothing(_talk: Talk) -> str:
    return ""


def _today_or_files(_talk: Talk) -> str:
    return "files"


OPTIONAL = ("feeds", "crops", "reach")
"""What may stay unanswered where nobody can be asked."""
QUESTIONS = (
    Question("place", _nothing, _take_place),
    Question("bales", _nothing, _take_bales),
    Question("feeds", _nothing, _take_feeds),
    Question("crops", _nothing, _take_crops),
    Question("day", _default_day, _take_day, _frosts_told),
    Question("reach", _today_or_files, _take_reach),
)
"""What is asked, in order; each a flag too, and a row of the catalogue."""
