"""Every public function of agronomy and weather can be checked without leaving the screen."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

from support.checkout import PACKAGE, modules

FORMULA_ROOMS = ("agronomy", "weather")


def public_functions(path: Path) -> Iterator[ast.FunctionDef]:
    """Yield the public functions of a module."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    for node in tree.body:
        if isinstance(node, ast.FunctionDef) and not node.name.startswith("_"):
            yield node


def test_public_functions_of_the_formula_rooms_name_units_and_sources() -> None:
    """Each tells its arguments and result, and it or its module a source; plain sums are exempt."""
    missing = []
    for path in modules():
        if path.relative_to(PACKAGE).parts[0] not in FORMULA_ROOMS:
            continue
        if path.stem in ("windows", "figures"):
            # Plain arithmetic without a rule of the trade in it.
            continue
        of_module = ast.get_docstring(ast.parse(path.read_text(encoding="utf-8"))) or ""
        for function in public_functions(path):
            text = ast.get_docstring(function) or ""
            wants = ["Args:"] if function.args.args else []
            if not (isinstance(function.returns, ast.Constant) and function.returns.value is None):
                wants.append("Returns:")
            absent = [word for word in wants if word not in text]
            if "Source" not in text and "[1]" not in text and "References:" not in of_module:
                absent.append("Source")
            if absent:
                missing.append(f"{path.stem}.{function.name}: {', '.join(absent)}")
    assert missing == []


def test_every_public_name_has_a_docstring() -> None:
    """Functions and classes of the whole package."""
    missing = []
    for path in modules():
        tree = ast.parse(path.read_text(encoding="utf-8"))
        if not ast.get_docstring(tree):
            missing.append(str(path.relative_to(PACKAGE)))
        for node in tree.body:
            if isinstance(node, (ast.FunctionDef, ast.ClassDef)):
                private = node.name.startswith("_")
                if not private and not ast.get_docstring(node):
                    missing.append(f"{path.relative_to(PACKAGE)}: {node.name}")
    assert missing == []


def test_constants_of_the_rules_carry_their_unit_and_a_word_of_origin() -> None:
    """Thresholds end in their unit and are followed by a docstring."""
    text = (PACKAGE / "weather" / "thresholds.py").read_text(encoding="utf-8")
    names = re.findall(r"^([A-Z_]+) = [\d.]+\n\"\"\"", text, flags=re.MULTILINE)
    assert len(names) == 14
    assert all(re.search(r"_(MM|PERCENT|H|C|DAYS)$", name) for name in names)
