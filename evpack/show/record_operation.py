"""A pack at work as plain data, for JSON: keys in words, energies in Wh, times in s."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import attrs

from evpack.outcome.operation import OperationRun, OutageRun, Outcome
from evpack.show.record import finding_record
from evpack.show.record_values import number_record, quantity_record, worked_record

_EVENTS = 200  # so many are listed; the counts hold all


def operation_record(run: OperationRun) -> dict[str, Any]:
    """Return a run: energies, counts, hours, each day, findings; its rows are left out."""
    return {
        "title": run.title,
        "invented": run.invented,
        "mode": run.mode,
        "first_day": run.first_day,
        "step": quantity_record(run.step, "s"),
        "length": quantity_record(run.length, "s"),
        "thresholds": {name: quantity_record(v, "V") for name, v in run.thresholds.items()},
        "outcome": None if run.outcome is None else _outcome(run, run.outcome),
        "findings": [finding_record(finding) for finding in run.findings],
        "assumed": list(run.assumed),
    }


def _outcome(run: OperationRun, came: Outcome) -> dict[str, Any]:
    saved = came.saved
    hunting = came.hunting
    return {
        "energies": {worked.name: worked_record(worked) for worked in came.energies},
        "served": worked_record(came.served),
        "own": worked_record(came.own),
        "money_saved": None if saved is None else quantity_record(saved.value, run.currency),
        "full_cycles": number_record(came.cycles),
        "counts": dict(came.counts),
        "events": [
            {
                "at": quantity_record(event.time, "s"),
                "what": event.what,
                "volts": quantity_record(event.volts, "V"),
            }
            for event in came.events[:_EVENTS]
        ],
        "hunting": {
            "times": hunting.times,
            "gap": quantity_record(hunting.gap, "V"),
            "foretold": quantity_record(hunting.foretold, "V"),
            "rise_seen": quantity_record(hunting.seen, "V"),
        },
        "days": {
            field.name: _numbers(getattr(came.daily, field.name))
            for field in attrs.fields(type(came.daily))
        },
        "hours_by_state_of_charge": _numbers(came.soc_hours),
        "hours_by_temperature": _numbers(came.celsius_hours),
        "highest_cell": quantity_record(came.highest_cell, "V"),
        "lowest_cell": quantity_record(came.lowest_cell, "V"),
        "coldest": quantity_record(came.coldest, "°C"),
        "hottest": quantity_record(came.hottest, "°C"),
        "longest_not_full": quantity_record(came.longest_not_full, "s"),
        "overloaded": quantity_record(came.overloaded, "s"),
        "charge_unaccounted": number_record(came.charge_lost),
        "energy_unaccounted": number_record(came.energy_lost),
    }


def outage_record(run: OutageRun) -> dict[str, Any]:
    """Return how long the pack lasts alone, start by start."""
    return {
        "title": run.title,
        "starts": _numbers(run.starts),
        "hours": _numbers(run.hours),
        "state_of_charge": _numbers(run.soc),
        "most": quantity_record(run.most, "h"),
    }


def _numbers(values: Sequence[float] | Any) -> list[float | None]:
    return [number_record(float(value)) for value in values]
