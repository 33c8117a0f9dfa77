"""Validate the values; say every mistake; keep as much as can still be judged for the checks.

A value that is wrong is replaced by its default, or by the example where it has none, and its
path is tainted: checks still run on everything else, and a finding that rests on a tainted value
is dropped. So two independent mistakes are both told in one run.

The library says that a key is not in the schema; what was probably meant, and where it belongs, it
does not. So such keys are taken out before. A slip of the finger is also mended for the rest of the
reading: what stands under a misspelt header is judged as well, and a missing key is not told beside
its misspelling.
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

from strawbell import __version__
from strawbell.config.keys import Key, Kind, Path, key_at, keys_in, places_of
from strawbell.config.mistakes import (
    Labels,
    Mistake,
    clean,
    did_you_mean,
    finding,
    hidden,
    shown,
    value_at,
)
from strawbell.config.reading import date_hint, hint, time_hint
from strawbell.config.schema import Settings
from strawbell.words.catalogue import BRITISH

say = BRITISH.say
SURELY, PERHAPS = 0.75, 0.6
"""Likeness of two spellings (difflib ratio) from which one is taken for the other."""
OTHER_NAMES = {
    "lat": "latitude", "lon": "longitude", "lng": "longitude", "long": "longitude",
    "tz": "time_zone", "timezone": "time_zone", "zone": "time_zone",
    "altitude": "elevation_m", "npk": "label", "analysis": "label",
    "server": "host", "smtp_host": "host", "user": "username", "login": "username",
    "from": "sender", "to": "recipients", "recipient": "recipients",
    "tls": "security", "ssl": "security", "use_tls": "security", "starttls": "security",
    "start": "start_on", "start_date": "start_on", "plant": "plant_on", "count": "plants",
    "beds": "batches", "rows": "batches", "plants": "plantings", "fertilizer": "feed",
    "fertiliser": "feed", "user_agent": "contact", "provider": "sources", "source": "sources",
    "dilution_ml_per_l": "label_rate", "dilution": "label_rate", "rate": "label_rate",
    "directory": "path", "dir": "path", "quiet_hours": "quiet_from",
}  # fmt: skip
"""Keys that have another name here: other habits and, once there are any, keys that a release
replaced. None of them is accepted; the message names the successor."""
ROUNDS_MAX = 10
"""Validation is repeated after each mending; mistakes hide others at most this deep."""
_BOUNDS = ("greater_than", "greater_than_equal", "less_than", "less_than_equal")
_CHOICES = ("enum", "literal_error")
_NUMERIC = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?$")
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
    kind, context = error["type"], dict(error.get("ctx", {}))
    allowed = key.allowed if key else ""
    if kind == "missing":
        half = path[0] == "email" and isinstance(data.get("email"), dict)
        example = shown(key.example, name) if key and key.example is not None else ""
        remedy = say("mend.instance", name=name, example=example) if example else ""
        what = "half-filled" if half else "missing"
        return finding(what, path, allowed=allowed, remedy=remedy, name=name)
    found = shown(value, owner)
    if kind == "strawbell":
        what = context.pop("finding")
        return finding(what, path, found, allowed=allowed, key=owner or name, **context)
    remedy = "" if found == hidden() else _remedy(kind, value, key, path)
    if key is not None and key.kind is Kind.SECRET:
        kind = kind.replace("too_", "string_too_")  # It is a text, whatever the library counts.
    what = _WHAT.get(kind, "wrong-kind")
    return finding(what, path, found, allowed=allowed, remedy=remedy, **context)


def _remedy(kind: str, value: object, key: Key | None, path: Path) -> str:
    if key is None:
        return ""
    if kind in _BOUNDS:
        return _fahrenheit(value, key)
    if kind in _CHOICES:
        near = get_close_matches(str(value).lower()[:60], key.choices, n=1, cutoff=0.4)
        return did_you_mean(f'"{near[0]}"' if near else "")
    if isinstance(value, (list, dict)):
        return "" if key.kind in (Kind.TEXTS, Kind.NUMBERS) else say("mend.one-value")
    if key.kind is Kind.TEXTS and not isinstance(path[-1], int):
        return say("mend.brackets", value=shown(value))
    if key.kind in (Kind.TEXT, Kind.CHOICE, Kind.TEXTS):
        return "" if isinstance(value, str) else say("mend.quotes", value=shown(value))
    if isinstance(value, str):
        return _unquote(value, key)
    if key.kind is Kind.WHOLE and isinstance(value, float) and math.isfinite(value):
        low, high = math.floor(value), math.ceil(value)
        return say("mend.write-one", low=str(low), high=str(high) if high != low else None)
    if key.kind is Kind.DATE and isinstance(value, datetime):
        return say("mend.no-time", day=value.date().isoformat())
    return ""


def _unquote(text: str, key: Key) -> str:
    plain = text.strip()
    if key.kind in (Kind.NUMBER, Kind.WHOLE) and _NUMERIC.match(plain):
        return say("mend.unquoted", value=plain[:40])
    if key.kind is Kind.DATE:
        try:
            return say("mend.unquoted", value=date.fromisoformat(plain).isoformat())
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
    return say("mend.fahrenheit", celsius=f"{(value - freezing_f) / degrees:.1f}")


class Unknown:
    """Goes once through the values and takes out what the schema does not know."""

    def __init__(self, data: dict[str, object], labels: Labels) -> None:
        """Work on `data` itself; `labels.written` learns of everything that is moved."""
        self.data = data
        self.labels = labels
        self.mistakes: list[Mistake] = []
        self.tainted: set[Path] = set()
        self.excused: set[str] = set()
        """Names that stand in a wrong place; where they are missing need not be told as well."""

    def take_out(self) -> None:
        """Find, report and mend."""
        self._table(self.data, ())

    def _table(self, table: dict[str, object], path: Path) -> None:
        keys = keys_in(path)
        for name in [name for name in table if name not in keys]:
            self._unknown(name, table, path, keys)
        for name, key in keys.items():
            if name in table and key.section is not None and (*path, name) not in self.tainted:
                self._below(key, table, (*path, name))

    def _below(self, key: Key, table: dict[str, object], path: Path) -> None:
        value = table[key.name]
        if key.kind is Kind.TABLES and isinstance(value, dict):
            meant = _header(key, 2)
            self.mistakes.append(finding("double-brackets", path, _header(key, 1), meant=meant))
            table[key.name] = value = [value]
            self.labels.written[(*path, 0)] = path
        elif key.kind is Kind.TABLE and isinstance(value, list) and _is_of_tables(value):
            meant = _header(key, 1)
            self.mistakes.append(finding("single-brackets", path, _header(key, 2), meant=meant))
            table[key.name] = value = value[0]
            self.labels.written[path] = (*path, 0)
        if isinstance(value, dict):
            self._table(value, path)
        elif isinstance(value, list):
            for number, item in enumerate(value):
                if isinstance(item, dict):
                    self._table(item, (*path, number))

    def _unknown(
        self, name: str, table: dict[str, object], path: Path, keys: Mapping[str, Key]
    ) -> None:
        value = table.pop(name)
        table_key = key_at(path)
        several = _is_of_tables(value)
        meant = self._guess(name, value, table, path, keys)
        self.mistakes.append(
            finding(
                "no-such-key",
                (*path, name),
                f'"{clean(name)}"',
                # A header of several tables stands where the first of them does.
                line=self.labels.line_of((*path, name, 0)) if several else None,
                section=isinstance(value, dict) or several,
                table=_written(table_key) if table_key else None,
                known=", ".join(keys),
                version=__version__,
                meant=meant,
            )
        )

    def _guess(
        self,
        name: str,
        value: object,
        table: dict[str, object],
        path: Path,
        keys: Mapping[str, Key],
    ) -> str:
        """Return what was probably meant as a sentence, and mend the values accordingly."""
        plain = name.lower().replace("-", "_").replace(" ", "_")
        successor = OTHER_NAMES.get(plain)
        if successor is not None and successor in keys and plain not in keys:
            if successor not in table:
                self.tainted.add((*path, successor))
            return BRITISH.say("mend.called", name=successor)
        near = _nearest(plain, keys, SURELY)
        exact = [key for key in places_of(name) if key.path[:-1] != _names(path)]
        if not near and exact:
            self.excused.add(name)
            places = BRITISH.listing((_home(key) for key in exact), "or")
            return BRITISH.say("mend.belongs", places=places)
        near = near or _nearest(plain, keys, PERHAPS)
        if not near:
            return ""
        if near not in table and _fits(value, keys[near]):
            table[near] = value
            self.labels.written[(*path, near)] = (*path, name)
        else:
            # What stands under both, such as [[gardnes]] above [[gardens.batches]], waits for that.
            self.tainted.add((*path, near))
        return did_you_mean(_written(keys[near]))


def _nearest(name: str, keys: Mapping[str, Key], cutoff: float) -> str | None:
    by_plain = {key.replace("-", "_"): key for key in keys}
    near = get_close_matches(name[:80], list(by_plain), n=1, cutoff=cutoff)
    return by_plain[near[0]] if near else None


def _fits(value: object, key: Key) -> bool:
    """Return whether a table stands where a table is wanted, and a value where a value is."""
    if key.kind is Kind.TABLES:
        return isinstance(value, (dict, list))
    if key.kind is Kind.TABLE:
        return isinstance(value, dict)
    return not isinstance(value, dict) or key.section is not None


def _is_of_tables(value: object) -> bool:
    return isinstance(value, list) and bool(value) and isinstance(value[0], dict)


def _header(key: Key, brackets: int) -> str:
    return f"{'[' * brackets}{'.'.join(key.path)}{']' * brackets}"


def _written(key: Key) -> str:
    if key.kind not in (Kind.TABLE, Kind.TABLES):
        return key.name
    return _header(key, 2 if key.kind is Kind.TABLES else 1)


def _home(key: Key) -> str:
    parent = key_at(key.path[:-1])
    return BRITISH.say("place.header", table=_written(parent) if parent else None)


def _names(path: Path) -> tuple[str, ...]:
    return tuple(part for part in path if isinstance(part, str))
