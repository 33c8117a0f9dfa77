"""The two ends of the dialogue of `strawbell setup`, and the configuration it has come to."""

from __future__ import annotations

import argparse
import tempfile
from collections.abc import Callable
from datetime import date
from pathlib import Path

from msgspec import Struct, field

from strawbell.agronomy.frost_dates import FreezeRisk
from strawbell.cli.output import text_width
from strawbell.config.first_plan import (
    Bales,
    FirstDay,
    FirstPlan,
    MailAccess,
    PushAccess,
    Reach,
    ShelfFeed,
    Sown,
    written,
)
from strawbell.config.plain import read_plain
from strawbell.edges.forecasts.http import Http
from strawbell.edges.geocoding import FoundPlace
from strawbell.model.configuration import Configuration
from strawbell.model.garden import Place
from strawbell.words.catalogue import BRITISH
from strawbell.words.escaping import wrap

PRIVATE = 0o600
PASSWORD_NAME = "mail-password"  # noqa: S105 - the name of the file, not a password
US_COUNTRIES = ("US",)
"""Where ounces and degrees Fahrenheit are read at home."""


class Talk(Struct):
    """The two ends of the dialogue, and what is known so far."""

    read: Callable[[str], str]
    read_hidden: Callable[[str], str]
    say: Callable[[str], None]
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
        self.say(wrap(text, width=text_width()))

    def ask(self, question: str) -> str:
        """Return what is typed after a question."""
        return self.read(self._last_line(question)).strip()

    def secret(self, question: str) -> str:
        """Return what is typed after a question, without showing it."""
        return self.read_hidden(self._last_line(question)).strip()

    def _last_line(self, question: str) -> str:
        *above, last = wrap(question, width=text_width() - 1).splitlines()
        for line in above:
            self.say(line)
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
