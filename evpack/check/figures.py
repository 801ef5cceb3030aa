"""The pack's own figures, each with its formula."""

from __future__ import annotations

from evpack.base.basis import Basis
from evpack.base.units import CHARGE, CURRENT, ENERGY, RESISTANCE, VOLTAGE, Quantity
from evpack.base.worked import Worked, count, from_worked, known
from evpack.describe.build import Build
from evpack.describe.pack import Pack
from evpack.outcome.groundwork import PackFigures, unequal_leads

# How many modules in series are worth listing: enough for a high-voltage port.
_LONGEST_LISTED = 8


def pack_figures(build: Build) -> PackFigures:
    """Return the pack's voltages, capacity, energy, resistance and current limits."""
    pack, module, policy = build.pack, build.pack.module, build.policy
    limits, targets = module.chemistry.limits, module.chemistry.targets
    cells = count("n", "cells in series", pack.cells_in_series)
    strings = count("N", "strings in parallel", pack.strings)

    def of_cells(name: str, symbol: str, means: str, cell: Quantity, basis: Basis) -> Worked:
        return Worked(
            name=name,
            kind=VOLTAGE,
            formula=f"{{n}} · {{{symbol}}}",
            inputs=(cells, known(symbol, means, cell, basis)),
            source="arithmetic",
        )

    nominal = of_cells(
        "nominal voltage",
        "V_nom",
        "nominal voltage of a cell",
        module.nominal,
        module.limit_basis("nominal"),
    )
    capacity = Worked(
        name="capacity",
        kind=CHARGE,
        formula="{N} · {Q}",
        inputs=(
            strings,
            known("Q", "capacity of a module", module.capacity, module.basis.of("capacity")),
        ),
        source="arithmetic",
    )
    if policy.charge_target is not None:
        target, target_basis = policy.charge_target, policy.basis.of("charge_target")
    else:
        target = limits.highest if targets is None else targets.charge
        target_basis = module.chemistry.basis.of("charge")
    return PackFigures(
        cells_in_series=pack.cells_in_series,
        modules=pack.modules,
        reachable=tuple(k * module.cells_in_series for k in range(1, _LONGEST_LISTED + 1)),
        nominal=nominal,
        least=of_cells(
            "least voltage",
            "V_min",
            "least voltage of a cell",
            module.least,
            module.limit_basis("least"),
        ),
        highest=of_cells(
            "highest voltage",
            "V_max",
            "highest voltage of a cell",
            module.highest,
            module.limit_basis("highest"),
        ),
        charge_target=of_cells(
            "charge target, highest cell",
            "V_high",
            "charge target for the highest cell",
            target,
            target_basis,
        ),
        capacity=capacity,
        label_energy=Worked(
            name="energy on the label",
            kind=ENERGY,
            formula="{V} · {Q}",
            inputs=(
                from_worked("V", nominal),
                from_worked("Q", capacity),
            ),
            source="arithmetic",
            note="What a label would say; what is usable stands further down.",
        ),
        resistance=_resistance(pack),
        discharge_limit=_current_limit(
            build, "discharge current limit", "discharge_limit", module.discharge_limit
        ),
        discharge_peak=_current_limit(
            build, "peak discharge current limit", "discharge_peak", module.discharge_peak
        ),
        charge_limit=_current_limit(
            build, "charge current limit of the modules", "charge_limit", module.charge_limit
        ),
    )


def _resistance(pack: Pack) -> Worked | None:
    module, value = pack.module, pack.resistance
    if module.resistance is None or value is None:
        return None
    return Worked(
        name="DC internal resistance",
        kind=RESISTANCE,
        formula="{R} · {m} / {N}",
        inputs=(
            known(
                "R",
                f"resistance of a module ({module.resistance_method})",
                module.resistance,
                module.basis.of("resistance"),
            ),
            count("m", "modules in series", pack.modules_in_series),
            count("N", "strings in parallel", pack.strings),
        ),
        source="ohms-law",
        note="Without leads and cables.",
    )


def _current_limit(build: Build, name: str, field: str, limit: Quantity | None) -> Worked | None:
    if limit is None:
        return None
    pack, policy = build.pack, build.policy
    basis = pack.module.basis.of(field)
    module_limit = known("I", f"{field.replace('_', ' ')} of a module", limit, basis)
    if pack.strings == 1:
        return Worked(
            name=name,
            kind=CURRENT,
            formula="{I}",
            inputs=(module_limit,),
            source="module-datasheet",
        )
    leads = unequal_leads(build, pack.strings)
    return Worked(
        name=name,
        kind=CURRENT,
        formula="{N} · {I} / {k}" if leads is None else "{N} · {I} / ({k} · {k_lead})",
        inputs=(
            count("N", "strings in parallel", pack.strings),
            module_limit,
            known(
                "k",
                "worst string against an even share",
                policy.sharing_imbalance,
                policy.basis.of("sharing_imbalance"),
            ),
            *(() if leads is None else (from_worked("k_lead", leads),)),
        ),
        source="common-practice",
        note="The strings do not share evenly; the busiest one sets the limit.",
    )
