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
    return AsBuiltCheck(
        plan=plan,
        record=record,
        proofs=tuple(_proof(step, record.values.get(step.key)) for step in plan.steps),
    )


def _proof(step: CommissioningStep, written: Written | None) -> Proof:
    return Proof(step=step, written=written, came=_came(step, written))


def _came(step: CommissioningStep, written: Written | None) -> Came:
    if written is None:
        return Came.OPEN
    if step.kind is None:
        return Came.PROVEN if written is True else Came.OFF
    if step.low is None and step.high is None:
        return Came.UNKNOWN
    low = -math.inf if step.low is None else step.low
    high = math.inf if step.high is None else step.high
    room = _CLOSE * max(abs(bound) for bound in (low, high) if math.isfinite(bound))
    return Came.PROVEN if low - room <= written <= high + room else Came.OFF
