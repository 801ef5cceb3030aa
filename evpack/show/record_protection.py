"""The protection schedule as plain data, for other programs."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from evpack.base.worked import Worked
from evpack.describe.cabling import Conductor, Run
from evpack.outcome.design import SolarSide
from evpack.outcome.protection import (
    CableChoice,
    CableTest,
    Circuit,
    FaultBand,
    FuseChoice,
    Need,
    PartLine,
    PrechargePlan,
    ProtectionSchedule,
)
from evpack.show.protection_words import cables_of
from evpack.show.record_values import quantity_record, worked_record


def protection_record(
    schedule: ProtectionSchedule, solar: Sequence[SolarSide] = ()
) -> dict[str, Any]:
    """Return the schedule; of one that is `withheld` nothing may be bought or built.

    Areas are in mm², which no other quantity here has.
    """
    return {
        "withheld": schedule.withheld,
        "fuses": [_fuse(fuse) for fuse in schedule.fuses],
        "faults": [_fault(band) for band in schedule.faults],
        "circuits": [_circuit(circuit) for circuit in schedule.circuits],
        "cables": [_cable(cable, circuit) for cable, circuit in cables_of(schedule)],
        "needs": [_need(need) for need in schedule.needs],
        "precharge": [_precharge(plan) for plan in schedule.precharge],
        "solar": [_solar(side) for side in solar],
        "parts": [_part(part) for part in schedule.parts],
    }


def _fuse(fuse: FuseChoice) -> dict[str, Any]:
    family = fuse.family
    return {
        "place": fuse.place,
        "count": fuse.count,
        "size": quantity_record(fuse.size, "A"),
        "family": None if family is None else family.key,
        "name": None if family is None else family.name,
        "kind": None if family is None else family.kind,
        "lower": worked_record(fuse.lower),
        "upper": worked_record(fuse.upper),
        "voltage": worked_record(fuse.voltage),
        "interrupting": worked_record(fuse.interrupting),
        "reason": fuse.reason,
        "change": fuse.change,
    }


def _fault(band: FaultBand) -> dict[str, Any]:
    return {
        "place": band.place,
        "low": worked_record(band.low),
        "high": worked_record(band.high),
        "time_constant": worked_record(band.time_constant),
        "assumed": band.assumed,
    }


def _circuit(circuit: Circuit) -> dict[str, Any]:
    return {
        "place": circuit.place,
        "kind": circuit.kind,
        "from": circuit.source,
        "to": circuit.end,
        "count": circuit.count,
        "carries": worked_record(circuit.carries),
        "surge": worked_record(circuit.surge),
        "least_fault": worked_record(circuit.least_fault),
        "needs_fuse": circuit.needs_fuse,
        "no_fuse": circuit.no_fuse,
    }


def _cable(cable: CableChoice, circuit: Circuit | None) -> dict[str, Any]:
    return {
        "place": cable.place,
        "from": None if circuit is None else circuit.source,
        "to": None if circuit is None else circuit.end,
        "count": cable.count,
        "run": None if cable.run is None else _run(cable.run),
        "tests": [_test(test) for test in cable.tests],
        "smallest": None if cable.smallest is None else _conductor(cable.smallest),
        "decided_by": cable.decided_by,
        "reason": cable.reason,
    }


def _run(run: Run) -> dict[str, Any]:
    return {
        **_conductor(run.conductor),
        "left_open": run.left_open,
        "length": quantity_record(float(run.length.m), "m"),
        "parallel": run.parallel,
    }


def _conductor(conductor: Conductor) -> dict[str, Any]:
    return {"size": conductor.size, "area": quantity_record(conductor.area, "mm²")}


def _test(test: CableTest) -> dict[str, Any]:
    return {
        "name": test.name,
        "passes": test.passes,
        "quantity": worked_record(test.value),
        "limit": worked_record(test.limit),
        "at_least": test.at_least,
    }


def _named(lines: Sequence[Worked]) -> list[dict[str, Any]]:
    return [{"name": line.name, "quantity": worked_record(line)} for line in lines]


def _need(need: Need) -> dict[str, Any]:
    return {
        "what": need.what,
        "count": need.count,
        "lines": _named(need.lines),
        "must": list(need.must),
        "stated": need.stated,
    }


def _precharge(plan: PrechargePlan) -> dict[str, Any]:
    return {
        "inverter": plan.inverter,
        "count": plan.count,
        "with_it": _named(plan.with_it),
        "without": _named(plan.without),
        "stated": plan.stated,
        "reason": plan.reason,
    }


def _solar(side: SolarSide) -> dict[str, Any]:
    return {
        "array": side.array,
        "charger": side.charger,
        **{
            name: worked_record(getattr(side, name))
            for name in ("cold_open", "hot_working", "short", "rated", "real", "into_battery")
        },
    }


def _part(part: PartLine) -> dict[str, Any]:
    return {
        "function": part.function,
        "rating": part.rating,
        "count": part.count,
        "metres": quantity_record(part.metres, "m"),
        "note": part.note,
    }
