"""House: 0 is a value, not "nothing said": no quantity is asked whether it is true.

``quantity or default`` takes the default for 0 V as well as for None. Looked for are attributes
named as a field of the nouns that holds a quantity, wherever they stand for yes or no.
"""

import ast
import importlib
import inspect
import pkgutil
import re
from collections.abc import Iterator
from pathlib import Path

import attrs
import pytest

import evpack
import evpack.describe
import evpack.outcome

FILES = sorted(Path(evpack.__file__).parent.rglob("*.py"))
# What is false for other reasons than being 0: a name that such a field has too tells nothing.
OTHERS = re.compile(r"\b(str|bool|int|tuple|list|dict|Mapping|frozenset|NDArray|Array)\b")
# A file and what stands in it: the noun refuses 0 A, so nothing but None is left out there.
HARMLESS = {("circuits.py", "a.short_circuit")}


def annotations() -> Iterator[tuple[str, str]]:
    """Yield the fields and properties of all nouns, and what they hold."""
    for room in (evpack.describe, evpack.outcome):
        for found in pkgutil.iter_modules(room.__path__, f"{room.__name__}."):
            for noun in vars(importlib.import_module(found.name)).values():
                if isinstance(noun, type) and attrs.has(noun):
                    yield from ((f.name, str(f.type)) for f in attrs.fields(noun))
                    for name, held in vars(noun).items():
                        if isinstance(held, property) and held.fget is not None:
                            told = inspect.signature(held.fget).return_annotation
                            yield name, str(told)


def quantities() -> set[str]:
    """Return the names that hold a quantity, and in no noun a text, a count or a collection."""
    held = list(annotations())
    others = {name for name, told in held if OTHERS.search(told)}
    return {name for name, told in held if "Quantity" in told} - others


def truths(tree: ast.AST) -> Iterator[ast.expr]:
    """Yield every expression that is asked whether it is true."""
    for node in ast.walk(tree):
        if isinstance(node, ast.BoolOp):
            yield from node.values[:-1]  # the last is what comes of it
        elif isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.Not):
            yield from _last(node.operand)
        elif isinstance(node, ast.If | ast.IfExp | ast.While):
            yield from _last(node.test)
        elif isinstance(node, ast.comprehension):
            for test in node.ifs:
                yield from _last(test)


def _last(test: ast.expr) -> Iterator[ast.expr]:
    """Yield what comes of a test; it is asked too where the whole of it is."""
    yield test.values[-1] if isinstance(test, ast.BoolOp) else test


def asked(source: str, names: set[str]) -> list[str]:
    found = (t for t in truths(ast.parse(source)) if isinstance(t, ast.Attribute))
    return [ast.unparse(t) for t in found if t.attr in names or t.attr == "m"]


NAMES = quantities()


def test_the_names_are_those_of_quantities() -> None:
    assert {"charge_target", "efficiency", "window_low", "spread_full", "larger_leg"} <= NAMES
    assert not {"name", "available", "left_open", "cells", "modules_in_series"} & NAMES


@pytest.mark.parametrize(
    "line",
    [
        "x = policy.charge_target or targets.charge",
        "x = float(i.window_low.m) if i.window_low else None",
        "if not array.coefficient: pass",
        "x = [a for a in arrays if a.short_circuit]",
        "x = known and load.peak.m and 3",
        "if known and load.peak: pass",
    ],
)
def test_what_is_looked_for_is_found(line: str) -> None:
    assert len(asked(line, NAMES)) == 1


@pytest.mark.parametrize(
    "line",
    [
        "x = targets.charge if policy.charge_target is None else policy.charge_target",
        "x = array.name or 'array'",
        "x = known or policy.charge_target",
        "x = load.peak is not None and load.peak.m > 0",
    ],
)
def test_what_is_right_is_left_alone(line: str) -> None:
    assert asked(line, NAMES) == []


@pytest.mark.parametrize("path", FILES, ids=lambda p: str(p.relative_to(FILES[0].parent)))
def test_no_quantity_stands_for_yes_or_no(path: Path) -> None:
    found = {(path.name, told) for told in asked(path.read_text(encoding="utf-8"), NAMES)}
    assert found <= HARMLESS
