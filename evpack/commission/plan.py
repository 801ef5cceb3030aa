"""The plan of commissioning: every stage in the order of safe work."""

from __future__ import annotations

import attrs

from evpack.commission.around import around
from evpack.commission.before import JOINTS, limits, modules, parts
from evpack.commission.closing import closing
from evpack.commission.hardware import hardware
from evpack.commission.high_voltage import has_middle
from evpack.commission.live import charge, discharge, first_hour, later
from evpack.commission.settled import monitoring, settings
from evpack.commission.steps import ISOLATE, ISOLATE_HIGH, own_keys
from evpack.commission.stops import stops
from evpack.commission.sunlit import array
from evpack.outcome.commissioning import CommissioningPlan, CommissioningStep
from evpack.outcome.design import Decision

# Common practice, no source: look and measure while nothing is joined; prove the disconnect and the
# polarity before a device is joined; set before anything charges; join the array last; prove what
# stops the pack at a low current; then charge and draw.
_BEFORE = (parts, around, modules, monitoring, closing, settings, array)
_STAGES = (*_BEFORE, first_hour, stops, charge, discharge, later)


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
