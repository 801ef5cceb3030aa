"""How strings come onto one bus without a surge: what would flow now, and what to do before."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations

from evpack.base.basis import Basis
from evpack.base.finding import Finding, Rule, Severity, Standing, at_most, state, unknown
from evpack.base.units import CHARGE, CURRENT
from evpack.base.wording import say
from evpack.base.worked import Input, Worked, count, from_worked, known
from evpack.describe.batch import Batch
from evpack.describe.chemistry import CellTargets
from evpack.match.flows import (
    LOW,
    End,
    bus_step,
    ends,
    limit_of,
    pair_step,
    volts_worked,
    worst_within,
)
from evpack.outcome.matching import GradedModule, Grouping, JoinPlan, JoinStep

# How far a string may lie from the others as it is joined [V/cell], and to what it is read [V].
# Common practice, no source.
_NEAR = 0.005
_READ = 0.001

VOLTAGE_RULE = Rule(
    key="join.voltage",
    says="What flows when strings are joined follows from their voltages at rest, read that day.",
    source="ohms-law",
    stands=Standing.BOUND,
    clause="physics: what flows follows from the difference",
)
CHEMISTRY = Rule(
    key="join.chemistry",
    says="Strings on one bus are of one chemistry and have as many cells in series, each within "
    "its limits.",
    source="cell-limits",
    stands=Standing.BOUND,
    clause="print of the cell: its voltages",
)
BLIND = Rule(
    key="join.blind",
    says="Where the voltage does not tell the charge, strings are joined only when each is full.",
    source="common-practice",
    stands=Standing.BOUND,
    clause="physics: voltage does not tell the charge of a flat chemistry",
)
SURGE = Rule(
    key="join.surge",
    says="The first current between strings stays small: nothing limits it but their resistance.",
    source="common-practice",
    stands=Standing.BOUND,
    clause="print of the cell: charge current",
    kind=CURRENT,
)
FUSE = Rule(
    key="join.fuse",
    says="A first current stays below half of the string fuse, and cells are warm enough to be "
    "charged.",
    source="common-practice",
    stands=Standing.REMARK,
)


def ordered(
    batch: Batch, targets: CellTargets, found: Sequence[End], limit: Worked
) -> tuple[JoinStep, ...]:
    """Return what to do, in this order; no string is joined before all lie near each other."""
    near = _tolerance(batch, found, limit)
    target = (
        _full(batch, targets, found) if batch.chemistry.flat else _highest(batch, targets, found)
    )
    # A string that is full by its voltage alone is not full where voltage tells nothing.
    apart = [
        end
        for end in found
        if abs(end.volts - target.value) > near.value or (batch.chemistry.flat and not end.full)
    ]
    names = tuple(end.name for end in found)
    rest = say(targets.rest.m, "s")
    return (
        JoinStep(
            names=names,
            do="Disconnect everything, and read each string's voltage again: the voltages here "
            "are those of the log. If a cell lies outside its limits, stop.",
        ),
        *(_bring(batch, end, target, limit) for end in apart),
        JoinStep(
            names=names,
            do=f"Let all rest for {rest} at one temperature, and read them again with one meter. "
            f"All must lie within {say(near.value, 'V')} of each other; else begin again.",
            target=near,
        ),
        *_joins(found, near, limit),
        JoinStep(
            names=names,
            do="Leave the bus without load until no string's current can be told from nothing, "
            "then check that all carry like currents under a small load.",
        ),
    )


def _tolerance(batch: Batch, found: Sequence[End], limit: Worked) -> Worked:
    """Return how far strings may lie from each other as they are joined [V].

    No more than what is usual, and no more than drives the limit through the least resistance.
    Rounded down to what a meter shows.
    """
    cells = batch.cells_in_series * (batch.modules_in_series or 1)
    least = min(found, key=lambda end: end.ohms)
    most = min(cells * _NEAR, limit.value * LOW * least.ohms)
    # Below one step of a meter a tolerance means nothing.
    formula = "min({n} · {V_near}, {I_most} · {f} · {R})"
    inputs: tuple[Input, ...] = (
        count("n", "cell groups in series", cells),
        Input("V_near", "how near cells must be", _NEAR, "V", Basis.CHOSEN),
        from_worked("I_most", limit),
        Input("f", "part of the resistance that is there at once", LOW, "", Basis.CHOSEN),
        Input("R", f"{least.name}, the least resistance", least.ohms, "Ω", Basis.MEASURED),
    )
    if most >= _READ:
        formula = f"down({formula}, {{zero}}, {{V_step}})"
        inputs += (
            Input("zero", "nothing", 0.0, "V", Basis.CHOSEN),
            Input("V_step", "step of a meter", _READ, "V", Basis.CHOSEN),
        )
    return volts_worked("how near strings must be to be joined", formula, inputs)


def _cell_target(batch: Batch, targets: CellTargets) -> tuple[int, Input]:
    cells = batch.cells_in_series * (batch.modules_in_series or 1)
    return cells, known(
        "V_charge", "charge target of a cell", targets.charge, batch.chemistry.basis.of("charge")
    )


def _full(batch: Batch, targets: CellTargets, found: Sequence[End]) -> Worked:
    cells, each = _cell_target(batch, targets)
    return volts_worked(
        f"full: all {len(found)} strings",
        "{n} · {V_charge}",
        (count("n", "cell groups in series", cells), each),
    )


def _highest(batch: Batch, targets: CellTargets, found: Sequence[End]) -> Worked:
    """Return the voltage of the highest string: little is lost by charging the others up to it.

    Nothing is charged beyond the charge target for it; where all lie above, the lowest is taken.
    """
    cells, each = _cell_target(batch, targets)
    top, bottom = (choose(found, key=lambda end: end.volts) for choose in (max, min))
    ends = (top,) if top is bottom else (top, bottom)
    return volts_worked(
        "voltage to bring each string to",
        f"max({{E_{bottom.place}}}, min({{E_{top.place}}}, {{n}} · {{V_charge}}))",
        (*(end.volt() for end in ends), count("n", "cell groups in series", cells), each),
    )


def _bring(batch: Batch, end: End, target: Worked, limit: Worked) -> JoinStep:
    """Return how one string is brought to the voltage, by itself and with little current."""
    up = batch.chemistry.flat or end.volts < target.value
    watch = "watching each cell"
    if batch.chemistry.flat:
        do = f"Charge {end.name} by itself until full, at {target}, with {limit} at most, {watch}."
    elif up:
        do = (
            f"Charge {end.name} by itself from {say(end.volts, 'V')} until it rests at {target}, "
            f"with {limit} at most, {watch}."
        )
    else:
        do = (
            f"Discharge {end.name} by itself through a load from {say(end.volts, 'V')} until it "
            f"rests at {target}, with {limit} at most, {watch}."
        )
    return JoinStep(names=(end.name,), do=do, target=target, charge=_needed(end, target, up=up))


def _needed(end: End, target: Worked, *, up: bool) -> Worked | None:
    """Return the charge that it takes or gives [Ah]; None where the voltage does not tell."""
    if end.farads is None:
        return None
    own, there = end.volt(), from_worked("V", target)
    apart = (there, own) if up else (own, there)
    return Worked(
        name=f"charge to bring {end.name} there",
        kind=CHARGE,
        formula=f"({{{apart[0].symbol}}} − {{{apart[1].symbol}}}) · {{C_{end.place}}} / 3600",
        inputs=(own, there, end.farad()),
        source="rc-transient",
    )


def _joins(found: Sequence[End], near: Worked, limit: Worked) -> list[JoinStep]:
    """Return the joining itself: the two that rest nearest first, each time the nearest next.

    As no string lies further from the bus than the tolerance, neither does its first current lie
    above what the tolerance drives through it.
    """
    left = sorted(found, key=lambda end: end.volts)
    start = min(range(len(left) - 1), key=lambda i: left[i + 1].volts - left[i].volts)
    joined = [left.pop(start), left.pop(start)]
    steps = [_joined(tuple(joined), joined, near, limit)]
    while left:
        mean = sum(end.volts for end in joined) / len(joined)
        following = min(left, key=lambda end: abs(end.volts - mean))
        left.remove(following)
        steps.append(_joined((*joined, following), [following], near, limit))
        joined.append(following)
    return steps


def _joined(ends: Sequence[End], new: Sequence[End], near: Worked, limit: Worked) -> JoinStep:
    worst = min(new, key=lambda end: end.ohms)
    what = " and ".join(end.name for end in new)
    onto = "" if len(new) > 1 else " to the others"
    return JoinStep(
        names=tuple(end.name for end in ends),
        do=f"Join {what}{onto}, through {'its' if len(new) == 1 else 'a'} fuse, with a clamp meter "
        f"on the lead. Part them at once if more than {limit} flows. Wait until it has died away.",
        current=worst_within(worst, from_worked("V_near", near)),
    )


def join(
    batch: Batch, graded: Sequence[GradedModule], grouping: Grouping
) -> tuple[JoinPlan | None, tuple[Finding, ...]]:
    """Return how the strings of a grouping come onto one bus, and what was found of it."""
    targets = batch.chemistry.targets
    if targets is None or len(grouping.strings) < 2:  # noqa: PLR2004  (refused, or nothing to join)
        return None, ()
    found, unread = ends(batch, graded, grouping)
    if unread:
        return None, (_unread(batch, unread),)
    limit = limit_of(found)
    pairs = [pair_step(batch, one, other, limit) for one, other in combinations(found, 2)]
    flows = [*pairs, *([bus_step(batch, found, limit)] if len(found) > 2 else [])]  # noqa: PLR2004
    plan = JoinPlan(
        limit=limit,
        pairs=tuple(flows),
        steps=ordered(batch, targets, found, limit),
    )
    return plan, (
        _read(batch),
        *(_alike(batch, end) for end in found),
        _blind(batch, found),
        *(_surge(step, plan) for step in flows),
        _others(batch, targets),
    )


def _unread(batch: Batch, names: Sequence[str]) -> Finding:
    return unknown(
        VOLTAGE_RULE,
        about=batch.title,
        detail=f"No voltage after a long enough rest is known of: {', '.join(names)}.",
        remedy="Let each rest, read its voltage, and put it in the log with how long it rested.",
    )


def _read(batch: Batch) -> Finding:
    return state(
        VOLTAGE_RULE,
        Severity.OK if batch.voltage_accuracy is not None else Severity.CAUTION,
        about=batch.title,
        detail="The voltages are those of each module's last rest, and must be read again before "
        "anything is joined."
        + (
            "" if batch.voltage_accuracy is not None else " Nobody said how exact the voltmeter is."
        ),
        remedy="" if batch.voltage_accuracy is not None else "Say how exact the voltmeter is.",
    )


def _alike(batch: Batch, end: End) -> Finding:
    limits = batch.chemistry.limits
    low, high = end.cells
    if low < limits.least.m or high > limits.highest.m:
        return state(
            CHEMISTRY,
            Severity.STOP,
            about=end.name,
            detail=f"Its cells rest between {say(low, 'V')} and {say(high, 'V')}; "
            f"{batch.chemistry.name} is kept within {say(limits.least.m, 'V')} and "
            f"{say(limits.highest.m, 'V')}.",
            remedy="Find out which module it is: empty, overcharged, or not of this kind. Do not "
            "join it.",
        )
    return state(
        CHEMISTRY,
        Severity.OK,
        about=end.name,
        detail=f"Its cells rest between {say(low, 'V')} and {say(high, 'V')}, as those of "
        f"{batch.chemistry.name} may.",
    )


def _blind(batch: Batch, found: Sequence[End]) -> Finding:
    if not batch.chemistry.flat:
        return state(
            BLIND,
            Severity.OK,
            about=batch.title,
            detail=f"The rest voltage of {batch.chemistry.name} tells its charge.",
        )
    empty = [end.name for end in found if not end.full]
    if empty:
        return state(
            BLIND,
            Severity.STOP,
            about=batch.title,
            detail="Between about 15 and 95 % its voltage hardly moves, so that strings of one "
            f"voltage may lie far apart in charge. Not known to be full: {', '.join(empty)}.",
            remedy="Charge each string full by itself, let all rest, read them, and then join.",
        )
    return state(
        BLIND,
        Severity.OK,
        about=batch.title,
        detail="Each string had been charged full, where the voltage tells.",
    )


def _surge(step: JoinStep, plan: JoinPlan) -> Finding:
    return at_most(
        SURGE,
        step.current,
        plan.limit,
        about=" and ".join(step.names),
        otherwise=Severity.STOP,
        value_name="the first current if they were joined as they rest",
        limit_name="what may flow",
        remedy="Do not join them as they are: go by the steps of the plan.",
    )


def _others(batch: Batch, targets: CellTargets) -> Finding:
    coldest = batch.chemistry.limits.charge_coldest
    return state(
        FUSE,
        Severity.NOTE,
        about=batch.title,
        detail="String fuse and temperature are not known here. One string is charged by the other "
        f"as they are joined: cells must be at {say(coldest.m, '°C')} or warmer, no cell above "
        f"{say(targets.charge.m, 'V/cell')}, and each first current below half of the string fuse.",
        remedy="Look at both before the last bolt.",
    )
