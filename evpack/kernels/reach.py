"""How far a pack is charged and emptied between its settings, and the energies between.

The settings are voltages and stay what they are; another open-circuit curve moves the states of
charge that they mean. So the same settings can be held against every curve that cells of a kind
may have.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from evpack.kernels import load_line

Array = NDArray[np.float64]
_ALIKE = 0.005  # states of charge that a person cannot tell apart


class Ends(NamedTuple):
    """What ends charge and discharge of a pack.

    Parameters
    ----------
    charge : float
        Voltage at rest after a full charge [V].
    low : float
        Voltage under `power` at which the discharge ends [V].
    changeover : float or None
        Voltage under `typical` at which the load goes to the utility [V].
    floated : float or None
        Voltage at which a charger floats the pack [V].
    power, typical : float
        What is taken at the inverter's DC terminals [W].
    """

    charge: float
    low: float
    changeover: float | None
    floated: float | None
    power: float
    typical: float


class Reach(NamedTuple):
    """States of charge [1] and the energies between them [Wh], under the continuous load.

    `total`, `above` and `below` are energies at rest: of the whole pack, above the end of charge,
    below the end of discharge. `from_float` lies between the float and the changeover, or the end
    of discharge where there is no changeover.
    """

    top: float
    bottom: float
    changeover: float | None
    floated: float | None
    collapsed: bool
    total: float
    reachable: float
    everyday: float | None
    reserve: float | None
    from_float: float | None
    above: float
    below: float

    @property
    def floats(self) -> bool:
        """Return whether a float holds the pack clearly below the end of charge."""
        return self.floated is not None and self.floated < self.top - _ALIKE

    @property
    def lost(self) -> float:
        """Return what turns to heat on the way under the continuous load [Wh]."""
        return self.total - self.above - self.below - self.reachable


def reach(soc: Array, emf: Array, ohms: Array, *, capacity: float, ends: Ends) -> Reach:
    """Return how far a pack is charged and emptied, and the energies between.

    Parameters
    ----------
    soc, emf, ohms : array, shape (n,)
        State of charge [1] rising, open-circuit voltage of the pack [V], resistance up to the
        load [Ω].
    capacity : float
        Charge from empty to full [Ah].
    """

    def energy(low: float, high: float, power: float) -> float:
        return load_line.energy_between(
            soc, emf, ohms, power=power, capacity=capacity, low=low, high=high
        )

    top = load_line.state_at(soc, emf, ends.charge)
    bottom, collapsed = load_line.lowest_state(soc, emf, ohms, ends.power, ends.low)
    bottom = min(bottom, top)
    change = None
    if ends.changeover is not None:
        change, _ = load_line.lowest_state(soc, emf, ohms, ends.typical, ends.changeover)
        change = min(max(change, bottom), top)
    floated = None
    if ends.floated is not None:
        floated = min(load_line.state_at(soc, emf, ends.floated), top)
    until = bottom if change is None else change
    return Reach(
        top=top,
        bottom=bottom,
        changeover=change,
        floated=floated,
        collapsed=collapsed,
        total=energy(0.0, 1.0, 0.0),
        reachable=energy(bottom, top, ends.power),
        everyday=None if change is None else energy(change, top, ends.power),
        reserve=None if change is None else energy(bottom, change, ends.power),
        from_float=None if floated is None else energy(until, floated, ends.power),
        above=energy(top, 1.0, 0.0),
        below=energy(0.0, bottom, 0.0),
    )
