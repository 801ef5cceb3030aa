"""How the thresholds of the cell monitoring come about, for the settings sheet."""

from __future__ import annotations

from evpack.base.basis import Basis
from evpack.base.worked import Input, from_worked, known
from evpack.outcome.groundwork import Groundwork

# As `Groundwork.cell_thresholds` makes them, as formulas for the settings sheet.
THRESHOLDS = {
    "cut_high": "min({V_chem}, {V_max} − ({V_limit} − {V_chem}))",
    "warn_high": "min({V_chem}, {V_cut} − {gap})",
    "warn_low": "max({V_chem}, {V_cut} + {gap})",
    "cut_low": "max({V_chem}, {V_min} + min({V_chem} − {V_limit}, {gap}))",
}


def threshold_inputs(ground: Groundwork, key: str, name: str) -> tuple[Input, ...]:
    """Return what a threshold is made of, for its formula."""
    module, chemistry = ground.build.pack.module, ground.build.pack.module.chemistry
    side = "highest" if key.endswith("high") else "least"
    cut = f"cut_{key.partition('_')[2]}"
    every = (
        known(
            "V_chem",
            f"threshold of the chemistry: {name}",
            getattr(ground.targets, key),
            chemistry.basis.of(key),
        ),
        known(
            "V_limit",
            f"{side} voltage of a cell of this chemistry",
            getattr(chemistry.limits, side),
            chemistry.basis.of(side),
        ),
        known(
            "V_max" if side == "highest" else "V_min",
            f"{side} voltage of a cell of this module",
            getattr(module, side),
            module.limit_basis(side),
        ),
        Input("V_cut", "the cut beyond it", ground.cell_thresholds()[cut], "V", Basis.COMPUTED),
        known(
            "gap",
            "least step between thresholds",
            ground.targets.ladder_gap,
            chemistry.basis.of("ladder_gap"),
        ),
    )
    found = tuple(i for i in every if f"{{{i.symbol}}}" in THRESHOLDS[key])
    stands = ground.cut_that_inverters_stand()
    if key == "cut_high" and stands is not None:
        found = (*found, from_worked("V_inv", stands))
    return found


def threshold_formula(ground: Groundwork, key: str) -> str:
    """Return the formula of a threshold; the high cut minds what the inverters stand."""
    if key == "cut_high" and ground.cut_that_inverters_stand() is not None:
        return f"{THRESHOLDS[key][:-1]}, {{V_inv}})"
    return THRESHOLDS[key]
