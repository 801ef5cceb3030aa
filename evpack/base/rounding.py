"""Rounding to what a device can be set to, to the safe side."""

from __future__ import annotations

import math

# A value this close to a step counts as on it: 56.8 is not stored as 568 tenths.
_NOISE = 1e-6


def down_to_step(value: float, first: float, step: float) -> float:
    """Return the highest entry not above `value`.

    Parameters
    ----------
    value : float
        The bound, in any unit.
    first, step : float
        Entries are ``first + k · step``, in the same unit.

    Examples
    --------
    >>> down_to_step(56.836, 48.0, 0.1)
    56.8
    """
    return _on_grid(math.floor((value - first) / step + _NOISE), first, step)


def up_to_step(value: float, first: float, step: float) -> float:
    """Return the least entry not below `value`; see `down_to_step`.

    Examples
    --------
    >>> up_to_step(46.93, 40.0, 0.5)
    47.0
    """
    return _on_grid(math.ceil((value - first) / step - _NOISE), first, step)


def _on_grid(count: int, first: float, step: float) -> float:
    # Twelve digits drop the binary dust of k · step and keep every step a device could have.
    return round(first + count * step, 12)
