"""The resistance of a module at room temperature, from a reading that was made elsewhere.

A cold cell resists more than a warm one. Taken as it was read in the cold, a resistance promises
a fault current that the warm pack exceeds; so it is brought to room temperature, by a range.
"""

from __future__ import annotations

from evpack.base.basis import Basis
from evpack.base.wording import say
from evpack.base.worked import Input
from evpack.describe.module import Module
from evpack.kernels.cold import ROOM, reading_factors


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
