"""Lay environment and credentials over the file, and remember what came whence.

Precedence: environment > credential files > file > defaults. A value that is a text only because
its carrier knows nothing else (a variable, a credential) is read as the kind its key wants; values
of the file keep their kind.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from datetime import date, time
from difflib import get_close_matches
from pathlib import Path as FilePath

from msgspec import Struct, field

from strawbell.config.keys import Key, Kind, Path, outline
from strawbell.config.mistakes import Mistake, clean, did_you_mean, finding, shown, value_at
from strawbell.config.schema import ENVIRONMENT_PREFIX, NESTED, SECRET_KEYS
from strawbell.words.catalogue import BRITISH

CREDENTIALS_FOLDER = "CREDENTIALS_DIRECTORY"
"""Where systemd puts the credentials of a unit (systemd.exec, "Credentials")."""
CREDENTIAL_PREFIX = "strawbell_"
CREDENTIAL_BYTES_MAX = 65_536
_TABLE_KINDS = (Kind.TABLE, Kind.TABLES)
_SWITCHES = {"true": True, "yes": True, "on": True, "1": True,
             "false": False, "no": False, "off": False, "0": False}  # fmt: skip
_SECRET_PATHS: tuple[Path, ...] = tuple(("email", key) for key in SECRET_KEYS)


class Layers(Struct):
    """The values laid over each other; `origins` names those that are not from the file."""

    data: dict[str, object]
    origins: dict[Path, str] = field(default_factory=dict)
    mistakes: list[Mistake] = field(default_factory=list)
    tainted: set[Path] = field(default_factory=set)
    secrets: list[str] = field(default_factory=list)


def lay_over(data: dict[str, object], environ: Mapping[str, str]) -> Layers:
    """Return the file's values with everything of higher precedence laid over them."""
    layers = Layers(data)
    for given in (_credentials, _variables):
        for key, origin, text in given(environ, layers):
            _lay(layers, key, text, origin)
    return layers


def _names() -> dict[tuple[str, ...], Key]:
    """Return the keys that one text can set, by name in the spelling of a variable."""
    return {
        tuple(part.replace("-", "_").lower() for part in path): key
        for path, key in outline().items()
        if key.kind not in _TABLE_KINDS and path[0] not in _lists()
    }


def _lists() -> set[str]:
    return {path[0] for path, key in outline().items() if key.kind is Kind.TABLES}


def _variables(environ: Mapping[str, str], layers: Layers) -> Iterator[tuple[Key, str, str]]:
    names: dict[tuple[str, ...], Key] | None = None
    for variable in sorted(environ):
        if not variable.upper().startswith(ENVIRONMENT_PREFIX):
            continue
        names = names or _names()
        rest = variable[len(ENVIRONMENT_PREFIX) :].lower()
        key = names.get(tuple(rest.split(NESTED)))
        origin = BRITISH.say("place.variable", name=clean(variable))
        if key is not None:
            yield key, origin, environ[variable]
        elif NESTED in rest:
            spelled = [NESTED.join(name) for name in names]
            near = get_close_matches(rest, spelled, n=1, cutoff=0.6)
            meant = did_you_mean(ENVIRONMENT_PREFIX + near[0].upper() if near else "")
            layers.mistakes.append(
                finding(
                    "no-such-variable",
                    name=clean(variable),
                    prefix=ENVIRONMENT_PREFIX,
                    remedy=meant,
                )
            )
            layers.secrets.append(environ[variable])


def _credentials(environ: Mapping[str, str], layers: Layers) -> Iterator[tuple[Key, str, str]]:
    folder = environ.get(CREDENTIALS_FOLDER)
    if not folder:
        return
    try:
        files = sorted(path for path in FilePath(folder).iterdir() if NESTED in path.name)
    except (OSError, ValueError):
        return
    names = _names()
    # The plain name first, so that the prefixed one lies over it.
    for file in sorted(files, key=lambda path: path.name.startswith(CREDENTIAL_PREFIX)):
        key = names.get(tuple(file.name.removeprefix(CREDENTIAL_PREFIX).lower().split(NESTED)))
        if key is None:
            continue
        origin = BRITISH.say("place.credential", name=clean(file.name))
        try:
            with file.open("rb") as opened:
                text = opened.read(CREDENTIAL_BYTES_MAX).decode("utf-8")
        except (OSError, UnicodeDecodeError):
            layers.mistakes.append(finding("credential", key.path, name=clean(file.name)))
            layers.tainted.add(key.path)
            continue
        if text.strip():  # An empty one stands in for a file that the unit did not find.
            yield key, origin, text.rstrip("\r\n")


def _lay(layers: Layers, key: Key, text: str, origin: str) -> None:
    """Put a value in its place, unless the file has something there that holds no keys."""
    path: Path = key.path
    if key.kind is Kind.SECRET:
        layers.secrets.append(text)
    try:
        value = from_text(text, key)
    except ValueError:
        found = shown(text, key.name)
        wrong = finding("wrong-kind", path, found, allowed=key.allowed)
        layers.mistakes.append(wrong)
        layers.origins[path] = origin
        layers.tainted.add(path)
        return
    table: dict[str, object] = layers.data
    for part in key.path[:-1]:
        below = table.setdefault(part, {})
        if not isinstance(below, dict):
            return
        table = below
    table[key.name] = value
    layers.origins[path] = origin
    for other in _SECRET_PATHS if path in _SECRET_PATHS else ():
        if other != path and value_at(layers.data, other) is not None:
            # The higher layer says where the password is; the lower one is overruled, not doubled.
            layers.secrets.append(str(table.pop(str(other[-1]))))
            layers.origins.pop(other, None)


def from_text(text: str, key: Key) -> object:
    """Return a text as the kind of value its key wants; raise ValueError where it is none."""
    plain = text.strip()
    if key.kind is Kind.SWITCH:
        if plain.lower() not in _SWITCHES:
            raise ValueError(key.name)
        return _SWITCHES[plain.lower()]
    if key.kind is Kind.WHOLE:
        return int(plain)
    if key.kind is Kind.NUMBER:
        return float(plain)
    if key.kind is Kind.DATE:
        return date.fromisoformat(plain)
    if key.kind is Kind.TIME:
        moment = time.fromisoformat(plain)
        if moment.tzinfo is not None:
            raise ValueError(key.name)
        return moment
    if key.kind is Kind.TEXTS:
        return _texts(plain)
    return text if key.kind is Kind.SECRET else plain


def _texts(plain: str) -> list[str]:
    """Return a list given as JSON or with commas."""
    if plain.startswith("["):
        try:
            listed = json.loads(plain)
        except RecursionError:
            raise ValueError(plain[:1]) from None
        if not isinstance(listed, list):
            raise ValueError(plain[:1])
        return listed
    return [part.strip() for part in plain.split(",") if part.strip()]
