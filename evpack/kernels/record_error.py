"""How far a charge and a resistance read off a record may be off at worst.

The parts are added and not squared: what a meter reads too high it reads too high all the time, so
that nothing evens out. Current is positive on discharge.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from evpack.kernels.record import Steps

Array = NDArray[np.float64]
Index = NDArray[np.intp]


def charge_error(
    time_s: Array, amps: Array, steps: Steps, full: int, empty: int, *, share: float
) -> float:
    r"""Return by how much the charge taken out between two samples may be off.

    .. math:: u_Q = a\,Q + \sum_\mathrm{within} \tfrac{1}{2} |\Delta I| \Delta t
              + \sum_\mathrm{between} |\Delta I| \Delta t

    Q is all the charge that passed, either way. The first sum is over neighbouring samples within
    a step: a current that only rises or only falls between them lies within half of that of its
    trapezoid. The second is over those on both sides of a step's beginning, which may have come at
    any moment between them.

    Parameters
    ----------
    time_s, amps : array, shape (n,)
        Time [s] and current [A].
    steps : Steps
        Of the record.
    full, empty : int
        Samples between which the charge was counted.
    share : float
        Accuracy a of the current meter, a share of its reading [1].

    Returns
    -------
    float
        In ampere-hours, never below 0.

    References
    ----------
    Elementary bounds; no document.

    Examples
    --------
    10 A for an hour in readings of 10 s, 1 % meter: 0.1 Ah, and 10 A x 10 s at the beginning.

    >>> t, i = np.arange(0.0, 3601.0, 10.0), np.full(361, 10.0)
    >>> i[0] = 0.0
    >>> steps = Steps(np.array([0, 1]), np.array([0, 360]), np.array([0.0, 0.0]), np.array([0, 1]))
    >>> round(charge_error(t, i, steps, 0, 360, share=0.01), 4)
    0.1278
    """
    # A charge that went on into the rest at full takes nothing from what came out after it; the
    # load that ended may have flowed on until the next reading.
    begins = dict(zip(steps.first.tolist(), steps.kind.tolist(), strict=True))
    start = full + 1 if begins.get(full + 1) == 0 else full
    inside = slice(start, empty + 2 if empty + 1 in begins else empty + 1)
    apart = np.diff(time_s[inside])
    turn = np.abs(np.diff(amps[inside]))
    first = np.zeros(time_s.size, dtype=bool)
    first[steps.first] = True
    doubt = np.where(first[inside][1:], 1.0, 0.5) * turn * apart
    moved = np.maximum(np.abs(amps[inside][1:]), np.abs(amps[inside][:-1])) * apart
    return float(np.sum(doubt) + share * np.sum(moved)) / 3600.0


def pulse_errors(
    time_s: Array,
    volts: Array,
    amps: Array,
    steps: Steps,
    before: Index,
    *,
    after_s: float,
    volts_error: float,
    share: float,
) -> Array:
    r"""Return by how much each pulse's resistance may be off.

    .. math:: u_R = \frac{2 u_U + \tfrac{1}{2} |\Delta U|}{\Delta I} + a\,R

    with :math:`u_U` the voltmeter's error at each of the two readings, and :math:`\Delta U` the
    change of voltage between the samples on both sides of the instant, which bounds what a
    sampling interval earlier or later would have read.

    Parameters
    ----------
    time_s, volts, amps : array, shape (n,)
        Time [s], voltage [V], current [A].
    steps : Steps
        Of the record.
    before : array of int, shape (p,)
        Last rest sample before each pulse, as `evpack.kernels.record.pulse_resistances` has it.
    after_s : float
        When the pulse was read [s].
    volts_error : float
        Accuracy of the voltmeter [V].
    share : float
        Accuracy a of the current meter, a share of its reading [1].

    Returns
    -------
    array, shape (p,)
        In ohms.

    References
    ----------
    Elementary bounds; no document.
    """
    found = []
    for rest in before:
        step = int(np.searchsorted(steps.first, rest + 1))
        stop = int(np.searchsorted(time_s, steps.began[step] + after_s - 1e-6))
        low = max(stop - 1, int(steps.first[step]))
        high = min(stop + 1, int(steps.last[step]))
        turn = amps[stop] - amps[rest]
        ohms = (volts[rest] - volts[stop]) / turn
        drift = abs(float(volts[high] - volts[low])) / 2.0
        found.append((2.0 * volts_error + drift) / turn + share * abs(ohms))
    return np.array(found, dtype=np.float64)
