"""What flows when several modules or strings at rest are joined on one bus.

Each is the source, resistance and slope of `evpack.kernels.joining`; currents are positive out of
a module.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from evpack.base.errors import DescriptionError
from evpack.kernels.joining import AMP_HOUR, check, check_limit

Array = NDArray[np.float64]

# How far a bisection narrows what it looks for, as a share.
_NARROW = 1e-12


class Bus(NamedTuple):
    """Several on one bus: the currents, and how they come to rest.

    Attributes
    ----------
    first, last : array, shape (n,)
        Current of each when joined and in the end [A]; the latter is 0 without a load.
    bus_volts : float
        Voltage of the bus when joined [V], by Millman's theorem.
    rates : array, shape (n - 1,)
        At which rates the differences die away [1/s].
    parts : array, shape (n, n - 1)
        Part of each current that dies away at each rate [A].
    """

    first: Array
    last: Array
    bus_volts: float
    rates: Array
    parts: Array

    @property
    def worst(self) -> float:
        """Greatest current of any when joined, either way [A]."""
        return float(np.max(np.abs(self.first)))

    def at(self, times: ArrayLike) -> Array:
        """Return the currents at times after joining [s], shape (times, n) [A]."""
        fade = np.exp(-np.multiply.outer(np.asarray(times, dtype=float), self.rates))
        return np.asarray(self.last + fade @ self.parts.T)

    def moved(self) -> Array:
        """Return the charge each gives in the end, beyond its share of a load [Ah]."""
        return np.asarray((self.parts / self.rates).sum(axis=1) / AMP_HOUR)

    def let_through(self) -> Array:
        """Return the integral of each squared current beyond its share of a load [A²s].

        Times the resistance of each it is the heat that joining leaves in it [J].
        """
        pairs = self.rates[:, None] + self.rates
        return np.asarray(np.einsum("im,in,mn->i", self.parts, self.parts, 1.0 / pairs))

    def settled_by(self, limit: float) -> float:
        """Return a time from which on every current is within a limit of its last [s].

        The parts of a current may cancel for a while. Their sizes are added here, so that the
        time is never too short; for two it is exact.

        Parameters
        ----------
        limit : float
            The limit [A], above 0.
        """
        check_limit(limit)
        sizes = np.abs(self.parts)

        def beyond(seconds: float) -> bool:
            return bool(np.max(sizes @ np.exp(-self.rates * seconds)) > limit)

        if not beyond(0.0):
            return 0.0
        low, high = 0.0, float(1.0 / self.rates.min())
        while beyond(high):
            low, high = high, 2 * high
        while high - low > _NARROW * high:
            middle = (low + high) / 2
            low, high = (middle, high) if beyond(middle) else (low, middle)
        return high


def bus(volts: ArrayLike, ohms: ArrayLike, slopes: ArrayLike, load: float = 0.0) -> Bus:
    r"""Return what flows when several are joined on one bus, with or without a steady load.

    With G = 1/R, the bus stands at :math:`U = (\sum G_i E_i - I) / \sum G_i` and each gives
    :math:`I_i = G_i (E_i - U)`. From there :math:`\dot I = -L K I` with
    :math:`L = \mathrm{diag}(G) - G G^T / \sum G` and K = diag(k)/3600, which
    :math:`K^{1/2} L K^{1/2}` makes symmetric: its eigenvalues are the rates.

    Parameters
    ----------
    volts, ohms, slopes : array, shape (n,)
        As for `joining.pair`, n from 2; the resistance of each one's lead counts with its own.
    load : float
        Steady current taken from the bus [A].

    Raises
    ------
    DescriptionError
        As for `joining.pair`.

    Examples
    --------
    >>> three = bus([50.2, 50.0, 50.0], [0.016, 0.016, 0.016], [0.1, 0.1, 0.1])
    >>> three.first.round(2).tolist(), three.moved().round(3).tolist()
    ([8.33, -4.17, -4.17], [1.333, -0.667, -0.667])
    """
    emf, resistance, slope = check(volts, ohms, slopes)
    if emf.size < 2:  # noqa: PLR2004
        raise DescriptionError("need at least two to join")
    if not math.isfinite(load):
        raise DescriptionError(f"the load is not a finite number, got {load}")
    conductance = 1.0 / resistance
    millman = float((conductance @ emf - load) / conductance.sum())
    first = conductance * (emf - millman)
    last = load * (1.0 / slope) / (1.0 / slope).sum()
    root = np.sqrt(slope / AMP_HOUR)
    share = np.diag(conductance) - np.outer(conductance, conductance) / conductance.sum()
    # One eigenvalue is 0, that of all falling alike; the others are above it.
    rates, modes = np.linalg.eigh(root[:, None] * share * root)
    rates, modes = rates[1:], modes[:, 1:]
    parts = modes / root[:, None] * ((root * (first - last)) @ modes)
    return Bus(first, last, millman, rates, parts)


def common_volts(volts: ArrayLike, slopes: ArrayLike) -> float:
    r"""Return the voltage of all that were joined, in the end [V].

    .. math:: U = \frac{\sum C_i E_i}{\sum C_i}, \quad C_i \propto 1 / k_i

    Parameters
    ----------
    volts, slopes : array, shape (n,)
        As for `bus`.

    Examples
    --------
    >>> round(common_volts([50.2, 50.0, 50.0], [0.1, 0.1, 0.1]), 4)
    50.0667
    """
    emf, _, slope = check(volts, np.ones(np.size(slopes)), slopes)
    return float((emf / slope).sum() / (1.0 / slope).sum())
