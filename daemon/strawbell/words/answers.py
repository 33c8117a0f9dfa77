"""What a grower typed, read as values of the closed vocabulary. Pure.

A word counts only as a whole word, at the beginning of a line. What follows it in the same
sentence must be an amount, a day or a name; what follows a comma or a stop is a remark. Where a
remark or a further line contradicts, or denies, nothing is taken and the grower is asked.

The vocabulary is data, language by language, that a translator adds to; a phrase may stand in one
row only.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Mapping
from datetime import date, timedelta
from enum import StrEnum

from msgspec import Struct

from strawbell.model.garden import Units
from strawbell.model.notice import (
    Answer,
    Away,
    Back,
    Doubt,
    Fed,
    Heard,
    How,
    Inside,
    Later,
    LowMeasured,
    Picked,
    RainMeasured,
    Remark,
    Undo,
    Verdict,
    Work,
)


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


MOST_LINES = 12
"""Lines of an answer that are looked at; a letter is longer, and is a note at best."""
MOST_CHARACTERS = 200
"""A longer line is no answer of a word or two."""
LONGEST_AWAY_D = 92
"""Longest time away [day]: a summer; longer is a slip of the pen."""
FAR_AHEAD_D = 366
"""A day of the year without its year is the next one within this [day]."""
SCALE_ZERO_F, DEGREES_F_PER_C = 32.0, 1.8

_FORMAT = {"Cf", "Mn", "Me"}
"""Invisible signs that keyboards and mail programs leave behind; never part of a word here."""
_UNREADABLE = {"Cc", "Cs", "Co"}
_END = re.compile(r"[;:!?]+|[.,]+(?=\s|$)|\s[-\u2013\u2014]+\s")
"""Where the answer ends and a remark begins; a point or comma inside a number is none."""
_NUMBER = re.compile(r"([+-]?\d+(?:[.,]\d+)?)\s*(.*)")
_THOUSANDS = re.compile(r"[+-]?\d{1,3},\d{3}")
"""Whether the comma parts thousands or is the decimal one, nobody can tell."""
_ISO = re.compile(r"(\d{4})-(\d{1,2})-(\d{1,2})")
_WORD = re.compile(r"[^\W\d_]+(?:'[^\W\d_]+)*")

_PHRASES = sorted(
    (
        (tuple(phrase.split()), meaning)
        for language in LANGUAGES
        for meaning, phrases in language.phrases.items()
        for phrase in phrases
    ),
    key=lambda row: -len(row[0]),
)
"""The longest first, so that "not done" is never "done"."""
_DENIALS = frozenset(word for language in LANGUAGES for word in language.denials)
_JOINTS = frozenset(word for language in LANGUAGES for word in language.joints)
_WEEKDAYS = {
    word: number
    for language in LANGUAGES
    for number, words in enumerate(language.weekdays)
    for word in words
}
_MONTHS = {
    word: number
    for language in LANGUAGES
    for number, words in enumerate(language.months, 1)
    for word in words
}
_TODAY = frozenset(word for language in LANGUAGES for word in language.today)
_YESTERDAY = frozenset(word for language in LANGUAGES for word in language.yesterday)


class _NoAmountError(Exception):
    """A word that needs an amount stands without one."""


def read_lines(lines: Iterable[str], units: Units, today: date) -> Heard:
    """Return what the lines of an answer say; `today` is the date they are counted from.

    The first line with anything in it has to be an answer. Further lines may add facts; those
    that are none are a remark, as long as they neither deny nor hold a word of another verdict.
    """
    typed = [line for line in (_tidy(line) for line in lines) if line][:MOST_LINES]
    if not typed:
        return Heard(doubt=Doubt.NO_WORD)
    answers: list[Answer] = []
    for number, line in enumerate(typed):
        try:
            read = _read(line, units, today)
        except _NoAmountError:
            return Heard(doubt=Doubt.NO_AMOUNT, said=line)
        if read is None and number == 0:
            return Heard(doubt=Doubt.NO_WORD, said=line)
        if read is None:
            if _shakes(line):
                return Heard(doubt=Doubt.TWO_WORDS, said=line)
            continue
        answer, remark = read
        if _shakes(remark) and not isinstance(answer, Remark):
            return Heard(doubt=Doubt.TWO_WORDS, said=line)
        answers.append(answer)
    distinct = tuple(dict.fromkeys(answers))
    if _contradict(distinct):
        return Heard(doubt=Doubt.TWO_WORDS, said="; ".join(typed)[:MOST_CHARACTERS])
    return Heard(distinct, said=typed[0])


def read_degrees(text: str, units: Units) -> float | None:
    """Return a temperature [degC] of "54", "54 C" or "129F"; a bare one is in the garden's unit."""
    found = _number(text.strip().casefold())
    read = None if found is None else _degrees(*found, units)
    return None if read is None or read[1] else read[0]


def read_depth_mm(text: str, units: Units) -> float | None:
    """Return a depth of rain [mm] of "12", "12mm" or "0.5 in"; a bare one is in the garden's unit.

    None where it is none, and for less than nothing.
    """
    found = _number(text.strip().casefold())
    if found is None:
        return None
    value, unit = found
    unit = unit or ("in" if units is Units.US else "mm")
    return value * DEPTH_MM[unit] if unit in DEPTH_MM and value >= 0 else None


def read_mass_g(text: str) -> float | None:
    """Return a mass [g] of "400g", "2.4 kg" or "14oz"; None for one without its unit."""
    found = _number(text.strip().casefold())
    return found[0] * MASS_G[found[1]] if found and found[1] in MASS_G else None


def _tidy(line: str) -> str:
    """Return a line without invisible signs; "" when it is blank.

    A sign that no keyboard types, such as NUL, becomes one that is in no word.
    """
    kept = []
    for sign in unicodedata.normalize("NFC", line):
        category = unicodedata.category(sign)
        if category in _UNREADABLE and sign != "\t":
            kept.append("\ufffd")
        elif category not in _FORMAT:
            kept.append(sign)
    text = "".join(kept).replace("\u2019", "'").replace("\u2212", "-")
    return " ".join(text.split())


def _read(line: str, units: Units, today: date) -> tuple[Answer, str] | None:
    """Return the answer that a line is, and the remark after it; None when it is no answer."""
    if len(line) > MOST_CHARACTERS:
        return None
    noted = _note(line)
    if noted is not None:
        return Remark(noted), ""
    cut = _END.search(line)
    head, remark = (line[: cut.start()], line[cut.end() :]) if cut else (line, "")
    answer = _head(head.strip().casefold(), units, today)
    if answer == Work(Verdict.DONE) and (fed := _mass(remark.strip(" .!").casefold())) is not None:
        return fed, ""  # "Done, 350 g each" is more than done.
    return None if answer is None else (answer, remark)


def _note(line: str) -> str | None:
    for phrase, meaning in _PHRASES:
        start = " ".join(phrase)
        if meaning is Other.NOTE and re.match(rf"{re.escape(start)}(:|\s|$)", line, re.IGNORECASE):
            text = line[len(start) :].lstrip(": ")
            if not text:
                raise _NoAmountError
            return text
    return None


def _head(head: str, units: Units, today: date) -> Answer | None:
    words = tuple(head.split())
    for phrase, meaning in _PHRASES:
        if words[: len(phrase)] == phrase:
            rest = " ".join(words[len(phrase) :])
            if isinstance(meaning, Verdict):
                return _work(meaning, rest, today)
            return _other(meaning, rest, units, today)
    return _bare(head, units)


def _work(verdict: Verdict, rest: str, today: date) -> Answer | None:
    if verdict is Verdict.DONE and (fed := _mass(rest)) is not None:
        return fed
    on, about = _day_and_name(rest, today)
    if rest and on is None and not about:
        return None
    return Work(verdict, about, on)


def _other(meaning: Other, rest: str, units: Units, today: date) -> Answer | None:
    if meaning is Other.FED:
        return _fed(rest)
    if meaning in (Other.RAIN, Other.LOW):
        if _number(rest) is None:
            raise _NoAmountError
        mm, celsius = read_depth_mm(rest, units), read_degrees(rest, units)
        if meaning is Other.RAIN:
            return None if mm is None else RainMeasured(mm)
        return None if celsius is None else LowMeasured(celsius)
    if meaning is Other.AWAY:
        return _away(rest, today)
    if meaning is Other.HOW:
        return How(rest)
    if meaning is Other.UNDO:
        return Undo(rest)
    if rest:
        return None
    return Later() if meaning is Other.LATER else Back()


def _fed(rest: str) -> Answer | None:
    if _number(rest) is None:
        raise _NoAmountError
    return _mass(rest)


def _mass(text: str) -> Fed | None:
    """Return what each bale got ("350 g", "12 oz Row A"), None where it is no mass."""
    found = _number(text)
    if found is None:
        return None
    value, after = found
    unit, _, about = after.partition(" ")
    return Fed(value * MASS_G[unit], _name(about)) if unit in MASS_G else None


def _bare(head: str, units: Units) -> Answer | None:
    """Return a reading ("54", "129 F"), or a harvest ("2 kg tomatoes", "12 cucumbers")."""
    found = _number(head)
    if found is None:
        return None
    value, after = found
    degrees = _degrees(value, after, units)
    if degrees is not None:
        return Inside(*degrees)
    unit, _, crop = after.partition(" ")
    if unit in MASS_G:
        if not _name(crop):
            raise _NoAmountError
        return Picked(value * MASS_G[unit] / 1000, None, _name(crop))
    if value != int(value):
        return None
    crop = crop if unit in PIECES else after
    return Picked(None, int(value), _name(crop)) if _name(crop) else None


def _number(text: str) -> tuple[float, str] | None:
    """Return the number that a text begins with, and what follows it."""
    found = _NUMBER.fullmatch(text)
    if found is None or _THOUSANDS.fullmatch(found[1]):
        return None
    return float(found[1].replace(",", ".")), found[2].strip()


def _degrees(value: float, after: str, units: Units) -> tuple[float, str] | None:
    """Return a temperature [degC] and the name after it; None when it is none."""
    first, _, rest = after.partition(" ")
    if first in DEGREES:
        first, _, rest = rest.partition(" ")
        if first not in (*CELSIUS, *FAHRENHEIT):
            first, rest = "", f"{first} {rest}".strip()
    if first in FAHRENHEIT or (first in ("", "°") and units is Units.US):
        return (value - SCALE_ZERO_F) / DEGREES_F_PER_C, _name(rest)
    if first in CELSIUS or not first:
        return value, _name(rest)
    return None


def _name(text: str) -> str:
    """Return a name without the joints before it."""
    words = text.split()
    while words and words[0] in _JOINTS:
        words.pop(0)
    return " ".join(words)


def _day_and_name(rest: str, today: date) -> tuple[date | None, str]:
    """Return the past day and the name that stand after a verdict, in either order."""
    words = [word for word in rest.split() if word != "on"]
    for size in (2, 1):
        for place in {0, len(words) - size}:
            if place < 0 or not words:
                continue
            on = _past_day(words[place : place + size], today)
            if on is not None:
                return on, _name(" ".join(words[:place] + words[place + size :]))
    return None, _name(rest)


def _past_day(words: list[str], today: date) -> date | None:
    """Return the latest day, up to today, that words name."""
    if len(words) == 1:
        word = words[0]
        if word in _TODAY:
            return today
        if word in _YESTERDAY:
            return today - timedelta(days=1)
        if word in _WEEKDAYS:
            return today - timedelta(days=(today.weekday() - _WEEKDAYS[word]) % 7)
        return _iso(word)
    found = _day_of_year(words, today.year)
    if found is not None and found > today:
        found = _day_of_year(words, today.year - 1)
    return found


def _day_of_year(words: list[str], year: int) -> date | None:
    """Return "9 apr", "apr 9" or "9th april" in a year."""
    first, second = words
    if first in _MONTHS:
        first, second = second, first
    number = re.fullmatch(r"(\d{1,2})(?:st|nd|rd|th)?", first)
    if number is None or second not in _MONTHS:
        return None
    return _date(year, _MONTHS[second], int(number[1]))


def _iso(word: str) -> date | None:
    found = _ISO.fullmatch(word)
    return _date(int(found[1]), int(found[2]), int(found[3])) if found else None


def _date(year: int, month: int, number: int) -> date | None:
    try:
        return date(year, month, number)
    except ValueError:
        return None


def _away(rest: str, today: date) -> Answer | None:
    """Return a time away: two days, or one that it lasts until, from today on."""
    words = [word for word in rest.replace("/", " ").split() if word not in _JOINTS]
    days: list[date] = []
    while words:
        size = 2 if len(words) > 1 and _day_of_year(words[:2], today.year) is not None else 1
        on = _coming_day(words[:size], days[-1] if days else today)
        if on is None:
            return None
        days.append(on)
        words = words[size:]
    if not days:
        raise _NoAmountError
    if len(days) > 2:  # noqa: PLR2004 - a first and a last day
        return None
    first, last = (today, days[0]) if len(days) == 1 else (days[0], days[1])
    fits = first <= last and (last - first).days <= LONGEST_AWAY_D
    return Away(first, last) if fits else None


def _coming_day(words: list[str], since: date) -> date | None:
    """Return the first day from `since` on that words name."""
    if len(words) == 1:
        word = words[0]
        if word in _TODAY:
            return since
        if word in _WEEKDAYS:
            return since + timedelta(days=(_WEEKDAYS[word] - since.weekday()) % 7)
        return _iso(word)
    found = _day_of_year(words, since.year)
    if found is not None and found < since:
        found = _day_of_year(words, since.year + 1)
    return found if found is not None and (found - since).days <= FAR_AHEAD_D else None


def _shakes(remark: str) -> bool:
    """Return whether a remark makes an answer before it doubtful: it denies, or says another."""
    words = tuple(_WORD.findall(remark.casefold()))
    if _DENIALS.intersection(words):
        return True
    return any(
        words[start : start + len(phrase)] == phrase
        for phrase, meaning in _PHRASES
        if isinstance(meaning, Verdict) or meaning is Other.UNDO
        for start in range(len(words))
    )


def _contradict(answers: tuple[Answer, ...]) -> bool:
    """Return whether two verdicts, or two measurements of the same thing, exclude each other."""
    seen: set[tuple[object, ...]] = set()
    for answer in answers:
        key: tuple[object, ...]
        if isinstance(answer, (Work, Fed)):
            key = (Work, answer.about, answer.on if isinstance(answer, Work) else None)
        elif isinstance(answer, (Inside, Picked, Remark)):
            continue
        else:
            key = (type(answer),)
        if key in seen:
            return True
        seen.add(key)
    return False
