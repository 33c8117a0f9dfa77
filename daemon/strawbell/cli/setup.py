"""`strawbell setup`: from nothing to the first notice, by a few questions.

A question is a row of `QUESTIONS`; a flag answers it as well. What was typed is kept beside the
configuration until it is written (never a password), so that a dialogue broken off goes on where it
was. Every way to reach the grower is tried for real while it is asked about: a server is found by
what is known or published of it, else asked for; none is made up. Nothing that exists is
overwritten.
"""

from __future__ import annotations

import argparse
import getpass
import json
import os
import secrets
import sys
import tempfile
from collections.abc import Callable, Iterator
from contextlib import suppress
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from urllib.parse import urlsplit

from msgspec import Struct, field
from msgspec.structs import replace

from strawbell.agronomy.frost_dates import FreezeRisk, FrostSeason, freeze_table
from strawbell.agronomy.schedules import ALTERNATE_DAYS
from strawbell.app.outbox import queue
from strawbell.app.ports import Channel
from strawbell.app.word import refusal
from strawbell.cli.check import ring
from strawbell.cli.installing import install, what_sleep_means
from strawbell.cli.main import text_width
from strawbell.config.first_plan import (
    Bales,
    FirstDay,
    FirstPlan,
    MailAccess,
    PushAccess,
    Reach,
    ShelfFeed,
    Sown,
    feeds_meant,
    read_bales,
    read_coordinates,
    read_crops,
    read_feeds,
    read_first_day,
    read_reach,
    written,
)
from strawbell.config.load import read_plain
from strawbell.config.places import config_path
from strawbell.decision.brief import brief
from strawbell.edges.forecasts.http import Http
from strawbell.edges.forecasts.past import from_archive
from strawbell.edges.lookups import (
    FEWEST_LETTERS,
    GEOCODER_URL,
    IMAPS,
    FoundPlace,
    Mailbox,
    MailServer,
    find_mail_server,
    find_places,
    resolve_by_dns,
    zone_at,
)
from strawbell.edges.machine import SystemClock, replace_whole
from strawbell.edges.smtp import SmtpChannel
from strawbell.errors import GrowerError, OperationalError, Problem
from strawbell.model.configuration import Configuration
from strawbell.model.garden import Place
from strawbell.model.identity import KEY_BYTES, StoreSecret
from strawbell.model.notice import Delivery, Outcome, Useful
from strawbell.season.local_time import moment_of
from strawbell.wiring import MemoryCache, channels_of, ears_of
from strawbell.words.catalogue import BRITISH
from strawbell.words.escaping import wrap
from strawbell.words.notices import test_notice
from strawbell.words.terminal import today_screen

PRIVATE = 0o600
PASSWORD_NAME = "mail-password"  # noqa: S105 - the name of the file, not a password
US_COUNTRIES = ("US",)
"""Where ounces and degrees Fahrenheit are read at home."""


class Talk(Struct):
    """The two ends of the dialogue, and what is known so far."""

    interactive: bool
    http: Http
    today: date
    options: argparse.Namespace
    """What was given as flags."""
    typed: dict[str, str] = field(default_factory=dict)
    place: FoundPlace | None = None
    frosts: tuple[FreezeRisk, ...] = ()
    bales: Bales = field(default_factory=lambda: Bales(1))
    feeds: tuple[ShelfFeed, ...] = ()
    crops: tuple[Sown, ...] = ()
    first_day: FirstDay | None = None
    reach: Reach = field(default_factory=Reach)
    mail: MailAccess | None = None
    push: PushAccess | None = None
    password: str | None = None

    def tell(self, text: str) -> None:
        """Say a paragraph, broken to the width of the terminal."""
        print(wrap(text, width=text_width()))

    def ask(self, question: str) -> str:
        """Return what is typed after a question."""
        return input(self._last_line(question)).strip()

    def secret(self, question: str) -> str:
        """Return what is typed after a question, without showing it."""
        return getpass.getpass(self._last_line(question)).strip()

    def _last_line(self, question: str) -> str:
        *above, last = wrap(question, width=text_width() - 1).splitlines()
        for line in above:
            print(line)
        return f"{last} "

    def agrees(self, question: str) -> bool:
        """Ask for a yes, which Enter is too."""
        typed = self.ask(BRITISH.say("setup.yes", question=question)).lower()
        return typed not in ("n", "no")


def place_of(found: FoundPlace) -> Place:
    """Return a place that was found as a garden has it."""
    return Place(found.latitude, found.longitude, found.time_zone, found.elevation_m)


def plan_of(talk: Talk) -> FirstPlan:
    """Return all that was answered."""
    assert talk.place is not None  # noqa: S101 - the first question, and every other comes after
    units = talk.options.units
    us = talk.place.country_code in US_COUNTRIES if units is None else units == "us"
    return FirstPlan(
        garden=talk.options.name or talk.place.name,
        place=place_of(talk.place),
        bales=talk.bales,
        feeds=talk.feeds,
        crops=talk.crops,
        first_day=talk.first_day or FirstDay(talk.today),
        reach=talk.reach,
        mail=talk.mail,
        push=talk.push,
        us_units=us,
    )


def configured(talk: Talk) -> Configuration:
    """Return the configuration so far, read as `check` reads it; nothing of it stays on disk."""
    with tempfile.TemporaryDirectory(prefix="strawbell-setup-") as folder:
        path = Path(folder) / "config.toml"
        path.write_text(written(plan_of(talk)), encoding="utf-8")
        path.chmod(PRIVATE)
        if talk.password:
            (path.parent / PASSWORD_NAME).write_text(talk.password, encoding="utf-8")
            (path.parent / PASSWORD_NAME).chmod(PRIVATE)
        return read_plain(path, {})


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


def setup(options: argparse.Namespace) -> int:
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
        print(text)
        return 0
    _write(path, text, talk.password)
    with suppress(FileNotFoundError):
        kept.unlink()
    print()
    talk.tell(say("setup.written", path=str(path)))
    return _begin(talk, options, path)


def _never_clobber(path: Path) -> None:
    if path.exists():
        raise refusal(say("setup.there-already"), str(path), remedy=say("setup.change-it"))


def _talk(options: argparse.Namespace) -> Talk:
    interactive = sys.stdin.isatty() and sys.stdout.isatty()
    return Talk(
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
        print()
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
        print()
        talk.tell(say("setup.test"))
        code = ring(argparse.Namespace(config=path))
    if talk.interactive and not options.no_start:
        print()
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
    morning = moment_of(on, garden.times.morning, garden.place.zone)
    print()
    talk.tell(say("setup.first-morning", day=BRITISH.day(on)))
    print()
    shown = today_screen(brief(garden, (), None, morning), garden, text_width() - 2)
    for line in shown.splitlines():
        print(f"  {line}".rstrip())


def _frosts_told(talk: Talk) -> Iterator[str]:
    likely, careful = _last_freeze(talk, LIKELY_RISK), _last_freeze(talk, CAREFUL_RISK)
    if likely is not None:
        late = None if careful is None else str(careful)
        yield say("setup.frosts", likely=str(likely), careful=late)


# The ways to reach the grower.

SUBMISSIONS = 465
"""The port of submission inside TLS (RFC 8314)."""
USEFUL = timedelta(minutes=10)
"""How long a test is worth trying."""
TOPIC_BYTES = 8
"""A topic that nobody guesses: who knows it can read along."""


def find_ways(talk: Talk) -> None:
    """Find out what mail and push need, and try every way; raise `GrowerError` where it cannot be.

    Without a terminal nothing is tried here: the test notice at the end does.
    """
    talk.mail = talk.push = None
    if talk.reach.push:
        talk.push = _push(talk.reach.push)
        talk.tell(say("setup.subscribe", topic=talk.push.topic, url=talk.push.url))
    if talk.reach.address:
        _find_mail(talk, talk.reach.address)
    if not talk.interactive:
        return
    if talk.mail is not None:
        _try_mail(talk)
    for name in ("push", "desktop"):
        _try_notice(talk, name)


def _push(url: str) -> PushAccess:
    """Return a push server and its topic: the last part of the address, else one made up."""
    parts = urlsplit(url)
    topic = parts.path.strip("/") or f"bales-{secrets.token_hex(TOPIC_BYTES)}"
    return PushAccess(f"{parts.scheme}://{parts.netloc}", topic)


def _find_mail(talk: Talk, address: str) -> None:
    options = talk.options
    server = _given(options, address) or find_mail_server(
        address, talk.http, resolve_by_dns, datetime.now(UTC)
    )
    while server is None:
        if not talk.interactive:
            raise refusal(say("setup.unknown-server", address=address), "--mail-server")
        server = _typed(talk, address)
    talk.tell(say("setup.mail-through", host=server.host, port=str(server.port)))
    if server.wants:
        talk.tell(server.wants)
    talk.mail = MailAccess(server.host, server.port, server.security, server.login)
    if options.password_file is not None:
        talk.password = Path(options.password_file).expanduser().read_text("utf-8").strip()
        talk.mail = replace(talk.mail, password_file=PASSWORD_NAME)
    elif talk.interactive and not server.passwords:
        command = talk.ask(say("setup.token-command"))
        talk.mail = replace(talk.mail, token_command=command or None)
    inbox = _mailbox(options.inbox, "--inbox") if options.inbox else server.inbox
    if inbox is not None and (options.inbox or not talk.interactive or _may_read(talk, inbox)):
        talk.mail = replace(talk.mail, inbox=(inbox.host, inbox.port, inbox.security))


def _may_read(talk: Talk, inbox: Mailbox) -> bool:
    return talk.agrees(say("setup.read-answers", host=inbox.host))


def _given(options: argparse.Namespace, address: str) -> MailServer | None:
    if options.mail_server is None:
        return None
    host, port = _host_and_port(options.mail_server, "--mail-server", SUBMISSIONS)
    return MailServer(host, port, "tls" if port == SUBMISSIONS else "starttls", address)


def _mailbox(typed: str, where: str) -> Mailbox:
    host, port = _host_and_port(typed, where, IMAPS)
    return Mailbox(host, port, "starttls" if port == STARTTLS_IMAP else "tls")


STARTTLS_IMAP = 143
"""The port of IMAP that begins in the clear; every other one is taken for TLS."""


def _host_and_port(typed: str, where: str, usual: int) -> tuple[str, int]:
    host, _, port = typed.strip().partition(":")
    if not host or (port and not port.isdigit()):
        raise refusal(say("setup.no-server", port=str(usual)), where, typed)
    return host, int(port or usual)


def _typed(talk: Talk, address: str) -> MailServer | None:
    """Ask for the servers; the provider's help page has both."""
    typed = talk.ask(say("setup.which-server"))
    try:
        host, port = _host_and_port(typed, "", SUBMISSIONS)
        security = "tls" if port == SUBMISSIONS else "starttls"
        read = talk.ask(say("setup.which-inbox"))
        inbox = _mailbox(read, "") if read else None
    except GrowerError as error:
        talk.tell(str(error))
        return None
    return MailServer(host, port, security, address, inbox=inbox)  # type: ignore[arg-type]


def _try_mail(talk: Talk) -> None:
    """Ask for the password until the servers take it and a test is out, or go on without."""
    assert talk.mail is not None  # noqa: S101 - asked by who calls
    by_token = talk.mail.token_command is not None
    while True:
        if talk.password is None and not by_token:
            talk.password = talk.secret(say("setup.password"))
            talk.password = talk.password or None
        login = talk.reach.address if talk.password or by_token else None
        talk.mail = replace(
            talk.mail,
            login=(login and talk.mail.login) or login,
            password_file=PASSWORD_NAME if talk.password else None,
        )
        refused = next(_mail_refusals(talk), None)
        if refused is None:
            return
        talk.tell(say("setup.not-yet", refused=refused))
        if by_token or not talk.agrees(say("setup.again")):
            talk.tell(say("setup.kept-as-is"))
            return
        talk.password = None


def _mail_refusals(talk: Talk) -> Iterator[str]:
    """Yield what a server refuses: both logins first, so that no test goes out for nothing."""
    configuration = configured(talk)
    channels = channels_of(configuration)
    (mail,) = (each for each in channels if isinstance(each, SmtpChannel))
    tried = mail.check()
    if tried.outcome is not Outcome.ACCEPTED:
        yield tried.detail
    for ear in ears_of(configuration, channels):
        if ear.name == "inbox":
            try:
                talk.tell(say("setup.answers", said=ear.probe()))
            except OperationalError as error:
                yield str(error)
    if not talk.options.no_test:
        tried = _sent(mail, configuration)
        if tried.outcome is not Outcome.ACCEPTED:
            yield tried.detail
    talk.tell(say("setup.mail-works", test=not talk.options.no_test))


def _try_notice(talk: Talk, name: str) -> None:
    """Send a test by a channel that needs no login; one that fails is asked about again."""
    configuration = configured(talk)
    for channel in channels_of(configuration):
        if channel.name != name:
            continue
        delivery = _sent(channel, configuration)
        if delivery.settings_problem and name == "push" and talk.push and not talk.push.token:
            token = talk.secret(say("setup.push-token"))
            if token:
                talk.push = replace(talk.push, token=token)
                _try_notice(talk, name)
                return
        if delivery.outcome is not Outcome.ACCEPTED:
            raise refusal(say("setup.works-not", way=name, detail=delivery.detail), "")
        talk.tell(say("setup.test-out", way=name))


def _sent(channel: Channel, configuration: Configuration) -> Delivery:
    """Send the test notice once, outside every store."""
    garden, now = configuration.gardens[0], datetime.now(UTC)
    notice = test_notice(garden, now.date(), now.isoformat(), Useful(now, now + USEFUL))
    try:
        (row, *_rest) = queue(notice, (channel,), now, StoreSecret(secrets.token_bytes(KEY_BYTES)))
        return channel.send(row)
    finally:
        channel.close()


def _nothing(_talk: Talk) -> str:
    return ""


def _files(_talk: Talk) -> str:
    return "files"


OPTIONAL = ("feeds", "crops", "reach")
"""What may stay unanswered where nobody can be asked."""
QUESTIONS = (
    Question("place", _nothing, _take_place),
    Question("bales", _nothing, _take_bales),
    Question("feeds", _nothing, _take_feeds),
    Question("crops", _nothing, _take_crops),
    Question("day", _default_day, _take_day, _frosts_told),
    Question("reach", _files, _take_reach),
)
"""What is asked, in order; each a flag too, and a row of the catalogue."""
