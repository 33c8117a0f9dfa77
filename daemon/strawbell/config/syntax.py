"""What the TOML reader says, in plain words, and what the grower probably meant to write."""

from __future__ import annotations

import re
from datetime import date

from strawbell.config.outline import Key, Kind

_PLAIN = (
    (re.compile(r"Illegal character '\\n'|Unterminated string|Unclosed string"),
     "a quote is not closed"),
    (re.compile(r"Unclosed array"), "a bracket is not closed"),
    (re.compile(r"Unclosed inline table"), "a brace is not closed"),
    (re.compile(r"Invalid date or datetime"), "there is no such date or time"),
    (re.compile(r"Expected '=' after a key"), "a key is not followed by ="),
    (re.compile(r"Expected newline or end of document"),
     "something stands after the value that does not belong there"),
    (re.compile(r"Invalid value"), "the value is not written as TOML wants it"),
    (re.compile(r"Invalid statement|Invalid initial character"),
     "the line is neither a key with a value nor the header of a table"),
    (re.compile(r"Unescaped '\\\\'|escape", re.IGNORECASE),
     "a backslash in double quotes has to be doubled; single quotes take it as it is"),
)  # fmt: skip
MANY_DIGITS = re.compile(r"[0-9_]{4000,}")
_CLOCK = re.compile(r"(\d{1,2}):(\d{2})(?::\d{2})?$")
_MERIDIAN = re.compile(r"(\d{1,2})(?::(\d{2}))?\s*([ap])\.?m\.?$", re.IGNORECASE)
_SLASHED = re.compile(r"\d{1,2}[/.]\d{1,2}[/.]\d{2,4}$")
_ISO_DAY = re.compile(r"(\d{4})-(\d{1,2})-(\d{1,2})$")
_DECIMAL_COMMA = re.compile(r"-?\d+,\d+$")
_SWITCHES = {"yes": "true", "on": "true", "true": "true",
             "no": "false", "off": "false", "false": "false"}  # fmt: skip
HOURS_OF_HALF_DAY = 12
HOURS_OF_DAY = 24


def in_plain_words(message: str) -> str:
    """Return the reader's message in plain words; an unknown one stays as it is."""
    for pattern, words in _PLAIN:
        if pattern.search(message):
            return words
    return "not TOML: " + "".join(letter for letter in message if letter.isprintable())


def hint(value: str, key: Key | None) -> str:
    """Return what a value was probably meant to be, as a sentence, or nothing."""
    text = value.split(" #", 1)[0].strip().strip("\"'")
    found = time_hint(text) or date_hint(text)
    if found:
        return found
    if text.lower() in _SWITCHES and (key is None or key.kind is Kind.SWITCH):
        return f"Write {_SWITCHES[text.lower()]}, without quotes."
    if _DECIMAL_COMMA.match(text):
        return f"Write {text.replace(',', '.')}, with a point."
    if value.count('"') % 2 or value.count("'") % 2:
        return "Close the quote."
    texts = key is not None and key.kind in (Kind.TEXT, Kind.CHOICE)
    if texts and re.match(r"[^\W\d]", text) and '"' not in text:
        return f'Put it in quotes: "{text[:60]}".'
    return ""


def time_hint(text: str) -> str:
    """Return how a time of day is written, where the text looks like one."""
    meridian = _MERIDIAN.match(text)
    if meridian and 1 <= int(meridian[1]) <= HOURS_OF_HALF_DAY:
        hour = int(meridian[1]) % HOURS_OF_HALF_DAY
        hour += HOURS_OF_HALF_DAY if meridian[3].lower() == "p" else 0
        return f"Write {hour:02}:{meridian[2] or '00'}:00, without quotes."
    clock = _CLOCK.match(text)
    if not clock:
        return ""
    if int(clock[1]) >= HOURS_OF_DAY:
        return "A day runs from 00:00:00 to 23:59:59."
    return f"Write {int(clock[1]):02}:{clock[2]}:00, without quotes."


def date_hint(text: str) -> str:
    """Return how a date is written, where the text looks like one."""
    if _SLASHED.match(text):
        return "Write year-month-day, such as 2027-04-05, without quotes."
    day = _ISO_DAY.match(text)
    if not day:
        return ""
    try:
        meant = date(int(day[1]), int(day[2]), int(day[3]))
    except ValueError:
        return "There is no such day in the calendar."
    return f"Write {meant.isoformat()}, without quotes."
