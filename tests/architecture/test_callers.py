"""Nothing in the house without a caller in the house: what only tests use is not kept.

A walk over the syntax from the modules that are run: what a live definition mentions is live.
Functions, classes and constants are followed by module and name; methods by their name alone,
whoever they are called on.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path

from strawbell.cli.main import home_of
from strawbell.cli.parser import build_parser
from support.checkout import PACKAGE, modules

BEGINNINGS = {
    "strawbell.__main__": "the `strawbell` script and `python -m strawbell`",
    "strawbell.__main__.main": "named in pyproject.toml as the script",
    "strawbell.config.example": "`python -m` of it makes config.example.toml",
    "strawbell.config.example.settings_table": "makes the table of settings in the README",
}
"""Where the walk begins, and who calls it; the commands are added, which are found by name."""

EXCUSED = {
    "strawbell.agronomy.crop_table.SOURCES": "read by people, who find the keys of the table in it",
}
"""Beginnings of names that may stand without a caller, with the reason."""

OWN_MACHINERY = {"Protocol", "Enum", "StrEnum", "IntEnum", "Flag", "NamedTuple", "Generic", "ABC"}
"""Base classes from outside that call none of the methods of what is built on them."""

QUIET = {
    "property", "cached_property", "setter", "staticmethod", "classmethod", "abstractmethod",
    "cache", "lru_cache", "dataclass", "contextmanager", "runtime_checkable", "override", "unique",
}  # fmt: skip
"""Decorators that call nothing by themselves; any other hands on what it decorates."""

TEMPLATE = re.compile(r"\{[{%].*?[%}]\}", flags=re.DOTALL)
DOTTED = re.compile(r"strawbell(\.\w+)+(:\w+)?")
"""A module, or `module:name`, that is imported by its name."""
WORD = re.compile(r"[A-Za-z_]\w*")
Function = (ast.FunctionDef, ast.AsyncFunctionDef)


@dataclass(slots=True)
class Definition:
    """A function, class, method or constant, or a module's own running code."""

    key: str
    where: str
    names: set[str] = field(default_factory=set)
    """Names of this module and of its imports that it mentions; dotted for `module.name`."""
    attributes: set[str] = field(default_factory=set)
    """Names after a dot."""
    imports: dict[str, str] = field(default_factory=dict)
    """What it imports: name here, dotted name there."""
    called_from_outside: bool = False
    """A method that overrides one of a foreign class, or that a decorator hands on."""

    def read(self, *tops: ast.AST) -> None:
        """Add what some syntax mentions."""
        for node in (each for top in tops for each in ast.walk(top)):
            match node:
                case ast.Name(id=name):
                    self.names.add(name)
                case ast.Attribute(attr=name, value=value):
                    self.attributes.add(name)
                    if isinstance(value, ast.Name):
                        self.names.add(f"{value.id}.{name}")
                case ast.Call(func=ast.Name(id="getattr"), args=[_, ast.Constant(value=name), *_]):
                    self.attributes.add(str(name))
                case ast.Constant(value=str(text)):
                    if DOTTED.fullmatch(text):
                        self.imports[text] = text.replace(":", ".")
                        self.names.add(text)
                    for piece in TEMPLATE.findall(text):
                        self.attributes.update(WORD.findall(piece))
                case ast.ImportFrom(module=str(module), names=aliases):
                    for alias in aliases:
                        self.imports[alias.asname or alias.name] = f"{module}.{alias.name}"
                case ast.Import(names=aliases):
                    for alias in aliases:
                        self.imports[alias.asname or alias.name] = alias.name


def last_name(node: ast.expr) -> str:
    """Return `c` of `a.b.c`, `c(...)` and `c[...]`."""
    if isinstance(node, ast.Call):
        return last_name(node.func)
    if isinstance(node, ast.Subscript):
        return last_name(node.value)
    return getattr(node, "attr", getattr(node, "id", ""))


def assigned(node: ast.stmt) -> str:
    """Return the name a statement gives a value to, or nothing."""
    targets = node.targets if isinstance(node, ast.Assign) else [getattr(node, "target", None)]
    if isinstance(node, (ast.Assign, ast.AnnAssign)) and isinstance(targets[0], ast.Name):
        return targets[0].id
    return ""


def definitions_of(module: str, text: str) -> Iterator[Definition]:
    """Yield the module's own code, then each definition, each class followed by its methods."""
    tree = ast.parse(text)
    own = Definition(module, module)
    found = [own]
    for node in tree.body:
        where = f"{module}:{node.lineno}"
        if isinstance(node, Function):
            found.append(Definition(f"{module}.{node.name}", where))
            found[-1].read(node)
        elif isinstance(node, ast.ClassDef):
            found.extend(class_and_methods(module, node))
        elif (name := assigned(node)) and name != "__all__":
            found.append(Definition(f"{module}.{name}", where))
            found[-1].read(node)
        else:
            own.read(node)
    for each in found[1:]:
        each.imports = {**own.imports, **each.imports}
    yield from found


def class_and_methods(module: str, node: ast.ClassDef) -> Iterator[Definition]:
    """Yield a class with its fields and magic methods, then each of its methods."""
    key = f"{module}.{node.name}"
    itself = Definition(key, f"{module}:{node.lineno}")
    itself.read(*node.decorator_list, *node.bases, *node.keywords)
    foreign = {last_name(base) for base in node.bases} - OWN_MACHINERY - CLASSES()
    yield itself
    for each in node.body:
        if not isinstance(each, Function) or each.name.startswith("__"):
            itself.read(each)
            continue
        method = Definition(f"{key}.{each.name}", f"{module}:{each.lineno}")
        method.read(each)
        handed_on = {last_name(decorator) for decorator in each.decorator_list} - QUIET
        method.called_from_outside = bool(foreign or handed_on)
        yield method


@cache
def CLASSES() -> frozenset[str]:  # noqa: N802
    """Names of the classes of the package: what they call on each other the walk sees."""
    found = re.compile(r"^class (\w+)", flags=re.MULTILINE)
    return frozenset(
        name for path in modules() for name in found.findall(path.read_text(encoding="utf-8"))
    )


def module_of(path: Path) -> str:
    """Return the dotted name of a module."""
    parts = ("strawbell", *path.relative_to(PACKAGE).with_suffix("").parts)
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


def alive(known: dict[str, Definition], beginnings: set[str], templates: set[str]) -> set[str]:
    """Return the keys of everything that is reached from the beginnings."""
    methods = {key for key in known if is_method(key, known)}
    reached: set[str] = set()
    said: set[str] = set(templates)
    waiting = list(beginnings & known.keys())
    while waiting or (
        waiting := [
            method
            for method in methods - reached
            if method.rpartition(".")[0] in reached
            and (known[method].called_from_outside or method.rpartition(".")[2] in said)
        ]
    ):
        key = waiting.pop()
        if key in reached:
            continue
        reached.add(key)
        definition = known[key]
        module = definition.where.partition(":")[0]
        for name in definition.names:
            head, dot, rest = name.partition(".")
            target = definition.imports.get(head, f"{module}.{head}") + dot + rest
            targets = (target, definition.imports.get(name, target), f"{module}.{name}")
            waiting.extend(each for each in targets if each in known)
        for target in definition.imports.values():
            parts = target.split(".")
            waiting.extend(
                each
                for each in (".".join(parts[:end]) for end in range(1, len(parts) + 1))
                if each in known and ":" not in known[each].where
            )
        said |= definition.attributes
    return reached


def is_method(key: str, known: dict[str, Definition]) -> bool:
    """Whether the owner of a definition is a class, not a module."""
    owner = known.get(key.rpartition(".")[0])
    return owner is not None and ":" in owner.where


def without_caller(sources: dict[str, str], beginnings: set[str], templates: str = "") -> list[str]:
    """Return the definitions of some modules that nothing reaches, with their places."""
    known = {
        each.key: each for module, text in sources.items() for each in definitions_of(module, text)
    }
    reached = alive(known, beginnings, set(WORD.findall(templates)))
    dead = [each for each in known.values() if each.key not in reached]
    return sorted(f"{each.where} {each.key}" for each in dead)


def command_names() -> list[str]:
    """Return every command of the command line."""
    (choices,) = [
        action.choices for action in build_parser()._actions if getattr(action, "choices", None)
    ]
    return sorted(choices)


def test_everything_is_reached_from_what_is_run() -> None:
    """A function that only tests call is work for nobody, and so are its tests."""
    sources = {module_of(path): path.read_text(encoding="utf-8") for path in modules()}
    templates = "".join(path.read_text(encoding="utf-8") for path in PACKAGE.rglob("*.j2"))
    homes = {home_of(name) for name in command_names()}
    commands = {module for module, _ in homes}
    beginnings = {*BEGINNINGS, *commands, *(".".join(home) for home in homes)}
    dead = without_caller(sources, beginnings, templates)
    assert [each for each in dead if not each.split(" ")[1].startswith(tuple(EXCUSED))] == []


def test_what_only_a_dead_function_uses_is_dead_too() -> None:
    """The constant behind it, its helper, and a method that nobody names."""
    source = """
DEPTH_CM = 5
def begin():
    return Bale().soak()
def idle():
    return helper() + DEPTH_CM
def helper():
    return idle()
class Bale:
    def soak(self):
        return 1
    def dry(self):
        return self.dry()
"""
    dead = without_caller({"strawbell.trial": source}, {"strawbell.trial.begin"})
    names = [each.rpartition(".")[2] for each in dead if ":" in each]
    assert sorted(names) == ["DEPTH_CM", "dry", "helper", "idle"]


def test_what_is_imported_by_its_name_or_asked_for_in_a_template_is_alive() -> None:
    """An adapter behind a string, and a property in a page."""
    begin = "def begin():\n    load('strawbell.far:Far')\n    return '{{ said.heading }}'\n"
    far = "class Far:\n    @property\n    def heading(self):\n        return 1\n"
    sources = {"strawbell.near": begin, "strawbell.far": far}
    dead = without_caller(sources, {"strawbell.near.begin"})
    assert [each for each in dead if ":" in each] == []
