r"""What flows when two modules or strings at rest are joined in parallel, and how a load splits.

Each is a source E behind a resistance R. Giving charge q lowers E by k·q, so that it behaves as a
capacitor of C = 3600/k farad, k in volts an ampere-hour. Over a small change of charge the curve
of a cell is as straight as that; for a large one see `evpack.kernels.joining_curves`.

Currents are positive out of a module. A low R and a high k are the safe side for the current, a
low k for the charge and the time.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from evpack.base.errors import DescriptionError

Array = NDArray[np.float64]

# Seconds in an hour: coulombs in an ampere-hour.
AMP_HOUR = 3600.0


class Pair(NamedTuple):
    """Two joined, no load.

    Attributes
    ----------
    amps : float
        First current, out of the first into the second [A].
    tau : float
        Time constant with which it dies away [s].
    charge : float
        What the first gives in the end [Ah].
    volts : float
        Voltage of both in the end [V].
    let_through : float
        Integral of the squared current, for the fuse between them [A²s].
    heat : tuple of three floats
        Left in the first, in the second and in the leads [J].
    """

    amps: float
    tau: float
    charge: float
    volts: float
    let_through: float
    heat: tuple[float, float, float]


class Split(NamedTuple):
    """How two share a steady load: the current of the first at first, at last, and between.

    Attributes
    ----------
    first, last : float
        When the load comes on and when both fall alike [A].
    tau : float
        Time constant from the one to the other [s].
    """

    first: float
    last: float
    tau: float


def pair(
    volts: tuple[float, float],
    ohms: tuple[float, float],
    slopes: tuple[float, float],
    leads: float = 0.0,
) -> Pair:
    r"""Return what flows between two that are joined without a load.

    .. math:: I_0 = \frac{E_1 - E_2}{R_1 + R_2 + R_l}, \quad
       \tau = (R_1 + R_2 + R_l) \frac{3600}{k_1 + k_2}, \quad I(t) = I_0 e^{-t/\tau}

    Parameters
    ----------
    volts : tuple of two floats
        Open-circuit voltages before [V].
    ohms : tuple of two floats
        Resistances [Ω], above 0.
    slopes : tuple of two floats
        Fall of the open-circuit voltage with charge given [V/Ah], above 0.
    leads : float
        Resistance of all that joins them, there and back [Ω].

    Raises
    ------
    DescriptionError
        For a resistance or slope that is not above 0, or a number that is none.

    References
    ----------
    Ohm's and Kirchhoff's laws; two capacitors through a resistance.

    Examples
    --------
    >>> both = pair((50.2, 50.0), (0.016, 0.016), (0.1, 0.1))
    >>> round(both.amps, 2), round(both.tau), round(both.charge, 2), round(both.volts, 2)
    (6.25, 576, 1.0, 50.1)
    """
    check(volts, ohms, slopes)
    if not 0 <= leads < math.inf:
        raise DescriptionError(f"the resistance of the leads is not below 0 Ω, got {leads}")
    whole, slope = sum(ohms) + leads, sum(slopes)
    amps, tau = (volts[0] - volts[1]) / whole, whole * AMP_HOUR / slope
    charge = (volts[0] - volts[1]) / slope
    let_through = amps * amps * tau / 2
    heat = (let_through * ohms[0], let_through * ohms[1], let_through * leads)
    return Pair(amps, tau, charge, volts[0] - slopes[0] * charge, let_through, heat)


def pair_split(amps: float, ohms: tuple[float, float], slopes: tuple[float, float]) -> Split:
    r"""Return how two of one voltage share a steady load.

    .. math:: I_1(0) = I \frac{R_2}{R_1 + R_2}, \quad I_1(\infty) = I \frac{k_2}{k_1 + k_2}

    Parameters
    ----------
    amps : float
        The load [A].
    ohms, slopes : tuples of two floats
        As for `pair`; the resistance of each one's lead counts with its own.

    Notes
    -----
    Currents add up: where the voltages differ, the current of `pair` comes on top.

    Examples
    --------
    >>> share = pair_split(60.0, (0.014, 0.021), (0.1, 0.125))
    >>> round(share.first, 3), round(share.last, 3), round(share.tau)
    (36.0, 33.333, 560)
    """
    check((amps, amps), ohms, slopes)
    whole, slope = sum(ohms), sum(slopes)
    return Split(amps * ohms[1] / whole, amps * slopes[1] / slope, whole * AMP_HOUR / slope)


def time_below(amps: float, tau: float, limit: float) -> float:
    """Return when a current that dies away falls to a limit [s]; 0 if it is there already.

    Parameters
    ----------
    amps, tau : float
        First current [A] and time constant [s].
    limit : float
        The limit [A], above 0.

    Examples
    --------
    >>> round(time_below(100.0, 60.0, 10.0), 2)  # 60 s · ln 10
    138.16
    """
    check_limit(limit)
    if not (math.isfinite(amps) and 0 < tau < math.inf):
        raise DescriptionError(f"need a current and a time constant, got {amps} and {tau}")
    return tau * math.log(abs(amps) / limit) if abs(amps) > limit else 0.0


def check(volts: ArrayLike, ohms: ArrayLike, slopes: ArrayLike) -> tuple[Array, Array, Array]:
    """Refuse a number that is none, and a resistance or slope that is not above 0."""
    emf, resistance, slope = (np.asarray(x, dtype=float) for x in (volts, ohms, slopes))
    if not emf.shape == resistance.shape == slope.shape == (emf.size,):
        raise DescriptionError("need one voltage, one resistance and one slope of each")
    if not np.isfinite(emf).all():
        raise DescriptionError("a voltage or current is not a finite number")
    for name, values in (("resistance", resistance), ("slope", slope)):
        if not (np.isfinite(values) & (values > 0)).all():
            raise DescriptionError(f"each {name} is a finite number above 0, got {values.tolist()}")
    return emf, resistance, slope


def check_limit(limit: float) -> None:
    """Refuse a limit that is never reached, or is none."""
    if not 0 < limit < math.inf:
        raise DescriptionError(f"the limit of the current is a number above 0 A, got {limit}")
