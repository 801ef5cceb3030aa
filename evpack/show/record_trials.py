"""Ageing, trials, draws and identified cells as plain data, for JSON."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from evpack.base.units import kind_of
from evpack.outcome.ageing import Ageing, Cycles, YearsRange
from evpack.outcome.draws import Chance, Draws
from evpack.outcome.identified import IdentifiedCell
from evpack.outcome.runs import SettingsTrial
from evpack.show.record import finding_record
from evpack.show.record_values import number_record, quantity_record, worked_record

_ROWS = 200  # of a series: enough to draw, short enough to send


def ageing_record(ageing: Ageing) -> dict[str, Any]:
    """Return how long the cells last; years are in s, losses shares of today's capacity."""
    lower = ageing.lower
    return {
        "title": ageing.title,
        "invented": ageing.invented,
        "chemistry": ageing.chemistry,
        "end": quantity_record(ageing.end, ""),
        "years": _range(ageing.years),
        "cycles": None if ageing.cycles is None else cycles_record(ageing.cycles),
        "through": worked_record(ageing.through),
        "warmth": quantity_record(ageing.warmth, "°C"),
        "models": [
            {
                "model": one.model.key,
                "name": one.model.name,
                "source": one.model.source,
                "first_year": worked_record(one.first),
                "resting": worked_record(one.resting),
                "cycling": worked_record(one.cycling),
                "years": worked_record(one.years),
                "losses": [number_record(float(loss)) for loss in one.losses],
            }
            for one in ageing.models
        ],
        "grid": [number_record(float(year)) for year in ageing.grid],
        "lower_target": None
        if lower is None
        else {
            "target": worked_record(lower.target),
            "as_before": lower.as_before,
            "years": _range(lower.years),
            "gained": worked_record(lower.gained),
            "given_up": worked_record(lower.given_up),
        },
        "findings": [finding_record(finding) for finding in ageing.findings],
        "assumed": list(ageing.assumed),
    }


def _range(years: YearsRange | None) -> dict[str, Any] | None:
    if years is None:
        return None
    return {"least": worked_record(years.least), "most": worked_record(years.most)}


def cycles_record(cycles: Cycles) -> dict[str, Any]:
    """Return counted cycles in a few numbers."""
    return {
        "hours": number_record(cycles.hours),
        "full_cycles": number_record(cycles.full_cycles),
        "mean_depth": quantity_record(cycles.mean_depth, ""),
    }


def trial_record(trial: SettingsTrial) -> dict[str, Any]:
    """Return every attempt, its series thinned to some 200 rows."""
    return {
        "title": trial.title,
        "invented": trial.invented,
        "holds": trial.holds,
        "runs": [
            {
                "name": run.name,
                "says": run.says,
                "reached": worked_record(run.reached),
                "limit": quantity_record(run.limit, "V"),
                "time": _thin(run.time),
                "volts": _thin(run.volts),
                "cell": _thin(run.cell),
            }
            for run in trial.runs
        ],
        "findings": [finding_record(finding) for finding in trial.findings],
        "assumed": list(trial.assumed),
    }


def draws_record(draws: Draws) -> dict[str, Any]:
    """Return what became of the draws."""
    scatter = draws.scatter
    return {
        "title": draws.title,
        "invented": draws.invented,
        "count": draws.count,
        "seed": draws.seed,
        "scatter": {
            name: quantity_record(float(held.m), kind_of(held).unit)
            for name in scatter.drawn
            if (held := getattr(scatter, name)) is not None
        },
        "stated": draws.stated,
        "no_go": _chance(draws.no_go),
        "verdicts": {one.what: _chance(one) for one in draws.verdicts},
        "numbers": {
            one.name: {
                "unit": one.kind.unit,
                **{name: number_record(getattr(one, name)) for name in ("low", "middle", "high")},
                "stated": number_record(one.stated),
                "less": one.less,
                "of": one.of,
            }
            for one in draws.numbers
        },
        "uneven": None if draws.uneven is None else _chance(draws.uneven),
        "findings": [
            {
                "rule": one.rule.key,
                "about": one.about,
                "worst": str(one.worst),
                "held": _chance(one.held),
                "unit": one.unit,
                **{name: number_record(getattr(one, name)) for name in ("low", "middle", "high")},
            }
            for one in draws.margins
        ],
    }


def _chance(chance: Chance) -> dict[str, Any]:
    return {
        "times": chance.times,
        "of": chance.of,
        "share": number_record(chance.share),
        "at_most": number_record(chance.at_most),
        "at_least": number_record(chance.at_least),
    }


def identified_record(cell: IdentifiedCell) -> dict[str, Any]:
    """Return a cell that was identified: all that a simulator needs."""
    return {
        "name": cell.name,
        "source": cell.source,
        **{
            name: quantity_record(float(held.m), kind_of(held).unit)
            for name in ("capacity", "error", "error_over_time", "error_whole", "error_most")
            if (held := getattr(cell, name)) is not None
        },
        "soc": _all(cell.curve.soc),
        "ocv": _all(cell.curve.volts),
        "resistance_soc": _all(cell.resistance.soc),
        "resistance": _all(cell.resistance.ohms),
        "branches": [
            {
                "resistance": quantity_record(float(one.resistance.m), "Ω"),
                "time_constant": quantity_record(float(one.time_constant.m), "s"),
            }
            for one in cell.branches
        ],
        "notes": list(cell.notes),
    }


def _all(values: NDArray[np.float64]) -> list[float | None]:
    return [number_record(float(value)) for value in values]


def _thin(values: NDArray[np.float64]) -> list[float | None]:
    """Return a series with at most so many rows, the last one kept."""
    step = max(1, -(-len(values) // _ROWS))
    return _all(values[::-step][::-1])
