"""A row that tells a fact, and `facts`, which nouns join by registering how they are told."""

from __future__ import annotations

from collections.abc import Iterable
from functools import singledispatch
from typing import Any

import attrs
import pint

from evpack.base.basis import Bases, Basis
from evpack.base.fitted import NOT_FITTED
from evpack.describe.ranges import CurrentRange, VoltageRange
from evpack.show.words import NOT_FITTED as NONE_FITTED
from evpack.show.words import NOT_KNOWN, told


@attrs.frozen
class Fact:
    """One row: what, its value in words, how it is known (None: that makes no sense here).

    `field` names the noun's field, where the row tells one.
    """

    label: str
    value: str
    basis: Basis | None = None
    note: str = ""
    field: str = ""


@attrs.frozen
class Facts:
    """A noun's name and its rows."""

    title: str
    rows: tuple[Fact, ...]
    note: str = ""


def value_words(value: Any) -> str:
    """Write any field of a noun for a person."""
    if value is None or value == "":
        return NOT_KNOWN
    if value is NOT_FITTED:
        return NONE_FITTED
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, VoltageRange | CurrentRange):
        return f"{told(value.low)} to {told(value.high)} in steps of {told(value.step)}"
    if isinstance(value, pint.Quantity):
        return told(value)
    return str(value)


def row(noun: Any, label: str, field: str, note: str = "") -> Fact:
    """Return the row of one field of a noun."""
    value = getattr(noun, field)
    basis = noun.basis.of(field) if value is not None and isinstance(noun.basis, Bases) else None
    words = "no" if value is NOT_FITTED and label.endswith("can be set") else value_words(value)
    return Fact(label, words, basis, note, field)


def rows(noun: Any, *labelled: tuple[str, str]) -> tuple[Fact, ...]:
    """Return the rows of labelled fields of a noun."""
    return tuple(row(noun, label, field) for label, field in labelled)


def many(*parts: Fact | Iterable[Fact]) -> tuple[Fact, ...]:
    """Return rows and groups of rows as one."""
    found: list[Fact] = []
    for part in parts:
        found += [part] if isinstance(part, Fact) else part
    return tuple(found)


@singledispatch
def facts(noun: object) -> Facts:
    """Return what a noun states.

    Raises
    ------
    TypeError
        For an object that is none of evpack's nouns.
    """
    raise TypeError(f"{type(noun).__name__} has no facts to tell")
