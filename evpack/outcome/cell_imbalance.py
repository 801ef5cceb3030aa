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
    chemistry = pack.module.chemistry
    guard = VOLTAGE.of(0.0) if chemistry.targets is None else chemistry.targets.top_guard
    found = known("δ", "least guard for cell spread", guard, chemistry.basis.of("top_guard"))
    return max((found, *_measured(pack, full=full)), key=lambda one: one.value)


def known_imbalance(pack: Pack, *, full: bool) -> Input:
    """Return the same as it is known: a measurement answers the guard of the chemistry."""
    measured = _measured(pack, full=full)
    if measured:
        return max(measured, key=lambda one: one.value)
    return imbalance(pack, full=full)


def _measured(pack: Pack, *, full: bool) -> tuple[Input, ...]:
    module = pack.module
    field, means = ("imbalance_full", FULL) if full else ("imbalance_empty", EMPTY)
    told = (
        ("measured cell spread", pack.spread_full, pack.basis.of("spread_full")),
        (means, getattr(module, field), module.basis.of(field)),
    )
    return tuple(known("δ", what, volts, how) for what, volts, how in told if volts is not None)


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
