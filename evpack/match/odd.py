"""Which modules lie far from the middle of their own kind."""

from __future__ import annotations

from collections.abc import Mapping

from evpack.base.finding import inside
from evpack.base.wording import say
from evpack.describe.batch import Batch, TestedModule
from evpack.kernels.robust import median, outliers
from evpack.match.limits import KINDS
from evpack.match.readings import Readings

# With fewer readings nothing is called an outlier, nor where a reading lies so near to the middle
# that two tests of one module may differ by it. Common practice, no source.
_LEAST_READINGS = 5
_LIKE = {
    "capacity": 0.03,
    "resistance": 0.1,
    "spread": 0.01,
    "imbalance": 0.03,
    "drift": 0.003,
    "rise": 1.0,
}
_OF_THE_MIDDLE = ("capacity", "resistance")  # whose differences count as a share of the median
_ONLY_ABOVE = ("spread", "imbalance", "rise")  # less of these is no wonder

WORDS = {
    "capacity": "capacity",
    "resistance": "resistance",
    "spread": "cell spread",
    "imbalance": "cell imbalance towards empty",
    "drift": "loss at rest",
    "rise": "warming",
}
_UNITS = {
    "capacity": "Ah",
    "resistance": "Ω",
    "spread": "V",
    "imbalance": "V",
    "drift": "V",
    "rise": "K",
}


def odd_ones(batch: Batch, read: Mapping[str, Readings]) -> dict[str, dict[str, str]]:
    """Return for each module the measures in which it is an outlier, each with the middle."""
    found: dict[str, dict[str, str]] = {module.name: {} for module in batch.modules}
    for key in KINDS:
        values = {
            module.name: value
            for module in batch.modules
            if (value := _raw(key, module, read[module.name])) is not None
        }
        if len(values) < _LEAST_READINGS:
            continue
        names, numbers = list(values), list(values.values())
        middle = median(numbers)
        like = _LIKE[key] * (abs(middle) if key in _OF_THE_MIDDLE else 1.0)
        for place in outliers(numbers):
            apart = numbers[place] - middle
            if key in _ONLY_ABOVE and apart < 0:
                continue
            if not inside(abs(apart), like):
                unit = _UNITS[key]
                found[names[place]][key] = (
                    f"{WORDS[key]} {say(numbers[place], unit)} against {say(middle, unit)}"
                )
    return found


def _raw(key: str, module: TestedModule, read: Readings) -> float | None:
    """Return a reading that can be held against those of the others; None where it cannot."""
    if key == "capacity":
        known = None if read.capacity_unlike else module.capacity
    elif key == "resistance":
        known = None if read.resistance_unlike else module.resistance
    elif key == "rise":
        known = module.rise
    elif key == "imbalance":
        known = module.imbalance_empty
    else:
        worked = (read.spread if key == "spread" else read.drift).value
        known = None if worked is None else worked.quantity
    return None if known is None else float(known.m)
