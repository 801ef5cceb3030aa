r"""A source behind a resistance under a constant-power load.

.. math:: V = E - \frac{P}{V} R
   \quad\Rightarrow\quad V = \frac{E + \sqrt{E^2 - 4 R P}}{2}

The larger root is the one a pack works on. Where E² < 4RP there is none: the pack cannot carry
the load at any voltage, and its voltage collapses. Source: Ohm's law and a quadratic.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


def terminal_voltage(emf: float, ohms: float, power: float) -> float:
    """Return the voltage under a constant-power load [V]; NaN where the source collapses.

    Parameters
    ----------
    emf : float
        Open-circuit voltage [V].
    ohms : float
        Resistance up to the load [Ω].
    power : float
        Power taken at the load's terminals [W].
    """
    inside = emf * emf - 4.0 * ohms * power
    return 0.5 * (emf + math.sqrt(inside)) if inside >= 0 else math.nan


def terminal_voltages(emf: Array, ohms: Array, power: float) -> Array:
    """Return `terminal_voltage` for arrays of shape (n,); NaN where the source collapses."""
    inside = emf * emf - 4.0 * ohms * power
    root = np.sqrt(np.where(inside >= 0, inside, np.nan))
    return np.asarray(0.5 * (emf + root))


def lowest_state(
    soc: Array, emf: Array, ohms: Array, power: float, threshold: float
) -> tuple[float, bool]:
    """Return the state of charge at which the loaded voltage falls to a threshold.

    At the threshold the current is known, P/V, so that E − (P/V)·R = V is linear between the
    points of the curves: no iteration.

    Parameters
    ----------
    soc, emf, ohms : array, shape (n,)
        State of charge [1] rising, open-circuit voltage [V], resistance up to the load [Ω].
    power : float
        Power taken at the load's terminals [W].
    threshold : float
        Voltage at the load's terminals [V], above 0.

    Returns
    -------
    state : float
        The highest crossing; 0 where even an empty source holds the threshold, 1 where a full
        one does not.
    collapsed : bool
        Whether the source collapses before its voltage falls to the threshold: the state is then
        where it last carries the load.
    """
    over_collapse = emf * emf - 4.0 * ohms * power
    alive_from = _last_rise(soc, over_collapse)
    if threshold <= 0.5 * float(np.interp(alive_from, soc, emf)):
        # The working voltage never falls below half the open-circuit voltage.
        return alive_from, bool(over_collapse.min() < 0)
    over_threshold = emf - ohms * (power / threshold) - threshold
    return _last_rise(soc, over_threshold), bool(over_collapse[-1] < 0)


def _last_rise(soc: Array, over: Array) -> float:
    """Return the state above which `over` stays at or above zero, linear between points."""
    below = np.flatnonzero(over < 0)
    if below.size == 0:
        return float(soc[0])
    last = int(below[-1])
    if last == soc.size - 1:
        return float(soc[-1])
    low, high = float(over[last]), float(over[last + 1])
    return float(soc[last] + (soc[last + 1] - soc[last]) * (-low) / (high - low))


def energy_between(
    soc: Array, emf: Array, ohms: Array, *, power: float, capacity: float, low: float, high: float
) -> float:
    """Return the energy that reaches the load between two states of charge [Wh].

    Trapezoids on the points of the curves; with no power it is the energy at rest.

    Parameters
    ----------
    soc, emf, ohms : array, shape (n,)
        State of charge [1] rising, open-circuit voltage [V], resistance up to the load [Ω].
    power : float
        Power taken at the load's terminals [W].
    capacity : float
        Charge from empty to full [Ah].
    low, high : float
        States of charge; nothing lies between them where ``low >= high``. The source must carry
        the load in between: where it just does not, the last voltage at which it did is taken.
    """
    if low >= high:
        return 0.0
    inside = soc[(soc > low) & (soc < high)]
    states = np.concatenate(([low], inside, [high]))
    source = np.interp(states, soc, emf)
    inner = source * source - 4.0 * np.interp(states, soc, ohms) * power
    volts = 0.5 * (source + np.sqrt(np.maximum(inner, 0.0)))
    return float(capacity * np.trapezoid(volts, states))
