"""What was measured of a module's cell groups: one that is empty first, ran ahead, or fell too low.

Such a measurement reaches the settings by `Groundwork.spread` and `Groundwork.spread_empty`; here
it is said and weighed.
"""

from __future__ import annotations

import attrs

from evpack.base.basis import Basis
from evpack.base.finding import Finding, Rule, Severity, Standing, at_least, at_most
from evpack.base.units import VOLTAGE
from evpack.describe.build import Build
from evpack.describe.module import Module

WEAK = Rule(
    key="cells.weak-group",
    says="A cell group that falls far behind towards empty holds less than the others, and is "
    "empty while the pack's voltage still looks well.",
    source="common-practice",
    stands=Standing.GUARD,
    kind=VOLTAGE,
)
AHEAD = Rule(
    key="cells.ahead",
    says="What one module showed when full is not undone by a better reading of the pack, unless "
    "the module was balanced since.",
    source="common-practice",
    stands=Standing.GUARD,
    kind=VOLTAGE,
)
FLOOR = Rule(
    key="cells.floor",
    says="A module of which a cell group ever lay far too low is not built with: copper may have "
    "dissolved and plated again inside it.",
    source="cell-limits",
    stands=Standing.BOUND,
    clause="print of the cell: voltage below which it is not charged again",
    kind=VOLTAGE,
)

# Below the mean towards empty [V]; sound modules stay within. Common practice, no source.
FINE = 0.15


def cell_groups(build: Build) -> tuple[Finding, ...]:
    """Return the findings on what was measured of the cell groups; none where nothing was."""
    module = build.pack.module
    return (*_weak(module), *_ahead(build), *_floor(module))


def which(module: Module) -> str:
    """Return the weakest cell group by its number, where that is known."""
    weakest = module.weakest_group
    return "the weakest cell group" if weakest is None else f"cell group {weakest}"


def _weak(module: Module) -> tuple[Finding, ...]:
    if module.imbalance_empty is None:
        return ()
    found = at_most(
        WEAK,
        module.imbalance_empty,
        VOLTAGE.of(FINE),
        about=module.name,
        otherwise=Severity.CAUTION,
        value_name=f"how far {which(module)} lies below the mean towards empty",
        limit_name="what sound modules show",
        remedy="The cut-off is raised for it, and so less energy is usable. Prove the low cut of "
        "the cell monitoring on this group. Balancing does not bring its charge back: leave the "
        "module out where you have a better one.",
    )
    return (_said(found, module, "imbalance_empty"),)


def _ahead(build: Build) -> tuple[Finding, ...]:
    pack, module = build.pack, build.pack.module
    seen, stated = module.imbalance_full, pack.spread_full
    if seen is None or stated is None:
        return ()
    found = at_most(
        AHEAD,
        seen,
        stated,
        about=module.name,
        otherwise=Severity.CAUTION,
        value_name="how far the highest cell group of a module lay above the mean when full",
        limit_name="the cell imbalance stated of the pack when full",
        remedy="The charge voltage counts the larger. If the module was balanced since, measure it "
        "again and say imbalance_full under [module].",
    )
    return (found,)


def _floor(module: Module) -> tuple[Finding, ...]:
    if module.lowest_group is None:
        return ()
    found = at_least(
        FLOOR,
        module.lowest_group,
        module.chemistry.limits.reject_below,
        about=module.name,
        otherwise=Severity.STOP,
        value_name="the lowest that a cell group was found at",
        limit_name="the least below which cells are refused",
        remedy="Do not charge or use this module. If a sense wire was loose, record it again.",
    )
    return (found,)


def _said(found: Finding, module: Module, field: str) -> Finding:
    """Return a finding that says so where its value is only assumed."""
    if module.basis.of(field) is not Basis.ASSUMED:
        return found
    return attrs.evolve(found, assumed=(field.replace("_", " "),))
