"""A mistake with its place, and how both are put into the grower's words without secrets."""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Iterator, Mapping
from datetime import date, time
from difflib import SequenceMatcher

from msgspec import Struct, field

from strawbell.config.base import findings, said
from strawbell.config.outline import Kind, Path, key_at
from strawbell.errors import Problem

SHOWN_LETTERS = 60
"""How much of a value is shown in a message."""
HIDDEN = "(not shown)"
SECRET_LETTERS_MIN = 4
"""Shorter texts are not struck out of messages: they stand in ordinary words too."""
_CUT = SHOWN_LETTERS - 10
"""A secret cut short by showing only part of a value is still recognised by this beginning."""
_LIKE_PASSWORD = 0.7
_SECRET_NAME = re.compile(r"pass(?!word_file$)|secret|token|pwd|credential", re.IGNORECASE)
_LOGIN_IN_URL = re.compile(r"//[^/\s]*@")
_QUERY_IN_URL = re.compile(r"(//[^?#\s]*[?#]).*", re.DOTALL)
"""What follows an address is often a key of somebody's account."""


class Mistake(Struct, frozen=True):
    """One thing to mend or to look at; `reads` are the values the finding rests on.

    A `secret` that is missing hinders who sends, and nobody else.
    """

    what: str
    path: Path = ()
    found: str = ""
    allowed: str = ""
    remedy: str = ""
    warning: bool = False
    secret: bool = False
    line: int | None = None
    column: int | None = None
    file: str = ""
    """The file it is in where that is not the configuration itself."""
    reads: tuple[Path, ...] = ()


def finding(
    name: str,
    path: Path = (),
    found: str = "",
    /,
    *,
    reads: Iterable[str | Path] = (),
    line: int | None = None,
    file: str = "",
    **places: object,
) -> Mistake:
    """Return a finding of the table at a path, with what stands in its `{places}`.

    It rests on the value at the path and on those that it `reads`; one given by its key alone
    stands in the same table. It is not told where one of them is wrong itself.
    """
    rests_on = tuple((*path[:-1], each) if isinstance(each, str) else each for each in reads)
    return Mistake(
        path=path,
        found=found,
        warning=findings()[name].get("warning", False),
        line=line,
        file=file,
        reads=rests_on,
        **said(name, **places),
    )


class Positions(Struct):
    """Where keys and headers stand: lines count from 1; `table` is the one open at the end."""

    lines: dict[Path, int] = field(default_factory=dict)
    table: Path = ()

    def line_of(self, path: Path) -> int | None:
        """Return the line of a value, or of the nearest table around it that has one."""
        around = (self.lines.get(path[:length]) for length in range(len(path), 0, -1))
        return next((line for line in around if line is not None), None)


class Labels(Struct):
    """What is needed to say where a value stands."""

    file: str
    positions: Positions = field(default_factory=Positions)
    data: Mapping[str, object] = field(default_factory=dict)
    origins: dict[Path, str] = field(default_factory=dict)
    """Values that came from elsewhere than the file, with the name of that place."""
    files: dict[Path, str] = field(default_factory=dict)
    """Gardens that stand in files of their own, with the name of that file."""
    written: dict[Path, Path] = field(default_factory=dict)
    """Values that were read as if they stood elsewhere, with their path as written."""

    def line_of(self, path: Path) -> int | None:
        """Return the line a value stands on, if it can be told."""
        return self.positions.line_of(self._as_written(path))

    def where(self, mistake: Mistake) -> str:
        """Return file, line and key in the grower's words."""
        for path, origin in self.origins.items():
            if path == mistake.path[: len(path)]:
                return f"{origin} ({self.key(mistake.path)})"
        line = mistake.line or self.line_of(mistake.path)
        file = mistake.file or self.files.get(mistake.path[:2], self.file)
        head = f"{file}, line {line}" if line else file
        if mistake.column:
            head = f"{head}, column {mistake.column}"
        key = self.key(mistake.path)
        return f"{head}: {key}" if key else head

    def key(self, path: Path) -> str:
        """Return a path as headers and names: `[[gardens]] "Mill lane", latitude`."""
        path = self._as_written(path)
        parts: list[str] = []
        plain: list[str] = []
        for depth, part in enumerate(path):
            key = key_at(path[: depth + 1])
            if isinstance(part, int):
                parts.append(self._item(path[: depth + 1]))
                plain = []
            elif key is not None and key.kind is Kind.TABLES and depth < len(path) - 1:
                continue
            elif key is not None and key.kind is Kind.TABLE:
                if parts and key.path[:-1] and parts[-1] == f"[{'.'.join(key.path[:-1])}]":
                    parts.pop()
                parts.append(f"[{'.'.join(key.path)}]")
            else:
                plain.append(clean(str(part)))
        text = ", ".join([*parts, ".".join(plain)] if plain else parts)
        return re.sub(r"(^|, )(\[[a-z_.]+\]), ", r"\1\2 ", text)

    def _item(self, path: Path) -> str:
        """Return one of several tables, by its name where it has one."""
        names = [part for part in path if isinstance(part, str)]
        number = path[-1]
        key = key_at(path)
        if key is None or key.kind is not Kind.TABLES:
            return f"{clean(str(names[-1]))} number {int(number) + 1}"
        item = value_at(self.data, path)
        name = None
        if isinstance(item, Mapping):
            name = next((item[k] for k in ("name", "crop") if isinstance(item.get(k), str)), None)
        head = f"[[{'.'.join(names)}]]"
        return f"{head} {shown(name)}" if name else f"{head} number {int(number) + 1}"

    def _as_written(self, path: Path) -> Path:
        for length in range(len(path), 0, -1):
            original = self.written.get(path[:length])
            if original is not None:
                return (*original, *path[length:])
        return path


def value_at(data: object, path: Path) -> object:
    """Return what stands at a path, None where nothing does."""
    for part in path:
        if isinstance(data, Mapping) and isinstance(part, str):
            data = data.get(part)
        elif isinstance(data, (list, tuple)) and isinstance(part, int) and part < len(data):
            data = data[part]
        else:
            return None
    return data


def problem_of(mistake: Mistake, labels: Labels, secrets: Iterable[str] = ()) -> Problem:
    """Return a mistake as a problem, printable and with every known secret struck out."""
    said = (mistake.what, labels.where(mistake), mistake.found, mistake.allowed, mistake.remedy)
    what, where, found, allowed, remedy = map(printable, said)
    for form in _forms(secrets):
        what, where, found, remedy = (
            text.replace(form, HIDDEN) for text in (what, where, found, remedy)
        )
        # Names of keys stand here; a secret that is a part of one is not given away by it.
        allowed = re.sub(rf"(?<!\w){re.escape(form)}(?!\w)", HIDDEN, allowed)
    return Problem(what, where, found, allowed, remedy)


def _forms(secrets: Iterable[str]) -> Iterator[str]:
    """Yield secrets in every form they can be shown in, also cut short; the longest first."""
    for secret in sorted(set(secrets), key=len, reverse=True):
        if len(secret) >= SECRET_LETTERS_MIN:
            quoted = printable(json.dumps(secret, ensure_ascii=False)[1:-1])
            whole = {secret, printable(secret), quoted}
            yield from whole | {each[:_CUT] for each in whole}


def is_secret(name: str) -> bool:
    """Return whether a key, perhaps mistyped, is likely to hold a password."""
    likeness = SequenceMatcher(None, name.lower(), "password").ratio()
    is_like = likeness >= _LIKE_PASSWORD or _SECRET_NAME.search(name) is not None
    return name != "password_file" and is_like


def secrets_in(data: object, *, is_hidden: bool = False) -> Iterator[str]:
    """Yield every text that stands under a key which is likely to hold a password."""
    if isinstance(data, Mapping):
        for name, value in data.items():
            yield from secrets_in(value, is_hidden=is_hidden or is_secret(str(name)))
    elif isinstance(data, (list, tuple)):
        for value in data:
            yield from secrets_in(value, is_hidden=is_hidden)
    elif is_hidden and not isinstance(data, bool):
        yield str(data)


def printable(text: str) -> str:
    """Return a text with everything escaped that breaks a line, a terminal or its direction."""
    return "".join(each if each.isprintable() else _escaped(each) for each in text)


def _escaped(letter: str) -> str:
    code = ord(letter)
    return f"\\u{code:04x}" if code <= 0xFFFF else f"\\U{code:08x}"  # noqa: PLR2004


def clean(text: str) -> str:
    """Return a text shortened and printable."""
    return printable(text[:SHOWN_LETTERS]) + ("..." if len(text) > SHOWN_LETTERS else "")


def shown(value: object, name: str = "") -> str:
    """Return a value as it would be written in TOML, shortened; nothing of a password."""
    if name and is_secret(name):
        return HIDDEN
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        safe = _LOGIN_IN_URL.sub("//...@", value[: SHOWN_LETTERS * 4])
        safe = _QUERY_IN_URL.sub(r"\1...", safe)
        return clean(json.dumps(safe, ensure_ascii=False))
    if isinstance(value, (date, time)):
        return value.isoformat()
    if isinstance(value, Mapping):
        return "a table"
    if isinstance(value, (list, tuple)):
        if any(isinstance(each, Mapping) for each in value):
            return "a list of tables"
        return clean("[" + ", ".join(shown(each) for each in value[:SHOWN_LETTERS]) + "]")
    return clean(_number(value))


def _number(value: object) -> str:
    if isinstance(value, int) and value.bit_length() > SHOWN_LETTERS * 4:
        return "a number of very many digits"
    return str(value)
