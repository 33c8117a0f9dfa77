"""The schema seen as an outline of keys: what each one is called, means and allows."""

from __future__ import annotations

import ast
import inspect
import types
import typing
from collections.abc import Iterator
from datetime import date, time
from enum import Enum, StrEnum
from functools import cache
from itertools import pairwise

import annotated_types
from msgspec import Struct
from pydantic import BaseModel, SecretStr
from pydantic.fields import FieldInfo

from strawbell.config.schema import Settings
from strawbell.words.catalogue import BRITISH

Path = tuple[str | int, ...]
"""Where a value stands, such as ("gardens", 0, "latitude")."""


class Kind(StrEnum):
    """What kind of value a key takes; worded in the table "takes" of the catalogue."""

    TEXT = "text"
    SECRET = "secret"  # noqa: S105  # the name of a kind, no secret
    NUMBER = "number"
    WHOLE = "whole"
    SWITCH = "switch"
    DATE = "date"
    TIME = "time"
    CHOICE = "choice"
    TEXTS = "texts"
    NUMBERS = "numbers"
    BY_DAY = "by-day"
    TABLE = "table"
    TABLES = "tables"


_ATOMS = {
    bool: Kind.SWITCH,
    int: Kind.WHOLE,
    float: Kind.NUMBER,
    str: Kind.TEXT,
    SecretStr: Kind.SECRET,
    date: Kind.DATE,
    time: Kind.TIME,
}


class Key(Struct, frozen=True):
    """One key of the schema; `section` is the model of what stands below it, if anything."""

    path: tuple[str, ...]
    kind: Kind
    attribute: str
    owner: type[BaseModel]
    required: bool
    default: object
    example: object
    choices: tuple[str, ...]
    bounds: tuple[float | None, float | None, float | None]
    """From, above, and at most."""
    section: type[BaseModel] | None

    @property
    def name(self) -> str:
        """Return the key itself."""
        return self.path[-1]

    @property
    def allowed(self) -> str:
        """Return in words what the key may be."""
        low, above, high = (None if each is None else f"{each:.12g}" for each in self.bounds)
        bounds = None
        if high and low:
            bounds = BRITISH.say("bounds.both", low=low, high=high)
        elif high and above:
            bounds = BRITISH.say("bounds.above", low=above, high=high)
        choices = ", ".join(f'"{choice}"' for choice in self.choices)
        example = '{ 1 = "one", 5 = "five" }'
        return BRITISH.of("takes", self.kind, bounds=bounds, choices=choices, example=example)

    @property
    def description(self) -> str:
        """Return what the schema says of the key; only who asks for it pays for reading that."""
        return _manual(self.owner)[self.attribute]


@cache
def _manual(section: type[BaseModel]) -> dict[str, str]:
    """Return by its name what stands in the source below each key of a section."""
    (definition,) = ast.parse(inspect.getsource(section)).body
    assert isinstance(definition, ast.ClassDef)  # noqa: S101 - that is what was asked for
    return {
        ast.unparse(key.target): " ".join(str(ast.literal_eval(below.value)).split())
        for key, below in pairwise(definition.body)
        if isinstance(key, ast.AnnAssign) and isinstance(below, ast.Expr)
    }


@cache
def outline() -> dict[tuple[str, ...], Key]:
    """Return every key by its path without list positions, in the order of the schema."""
    return {key.path: key for key in _walk(Settings, ())}


def key_at(path: Path) -> Key | None:
    """Return the key a value's path belongs to, None where the schema has no such key."""
    return outline().get(_names(path))


def keys_in(path: Path) -> dict[str, Key]:
    """Return the keys a table may hold, by name; the root is ()."""
    names = _names(path)
    return {key.name: key for key in outline().values() if key.path[:-1] == names}


def places_of(name: str) -> list[Key]:
    """Return all keys of that name, wherever they belong."""
    return [key for key in outline().values() if key.name == name]


def _names(path: Path) -> tuple[str, ...]:
    return tuple(part for part in path if isinstance(part, str))


def _walk(model: type[BaseModel], prefix: tuple[str, ...]) -> Iterator[Key]:
    for name, field in model.model_fields.items():
        key = _key((*prefix, field.alias or name), field, model, name)
        yield key
        if key.section is not None:
            yield from _walk(key.section, key.path)


def _key(path: tuple[str, ...], field: FieldInfo, owner: type[BaseModel], name: str) -> Key:
    kind, section, choices = _kind(field.annotation)
    examples = field.examples or []
    return Key(
        path=path,
        kind=kind,
        attribute=name,
        owner=owner,
        required=field.is_required(),
        default=None if field.is_required() else field.default,
        example=examples[0] if examples else None,
        choices=choices,
        bounds=_bounds(field),
        section=section,
    )


def _kind(annotation: object) -> tuple[Kind, type[BaseModel] | None, tuple[str, ...]]:
    """Return the kind of an annotation, its section and its choices."""
    if isinstance(annotation, type):
        if issubclass(annotation, BaseModel):
            return Kind.TABLE, annotation, ()
        if issubclass(annotation, Enum):
            return Kind.CHOICE, None, tuple(str(member.value) for member in annotation)
        return _ATOMS.get(annotation, Kind.TEXT), None, ()
    origin = typing.get_origin(annotation)
    arguments = typing.get_args(annotation)
    if origin is typing.Annotated:
        return _kind(arguments[0])
    if origin is typing.Literal:
        return Kind.CHOICE, None, tuple(str(choice) for choice in arguments)
    if origin in (typing.Union, types.UnionType):
        return _kind_of_union([each for each in arguments if each is not type(None)])
    if origin is dict:
        return Kind.BY_DAY, None, ()
    kind, section, choices = _kind(arguments[0])
    if kind is Kind.TABLE:
        return Kind.TABLES, section, ()
    texts = kind in (Kind.TEXT, Kind.CHOICE)
    return (Kind.TEXTS if texts else Kind.NUMBERS), None, choices


def _kind_of_union(members: list[object]) -> tuple[Kind, type[BaseModel] | None, tuple[str, ...]]:
    kind, section, choices = _kind(members[0])
    for member in members[1:]:
        section = section or _kind(member)[1]
    return kind, section, choices


def _bounds(field: FieldInfo) -> tuple[float | None, float | None, float | None]:
    """Return the bounds of a number, wherever in the annotation they stand."""
    limits = [*field.metadata, *_limits(field.annotation)]
    low = next((each.ge for each in limits if isinstance(each, annotated_types.Ge)), None)
    above = next((each.gt for each in limits if isinstance(each, annotated_types.Gt)), None)
    high = next((each.le for each in limits if isinstance(each, annotated_types.Le)), None)
    return low, above, high  # type: ignore[return-value]  # they are compared with numbers alone


def _limits(annotation: object) -> Iterator[object]:
    for each in typing.get_args(annotation):
        yield from each.metadata if isinstance(each, FieldInfo) else (each,)
        yield from _limits(each)
