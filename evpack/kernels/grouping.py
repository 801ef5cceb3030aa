"""Which modules form the strings of a pack, so that most of their charge can be used.

A string gives the charge of its weakest module; the pack gives the sum of its strings. Of all
groupings that give (nearly) the most, the most even one is looked for: little capacity that
cannot be used, and strings of like resistance, which share the current alike.

`quick` answers at once, `proven` takes its time and says how far from the best its answer can be.
"""

from __future__ import annotations

import time
from collections.abc import Iterable
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from evpack.kernels import grouping_swaps
from evpack.kernels.grouping_batch import (
    STEP,
    Array,
    Batch,
    Grouping,
    GroupingError,
    Labels,
    Pair,
    batch,
    described,
)
from evpack.kernels.grouping_swaps import start

__all__ = ["Grouping", "GroupingError", "as_they_come", "by_capacity", "proven", "quick"]

# Part of the charge that may be given up for evenness: what two runs of a capacity test may
# differ by is three times this (common practice, no source).
TOLERANCE = 0.01
# Random starts of the proven answer for each unit; found by trial.
_PROVEN_ROUNDS = 10
# Parts of the time for the charge, and then, of what is left, for swaps before the solver.
_CHARGE_PART = 0.4
_SWAP_PART = 0.4

# A floor is loosened by this share, against rounding noise.
_SLACK = 1e-9
# The solver is not begun with less time than this [s].
_LEAST_TIME = 0.05


def as_they_come(
    capacity: ArrayLike, ohms: ArrayLike, strings: int, series: int, *, out: Iterable[int] = ()
) -> Grouping:
    """Fill string after string in the order in which the modules lie there; for comparison.

    Parameters
    ----------
    capacity, ohms : array, shape (n,)
        Of the modules [Ah], [Ω].
    strings, series : int
        Strings in parallel, modules in series in each.
    out : iterable of int
        Modules not to use.
    """
    held = batch(capacity, ohms, strings, series, out=out)
    order = np.argsort([unit[0] for unit in held.members])
    label = np.empty(order.size, dtype=np.intp)
    label[order] = np.minimum(np.arange(order.size) // series, strings)
    return described(held, label)


def by_capacity(
    capacity: ArrayLike,
    ohms: ArrayLike,
    strings: int,
    series: int,
    *,
    out: Iterable[int] = (),
    back_and_forth: bool = False,
) -> Grouping:
    """Sort by capacity and deal the strongest round, one to each string; for comparison.

    It makes the strings alike, and each ends with one of the weakest modules.

    Parameters
    ----------
    capacity, ohms, strings, series, out
        As for `as_they_come`.
    back_and_forth : bool
        Deal every second round the other way, so that the strings' sums come out alike.
    """
    held = batch(capacity, ohms, strings, series, out=out)
    at = np.arange(held.size.size)
    label = at % strings
    if back_and_forth:
        label = np.where((at // strings) % 2 == 1, strings - 1 - label, label)
    label[strings * series :] = strings
    return described(held, label)


def quick(
    capacity: ArrayLike,
    ohms: ArrayLike,
    strings: int,
    series: int,
    *,
    apart: Iterable[Pair] = (),
    together: Iterable[Pair] = (),
    out: Iterable[int] = (),
    tolerance: float = TOLERANCE,
    weights: tuple[float, float] = (1.0, 1.0),
) -> Grouping:
    """Return a good grouping at once.

    Without wishes its `most_charge` is the most there is (see `Batch.ceiling` for the proof).

    Parameters
    ----------
    capacity, ohms : array, shape (n,)
        Of the modules [Ah], [Ω]; above 0 for each that is not left out.
    strings, series : int
        Strings in parallel, modules in series in each; n may be more than is needed.
    apart : iterable of pairs of int
        Modules that must not be in one string; both may be spares.
    together : iterable of pairs of int
        Modules that must be in one string, or both spares.
    out : iterable of int
        Modules not to use.
    tolerance : float
        Part of the most charge that may be given up for evenness [1].
    weights : tuple of two floats
        What a share of resistance spread and a share of unusable capacity weigh [1]. At equal
        weights 1 % of the charge is given up only for more than 1 % less spread.

    Raises
    ------
    GroupingError
        Where the wishes cannot be met, naming which; or where no way to meet them was found.

    Examples
    --------
    >>> found = quick([50.0, 40.0, 41.0, 49.0], [0.01, 0.01, 0.01, 0.01], 2, 2)
    >>> found.strings, found.charge
    (((0, 3), (2, 1)), 89.0)
    """
    held = batch(
        capacity,
        ohms,
        strings,
        series,
        apart=apart,
        together=together,
        out=out,
        tolerance=tolerance,
        weights=weights,
    )
    full = grouping_swaps.most_charge(held, start(held))
    return described(held, *_evened(held, full, grouping_swaps.QUICK_ROUNDS))


def proven(
    capacity: ArrayLike,
    ohms: ArrayLike,
    strings: int,
    series: int,
    *,
    apart: Iterable[Pair] = (),
    together: Iterable[Pair] = (),
    out: Iterable[int] = (),
    tolerance: float = TOLERANCE,
    weights: tuple[float, float] = (1.0, 1.0),
    seconds: float = 8.0,
) -> Grouping:
    """Return the best grouping found in a time, with what is proven of all others.

    First the charge: it is raised until the solver proves that there is no more, or the time is
    up. Then the evenness, likewise. It is never worse than `quick`: its `most_charge` is greater,
    or as great and the strings at least as even. Where the time ends the search, a faster machine
    may find more.

    Parameters
    ----------
    capacity, ohms, strings, series, apart, together, out, tolerance, weights
        As for `quick`.
    seconds : float
        About how long to look [s]; the answer comes sooner once all is proven.

    Raises
    ------
    GroupingError
        As for `quick`.
    """
    begun = time.perf_counter()
    held = batch(
        capacity,
        ohms,
        strings,
        series,
        apart=apart,
        together=together,
        out=out,
        tolerance=tolerance,
        weights=weights,
    )
    full = grouping_swaps.most_charge(held, start(held))
    bound = held.ceiling
    if held.charge(full) < bound * (1 - STEP):
        answer = most_charge(held, held.charge(full), _CHARGE_PART * seconds)
        if answer.label is not None and held.charge(answer.label) > held.charge(full):
            full = answer.label
        bound = min(bound, answer.bound)
    left = seconds - (time.perf_counter() - begun)
    rounds = _PROVEN_ROUNDS * held.size.size
    label, most = _evened(held, full, rounds, time.perf_counter() + _SWAP_PART * left)
    uneven, least = held.unevenness(label), 0.0
    left = seconds - (time.perf_counter() - begun)
    if uneven > STEP and left > 0:
        floor = most * (1 - tolerance)
        answer = least_uneven(held, floor, uneven, left)
        least = answer.bound
        if answer.label is not None and _betters(held, answer.label, floor, uneven):
            label = grouping_swaps.even_out(held, answer.label, floor, 0)
    return described(held, label, most, bound, least)


def _evened(held: Batch, full: Labels, rounds: int, until: float = np.inf) -> tuple[Labels, float]:
    """Return an evened labelling and the most charge found on the way to it [Ah]."""
    most = held.charge(full)
    label = grouping_swaps.even_out(held, full, most * (1 - held.tolerance), rounds, until)
    return label, max(most, held.charge(label))


def _betters(held: Batch, label: Labels, floor: float, uneven: float) -> bool:
    """Return whether a labelling is as good as the solver says, but for its rounding."""
    return held.charge(label) >= floor * (1 - 1e-9) and held.unevenness(label) < uneven


class Answer(NamedTuple):
    """What the solver came to.

    Attributes
    ----------
    label : array of int or None
        A labelling better than what was known; None if none was found.
    bound : float
        No labelling is better than this: charge [Ah], or unevenness [1].
    """

    label: Labels | None
    bound: float


def most_charge(held: Batch, known: float, seconds: float) -> Answer:
    """Look for a labelling with more charge than is known [Ah], within a time [s]."""
    until = time.perf_counter() + seconds
    wanted = known * (1 + STEP)
    programme = _Programme(held, wanted)
    charge = np.zeros(programme.size)
    charge[programme.heads] = held.weakest[programme.leader[programme.heads]]
    charge[programme.idle] = wanted
    label, bound = programme.solve(-charge / held.charge_scale, until)
    return Answer(label, max(wanted, -bound * held.charge_scale))


def least_uneven(held: Batch, floor: float, known: float, seconds: float) -> Answer:
    """Look for a labelling less uneven than is known [1] that holds a least charge [Ah]."""
    until = time.perf_counter() + seconds
    programme = _Programme(held, floor)
    programme.bound_ohms()
    unit, leader = programme.unit, programme.leader
    unusable = held.capacity[unit] - held.size[unit] * held.weakest[leader]
    cost = np.zeros(programme.size)
    cost[: unit.size] = held.weights[1] * unusable / (held.series * held.charge_scale)
    cost[programme.low], cost[programme.high] = -held.weights[0], held.weights[0]
    cost[programme.idle] = known - STEP
    label, bound = programme.solve(cost, until)
    return Answer(label, max(0.0, min(known - STEP, bound)))


def _columns(held: Batch, floor: float) -> tuple[Labels, Labels]:
    """Return the units and leaders that can meet in a string of a pack with a least charge.

    If a string led by k holds i, its other modules are best the weakest that are stronger than
    k, and the modules left over give at most what sorting and cutting gives. Where even that is
    below the least charge the two never meet, whatever the wishes. This leaves the solver less.
    """
    row, series = held.sorted_capacity, held.series
    found: list[tuple[int, int]] = []
    for k, led in enumerate(held.places):
        stronger = np.arange(led[-1])[::-1]  # from just above the leader upwards
        for i in range(k + 1):
            if i != k and held.apart[i, k]:
                continue
            together = led if i == k else np.concatenate([led, held.places[i]])
            others = stronger[~np.isin(stronger, together)][: max(0, series - together.size)]
            if together.size + others.size != series:
                continue
            rest = np.delete(row, np.concatenate([together, others]))
            charge = row[led[-1]] + rest[series - 1 : (held.strings - 1) * series : series].sum()
            if charge >= floor * (1 - STEP):
                found.append((i, k))
    # Without its leader no string.
    led_by = {k for i, k in found if i == k}
    pairs = np.array([pair for pair in found if pair[1] in led_by], dtype=np.intp).reshape(-1, 2)
    return pairs[:, 0], pairs[:, 1]


class _Programme:
    r"""Grouping as a mixed-integer linear programme, solved by HiGHS through scipy.

    Strings have no numbers here; each is known by its weakest unit, its leader. So no grouping is
    described twice. With units sorted from strong to weak, y_k says that unit k leads a string, and
    x_ik (i ≤ k) that unit i is in it, x_kk = y_k:

    .. math:: \sum_i n_i x_{ik} = M y_k, \quad \sum_k x_{ik} \le 1, \quad \sum_k y_k = S, \quad
       x_{ik} \le y_k

    The charge is Σ C_k y_k. For evenness, bounds lo and hi of the string resistance
    r_k = Σ R_i x_ik join in. A string that is not there has r_k = 0, so its row must let go: hi is
    never below the mean of the least resistances, lo never above the mean of the greatest, and
    these do.

    One more column is to be idle: to build nothing and keep what is known, at a price just better
    than that. So the solver always holds a solution, and tells its bound when the time is up.

    Columns are x_ik in the order of `unit` and `leader`, then lo, hi and idle.
    """

    def __init__(self, held: Batch, floor: float) -> None:
        self.held = held
        self.unit, self.leader = _columns(held, floor)
        count = self.unit.size
        self.low, self.high, self.idle, self.size = count, count + 1, count + 2, count + 3
        self.columns = np.arange(count)
        self.heads = np.flatnonzero(self.unit == self.leader)
        # Strings that may be, numbered by their leaders; the one that each column belongs to.
        self.string = np.searchsorted(self.leader[self.heads], self.leader)
        self.top = np.concatenate([np.ones(count), [0.0, 0.0, 1.0]])
        self.bottom = np.zeros(self.size)
        self._rows: list[tuple[Any, Array, Array]] = []
        self._strings(floor)
        self._wishes()

    def _add(self, low: float, high: float, count: int, *parts: tuple[Any, Any, Any]) -> None:
        """Add rows between two ends; parts are rows, columns and values of what is not 0."""
        from scipy import sparse  # noqa: PLC0415  # slow to load

        spread = [np.broadcast_arrays(*part) for part in parts]
        row, column, value = (np.concatenate([part[i] for part in spread]) for i in range(3))
        matrix = sparse.coo_array((value, (row, column)), shape=(count, self.size))
        self._rows.append((matrix, np.full(count, low), np.full(count, high)))

    def _strings(self, floor: float) -> None:
        """M modules in each string, each unit once, S strings, and the charge."""
        held, strings, units = self.held, self.heads.size, self.held.size.size
        self._add(
            0.0,
            0.0,
            strings,
            (self.string, self.columns, held.size[self.unit].astype(float)),
            (np.arange(strings), self.heads, -float(held.series)),
        )
        inner = np.flatnonzero(self.unit != self.leader)
        at = np.arange(inner.size)
        led = self.heads[self.string[inner]]
        self._add(-np.inf, 0.0, inner.size, (at, inner, 1.0), (at, led, -1.0))
        once = (self.unit, self.columns, 1.0), (np.arange(units), self.idle, 1.0)
        self._add(0.0 if held.spare_modules else 1.0, 1.0, units, *once)
        count = float(held.strings)
        self._add(count, count, 1, ([0], self.heads, 1.0), ([0], [self.idle], count))
        least = floor / held.charge_scale * (1 - _SLACK)
        charge = held.weakest[self.leader[self.heads]] / held.charge_scale
        self._add(least, np.inf, 1, ([0], self.heads, charge), ([0], [self.idle], least))

    def _wishes(self) -> None:
        """At most one of two that are to be apart in each string; a leader has no foe there."""
        strings = np.arange(self.heads.size)
        for pair in np.argwhere(np.triu(self.held.apart)):
            both = np.flatnonzero(np.isin(self.unit, pair))
            meet = (self.string[both], both, 1.0)
            self._add(-np.inf, 0.0, strings.size, meet, (strings, self.heads, -1.0))

    def bound_ohms(self) -> None:
        """Let lo and hi bound the resistance of each string that is there."""
        held, strings = self.held, np.arange(self.heads.size)
        share = held.ohms / held.ohms_scale
        least, most = _means(held, share)
        ohms = (self.string, self.columns, share[self.unit])
        self._add(
            -most,
            np.inf,
            strings.size,
            ohms,
            (strings, self.heads, -most),
            (strings, self.low, -1.0),
        )
        self._add(
            -np.inf,
            -least,
            strings.size,
            ohms,
            (strings, self.heads, -least),
            (strings, self.high, -1.0),
        )
        self._add(0.0, np.inf, 1, ([0], [self.high], 1.0), ([0], [self.low], -1.0))
        self.top[[self.low, self.high]] = most, share.sum()
        self.bottom[[self.low, self.high]] = 0.0, least

    def solve(self, cost: Array, until: float) -> Answer:
        """Return what is found before the clock shows a time, and the least possible cost."""
        from scipy import sparse  # noqa: PLC0415
        from scipy.optimize import Bounds, LinearConstraint, milp  # noqa: PLC0415

        seconds = until - time.perf_counter()
        if seconds < _LEAST_TIME:
            return Answer(None, -np.inf)
        matrices, low, high = zip(*self._rows, strict=True)
        whole = np.ones(self.size)
        whole[[self.low, self.high]] = 0.0
        result = milp(
            cost,
            integrality=whole,
            bounds=Bounds(self.bottom, self.top),
            constraints=LinearConstraint(
                sparse.vstack(matrices).tocsr(), np.concatenate(low), np.concatenate(high)
            ),
            options={"time_limit": seconds, "mip_rel_gap": 0.0},
        )
        if result.x is None:  # not even to be idle was found in so short a time
            return Answer(None, -np.inf)
        chosen = np.flatnonzero(result.x[: self.columns.size] > 0.5)  # noqa: PLR2004
        bound = float(result.mip_dual_bound)
        return Answer(self._labels(chosen) if chosen.size else None, bound)

    def _labels(self, chosen: Labels) -> Labels:
        """Return the labelling, its strings in the order of their leaders."""
        label = np.full(self.held.size.size, self.held.strings, dtype=np.intp)
        leader = self.leader[chosen]
        label[self.unit[chosen]] = np.searchsorted(np.unique(leader), leader)
        return label


def _means(held: Batch, share: Array) -> tuple[float, float]:
    """Return between which ends the mean resistance of the strings lies, as shares [1]."""
    if not held.spare_modules:
        return float(share.sum() / held.strings), float(share.sum() / held.strings)
    # Spares leave the mean open: the least and the greatest that units of so many modules add up
    # to, the last one counted in part, which only widens the ends.
    ends = []
    for order in (np.argsort(share / held.size), np.argsort(-share / held.size)):
        size = held.size[order]
        before = np.concatenate([[0], np.cumsum(size)[:-1]])
        part = np.clip(held.strings * held.series - before, 0, size) / size
        ends.append(float((part * share[order]).sum() / held.strings))
    return ends[0], ends[1]
