"""What a design reckons of its cells: how far they lie apart, and how they resist in a room.

A cell that stands apart when full is out of balance. One that falls behind towards empty holds
less than the others: it is empty while the pack's voltage still looks well, and no balancing
brings that back.

A cold cell resists more than a warm one. Taken as it was read in the cold, a resistance promises
a fault current that the warm pack exceeds; so it is brought to room temperature, by a range.
"""

from __future__ import annotations

from evpack.base.basis import Basis
from evpack.base.units import VOLTAGE
from evpack.base.wording import say
from evpack.base.worked import Input, known
from evpack.describe.module import Module
from evpack.describe.pack import Pack
from evpack.kernels.cold import ROOM, reading_factors

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


def factor(module: Module, *, least: bool) -> float:
    """Return what a reading is divided by for the least, or the most, that it may be in the room.

    1 where it was read in a room, or where nobody said how warm it was. For the least, where
    current is the danger, a warm reading stays as it is: the pack may get as warm.
    """
    at = module.resistance_temperature
    if at is None:
        return 1.0
    low, high = reading_factors(float(at.m))
    return max(1.0, high) if least else low


def at_room(module: Module, *, least: bool) -> Input | None:
    """Return the 10 s resistance of a module at room temperature [Ω]; None where nobody read it.

    Parameters
    ----------
    least : bool
        The lowest that it may be, for fault currents; else the highest, for sag.
    """
    if module.resistance is None:
        return None
    by, read = factor(module, least=least), float(module.resistance.m)
    means, basis = "10 s resistance of a module", module.basis.of("resistance")
    if by != 1.0:
        at = module.resistance_temperature
        assert at is not None  # noqa: S101  (else the factor is 1)
        means += (
            f", {'at least' if least else 'at most'}: {say(read, 'Ω')} a module "
            f"read at {say(float(at.m), '°C')}, brought to {say(ROOM[at.m > ROOM[0]], '°C')}"
        )
        basis = Basis.ASSUMED
    return Input("R_mod", means, read / by, "Ω", basis)
