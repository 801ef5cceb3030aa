"""Heat of a DC arc on whoever stands before it."""

from __future__ import annotations

import math

from evpack.base.errors import DescriptionError

# A person can be expected to get away from an arc within this [s]; to stand so far from it [m].
ESCAPE = 2.0
REACH = 0.45


def dc_arc_energy(volts: float, fault_amps: float, seconds: float, metres: float = REACH) -> float:
    r"""Return the incident energy of a DC arc in the open, by the maximum-power method [cal/cm²].

    The arc is taken to have half of the voltage and half of the fault current, the most that a
    source can give, and its heat to go out alike on all sides.

    .. math:: E = 0.01 \, V \, I_{arc} \, \frac{t}{D^2}, \quad I_{arc} = \frac{I_{bf}}{2}

    with D in centimetres.

    Parameters
    ----------
    volts : float
        Open-circuit voltage [V], not below 0.
    fault_amps : float
        Prospective (bolted) fault current [A], not below 0.
    seconds : float
        How long it burns [s], not below 0.
    metres : float
        From the arc to face and chest [m], above 0.

    Raises
    ------
    DescriptionError
        A number that cannot be.

    Notes
    -----
    In a box that opens towards the person it is about three times as much (common practice).
    The method is meant for up to 1000 V. It reckons with the most that there can be.

    References
    ----------
    nfpa-70e-d (a key in data/sources.toml): Annex D, DC incident energy; after Doan 2010. From
    memory.

    Examples
    --------
    >>> round(dc_arc_energy(400.0, 4000.0, 2.0), 2)  # 0.01 · 400 · 2000 · 2 / 45²
    7.9
    """
    if (
        not all(0 <= x < math.inf for x in (volts, fault_amps, seconds))
        or not 0 < metres < math.inf
    ):
        raise DescriptionError(
            "an arc needs a voltage, a current, a time and a distance, "
            f"got {volts} V, {fault_amps} A, {seconds} s, {metres} m"
        )
    return 0.01 * volts * fault_amps / 2 * seconds / (100.0 * metres) ** 2


def clears_within(let_through: float, amps: float, most: float = ESCAPE) -> float:
    """Return how long a fuse lets an arc burn [s], by the I²t with which it clears.

    Parameters
    ----------
    let_through : float
        Clearing I²t [A²s], above 0.
    amps : float
        Through the fuse [A], not below 0.
    most : float
        No longer than this counts [s].

    Examples
    --------
    >>> clears_within(5000.0, 500.0), clears_within(5000.0, 10.0)
    (0.02, 2.0)
    """
    if not (0 < let_through < math.inf and 0 <= amps < math.inf):
        raise DescriptionError(f"need an I²t and a current, got {let_through} A²s and {amps} A")
    return most if amps * amps * most <= let_through else let_through / (amps * amps)
