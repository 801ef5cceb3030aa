"""What a noun states, as rows of label, value and how it is known; text and HTML both tell them."""

from __future__ import annotations

from collections.abc import Iterable
from functools import singledispatch
from typing import Any

import attrs
import pint

from evpack.base.basis import Bases, Basis
from evpack.base.fitted import NOT_FITTED, NotFitted
from evpack.base.wording import say
from evpack.describe.build import Build
from evpack.describe.cabling import Cabling, Conductor, Run
from evpack.describe.charger import Charger, LeadAcidProfile
from evpack.describe.chemistry import Chemistry
from evpack.describe.fuses import FuseFamily
from evpack.describe.inverter import Inverter
from evpack.describe.module import Module
from evpack.describe.pack import Monitoring, Pack
from evpack.describe.policy import Policy, means
from evpack.describe.ranges import CurrentRange, VoltageRange
from evpack.describe.site import Load, Site
from evpack.outcome.bench import BenchReading, ModuleReading
from evpack.show.gather import source_words
from evpack.show.words import NOT_FITTED as NONE_FITTED
from evpack.show.words import NOT_KNOWN, count_of, per_cent, told


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


def value_words(value: Any) -> str:
    """Write any field of a noun for a person."""
    if value is None or value == "":
        return NOT_KNOWN
    if value is NOT_FITTED:
        return NONE_FITTED
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, VoltageRange | CurrentRange):
        return f"{told(value.low)} to {told(value.high)} in steps of {told(value.step)}"
    if isinstance(value, pint.Quantity):
        return told(value)
    return str(value)


def _row(noun: Any, label: str, field: str, note: str = "") -> Fact:
    value = getattr(noun, field)
    basis = noun.basis.of(field) if value is not None and isinstance(noun.basis, Bases) else None
    words = "no" if value is NOT_FITTED and label.endswith("can be set") else value_words(value)
    return Fact(label, words, basis, note, field)


def _rows(noun: Any, *labelled: tuple[str, str]) -> tuple[Fact, ...]:
    return tuple(_row(noun, label, field) for label, field in labelled)


def _many(*parts: Fact | Iterable[Fact]) -> tuple[Fact, ...]:
    rows: list[Fact] = []
    for part in parts:
        rows += [part] if isinstance(part, Fact) else part
    return tuple(rows)


@singledispatch
def facts(noun: object) -> Facts:
    """Return what a noun states.

    Raises
    ------
    TypeError
        For an object that is none of evpack's nouns.
    """
    raise TypeError(f"{type(noun).__name__} has no facts to tell")


@facts.register
def _module(module: Module) -> Facts:
    """Cell voltages that the module does not state itself are its chemistry's."""
    limits = []
    for label, field in (
        ("highest voltage of a cell", "highest"),
        ("nominal voltage of a cell", "nominal"),
        ("least voltage of a cell", "least"),
    ):
        own = getattr(module, f"cell_{field}") is not None
        basis = module.basis.of(f"cell_{field}") if own else module.chemistry.basis.of(field)
        note = "" if own else f"from the chemistry, {module.chemistry.name}"
        limits.append(Fact(label, told(getattr(module, field)), basis, note))
    curve = module.ocv or module.chemistry.ocv
    tested = module.resistance_curve
    return Facts(
        module.name,
        _many(
            Fact("chemistry", module.chemistry.name),
            Fact(
                "cells",
                f"{module.cells_in_series} in series, {module.cells_in_parallel} in parallel",
            ),
            _row(module, "capacity", "capacity"),
            _row(module, "resistance", "resistance", f"method: {module.resistance_method}"),
            limits,
            _rows(
                module,
                ("discharge current, for good", "discharge_limit"),
                ("discharge current, for seconds", "discharge_peak"),
                ("charge current", "charge_limit"),
                ("weakest inner link", "link_limit"),
            ),
            Fact("how many there are", value_words(module.available)),
            Fact("voltage at rest against charge", NOT_KNOWN)
            if curve is None
            else Fact(
                "voltage at rest against charge",
                source_words(curve.source),
                curve.basis,
                curve.quality,
            ),
            ()
            if tested is None
            else Fact(
                "resistance against charge",
                f"tested from {per_cent(float(tested.soc[0]))} "
                f"to {per_cent(float(tested.soc[-1]))}",
                Basis.MEASURED,
            ),
        ),
    )


@facts.register
def _pack(pack: Pack) -> Facts:
    return Facts(
        f"Pack of {pack.module.name}",
        _many(
            _rows(
                pack,
                ("modules in series", "modules_in_series"),
                ("strings in parallel", "strings"),
            ),
            Fact("modules", str(pack.modules), Basis.COMPUTED),
            Fact("cells in series, end to end", str(pack.cells_in_series), Basis.COMPUTED),
            Fact("nominal voltage", told(pack.nominal), Basis.COMPUTED),
            Fact("least voltage", told(pack.least), Basis.COMPUTED),
            Fact("highest voltage", told(pack.highest), Basis.COMPUTED),
            Fact("capacity", told(pack.capacity), Basis.COMPUTED),
            Fact("label energy", told(pack.energy), Basis.COMPUTED, "more than can be used"),
            Fact("resistance without leads", told(pack.resistance), Basis.COMPUTED),
            _row(pack, "highest cell above the mean, near full", "spread_full"),
            Fact("cell monitoring", _monitor_name(pack.monitoring)),
        ),
    )


def _monitor_name(monitoring: Monitoring | NotFitted | None) -> str:
    return monitoring.name if isinstance(monitoring, Monitoring) else value_words(monitoring)


@facts.register
def _monitoring(monitoring: Monitoring) -> Facts:
    return Facts(
        monitoring.name,
        _rows(
            monitoring,
            ("watches every cell", "every_cell"),
            ("watches temperatures", "temperatures"),
            ("stops the charge", "stops_charge"),
            ("stops the discharge", "stops_discharge"),
            ("blocks charging when cold", "blocks_cold_charge"),
            ("balances the cells", "balances"),
            ("watches each string", "watches_each_string"),
        ),
    )


@facts.register
def _inverter(inverter: Inverter) -> Facts:
    built_in = inverter.charger
    return Facts(
        inverter.name,
        _many(
            Fact("units in parallel", str(inverter.count)),
            _rows(
                inverter,
                ("output, for good, each", "continuous"),
                ("surge, each", "surge"),
                ("surge lasts", "surge_time"),
                ("efficiency at full output", "efficiency"),
                ("idle draw, each", "idle"),
                ("works from", "window_low"),
                ("works up to", "window_high"),
                ("stands without damage", "survives"),
                ("starts again at", "restart"),
                ("low-voltage cut-off can be set", "cut_off"),
                ("changeover to utility can be set", "changeover"),
                ("return to battery can be set", "return_to_battery"),
                ("error of its voltmeter", "meter_accuracy"),
                ("input capacitance, each", "input_capacitance"),
            ),
            Fact("built-in charger", built_in.name if built_in else "none used"),
            Fact("where its settings are", inverter.where) if inverter.where else (),
        ),
    )


@facts.register
def _charger(charger: Charger) -> Facts:
    left_on = charger.left_on
    return Facts(
        charger.name,
        _many(
            Fact("fed by", charger.source),
            Fact("units", str(charger.count)),
            _rows(
                charger,
                ("charge voltage can be set", "charge_voltage"),
                ("error of its voltage", "accuracy"),
                ("most current, each", "current"),
                ("current limit can be set", "current_setting"),
                ("float can be turned off", "float_can_be_off"),
                ("float can be set", "float_setting"),
                ("temperature compensation can be turned off", "compensation_can_be_off"),
                ("equalising can be turned off", "equalise_can_be_off"),
                ("rated power of what feeds it", "power"),
            ),
            Fact("lead-acid profile left on", left_on.name if left_on else "none"),
            Fact("where its settings are", charger.where) if charger.where else (),
        ),
    )


@facts.register
def _profile(profile: LeadAcidProfile) -> Facts:
    return Facts(
        profile.name,
        _rows(
            profile,
            ("absorption", "absorption"),
            ("float", "float_voltage"),
            ("equalise", "equalise"),
            ("added for every kelvin colder", "compensation"),
            ("colder than", "reference"),
            ("low cut-off", "low_cut_off"),
        ),
    )


_LIMITS = (
    ("highest voltage of a cell", "highest"),
    ("nominal voltage", "nominal"),
    ("least voltage", "least"),
    ("never recharge if ever below", "reject_below"),
    ("charge from", "charge_coldest"),
    ("charge up to", "charge_hottest"),
    ("discharge from", "discharge_coldest"),
    ("discharge up to", "discharge_hottest"),
)
_TARGETS = (
    ("charge target, highest cell", "charge"),
    ("kept above, at rest", "low_at_rest"),
    ("changeover, under load", "changeover_loaded"),
    ("monitoring warns high", "warn_high"),
    ("monitoring stops charging", "cut_high"),
    ("monitoring warns low", "warn_low"),
    ("monitoring stops discharging", "cut_low"),
    ("float at most, if one must be entered", "float_most"),
    ("highest cell above the mean, at least", "top_guard"),
    ("least step between two thresholds", "ladder_gap"),
    ("rest before voltage tells charge", "rest"),
)


@facts.register
def _chemistry(chemistry: Chemistry) -> Facts:
    rows = [
        Fact(label, told(getattr(chemistry.limits, field)), chemistry.basis.of(field))
        for label, field in _LIMITS
    ]
    if chemistry.targets is None:
        rows.append(Fact("charge to a set voltage", "refused", None, chemistry.why_refused))
    else:
        rows += [
            Fact(label, told(getattr(chemistry.targets, field)), chemistry.basis.of(field))
            for label, field in _TARGETS
        ]
    rows.append(
        Fact(
            "voltage tells state of charge",
            "hardly, between about 15 and 95 %" if chemistry.flat else "yes, at rest",
        )
    )
    if chemistry.ocv is not None:
        rows.append(
            Fact(
                "voltage at rest against charge",
                source_words(chemistry.ocv.source),
                chemistry.ocv.basis,
                chemistry.ocv.quality,
            )
        )
    rows.append(Fact("source", source_words(chemistry.source), None, chemistry.confidence))
    return Facts(chemistry.name, tuple(rows))


@facts.register
def _load(load: Load) -> Facts:
    return Facts(
        "Load",
        _rows(
            load,
            ("runs for long, at most", "continuous"),
            ("runs most of the time", "typical"),
            ("peak, for seconds", "peak"),
        ),
    )


@facts.register
def _site(site: Site) -> Facts:
    return Facts(
        "Site",
        _many(
            Fact("place", value_words(site.place)),
            _rows(
                site,
                ("coldest the cells get", "coldest"),
                ("warmest the cells get", "warmest"),
            ),
            Fact("rules for fuse and cable sizes", site.rules.upper()),
        ),
    )


@facts.register
def _policy(policy: Policy) -> Facts:
    target = policy.charge_target
    rows = [
        Fact(
            "charge target, highest cell",
            "the chemistry's" if target is None else told(target),
            policy.basis.of("charge_target"),
        )
    ]
    rows += [
        _row(policy, means(field.name), field.name)
        for field in attrs.fields(Policy)
        if "means" in field.metadata
    ]
    return Facts("Choices and guards", tuple(rows))


@facts.register
def _conductor(conductor: Conductor) -> Facts:
    return Facts(
        f"Copper conductor, {conductor.size}",
        (
            Fact("cross-section", f"{conductor.area:.4g} mm²"),
            Fact(
                "resistance, warm, each metre",
                say(conductor.ohm_per_metre, "Ω"),
                None,
                source_words(conductor.resistance_source),
            ),
            Fact(
                "carries for good",
                say(conductor.ampacity, "A"),
                None,
                f"{conductor.conditions}; {source_words(conductor.ampacity_source)}",
            ),
        ),
    )


@facts.register
def _run(run: Run) -> Facts:
    return Facts(
        run.name,
        _many(
            Fact("conductor", run.conductor.size),
            _row(run, "length, one way", "length"),
            Fact("conductors in parallel", str(run.parallel)),
            Fact("resistance there and back, warm", told(run.resistance), Basis.COMPUTED),
            Fact("carries for good", told(run.ampacity), None, run.conductor.conditions),
        ),
    )


@facts.register
def _cabling(cabling: Cabling) -> Facts:
    rows: list[Fact] = []
    for label, run in (("string to bar", cabling.module_lead), ("bar to inverter", cabling.main)):
        if run is None:
            rows.append(Fact(label, "not yet decided"))
        else:
            rows.append(
                Fact(
                    label,
                    f"{run.conductor.size}, {told(run.length)} one way, "
                    f"{count_of(run.parallel, 'conductor')} in parallel",
                    run.basis.of("length"),
                    f"{told(run.resistance)} there and back, carries {told(run.ampacity)}",
                )
            )
    return Facts("Cabling", tuple(rows))


@facts.register
def _family(family: FuseFamily) -> Facts:
    return Facts(
        family.name,
        (
            Fact("standard", family.standard),
            Fact("DC voltage", told(family.dc_voltage), family.basis),
            Fact("interrupts at that voltage", told(family.interrupting), family.basis),
            Fact("largest size", told(family.largest), family.basis),
            Fact("source", source_words(family.source)),
        ),
        family.note,
    )


@facts.register
def _bench(reading: BenchReading) -> Facts:
    rows = [
        Fact("capacity", told(reading.capacity), Basis.MEASURED),
        Fact("energy", told(reading.energy), Basis.MEASURED),
        Fact("mean voltage", told(reading.mean_voltage), Basis.COMPUTED),
        Fact("voltages met", f"{told(reading.least)} to {told(reading.highest)}", Basis.MEASURED),
        Fact("resistance, 10 s, middle charge", told(reading.resistance), Basis.MEASURED),
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
    return Facts(f"Bench record: {reading.name}", tuple(rows), " ".join(reading.notes))


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


def build_parts(build: Build) -> tuple[object, ...]:
    """Return the nouns of a build, in the order a person would describe them."""
    watch = build.pack.monitoring
    return (
        build.pack.module,
        build.pack,
        *((watch,) if isinstance(watch, Monitoring) else ()),
        *build.inverters,
        *build.all_chargers,
        build.cabling,
        build.load,
        build.site,
        build.policy,
    )
