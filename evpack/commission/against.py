"""A record held against its plan."""

from __future__ import annotations

import math

from evpack.outcome.commissioning import (
    AsBuilt,
    AsBuiltCheck,
    Came,
    CommissioningPlan,
    CommissioningStep,
    Proof,
    Written,
)

# A bound that is typed as it was read is met, whatever its last binary digit.
_CLOSE = 1e-9


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
