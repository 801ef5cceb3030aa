r"""Grouping as a mixed-integer linear programme, solved by HiGHS through scipy.

Strings have no numbers here; each is known by its weakest unit, its leader. So no grouping is
described twice. With units sorted from strong to weak, y_k says that unit k leads a string, and
x_ik (i ≤ k) that unit i is in it, x_kk = y_k:

.. math:: \sum_i n_i x_{ik} = M y_k, \quad \sum_k x_{ik} \le 1, \quad \sum_k y_k = S, \quad
   x_{ik} \le y_k

The charge is Σ C_k y_k. For evenness, bounds lo and hi of the string resistance r_k = Σ R_i x_ik
join in. A string that is not there has r_k = 0, so its row must let go: hi is never below the
mean of the least resistances, lo never above the mean of the greatest, and these do.

One more column is to be idle: to build nothing and keep what is known, at a price just better
than that. So the solver always holds a solution, and tells its bound when the time is up.
"""

from __future__ import annotations

import time
from typing import Any, NamedTuple

import numpy as np

from evpack.kernels.grouping_batch import Array, Batch, Labels

# What counts as better, as a share: finer than anybody measures, coarser than HiGHS's own slack.
STEP = 1e-6
# A floor is loosened by this share, against rounding noise.
_SLACK = 1e-9
# The solver is not begun with less time than this [s].
_LEAST_TIME = 0.05


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
    """Columns are x_ik in the order of `unit` and `leader`, then lo, hi and idle."""

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
