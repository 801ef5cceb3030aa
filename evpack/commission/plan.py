"""The plan of commissioning, every stage in the order of safe work; a record held against it."""

from __future__ import annotations

import math

import attrs

from evpack.commission.before import JOINTS, around, limits, modules, parts
from evpack.commission.closing import array, closing, monitoring, settings
from evpack.commission.high_voltage import has_middle
from evpack.commission.live import charge, discharge, first_hour, later
from evpack.commission.steps import ISOLATE, ISOLATE_HIGH, hardware, own_keys
from evpack.commission.stops import stops
from evpack.outcome.commissioning import (
    AsBuilt,
    AsBuiltCheck,
    Came,
    CommissioningPlan,
    CommissioningStep,
    Proof,
    Written,
)
from evpack.outcome.design import Decision

# Common practice, no source: look and measure while nothing is joined; prove the disconnect and the
# polarity before a device is joined; set before anything charges; join the array last; prove what
# stops the pack at a low current; then charge and draw.
_BEFORE = (parts, around, modules, monitoring, closing, settings, array)
_STAGES = (*_BEFORE, first_hour, stops, charge, discharge, later)

# A bound that is typed as it was read is met, whatever its last binary digit.
_CLOSE = 1e-9


def plan_of(decision: Decision) -> CommissioningPlan:
    """Return what is to be proven of a design; nothing where it may not be built."""
    if not decision.go:
        return CommissioningPlan(decision=decision, steps=())
    steps = [*limits(decision)]
    for stage in _STAGES:
        steps += stage(decision.design)
    if has_middle(decision.design):
        steps = [_in_two(step) for step in steps]
    parts_there = hardware(decision.design)
    steps = [
        step if _by_itself(step.key) else attrs.evolve(step, rests_on=parts_there) for step in steps
    ]
    return CommissioningPlan(decision=decision, steps=own_keys(steps))


def _in_two(step: CommissioningStep) -> CommissioningStep:
    """Return a step in which a pack is made safe by opening its strings in the middle too."""
    return attrs.evolve(
        step,
        todo=step.todo.replace(ISOLATE, ISOLATE_HIGH),
        if_not=step.if_not.replace(ISOLATE, ISOLATE_HIGH),
    )


def _by_itself(key: str) -> bool:
    """Return whether a step names all that it is about: a limit, a part, an entry."""
    return key.startswith(("limits.", "parts.", "settings.")) and key != JOINTS


def held_against(plan: CommissioningPlan, record: AsBuilt) -> AsBuiltCheck:
    """Return every step of a plan with what a record says of it."""
    # The mark of the whole plan stands for all of its questions.
    asked = plan.asked if record.mark == plan.mark else record.asked
    return AsBuiltCheck(
        plan=plan,
        record=record,
        proofs=tuple(_proof(step, record.values.get(step.key), asked) for step in plan.steps),
    )


def _proof(step: CommissioningStep, written: Written | None, asked: frozenset[str]) -> Proof:
    came = _came(step, written)
    # A yes to what was asked of another design says nothing of this one: of another cable, or of
    # another fuse.
    if came in {Came.PROVEN, Came.UNKNOWN} and step.token not in asked:
        came = Came.STALE
    return Proof(step=step, written=written, came=came)


def _came(step: CommissioningStep, written: Written | None) -> Came:
    if written is None:
        return Came.OPEN
    if step.kind is None:
        return Came.PROVEN if written is True else Came.OFF
    if isinstance(written, bool):  # a yes is no reading
        return Came.UNKNOWN
    if step.low is None and step.high is None:
        return Came.UNKNOWN
    low = -math.inf if step.low is None else step.low
    high = math.inf if step.high is None else step.high
    inside = low - _CLOSE * abs(low) <= written <= high + _CLOSE * abs(high)
    return Came.PROVEN if inside else Came.OFF
