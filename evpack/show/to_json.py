"""What evpack found, as plain data for other programs: one walk over the fields of the nouns.

A field's key and the unit of its plain numbers stand on the field (`base/told.py`); here stand only
the shapes that are no walk over one noun's fields. Every quantity is
``{"value": 56.8, "unit": "V"}`` and every series of them ``{"values": [56.8, 57.1], "unit": "V"}``;
what is not known or no finite number is null. A share (a state of charge, say) has the unit ``""``
and runs from 0 to 1. Keys are stable: they are only ever added to.
"""

from __future__ import annotations

import datetime as dt
import functools
import math
from collections.abc import Mapping
from collections.abc import Set as AbstractSet
from enum import Enum, StrEnum
from types import NoneType
from typing import Any

import attrs
import numpy as np
import pint

from evpack.base.finding import Finding, Severity
from evpack.base.units import Kind, kind_of
from evpack.base.version import VERSION
from evpack.base.worked import Worked
from evpack.describe.cabling import Conductor, Run
from evpack.describe.operation import Price
from evpack.outcome.ageing import Cycles, ModelAgeing
from evpack.outcome.commissioning import AsBuiltCheck, CommissioningPlan, CommissioningStep, Proof
from evpack.outcome.design import Decision, Design, UsableWindow
from evpack.outcome.draws import Chance, DrawnMargin, Draws
from evpack.outcome.groundwork import PackFigures
from evpack.outcome.identified import IdentifiedCell
from evpack.outcome.matching import GradedModule, Matching
from evpack.outcome.operation import OperationRun, Outcome
from evpack.outcome.protection import CableChoice, FuseChoice, ProtectionSchedule
from evpack.outcome.runs import FaultRun, SettingsTrial
from evpack.outcome.search import Candidate, Grown, Outgrown, Ranking, TradeOff, Way, WaysOut
from evpack.outcome.settings import Setting, SettingsSheet
from evpack.show.assumed import assumed_in
from evpack.show.cables import cables_of
from evpack.show.words import CAUTIONS

KEYS = ("verdict", "pack", "usable", "setpoints", "protection", "sharing", "findings", "about")
Told = dict[str, Any]
_ROWS = 200  # of a series: enough to draw, short enough to send
_EVENTS = 200  # so many are listed; the counts hold all

# --- The walk -------------------------------------------------------------------------------------


@functools.singledispatch
def to_json(noun: Any) -> Any:
    """Return a noun, or any value of one, as what `json.dumps` writes as it is.

    Raises
    ------
    TypeError
        For an object that is none of evpack's nouns and no value of one.
    """
    if attrs.has(type(noun)):
        return walked(noun)
    raise TypeError(f"{type(noun).__name__} is nothing that evpack tells")


def walked(noun: Any) -> Told:
    """Return the fields of a noun, each as its metadata says."""
    kind: type = type(noun)
    return {
        key: in_unit(rows(getattr(noun, name)) if series else getattr(noun, name), unit)
        for name, key, unit, series in _fields(kind)
    }


@functools.cache
def _fields(kind: type) -> tuple[tuple[str, str, str | None, bool], ...]:
    """Return name, key, unit of plain numbers and whether it is a series, field by field."""
    return tuple(
        (field.name, how.get("key") or field.name, how.get("unit"), how.get("series", False))
        for field in attrs.fields(kind)
        if not (how := field.metadata).get("inner")
    )


def in_unit(value: Any, unit: str | None) -> Any:
    """Return a value; its plain numbers are in a unit, or without one (None)."""
    if unit is None or value is None:
        return to_json(value)
    if isinstance(value, Mapping):
        return {str(key): in_unit(inner, unit) for key, inner in value.items()}
    if isinstance(value, tuple | np.ndarray):
        return {"values": to_json(value), "unit": unit}
    return {"value": number(value), "unit": unit}


def number(value: float | None) -> float | None:
    """Return a number without the noise of binary fractions; null if it is none."""
    if value is None or not math.isfinite(value):
        return None
    return float(f"{value:.10g}")


def rows(series: Any) -> Any:
    """Return a series with at most so many rows, the last one kept."""
    step = max(1, -(-len(series) // _ROWS))
    return series[::-step][::-1]


def by_name(lines: tuple[Worked, ...]) -> Told:
    """Return explained numbers by what they are called."""
    return {line.name: to_json(line) for line in lines}


to_json.register(float, number)


@to_json.register(NoneType)
@to_json.register(bool)
@to_json.register(int)
@to_json.register(str)
def _as_it_is(value: Any) -> Any:
    return value


@to_json.register(Severity)
@to_json.register(StrEnum)
def _word(value: Severity | StrEnum) -> str:
    return str(value)


@to_json.register
def _enum(value: Enum) -> Any:
    return value.value


@to_json.register
def _date(day: dt.date) -> str:
    return day.isoformat()


@to_json.register
def _price(price: Price) -> Told:
    return {"value": number(price.amount), "unit": f"{price.currency}/kWh"}


@to_json.register
def _kind(kind: Kind) -> str:
    return kind.unit


@to_json.register(pint.Quantity)
def _quantity(quantity: Any) -> Told:
    return {"value": number(float(quantity.m)), "unit": kind_of(quantity).unit}


@to_json.register
def _worked(worked: Worked) -> Told:
    return {"value": number(float(worked.value)), "unit": worked.unit}


@to_json.register(tuple)
@to_json.register(list)
def _several(values: Any) -> list[Any]:
    return [
        {"name": one.name, "quantity": to_json(one)} if isinstance(one, Worked) else to_json(one)
        for one in values
    ]


@to_json.register(AbstractSet)
def _set(values: AbstractSet[Any]) -> list[Any]:
    return sorted(to_json(one) for one in values)


@to_json.register(Mapping)
def _mapping(values: Mapping[Any, Any]) -> Told:
    return {str(key): to_json(value) for key, value in values.items()}


@to_json.register(np.ndarray)
def _array(values: Any) -> Any:
    return to_json(values.tolist())


@to_json.register
def _finding(finding: Finding) -> Told:
    """Return a finding; value, limit, margin and guarded are numbers in `unit`."""
    rule = finding.rule
    return {
        "rule": rule.key,
        **walked(finding),
        "unit": finding.unit,
        "says": rule.says,
        "stands": str(finding.standing),
        "clause": rule.clause,
        "source": rule.source,
    }


# --- A decision -----------------------------------------------------------------------------------


@to_json.register
def _decision(decision: Decision) -> Told:
    """Return the keys of `KEYS`, in that order.

    `usable`, `setpoints`, `protection` and `sharing` are null where that part could not be worked
    out or does not apply.
    """
    design, protection = decision.design, decision.design.protection
    solar = {"solar": to_json(design.solar)}
    return {
        "verdict": str(decision.verdict),
        "pack": _pack(design),
        "usable": to_json(design.usable),
        "setpoints": to_json(design.settings),
        "protection": None if protection is None else to_json(protection) | solar,
        "sharing": to_json(design.sharing),
        "findings": to_json(design.findings),
        "about": _about(design),
    }


def _pack(design: Design) -> Told:
    pack, figures = design.build.pack, design.figures
    none = dict.fromkeys(key for _, key, _, _ in _fields(PackFigures))
    return {
        "title": design.build.title,
        "module": pack.module.name,
        "chemistry": pack.module.chemistry.name,
        "modules_in_series": pack.modules_in_series,
        "strings": pack.strings,
        **(none if figures is None else walked(figures)),
        "modules": pack.modules,
        "cells_in_series": pack.cells_in_series,
    }


@to_json.register
def _usable(usable: UsableWindow) -> Told:
    between = {
        name: [in_unit(end, "" if name == "share" else "Wh") for end in band]
        for name, band in usable.bands.items()
    }
    return {**walked(usable), "between": between}


@to_json.register
def _sheet(sheet: SettingsSheet) -> list[Told]:
    """Return device by device; of a sheet that is `withheld` there is nothing to act on."""
    nothing = {"act": "withheld", "why": ""} if sheet.withheld else {}
    return [
        {
            "device": device.device,
            "withheld": sheet.withheld,
            "lines": [to_json(line) | nothing for line in device.lines],
        }
        for device in sheet.devices
    ]


@to_json.register
def _setting(line: Setting) -> Told:
    return {"key": line.name.name.lower().replace("_", "-"), **walked(line)}


def _about(design: Design) -> Told:
    """Return what a program that passes the numbers on must be able to pass on with them."""
    assumed = assumed_in(design)
    both = [(row, True) for row in assumed.confirm] + [(row, False) for row in assumed.stand_in]
    return {
        "evpack": VERSION,
        "title": design.build.title,
        "invented": design.build.invented,
        "assumed": [
            {"of": row.of, "what": row.what, "taken": row.value, "confirm": confirm}
            for row, confirm in both
        ],
        "caution": CAUTIONS[0],
        "stated": to_json(design.build),
    }


# --- Protection: of a schedule that is `withheld` nothing may be bought or built ------------------


@to_json.register
def _schedule(schedule: ProtectionSchedule) -> Told:
    return {
        **walked(schedule),
        "cables": [
            {
                **to_json(cable),
                "from": None if circuit is None else circuit.source,
                "to": None if circuit is None else circuit.end,
            }
            for cable, circuit in cables_of(schedule)
        ],
    }


@to_json.register
def _fuse(fuse: FuseChoice) -> Told:
    family = fuse.family
    return {
        **walked(fuse),
        "family": None if family is None else family.key,
        "name": None if family is None else family.name,
        "kind": None if family is None else family.kind,
    }


@to_json.register
def _cable(cable: CableChoice) -> Told:
    return {
        **walked(cable),
        "run": None if cable.run is None else _run(cable.run),
        "smallest": None if cable.smallest is None else _conductor(cable.smallest),
    }


def _run(run: Run) -> Told:
    return {
        **_conductor(run.conductor),
        "left_open": run.left_open,
        "length": to_json(run.length),
        "parallel": run.parallel,
    }


def _conductor(conductor: Conductor) -> Told:
    return {"size": conductor.size, "area": in_unit(conductor.area, "mm²")}


# --- Commissioning --------------------------------------------------------------------------------


@to_json.register
def _plan(plan: CommissioningPlan) -> Told:
    """Return a plan; `steps` is empty where nothing may be switched on yet."""
    return {
        "title": plan.title,
        "verdict": str(plan.decision.verdict),
        "withheld": plan.withheld,
        "mark": plan.mark,
        **walked(plan),
    }


@to_json.register
def _as_built(check: AsBuiltCheck) -> Told:
    record = check.record
    return {
        "title": check.plan.title,
        "outcome": str(check.outcome),
        "by": record.by,
        "on": record.on,
        "note": record.note,
        "other_plan": check.other_plan,
        "left_over": to_json(record.left_over),
        **walked(check),
    }


@to_json.register
def _proof(proof: Proof) -> Told:
    """Return a step with what was read: yes or no, or a quantity."""
    kind, written = proof.step.kind, proof.written
    unit = None if kind is None or isinstance(written, bool) else kind.unit
    return {**to_json(proof.step), "came": str(proof.came), "read": in_unit(written, unit)}


@to_json.register
def _step(step: CommissioningStep) -> Told:
    unit = "" if step.kind is None else step.kind.unit
    bounds = {"low": in_unit(step.low, unit), "high": in_unit(step.high, unit)}
    return {**walked(step), "expected": step.expected, **bounds}


# --- Heaps ----------------------------------------------------------------------------------------


@to_json.register
def _matching(matching: Matching) -> Told:
    batch = matching.batch
    return {"title": batch.title, "invented": batch.invented, **walked(matching)}


@to_json.register
def _graded(graded: GradedModule) -> Told:
    module = graded.module
    return {
        "name": module.name,
        "capacity": to_json(module.capacity),
        "resistance": to_json(module.resistance),
        **walked(graded),
    }


# --- Searches -------------------------------------------------------------------------------------


@to_json.register(Ranking)
@to_json.register(TradeOff)
def _priced(found: Ranking | TradeOff) -> Told:
    """Prices are in the money of the search."""
    record = {"title": found.build.title, **walked(found)}
    for key in ("candidates", "front", "others"):
        for candidate in record.get(key, ()):
            for price in ("stranded_worth", "price", "cost"):
                if candidate[price] is not None:
                    candidate[price]["unit"] = found.money
    return record


@to_json.register
def _candidate(candidate: Candidate) -> Told:
    """Return a candidate, its years as they are told: already rounded down."""
    life = candidate.life
    years = None if life is None else {"least": number(life[0]), "most": number(life[1])}
    return {**walked(candidate), "life": None if years is None else years | {"unit": "years"}}


@to_json.register
def _ways(found: WaysOut) -> Told:
    by_held = [{"held": to_json(h), "ways": to_json(ways)} for h, ways in found.one_by_one]
    return {"title": found.build.title, **walked(found), "one_by_one": by_held}


@to_json.register
def _way(way: Way) -> Told:
    return {"says": way.says, **walked(way)}


@to_json.register
def _grown(grown: Grown) -> Told:
    return {"title": grown.build.title, **walked(grown)}


@to_json.register
def _outgrown(part: Outgrown) -> Told:
    sizes = {"now": in_unit(part.now, part.unit), "then": in_unit(part.then, part.unit)}
    return {**walked(part), **sizes}


# --- Runs, ageing, draws --------------------------------------------------------------------------


@to_json.register
def _fault_run(run: FaultRun) -> Told:
    events = [{"at": in_unit(at, "s"), "what": words} for at, words in run.events]
    return {**walked(run), "events": events, "numbers": by_name(run.numbers)}


@to_json.register
def _operation(run: OperationRun) -> Told:
    record = walked(run)
    if run.outcome is not None and run.outcome.saved is not None:
        record["outcome"]["money_saved"]["unit"] = run.currency
    return record


@to_json.register
def _outcome(came: Outcome) -> Told:
    events = to_json(came.events[:_EVENTS])
    return {**walked(came), "energies": by_name(came.energies), "events": events}


@to_json.register
def _trial(trial: SettingsTrial) -> Told:
    return {**walked(trial), "holds": trial.holds}


@to_json.register
def _cycles(cycles: Cycles) -> Told:
    depth = in_unit(cycles.mean_depth, "")
    return {**walked(cycles), "full_cycles": number(cycles.full_cycles), "mean_depth": depth}


@to_json.register
def _model(one: ModelAgeing) -> Told:
    model = one.model
    return {"model": model.key, "name": model.name, "source": model.source, **walked(one)}


@to_json.register
def _draws(draws: Draws) -> Told:
    scatter = draws.scatter
    return {
        **walked(draws),
        "scatter": {name: to_json(getattr(scatter, name)) for name in scatter.drawn},
        "verdicts": {one.what: to_json(one) for one in draws.verdicts},
        "numbers": {one.name: to_json(one) for one in draws.numbers},
    }


@to_json.register
def _chance(chance: Chance) -> Told:
    return {**walked(chance), "share": in_unit(chance.share, "")}


@to_json.register
def _margin(one: DrawnMargin) -> Told:
    """Return margins as numbers in `unit`, as those of a finding."""
    return {"rule": one.rule.key, **walked(one), "unit": one.unit}


@to_json.register
def _cell(cell: IdentifiedCell) -> Told:
    """Return all that a simulator needs."""
    curve, ohms = cell.curve, cell.resistance
    return {
        **walked(cell),
        "soc": in_unit(curve.soc, ""),
        "ocv": in_unit(curve.volts, "V"),
        "resistance_soc": in_unit(ohms.soc, ""),
        "resistance": in_unit(ohms.ohms, "Ω"),
    }
