"""Keys that are not in the schema: what was probably meant, and where it belongs.

A slip of the finger is also mended for the rest of the reading, so that what stands under a
misspelt header is judged as well and a missing key is not reported beside its misspelling.
"""

from __future__ import annotations

from collections.abc import Mapping
from difflib import get_close_matches

from strawbell import __version__
from strawbell.config.mistakes import Labels, Mistake, clean, finding
from strawbell.config.outline import Key, Kind, Path, key_at, keys_in, places_of

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
        remedy = self._guess(name, value, table, path, keys)
        self.mistakes.append(
            finding(
                "no-such-key-near" if remedy else "no-such-key",
                (*path, name),
                f'"{clean(name)}"',
                # A header of several tables stands where the first of them does.
                line=self.labels.line_of((*path, name, 0)) if several else None,
                kind="section" if isinstance(value, dict) or several else "key",
                here=f"in {_written(table_key)}" if table_key else "at the top of the file",
                known=", ".join(keys),
                version=__version__,
                meant=remedy,
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
            return f"It is called {successor} here."
        near = _nearest(plain, keys, SURELY)
        exact = [key for key in places_of(name) if key.path[:-1] != _names(path)]
        if not near and exact:
            self.excused.add(name)
            return f"It belongs {' or '.join(dict.fromkeys(_home(key) for key in exact))}."
        near = near or _nearest(plain, keys, PERHAPS)
        if not near:
            return ""
        if near not in table and _fits(value, keys[near]):
            table[near] = value
            self.labels.written[(*path, near)] = (*path, name)
        else:
            # What stands under both, such as [[gardnes]] above [[gardens.batches]], waits for that.
            self.tainted.add((*path, near))
        return f"Did you mean {_written(keys[near])}?"


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
    if len(key.path) == 1:
        return "at the top of the file, before the first header"
    parent = key_at(key.path[:-1])
    return f"in {_written(parent)}" if parent else ""


def _names(path: Path) -> tuple[str, ...]:
    return tuple(part for part in path if isinstance(part, str))
