"""What is gained and given up: candidates of which none beats another in everything."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Executor

import attrs
import numpy as np

from evpack.base.errors import DescriptionError
from evpack.describe.build import Build
from evpack.describe.charger import Charger
from evpack.describe.checked import need
from evpack.describe.equipment import EquipmentList
from evpack.describe.inverter import Inverter
from evpack.lifetime import END
from evpack.load.equipment_list import price_typed
from evpack.outcome.matching import Matching
from evpack.outcome.search import Candidate, Change, TradeOff
from evpack.search.arrangements import counted_modules, stocked
from evpack.search.changes import DEVICES, arranged
from evpack.search.equipment import (
    affordable,
    check_budget,
    device_sets,
    over_words,
    price_of,
    untried_words,
)
from evpack.search.judge import Progress, Wanted, judge_all

_TARGETS = 8  # charge targets that are tried, from the chemistry's own down
_TARGET_STEP = 0.02  # [V/cell]
_MOST_TRIED = 60_000  # designs; about a minute
_TARGET = "policy.charge_target"
_EQUAL = 1e-12

Merit = Callable[[Candidate], float]  # what more of is better


def search_trade_offs(
    build: Build,
    modules: int | Matching | None = None,
    *,
    module_price: str | None = None,
    equipment: EquipmentList | None = None,
    budget: float | None = None,
    executor: Executor | None = None,
    progress: Progress | None = None,
) -> TradeOff:
    """Return which arrangements, charge targets and devices are worth a choice.

    Held against one another are usable energy, years of life, the margin of the nearest check and
    what it costs. Where no published model fits the cells a lower charge target stands in for
    years, and where no price is told fewer modules do for cost.

    Parameters
    ----------
    modules : int or Matching, optional
        How many modules are at hand, or a graded heap, of which the accepted ones count; by
        default what the build says is available, else what it takes.
    module_price : str, optional
        What one module is worth, as typed: ``"40 EUR"``.
    equipment : EquipmentList, optional
        Devices that could be bought in place of those of the build, which cost nothing more.
    budget : float, optional
        What may be spent on devices of the list, in its money; modules at hand are not bought.
        What costs more is left out, and so is what has no price.

    Raises
    ------
    DescriptionError
        A price or a budget that is none; two moneys; more designs than are carried out at once.
    """
    need("search_trade_offs", build, Build)
    if equipment is not None:
        need("search_trade_offs", equipment, EquipmentList)
    check_budget(budget)
    if budget is not None and equipment is None:
        raise DescriptionError("a budget is spent on devices of a list: give equipment too")
    listed = equipment or EquipmentList()
    each, money = _money(module_price, listed)
    if modules is None and build.pack.module.available is None:
        modules = build.pack.modules
    stock = stocked(build, counted_modules(build, modules))
    sets = ((), *device_sets(build, listed))
    prices = [price_of(build, devices, listed) for devices in sets]
    within = [s for s, price in zip(sets, prices, strict=True) if affordable(price, budget)]
    wanted = list(_wanted(build, counted_modules(build, modules), stock, within))
    if len(wanted) > _MOST_TRIED:
        raise DescriptionError(
            f"that would be {len(wanted):,} designs, and {_MOST_TRIED:,} are carried out at once: "
            "give fewer modules, or a shorter list of equipment"
        )
    found = judge_all(build, wanted, executor=executor, progress=progress, life=True)
    can = [
        _priced(build, candidate, each, listed)
        for candidate in found
        if candidate.go and candidate.usable is not None
    ]
    merits = _merits(can, priced_modules=each is not None, priced_devices=bool(listed.prices))
    front = _front(can, list(merits.values()))
    return TradeOff(
        build=build,
        front=tuple(sorted(front, key=lambda c: -(c.usable_ac or 0.0))),
        others=tuple(c for c in can if c not in front),
        weighed=_listed(list(merits)),
        note=_of_life(build, can)
        + _of_cost(each, money, listed)
        + over_words(len(sets) - len(within), budget, money)
        + untried_words(build, listed)
        + "Cables, fuses and switches are those of the build.",
        money=money,
        tried=len(wanted),
    )


def _money(module_price: str | None, listed: EquipmentList) -> tuple[float | None, str]:
    """Return what a module is worth, and the one money of everything."""
    if module_price is None:
        return None, listed.money
    each, money = price_typed(module_price)
    if listed.money and listed.money != money:
        raise DescriptionError(
            f"the price of a module is in {money}, and those of the list are in {listed.money}: "
            "give both in one money"
        )
    return each, money


def _wanted(
    build: Build, at_hand: int, stock: tuple[Change, ...], sets: Sequence[tuple[Change, ...]]
) -> Iterator[Wanted]:
    """Yield every arrangement, at every charge target, with every set of devices."""
    for series in range(1, at_hand + 1):
        for strings in range(1, at_hand // series + 1):
            packed = (*stock, *arranged(series, strings))
            for target in _charge_targets(build):
                for devices in sets:
                    bought = "".join(f", {device.says}" for device in devices)
                    name = f"{series} × {strings}, {target.says}{bought}"
                    yield name, (*packed, target, *devices)


def _charge_targets(build: Build) -> tuple[Change, ...]:
    targets = build.pack.module.chemistry.targets
    if targets is None:
        return ()
    chosen = build.policy.charge_target  # who chose a lower one had a reason
    top = min(float(targets.charge.m), math.inf if chosen is None else float(chosen.m))
    return tuple(
        Change(
            place=_TARGET,
            value=f"{top - _TARGET_STEP * k:.3f} V",
            says=f"{top - _TARGET_STEP * k:.2f} V a cell",
        )
        for k in range(_TARGETS)
    )


def _priced(
    build: Build, candidate: Candidate, each: float | None, listed: EquipmentList
) -> Candidate:
    """Return a candidate with what its devices and all of it cost, and what it leaves is worth."""
    bought = price_of(build, candidate.changes, listed)
    told = each is not None or bool(listed.prices)
    cost = None
    if told and bought is not None:
        cost = bought + (0.0 if each is None else each * candidate.modules)
    return attrs.evolve(
        candidate,
        price=bought if listed.prices else None,
        cost=cost,
        stranded_worth=None if each is None else each * max(0, candidate.left_out),
    )


def _merits(
    candidates: Sequence[Candidate], *, priced_modules: bool, priced_devices: bool
) -> dict[str, Merit]:
    """Return what candidates are held against one another by, under its name.

    What is not known of a candidate counts as the worst: it never beats what is known.
    """
    merits: dict[str, Merit] = {"usable energy": lambda c: c.usable_ac or 0.0}
    if any(candidate.life is not None for candidate in candidates):
        merits["years of life"] = lambda c: -1.0 if c.life is None else c.life[0]
    else:
        merits["a lower charge target"] = lambda c: -_target(c)
    merits["margin"] = lambda c: -1.0 if c.margin is None else c.margin
    if priced_modules or priced_devices:
        merits["cost"] = lambda c: -math.inf if c.cost is None else -c.cost
    if not priced_modules:
        merits["fewer modules"] = lambda c: -float(c.modules)
    return merits


def _target(candidate: Candidate) -> float:
    """Return the charge target of a candidate [V]."""
    target = candidate.charge_target
    assert target is not None  # noqa: S101  every candidate of a trade-off has one
    return target


def _front(candidates: Sequence[Candidate], merits: Sequence[Merit]) -> list[Candidate]:
    """Return those that no other equals in everything and beats in something.

    Of those that are equal in everything, with the same devices, the first stands for all: a
    setting on a coarse step comes out the same for several charge targets.
    """
    if not candidates:
        return []
    good = np.array([[merit(candidate) for merit in merits] for candidate in candidates])
    kept: dict[tuple[object, ...], Candidate] = {}
    for k, one in enumerate(good):
        as_good = (good >= one - _EQUAL).all(axis=1)
        better = (good > one + _EQUAL).any(axis=1)
        if not (as_good & better).any():
            devices = [c.says for c in candidates[k].changes if c.place in DEVICES]
            kept.setdefault((*one, *devices), candidates[k])
    return list(kept.values())


def _listed(names: Sequence[str]) -> str:
    return f"{', '.join(names[:-1])} and {names[-1]}"


def _of_life(build: Build, candidates: Sequence[Candidate]) -> str:
    """Return in a sentence what the years are, or why none are told."""
    if any(candidate.life is not None for candidate in candidates):
        return (
            f"Years of life till {END} of today's capacity, of one full cycle a day: the least and "
            "the most that published models tell; the least is held against that of others. An "
            "order of size. "
        )
    return (
        f"How long the cells last is not known: no published model for "
        f"{build.pack.module.chemistry.name} is held. A lower charge target, which is kinder to "
        "cells, stands in for years. "
    )


def _of_cost(each: float | None, money: str, listed: EquipmentList) -> str:
    """Return in sentences what the cost is made of, and which prices are not known."""
    devices: list[Inverter | Charger] = [*listed.inverters, *listed.chargers]
    if each is None and not listed.prices:
        return "No price was told: fewer modules stand in for cost. "
    said = []
    if each is not None:
        said.append(f"{each:,.10g} {money} for each module that it takes")
    if devices:
        said.append("the devices of the list that it takes")
    words = f"Cost: {' and '.join(said)}; what stands in the build costs nothing more. "
    if each is None:
        words += "What a module is worth was not told, so that fewer modules count by themselves. "
    unpriced = [device.name for device in devices if device.name not in listed.prices]
    if unpriced:
        words += f"Not priced in the list, and taken as the dearest: {', '.join(unpriced)}. "
    return words
