"""How most of the heap was read, and whether one module was read likewise.

A resistance depends on how it is read, on temperature and on the state of charge, a capacity on
temperature and current. One reading of a module does not tell how its own moves with any of them,
so that nothing is corrected here: what was read otherwise is not compared, and it is said why.
"""

from __future__ import annotations

from collections import Counter

import attrs

from evpack.base.wording import say
from evpack.describe.batch import Batch, TestedModule
from evpack.kernels.robust import median

NOT_STATED = "not stated"

# How far readings may lie from each other and still be compared [K], [1], [1].
# Common practice, no source.
_KELVINS = 3.0
_STATE = 0.1
_CURRENT = 0.2
# A capacity is read at about a third of it in current, at 25 ± 2 °C. Slower or warmer than this
# reads more than there is. Common practice, no source.
_SLOWEST = 0.2
_WARMEST = 27.0
# What a temperature or a current may be off a bound by noise.
_NOISE = 1e-9


@attrs.frozen(kw_only=True)
class Yardstick:
    """How a heap was read: the method of most, and the medians; None where nobody said."""

    method: str = NOT_STATED
    temperature: float | None = None
    soc: float | None = None
    capacity_temperature: float | None = None
    capacity_current: float | None = None


def most_of(batch: Batch) -> Yardstick:
    """Return how most of the heap was read."""
    read = [m for m in batch.modules if m.resistance is not None]
    methods = Counter(m.resistance_method for m in read if m.resistance_method != NOT_STATED)
    method = methods.most_common(1)[0][0] if methods else NOT_STATED
    alike = [m for m in read if m.resistance_method == method]
    tested = [m for m in batch.modules if m.capacity is not None]
    return Yardstick(
        method=method,
        temperature=_middle(alike, "resistance_temperature"),
        soc=_middle(alike, "resistance_soc"),
        capacity_temperature=_middle(tested, "capacity_temperature"),
        capacity_current=_middle(tested, "capacity_current"),
    )


def of_new(batch: Batch, most: Yardstick) -> Yardstick:
    """Return how the resistance of a new module was read; what nobody said is as most were."""
    warm, soc = batch.new_resistance_temperature, batch.new_resistance_soc
    return Yardstick(
        method=batch.new_resistance_method,
        temperature=most.temperature if warm is None else float(warm.m),
        soc=most.soc if soc is None else float(soc.m),
    )


def resistance_unlike(module: TestedModule, stick: Yardstick, whose: str) -> str:
    """Return why a module's resistance cannot be compared with that of others; empty: it can.

    Parameters
    ----------
    stick : Yardstick
        How the others were read.
    whose : str
        Who they are, to fit "with …".
    """
    if module.resistance is None:
        return "its resistance was not read"
    if NOT_STATED in {module.resistance_method, stick.method}:
        who = "its" if module.resistance_method == NOT_STATED else "the other"
        return f"nobody said how {who} resistance was read, so it is not compared with {whose}"
    if module.resistance_method != stick.method:
        return (
            f"its resistance was read by {module.resistance_method}, and that of {whose} by "
            f"{stick.method}: the two differ by a factor and are not compared"
        )
    return _otherwise(module, stick, whose)


def _otherwise(module: TestedModule, stick: Yardstick, whose: str) -> str:
    """Return why temperature or charge forbid a comparison of resistances; empty: they do not."""
    warm, soc = module.resistance_temperature, module.resistance_soc
    if warm is None or stick.temperature is None:
        return "nobody said at what temperature its resistance was read"
    if abs(warm.m - stick.temperature) > _KELVINS + _NOISE:
        return (
            f"its resistance was read at {say(warm.m, '°C')}, and that of {whose} at "
            f"{say(stick.temperature, '°C')}: colder cells read more, warmer ones less"
        )
    if soc is None or stick.soc is None:
        return "nobody said at what state of charge its resistance was read"
    if abs(soc.m - stick.soc) > _STATE + _NOISE:
        return (
            f"its resistance was read at {say(soc.m, '')} charge, and that of {whose} at "
            f"{say(stick.soc, '')}"
        )
    return ""


def capacity_unlike(batch: Batch, module: TestedModule, stick: Yardstick) -> str:
    """Return why a module's capacity cannot be compared with that of others; empty: it can."""
    if module.capacity is None:
        return "its capacity was not read"
    warm = module.capacity_temperature
    if warm is None or stick.capacity_temperature is None:
        return "nobody said at what temperature its capacity was read"
    if warm.m > _WARMEST + _NOISE:
        return (
            f"its capacity was read at {say(warm.m, '°C')}; above {say(_WARMEST, '°C')} cells give "
            "more than they have at 25 °C"
        )
    if abs(warm.m - stick.capacity_temperature) > _KELVINS + _NOISE:
        return (
            f"its capacity was read at {say(warm.m, '°C')}, and that of most of the batch at "
            f"{say(stick.capacity_temperature, '°C')}"
        )
    return _slower(batch, module, stick)


def _slower(batch: Batch, module: TestedModule, stick: Yardstick) -> str:
    """Return why the currents forbid a comparison of capacities; empty: they do not."""
    current = module.capacity_current
    assert module.capacity is not None  # noqa: S101  (asked by the caller)
    if current is None or stick.capacity_current is None:
        return "nobody said at what current its capacity was read"
    new = batch.new_capacity
    whole = float((module.capacity if new is None else new).m)
    if current.m < _SLOWEST * whole * (1 - _NOISE):
        return (
            f"its capacity was read at {say(current.m, 'A')}, slower than "
            f"{say(_SLOWEST * whole, 'A')}: a slow discharge gives more"
        )
    if abs(current.m - stick.capacity_current) > _CURRENT * stick.capacity_current * (1 + _NOISE):
        return (
            f"its capacity was read at {say(current.m, 'A')}, and that of most of the batch at "
            f"{say(stick.capacity_current, 'A')}"
        )
    return ""


def _middle(modules: list[TestedModule], field: str) -> float | None:
    values = [float(v.m) for m in modules if (v := getattr(m, field)) is not None]
    return median(values) if values else None
