"""Runs as plain data, for JSON: keys in words, currents as lists in A, times in s."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from evpack.outcome.runs import FaultRun, SharedRun, SharingRun
from evpack.show.record import finding_record
from evpack.show.record_values import number_record, quantity_record, worked_record

_ROWS = 200  # of a series: enough to draw, short enough to send


def sharing_run_record(run: SharingRun) -> dict[str, Any]:
    """Return a run of sharing strings, its series thinned to some 200 rows."""
    return {
        "title": run.title,
        "invented": run.invented,
        "strings": run.strings,
        "power": worked_record(run.power),
        "charge_current": worked_record(run.charge_current),
        "cases": [
            {
                "name": case.name,
                "says": case.says,
                "usual": case.usual,
                "strings": case.strings,
                "discharge": _shared(case.discharge),
                "charge": _shared(case.charge),
            }
            for case in run.cases
        ],
        "findings": [finding_record(finding) for finding in run.findings],
        "assumed": list(run.assumed),
    }


def _shared(run: SharedRun) -> dict[str, Any]:
    return {
        "early": [number_record(amps) for amps in run.early],
        "late": [number_record(amps) for amps in run.late],
        "worst": worked_record(run.worst),
        "busiest": run.busiest,
        "at": quantity_record(run.at, "s"),
        "against_even": worked_record(run.uneven),
        "apart": quantity_record(run.apart, ""),
        "ended_by": run.ended_by,
        "time": _thin(run.time),
        "current": _thin(run.current),
        "soc": _thin(run.soc),
        "load": _thin(run.load),
        "volts": _thin(run.volts),
        "charge_unaccounted": number_record(run.charge_lost),
        "energy_unaccounted": number_record(run.energy_lost),
    }


def fault_run_record(run: FaultRun) -> dict[str, Any]:
    """Return a fault in time, its series whole up to some 200 rows."""
    return {
        "title": run.title,
        "invented": run.invented,
        "kind": run.kind,
        "says": run.says,
        "events": [{"at": quantity_record(at, "s"), "what": words} for at, words in run.events],
        "numbers": {worked.name: worked_record(worked) for worked in run.numbers},
        "time": _thin(run.time),
        "current": _thin(run.current),
        "load": _thin(run.load),
        "volts": _thin(run.volts),
        "findings": [finding_record(finding) for finding in run.findings],
        "assumed": list(run.assumed),
    }


def _thin(series: NDArray[np.float64]) -> list[Any]:
    """Return a series with at most so many rows, the last one kept."""
    step = max(1, -(-len(series) // _ROWS))
    rows = series[::-step][::-1]
    if rows.ndim == 1:
        return [number_record(float(value)) for value in rows]
    return [[number_record(float(value)) for value in row] for row in rows]
