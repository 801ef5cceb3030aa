"""An assumed input reaches every number and every finding that rests on it.

Which rest on it is found out apart from the library's own accounts: the input is moved a little,
and whatever moves rests on it. Then the same input, unmoved, is said to be only assumed, and all
of those must say so.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator
from typing import Any

import attrs
import pytest
from house.test_formulas import every

from evpack.base.basis import Basis
from evpack.base.errors import EvpackError
from evpack.base.finding import Finding
from evpack.base.fitted import NOT_FITTED
from evpack.base.units import Quantity
from evpack.base.worked import Worked
from evpack.describe.build import Build
from evpack.design import design
from evpack.load.sheet import example, read_sheet
from evpack.outcome.design import Design

Put = Callable[[Build, Any], Build]
_RUNS = ("module_lead", "main", "charger", "array", "bar")
_NOISE = 1e-9


def nouns(build: Build) -> Iterator[tuple[str, Any, Put]]:
    """Yield every noun whose fields say how they are known, and how it is put back."""

    def one_of(where: str, at: int) -> Put:
        def put(one: Build, noun: Any) -> Build:
            there = getattr(one, where)
            return attrs.evolve(one, **{where: (*there[:at], noun, *there[at + 1 :])})

        return put

    def run(name: str) -> Put:
        return lambda b, n: attrs.evolve(b, cabling=attrs.evolve(b.cabling, **{name: n}))

    def module(one: Build, noun: Any) -> Build:
        return attrs.evolve(one, pack=attrs.evolve(one.pack, module=noun))

    yield "module", build.pack.module, module
    for name in ("pack", "site", "load"):
        yield name, getattr(build, name), lambda b, n, name=name: attrs.evolve(b, **{name: n})
    for where in ("inverters", "chargers", "arrays"):
        for at, noun in enumerate(getattr(build, where)[:1]):  # the others are read alike
            yield f"{where}.{at}", noun, one_of(where, at)
    for name in _RUNS:
        laid = getattr(build.cabling, name)
        if laid is not None and laid is not NOT_FITTED:
            yield f"cabling.{name}", laid, run(name)


def moved(quantity: Quantity) -> Quantity:
    """Return a quantity a little away; of a temperature, kelvins."""
    of_temperature = "degree_Celsius" in str(quantity.u) and "delta" not in str(quantity.u)
    return type(quantity)(quantity.m + 0.7 if of_temperature else quantity.m * 1.013, quantity.u)


def numbers(made: Design) -> dict[tuple[str, str, int], Worked]:
    found, seen = {}, Counter[tuple[str, str]]()
    for worked in every(made):
        key = (worked.name, worked.formula)
        seen[key] += 1
        found[(*key, seen[key])] = worked
    return found


def findings(made: Design) -> dict[tuple[str, str], Finding]:
    found: dict[tuple[str, str], Finding] = {}
    for finding in made.findings:
        found.setdefault((finding.rule.key, finding.about), finding)
    return found


def differs(one: float, other: float) -> bool:
    return abs(one - other) > _NOISE * max(1.0, abs(one))


def cases(build: Build) -> Iterator[tuple[str, Build, Build]]:
    """Yield what is moved, the build with it moved, and the build with it only assumed."""
    for name, noun, put in nouns(build):
        for field in attrs.fields(type(noun)):
            value = getattr(noun, field.name)
            if not isinstance(value, Quantity):
                continue
            try:
                shifted = put(build, attrs.evolve(noun, **{field.name: moved(value)}))
            except EvpackError:
                continue  # it goes together with another that is stated
            basis = noun.basis.but(**{field.name: Basis.ASSUMED})
            yield f"{name}.{field.name}", shifted, put(build, attrs.evolve(noun, basis=basis))


@pytest.mark.parametrize("name", ["wether-barn", "split-house"])
def test_what_is_assumed_is_told_by_all_that_rests_on_it(name: str) -> None:
    build = read_sheet(example(name))
    now, silent, looked_at, reached = design(build), [], 0, 0
    was, found = numbers(now), findings(now)
    for what, shifted, assumed in cases(build):
        looked_at += 1
        there, said = design(shifted), design(assumed)
        then, told = numbers(there), numbers(said)
        for key, worked in was.items():
            if key in then and key in told and differs(worked.value, then[key].value):
                reached += 1
                if told[key].weakest is not Basis.ASSUMED:
                    silent.append(f"{key[0]} rests on {what}")
        after, say = findings(there), findings(said)
        for rule, finding in found.items():
            if rule not in after or rule not in say or finding.value is None:
                continue
            other = after[rule].value
            if other is not None and differs(finding.value, other):
                reached += 1
                if not say[rule].assumed:
                    silent.append(f"{rule[0]} ({rule[1]}) rests on {what}")
    assert silent == []
    assert looked_at > 40  # else the test is about nothing
    assert reached > 300
