"""Which modules are fit, which only after a retest, and which must not be used, each with why."""

from __future__ import annotations

from collections.abc import Mapping

import attrs

from evpack.base.finding import (
    Finding,
    Rule,
    Severity,
    Standing,
    at_least,
    at_most,
    inside,
    state,
    unknown,
)
from evpack.base.units import RISE, SHARE, VOLTAGE, Quantity
from evpack.base.wording import say, say_up
from evpack.describe.batch import Batch, TestedModule
from evpack.match.limits import KINDS, MORE_IS_BETTER, WORDS, Limits, limits, odd_ones
from evpack.match.readings import Heap, Reading, Readings, heap, module_volts, readings
from evpack.outcome.matching import Grade, GradedModule

INSPECTION = Rule(
    key="grade.inspection",
    says="A module that is swollen, leaks, smells, or was dented, flooded, crashed, burnt or "
    "reversed is not used, whatever it measures.",
    source="common-practice",
    stands=Standing.BOUND,
    clause="the limits that modules are graded by",
)
FLOOR = Rule(
    key="grade.floor",
    says="A cell that ever lay far too low may have copper dissolved and plated again inside: it "
    "can short later, without warning.",
    source="common-practice",
    stands=Standing.BOUND,
    clause="the limits that modules are graded by",
    kind=VOLTAGE,
)
CEILING = Rule(
    key="grade.ceiling",
    says="A cell at rest above its highest voltage was overcharged, or is of another chemistry.",
    source="common-practice",
    stands=Standing.BOUND,
    clause="the limits that modules are graded by",
    kind=VOLTAGE,
)
BELIEVABLE = Rule(
    key="grade.believable",
    says="A reading far better than new, or two that contradict each other, are a slip or another "
    "kind of module.",
    source="common-practice",
    stands=Standing.GUARD,
)
CAPACITY = Rule(
    key="grade.capacity",
    says="A module that lost much of its capacity has lost more than that, and ages faster.",
    source="common-practice",
    stands=Standing.BOUND,
    clause="the limits that modules are graded by",
    kind=SHARE,
)
RESISTANCE = Rule(
    key="grade.resistance",
    says="A module whose resistance rose much warms and sags, and its like is rarely found.",
    source="common-practice",
    stands=Standing.BOUND,
    clause="the limits that modules are graded by",
    kind=SHARE,
)
SPREAD = Rule(
    key="grade.spread",
    says="Cell groups of one module that rest far apart are unbalanced, weak or leaking.",
    source="common-practice",
    stands=Standing.BOUND,
    clause="the limits that modules are graded by",
    kind=VOLTAGE,
)
IMBALANCE = Rule(
    key="grade.imbalance",
    says="A cell group that falls far behind the others towards empty holds less, and ends every "
    "discharge of the pack.",
    source="common-practice",
    stands=Standing.BOUND,
    clause="the limits that modules are graded by",
    kind=VOLTAGE,
)
DRIFT = Rule(
    key="grade.drift",
    says="A cell that loses voltage at rest faster than the others has a leak inside.",
    source="common-practice",
    stands=Standing.BOUND,
    clause="the limits that modules are graded by",
    kind=VOLTAGE,
)
RISE_RULE = Rule(
    key="grade.rise",
    says="A spot that warms much in a gentle discharge is a bad joint or a bad cell.",
    source="common-practice",
    stands=Standing.BOUND,
    clause="the limits that modules are graded by",
    kind=RISE,
)
OUTLIER = Rule(
    key="grade.outlier",
    says="A module far from the middle of its own kind is looked at again before it is used.",
    source="common-practice",
    stands=Standing.GUARD,
)

# A cell so far above its highest voltage was overcharged; less may be the meter [V].
# Common practice, no source.
_OVERCHARGED = 0.05
# Better than new by more than this is no ageing [1]. Common practice, no source.
_MOST_HEALTH, _LEAST_RESISTANCE = 1.1, 0.7
# How far the sum of the cells may lie from the whole [1]. Common practice, no source.
_SUM = 0.01


def graded(batch: Batch) -> tuple[GradedModule, ...]:
    """Grade each module of a heap.

    The batch must hold the measures to grade by; where one is missing no module passes it.
    """
    common, bounds = heap(batch), limits(batch.measures)
    read = {module.name: readings(common, module) for module in batch.modules}
    odd = odd_ones(batch, read)
    return tuple(
        _graded(common, module, read[module.name], bounds, odd[module.name])
        for module in batch.modules
    )


def _graded(
    common: Heap,
    module: TestedModule,
    read: Readings,
    bounds: Mapping[str, Limits],
    odd: Mapping[str, str],
) -> GradedModule:
    batch = common.batch
    rise = module.rise
    found = (
        _inspection(module),
        _floor(batch, module),
        _ceiling(batch, module),
        _believable(module, read),
        _measured(CAPACITY, module, "capacity", read.health, bounds, needed=True),
        _measured(RESISTANCE, module, "resistance", read.resistance, bounds, needed=True),
        _measured(SPREAD, module, "spread", read.spread, bounds, needed=True),
        _measured(IMBALANCE, module, "imbalance", read.imbalance, bounds, needed=False),
        _measured(DRIFT, module, "drift", read.drift, bounds, needed=False),
        _rise(module, rise, bounds),
        _outlier(module, odd),
    )
    grade = Grade.ACCEPT
    if any(f.severity >= Severity.CAUTION for f in found):
        grade = Grade.RETEST
    if any(f.severity is Severity.STOP for f in found):
        grade = Grade.REJECT
    refused = batch.chemistry.why_refused
    if refused:
        grade = Grade.REJECT
    # A module that is refused is not to be charged for the sake of a reading that is missing.
    least = Severity.STOP if grade is Grade.REJECT else Severity.CAUTION
    held = sorted((f for f in found if f.severity >= least), key=lambda f: -int(f.severity))
    return GradedModule(
        module=module,
        grade=grade,
        health=read.health.value,
        resistance_ratio=read.resistance.value,
        spread=read.spread.value,
        imbalance=read.imbalance.value,
        drift=read.drift.value,
        self_discharge=read.self_discharge.value,
        weakest=read.weakest,
        weakest_by=read.weakest_by,
        odd=tuple(odd),
        reasons=(
            *((refused,) if refused else ()),
            *(f"{f.detail} {f.remedy}".strip() for f in held),
        ),
        uncertainty=tuple(
            reading.error
            for reading in (read.health, read.resistance, read.spread)
            if reading.error is not None
        ),
        capacity_alike=not read.capacity_unlike,
        resistance_alike=not read.resistance_unlike,
        findings=found,
    )


def _inspection(module: TestedModule) -> Finding:
    if module.seen is None:
        return unknown(
            INSPECTION,
            about=module.name,
            detail="Nobody noted that it was looked at.",
            remedy="Look at all its sides for the faults of the form, and note each, or none.",
        )
    if module.seen:
        return state(
            INSPECTION,
            Severity.STOP,
            about=module.name,
            detail=f"Seen on it: {', '.join(module.seen)}.",
            remedy="Do not charge or use it. Keep it outside, away from what burns, and hand it to "
            "a battery recycler.",
        )
    return state(
        INSPECTION,
        Severity.OK,
        about=module.name,
        detail="It was looked at, and no fault was seen.",
    )


def _cells_seen(batch: Batch, module: TestedModule) -> list[float]:
    """Return each voltage that a cell group of it was seen at; of a whole module the mean."""
    seen = [volts for rest in module.rests for volts in rest.cells]
    whole = [module_volts(rest) for rest in module.rests]
    return seen + [volts / batch.cells_in_series for volts in whole if volts is not None]


def _error(batch: Batch) -> float:
    return 0.0 if batch.voltage_accuracy is None else float(batch.voltage_accuracy.m)


def _floor(batch: Batch, module: TestedModule) -> Finding:
    seen = _cells_seen(batch, module)
    if module.lowest_ever is not None:
        seen.append(float(module.lowest_ever.m))
    floor = batch.chemistry.limits.reject_below
    found = at_least(
        FLOOR,
        VOLTAGE.of(min(seen)) if seen else None,
        floor,
        about=module.name,
        otherwise=Severity.STOP,
        value_name="the lowest that a cell group was found at",
        limit_name="the least below which cells are refused",
        remedy="Do not charge or use it: copper may have dissolved and plated again inside. Hand "
        "it to a battery recycler.",
        ask="Read the voltage of each of its cell groups.",
    )
    if found.severity is Severity.OK and not inside(
        min(seen) - _error(batch), float(floor.m), at_least=True
    ):
        return attrs.evolve(
            found,
            severity=Severity.CAUTION,
            detail=f"{found.detail} It is nearer to it than the meter can tell.",
            remedy="Read its cells again with a better meter.",
        )
    return found


def _ceiling(batch: Batch, module: TestedModule) -> Finding:
    seen = _cells_seen(batch, module)
    highest = batch.chemistry.limits.highest
    common = {
        "about": module.name,
        "value_name": "the highest that a cell group was found at",
        "ask": "Read the voltage of each of its cell groups.",
    }
    value = VOLTAGE.of(max(seen)) if seen else None
    refused = at_most(
        CEILING,
        value,
        VOLTAGE.of(highest.m + _OVERCHARGED),
        otherwise=Severity.STOP,
        limit_name="what a cell stands, with 50 mV for the meter",
        remedy="Do not charge or use it: it was overcharged, or is not of this chemistry or count "
        "of cells.",
        **common,
    )
    if refused.severity is not Severity.OK:
        return refused
    return at_most(
        CEILING,
        value,
        highest,
        otherwise=Severity.CAUTION,
        limit_name="what a cell stands",
        remedy="Read it again, and find out what charged it.",
        **common,
    )


def _believable(module: TestedModule, read: Readings) -> Finding:
    slips = []
    health, ratio = read.health.value, read.resistance.value
    if health is not None and health.value > _MOST_HEALTH:
        slips.append(f"its capacity is {health} of that when new")
    if ratio is not None and ratio.value < _LEAST_RESISTANCE:
        slips.append(f"its resistance is {ratio} of that when new")
    for rest in module.rests:
        if rest.voltage is not None and rest.cells:
            total = sum(rest.cells)
            if abs(total - rest.voltage.m) > _SUM * abs(rest.voltage.m):
                slips.append(
                    f"on {rest.date} its cells add up to {say(total, 'V')}, and the whole read "
                    f"{say(rest.voltage.m, 'V')}"
                )
    if slips:
        return state(
            BELIEVABLE,
            Severity.CAUTION,
            about=module.name,
            detail=f"Not believable: {'; '.join(slips)}.",
            remedy="Look at the numbers and the units again, then read it again.",
        )
    return state(
        BELIEVABLE,
        Severity.OK,
        about=module.name,
        detail="Nothing it reads contradicts the rest, or is far better than new.",
    )


_DO = {
    "capacity": "Charge it full, rest it an hour, and discharge it at about a third of its "
    "capacity in current, at 25 °C.",
    "resistance": "Read it as the others: a load step of about 10 s from rest, at the same "
    "temperature and charge.",
    "spread": "Charge it gently to full, rest it, and read each of its cell groups.",
    "imbalance": "Log the voltage of each of its cell groups in the capacity test.",
    "drift": "Read it full, leave it a week at one temperature, and read it again.",
    "rise": "Watch its warmest spot in a discharge at a third of its capacity in current.",
}
_AGAIN = {
    "capacity": "Cycle it twice and test it again.",
    "resistance": "Clean its terminals and read it again.",
    "spread": "Keep it apart, balance it at full, rest it a week, and read its cells again.",
    "imbalance": "Balance it at full and test its capacity again: what stays is a group that "
    "holds less, and the whole string then stops at it.",
    "drift": "Keep it apart another week and read it again.",
    "rise": "Look for a loose or dirty joint, and test it again.",
}
_NAMES = {
    "capacity": "its capacity against new",
    "resistance": "its resistance against new",
    "spread": "its cell spread at rest",
    "imbalance": "how far its weakest cell group lay below the mean towards empty",
    "drift": "what a cell group lost in a week more than the batch",
    "rise": "how much warmer its warmest spot became",
}


def _measured(
    rule: Rule,
    module: TestedModule,
    key: str,
    reading: Reading,
    bounds: Mapping[str, Limits],
    *,
    needed: bool,
) -> Finding:
    """Hold a measure against its two limits, its uncertainty on the bad side."""
    if reading.value is None:
        return _unread(rule, module, key, reading.why, needed=needed)
    error = 0.0 if reading.error is None else reading.error.value
    return _bounded(rule, module, key, reading.value.quantity, bounds, error=error)


def _unread(rule: Rule, module: TestedModule, key: str, why: str, *, needed: bool) -> Finding:
    detail = f"{why[:1].upper()}{why[1:]}."
    if needed:
        return unknown(rule, about=module.name, detail=detail, remedy=_DO[key])
    return state(rule, Severity.NOTE, about=module.name, detail=detail, remedy=_DO[key])


def _rise(module: TestedModule, rise: Quantity | None, bounds: Mapping[str, Limits]) -> Finding:
    if rise is None:
        why = "nobody noted how warm it became in the capacity test"
        return _unread(RISE_RULE, module, "rise", why, needed=False)
    return _bounded(RISE_RULE, module, "rise", rise, bounds)


def _bounded(
    rule: Rule,
    module: TestedModule,
    key: str,
    value: Quantity,
    bounds: Mapping[str, Limits],
    *,
    error: float = 0.0,
) -> Finding:
    if key not in bounds:
        return unknown(
            rule,
            about=module.name,
            detail=f"No limits are given for its {WORDS[key]}.",
            remedy="Give the limits, or leave the measures out to have the usual ones.",
        )
    compare = at_least if key in MORE_IS_BETTER else at_most
    common = {"about": module.name, "value_name": _NAMES[key]}
    refused = compare(
        rule,
        value,
        KINDS[key].of(bounds[key].retest),
        otherwise=Severity.STOP,
        limit_name="where a module is refused",
        remedy="Do not use it.",
        **common,
    )
    if refused.severity is Severity.STOP:
        return refused
    found = compare(
        rule,
        value,
        KINDS[key].of(bounds[key].accept),
        otherwise=Severity.CAUTION,
        limit_name="what is accepted",
        remedy=_AGAIN[key],
        **common,
    )
    if (
        found.severity is Severity.OK
        and found.margin is not None
        and not inside(error, found.margin)
    ):
        return attrs.evolve(
            found,
            severity=Severity.CAUTION,
            detail=f"{found.detail} It may be off by {say_up(error, found.unit)}, and then it is "
            "not.",
            remedy=f"Read it again with better meters. {_AGAIN[key]}",
        )
    return found


def _outlier(module: TestedModule, odd: Mapping[str, str]) -> Finding:
    if odd:
        return state(
            OUTLIER,
            Severity.CAUTION,
            about=module.name,
            detail=f"It lies far from the middle of the batch: {'; '.join(odd.values())}.",
            remedy="Read it again, and make sure that it is of the same kind as the others.",
        )
    return state(
        OUTLIER,
        Severity.OK,
        about=module.name,
        detail="Nothing it reads lies far from the middle of the batch, where there is one.",
    )
