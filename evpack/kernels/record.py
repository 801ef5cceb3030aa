"""A bench record read as physics: steps, charge, rest voltages, pulse resistances.

Everything here takes current positive on discharge; the reader turns the sign first. Nothing
here knows files, units or nouns.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Index = NDArray[np.intp]

# Below this share of the largest current nothing flows: a sensor's offset, not a load. Common
# practice, no source; the shipped record has an offset of 0.03 % and a smallest current of 1.7 %.
REST_SHARE = 0.005
# Without a step column, a change of current by more than this share begins a new step.
_JUMP = 0.2
# The voltage must move with the current in at least this share of what is seen, else no verdict.
_AGREEMENT = 0.5
# Readings further apart than this around the instant of a pulse say nothing of that instant [s].
_BRACKET_S = 5.0
# A pulse whose current still wanders by more than this share after a second is no pulse.
_STEADY = 0.05
# Measured rest points further apart than this leave too much of the curve to a straight line; a
# little over a quarter, so that rests at every quarter pass whatever the last digit. No source.
WIDEST_GAP = 0.26


class Steps(NamedTuple):
    """Where a record changes what it does; m steps.

    Attributes
    ----------
    first, last : array of int, shape (m,)
        First and last sample of each step.
    began : array, shape (m,)
        When each step truly began [s]; its first sample comes later.
    kind : array of int, shape (m,)
        Sign of the current: 0 is rest.
    """

    first: Index
    last: Index
    began: Array
    kind: NDArray[np.int64]


def find_steps(time_s: Array, amps: Array, count: Array | None = None) -> Steps:
    """Return the steps of a record.

    A new step begins where the current starts, stops or turns, and, while it flows, where the
    step column changes (without that column: where the current jumps by more than a fifth). Rests
    that follow each other are one rest.

    The first sample of a step is logged one sampling interval after the step began, not at its
    beginning: it already shows the new load. So a step is taken to have begun one of its own
    intervals before its first sample, and never before the last sample of the step before.

    Parameters
    ----------
    time_s : array, shape (n,)
        Time since the record began [s], never falling.
    amps : array, shape (n,)
        Current, either sign convention [A].
    count : array, shape (n,), optional
        Step column of the record [1].

    Returns
    -------
    Steps
        Of m steps, m from 1 to n.

    References
    ----------
    Common practice, no source; checked on the shipped record, in which the durations come out
    whole this way (10.0 s, 30.0 s, 3600.0 s) and in no other.

    Examples
    --------
    >>> steps = find_steps(np.array([0.0, 60.0, 61.0, 62.0]), np.array([0.0, 0.0, 5.0, 5.0]))
    >>> steps.began.tolist(), steps.kind.tolist()
    ([0.0, 60.0], [0, 1])
    """
    flows = np.abs(amps) > REST_SHARE * np.max(np.abs(amps))
    kind = np.where(flows, np.sign(amps), 0.0).astype(np.int64)
    if count is None:
        larger = np.maximum(np.abs(amps[1:]), np.abs(amps[:-1]))
        inner = np.abs(np.diff(amps)) > _JUMP * larger
    else:
        inner = np.diff(count) != 0
    change = (np.diff(kind) != 0) | (inner & flows[1:])
    first = np.concatenate([[0], np.flatnonzero(change) + 1])
    last = np.concatenate([first[1:] - 1, [time_s.size - 1]])
    before = time_s[np.maximum(first - 1, 0)]
    interval = time_s[np.minimum(first + 1, last)] - time_s[first]
    # One lone sample shows no interval of its own: it is taken to reach back to the step before.
    began = np.where(last > first, np.maximum(before, time_s[first] - interval), before)
    return Steps(first, last, began, kind[first])


def charge_sign(steps: Steps, volts: Array, amps: Array) -> int:
    """Return which sign of current charges, told from the voltage alone.

    A cell's voltage rises at once when charging current rises and falls when it falls (ohmic
    drop). Where the record holds one unbroken current, the slow trend tells: voltage rises while
    a cell is charged.

    Parameters
    ----------
    steps : Steps
        Of the record, from currents in the same convention as `amps`.
    volts, amps : array, shape (n,)
        Voltage [V] and current as recorded [A].

    Returns
    -------
    int
        +1 if positive current charges, -1 if it discharges, 0 if the record does not tell.

    References
    ----------
    Physics of a resistance in series with a cell; no document.
    """
    rise, turn = np.diff(volts), np.diff(amps)
    seen = np.where(np.abs(turn) > 0.05 * np.max(np.abs(amps)), rise * turn, 0.0)
    weight = np.sum(np.abs(seen))
    if weight == 0:
        seen = steps.kind * (volts[steps.last] - volts[steps.first])
        weight = np.sum(np.abs(seen))
    total = float(np.sum(seen))
    return int(np.sign(total)) if abs(total) > _AGREEMENT * weight else 0


def accumulate(time_s: Array, rate: Array, steps: Steps) -> Array:
    """Return the running integral of a rate over hours: Ah from A, Wh from W.

    Within a step the trapezoid, which is right for a constant and for a slowly sagging rate
    however uneven the sampling. Across a boundary between steps a trapezoid would draw a slope
    where there was a jump (a rest that begins with a reading after 60 s would earn 300 A·s from a
    10 A discharge that was over); there, the old rate is held until the new step began and the
    new one from then on.

    Parameters
    ----------
    time_s : array, shape (n,)
        Time [s].
    rate : array, shape (n,)
        Current [A] or power [W].
    steps : Steps
        Of the record.

    Returns
    -------
    array, shape (n,)
        Integral from the first sample [rate x hour]; 0 at the first sample.

    References
    ----------
    Elementary; no document.

    Examples
    --------
    >>> t, i = np.array([0.0, 60.0, 61.0, 3661.0]), np.array([0.0, 0.0, 5.0, 5.0])
    >>> steps = Steps(np.array([0, 2]), np.array([1, 3]), np.array([0.0, 60.0]), np.array([0, 1]))
    >>> round(float(accumulate(t, i, steps)[-1]), 6)  # 5 A for 3601 s
    5.001389
    """
    pieces = np.diff(time_s) * (rate[1:] + rate[:-1]) / 2.0
    new = steps.first[1:]
    began = steps.began[1:]
    pieces[new - 1] = rate[new - 1] * (began - time_s[new - 1]) + rate[new] * (time_s[new] - began)
    return np.concatenate([[0.0], np.cumsum(pieces)]) / 3600.0


def deepest_discharge(out: Array) -> tuple[int, int]:
    """Return where a cell was full and where it was empty: the deepest fall of its charge.

    Small recharges inside (pulses) belong to the discharge; one that gives back more than half
    of it splits the record into two discharges, of which the deeper counts.

    Parameters
    ----------
    out : array, shape (n,)
        Net charge taken out since the record began [Ah].

    Returns
    -------
    tuple of int
        First sample at full, and first sample at empty. They are equal if nothing was taken out.

    Examples
    --------
    >>> deepest_discharge(np.array([0.0, -30.0, -20.0, -21.0, 0.0, -30.0]))
    (1, 4)
    """
    low, high = 0, out.size - 1
    while True:
        part = out[low : high + 1]
        empty = int(np.argmax(part - np.minimum.accumulate(part)))
        full = int(np.argmin(part[: empty + 1]))
        run = part[full : empty + 1]
        given_back = np.maximum.accumulate(run) - run
        again = int(np.argmax(given_back))
        if given_back[again] <= (run[-1] - run[0]) / 2.0:
            return low + full, low + empty
        turn = int(np.argmax(run[: again + 1]))
        low += full
        if run[turn] - run[0] > run[-1] - run[again]:
            high = low + turn
        else:
            high = low + run.size - 1
            low += again


def rest_ends(time_s: Array, steps: Steps, full: int, empty: int, *, least_rest_s: float) -> Index:
    """Return the last samples of the long rests from full to empty, both included.

    Parameters
    ----------
    time_s : array, shape (n,)
        Time [s].
    steps : Steps
        Of the record, m of them.
    full, empty : int
        Samples between which the cell was discharged.
    least_rest_s : float
        How long a rest must last for its voltage to be called open-circuit [s]. The last sample
        may come up to one sampling interval early.

    Returns
    -------
    array of int, shape (r,)
        Samples, rising; r may be 0.

    References
    ----------
    Common practice, no source: an hour for the oxide chemistries, four for LFP.
    """
    late = time_s[steps.last] - time_s[np.maximum(steps.last - 1, steps.first)]
    lasted = time_s[steps.last] - steps.began + late
    inside = (steps.last >= full) & (steps.first <= empty + 1)
    ends: Index = steps.last[(steps.kind == 0) & inside & (lasted >= least_rest_s)]
    return ends


def pulse_resistances(
    time_s: Array,
    volts: Array,
    amps: Array,
    steps: Steps,
    *,
    after_s: float = 10.0,
    least_rest_s: float = 600.0,
) -> tuple[Index, Array]:
    r"""Return the DC resistance some seconds after each discharge that begins from rest.

    .. math:: R = \frac{U_0 - U(t_0 + 10\,s)}{I(t_0 + 10\,s) - I_0}

    with the last rest sample as :math:`U_0, I_0` (a sensor's offset cancels) and the true
    beginning of the step as :math:`t_0`; the values at that instant are interpolated.

    Parameters
    ----------
    time_s, volts, amps : array, shape (n,)
        Time [s], voltage [V], current positive on discharge [A].
    steps : Steps
        Of the record.
    after_s : float
        When the pulse is read [s].
    least_rest_s : float
        A shorter rest leaves the cell still drifting, and the pulse is passed over [s].

    Returns
    -------
    before : array of int, shape (p,)
        Last rest sample before each pulse used; p may be 0.
    ohms : array, shape (p,)
        Resistance [Ω].

    Notes
    -----
    Passed over are pulses that end too soon, wander by more than 5 %, or are sampled more
    than 5 s apart around the instant.

    References
    ----------
    Common practice for a 10 s pulse from rest; limits from no source.
    """
    before, ohms = [], []
    for step in range(1, steps.first.size):
        rest, start = step - 1, int(steps.first[step])
        rested_s = steps.began[step] - steps.began[rest]
        if steps.kind[step] <= 0 or steps.kind[rest] != 0 or rested_s < least_rest_s:
            continue
        began = steps.began[step]
        # A microsecond of slack: decimal times such as 53535.4 are not exact in binary.
        stop = int(np.searchsorted(time_s, began + after_s - 1e-6))
        if stop == time_s.size:
            continue
        apart = time_s[stop] - max(time_s[stop - 1], began)
        exact = abs(time_s[stop] - began - after_s) < 1e-6  # noqa: PLR2004
        if not exact and (stop == start or apart > _BRACKET_S):
            continue
        pulse = slice(start, stop + 1)
        current = np.interp(began + after_s, time_s[pulse], amps[pulse])
        settled = amps[pulse][time_s[pulse] >= began + min(1.0, after_s)]
        if np.max(np.abs(settled - current)) > _STEADY * current:
            continue
        sagged = np.interp(began + after_s, time_s[pulse], volts[pulse])
        before.append(start - 1)
        ohms.append((volts[start - 1] - sagged) / (current - amps[start - 1]))
    return np.array(before, dtype=np.intp), np.array(ohms, dtype=np.float64)


def loaded_samples(time_s: Array, steps: Steps, full: int, empty: int, *, after_s: float) -> Index:
    """Return the discharge samples at least some seconds into their step, from full to empty.

    Adding current times the 10 s resistance to a voltage read earlier than 10 s after the load
    came on would claim more than the rest voltage.

    Parameters
    ----------
    time_s : array, shape (n,)
        Time [s].
    steps : Steps
        Of the record.
    full, empty : int
        Samples between which the cell was discharged.
    after_s : float
        How far into the step [s].

    Returns
    -------
    array of int, shape (k,)
        Samples, rising; k may be 0.
    """
    of_step = np.repeat(np.arange(steps.first.size), steps.last - steps.first + 1)
    late = time_s - steps.began[of_step] >= after_s - 1e-6
    number = np.arange(time_s.size)
    inside = (number >= full) & (number <= empty)
    return np.flatnonzero(late & inside & (steps.kind[of_step] > 0))


def mean_at_floor(lowest: Array, mean: Array, floor: float) -> float | None:
    """Return the highest mean of the cell groups at which the lowest stood at a floor or under it.

    A pack that is stopped at this mean keeps its lowest group at the floor. A first crossing
    would not do: a group of less charge falls behind the more the emptier it gets.

    Parameters
    ----------
    lowest, mean : array, shape (k,)
        Lowest cell group, and mean of all, over a discharge [V].
    floor : float
        What the lowest must not pass [V].

    Returns
    -------
    float or None
        Mean [V], between two samples by a straight line; None where no sample lies so low.

    References
    ----------
    Elementary; no document.

    Examples
    --------
    >>> mean_at_floor(np.array([3.6, 3.4, 3.0]), np.array([3.6, 3.5, 3.3]), 3.2)
    3.4
    """
    under = lowest <= floor
    if not under.any():
        return None
    found = float(mean[under].max())
    at = np.flatnonzero(under[1:] & ~under[:-1]) + 1
    part = (lowest[at - 1] - floor) / (lowest[at - 1] - lowest[at])
    crossed = mean[at - 1] + part * (mean[at] - mean[at - 1])
    return max(found, float(crossed.max(initial=-np.inf)))


def estimated_branch(
    soc: Array, volts: Array, *, low: float, high: float, least: float, most: float
) -> tuple[Array, Array]:
    """Return a stretch of rest voltage estimated from a loaded discharge, a point every 1 %.

    The discharge that covers most of the stretch is used, and what came after it (a final taper).
    The estimate may not rise as the cell empties, so its running minimum is taken.

    Parameters
    ----------
    soc : array, shape (k,)
        State of charge of the loaded samples in order of time [1].
    volts : array, shape (k,)
        Their voltage with current times resistance added back [V].
    low, high : float
        Ends of the stretch [1]; they are not returned, except that 0 is when `low` is 0 and
        `least` is minus infinity (nothing measured there).
    least, most : float
        Rest voltages measured at its ends [V]: only what lies between is returned.

    Returns
    -------
    soc, volts : array, shape (b,)
        Rising state of charge [1] and estimated rest voltage [V]; b may be 0.

    Notes
    -----
    What a cell loses beyond 10 s stays in the estimate, which as a rule puts it below the true
    rest voltage and so claims less energy. (A 10 s resistance also holds the open-circuit
    voltage's own fall over those 10 s, which works the other way and is the smaller.) Nothing is
    extrapolated beyond the samples.
    """
    within = (soc >= low) & (soc <= high)
    soc, volts = soc[within], volts[within]
    if soc.size == 0:
        return np.empty(0), np.empty(0)
    # Runs of falling state of charge: a recharge between them starts a new one.
    starts = np.concatenate([[0], np.flatnonzero(np.diff(soc) > 0) + 1])
    ends = np.concatenate([starts[1:], [soc.size]]) - 1
    main = starts[np.argmax(soc[starts] - soc[ends])]
    soc, volts = soc[main:], volts[main:]
    order = np.argsort(-soc, kind="stable")
    soc, volts = soc[order][::-1], np.minimum.accumulate(volts[order])[::-1]
    if np.isneginf(least) and soc[0] < 0.01:  # noqa: PLR2004
        # The load may end a moment after its last sample; that one then stands for empty.
        soc[0] = 0.0
    grid = np.arange(0 if np.isneginf(least) else 1, 100) / 100.0
    grid = grid[(grid >= max(low, soc[0])) & (grid < high) & (grid <= soc[-1])]
    found = np.interp(grid, soc, volts)
    between = (found > least) & (found < most)
    return grid[between], found[between]


def rest_curve(
    rest_soc: Array, rest_volts: Array, loaded_soc: Array, loaded_volts: Array
) -> tuple[Array, Array, float | None]:
    """Return a rest-voltage curve from rests, filled in from the load where rests are missing.

    Filled are the stretch below the lowest rest and any between two rests more than a quarter of
    the charge apart.

    Parameters
    ----------
    rest_soc, rest_volts : array, shape (r,)
        Rests in order of time: state of charge [1] and voltage [V], r of 1 or more.
    loaded_soc, loaded_volts : array, shape (k,)
        Loaded samples in order of time, with current times resistance added back.

    Returns
    -------
    soc, volts : array, shape (c,)
        Both strictly rising; they reach 0 and 1 only if the record does.
    estimated_below : float or None
        State of charge below which the curve is not, or not only, measured at rest [1].
    """
    order = np.argsort(rest_soc, kind="stable")
    soc, volts = rest_soc[order], rest_volts[order]
    stretches = [
        (float(soc[k]), float(soc[k + 1]), float(volts[k]), float(volts[k + 1]))
        for k in np.flatnonzero(np.diff(soc) > WIDEST_GAP)
    ]
    if soc[0] > 0:
        stretches.append((0.0, float(soc[0]), -np.inf, float(volts[0])))
    below = None
    for low, high, least, most in stretches:
        branch_soc, branch_volts = estimated_branch(
            loaded_soc, loaded_volts, low=low, high=high, least=least, most=most
        )
        if branch_soc.size:
            soc = np.concatenate([soc, branch_soc])
            volts = np.concatenate([volts, branch_volts])
            below = high if below is None else max(below, high)
    order = np.argsort(soc, kind="stable")
    kept = strictly_rising(soc[order], volts[order])
    return soc[order][kept], volts[order][kept], below


def strictly_rising(soc: Array, volts: Array) -> NDArray[np.bool_]:
    """Return which points to keep so that both columns rise strictly; the ends are kept.

    A curve that holds one voltage twice could not be read backwards. A meter of 1 mV on a flat
    plateau gives such points.

    Parameters
    ----------
    soc, volts : array, shape (c,)
        Points by rising state of charge, c of 1 or more.

    Returns
    -------
    array of bool, shape (c,)
        True where kept. If the last voltage is not above the first, only the last is kept.

    Examples
    --------
    >>> strictly_rising(np.array([0.0, 0.3, 0.6, 1.0]), np.array([3.2, 3.3, 3.3, 3.4])).tolist()
    [True, True, False, True]
    """
    keep = np.zeros(soc.size, dtype=bool)
    keep[-1] = True
    last_soc, last_volts = -np.inf, -np.inf
    for k in range(soc.size - 1):
        above = soc[k] > last_soc and volts[k] > last_volts
        if above and soc[k] < soc[-1] and volts[k] < volts[-1]:
            keep[k] = True
            last_soc, last_volts = soc[k], volts[k]
    return keep
