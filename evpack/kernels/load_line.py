"""A source behind a resistance: at rest on its curve, under a constant-power load, and shorted."""

from __future__ import annotations

import math

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


def terminal_voltage(emf: float, ohms: float, power: float) -> float:
    r"""Return the voltage under a constant-power load [V]; NaN where the source collapses.

    .. math:: V = E - \frac{P}{V} R
       \quad\Rightarrow\quad V = \frac{E + \sqrt{E^2 - 4 R P}}{2}

    The larger root is the one a pack works on. Where E² < 4RP there is none: the pack cannot
    carry the load at any voltage, and its voltage collapses. Ohm's law and a quadratic.

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


def fault_current(emf: float, source_ohms: float, path_ohms: float, strings: int = 1) -> float:
    """Return the prospective fault current of like strings in parallel [A].

    Parameters
    ----------
    emf : float
        Open-circuit voltage of a string [V].
    source_ohms : float
        Resistance of one string, module links and lead included [Ω], above 0.
    path_ohms : float
        Resistance of the common path to the fault and back [Ω].
    strings : int
        Strings that feed the fault.

    Notes
    -----
    Ohm's law; inductance only delays the current, it does not lower where it ends.

    Examples
    --------
    >>> round(fault_current(240.0, 0.055, 0.0))
    4364
    """
    return emf / (source_ohms / strings + path_ohms)
