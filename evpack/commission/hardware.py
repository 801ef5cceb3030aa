"""The parts of a design told as a text: with other parts, what was proven is so no longer."""

from __future__ import annotations

from typing import Any

import attrs
import pint

from evpack.describe.cabling import Busbar
from evpack.describe.charger import Charger
from evpack.describe.fuses import FuseFamily
from evpack.describe.inverter import Inverter
from evpack.describe.module import Module
from evpack.outcome.design import Design

# How a value is known, and where a person finds it, makes no other part of it.
_NEVER = frozenset({"basis", "confirmed", "note", "where", "available", "resistance_method"})
# Nor does what is measured of the part that is there: the list itself asks to write these down.
# Of a chemistry the name tells enough, and curves are long.
_LEFT_OUT: dict[type, frozenset[str]] = {
    Module: frozenset(
        {
            *("resistance", "resistance_temperature", "resistance_soc", "resistance_curve"),
            *("imbalance_full", "imbalance_empty", "lowest_group", "weakest_group"),
            *("ocv", "chemistry"),
        }
    ),
    Inverter: frozenset({"meter_accuracy"}),
    Charger: frozenset({"accuracy", "kept_off"}),  # told by itself, where one is kept off
    FuseFamily: frozenset({"source"}),
    Busbar: frozenset({"source", "conditions"}),
}


def described(thing: Any) -> str:
    """Return what is described of a part as a text, value by value, without how it is known."""
    match thing:
        case pint.Quantity():
            return f"{float(thing.m):.9g}"
        case _ if attrs.has(type(thing)):
            left_out = _NEVER | _LEFT_OUT.get(type(thing), frozenset())
            told = (
                f"{field.name}={described(getattr(thing, field.name))}"
                for field in attrs.fields(type(thing))
                if field.name not in left_out
            )
            return f"{type(thing).__name__}({', '.join(told)})"
        case _:
            return str(thing)


def hardware(design: Design) -> str:
    """Return the parts of a design as a text that nobody reads."""
    build, schedule = design.build, design.protection
    pack, module = build.pack, build.pack.module
    told = [f"{pack.strings} × {pack.modules_in_series}, earthed: {pack.earthed}"]
    told += [f"{module.chemistry.name} {described(module.highest)} {described(module.least)}"]
    parts = (module, pack.monitoring, *build.inverters, *build.chargers, *build.solar_arrays)
    told += map(described, (*parts, build.safeguards, build.cabling.bar))
    told += [f"{charger.name} {charger.kept_off}" for charger in build.kept_off]
    runs = [build.cabling.link]
    if schedule is not None:
        runs += [circuit.run for circuit in schedule.circuits]
        for fuse in schedule.fuses:
            told.append(f"{fuse.count} {fuse.place} {fuse.size} {described(fuse.family)}")
        told += [f"{need.count} {need.what} {need.must}" for need in schedule.needs]
    told += [
        f"{run.name} {run.parallel} {run.conductor.size} {run.length.m} {run.shortest_part}"
        for run in runs
        if run is not None
    ]
    return "; ".join(told)


def guards(design: Design) -> str:
    """Return the devices that a person operates to make the pack safe, and the bars."""
    fitted = design.build.safeguards
    parts = (fitted.disconnect, fitted.emergency_off, fitted.precharge, design.build.cabling.bar)
    return "; ".join(map(described, parts))


def device(design: Design, name: str) -> str:
    """Return the device of a settings sheet; what is no inverter and no charger is monitoring."""
    build = design.build
    found: dict[str, object] = {charger.name: charger for charger in build.chargers}
    for inverter in build.inverters:
        found[inverter.name] = inverter
        if isinstance(inverter.charger, Charger):  # it is in the same box
            found[inverter.charger.name] = inverter
    return described(found.get(name, build.pack.monitoring))
