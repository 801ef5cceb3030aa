"""Filling a capacitor through a resistor: how long, how hot, what is left; and without one."""

from __future__ import annotations

import math

# The E6 series of resistor values (IEC 60063, from memory), one decade and the start of the next.
E6 = (1.0, 1.5, 2.2, 3.3, 4.7, 6.8, 10.0)

# A value this close to one of the series counts as it: 0.1 · 33 is not stored as 3.3.
_NOISE = 1e-9


def part_left(seconds: float, ohms: float, farads: float) -> float:
    r"""Return which part of the voltage is still missing after a time.

    .. math:: k = e^{-t / (R C)}

    Parameters
    ----------
    seconds : float
        Since the filling began [s].
    ohms, farads : float
        Resistor [Ω] and capacitor [F], both above 0.

    References
    ----------
    rc-transient (a key in data/sources.toml).

    Examples
    --------
    >>> round(1 - part_left(5.0, 1.0, 1.0), 5)
    0.99326
    """
    return math.exp(-seconds / (ohms * farads))


def time_to(part: float, ohms: float, farads: float) -> float:
    r"""Return the time until only so much of the voltage is missing [s].

    .. math:: t = -R C \ln k

    Parameters
    ----------
    part : float
        Part of the voltage that is left to fill, above 0 and up to 1.
    ohms, farads : float
        Resistor [Ω] and capacitor [F], both above 0.

    Examples
    --------
    >>> round(time_to(0.05, 50.0, 0.01), 3)
    1.498
    """
    return -ohms * farads * math.log(part)


def filling_heat(volts: float, farads: float) -> float:
    r"""Return the heat that the filling leaves in whatever resists it [J].

    .. math:: W = \tfrac{1}{2} C V^2

    As much again ends in the capacitor; the resistance cancels out.

    Parameters
    ----------
    volts, farads : float
        Voltage of the source [V] and capacitor [F].

    Examples
    --------
    >>> filling_heat(100.0, 0.01)
    50.0
    """
    return farads * volts**2 / 2


def inrush_let_through(volts: float, ohms: float, farads: float) -> float:
    r"""Return the I²t of an empty capacitor that is put on a source [A²s].

    .. math:: \int I^2 \, dt = \frac{C V^2}{2 R}

    Parameters
    ----------
    volts, ohms, farads : float
        Voltage of the source [V], all that resists on the way, above 0 [Ω], and capacitor [F].

    Examples
    --------
    >>> round(inrush_let_through(57.0, 0.02, 0.02), 1)
    1624.5
    """
    return filling_heat(volts, farads) / ohms


def resistor_at_most(ohms: float) -> float:
    """Return the largest value of the E6 series not above a resistance [Ω], which is above 0.

    Examples
    --------
    >>> resistor_at_most(40.0), resistor_at_most(33.0)
    (33.0, 33.0)
    """
    decade = 10.0 ** math.floor(math.log10(ohms))
    fitting = [value for value in E6 if value * decade <= ohms * (1 + _NOISE)]
    return _clean(fitting[-1] * decade)


def resistor_at_least(ohms: float) -> float:
    """Return the least value of the E6 series not below a resistance [Ω], which is above 0.

    Examples
    --------
    >>> resistor_at_least(5.88), resistor_at_least(6.8)
    (6.8, 6.8)
    """
    decade = 10.0 ** math.floor(math.log10(ohms))
    return _clean(next(v for v in E6 if v * decade >= ohms * (1 - _NOISE)) * decade)


def _clean(ohms: float) -> float:
    """Drop the binary dust of value times decade: 3.3 · 0.1 is 0.33."""
    return float(f"{ohms:.3g}")
