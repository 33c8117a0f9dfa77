"""Validate the values; say every mistake; keep as much as can still be judged for the checks.

A value that is wrong is replaced by its default, or by the example where it has none, and its
path is tainted: checks still run on everything else, and a finding that rests on a tainted value
is dropped. So two independent mistakes are both told in one run.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from datetime import date, datetime
from difflib import get_close_matches
from typing import Any

from msgspec import Struct, field
from pydantic import ValidationError

from strawbell.config.mistakes import HIDDEN, Labels, Mistake, finding, shown, value_at
from strawbell.config.outline import Key, Kind, Path, key_at, keys_in
from strawbell.config.schema import Settings
from strawbell.config.syntax import date_hint, hint, time_hint
from strawbell.config.unknown import Unknown

ROUNDS_MAX = 10
"""Validation is repeated after each mending; mistakes hide others at most this deep."""

_BOUNDS = ("greater_than", "greater_than_equal", "less_than", "less_than_equal")
_CHOICES = ("enum", "literal_error")
_NUMERIC = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?$")


class Validated(Struct):
    """What validation gave: settings that can be judged, and what must not be judged."""

    settings: Settings | None
    mistakes: list[Mistake] = field(default_factory=list)
    tainted: set[Path] = field(default_factory=set)

    def rests_on_doubt(self, paths: tuple[Path, ...]) -> bool:
        """Return whether any of the paths, or a table around it, is tainted."""
        return any(path[:length] in self.tainted
                   for path in paths for length in range(1, len(path) + 1))  # fmt: skip


def validate(
    data: dict[str, object], labels: Labels, tainted: set[Path], doubtful: set[Path]
) -> Validated:
    """Validate values in place; in `doubtful` tables missing keys are not told. See the module."""
    unknown = Unknown(data, labels)
    unknown.take_out()
    result = Validated(None, unknown.mistakes, tainted | unknown.tainted)
    result.tainted |= {
        (*table, name)
        for table in doubtful
        for name in keys_in(table)
        if value_at(data, (*table, name)) is None
    }
    for _ in range(ROUNDS_MAX):
        try:
            result.settings = Settings(**data)  # type: ignore[arg-type]  # that is what it checks
        except ValidationError as error:
            errors = error.errors(include_url=False, include_input=False)
        else:
            break
        for each in errors:
            path = _path_in(data, each["loc"], missing=each["type"] == "missing")
            told = result.rests_on_doubt((path,))
            excused = each["type"] == "missing" and path[-1:] and path[-1] in unknown.excused
            if not told and not excused:
                result.mistakes.append(_mistake(each, path, value_at(data, path), data))
            _mend(data, path, result.tainted)
    return result


def _path_in(data: object, location: tuple[int | str, ...], *, missing: bool) -> Path:
    """Return the part of an error's location that exists in the values, without union tags."""
    path: Path = ()
    for depth, part in enumerate(location):
        last = depth == len(location) - 1
        inside_table = isinstance(data, Mapping) and isinstance(part, str) and part in data
        inside_list = isinstance(data, (list, tuple)) and isinstance(part, int)
        if inside_table or (inside_list and int(part) < len(data)):  # type: ignore[arg-type]
            data = data[part]  # type: ignore[index]
            path = (*path, part)
        elif missing and last and isinstance(data, Mapping):
            path = (*path, part)
    return path


def _mend(data: dict[str, object], path: Path, tainted: set[Path]) -> None:
    """Take a wrong value out of the way and remember that it was wrong."""
    while path and (isinstance(path[-1], int) or key_at(path) is None):
        path = path[:-1]
    if not path:
        return
    tainted.add(path)
    table = value_at(data, path[:-1]) if len(path) > 1 else data
    key = key_at(path)
    if not isinstance(table, dict) or key is None:
        return
    if key.required and key.example is not None:
        table[str(path[-1])] = key.example
    else:
        table.pop(str(path[-1]), None)


def _mistake(error: Any, path: Path, value: object, data: dict[str, object]) -> Mistake:
    """Return one error of the library in the grower's words."""
    key = key_at(path)
    name = str(path[-1]) if path else ""
    owner = next((str(part) for part in reversed(path) if isinstance(part, str)), "")
    kind, context = error["type"], error.get("ctx", {})
    given: dict[str, Any] = {"allowed": key.allowed if key else "", "name": name}
    if kind == "missing":
        half = path[0] == "email" and isinstance(data.get("email"), dict)
        example = shown(key.example, name) if key and key.example is not None else ""
        remedy = f"Write for instance: {name} = {example}." if example else ""
        what = "half-filled" if half else "missing"
        return finding(what, path, "nothing", remedy=remedy, **given)
    found = shown(value, owner)
    if kind == "strawbell":
        allowed, said = context["allowed"] or given["allowed"], f"{owner or name} {context['what']}"
        return Mistake(said, path, found, allowed, context["remedy"])
    remedy = "" if found == HIDDEN else _remedy(kind, value, key, path)
    return finding(_WHAT.get(kind, "wrong-kind"), path, found, remedy=remedy, **given, **context)


_WHAT = {
    **dict.fromkeys(_BOUNDS, "out-of-range"),
    **dict.fromkeys(_CHOICES, "none-of-those"),
    "finite_number": "not-finite",
    "string_too_long": "text-too-long",
    "string_too_short": "text-empty",
    "too_short": "list-too-short",
    "too_long": "list-too-long",
    "string_unicode": "half-a-letter",
}
"""What is found, by what the library calls it; all else is of the wrong kind."""


def _remedy(kind: str, value: object, key: Key | None, path: Path) -> str:
    if key is None:
        return ""
    if kind in _BOUNDS:
        return _fahrenheit(value, key)
    if kind in _CHOICES:
        near = get_close_matches(str(value).lower()[:60], key.choices, n=1, cutoff=0.4)
        return f'Did you mean "{near[0]}"?' if near else ""
    if isinstance(value, (list, dict)):
        return "" if key.kind in (Kind.TEXTS, Kind.NUMBERS) else "Write one value, no brackets."
    if key.kind is Kind.TEXTS and not isinstance(path[-1], int):
        return f"Put it in brackets: [{shown(value)}]."
    if key.kind in (Kind.TEXT, Kind.CHOICE, Kind.TEXTS):
        return f'Put it in quotes: "{shown(value)}".'
    if isinstance(value, str):
        return _unquote(value, key)
    if key.kind is Kind.WHOLE and isinstance(value, float) and math.isfinite(value):
        low, high = math.floor(value), math.ceil(value)
        return f"Write {low}." if low == high else f"Write {low} or {high}."
    if key.kind is Kind.DATE and isinstance(value, datetime):
        return f"Leave out the time of day: {value.date().isoformat()}."
    return ""


def _unquote(text: str, key: Key) -> str:
    plain = text.strip()
    if key.kind in (Kind.NUMBER, Kind.WHOLE) and _NUMERIC.match(plain):
        return f"Remove the quotes: {plain[:40]}."
    if key.kind is Kind.DATE:
        try:
            return f"Remove the quotes: {date.fromisoformat(plain).isoformat()}."
        except ValueError:
            return date_hint(plain)
    if key.kind is Kind.TIME:
        return time_hint(plain)
    return hint(plain, key)


def _fahrenheit(value: object, key: Key) -> str:
    """Return the Celsius value of what was probably meant in Fahrenheit."""
    freezing_f, boiling_f, degrees = 32.0, 212.0, 1.8
    if not key.name.endswith("_c") or not isinstance(value, (int, float)):
        return ""
    if not freezing_f <= value <= boiling_f:
        return ""
    return f"If it is meant in Fahrenheit, write {(value - freezing_f) / degrees:.1f}."
