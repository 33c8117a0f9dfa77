"""A first plan: what a grower types when asked, understood; and the configuration it comes to.

Everything here is a pure function of what was typed, so that flags, a dialogue and a file of kept
answers all mean the same.
"""

from __future__ import annotations

import json
import re
import textwrap
from collections.abc import Iterator, Mapping
from datetime import date, timedelta
from difflib import get_close_matches
from functools import partial

from msgspec import Struct

from strawbell.agronomy.bales import BALES
from strawbell.agronomy.crop_table import CROPS, NOT_IN_BALES
from strawbell.agronomy.feeds import FEEDS, LEAST_NITROGEN_PERCENT, parse_label
from strawbell.config.build import why_against
from strawbell.config.mistakes import did_you_mean, said
from strawbell.errors import GrowerError, Problem
from strawbell.model.feeds import FeedForm, Label
from strawbell.model.garden import Method, Place, Straw
from strawbell.words.catalogue import BRITISH
from strawbell.words.catalogue import Place as Said

MOST_BALES = 1000
"""As the schema has it."""
FARTHEST = timedelta(days=400)
"""A first day further ahead than a season and a bit is a slip of the finger."""
LIKENESS = 0.6
"""Likeness of two spellings (difflib ratio) from which a name is suggested."""
BALANCED_SPREAD = 2.0
"""A label whose largest and smallest figure are within this factor is a balanced feed."""
_LABEL = re.compile(r"\d+(?:\.\d+)?\s*-\s*\d+(?:\.\d+)?\s*-\s*\d+(?:\.\d+)?")
_ADDRESS = re.compile(r"[^@\s,;]+@[^@\s,;]+\.[^@\s,;]+")


class Bales(Struct, frozen=True):
    """How many bales, of what size (a name of the table) and straw."""

    count: int
    size: str = "two-string"
    straw: Straw = Straw.WHEAT


class ShelfFeed(Struct, frozen=True):
    """A bag or bottle as it says of itself."""

    name: str
    label: Label
    form: FeedForm
    built_in: bool

    @property
    def is_balanced(self) -> bool:
        """Whether it feeds in all three, as the last feeding wants."""
        parts = (
            self.label.nitrogen_percent, self.label.phosphate_percent, self.label.potash_percent,
        )  # fmt: skip
        return min(parts) > 0 and max(parts) <= BALANCED_SPREAD * min(parts)


class Sown(Struct, frozen=True):
    """A crop of the table, how many plants of it in all, and how it begins."""

    crop: str
    plants: int
    method: Method


class FirstDay(Struct, frozen=True):
    """The day the grower counts from: the first soaking, or the wished planting."""

    on: date
    planting: bool = False


class Reach(Struct, frozen=True):
    """How to tell the grower: a mail address, the desktop, a push server; else files."""

    address: str | None = None
    desktop: bool = False
    push: str | None = None


class MailAccess(Struct, frozen=True):
    """How mail of the grower's goes out; `login` None where the server wants none."""

    host: str
    port: int
    security: str
    login: str | None
    password_file: str | None = None
    token_command: str | None = None
    inbox: tuple[str, int, str] | None = None
    """Host, port and security of where answers are read, with the same login."""


class PushAccess(Struct, frozen=True):
    """A push server, and the topic that the phone listens to."""

    url: str
    topic: str
    token: str | None = None


class FirstPlan(Struct, frozen=True):
    """All that a first configuration needs."""

    garden: str
    place: Place
    bales: Bales
    feeds: tuple[ShelfFeed, ...]
    crops: tuple[Sown, ...]
    first_day: FirstDay
    reach: Reach
    mail: MailAccess | None
    us_units: bool
    push: PushAccess | None = None


def read_coordinates(text: str) -> tuple[float, float] | None:
    """Return (latitude, longitude) [degrees, two decimals] of "47.05, 8.31", None for a name.

    Raises `GrowerError` for numbers that are no place on earth.
    """
    match = re.fullmatch(r"\s*([+-]?\d+(?:\.\d+)?)\s*[,;\s]\s*([+-]?\d+(?:\.\d+)?)\s*", text)
    if match is None:
        return None
    latitude, longitude = float(match[1]), float(match[2])
    if abs(latitude) > 90 or abs(longitude) > 180:  # noqa: PLR2004 - degrees of the globe
        raise _refusal("not-on-earth", text)
    return round(latitude, 2), round(longitude, 2)


def read_bales(text: str) -> Bales:
    """Return the bales of "6", "6 three-string" or "6 oat"; raise `GrowerError` otherwise."""
    words = text.lower().replace(",", " ").split()
    if not words or not words[0].isdigit() or not 1 <= int(words[0]) <= MOST_BALES:
        raise _refusal("bales-unclear", text)
    size, straw = "two-string", Straw.WHEAT
    for word in words[1:]:
        if word in ("bale", "bales", "straw", "of"):
            continue
        if word in BALES:
            size = word
        elif word in {each.value for each in Straw}:
            straw = Straw(word)
        else:
            known = ", ".join([*BALES, *(each.value for each in Straw)])
            raise _refusal("word-unknown", word, allowed=known)
    return Bales(int(words[0]), size, straw)


def read_feeds(text: str) -> tuple[ShelfFeed, ...]:
    """Return the feeds of "urea; fish feed 5-1-1 liquid"; none for nothing typed."""
    return tuple(_feed(part.strip()) for part in re.split(r"[;,\n]", text) if part.strip())


def _feed(text: str) -> ShelfFeed:
    words = [word for word in _LABEL.sub(" ", text).split() if word.lower() not in _FORMS]
    form = next((_FORMS[word] for word in text.lower().split() if word in _FORMS), FeedForm.DRY)
    name = " ".join(words)
    printed = _LABEL.search(text)
    known = next((feed for key, feed in FEEDS.items() if key.casefold() == name.casefold()), None)
    if printed is None:
        if known is None:
            raise _refusal("feed-unknown", text)
        return ShelfFeed(known.name, known.label, known.form, built_in=True)
    try:
        label = parse_label(printed[0].replace(" ", ""))
    except ValueError:
        raise _refusal("no-numbers-of-a-bag", printed[0]) from None
    if known is not None and known.label == label:
        return ShelfFeed(known.name, known.label, known.form, built_in=True)
    own = BRITISH.say("first-plan.own-feed", label=str(label))
    shown = name[:1].upper() + name[1:] if name else own
    return ShelfFeed(shown if known is None else f"{shown} {label}", label, form, built_in=False)


_FORMS: Mapping[str, FeedForm] = {each.value: each for each in FeedForm}


def read_crops(text: str) -> tuple[Sown, ...]:
    """Return the crops of "8 tomato, 40 carrot seed"; none for nothing typed."""
    return tuple(_crop(part.strip()) for part in re.split(r"[;,\n]", text) if part.strip())


def _crop(text: str) -> Sown:
    match = re.fullmatch(r"(\d+)\s+(.+)", text)
    if match is None or not int(match[1]):
        raise _refusal("plants-unclear", text)
    words = match[2].lower().split()
    method = Method.TRANSPLANT
    if words[-1] in ("seed", "seeds", "sown") and len(words) > 1:
        method, words = Method.SEED, words[:-1]
    wanted = " ".join(words)
    for name in _singulars(wanted):
        if name in CROPS:
            return Sown(name, int(match[1]), method)
        if name in NOT_IN_BALES:
            raise _refusal(
                "crop-badly-in-bales", text, crop=name, why=why_against(NOT_IN_BALES[name])
            )
    near = get_close_matches(wanted, list(CROPS), n=3, cutoff=LIKENESS)
    places = {"allowed": ", ".join(CROPS), "remedy": did_you_mean(BRITISH.listing(near, "or"))}
    raise GrowerError(Problem(**said("crop-not-known", wanted=wanted, **places)))


def _singulars(name: str) -> Iterator[str]:
    """Give the name, and what it may be the plural of."""
    yield name
    if name.endswith("ies"):
        yield f"{name[:-3]}y"
    if name.endswith("es"):
        yield name[:-2]
    if name.endswith("s"):
        yield name[:-1]


def read_first_day(text: str, today: date) -> FirstDay:
    """Return the day of "2027-04-05" (first soaking) or "plant 2027-05-15"."""
    words = text.lower().split()
    planting = bool(words) and words[0] in ("plant", "planting")
    try:
        on = date.fromisoformat(words[-1])
    except (IndexError, ValueError):
        raise _refusal("no-date", text) from None
    if len(words) > 1 + planting:
        raise _refusal("no-date", text)
    if not today - timedelta(days=60) <= on <= today + FARTHEST:
        raise _refusal("day-not-meant", text, last=today + FARTHEST)
    return FirstDay(on, planting)


def read_reach(text: str) -> Reach:
    """Return how to tell the grower: "you@example.org", "desktop", a push address, "files"."""
    address, desktop, push = None, False, None
    for word in re.split(r"[\s,;]+", text.strip()):
        if _ADDRESS.fullmatch(word) and address is None:
            address = word
        elif word.lower().startswith(("https://", "http://")) and push is None:
            push = word
        elif word.lower() == "desktop":
            desktop = True
        elif word.lower() not in ("", "files", "and", "push"):
            raise _refusal("no-way-to-reach", word)
    return Reach(address, desktop, push)


def _refusal(name: str, found: str, **places: Said | date) -> GrowerError:
    return GrowerError(Problem(**said(name, found=repr(found[:80]), **places)))


def written(plan: FirstPlan) -> str:
    """Return the configuration of a plan, with comments, as one would write it by hand."""
    from jinja2 import Environment, PackageLoader, StrictUndefined

    loader = PackageLoader("strawbell.config", "")
    layout = Environment(  # noqa: S701 - TOML, whose texts are escaped one by one
        loader=loader, undefined=StrictUndefined, trim_blocks=True, keep_trailing_newline=True
    )
    # Its basic strings take the escapes of JSON.
    layout.filters["toml"] = partial(json.dumps, ensure_ascii=False)
    nitrogen, finishing = feeds_meant(plan.feeds)
    template = layout.get_template("first_plan.toml.j2")
    return template.render(
        plan=plan,
        nitrogen=nitrogen,
        finishing=finishing,
        nowhere=Reach(),
        say=BRITISH.say,
        comment=_comment,
    )


def _comment(said: str) -> str:
    """Return what is said as lines of a comment."""
    return textwrap.fill(said, 96, initial_indent="# ", subsequent_indent="# ")


def feeds_meant(feeds: tuple[ShelfFeed, ...]) -> tuple[ShelfFeed | None, ShelfFeed | None]:
    """Return which feed carries the nitrogen and which ends the sequence; None to be bought.

    The nitrogen comes from the dry feed with most of it: what is poured at its label's strength
    feeds plants, it cannot condition a bale.
    """
    fit = [
        feed
        for feed in feeds
        if not (feed.is_balanced or feed.form.is_poured)
        and feed.label.nitrogen_percent >= LEAST_NITROGEN_PERCENT
    ]
    fit.sort(key=lambda feed: feed.label.nitrogen_percent)
    return (fit[-1] if fit else None), next((feed for feed in feeds if feed.is_balanced), None)
