"""A mistake with its place, and how both are put into the grower's words without secrets."""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Iterator, Mapping
from datetime import date, time
from difflib import SequenceMatcher

from msgspec import Struct, field

from strawbell.config.keys import Kind, Path, key_at
from strawbell.errors import Problem
from strawbell.words.catalogue import BRITISH, Place

SHOWN_LETTERS = 60
"""How much of a value is shown in a message."""
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
    warning: bool = False,
    secret: bool = False,
    **places: Place | date,
) -> Mistake:
    """Return a finding of the catalogue at a path, with what stands in its places.

    It rests on the value at the path and on those that it `reads`; one given by its key alone
    stands in the same table. It is not told where one of them is wrong itself.
    """
    rows = said(name, found=found, **places)
    return Mistake(
        rows["what"],
        path,
        rows["found"],
        rows["allowed"],
        rows["remedy"],
        warning=warning,
        secret=secret,
        line=line,
        file=file,
        reads=tuple((*path[:-1], each) if isinstance(each, str) else each for each in reads),
    )


def said(name: str, /, **places: Place | date) -> dict[str, str]:
    """Return the rows of a finding; one that it does not have is what the check gives for it.

    Dates are said as they are written in the file.
    """
    given = {key: str(each) if isinstance(each, date) else each for key, each in places.items()}
    rows = {"what": BRITISH.say(f"mistake.{name}.what", **given)}
    for row in ("found", "allowed", "remedy"):
        rows[row] = BRITISH.known(f"mistake.{name}.{row}", **given) or str(given.get(row, ""))
    return rows


def did_you_mean(name: str) -> str:
    """Return the question whether a name was meant, "" for none."""
    return BRITISH.say("mend.meant", name=name) if name else ""


def hidden() -> str:
    """Return what stands in a message in place of a password."""
    return BRITISH.say("shown.hidden")


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
                return BRITISH.say("place.origin", origin=origin, key=self.key(mistake.path))
        return BRITISH.say(
            "place.line",
            file=mistake.file or self.files.get(mistake.path[:2], self.file),
            line=mistake.line or self.line_of(mistake.path),
            column=mistake.column,
            key=self.key(mistake.path),
        )

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
        key = key_at(path)
        head, name = clean(names[-1]), None
        if key is not None and key.kind is Kind.TABLES:
            head, item = f"[[{'.'.join(names)}]]", value_at(self.data, path)
            if isinstance(item, Mapping):
                given = (item.get(each) for each in ("name", "crop"))
                name = next((each for each in given if isinstance(each, str)), None)
        number = int(path[-1]) + 1
        return (
            f"{head} {shown(name)}"
            if name
            else BRITISH.say("place.number", name=head, number=number)
        )

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
    # Amounts are said with a blank that holds them together, which no terminal needs.
    what, where, found, allowed, remedy = (
        printable(text.replace("\N{NO-BREAK SPACE}", " ")) for text in said
    )
    for form in _forms(secrets):
        what, where, found, remedy = (
            text.replace(form, hidden()) for text in (what, where, found, remedy)
        )
        # Names of keys stand here; a secret that is a part of one is not given away by it.
        allowed = re.sub(rf"(?<!\w){re.escape(form)}(?!\w)", hidden(), allowed)
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
        return hidden()
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        safe = _LOGIN_IN_URL.sub("//...@", value[: SHOWN_LETTERS * 4])
        safe = _QUERY_IN_URL.sub(r"\1...", safe)
        return clean(json.dumps(safe, ensure_ascii=False))
    if isinstance(value, (date, time)):
        return value.isoformat()
    if isinstance(value, Mapping):
        return BRITISH.say("shown.table")
    if isinstance(value, (list, tuple)):
        if any(isinstance(each, Mapping) for each in value):
            return BRITISH.say("shown.tables")
        return clean("[" + ", ".join(shown(each) for each in value[:SHOWN_LETTERS]) + "]")
    return clean(_number(value))


def _number(value: object) -> str:
    if isinstance(value, int) and value.bit_length() > SHOWN_LETTERS * 4:
        return BRITISH.say("shown.digits")
    return str(value)
