"""How far cells lie from the mean: when full, and towards empty, where it is another matter.

A cell that stands apart when full is out of balance. One that falls behind towards empty holds
less than the others: it is empty while the pack's voltage still looks well, and no balancing
brings that back.
"""

from __future__ import annotations

from evpack.base.basis import Basis
from evpack.base.units import VOLTAGE
from evpack.base.worked import Input, known
from evpack.describe.pack import Pack

FULL = "highest cell group above the mean when full, measured on a module"
EMPTY = "weakest cell group below the mean towards empty, measured on a module"


def imbalance(pack: Pack, *, full: bool) -> Input:
    """Return how far the highest cell (or, towards empty, the lowest) lies from the mean [V].

    The largest of what was measured, and no less than the guard of the chemistry. The pack's own
    spread when full counts at both ends; what a module showed, at the end where it did.
    """
    module = pack.module
    chemistry = module.chemistry
    guard = VOLTAGE.of(0.0) if chemistry.targets is None else chemistry.targets.top_guard
    found = known("δ", "least guard for cell spread", guard, chemistry.basis.of("top_guard"))
    field, means = ("imbalance_full", FULL) if full else ("imbalance_empty", EMPTY)
    measured = (
        ("measured cell spread", pack.spread_full, pack.basis.of("spread_full")),
        (means, getattr(module, field), module.basis.of(field)),
    )
    for what, volts, basis in measured:
        if volts is not None and volts.m > found.value:
            found = known("δ", what, volts, basis)
    return found


def imbalance_basis(pack: Pack, *, full: bool) -> Basis:
    """Return how that is known; a guard above what was measured rests on the measurement."""
    module = pack.module
    field = "imbalance_full" if full else "imbalance_empty"
    counts = imbalance(pack, full=full)
    if pack.spread_full is not None and counts.means not in {FULL, EMPTY}:
        return pack.basis.of("spread_full")
    if getattr(module, field) is not None:
        return module.basis.of(field)
    return module.chemistry.basis.of("top_guard")
