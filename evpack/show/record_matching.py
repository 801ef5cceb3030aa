"""A heap of modules as plain data, for JSON; its keys are documented in the README."""

from __future__ import annotations

from typing import Any

from evpack.outcome.matching import GradedModule, Grouping, JoinStep, Matching
from evpack.show.record import finding_record
from evpack.show.record_values import quantity_record, worked_record


def matching_record(matching: Matching) -> dict[str, Any]:
    """Return a matching: ``modules``, ``grouping``, ``compared``, ``joining``, ``findings``."""
    plan = matching.join
    return {
        "title": matching.batch.title,
        "invented": matching.batch.invented,
        "modules": [_graded(graded) for graded in matching.graded],
        "grouping": None if matching.grouping is None else _grouping(matching.grouping),
        "compared": [_grouping(grouping) for grouping in matching.naive],
        "joining": None
        if plan is None
        else {
            "limit": worked_record(plan.limit),
            "steps": [_step(step) for step in plan.steps],
            "pairs": [_step(step) for step in plan.pairs],
        },
        "findings": [finding_record(finding) for finding in matching.findings],
    }


def _graded(graded: GradedModule) -> dict[str, Any]:
    module = graded.module
    capacity, ohms = module.capacity, module.resistance
    return {
        "name": module.name,
        "grade": str(graded.grade),
        "capacity": quantity_record(None if capacity is None else float(capacity.m), "Ah"),
        "resistance": quantity_record(None if ohms is None else float(ohms.m), "Ω"),
        "health": worked_record(graded.health),
        "resistance_ratio": worked_record(graded.resistance_ratio),
        "spread": worked_record(graded.spread),
        "imbalance": worked_record(graded.imbalance),
        "drift": worked_record(graded.drift),
        "self_discharge": worked_record(graded.self_discharge),
        "weakest": graded.weakest,
        "odd": list(graded.odd),
        "reasons": list(graded.reasons),
    }


def _grouping(grouping: Grouping) -> dict[str, Any]:
    return {
        "method": grouping.method,
        "strings": [list(names) for names in grouping.strings],
        "spares": list(grouping.spares),
        "capacity": quantity_record(grouping.capacity, "Ah"),
        "energy": quantity_record(grouping.energy, "Wh"),
        "worst_share": quantity_record(grouping.worst_share, ""),
        "resistance_spread": quantity_record(grouping.resistance_spread, ""),
        "gap": quantity_record(grouping.gap, ""),
    }


def _step(step: JoinStep) -> dict[str, Any]:
    return {
        "of": list(step.names),
        "do": step.do,
        "target": worked_record(step.target),
        "current": worked_record(step.current),
        "charge": worked_record(step.charge),
        "heat": worked_record(step.heat),
        "time_constant": worked_record(step.tau),
    }
