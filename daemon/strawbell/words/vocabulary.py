"""The words of an answer, language by language: data that a translator adds to.

Every phrase is compared as whole words. A phrase may stand in one row only.
"""

from __future__ import annotations

from collections.abc import Mapping
from enum import StrEnum

from msgspec import Struct

from strawbell.model.answers import Verdict


class Other(StrEnum):
    """What an answer can be beside a verdict."""

    FED = "fed"
    RAIN = "rain"
    LOW = "low"
    NOTE = "note"
    LATER = "later"
    HOW = "how"
    UNDO = "undo"
    AWAY = "away"
    BACK = "back"


class Language(Struct, frozen=True):
    """The vocabulary of one language, in small letters."""

    phrases: Mapping[Verdict | Other, tuple[str, ...]]
    denials: tuple[str, ...]
    """Words after which nothing said before them is sure any more."""
    weekdays: tuple[tuple[str, ...], ...] = ((),) * 7
    """From Monday on, whole and short."""
    months: tuple[tuple[str, ...], ...] = ((),) * 12
    today: tuple[str, ...] = ()
    yesterday: tuple[str, ...] = ()
    joints: tuple[str, ...] = ()
    """Words that may stand between the parts of an answer and mean nothing by themselves."""


ENGLISH = Language(
    phrases={
        Verdict.DONE: ("done", "all done", "did it", "finished", "yes done"),
        Verdict.NOT_TODAY: ("not today", "not done", "not yet"),
        Verdict.CANNOT: ("can't", "cannot", "can not", "cant"),
        Verdict.MISSED: ("missed", "missed it"),
        Verdict.ALREADY_FED: ("already fed", "fed already"),
        Verdict.COVERED: ("covered", "covered it", "covered them"),
        Other.FED: ("fed",),
        Other.RAIN: ("rain",),
        Other.LOW: ("low",),
        Other.NOTE: ("note",),
        Other.LATER: ("later", "remind", "remind me", "remind me later"),
        Other.HOW: ("how", "how to"),
        Other.UNDO: ("undo", "take back", "take it back"),
        Other.AWAY: ("away",),
        Other.BACK: ("back", "i am back", "i'm back"),
    },
    denials=("not", "no", "never", "but", "except", "only", "half", "wait", "didn't", "nothing"),
    weekdays=(
        ("monday", "mon"),
        ("tuesday", "tue", "tues"),
        ("wednesday", "wed"),
        ("thursday", "thu", "thurs"),
        ("friday", "fri"),
        ("saturday", "sat"),
        ("sunday", "sun"),
    ),
    months=(
        ("january", "jan"),
        ("february", "feb"),
        ("march", "mar"),
        ("april", "apr"),
        ("may",),
        ("june", "jun"),
        ("july", "jul"),
        ("august", "aug"),
        ("september", "sep", "sept"),
        ("october", "oct"),
        ("november", "nov"),
        ("december", "dec"),
    ),
    today=("today",),
    yesterday=("yesterday",),
    joints=(
        "of",
        "on",
        "to",
        "till",
        "until",
        "from",
        "for",
        "the",
        "a",
        "an",
        "each",
        "bale",
        "was",
    ),
)

GERMAN = Language(
    phrases={
        Verdict.DONE: ("erledigt", "gemacht"),
        Verdict.NOT_TODAY: ("heute nicht", "nicht erledigt", "nicht gemacht"),
        Verdict.CANNOT: ("geht nicht",),
        Verdict.MISSED: ("verpasst",),
        Verdict.ALREADY_FED: ("schon gedüngt",),
        Verdict.COVERED: ("abgedeckt",),
        Other.LATER: ("später",),
        Other.UNDO: ("rückgängig",),
    },
    denials=("nicht", "kein", "keine", "aber", "nur", "halb", "nein", "doch"),
)

LANGUAGES = (ENGLISH, GERMAN)
"""All are read at once: nobody has to say in which language an answer will come."""

MASS_G: Mapping[str, float] = {
    **dict.fromkeys(("g", "gram", "grams", "gramme", "grammes"), 1.0),
    **dict.fromkeys(("kg", "kilo", "kilos"), 1000.0),
    **dict.fromkeys(("oz", "ounce", "ounces"), 28.349523125),
    **dict.fromkeys(("lb", "lbs", "pound", "pounds"), 453.59237),
}
"""Units of mass [g]; avoirdupois (NIST Handbook 44, Appendix C)."""
DEPTH_MM: Mapping[str, float] = {
    **dict.fromkeys(("mm", "millimetres", "millimeters"), 1.0),
    "cm": 10.0,
    **dict.fromkeys(("in", "inch", "inches", '"'), 25.4),
}
"""Units of rain [mm]."""
CELSIUS = ("c", "°c", "celsius", "°")
FAHRENHEIT = ("f", "°f", "fahrenheit")
DEGREES = ("degrees", "degree", "deg")
"""Stand before the name of a scale, or alone for the scale of the garden."""
PIECES = ("piece", "pieces", "pc", "pcs", "head", "heads", "bunch", "bunches")
