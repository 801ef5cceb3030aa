"""A known-good heap of modules in plain Python; everything in it is invented.

Six modules of four cell groups, 60 Ah and 8 mΩ when new. Each rests full on the first day and
seven days later, has 90 % of its capacity and 120 % of its resistance, and passes every rule.
"""

from __future__ import annotations

import datetime as dt
from typing import Any

from strategies import IRON, OXIDE

from evpack.describe.batch import Batch, Measure, Rest, TestedModule
from evpack.match.grade import graded
from evpack.outcome.matching import GradedModule

FIRST, LAST = dt.date(2024, 3, 1), dt.date(2024, 3, 8)
NAMES = ("A1", "A2", "A3", "A4", "A5", "A6")
LEVEL = (4.100, 4.100, 4.100, 4.100)

# The limits of the brief, written out; common practice, no source.
MEASURES = tuple(
    Measure(key=key, says=key, unit=unit, accept=accept, retest=retest, source="common-practice")
    for key, unit, accept, retest in (
        ("capacity", "%", 80.0, 70.0),
        ("resistance", "%", 160.0, 200.0),
        ("spread", "mV", 50.0, 300.0),
        ("imbalance", "mV", 150.0, 500.0),
        ("drift", "mV", 5.0, 15.0),
        ("rise", "K", 3.0, 5.0),
    )
)


def rest(date: dt.date = FIRST, cells: tuple[float, ...] = LEVEL, **changes: Any) -> Rest:
    fields: dict[str, Any] = {
        "date": date,
        "rested": "2 h" if date == FIRST else "170 h",
        "temperature": "25 degC",
        "cells": cells,
        "full": True,
    }
    return Rest(**(fields | changes))


def rests(last: tuple[float, ...] = LEVEL, first: tuple[float, ...] = LEVEL) -> tuple[Rest, ...]:
    return (rest(cells=first), rest(LAST, last))


def a_module(name: str = "A1", **changes: Any) -> TestedModule:
    fields: dict[str, Any] = {
        "name": name,
        "rests": rests(),
        "capacity": "54 Ah",
        "capacity_current": "20 A",
        "capacity_temperature": "25 degC",
        "resistance": "9.6 mOhm",
        "resistance_method": "10 s pulse",
        "resistance_temperature": "25 degC",
        "resistance_soc": "50 %",
        "rise": "2 K",
        "lowest_ever": "3.2 V",
        "ended_by": 2,
        "imbalance_empty": "40 mV",
        "seen": (),
    }
    return TestedModule(**(fields | changes))


def heap(first: TestedModule | None = None, **changes: Any) -> Batch:
    """Return the good heap, its first module changed for another."""
    fields: dict[str, Any] = {
        "title": "heap",
        "chemistry": OXIDE,
        "cells_in_series": 4,
        "modules": (first or a_module(), *(a_module(name) for name in NAMES[1:])),
        "new_capacity": "60 Ah",
        "new_resistance": "8 mOhm",
        "new_resistance_method": "10 s pulse",
        "new_resistance_temperature": "25 degC",
        "new_resistance_soc": "50 %",
        "voltage_accuracy": "1 mV",
        "measures": MEASURES,
    }
    return Batch(**(fields | changes))


def iron_heap(*, full: bool = True, **changes: Any) -> Batch:
    """Return the same of a flat chemistry, resting at 3.40 V when full, 3.30 V in the middle."""
    cells = (3.400,) * 4 if full else (3.300,) * 4
    modules = tuple(
        a_module(
            name,
            rests=(rest(cells=cells, rested="5 h", full=full), rest(LAST, cells, full=full)),
            lowest_ever="3.0 V",
        )
        for name in NAMES
    )
    return heap(**({"chemistry": IRON, "modules": modules} | changes))


def first_of(batch: Batch) -> GradedModule:
    return graded(batch)[0]


def grade_of(**changes: Any) -> GradedModule:
    """Return the first module of the good heap, graded after some change to it."""
    return first_of(heap(a_module(**changes)))
