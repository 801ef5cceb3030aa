"""Small makers of steps, and what a step rests on: the parts and numbers of the design."""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import Any

import attrs
import pint

from evpack.base.units import Kind
from evpack.base.worked import Worked
from evpack.describe.cabling import Busbar
from evpack.describe.charger import Charger
from evpack.describe.inverter import Inverter
from evpack.describe.module import Module
from evpack.describe.safeguards import FuseFamily
from evpack.outcome.commissioning import CommissioningStep
from evpack.outcome.design import Design

# Before a tool or a hand goes to a joint of a pack that was joined. Common practice, no source.
ISOLATE = (
    "Loads and sources off, the disconnect open, the string fuses out, an insulated tool, one pole "
    "at a time: the modules stay live."
)
# The same of strings that are dangerous to touch, which come apart in the middle.
ISOLATE_HIGH = (
    "Loads and sources off, the disconnect open, the string fuses out, then the link in the middle "
    "of each string, gloves and face shield on, an insulated tool, one pole at a time: the modules "
    "stay live."
)
# After a threshold that was moved to see it act.
SET_BACK = "Set it back, and read it back."

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


class Stage:
    """Makes the steps of one stage: `key` is its table in the record, `name` its heading."""

    def __init__(self, key: str, name: str, *, later: bool = False) -> None:
        self._key, self._name, self._later = key, name, later

    def asks(
        self,
        key: str,
        title: str,
        todo: str,
        why: str = "",
        if_not: str = "",
        *,
        device: str = "",
        worked: Worked | None = None,
    ) -> CommissioningStep:
        """Return a question whose good answer is yes; `worked` is a number that it tells."""
        return self._step(
            key, title=title, todo=todo, why=why, if_not=if_not, device=device, worked=worked
        )

    def reads(
        self,
        key: str,
        title: str,
        todo: str,
        why: str = "",
        if_not: str = "",
        *,
        device: str = "",
        kind: Kind,
        low: float | None = None,
        high: float | None = None,
        worked: Worked | None = None,
        entry: str = "",
    ) -> CommissioningStep:
        """Return a value to read and write down."""
        return self._step(
            key,
            title=title,
            todo=todo,
            why=why,
            if_not=if_not,
            device=device,
            kind=kind,
            low=low,
            high=high,
            worked=worked,
            entry=entry,
        )

    def _step(self, key: str, **said: Any) -> CommissioningStep:
        return CommissioningStep(
            key=f"{self._key}.{key}", stage=self._name, later=self._later, **said
        )


def slug(words: str) -> str:
    """Return words as a bare key of a TOML file.

    Examples
    --------
    >>> slug("5 kVA inverter, 48 V class")
    '5_kva_inverter_48_v_class'
    """
    return re.sub(r"[^a-z0-9]+", "_", words.lower()).strip("_") or "thing"


def own_keys(steps: Iterable[CommissioningStep]) -> tuple[CommissioningStep, ...]:
    """Return the steps, each with a key of its own: names of devices may look alike as keys."""
    found: dict[str, CommissioningStep] = {}
    for step in steps:
        key, number = step.key, 1
        while key in found:  # "charger", "charger" and "charger 2" are three
            number += 1
            key = f"{step.key}_{number}"
        found[key] = step if key == step.key else attrs.evolve(step, key=key)
    return tuple(found.values())


def bus_resistance(design: Design) -> float | None:
    """Return the 10 s resistance of the pack at its bus bars [Ω]: links and leads included.

    None where nobody knows that of the modules.
    """
    build = design.build
    pack, lead, link = build.pack, build.cabling.module_lead, build.cabling.link
    if pack.resistance is None:
        return None
    ohms = float(pack.resistance.m)
    ohms += 0.0 if lead is None else float(lead.resistance.m) / pack.strings
    links = 0.0 if link is None else float(link.one_way.m) * (pack.modules_in_series - 1)
    return ohms + links / pack.strings


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
