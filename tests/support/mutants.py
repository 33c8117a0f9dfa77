"""Break one thing at a time in a pure room, and see whether the room's own tests notice.

    python -m tests.support.mutants --seed 1 --count 25 agronomy weather season decision

Each mutant is one change of one expression, drawn at random from all that the room has, in a copy
of the checkout; it is judged by the tests that mirror its file, then by those of the whole room. A
survivor is printed: a claim is missing, or the code is needless, or the two mean the same.
"""

from __future__ import annotations

import argparse
import ast
import os
import random
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

ROOT = Path(__file__).resolve().parents[2]
SWAPPED: dict[type[ast.AST], tuple[type[ast.AST], ...]] = {
    ast.Lt: (ast.LtE, ast.GtE),
    ast.LtE: (ast.Lt, ast.Gt),
    ast.Gt: (ast.GtE, ast.LtE),
    ast.GtE: (ast.Gt, ast.Lt),
    ast.Eq: (ast.NotEq,),
    ast.NotEq: (ast.Eq,),
    ast.Is: (ast.IsNot,),
    ast.IsNot: (ast.Is,),
    ast.In: (ast.NotIn,),
    ast.NotIn: (ast.In,),
    ast.Add: (ast.Sub,),
    ast.Sub: (ast.Add,),
    ast.Mult: (ast.Div,),
    ast.Div: (ast.Mult,),
    ast.And: (ast.Or,),
    ast.Or: (ast.And,),
}
LONGEST_S = 900
"""A mutant that runs for longer is caught: it hangs."""


class Mutant(NamedTuple):
    """One change: where, from what, to what."""

    file: Path
    line: int
    old: str
    new: str
    source: str
    """The whole file with the change."""


def mutants_of(file: Path) -> Iterator[Mutant]:
    """Give every single change of a file that this script knows."""
    source = file.read_text(encoding="utf-8")
    lines = [line.encode() for line in source.splitlines(keepends=True)]
    starts = [0]
    for line in lines:
        starts.append(starts[-1] + len(line))
    for node, changed in _changes(ast.parse(source)):
        begin = starts[node.lineno - 1] + node.col_offset
        end = starts[(node.end_lineno or node.lineno) - 1] + (node.end_col_offset or 0)
        whole = source.encode()
        old, new = whole[begin:end].decode(), ast.unparse(changed)
        new = new if isinstance(node, ast.stmt) else f"({new})"
        mutated = (whole[:begin] + new.encode() + whole[end:]).decode()
        yield Mutant(file, node.lineno, ast.unparse(node), new, mutated)
        assert old


def _changes(  # noqa: PLR0912 - one branch a kind
    tree: ast.AST,
) -> Iterator[tuple[ast.stmt | ast.expr, ast.AST]]:
    """Give each node that can be changed with what it becomes."""
    for node in _running(tree):
        match node:
            case ast.Compare(left=left, ops=[op], comparators=right):
                for other in SWAPPED.get(type(op), ()):
                    yield node, ast.Compare(left, [other()], right)  # type: ignore[list-item]
            case ast.BinOp(left=left, op=op, right=right):
                for other in SWAPPED.get(type(op), ()):
                    yield node, ast.BinOp(left, other(), right)  # type: ignore[arg-type]
            case ast.BoolOp(op=op, values=values):
                for other in SWAPPED[type(op)]:
                    yield node, ast.BoolOp(other(), values)  # type: ignore[arg-type]
            case ast.UnaryOp(op=ast.Not() | ast.USub(), operand=operand):
                yield node, operand
            case ast.Constant(value=bool(value)):
                yield node, ast.Constant(not value)
            case ast.Constant(value=int(value) | float(value)):
                yield node, ast.Constant(value + 1 if isinstance(value, int) else value * 1.1 + 0.1)
            case ast.Return(value=ast.expr() as value) if not _is_none(value):
                yield node, ast.Return(ast.Constant(None))
            case ast.IfExp(test=test, body=body, orelse=orelse):
                yield node, ast.IfExp(ast.UnaryOp(ast.Not(), test), body, orelse)
            case ast.If(test=test) | ast.While(test=test):
                yield test, ast.UnaryOp(ast.Not(), test)
            case ast.comprehension(ifs=[test, *_]):
                yield test, ast.UnaryOp(ast.Not(), test)
            case ast.Call(func=ast.Name(id="min" | "max" as name), args=args, keywords=words):
                other_name = ast.Name("max" if name == "min" else "min")
                yield node, ast.Call(other_name, args, words)


def _running(node: ast.AST) -> Iterator[ast.AST]:
    """Walk what runs: no annotation, no decorator, no keyword of a class, no text within a text."""
    yield node
    for name, value in ast.iter_fields(node):
        is_told = name in {"annotation", "returns", "decorator_list"}
        if is_told or isinstance(node, ast.JoinedStr):
            continue
        if name == "keywords" and isinstance(node, ast.ClassDef):
            continue
        for child in value if isinstance(value, list) else [value]:
            if isinstance(child, ast.AST):
                yield from _running(child)


def _is_none(value: ast.expr) -> bool:
    return isinstance(value, ast.Constant) and value.value is None


def caught(mutant: Mutant, copy: Path) -> bool:
    """Say whether the tests of the room fail under a change, which is taken back afterwards."""
    place = copy / mutant.file.relative_to(ROOT)
    room = mutant.file.relative_to(ROOT / "daemon/strawbell")
    beside = copy / "tests/unit" / room.with_suffix("")
    mirror = beside if beside.is_dir() else beside.with_name(f"test_{room.name}")
    whole = tests_of(room.parts[0], copy)
    before = place.read_text(encoding="utf-8")
    place.write_text(mutant.source, encoding="utf-8")
    try:
        return any(_fails(copy, tests) for tests in ([mirror], whole) if tests[0].exists())
    finally:
        place.write_text(before, encoding="utf-8")


def tests_of(room: str, copy: Path) -> list[Path]:
    """Return the tests that judge a room: its own, and for formulas what is published."""
    own = [copy / "tests/unit" / room]
    return [*own, copy / "tests/published"] if room == "agronomy" else own


def _fails(copy: Path, tests: list[Path]) -> bool:
    command = [
        sys.executable,
        "-m",
        "pytest",
        "-x",
        "-q",
        "-p",
        "no:cacheprovider",
        *map(str, tests),
    ]
    try:
        done = subprocess.run(
            command,
            cwd=copy,
            env={**os.environ, "PYTHONPATH": str(copy / "daemon"), "PYTHONDONTWRITEBYTECODE": "1"},
            capture_output=True,
            timeout=LONGEST_S,
            check=False,
        )
    except subprocess.TimeoutExpired:
        return True
    return done.returncode != 0


def main() -> None:
    """Draw, judge and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("rooms", nargs="+", help="such as season, or decision/alerts.py")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--count", type=int, default=25, help="of each room")
    chosen = parser.parse_args()
    drawn = random.Random(chosen.seed)
    with tempfile.TemporaryDirectory() as folder:
        copy = Path(folder) / "checkout"
        away = shutil.ignore_patterns(".git", ".venv", "__pycache__", ".*_cache")
        shutil.copytree(ROOT, copy, ignore=away)
        for room in chosen.rooms:
            place = ROOT / "daemon/strawbell" / room
            own = tests_of(Path(room).parts[0], copy)
            assert not _fails(copy, own), f"{room} fails without a mutant"
            files = sorted(place.rglob("*.py")) if place.is_dir() else [place]
            known = [mutant for file in files for mutant in mutants_of(file)]
            tried = drawn.sample(known, min(chosen.count, len(known)))
            survived = 0
            for mutant in tried:
                if not caught(mutant, copy):
                    survived += 1
                    where = f"{mutant.file.relative_to(ROOT)}:{mutant.line}"
                    print(f"survived  {where}  {mutant.old}  ->  {mutant.new}", flush=True)
            print(f"{room}: {len(tried) - survived} of {len(tried)} caught, of {len(known)} known")


if __name__ == "__main__":
    main()
