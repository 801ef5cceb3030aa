"""Are there enough modules, may this chemistry be used at all, and is anything only assumed?"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import attrs

from evpack.base.basis import Basis
from evpack.base.finding import Finding, Rule, Severity, Standing, at_most, state, unknown
from evpack.base.units import VOLTAGE
from evpack.base.wording import say
from evpack.check.cell_groups import cell_groups
from evpack.describe.build import Build
from evpack.describe.module import in_the_middle
from evpack.describe.pack import Monitoring
from evpack.describe.policy import loosened, means

ENOUGH = Rule(
    key="arrangement.enough",
    says="A pack cannot take more modules than there are.",
    source="arithmetic",
    stands=Standing.BOUND,
    clause="counting",
)
CHEMISTRY = Rule(
    key="arrangement.chemistry",
    says="A chemistry whose charge does not end by voltage must not be charged to a set voltage.",
    source="cell-limits",
    stands=Standing.BOUND,
    clause="print of the cell: how its charge ends",
)
FLAT = Rule(
    key="arrangement.flat",
    says="With a flat chemistry, voltage tells next to nothing of the charge left.",
    source="cell-limits",
    stands=Standing.REMARK,
)
RESISTANCE = Rule(
    key="arrangement.resistance",
    says="Without the modules' DC internal resistance nothing under load can be judged.",
    source="common-practice",
    stands=Standing.QUESTION,
)
METHOD = Rule(
    key="arrangement.resistance-method",
    says="A resistance that was not got from a load step of about 10 s is no DC internal "
    "resistance.",
    source="common-practice",
    stands=Standing.QUESTION,
)
READ_AT = Rule(
    key="arrangement.resistance-charge",
    says="A resistance is read at about half charge: elsewhere it is another, and towards empty "
    "much higher.",
    source="common-practice",
    stands=Standing.GUARD,
)
MEASURED = Rule(
    key="arrangement.measured",
    says="Of a salvaged module only a measurement counts: a data sheet tells what it was when new.",
    source="common-practice",
    stands=Standing.GUARD,
)
SPREAD = Rule(
    key="arrangement.spread",
    says="Cells of a module that differ much when full are weak, drifting or damaged.",
    source="common-practice",
    stands=Standing.BOUND,
    clause="print of the cell: no cell group beyond its limits",
    kind=VOLTAGE,
)
GUARDS = Rule(
    key="arrangement.guards",
    says="A guard that is set looser than is usual must be meant.",
    source="common-practice",
    stands=Standing.GUARD,
)
ASSUMED = Rule(
    key="arrangement.assumed",
    says="What nobody measured or read off a data sheet must be confirmed before building. A limit "
    "cannot be chosen.",
    source="common-practice",
    stands=Standing.GUARD,
)

# Fields a wrong value of which can burn a house or wreck a device.
_MODULE_FIELDS = (
    "capacity",
    "resistance",
    "discharge_limit",
    "discharge_peak",
    "charge_limit",
    "link_limit",
)
_INVERTER_FIELDS = (
    "continuous",
    "surge",
    "surge_time",
    "efficiency",
    "idle",
    "meter_accuracy",
    "window_low",
    "window_high",
    "survives",
    "restart",
    "cut_off",
)
_CHARGER_FIELDS = (
    "charge_voltage",
    "accuracy",
    "current",
    "current_setting",
    "float_can_be_off",
    "compensation_can_be_off",
    "equalise_can_be_off",
)
_MONITORING_FIELDS = (
    "every_cell",
    "temperatures",
    "stops_charge",
    "stops_discharge",
    "blocks_cold_charge",
    "watches_each_string",
)
# What a person states of the place, the load and the cables; it may be chosen, but not guessed.
_PACK_FIELDS = ("earthed",)  # the spread has a rule of its own
_SITE_FIELDS = ("coldest", "warmest", "coldest_outside", "warmest_outside")
_LOAD_FIELDS = ("continuous", "typical", "peak", "larger_leg")
_RUN_FIELDS = ("conductor", "length", "parallel", "shortest")
_BAR_FIELDS = ("width", "thickness", "length", "count", "carries")

# A fact about a device is known in these ways alone.
_KNOWN = (Basis.MEASURED, Basis.DATASHEET)

# Highest cell minus mean near full [V]: fine, to be watched, to be refused.
# Common practice, no source.
_SPREAD_FINE, _SPREAD_MOST = 0.05, 0.15


def chemistry_allowed(build: Build) -> Finding:
    """Return whether the chemistry may be charged to a set voltage at all."""
    chemistry = build.pack.module.chemistry
    if chemistry.targets is None:
        return state(
            CHEMISTRY,
            Severity.STOP,
            about=chemistry.name,
            detail=chemistry.why_refused,
            remedy="Use modules of a lithium chemistry, or a charger made for this chemistry.",
        )
    return state(
        CHEMISTRY,
        Severity.OK,
        about=chemistry.name,
        detail=f"{chemistry.name} is charged to a set voltage.",
    )


def arrangement(build: Build) -> tuple[Finding, ...]:
    """Return the findings on the modules themselves and on what is only assumed of them."""
    return (
        _enough(build),
        _resistance(build),
        *_read_at(build),
        _measured(build),
        _spread(build),
        *cell_groups(build),
        *_flat(build),
        _guards(build),
        *_assumed(build),
    )


def _enough(build: Build) -> Finding:
    pack = build.pack
    available = pack.module.available
    needed = (
        f"{pack.modules_in_series} in series × {pack.strings} strings take {pack.modules} modules"
    )
    if available is None:
        return state(
            ENOUGH,
            Severity.NOTE,
            about=pack.module.name,
            detail=f"{needed}; nobody said how many there are.",
        )
    if pack.modules > available:
        return state(
            ENOUGH,
            Severity.STOP,
            about=pack.module.name,
            detail=f"{needed}, but there are {available}.",
            remedy=f"With {available} modules at most {available // pack.modules_in_series} "
            f"strings of {pack.modules_in_series} are possible."
            if available >= pack.modules_in_series
            else f"A string of {pack.modules_in_series} modules needs "
            f"{pack.modules_in_series - available} more.",
        )
    return state(ENOUGH, Severity.OK, about=pack.module.name, detail=f"{needed} of {available}.")


def _resistance(build: Build) -> Finding:
    module = build.pack.module
    if module.resistance is None:
        return unknown(
            RESISTANCE,
            about=module.name,
            detail="Nobody measured the modules' DC internal resistance.",
            remedy="Load a module with a known current for 10 s; the drop in voltage over the "
            "current is the resistance. Put it in the build sheet.",
        )
    if module.resistance_method not in {"10 s pulse", "two-step"}:
        return unknown(
            METHOD,
            about=module.name,
            detail=f"The resistance, {say(module.resistance.m, 'Ω')}, was got by: "
            f"{module.resistance_method}. A meter at 1 kHz reads far below what a load feels, so "
            "sag, changeover and fault currents cannot be judged from it.",
            remedy="Measure it with a load step of about 10 s and say method = '10 s pulse'.",
        )
    return state(
        RESISTANCE,
        Severity.OK,
        about=module.name,
        detail=f"DC internal resistance of a module, {say(module.resistance.m, 'Ω')}, by "
        f"{module.resistance_method}.",
    )


def _read_at(build: Build) -> tuple[Finding, ...]:
    """Return what is to be said of the state of charge at which the resistance was read."""
    module = build.pack.module
    soc = module.resistance_soc
    if module.resistance is None or soc is None:
        return ()
    read = (
        f"Its resistance, {say(module.resistance.m, 'Ω')}, was read at {say(soc.m, '')} of charge"
    )
    if in_the_middle(float(soc.m)):
        return (state(READ_AT, Severity.OK, about=module.name, detail=f"{read}."),)
    return (
        state(
            READ_AT,
            Severity.CAUTION,
            about=module.name,
            detail=f"{read}. It stands in for that at middle charge, which was not measured: sag "
            "and fault currents rest on it.",
            remedy="Let a module rest at 50 % of charge, load it for 10 s, and put that "
            "resistance in.",
        ),
    )


def _measured(build: Build) -> Finding:
    module = build.pack.module
    told = [
        field
        for field in ("capacity", "resistance")
        if getattr(module, field) is not None
        and module.basis.of(field) not in {Basis.MEASURED, Basis.ASSUMED}
    ]
    if told:
        return state(
            MEASURED,
            Severity.CAUTION,
            about=module.name,
            detail=f"Not measured: {' and '.join(told)}.",
            remedy="Test the modules: capacity by a full discharge, resistance by a load step of "
            'about 10 s; then say basis = "measured".',
        )
    return state(
        MEASURED,
        Severity.OK,
        about=module.name,
        detail="Capacity and resistance are measured, or stand among what is only assumed.",
    )


def _spread(build: Build) -> Finding:
    spread, seen = build.pack.spread_full, build.pack.module.imbalance_full
    common = {
        "about": "cells",
        "value_name": "the highest cell above the mean, near full",
        "remedy": "Charge gently to full, balance, rest and look again; leave out modules that "
        "stay apart.",
    }
    if spread is None:
        return state(
            SPREAD,
            Severity.CAUTION,
            about="cells",
            detail="Nobody measured how far the cells lie apart when full; a guard is assumed."
            if seen is None
            else f"On one module the highest cell group lay {say(seen.m, 'V')} above the mean when "
            "full. Of the others nothing was measured.",
            remedy="Measure every cell group near full and say spread_full under [pack].",
        )
    refused = at_most(
        SPREAD,
        spread,
        VOLTAGE.of(_SPREAD_MOST),
        otherwise=Severity.STOP,
        limit_name="the most that may be built with",
        **common,
    )
    if refused.severity is Severity.STOP:
        return refused
    found = at_most(
        SPREAD,
        spread,
        VOLTAGE.of(_SPREAD_FINE),
        otherwise=Severity.CAUTION,
        limit_name="what sound modules show",
        **common,
    )
    if build.pack.basis.of("spread_full") is not Basis.ASSUMED:
        return found
    return attrs.evolve(
        found,
        severity=Severity.CAUTION,
        detail=f"{found.detail} It is only assumed.",
        remedy="Measure every cell group near full and say spread_full under [pack], with "
        'basis = "measured".',
        assumed=("spread full",),
    )


def _guards(build: Build) -> Finding:
    loose = loosened(build.policy)
    if not loose:
        return state(
            GUARDS, Severity.OK, about="policy", detail="No guard is looser than is usual."
        )
    told = "; ".join(
        f"{means(field)}: {say(float(getattr(build.policy, field).m), '')}" for field in loose
    )
    return state(
        GUARDS,
        Severity.CAUTION,
        about="policy",
        detail=f"Set looser than is usual: {told}.",
        remedy="Take the lines out of [policy] to have the usual guards back, or be sure why.",
    )


def _flat(build: Build) -> tuple[Finding, ...]:
    chemistry = build.pack.module.chemistry
    if not chemistry.flat:
        return ()
    return (
        state(
            FLAT,
            Severity.CAUTION,
            about=chemistry.name,
            detail="Between about 15 and 95 % of charge the voltage hardly moves; thresholds in "
            "volts steer the charge left only roughly, ±30 % or so.",
            remedy="Steer by counted charge (a battery meter with a shunt) and keep the voltages "
            "as the last line.",
        ),
    )


def _assumed(build: Build) -> tuple[Finding, ...]:
    module = build.pack.module
    limits = [
        f"{name} voltage of a cell"
        for name in ("highest", "least")
        if module.limit_basis(name) not in _KNOWN
    ]
    devices: list[tuple[Any, tuple[str, ...]]] = [
        *((inverter, _INVERTER_FIELDS) for inverter in build.inverters),
        *((charger, _CHARGER_FIELDS) for charger in build.all_chargers),
    ]
    watcher = build.pack.monitoring
    if isinstance(watcher, Monitoring):
        devices.append((watcher, _MONITORING_FIELDS))
    groups = [(module.name, _not_known(module, _MODULE_FIELDS)), (module.chemistry.name, limits)]
    groups += [(device.name, _not_known(device, fields)) for device, fields in devices]
    facts = [
        state(
            ASSUMED,
            Severity.CAUTION,
            about=about,
            detail=f"Neither measured nor read off a data sheet: {', '.join(names)}.",
            remedy="Read them off the data sheet or the device, put them in the build "
            'sheet, and say basis = "datasheet" or "measured".',
            assumed=tuple(names),
        )
        for about, names in groups
        if names
    ]
    return (*facts, *_guessed(build))


def _guessed(build: Build) -> list[Finding]:
    """Return a finding for what was stated of place, load and cables, and is only assumed."""
    cabling = build.cabling
    usual = (cabling.module_lead, cabling.link, cabling.main, cabling.charger, cabling.array)
    runs = [run for run in (*usual, *cabling.own.values()) if run is not None]
    stated: list[tuple[str, Any, tuple[str, ...]]] = [
        ("pack", build.pack, _PACK_FIELDS),
        ("site", build.site, _SITE_FIELDS),
        ("load", build.load, _LOAD_FIELDS),
        *((run.name, run, _RUN_FIELDS) for run in runs),
    ]
    if cabling.bar is not None:
        stated.append((cabling.bar.name, cabling.bar, _BAR_FIELDS))
    found = []
    for about, noun, fields in stated:
        names = _named(noun, fields, lambda basis: basis is Basis.ASSUMED)
        if names:
            found.append(
                state(
                    ASSUMED,
                    Severity.CAUTION,
                    about=about,
                    detail=f"Only assumed: {', '.join(names)}.",
                    remedy="Find out what is so, put it in the build sheet, and take "
                    'basis = "assumed" away.',
                    assumed=tuple(names),
                )
            )
    return found


def _not_known(device: Any, fields: tuple[str, ...]) -> list[str]:
    """Return the facts about a device that were neither measured nor read off a data sheet."""
    return _named(device, fields, lambda basis: basis not in _KNOWN)


def _named(noun: Any, fields: tuple[str, ...], what: Callable[[Basis], bool]) -> list[str]:
    return [
        field.replace("_", " ")
        for field in fields
        if getattr(noun, field) is not None and what(noun.basis.of(field))
    ]
