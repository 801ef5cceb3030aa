"""The limits of each measure that modules are graded by, and which lie far from their kind."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

import attrs

from evpack.base.errors import DescriptionError, nearest
from evpack.base.finding import Finding, Rule, Severity, Standing, inside, state, unknown
from evpack.base.units import RISE, SHARE, VOLTAGE, Kind
from evpack.base.wording import say
from evpack.describe.batch import Batch, Measure, TestedModule
from evpack.kernels.robust import median, outliers
from evpack.match.readings import Readings

STATED = Rule(
    key="limits.stated",
    says="A measure for which nobody gave limits passes no module.",
    source="common-practice",
    stands=Standing.BOUND,
    clause="the limits that modules are graded by",
)
USUAL = Rule(
    key="limits.usual",
    says="A limit that lets more modules pass than is usual must be meant.",
    source="common-practice",
    stands=Standing.GUARD,
)

KINDS: dict[str, Kind] = {
    "capacity": SHARE,
    "resistance": SHARE,
    "spread": VOLTAGE,
    "imbalance": VOLTAGE,
    "drift": VOLTAGE,
    "rise": RISE,
}
MORE_IS_BETTER = ("capacity",)

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


@attrs.frozen
class Limits:
    """Up to (or, for capacity, from) which a module is accepted, or accepted after a retest."""

    accept: float
    retest: float


def limits(measures: Iterable[Measure]) -> dict[str, Limits]:
    """Return the limits of each measure in its canonical unit.

    Raises
    ------
    DescriptionError
        For a measure that is not known, given twice, in a wrong unit, or the wrong way round.
    """
    found: dict[str, Limits] = {}
    for measure in measures:
        kind = KINDS.get(measure.key)
        if kind is None:
            raise DescriptionError(
                f"measure '{measure.key}' is not known{nearest(measure.key, KINDS)}"
            )
        if measure.key in found:
            raise DescriptionError(f"measure '{measure.key}' is given twice")
        factor = 1.0 if measure.unit == kind.unit else kind.spellings.get(measure.unit)
        if factor is None:
            raise DescriptionError(
                f"measure '{measure.key}': unit '{measure.unit}' is not known"
                f"{nearest(measure.unit, kind.spellings)}"
            )
        sign = -1.0 if measure.key in MORE_IS_BETTER else 1.0
        if not sign * measure.accept <= sign * measure.retest:
            raise DescriptionError(
                f"measure '{measure.key}': what is accepted ({measure.accept:g}) must be no looser "
                f"than what is accepted after a retest ({measure.retest:g})"
            )
        found[measure.key] = Limits(measure.accept * factor, measure.retest * factor)
    return found


def judged(given: Iterable[Measure], usual: Iterable[Measure]) -> tuple[Finding, ...]:
    """Find which measures have no limits, and which are looser than usual."""
    held, common = limits(given), limits(usual)
    missing = [key for key in KINDS if key not in held]
    loose = [
        key for key, limit in held.items() if key in common and _looser(key, limit, common[key])
    ]
    return (
        unknown(
            STATED,
            about="grades",
            detail=f"No limits are given for: {', '.join(missing)}.",
            remedy="Give both limits of it, or leave the measures out to have the usual ones.",
        )
        if missing
        else state(STATED, Severity.OK, about="grades", detail="Each measure has its two limits."),
        state(
            USUAL,
            Severity.CAUTION,
            about="grades",
            detail=f"Looser than is usual: {', '.join(loose)}.",
            remedy="Leave the measures out to have the usual limits back, or be sure why.",
        )
        if loose
        else state(USUAL, Severity.OK, about="grades", detail="No limit is looser than is usual."),
    )


def _looser(key: str, one: Limits, other: Limits) -> bool:
    sign = -1.0 if key in MORE_IS_BETTER else 1.0
    pairs = ((one.accept, other.accept), (one.retest, other.retest))
    return any(sign * (mine - usual) > 1e-9 * abs(usual) for mine, usual in pairs)


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
