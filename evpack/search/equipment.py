"""Which inverter and which charger suit the pack that is there: every one of a list, best first."""

from __future__ import annotations

import itertools
import math
from concurrent.futures import Executor

import attrs

from evpack.base.errors import DescriptionError
from evpack.describe.build import Build
from evpack.describe.charger import Charger
from evpack.describe.checked import need
from evpack.describe.equipment import EquipmentList
from evpack.describe.inverter import Inverter
from evpack.outcome.search import Candidate, Change, Ranking
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
    if budget is not None and not budget >= 0:
        raise DescriptionError(f"budget must not lie below 0, got {budget}")
    inverters = [
        Change(place="inverter", value=device, says=device.name) for device in equipment.inverters
    ]
    chargers = [
        Change(place="charger", value=device, says=device.name)
        for device in equipment.chargers
        if any(device.source == old.source for old in build.chargers)
    ]
    sets: list[tuple[Change, ...]] = [(change,) for change in (*inverters, *chargers)]
    sets += list(itertools.product(inverters, chargers))
    wanted: list[Wanted] = [(" with ".join(c.says for c in changes), changes) for changes in sets]
    found = judge_all(build, wanted, executor=executor, progress=progress, whole=True)
    every = [_by_its_own_name(build, _priced(build, c, equipment)) for c in found]
    priced = every if budget is None else [c for c in every if c.price and c.price <= budget]
    left = [d.name for d in equipment.chargers if all(d.source != o.source for o in build.chargers)]
    return Ranking(
        title=build.title,
        asked=f"{counted(len(inverters), 'inverter')} and {counted(len(chargers), 'charger')}, "
        f"alone and together: {counted(len(found), 'set')}, each through the whole design.",
        build=build,
        candidates=tuple(sorted(priced, key=_cheaper_of_equals)),
        money=equipment.money,
        note=_over(len(every) - len(priced), budget, equipment.money)
        + (f"Not tried, for no charger of their source stands in the build: {', '.join(left)}. ")
        * bool(left)
        + "Cables and fuses are those of the build: a device that draws more may need others.",
    )


def _over(number: int, budget: float | None, money: str) -> str:
    if budget is None:
        return ""
    return f"Left out as dearer than {budget:,.0f} {money}, or without a price: {number}. "


def counted(number: int, what: str) -> str:
    """Return a number with what is counted: "1 charger", "3 chargers"."""
    return f"{number} {what}{'' if number == 1 else 's'}"


def _priced(build: Build, candidate: Candidate, equipment: EquipmentList) -> Candidate:
    """Return a candidate with the price of every unit that it takes."""
    total = 0.0
    for change in candidate.changes:
        price = equipment.prices.get(change.says)
        if price is None:
            return candidate
        total += price * sum(old.count for old in _replaced(build, change))
    return attrs.evolve(candidate, price=total)


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
