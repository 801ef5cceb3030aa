"""What a noun states, as rows of label, value and how it is known; text and HTML both tell them.

The rows follow the fields of the noun, whose metadata say what they are called (`base/told.py`): a
field with a label is told without a line here. Here stand the rows that tell more than one field,
or one in words of its own, and what is computed out of a record.
"""

from __future__ import annotations

import functools
from collections.abc import Callable, Iterable, Mapping
from typing import Any, TypeAlias

import attrs
import numpy as np
import pint

from evpack.base.basis import Bases, Basis
from evpack.base.fitted import NOT_FITTED
from evpack.base.units import POWER
from evpack.base.wording import number, say
from evpack.describe.ageing_model import AgeingModel
from evpack.describe.array import Array
from evpack.describe.batch import Batch, Measure, Rest, TestedModule
from evpack.describe.build import Build
from evpack.describe.cabling import Busbar, Cabling, Conductor, Run
from evpack.describe.charger import Charger
from evpack.describe.chemistry import CellLimits, CellTargets, Chemistry
from evpack.describe.inverter import Inverter
from evpack.describe.module import Module
from evpack.describe.operation import (
    DAY,
    HOUR,
    Operation,
    Outage,
    PricedHours,
    Profile,
    Sun,
    Tariff,
)
from evpack.describe.pack import Monitoring, Pack
from evpack.describe.policy import Policy
from evpack.describe.ranges import CurrentRange, VoltageRange
from evpack.describe.safeguards import Disconnect, EmergencyOff, FuseFamily, Precharge, Safeguards
from evpack.describe.scatter import Scatter
from evpack.describe.site import Load, Site
from evpack.outcome.ageing import Cycles
from evpack.outcome.bench import BenchReading, GroupsSeen, ModuleReading
from evpack.outcome.identified import IdentifiedCell
from evpack.outcome.pack_log import PackLog
from evpack.show.gather import source_words
from evpack.show.words import NOT_FITTED as NONE_FITTED
from evpack.show.words import NOT_KNOWN, count_of, per_cent, told

LEFT_OPEN = "size left to evpack"


@attrs.frozen
class Fact:
    """One row: what, its value in words, how it is known (None: that makes no sense here).

    `field` names the noun's field, where the row tells one.
    """

    label: str
    value: str
    basis: Basis | None = None
    note: str = ""
    field: str = ""


@attrs.frozen
class Facts:
    """A noun's name and its rows."""

    title: str
    rows: tuple[Fact, ...]
    note: str = ""


Rows: TypeAlias = Fact | Iterable[Fact]
# --- The walk -------------------------------------------------------------------------------------


@functools.singledispatch
def facts(noun: Any) -> Facts:
    """Return what a noun states, field by field.

    Raises
    ------
    TypeError
        For an object that is none of evpack's nouns.
    """
    kind: type = type(noun)
    if not attrs.has(kind) or not any(f.metadata.get("label") for f in attrs.fields(kind)):
        raise TypeError(f"{kind.__name__} has no facts to tell")
    return Facts(_title(noun), tuple(_walked(noun)), getattr(noun, "note", ""))


def _walked(noun: Any) -> list[Fact]:
    found: list[Fact] = []
    kind: type = type(noun)
    for field in _in_order(kind):
        rows = _own_words(kind, field)(noun, field)
        found += (rows,) if isinstance(rows, Fact) else rows
    return found


@functools.cache
def _how(kind: type) -> dict[str, Mapping[str, Any]]:
    """Return how each field is told, by its name."""
    return {field.name: field.metadata for field in attrs.fields(kind)}


def _label(kind: type, field: str) -> str:
    return str(_how(kind)[field]["label"])


@functools.cache
def _in_order(kind: type) -> tuple[str, ...]:
    """Return the fields that have rows, each after the one that its metadata names."""
    how = _how(kind)
    found = [name for name in how if not how[name].get("after")]
    later = [name for name in how if name not in found]
    while later:
        name = next(name for name in later if how[name]["after"] in found)
        found.insert(found.index(how[name]["after"]) + 1, name)
        later.remove(name)
    return tuple(name for name in found if how[name].get("label"))


def row(noun: Any, field: str, note: str = "", label: str = "") -> tuple[Fact, ...]:
    """Return the row of one field of a noun; none where nobody said it and that is left out."""
    kind: type = type(noun)
    how, value = _how(kind)[field], getattr(noun, field)
    said = value is not None and not (isinstance(value, str | tuple) and not value)
    if not said and how["omit"]:
        return ()
    if not said and how["unsaid"]:
        words = how["unsaid"]
    elif value is NOT_FITTED and how["unfitted"]:
        words = how["unfitted"]
    elif how["unit"] is not None and isinstance(value, float):
        words = say(value, how["unit"])
    else:
        words = value_words(value)
    basis = None
    if how["known"] and (said or how["unsaid"]):
        known = getattr(noun, "basis", None)
        basis = known.of(field) if isinstance(known, Bases) else known
    return (Fact(label or how["label"], words, basis, note, field),)


def value_words(value: Any) -> str:
    """Write any field of a noun for a person."""
    match value:
        case pint.Quantity():  # before it is compared with a text, which costs much
            words = told(value)
        case None | "":
            words = NOT_KNOWN
        case bool():
            words = "yes" if value else "no"
        case VoltageRange() | CurrentRange():
            words = f"{told(value.low)} to {told(value.high)} in steps of {told(value.step)}"
        case tuple():
            words = ", ".join(map(value_words, value))
        case _ if value is NOT_FITTED:
            words = NONE_FITTED
        case _:
            words = str(getattr(value, "name", value))
    return words


# --- Rows in words of their own, and what they are rows of ----------------------------------------

Said: TypeAlias = Callable[[Any, str], Rows]
_SAID: dict[tuple[type, str], Said] = {}


def _said(kind: type, *fields: str) -> Callable[[Said], Said]:
    """Register a function that tells fields of a noun in words of its own."""

    def register(function: Said) -> Said:
        _SAID.update({(kind, field): function for field in fields})
        return function

    return register


@functools.cache
def _own_words(kind: type, field: str) -> Said:
    return next((_SAID[one, field] for one in kind.__mro__ if (one, field) in _SAID), row)


_TITLES: dict[type, Callable[[Any], str]] = {
    Batch: lambda batch: batch.title,
    Cabling: lambda _: "Cabling",
    Conductor: lambda conductor: f"Copper conductor, {conductor.size}",
    Load: lambda _: "Load",
    Measure: lambda measure: measure.key,
    Operation: lambda _: "Operation",
    Outage: lambda outage: f"Outage on day {outage.day}",
    Pack: lambda pack: f"Pack of {pack.module.name}",
    Policy: lambda _: "Choices and guards",
    PricedHours: lambda hours: f"Price {_span(hours)}",
    Rest: lambda rest: f"At rest on {rest.date}",
    Safeguards: lambda _: "Protection",
    Scatter: lambda _: "Scatter",
    Site: lambda _: "Site",
    Sun: lambda sun: f"Sun on {sun.on}",
    Tariff: lambda _: "Tariff",
    TestedModule: lambda module: f"Module {module.name}",
}


def _title(noun: Any) -> str:
    for kind in type(noun).__mro__:
        if kind in _TITLES:
            return _TITLES[kind](noun)
    return str(noun.name)


# --- Modules, packs, chemistries ------------------------------------------------------------------


def _cells(noun: Module | Batch) -> str:
    return f"{noun.cells_in_series} in series, {noun.cells_in_parallel} in parallel"


@_said(Module, "cells_in_series")
def _module_cells(module: Module, _: str) -> Rows:
    return Fact("cells", _cells(module))


@_said(Module, "resistance")
def _resistance(module: Module, field: str) -> Rows:
    """Say how it was read: method, and charge and temperature where they are known."""
    found = [f"method: {module.resistance_method}"]
    if module.resistance_soc is not None:
        found.append(f"at {told(module.resistance_soc)} of charge")
    if module.resistance_temperature is not None:
        found.append(f"at {told(module.resistance_temperature)}")
    return row(module, field, ", ".join(found))


@_said(Module, "cell_highest", "cell_nominal", "cell_least")
def _limit(module: Module, field: str) -> Rows:
    """Tell the chemistry's where the module states none of its own."""
    own, limit = getattr(module, field), field.removeprefix("cell_")
    if own is not None:
        return row(module, field)
    label = _label(Module, field)
    note = f"from the chemistry, {module.chemistry.name}"
    return Fact(label, told(getattr(module, limit)), module.limit_basis(limit), note)


@_said(Module, "ocv")
def _curve(module: Module, _: str) -> Rows:
    return _ocv(module.ocv or module.chemistry.ocv)


def _ocv(curve: Any) -> Fact:
    label = "voltage at rest against charge"
    if curve is None:
        return Fact(label, NOT_KNOWN)
    return Fact(label, source_words(curve.source), curve.basis, curve.quality)


@_said(Module, "resistance_curve")
def _resistance_curve(module: Module, field: str) -> Rows:
    tested = module.resistance_curve
    if tested is None:
        return ()
    words = f"tested from {per_cent(float(tested.soc[0]))} to {per_cent(float(tested.soc[-1]))}"
    return Fact("resistance against charge", words, module.basis.of(field))


@_said(Pack, "strings")
def _strings(pack: Pack, field: str) -> Rows:
    computed = (
        ("modules", str(pack.modules), ""),
        ("cells in series, end to end", str(pack.cells_in_series), ""),
        ("nominal voltage", told(pack.nominal), ""),
        ("least voltage", told(pack.least), ""),
        ("highest voltage", told(pack.highest), ""),
        ("capacity", told(pack.capacity), ""),
        ("label energy", told(pack.energy), "more than can be used"),
        ("resistance without leads", told(pack.resistance), ""),
    )
    found = (Fact(label, words, Basis.COMPUTED, note) for label, words, note in computed)
    return (*row(pack, field), *found)


@facts.register
def _chemistry(chemistry: Chemistry) -> Facts:
    def of(part: CellLimits | CellTargets) -> list[Fact]:
        return [
            attrs.evolve(fact, basis=chemistry.basis.of(fact.field), field="")
            for fact in _walked(part)
        ]

    refused = Fact("charge to a set voltage", "refused", None, chemistry.why_refused)
    flat = "hardly, between about 15 and 95 %" if chemistry.flat else "yes, at rest"
    found = (
        *of(chemistry.limits),
        *([refused] if chemistry.targets is None else of(chemistry.targets)),
        Fact("voltage tells state of charge", flat),
        *([] if chemistry.ocv is None else [_ocv(chemistry.ocv)]),
        Fact("source", source_words(chemistry.source), None, chemistry.confidence),
    )
    return Facts(chemistry.name, found)


# --- Equipment ------------------------------------------------------------------------------------


@_said(Inverter, "charger")
def _built_in(inverter: Inverter, field: str) -> Rows:
    found = inverter.charger
    kept_off = found.kept_off if isinstance(found, Charger) else ""
    return tuple(
        attrs.evolve(fact, value=f"{fact.value}, {kept_off}" if kept_off else fact.value)
        for fact in row(inverter, field)
    )


@_said(Charger, "pv_highest", "pv_above_battery", "pv_most_current", "pv_inputs", "pv_most_power")
def _solar_input(charger: Charger, field: str) -> Rows:
    return row(charger, field) if charger.source == "solar" else ()


@_said(Array, "in_series")
def _panels(array: Array, _: str) -> Rows:
    panels = count_of(array.in_series * array.in_parallel, "panel")
    return Fact("panels", f"{panels}: {array.in_series} in series, {array.in_parallel} in parallel")


@_said(Array, "power")
def _power(array: Array, field: str) -> Rows:
    if array.power is None:
        return row(array, field)
    every = POWER.of(array.power.m * array.in_series * array.in_parallel)
    return (*row(array, field), Fact("rated power of all", told(every)))


@_said(Array, "coefficient")
def _coefficient(array: Array, field: str) -> Rows:
    (found,) = row(array, field)
    if array.coefficient is None and array.crystalline:
        return attrs.evolve(found, value="by the table for crystalline silicon")
    return found


# --- Cables, bars, fuses, switches ----------------------------------------------------------------


def runs_of(cabling: Cabling) -> tuple[Run, ...]:
    """Return every run that is described, those of single devices last."""
    usual = (cabling.module_lead, cabling.link, cabling.main, cabling.charger, cabling.array)
    return tuple(run for run in (*usual, *cabling.own.values()) if run is not None)


def not_chosen(run: Run) -> bool:
    """Return whether the size of a run is left open and its conductor only stands in for one."""
    return run.left_open and run.conductor == run.alternatives[-1]


def _size(run: Run) -> str:
    if not_chosen(run):
        return LEFT_OPEN
    return f"{run.conductor.size}{', chosen by evpack' if run.left_open else ''}"


@_said(Conductor, "area", "ohm_per_metre", "ampacity", "withstand")
def _of_conductor(conductor: Conductor, field: str) -> Rows:
    (found,) = row(conductor, field)
    if field == "area":
        return attrs.evolve(found, value=f"{conductor.area:.4g} mm²")
    if field == "withstand":
        return attrs.evolve(found, value=f"{number(conductor.withstand)} A √s/mm²")
    if field == "ampacity":
        note = f"{conductor.conditions}; {source_words(conductor.ampacity_source)}"
        return attrs.evolve(found, note=note)
    note = source_words(conductor.resistance_source)
    return attrs.evolve(found, value=say(conductor.ohm_per_metre, "Ω"), note=note)


@_said(Run, "conductor")
def _run_size(run: Run, _: str) -> Rows:
    return Fact("conductor", _size(run))


@_said(Run, "protected")
def _run_found(run: Run, field: str) -> Rows:
    found = row(run, field)
    if not_chosen(run):
        return found
    resistance = Fact("resistance there and back, warm", told(run.resistance), Basis.COMPUTED)
    carries = Fact("carries for good", told(run.ampacity), None, run.conductor.conditions)
    return (*found, resistance, carries)


@_said(Cabling, "module_lead", "link", "main", "charger", "array")
def _usual_run(cabling: Cabling, field: str) -> Rows:
    return _laid(_label(Cabling, field), getattr(cabling, field), field)


@_said(Cabling, "own")
def _own_runs(cabling: Cabling, field: str) -> Rows:
    return tuple(_laid(f"to {device}", run, field) for device, run in cabling.own.items())


def _laid(label: str, run: Run | None, field: str) -> Fact:
    if run is None:
        inside = field == "link"
        return Fact(label, "none, or within the modules' resistance" if inside else "not described")
    note = f"{told(run.resistance)} there and back, carries {told(run.ampacity)}"
    words = f"{_size(run)}, {told(run.length)} one way, {count_of(run.parallel, 'conductor')}"
    basis = run.basis.of("length")
    return Fact(label, f"{words} in parallel", basis, "" if not_chosen(run) else note)


@_said(Cabling, "bar")
def _bars(cabling: Cabling, _: str) -> Rows:
    bar = cabling.bar
    if bar is None:
        return Fact("bus bars", "not described")
    return Fact("bus bars", f"{_bar_size(bar)}, {told(bar.length)} long", bar.basis.of("width"))


def _bar_size(bar: Busbar) -> str:
    side = f"{bar.count} × " if bar.count > 1 else ""
    width, thickness = (number(1000 * float(q.m), 3) for q in (bar.width, bar.thickness))
    return f"{side}{width} × {thickness} mm for each pole"


@_said(Busbar, "width")
def _copper(bar: Busbar, field: str) -> Rows:
    return Fact("copper", _bar_size(bar), bar.basis.of(field))


@_said(Busbar, "carries")
def _bar_carries(bar: Busbar, field: str) -> Rows:
    ohms = Fact("resistance of both, end to end, warm", told(bar.resistance), Basis.COMPUTED)
    return (*row(bar, field, bar.conditions or source_words(bar.source)), ohms)


@_said(FuseFamily, "dc_voltage", "polarised")
def _of_breakers(family: FuseFamily, field: str) -> Rows:
    breaker, label = family.kind == "breaker", ""
    if field == "dc_voltage" and breaker:
        label = f"DC voltage, {count_of(family.poles, 'pole')} in series"
    return row(family, field, label=label) if breaker or field == "dc_voltage" else ()


@_said(FuseFamily, "source")
@_said(Measure, "source")
@_said(AgeingModel, "source")
def _source(noun: Any, _: str) -> Rows:
    return Fact("source", source_words(noun.source))


@_said(Safeguards, "to_buy")
def _to_buy(safeguards: Safeguards, _: str) -> Rows:
    parts = ", ".join(safeguards.to_buy).replace("_", " ")
    return Fact("still to be bought", parts) if parts else ()


@_said(Disconnect, "withstands")
def _withstands(switch: Disconnect, field: str) -> Rows:
    behind = f"short-circuit current that it stands behind {switch.behind}"
    return row(switch, field, label=behind if switch.behind else "")


@_said(Precharge, "resistance")
def _resistor(precharge: Precharge, field: str) -> Rows:
    left = Fact("resistor", "left to evpack")
    return left if precharge.resistance is None else row(precharge, field)


@_said(Site, "rules")
def _rules(site: Site, field: str) -> Rows:
    (found,) = row(site, field)
    return attrs.evolve(found, value=site.rules.upper())


@facts.register
def _scatter(scatter: Scatter) -> Facts:
    note = "Standard deviations; what is not known is not drawn."
    return Facts(_title(scatter), tuple(_walked(scatter)), note)


# --- Heaps ----------------------------------------------------------------------------------------


@_said(Batch, "cells_in_series", "modules", "modules_in_series")
def _of_batch(batch: Batch, field: str) -> Rows:
    wanted = "none asked for"
    if batch.modules_in_series is not None and batch.strings is not None:
        wanted = f"{batch.modules_in_series} in series × {batch.strings} strings"
    words = {
        "cells_in_series": _cells(batch),
        "modules": str(len(batch.modules)),
        "modules_in_series": wanted,
    }
    return Fact(_label(Batch, field), words[field])


@_said(TestedModule, "seen")
def _seen(module: TestedModule, _: str) -> Rows:
    seen = "nobody looked" if module.seen is None else ", ".join(module.seen) or "nothing"
    return Fact("seen on it", seen)


@_said(TestedModule, "rests")
def _rests(module: TestedModule, _: str) -> Rows:
    return Fact("readings at rest", str(len(module.rests)))


@_said(Rest, "cells")
def _rest_cells(rest: Rest, _: str) -> Rows:
    return Fact("cell groups", ", ".join(say(value, "V") for value in rest.cells) or "not read")


@_said(Measure, "accept", "retest")
def _bound(measure: Measure, field: str) -> Rows:
    label = _label(Measure, field)
    return Fact(label, say(getattr(measure, field), measure.unit))


@facts.register
def _measure(measure: Measure) -> Facts:
    return Facts(_title(measure), tuple(_walked(measure)), measure.says)


@facts.register
def _model(model: AgeingModel) -> Facts:
    constants = (
        Fact(one.symbol, f"{one.value:g} {one.unit if one.unit != '1' else ''}".strip())
        for one in model.constants
    )
    return Facts(model.name, (*_walked(model), *constants), model.fits)


# --- Operation ------------------------------------------------------------------------------------


def _clock(seconds: float) -> str:
    minutes = round(seconds / 60)
    return f"{minutes // 60:02d}:{minutes % 60:02d}"


def _span(hours: PricedHours) -> str:
    return f"from {_clock(float(hours.start.m))} to {_clock(float(hours.end.m))}"


@_said(Sun, "latitude", "longitude", "tilt", "azimuth", "clouds", "weather", "profile")
def _sky(sun: Sun, field: str) -> Rows:
    """Tell a profile in place of the place and its clouds."""
    if (field == "profile") != (sun.profile is not None):
        return ()
    found = row(sun, field)
    if field == "weather" and len(set(sun.weather)) == 1:
        return tuple(attrs.evolve(one, value=value_words(sun.weather[0])) for one in found)
    return found


@_said(Tariff, "hours")
def _hours(tariff: Tariff, _: str) -> Rows:
    return tuple(Fact(_span(hours), str(hours.price)) for hours in tariff.hours)


@_said(Outage, "at")
def _at(outage: Outage, _: str) -> Rows:
    return Fact("begins at", _clock(float(outage.at.m)))


@_said(Operation, "load")
def _load(operation: Operation, field: str) -> Rows:
    a_day = float(operation.load.values.mean()) * DAY / HOUR
    return (*row(operation, field), Fact("load a day, in the mean", say(a_day, "Wh")))


@_said(Operation, "sun", "outages")
def _counted(operation: Operation, field: str) -> Rows:
    values, thing = getattr(operation, field), {"sun": "array", "outages": "outage"}[field]
    return Fact(field, count_of(len(values), thing) if values else "none")


@_said(Operation, "tariff")
def _tariff(operation: Operation, _: str) -> Rows:
    tariff = operation.tariff
    return Fact("tariff", "none" if tariff is None else str(tariff.price))


@facts.register
def _profile(profile: Profile) -> Facts:
    values = profile.values
    return Facts(
        profile.name,
        (
            Fact("values", count_of(int(values.size), "value")),
            Fact("each holds for", say(float(profile.every.m), "s")),
            Fact("begins again after", say(profile.period, "s")),
            Fact("least", f"{float(values.min()):.4g}"),
            Fact("mean", f"{float(values.mean()):.4g}"),
            Fact("most", f"{float(values.max()):.4g}"),
        ),
    )


# --- What was read from a record, or worked out of one --------------------------------------------


@facts.register
def _bench(reading: BenchReading) -> Facts:
    found = [
        Fact("capacity", told(reading.capacity), Basis.MEASURED),
        Fact("energy", told(reading.energy), Basis.MEASURED),
        Fact("mean voltage", told(reading.mean_voltage), Basis.COMPUTED),
        Fact("voltages met", f"{told(reading.least)} to {told(reading.highest)}", Basis.MEASURED),
        _bench_resistance(reading),
        *_bench_groups(reading),
        Fact(
            "temperature",
            told(reading.temperature),
            None if reading.temperature is None else Basis.MEASURED,
        ),
        Fact("rests read", str(reading.rest_soc.size)),
        Fact("pulses read", str(reading.pulse_soc.size)),
        Fact(
            "voltage at rest against charge",
            "not from this record" if reading.curve is None else "read",
            None if reading.curve is None else reading.curve.basis,
            ""
            if reading.estimated_below is None
            else f"partly estimated below {per_cent(reading.estimated_below)}",
        ),
        Fact("sign of the current", reading.current_sign),
        Fact("record from", source_words(reading.source)),
    ]
    return Facts(f"Bench record: {reading.name}", tuple(found), " ".join(reading.notes))


def _bench_resistance(reading: BenchReading) -> Fact:
    """Name a resistance by where it stood: the middle only where it was read there."""
    if reading.resistance is None:
        return Fact("resistance, 10 s", NOT_KNOWN)
    warm = reading.resistance_temperature
    return Fact(
        f"resistance, 10 s, {reading.resistance_where}",
        told(reading.resistance),
        Basis.MEASURED,
        "temperature not specified" if warm is None else f"at {told(warm)}",
    )


def _bench_groups(reading: BenchReading) -> list[Fact]:
    """Tell how the cell groups stood at the end of the discharge, where they were read."""
    if reading.lowest_cell is None:
        return [Fact("cell groups", "not in this record")]
    found = [Fact("lowest cell group, in the whole record", told(reading.lowest_cell))]
    ended, apart = reading.ended_by, reading.spread_end
    if ended is not None and apart is not None:
        cells = reading.end_cells
        found = [
            Fact("cell groups", f"{cells.size} read", Basis.MEASURED),
            Fact(
                "lowest at the end of the discharge",
                f"group {ended} at {say(float(cells.min()), 'V')}",
                Basis.MEASURED,
                f"mean {say(float(cells.mean()), 'V')}, highest {say(float(cells.max()), 'V')}",
            ),
            *found,
        ]
    if reading.spread_full is not None:
        found.append(
            Fact("highest less lowest group, full", told(reading.spread_full), Basis.MEASURED)
        )
    return found


@facts.register
def _groups_seen(seen: GroupsSeen) -> Facts:
    return Facts(
        "Cell groups in a discharge",
        (
            Fact("samples", str(seen.lowest.size)),
            Fact("lowest group at the end", say(float(seen.lowest[-1]), "V"), Basis.MEASURED),
            Fact(
                "mean of the groups at the end",
                say(float(seen.mean[-1]), "V") if seen.mean.size else NOT_KNOWN,
            ),
        ),
    )


@facts.register
def _module_reading(reading: ModuleReading) -> Facts:
    return Facts(
        "The reading, carried over to a module",
        (
            Fact("capacity", told(reading.capacity), Basis.COMPUTED),
            Fact("energy", told(reading.energy), Basis.COMPUTED),
            Fact(
                "resistance, cells only",
                told(reading.resistance),
                None if reading.resistance is None else Basis.COMPUTED,
            ),
        ),
    )


@facts.register
def _identified(cell: IdentifiedCell) -> Facts:
    ohms = cell.resistance.ohms
    return Facts(
        cell.name,
        (
            Fact("capacity", told(cell.capacity)),
            Fact(
                "series resistance",
                f"{say(float(ohms.min()), 'Ω')} to {say(float(ohms.max()), 'Ω')}",
                note=f"at {ohms.size} states of charge, from "
                f"{per_cent(float(cell.resistance.soc[0]))} to "
                f"{per_cent(float(cell.resistance.soc[-1]))}",
            ),
            *(
                Fact(
                    f"RC branch {k}",
                    f"{told(branch.resistance)}, settles in {told(branch.time_constant)}",
                    note=f"a capacitance of {told(branch.capacitance)}",
                )
                for k, branch in enumerate(cell.branches, start=1)
            ),
            Fact(
                "voltage at rest",
                ", ".join(
                    f"{say(float(np.interp(soc, cell.curve.soc, cell.curve.volts)), 'V')} at "
                    f"{per_cent(soc)}"
                    for soc in (0.1, 0.3, 0.5, 0.7, 0.9)
                ),
            ),
            Fact(
                "record played again, rms",
                told(cell.error),
                note=f"10 to 95 % charged; {told(cell.error_over_time)} over the time there, "
                f"{told(cell.error_most)} at most, {told(cell.error_whole)} over the whole",
            ),
            Fact("source", source_words(cell.source)),
        ),
        " ".join(cell.notes),
    )


@facts.register
def _cycles(cycles: Cycles) -> Facts:
    edges = (0.0, 0.1, 0.2, 0.4, 0.6, 0.8, 1.0)
    counted = cycles.by_depth(edges)
    return Facts(
        "Cycles",
        (
            Fact("history", say(cycles.hours * 3600, "s")),
            Fact("equivalent full cycles", f"{cycles.full_cycles:.1f}"),
            Fact("mean depth", per_cent(cycles.mean_depth), note="by the charge moved"),
            *(
                Fact(f"{per_cent(low)} to {per_cent(high)} deep", f"{number:g}")
                for low, high, number in zip(edges, edges[1:], counted, strict=False)
            ),
        ),
        "Counted by rainflow; what is left over at the ends counts as half cycles.",
    )


@facts.register
def _log(log: PackLog) -> Facts:
    time = float(log.seconds[-1] - log.seconds[0])
    return Facts(
        log.name,
        (
            Fact("samples", str(log.seconds.size)),
            Fact("lasts", say(time, "s")),
            Fact("current", log.told or "positive on discharge"),
            Fact("cells logged", "no" if log.highest is None else "highest and lowest"),
            Fact("strings logged", "none" if log.strings is None else str(len(log.strings))),
        ),
    )


# --- A build --------------------------------------------------------------------------------------


def build_parts(build: Build) -> tuple[object, ...]:
    """Return the nouns of a build, in the order a person would describe them."""
    watch, guards, bar = build.pack.monitoring, build.safeguards, build.cabling.bar
    switches = (guards.disconnect, guards.emergency_off, guards.precharge)
    return (
        build.pack.module,
        build.pack,
        *((watch,) if isinstance(watch, Monitoring) else ()),
        *build.inverters,
        *build.all_chargers,
        *build.solar_arrays,
        build.cabling,
        *(() if bar is None else (bar,)),
        guards,
        *(s for s in switches if isinstance(s, Disconnect | EmergencyOff | Precharge)),
        build.load,
        build.site,
        build.policy,
    )
