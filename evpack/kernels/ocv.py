"""Looking up open-circuit voltage and state of charge on a measured curve."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


def voltage_at(soc: Array, volts: Array, state: float) -> float:
    """Return the open-circuit voltage at a state of charge, linear between points.

    Parameters
    ----------
    soc, volts : array, shape (n,)
        The curve: state of charge [1] rising, voltage [V] rising.
    state : float
        State of charge, 0 to 1.
    """
    return float(np.interp(state, soc, volts))


def state_at(soc: Array, volts: Array, voltage: float) -> float:
    """Return the state of charge at which a rested cell shows a voltage, held to 0 and 1.

    Parameters
    ----------
    soc, volts : array, shape (n,)
        The curve: state of charge [1] rising, voltage [V] rising strictly.
    voltage : float
        Voltage of one cell at rest [V].
    """
    return float(np.interp(voltage, volts, soc))


def mean_voltage(soc: Array, volts: Array) -> float:
    """Return the mean open-circuit voltage from empty to full [V]."""
    return float(np.trapezoid(volts, soc))
