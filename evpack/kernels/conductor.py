"""Copper conductors: how warm they run, what they drop, what they stand, how they share."""

from __future__ import annotations

from collections.abc import Sequence

# How much the resistance of copper rises per kelvin, against that at 20 °C (IEC 60028) and at
# 75 °C (NEC Chapter 9 Table 8, note 2) [1/K].
ALPHA_20 = 0.00393
ALPHA_75 = 0.00323

LONGEST_ADIABATIC = 5.0  # what the adiabatic equation holds for [s] (IEC 60364-4-43, from memory)


def operating_temperature(ambient: float, hottest: float, current: float, ampacity: float) -> float:
    r"""Return the temperature that a conductor settles at [degC].

    .. math:: t = t_{amb} + (t_{max} - t_{amb}) (I / I_z)^2

    Parameters
    ----------
    ambient : float
        Temperature around it [degC].
    hottest : float
        Temperature that its ampacity brings it to [degC].
    current, ampacity : float
        What it carries for good, and what it may carry [A].

    Notes
    -----
    Heat balance: losses rise with the square of the current, and cooling with the rise in
    temperature. That losses rise a little faster in warm copper is left out.

    Examples
    --------
    >>> operating_temperature(30.0, 75.0, 50.0, 100.0)
    41.25
    """
    return ambient + (hottest - ambient) * (current / ampacity) ** 2


# At 20 °C copper has this part of its resistance at 75 °C, rounded down: cold cables let more
# fault current through.
COLD_COPPER = 0.82


def from_75(celsius: float) -> float:
    """Return the resistance of copper against that at 75 degC [1].

    References
    ----------
    nec-ch9-t8, note 2: R2 = R1 [1 + 0.00323 (T − 75)].

    Examples
    --------
    >>> round(from_75(20.0), 3)
    0.822
    """
    return 1 + ALPHA_75 * (celsius - 75.0)


def from_20(celsius: float, alpha: float = ALPHA_20) -> float:
    """Return the resistance of copper against that at 20 degC [1].

    Parameters
    ----------
    celsius : float
        Temperature of the metal [degC].
    alpha : float
        Rise per kelvin [1/K].

    References
    ----------
    iec-60028: R_T = R20 [1 + 0.00393 (T − 20)].

    Examples
    --------
    >>> round(from_20(75.0), 3)
    1.216
    """
    return 1 + alpha * (celsius - 20.0)


def voltage_drop(ohm_per_metre: float, length: float, current: float, parallel: int = 1) -> float:
    """Return the voltage lost in a two-wire run, there and back [V].

    Parameters
    ----------
    ohm_per_metre : float
        Resistance of one conductor at its temperature [Ω/m].
    length : float
        One way [m].
    current : float
        Of the whole run [A].
    parallel : int
        Conductors side by side for each pole.

    Examples
    --------
    >>> voltage_drop(0.001, 5.0, 100.0, parallel=2)
    0.5
    """
    return 2 * length * ohm_per_metre * current / parallel


def withstand(k: float, area: float) -> float:
    """Return the I²t that a conductor stands [A²s]: k²S².

    Parameters
    ----------
    k : float
        Of conductor and insulation [A √s/mm²]: copper in PVC 115, in XLPE 143 (from memory).
    area : float
        Cross-section [mm²].

    References
    ----------
    iec-60364-4-43, 434.5.2.
    """
    return (k * area) ** 2


def withstand_time(k: float, area: float, current: float) -> float:
    """Return how long a conductor stands a fault current [s]: (kS/I)².

    No heat leaves the conductor in this, which flatters nothing: beyond `LONGEST_ADIABATIC` it
    would stand longer.

    References
    ----------
    iec-60364-4-43, 434.5.2.
    """
    return withstand(k, area) / current**2


def shares(ohms: Sequence[float]) -> tuple[float, ...]:
    """Return which part of the current each of several parallel paths takes [1].

    Parameters
    ----------
    ohms : sequence of float
        Their resistances, or their lengths where they are alike otherwise, all above 0.

    Examples
    --------
    >>> shares([1.0, 3.0])
    (0.75, 0.25)
    """
    together = sum(1 / each for each in ohms)
    return tuple(1 / each / together for each in ohms)


def short_lead_factor(strings: int, string: float, short: float, long: float) -> float:
    r"""Return how many times an even share the string on the shortest lead carries.

    .. math:: k = \frac{N}{1 + (N - 1) (R + r_s) / (R + r_l)}

    Parameters
    ----------
    strings : int
        Strings in parallel.
    string : float
        Resistance of each string without its lead [Ω].
    short, long : float
        Resistance of the shortest lead and of all the others [Ω].

    Returns
    -------
    float
        1 where the leads are alike; never more than the number of strings.

    References
    ----------
    Ohm's law: each string is a source of one voltage behind its own resistance and its lead's,
    so that it carries in proportion to its conductance.
    """
    return strings / (1.0 + (strings - 1) * (string + short) / (string + long))
