"""Ways out of the examples, sought once for all tests: one such search takes seconds."""

from __future__ import annotations

import functools

from evpack.describe.build import Build
from evpack.describe.equipment import EquipmentList
from evpack.load.equipment_list import generic_equipment
from evpack.load.library import example
from evpack.load.sheet import parse_sheet, read_sheet
from evpack.outcome.search import WaysOut
from evpack.search.ways import find_ways


@functools.cache
def ways_of(name: str) -> WaysOut:
    """Return the ways out of an example, with one charger of the library at hand.

    With a list given the classes of the library are not tried too, which takes twice as long.
    """
    chargers = generic_equipment().chargers[:1]
    return find_ways(read_sheet(example(name)), equipment=EquipmentList(chargers=chargers))


# Invented: the example of a house with two inverters, two chargers and two roofs, with eight things
# wrong in it, and with what many people do not know of their devices left out.
_UNSAID = ("accuracy", "idle", "float_can_be_off")
_WRONG = (
    ('continuous = "3.2 kW"', 'continuous = "5.2 kW"'),  # more than the weaker leg gives
    ('withstands = "50 kA"', 'withstands = "4 kA"'),
    ("in_series = 3\nin_parallel = 2", "in_series = 4\nin_parallel = 2"),  # on both roofs
    ('[cabling.charger]\nsize = "25 mm2"', '[cabling.charger]\nsize = "6 mm2"'),  # of both
)


def eight_wrong() -> Build:
    """Return a build that eight findings hold."""
    text = example("split-house").read_text(encoding="utf-8")
    kept = (line for line in text.splitlines() if line.split(" = ")[0] not in _UNSAID)
    text = "\n".join(kept)
    for right, wrong in _WRONG:
        assert right in text
        text = text.replace(right, wrong)
    return parse_sheet(text)
