"""Which modules form the strings of a pack, so that most of their charge can be used.

A string gives the charge of its weakest module; the pack gives the sum of its strings. Of all
groupings that give (nearly) the most, the most even one is looked for: little capacity that
cannot be used, and strings of like resistance, which share the current alike.

`quick` answers at once, `proven` takes its time and says how far from the best its answer can be.
"""

from __future__ import annotations

import time
from collections.abc import Iterable

import numpy as np
from numpy.typing import ArrayLike

from evpack.kernels import grouping_milp, grouping_swaps
from evpack.kernels.grouping_batch import Batch, GroupingError, Labels, Pair, batch
from evpack.kernels.grouping_result import Grouping, described
from evpack.kernels.grouping_start import start

__all__ = ["Grouping", "GroupingError", "as_they_come", "by_capacity", "proven", "quick"]

# Part of the charge that may be given up for evenness: what two runs of a capacity test may
# differ by is three times this (common practice, no source).
TOLERANCE = 0.01
# Random starts of the proven answer for each unit; found by trial.
_PROVEN_ROUNDS = 10
# Parts of the time for the charge, and then, of what is left, for swaps before the solver.
_CHARGE_PART = 0.4
_SWAP_PART = 0.4


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
    if held.charge(full) < bound * (1 - grouping_milp.STEP):
        answer = grouping_milp.most_charge(held, held.charge(full), _CHARGE_PART * seconds)
        if answer.label is not None and held.charge(answer.label) > held.charge(full):
            full = answer.label
        bound = min(bound, answer.bound)
    left = seconds - (time.perf_counter() - begun)
    rounds = _PROVEN_ROUNDS * held.size.size
    label, most = _evened(held, full, rounds, time.perf_counter() + _SWAP_PART * left)
    uneven, least = held.unevenness(label), 0.0
    left = seconds - (time.perf_counter() - begun)
    if uneven > grouping_milp.STEP and left > 0:
        floor = most * (1 - tolerance)
        answer = grouping_milp.least_uneven(held, floor, uneven, left)
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
