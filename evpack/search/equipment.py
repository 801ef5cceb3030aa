"""Which inverter and which charger suit the pack that is there: every one of a list, best first."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from concurrent.futures import Executor

import attrs

from evpack.base.errors import DescriptionError
from evpack.describe.build import Build
from evpack.describe.charger import Charger
from evpack.describe.checked import need
from evpack.describe.equipment import EquipmentList
from evpack.describe.inverter import Inverter
from evpack.outcome.search import Candidate, Change, Ranking
from evpack.search.changes import DEVICES
from evpack.search.judge import Progress, Wanted, better_first, judge_all


def search_equipment(
    build: Build,
    equipment: EquipmentList,
    *,
    budget: float | None = None,
    executor: Executor | None = None,
    progress: Progress | None = None,
) -> Ranking:
    """Return how each inverter and charger of a list would do on the build's pack, best first.

    Every inverter is tried with the chargers as they are and with each charger of the list, and
    every charger with the inverter as it is. A device takes the name, the count and the leg of the
    one that it stands in for, so that the cables described for that are judged with it.

    Parameters
    ----------
    equipment : EquipmentList
        What could be bought; `evpack.read_equipment` reads one, `evpack.generic_equipment` holds
        the classes of the library.
    budget : float, optional
        What may be spent, in the money of the list: sets that cost more are left out, and so are
        those whose price is not known.

    Raises
    ------
    DescriptionError
        The list is empty, or a budget is none.
    """
    need("search_equipment", build, Build)
    need("search_equipment", equipment, EquipmentList)
    if not equipment.inverters and not equipment.chargers:
        raise DescriptionError("the list of equipment is empty: it names no inverter or charger")
    check_budget(budget)
    wanted: list[Wanted] = [
        (" with ".join(c.says for c in changes), changes)
        for changes in device_sets(build, equipment)
    ]
    found = judge_all(build, wanted, executor=executor, progress=progress, whole=True)
    every = [
        _by_its_own_name(build, attrs.evolve(c, price=price_of(build, c.changes, equipment)))
        for c in found
    ]
    priced = [c for c in every if affordable(c.price, budget)]
    inverters, chargers = len(equipment.inverters), len(equipment.chargers)
    chargers -= len(untried(build, equipment))
    return Ranking(
        title=build.title,
        asked=f"{counted(inverters, 'inverter')} and {counted(chargers, 'charger')}, "
        f"alone and together: {counted(len(found), 'set')}, each through the whole design.",
        build=build,
        candidates=tuple(sorted(priced, key=_cheaper_of_equals)),
        money=equipment.money,
        note=over_words(len(every) - len(priced), budget, equipment.money)
        + untried_words(build, equipment)
        + "Cables and fuses are those of the build: a device that draws more may need others.",
    )


def check_budget(budget: float | None) -> None:
    """Refuse a budget that is none."""
    if budget is not None and not budget >= 0:
        raise DescriptionError(f"budget must not lie below 0, got {budget}")


def affordable(price: float | None, budget: float | None) -> bool:
    """Return whether a price lies within a budget; an unknown one lies within none."""
    return budget is None or (price is not None and price <= budget)


def over_words(number: int, budget: float | None, money: str) -> str:
    """Return in a sentence how many sets of devices a budget leaves out."""
    if budget is None:
        return ""
    return f"Left out as dearer than {budget:,.0f} {money}, or without a price: {number}. "


def counted(number: int, what: str) -> str:
    """Return a number with what is counted: "1 charger", "3 chargers"."""
    return f"{number} {what}{'' if number == 1 else 's'}"


def price_of(build: Build, changes: Sequence[Change], equipment: EquipmentList) -> float | None:
    """Return what the devices among changes cost, every unit counted; None where one is unpriced.

    What no change puts another in the place of is there already, and costs nothing.
    """
    total = 0.0
    for change in changes:
        if change.place not in DEVICES:
            continue
        price = equipment.prices.get(getattr(change.value, "name", ""))
        if price is None:
            return None
        total += price * sum(old.count for old in _replaced(build, change))
    return total


def device_sets(build: Build, equipment: EquipmentList) -> tuple[tuple[Change, ...], ...]:
    """Return every set of devices that could stand in for those of a build: alone, and together.

    A charger stands in only for those of its source; `untried` names the others.
    """
    inverters = [
        Change(place="inverter", value=device, says=device.name) for device in equipment.inverters
    ]
    left = untried(build, equipment)
    chargers = [
        Change(place="charger", value=device, says=device.name)
        for device in equipment.chargers
        if device.name not in left
    ]
    alone = [(change,) for change in (*inverters, *chargers)]
    return (*alone, *itertools.product(inverters, chargers))


def untried(build: Build, equipment: EquipmentList) -> list[str]:
    """Return the chargers of a list whose source is that of none in the build."""
    sources = {charger.source for charger in build.chargers}
    return [device.name for device in equipment.chargers if device.source not in sources]


def untried_words(build: Build, equipment: EquipmentList) -> str:
    """Return in a sentence which chargers are not tried; empty where every one is."""
    left = ", ".join(untried(build, equipment))
    return f"Not tried, for no charger of their source stands in the build: {left}. " * bool(left)


def _replaced(build: Build, change: Change) -> list[Inverter | Charger]:
    """Return the devices of the build that a change puts another in the place of."""
    if change.place == "inverter":
        return list(build.inverters)
    source = getattr(change.value, "source", "")
    return [charger for charger in build.chargers if charger.source == source]


def _by_its_own_name(build: Build, candidate: Candidate) -> Candidate:
    """Return a candidate whose reasons name the new device and not the one it stands in for."""
    names = {
        old.name: change.says for change in candidate.changes for old in _replaced(build, change)
    }

    def renamed(words: str) -> str:
        for old, new in names.items():
            words = words.replace(old, new)
        return words

    told = tuple(
        attrs.evolve(held, about=renamed(held.about), detail=renamed(held.detail))
        for held in candidate.held_by
    )
    return attrs.evolve(candidate, held_by=told)


def _cheaper_of_equals(candidate: Candidate) -> tuple[float, ...]:
    """Rank as always, and of equals the cheaper first."""
    return (*better_first(candidate), math.inf if candidate.price is None else candidate.price)
