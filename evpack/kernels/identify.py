"""What a cell is made of, told from a record of pulses and rests, and the record played again.

A cell is taken as an open-circuit voltage and a series resistance that follow its state of charge,
and one or two pairs of resistance and capacitance (RC branches). Given the time constants of the
branches, the voltage is a sum of unknowns: they are found at once by least squares, none below
zero, and only the time constants are searched for.

Current is positive out of the cell.
"""

from __future__ import annotations

from itertools import combinations
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.optimize import minimize, nnls

from evpack.kernels import network
from evpack.kernels.compiled import compiled
from evpack.kernels.network import COLDEST, Bench, State, Strings
from evpack.kernels.record import Steps

Array = NDArray[np.float64]

_LEAST_RISE = 1e-5  # of the open-circuit voltage from knot to knot [V]; it must rise
_TRIED = 2.0  # time constants are tried this factor apart before the best are refined [1]
_APART = 3.0  # two branches closer than this factor cannot be told from one [1]
_ROOM = (COLDEST, 61.0)  # temperatures of the table that a played cell carries [°C]


class Pieces(NamedTuple):
    """A record as stretches of constant current, one after the other.

    Attributes
    ----------
    seconds, amps : array, shape (p,)
        Length [s] and current of each stretch [A].
    ends : array of int, shape (n,)
        The stretch at whose end each sample was read; -1 for the first sample, read before any.
    """

    seconds: Array
    amps: Array
    ends: NDArray[np.int64]


class Cell(NamedTuple):
    """A cell that was identified.

    Attributes
    ----------
    soc, ocv : array, shape (k,)
        States of charge [1] and open-circuit voltage [V], both rising.
    ohms_soc, ohms : array, shape (r,)
        States of charge [1] and series resistance [Ω]; held beyond the first and the last.
    rc_ohms, rc_seconds : array, shape (b,)
        Resistance [Ω] and time constant [s] of each branch, the quickest first.
    coulombs : float
        Capacity over which the state of charge runs from 0 to 1 [A s].
    """

    soc: Array
    ocv: Array
    ohms_soc: Array
    ohms: Array
    rc_ohms: Array
    rc_seconds: Array
    coulombs: float


def pieces(time_s: Array, amps: Array, steps: Steps) -> Pieces:
    """Return a record as stretches of constant current.

    Within a step the mean of two samples; across the boundary of two steps the old current till
    the new step began, and the new one from then on, as `record.accumulate` has it.

    Parameters
    ----------
    time_s, amps : array, shape (n,)
        Time [s] and current [A].
    steps : Steps
        Of the record.

    Examples
    --------
    >>> steps = Steps(np.array([0, 2]), np.array([1, 3]), np.array([0.0, 1.5]), np.array([0, 1]))
    >>> found = pieces(np.array([0.0, 1.0, 2.0, 3.0]), np.array([0.0, 0.0, 5.0, 5.0]), steps)
    >>> found.seconds.tolist(), found.amps.tolist(), found.ends.tolist()
    ([1.0, 0.5, 0.5, 1.0], [0.0, 0.0, 5.0, 5.0], [-1, 0, 2, 3])
    """
    begins = dict(zip(steps.first[1:].tolist(), steps.began[1:].tolist(), strict=True))
    seconds: list[float] = []
    flows: list[float] = []
    ends = np.full(time_s.size, -1, dtype=np.int64)
    for k in range(1, time_s.size):
        began = begins.get(k)
        if began is None:
            seconds.append(time_s[k] - time_s[k - 1])
            flows.append((amps[k] + amps[k - 1]) / 2.0)
        else:
            seconds += [began - time_s[k - 1], time_s[k] - began]
            flows += [amps[k - 1], amps[k]]
        ends[k] = len(seconds) - 1
    return Pieces(np.array(seconds), np.array(flows), ends)


@compiled
def _answer(seconds: Array, amps: Array, time_constant: float) -> Array:
    """Return the voltage of a branch of 1 Ω after each stretch [V], from rest."""
    found = np.empty(seconds.size)
    volts = 0.0
    for k in range(seconds.size):
        left = np.exp(-seconds[k] / time_constant)
        volts = left * volts + (1.0 - left) * amps[k]
        found[k] = volts
    return found


def answer(record: Pieces, time_constant: float) -> Array:
    r"""Return the voltage of a branch of 1 Ω at each sample [V], from rest.

    .. math:: u' = e^{-t/\tau} u + (1 - e^{-t/\tau}) i

    Parameters
    ----------
    record : Pieces
    time_constant : float
        [s].
    """
    after = _answer(record.seconds, record.amps, time_constant)
    return np.where(record.ends < 0, 0.0, after[record.ends])


def _hats(knots: Array, at: Array) -> Array:
    """Return what share each knot has in a value between straight lines, shape (n, k)."""
    place = np.clip(np.searchsorted(knots, at, side="right") - 1, 0, max(0, knots.size - 2))
    found = np.zeros((at.size, knots.size))
    rows = np.arange(at.size)
    if knots.size == 1:
        found[:, 0] = 1.0
        return found
    part = np.clip((at - knots[place]) / (knots[place + 1] - knots[place]), 0.0, 1.0)
    found[rows, place] = 1.0 - part
    found[rows, place + 1] = part
    return found


class _Sums(NamedTuple):
    """The least squares with all worked off that does not hang on the time constants.

    `basis` spans the known columns, `known` and `target` are those and the voltages along it, and
    `rest` is what of the voltages lies outside.
    """

    basis: Array
    known: Array
    target: Array
    rest: Array
    record: Pieces


def identify(
    record: Pieces,
    volts: Array,
    soc: Array,
    *,
    coulombs: float,
    knots: ArrayLike,
    ohms_knots: ArrayLike,
    branches: int = 2,
    shortest: float = 2.0,
    longest: float = 1800.0,
) -> Cell:
    """Return the cell that makes the least squared error of voltage over the samples.

    Parameters
    ----------
    record : Pieces
        From a rest at its first sample.
    volts, soc : array, shape (n,)
        Voltage [V] and state of charge [1] at the samples.
    coulombs : float
        Capacity [A s].
    knots : array, shape (k,)
        States of charge at which the open-circuit voltage is found, rising [1].
    ohms_knots : array, shape (r,)
        The same of the series resistance: where the current jumps, or it cannot be told [1].
    branches : {1, 2}
    shortest, longest : float
        Between which the time constants lie [s].

    Notes
    -----
    A column for each rise of the open-circuit voltage, each knot of the resistance and each
    branch; all are at least nought, so that no resistance can come out negative and the
    open-circuit voltage rises.

    References
    ----------
    Separable least squares: the time constants outside, all else inside. Textbook; no document.
    """
    grid, held = np.asarray(knots, dtype=float), np.asarray(ohms_knots, dtype=float)
    here = np.where(record.ends < 0, 0.0, record.amps[record.ends])
    rises = np.cumsum(_hats(grid, soc)[:, ::-1], axis=1)[:, ::-1]  # from empty upwards
    least = _LEAST_RISE * np.arange(grid.size)
    basis, known = np.linalg.qr(np.hstack([rises, -here[:, np.newaxis] * _hats(held, soc)]))
    wanted = volts - np.interp(soc, grid, least)
    target = basis.T @ wanted
    sums = _Sums(basis, known, target, wanted - basis @ target, record)
    tried = np.geomspace(shortest, longest, 2 + int(np.log(longest / shortest) / np.log(_TRIED)))
    best = min(combinations(tried, branches), key=lambda pair: _solved(sums, np.array(pair))[0])
    found = minimize(
        lambda logs: _solved(sums, np.exp(logs), shortest, longest)[0],
        np.log(best),
        method="Nelder-Mead",
        options={"xatol": 1e-4, "fatol": 1e-12, "maxiter": 400},
    )
    seconds = np.exp(found.x)
    parts = _solved(sums, seconds)[1]
    order = np.argsort(seconds)
    return Cell(
        soc=grid,
        ocv=np.cumsum(parts[: grid.size]) + least,
        ohms_soc=held,
        ohms=parts[grid.size : grid.size + held.size],
        rc_ohms=parts[grid.size + held.size :][order],
        rc_seconds=seconds[order],
        coulombs=coulombs,
    )


def _solved(
    sums: _Sums, seconds: Array, shortest: float = 0.0, longest: float = np.inf
) -> tuple[float, Array]:
    """Return the error that is left [V], and the unknowns; no branch outside its bounds."""
    inside = np.clip(seconds, shortest, longest)
    apart = np.sort(inside)
    if np.any(apart[1:] < _APART * apart[:-1]):
        return np.inf, np.empty(0)
    columns = np.column_stack([-answer(sums.record, one) for one in inside])
    along = sums.basis.T @ columns
    outside = np.column_stack([columns - sums.basis @ along, sums.rest])
    beside: Array = np.asarray(np.linalg.qr(outside, mode="r"))
    small = np.block(
        [[sums.known, along], [np.zeros((len(beside), len(sums.known))), beside[:, :-1]]]
    )
    parts, left = nnls(small, np.concatenate([sums.target, beside[:, -1]]))
    beyond = float(np.abs(np.log(inside / seconds)).sum())
    return float(left) * (1.0 + beyond), parts


def strings(cell: Cell, states: int = 201) -> Strings:
    """Return one string of one cell, to be stepped through time at room temperature.

    Parameters
    ----------
    cell : Cell
    states : int
        States of charge at which the curves are held.
    """
    soc = np.linspace(0.0, 1.0, states)
    return Strings(
        ocv=np.interp(soc, cell.soc, cell.ocv)[np.newaxis, :],
        ohms=np.interp(soc, cell.ohms_soc, cell.ohms)[np.newaxis, :],
        cold=np.ones(int(_ROOM[1] - _ROOM[0])),
        lead=np.zeros(1),
        coulombs=np.array([cell.coulombs]),
        rc_ohms=np.maximum(cell.rc_ohms, 1e-12)[np.newaxis, :],
        rc_seconds=cell.rc_seconds[np.newaxis, :].copy(),
        heat=np.array([1e12]),  # so that it stays as warm as it is
        to_air=np.zeros(1),
        plus=np.empty(0),
        minus=np.empty(0),
        tap_plus=0,
        tap_minus=0,
    )


@compiled
def _played(strings: Strings, state: State, room: Bench, seconds: Array, amps: Array) -> Array:
    """Carry one string through stretches of unlike length; return its voltage after each."""
    found = np.empty(seconds.size)
    for k in range(seconds.size):
        room.per_ampere[0] = seconds[k] / strings.coulombs[0]
        for m in range(strings.rc_seconds.shape[1]):
            room.decay[0, m] = np.exp(-seconds[k] / strings.rc_seconds[0, m])
        volts, ohms = network.prepare(strings, state, room)
        found[k] = volts - ohms * amps[k]
        network.advance(strings, state, room, amps[k], seconds[k], 25.0)
    return found


def played(cell: Cell, record: Pieces, soc: float) -> tuple[Array, Array]:
    """Play a record again through a cell, from a rest, with the steps of `kernels.network`.

    Parameters
    ----------
    cell : Cell
    record : Pieces
    soc : float
        State of charge at its first sample [1].

    Returns
    -------
    volts : array, shape (n,)
        At each sample [V].
    ohms : array, shape (b,)
        Voltage left over each branch at the end [V].
    """
    one = strings(cell)
    state = network.rested(one, soc, 25.0)
    after = _played(one, state, network.bench(one, 1.0), record.seconds, record.amps)
    start = float(np.interp(soc, cell.soc, cell.ocv))
    return np.where(record.ends < 0, start, after[record.ends]), state.rc[0].copy()
