"""How strings come onto one bus without a surge: what would flow now, and what to do before."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations

from evpack.base.finding import Finding, Rule, Severity, Standing, at_most, state, unknown
from evpack.base.units import CURRENT
from evpack.base.wording import say
from evpack.describe.batch import Batch
from evpack.describe.chemistry import CellTargets
from evpack.match.ends import End, ends
from evpack.match.flows import bus_step, limit_of, pair_step
from evpack.match.order import ordered
from evpack.outcome.matching import GradedModule, Grouping, JoinPlan, JoinStep

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
