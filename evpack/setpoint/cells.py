"""The thresholds of the cell monitoring, for one cell, which the pack's settings lean on."""

from __future__ import annotations

from evpack.base.basis import Basis
from evpack.base.worked import Input, known
from evpack.outcome.groundwork import Groundwork


def cell_thresholds(ground: Groundwork) -> dict[str, float]:
    """Return the thresholds of the cell monitoring for one cell [V], inside the module's limits.

    A module with tighter limits of its own keeps the distance that the chemistry's cuts keep from
    the chemistry's limits: the monitoring has errors too.
    """
    targets, module = ground.targets, ground.build.pack.module
    limits, gap = module.chemistry.limits, targets.ladder_gap.m
    cut_high = min(targets.cut_high.m, module.highest.m - (limits.highest.m - targets.cut_high.m))
    cut_low = max(targets.cut_low.m, module.least.m + min(targets.cut_low.m - limits.least.m, gap))
    return {
        "cut_high": cut_high,
        "warn_high": min(targets.warn_high.m, cut_high - gap),
        "warn_low": max(targets.warn_low.m, cut_low + gap),
        "cut_low": cut_low,
    }


# The same as formulas, for the settings sheet.
THRESHOLDS = {
    "cut_high": "min({V_chem}, {V_max} − ({V_limit} − {V_chem}))",
    "warn_high": "min({V_chem}, {V_cut} − {gap})",
    "warn_low": "max({V_chem}, {V_cut} + {gap})",
    "cut_low": "max({V_chem}, {V_min} + min({V_chem} − {V_limit}, {gap}))",
}


def threshold_inputs(ground: Groundwork, key: str, name: str) -> tuple[Input, ...]:
    """Return what a threshold of `cell_thresholds` is made of, for its formula."""
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
        Input("V_cut", "the cut beyond it", cell_thresholds(ground)[cut], "V", Basis.COMPUTED),
        known(
            "gap",
            "least step between thresholds",
            ground.targets.ladder_gap,
            chemistry.basis.of("ladder_gap"),
        ),
    )
    return tuple(i for i in every if f"{{{i.symbol}}}" in THRESHOLDS[key])
