"""The pack as an electrical source, and what the load asks of it: made once, used by every step."""

from __future__ import annotations

import attrs
import numpy as np
from numpy.typing import NDArray

from evpack.base.brief import brief
from evpack.base.worked import Worked
from evpack.kernels import load_line


@attrs.frozen(kw_only=True, eq=False)
class PackSource:
    """The pack seen from the inverter's terminals.

    Parameters
    ----------
    cells : int
        Cell groups in series.
    soc, emf : array, shape (n,)
        State of charge [1] and open-circuit voltage of the pack [V].
    ohms : array, shape (n,), or None
        Resistance of the pack over 10 s [Ω], without cables; None is unknown.
    cable : float
        Resistance of leads, links and mains together [Ω], as far as it is known.
    capacity : float
        Charge of all strings together [Ah].
    long_factor : float
        Resistance over hours against that over 10 s.
    cold_factor : float
        Resistance of the cells at the coldest they get against that at room temperature.
    """

    cells: int
    soc: NDArray[np.float64]
    emf: NDArray[np.float64]
    ohms: NDArray[np.float64] | None
    cable: float
    cable_known: bool
    capacity: float
    long_factor: float
    cold_factor: float = 1.0

    __repr__ = brief

    def rest_voltage(self, state: float) -> float:
        """Return the pack's voltage at rest [V] at a state of charge."""
        return load_line.voltage_at(self.soc, self.emf, state)

    def state_at_rest(self, voltage: float) -> float:
        """Return the state of charge at which the rested pack shows a voltage [V]."""
        return load_line.state_at(self.soc, self.emf, voltage)

    def path(self, *, hours: bool, warm: bool = False) -> NDArray[np.float64] | None:
        """Return the resistance up to the inverter [Ω], over hours or over 10 s.

        At the coldest that the cells get, or `warm`, at room temperature.
        """
        if self.ohms is None:
            return None
        cells = self.ohms * (self.long_factor if hours else 1.0)
        return cells * (1.0 if warm else self.cold_factor) + self.cable

    def ohms_at(self, state: float, *, hours: bool, warm: bool = False) -> float | None:
        """Return the resistance up to the inverter at a state of charge [Ω]; see `path`."""
        path = self.path(hours=hours, warm=warm)
        return None if path is None else float(np.interp(state, self.soc, path))

    def state_under(self, power: float | None, threshold: float) -> float | None:
        """Return the state at which the pack, loaded for hours, falls to a voltage [V]."""
        path = self.path(hours=True)
        if path is None or power is None:
            return None
        return load_line.lowest_state(self.soc, self.emf, path, power, threshold)[0]


@attrs.frozen(kw_only=True)
class Demand:
    """What is asked of the pack at its DC terminals [W]; None where an input is unknown.

    `rated` is every inverter at its full continuous output, `surge` at its full surge: nothing
    but the builder's word keeps the load below them.
    """

    continuous: Worked | None
    typical: Worked | None
    peak: Worked | None
    rated: Worked | None
    surge: Worked | None

    __repr__ = brief

    def load_for(self, power: float) -> float | None:
        """Return the AC load that draws a DC power [W]; None where the inverters are unknown."""
        if self.continuous is None:
            return None
        by_symbol = {i.symbol: i.value for i in self.continuous.inputs}
        return max(0.0, (power - by_symbol["P_idle"]) * by_symbol["η"])
