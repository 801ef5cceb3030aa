"""What a noun states, as rows of label, value and how it is known; text and HTML both tell them."""

from __future__ import annotations

import attrs

from evpack.base.basis import Basis
from evpack.base.fitted import NOT_FITTED, NotFitted
from evpack.base.wording import say
from evpack.describe.build import Build
from evpack.describe.chemistry import Chemistry
from evpack.describe.module import Module
from evpack.describe.pack import Monitoring, Pack
from evpack.describe.policy import Policy, means
from evpack.describe.safeguards import Disconnect, EmergencyOff, Precharge
from evpack.describe.site import Load, Site
from evpack.outcome.bench import BenchReading, GroupsSeen, ModuleReading
from evpack.show import (  # noqa: F401  they register their nouns
    facts_batch,
    facts_equipment,
    facts_operation,
    facts_trials,
    facts_wiring,
)
from evpack.show.fact import Fact, Facts, facts, many, row, rows, value_words
from evpack.show.gather import source_words
from evpack.show.words import NOT_KNOWN, per_cent, told

__all__ = ["Fact", "Facts", "build_parts", "facts", "value_words"]


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
        many(
            Fact("chemistry", module.chemistry.name),
            Fact(
                "cells",
                f"{module.cells_in_series} in series, {module.cells_in_parallel} in parallel",
            ),
            row(module, "capacity", "capacity"),
            row(module, "resistance", "resistance", _read_how(module)),
            limits,
            rows(
                module,
                ("discharge current, for good", "discharge_limit"),
                ("discharge current, for seconds", "discharge_peak"),
                ("charge current", "charge_limit"),
                ("weakest inner link", "link_limit"),
            ),
            _groups(module),
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
                module.basis.of("resistance_curve"),
            ),
        ),
    )


def _read_how(module: Module) -> str:
    """Say how a resistance was read: method, and charge and temperature where they are known."""
    found = [f"method: {module.resistance_method}"]
    if module.resistance_soc is not None:
        found.append(f"at {told(module.resistance_soc)} of charge")
    if module.resistance_temperature is not None:
        found.append(f"at {told(module.resistance_temperature)}")
    return ", ".join(found)


_GROUPS = (
    ("highest cell group above the mean, full", "imbalance_full"),
    ("weakest cell group below the mean, towards empty", "imbalance_empty"),
    ("lowest that a cell group was found at", "lowest_group"),
    ("cell group that is empty first", "weakest_group"),
)


def _groups(module: Module) -> tuple[Fact, ...]:
    """Tell what was measured of the cell groups; nothing where nothing was."""
    return rows(module, *((w, f) for w, f in _GROUPS if getattr(module, f) is not None))


@facts.register
def _pack(pack: Pack) -> Facts:
    return Facts(
        f"Pack of {pack.module.name}",
        many(
            rows(
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
            row(pack, "highest cell above the mean, near full", "spread_full"),
            row(pack, "pole joined to earth", "earthed"),
            Fact("cell monitoring", _monitor_name(pack.monitoring)),
        ),
    )


def _monitor_name(monitoring: Monitoring | NotFitted | None) -> str:
    return monitoring.name if isinstance(monitoring, Monitoring) else value_words(monitoring)


@facts.register
def _monitoring(monitoring: Monitoring) -> Facts:
    return Facts(
        monitoring.name,
        rows(
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
    found = [
        Fact(label, told(getattr(chemistry.limits, field)), chemistry.basis.of(field))
        for label, field in _LIMITS
    ]
    if chemistry.targets is None:
        found.append(Fact("charge to a set voltage", "refused", None, chemistry.why_refused))
    else:
        found += [
            Fact(label, told(getattr(chemistry.targets, field)), chemistry.basis.of(field))
            for label, field in _TARGETS
        ]
    found.append(
        Fact(
            "voltage tells state of charge",
            "hardly, between about 15 and 95 %" if chemistry.flat else "yes, at rest",
        )
    )
    if chemistry.ocv is not None:
        found.append(
            Fact(
                "voltage at rest against charge",
                source_words(chemistry.ocv.source),
                chemistry.ocv.basis,
                chemistry.ocv.quality,
            )
        )
    found.append(Fact("source", source_words(chemistry.source), None, chemistry.confidence))
    return Facts(chemistry.name, tuple(found))


_LARGER_LEG = (("on the larger leg", "larger_leg"),)


@facts.register
def _load(load: Load) -> Facts:
    return Facts(
        "Load",
        rows(
            load,
            ("runs for long, at most", "continuous"),
            ("runs most of the time", "typical"),
            ("peak, for seconds", "peak"),
            *_LARGER_LEG[: load.larger_leg is not None],
        ),
    )


@facts.register
def _site(site: Site) -> Facts:
    return Facts(
        "Site",
        many(
            Fact("place", value_words(site.place)),
            rows(site, ("kind of place", "kind")),
            rows(
                site,
                ("coldest the cells get", "coldest"),
                ("warmest the cells get", "warmest"),
                ("coldest air outside", "coldest_outside"),
                ("warmest air outside", "warmest_outside"),
            ),
            Fact("rules for fuse and cable sizes", site.rules.upper()),
            rows(site, ("belongs to a home", "serves_home")),
            rows(site, ("live parts out of reach", "live_parts_guarded")),
            Fact(
                "accepted by",
                "nobody" if site.approval is NOT_FITTED else value_words(site.approval),
            ),
        ),
    )


@facts.register
def _policy(policy: Policy) -> Facts:
    target = policy.charge_target
    found = [
        Fact(
            "charge target, highest cell",
            "the chemistry's" if target is None else told(target),
            policy.basis.of("charge_target"),
        )
    ]
    found += [
        row(policy, means(field.name), field.name)
        for field in attrs.fields(Policy)
        if "means" in field.metadata
    ]
    return Facts("Choices and guards", tuple(found))


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
