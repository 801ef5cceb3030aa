"""The plan of commissioning: every stage in the order of safe work."""

from __future__ import annotations

from evpack.commission.before import modules, parts
from evpack.commission.live import charge, closing, discharge, later
from evpack.commission.settled import monitoring, settings
from evpack.commission.steps import own_keys
from evpack.outcome.commissioning import CommissioningPlan
from evpack.outcome.design import Decision

# Common practice, no source: look, measure, prove what protects, set, close, charge, draw.
_STAGES = (parts, modules, monitoring, settings, closing, charge, discharge, later)


def plan_of(decision: Decision) -> CommissioningPlan:
    """Return what is to be proven of a design; nothing where it may not be built."""
    steps = (step for stage in _STAGES for step in stage(decision.design)) if decision.go else ()
    return CommissioningPlan(decision=decision, steps=own_keys(steps))
