"""Strings between two bars: how they share a current, and how they look to a load."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from evpack.base.errors import DescriptionError

Array = NDArray[np.float64]

# A joint of no resistance would make two nodes one; no real one lies below this [Ω].
_LEAST = 1e-9


class Ladder(NamedTuple):
    """A ladder reduced to what a load sees, linear in its voltages.

    Attributes
    ----------
    by_emf : array, shape (n, n)
        Current of each string for one volt in each [A/V].
    by_load : array, shape (n,)
        Current of each string for one ampere of load [1]; adds up to 1.
    weights : array, shape (n,)
        What each string's voltage adds to the open voltage at the load [1]; adds up to 1.
    ohms : float
        Resistance that the load sees [Ω].
    """

    by_emf: Array
    by_load: Array
    weights: Array
    ohms: float

    def currents(self, emf: ArrayLike, load: float) -> Array:
        """Return the current of each string [A], positive out of it."""
        found: Array = self.by_emf @ np.asarray(emf, dtype=float) + self.by_load * load
        return found


def reduced(
    strings: ArrayLike,
    plus: ArrayLike,
    minus: ArrayLike,
    *,
    load_plus: int = 0,
    load_minus: int = 0,
) -> Ladder:
    """Reduce strings on two bars to a linear map and a Thevenin pair at the load.

    Parameters
    ----------
    strings : array, shape (n,)
        Resistance of each string with its lead and fuse [Ω], above 0.
    plus, minus : array, shape (n - 1,)
        Resistance of the bars between neighbouring taps [Ω].
    load_plus, load_minus : int
        Tap at which the load joins each bar, counted from 0.

    Raises
    ------
    DescriptionError
        Shapes that do not agree, a resistance that is none, a tap that is not there.

    Notes
    -----
    Kirchhoff's laws at the 2 n taps, solved once; the minus tap of the load is the reference.

    Examples
    --------
    >>> reduced([0.01, 0.01], [0.0], [0.0]).by_load.round(6).tolist()
    [0.5, 0.5]
    """
    ohms, upper, lower = (np.asarray(given, dtype=float) for given in (strings, plus, minus))
    n = ohms.size
    if ohms.ndim != 1 or n < 1 or upper.shape != (n - 1,) or lower.shape != (n - 1,):
        raise DescriptionError("a ladder of n strings needs n - 1 pieces of each bar")
    if not (np.isfinite(ohms).all() and (ohms > 0).all()):
        raise DescriptionError("the resistance of every string must lie above 0 Ω")
    pieces = np.concatenate([upper, lower])
    if not (np.isfinite(pieces).all() and (pieces >= 0).all()):
        raise DescriptionError("the resistance of a piece of bar must not lie below 0 Ω")
    if not (0 <= load_plus < n and 0 <= load_minus < n):
        raise DescriptionError(f"the load must join at a tap from 0 to {n - 1}")
    nodes = np.zeros((2 * n, 2 * n))

    def joined(one: int, other: int, resistance: float) -> None:
        conducts = 1.0 / max(resistance, _LEAST)
        nodes[one, one] += conducts
        nodes[other, other] += conducts
        nodes[one, other] -= conducts
        nodes[other, one] -= conducts

    for k in range(n):
        joined(k, n + k, ohms[k])
    for k in range(n - 1):
        joined(k, k + 1, upper[k])
        joined(n + k, n + k + 1, lower[k])
    # Right-hand sides: one volt in each string pushes 1/r into its plus tap; then 1 A of load.
    driven = np.zeros((2 * n, n + 1))
    for k in range(n):
        driven[k, k], driven[n + k, k] = 1 / ohms[k], -1 / ohms[k]
    driven[load_plus, n] -= 1.0
    driven[n + load_minus, n] += 1.0
    keep = [k for k in range(2 * n) if k != n + load_minus]
    volts = np.zeros((2 * n, n + 1))
    volts[keep] = np.linalg.solve(nodes[np.ix_(keep, keep)], driven[keep])
    across = volts[:n] - volts[n:]
    own = np.concatenate([np.eye(n), np.zeros((n, 1))], axis=1)
    currents = (own - across) / ohms[:, np.newaxis]
    return Ladder(
        by_emf=currents[:, :n],
        by_load=currents[:, n],
        weights=volts[load_plus, :n],
        ohms=float(-volts[load_plus, n]),
    )


def load_shares(
    strings: ArrayLike,
    plus: ArrayLike,
    minus: ArrayLike,
    *,
    load_plus: int = 0,
    load_minus: int = 0,
) -> Array:
    """Return the current of each string for one ampere of load [1]: `reduced(...).by_load`.

    The ladder is a chain, so that one sweep does it, however many strings there are.

    Parameters
    ----------
    strings, plus, minus, load_plus, load_minus
        As of `reduced`; they are not checked again here.

    Examples
    --------
    >>> load_shares([0.01, 0.01], [0.0], [0.0]).round(6).tolist()
    [0.5, 0.5]
    """
    ohms, upper, lower = (np.asarray(given, dtype=float) for given in (strings, plus, minus))
    n = ohms.size
    if n == 1:
        return np.ones(1)
    # Unknown is s[k], the sum of the currents of strings 0 to k; see `kernels.network`.
    r, p, m = ohms.tolist(), upper.tolist(), lower.tolist()
    sums, rises = [0.0] * n, [0.0] * n
    above = taken = 0.0
    for k in range(n - 1):
        load = (p[k] if load_plus <= k else 0.0) + (m[k] if load_minus <= k else 0.0)
        if k == n - 2:
            load += r[k + 1]
        pivot = 1.0 / (r[k] + r[k + 1] + p[k] + m[k] - r[k] * above)
        taken = (load + r[k] * taken) * pivot
        above = r[k + 1] * pivot
        sums[k], rises[k] = taken, above
    sums[n - 1] = 1.0
    for k in range(n - 3, -1, -1):
        sums[k] += rises[k] * sums[k + 1]
    return np.diff(sums, prepend=0.0)
