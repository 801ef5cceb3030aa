"""The plan of commissioning: every stage in the order of safe work."""

from __future__ import annotations

import attrs

from evpack.commission.before import JOINTS, limits, modules, parts
from evpack.commission.closing import closing
from evpack.commission.live import charge, discharge, later
from evpack.commission.settled import monitoring, settings
from evpack.commission.steps import own_keys
from evpack.outcome.commissioning import CommissioningPlan
from evpack.outcome.design import Decision, Design

# Common practice, no source: look, measure, prove what protects, set, close, charge, draw.
_STAGES = (parts, modules, monitoring, settings, closing, charge, discharge, later)


def plan_of(decision: Decision) -> CommissioningPlan:
    """Return what is to be proven of a design; nothing where it may not be built."""
    if not decision.go:
        return CommissioningPlan(decision=decision, steps=())
    steps = [*limits(decision)]
    for stage in _STAGES:
        steps += stage(decision.design)
    parts_there = hardware(decision.design)
    steps = [
        step if _by_itself(step.key) else attrs.evolve(step, rests_on=parts_there) for step in steps
    ]
    return CommissioningPlan(decision=decision, steps=own_keys(steps))


def _by_itself(key: str) -> bool:
    """Return whether a step names all that it is about: a limit, a part, an entry."""
    return key.startswith(("limits.", "parts.", "settings.")) and key != JOINTS


def hardware(design: Design) -> str:
    """Return the parts of a design as a text: with other parts, what was proven is so no longer."""
    build, schedule = design.build, design.protection
    pack = build.pack
    told = [f"{pack.strings} × {pack.modules_in_series} {pack.module.name}"]
    told += [f"{inverter.count} {inverter.name}" for inverter in build.inverters]
    told += [f"{charger.count} {charger.name}" for charger in build.all_chargers]
    runs = [build.cabling.link]
    if schedule is not None:
        runs += [circuit.run for circuit in schedule.circuits]
        told += [f"{fuse.count} {fuse.place} {fuse.size}" for fuse in schedule.fuses]
        told += [f"{need.count} {need.what} {need.must}" for need in schedule.needs]
    told += [
        f"{run.name} {run.parallel} {run.conductor.size} {run.length.m} {run.shortest_part}"
        for run in runs
        if run is not None
    ]
    return "; ".join(told)
