"""Cycles in a history of the state of charge, counted by rainflow (ASTM E1049)."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import rainflow
from numpy.typing import ArrayLike, NDArray

from evpack.base.errors import DescriptionError
from evpack.outcome.ageing import Cycles

Array = NDArray[np.float64]

_DIGITS = 9  # of a state of charge that are counted
_SLACK = 1e-6  # a state of charge this far outside 0 to 1 is rounding


def count_cycles(soc: ArrayLike, hours: ArrayLike) -> Cycles:
    """Count the cycles in a history of the state of charge.

    Parameters
    ----------
    soc : array, shape (n,)
        State of charge [1], two samples or more.
    hours : array, shape (n,)
        When each was read [h], rising.

    Returns
    -------
    Cycles
        What is left over at the ends counts as half cycles.

    Raises
    ------
    DescriptionError
        No such history.

    References
    ----------
    astm-e1049 (a key in data/sources.toml), as the library rainflow has it.
    """
    states, when = history(soc, hours)
    # The library multiplies slopes, which must not underflow; and it counts nothing in two
    # samples, so one more stands in the middle.
    plain = np.round(states, _DIGITS)
    counted = np.insert(plain, 1, (plain[0] + plain[1]) / 2)
    found = list(rainflow.extract_cycles(counted.tolist()))
    return Cycles(
        depth=[cycle[0] for cycle in found],
        middle=[cycle[1] for cycle in found],
        number=[cycle[2] for cycle in found],
        hours=float(when[-1] - when[0]),
    )


def history(soc: ArrayLike, hours: ArrayLike) -> tuple[Array, Array]:
    """Return a history as arrays, or refuse what is none."""
    states, when = np.asarray(soc, dtype=float), np.asarray(hours, dtype=float)
    if states.ndim != 1 or states.size < 2 or states.shape != when.shape:  # noqa: PLR2004
        raise DescriptionError(
            "a history needs two samples or more, and a time in hours for each: got "
            f"{states.shape} states of charge and {when.shape} times"
        )
    if not (np.isfinite(states).all() and np.isfinite(when).all() and (np.diff(when) > 0).all()):
        raise DescriptionError("a history needs finite numbers, its hours rising")
    if states.min() < -_SLACK or states.max() > 1 + _SLACK:
        raise DescriptionError(
            f"states of charge run from 0 to 1, got {states.min():g} to {states.max():g}"
        )
    return np.clip(states, 0.0, 1.0), when


def same_length(name: str, values: ArrayLike, times: Sequence[float] | Array) -> Array:
    """Return values for each time, one number standing for all, or refuse."""
    array = np.asarray(values, dtype=float)
    if array.ndim == 0:
        array = np.full(len(times), float(array))
    if array.shape != (len(times),) or not np.isfinite(array).all():
        raise DescriptionError(f"{name}: needs one finite number for each of {len(times)} times")
    return array
