"""Ways out of the examples, sought once for all tests: one such search takes seconds."""

from __future__ import annotations

import functools

from evpack.describe.equipment import EquipmentList
from evpack.load.equipment_list import generic_equipment
from evpack.load.library import example
from evpack.load.sheet import read_sheet
from evpack.outcome.search import WaysOut
from evpack.search.ways import find_ways


@functools.cache
def ways_of(name: str) -> WaysOut:
    """Return the ways out of an example, with one charger of the library at hand.

    With a list given the classes of the library are not tried too, which takes twice as long.
    """
    chargers = generic_equipment().chargers[:1]
    return find_ways(read_sheet(example(name)), equipment=EquipmentList(chargers=chargers))
