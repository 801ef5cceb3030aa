"""Commissioning as plain data, for JSON."""

from __future__ import annotations

from typing import Any

from evpack.outcome.commissioning import (
    AsBuiltCheck,
    CommissioningPlan,
    CommissioningStep,
    Proof,
)
from evpack.show.record_values import quantity_record


def plan_record(plan: CommissioningPlan) -> dict[str, Any]:
    """Return a plan; `steps` is empty where nothing may be switched on yet."""
    return {
        "title": plan.title,
        "verdict": plan.decision.verdict.value,
        "withheld": plan.withheld,
        "mark": plan.mark,
        "steps": [_step(step) for step in plan.steps],
    }


def as_built_record_of(check: AsBuiltCheck) -> dict[str, Any]:
    """Return a record held against its plan; what was read is a bool or a quantity."""
    return {
        "title": check.plan.title,
        "outcome": check.outcome.value,
        "by": check.record.by,
        "on": check.record.on,
        "note": check.record.note,
        "other_plan": check.other_plan,
        "left_over": list(check.record.left_over),
        "steps": [
            {
                **_step(proof.step),
                "came": proof.came.value,
                "read": _read(proof),
            }
            for proof in check.proofs
        ],
    }


def _read(proof: Proof) -> object:
    kind, written = proof.step.kind, proof.written
    if kind is None or written is None or isinstance(written, bool):
        return written
    return quantity_record(written, kind.unit)


def _step(step: CommissioningStep) -> dict[str, Any]:
    unit = "" if step.kind is None else step.kind.unit
    return {
        "key": step.key,
        "stage": step.stage,
        "title": step.title,
        "todo": step.todo,
        "why": step.why,
        "if_not": step.if_not,
        "device": step.device,
        "expected": step.expected,
        "low": None if step.low is None else quantity_record(step.low, unit),
        "high": None if step.high is None else quantity_record(step.high, unit),
        "later": step.later,
        "optional": step.optional,
    }
