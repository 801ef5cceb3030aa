"""Where modules or strings joined in parallel come to rest, on their whole curves.

For a large difference the straight lines of `joining` do not hold. What holds is that charge is
neither made nor lost, and that all end at one voltage.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from evpack.base.errors import DescriptionError

Array = NDArray[np.float64]

# A voltage this close to the end of a curve is the end [V].
_NOISE = 1e-9


class Curve(NamedTuple):
    """One that is joined.

    Attributes
    ----------
    soc, volts : array, shape (n,)
        State of charge [1] rising from 0 to 1, open-circuit voltage [V] never falling.
    capacity : float
        Charge from empty to full [Ah], above 0.
    state : float
        State of charge before, 0 to 1.
    """

    soc: Array
    volts: Array
    capacity: float
    state: float


class Rest(NamedTuple):
    """All at rest.

    Attributes
    ----------
    volts : float
        The voltage at which the charges balance [V].
    states : array, shape (n,)
        State of charge of each [1].
    given : array, shape (n,)
        Charge each gave, negative where it took [Ah].
    beyond : tuple of int
        Those whose curve does not reach this voltage: they are driven over full or under empty,
        and come to no rest. Anything in here forbids joining.
    open_charge : float
        Charge whose place the voltage does not tell, because two or more are on a flat part [Ah].
        It is shared here by the room that each has; it may lie with any one of them.
    """

    volts: float
    states: Array
    given: Array
    beyond: tuple[int, ...]
    open_charge: float


def rest(curves: Sequence[Curve]) -> Rest:
    """Return where all come to rest, and what each gives on the way.

    Between two points of any curve each charge is linear in the voltage, so that the balance is
    found exactly. On a flat part the voltage does not tell the charge: there each moves only as
    far as the others make it.

    Parameters
    ----------
    curves : sequence of Curve
        At least two.

    Raises
    ------
    DescriptionError
        For a curve that does not rise from empty to full, or a number that cannot be.

    References
    ----------
    Conservation of charge.

    Examples
    --------
    >>> line = np.array([0.0, 1.0]), np.array([3.0, 4.0])
    >>> found = rest([Curve(*line, 40.0, 0.8), Curve(*line, 20.0, 0.5)])
    >>> round(found.volts, 3), found.given.round(2).tolist()
    (3.7, [4.0, -4.0])
    """
    _check(curves)
    capacity = np.array([curve.capacity for curve in curves])
    before = np.array([curve.state for curve in curves])
    charge = float(capacity @ before)
    points = np.unique(np.concatenate([curve.volts for curve in curves]))
    least, most = (capacity @ ends for ends in _states(curves, points))
    # The first point at which all can hold the charge; at the last all are full.
    at = min(int(np.searchsorted(most, charge)), points.size - 1)
    volts = float(points[at])
    if least[at] > charge:  # then between this point and the one before
        part = (charge - most[at - 1]) / (least[at] - most[at - 1])
        volts = float(points[at - 1] + part * (points[at] - points[at - 1]))
    low, high = (ends[:, 0] for ends in _states(curves, np.array([volts])))
    states = np.clip(before, low, high)
    missing = charge - float(capacity @ states)
    room = capacity * (high - states if missing > 0 else states - low)
    if room.sum() > 0:
        states = states + missing * room / room.sum() / capacity
    return Rest(
        volts=volts,
        states=states,
        given=capacity * (before - states),
        beyond=tuple(
            i
            for i, curve in enumerate(curves)
            if not curve.volts[0] - _NOISE <= volts <= curve.volts[-1] + _NOISE
        ),
        open_charge=_open(capacity * (high - low), charge - float(capacity @ low)),
    )


def _states(curves: Sequence[Curve], volts: Array) -> tuple[Array, Array]:
    """Return the least and the greatest state of each at voltages, shape (curves, volts)."""
    least = [_state(curve, volts, np.searchsorted(curve.volts, volts, "left")) for curve in curves]
    most = [_state(curve, volts, np.searchsorted(curve.volts, volts, "right")) for curve in curves]
    return np.array(least), np.array(most)


def _state(curve: Curve, volts: Array, above: NDArray[np.intp]) -> Array:
    """Return the states at voltages, between the points that lie above them and those before.

    Seen from the left the point above is the first one not below the voltage, seen from the right
    the first one beyond it: so the two ends of a flat part come out.
    """
    high = np.clip(above, 1, curve.soc.size - 1)
    low = high - 1
    step = curve.volts[high] - curve.volts[low]
    # Only beyond the ends of the curve can the two be level.
    part = (volts - curve.volts[low]) / np.where(step > 0, step, 1.0)
    inside = curve.soc[low] + np.clip(part, 0.0, 1.0) * (curve.soc[high] - curve.soc[low])
    ends = np.where(above == 0, curve.soc[0], curve.soc[-1])
    return np.where((above == 0) | (above == curve.soc.size), ends, inside)


def _open(widths: Array, held: float) -> float:
    """Return the most that any one's charge is left open, all flat parts together holding some."""
    others = widths.sum() - widths
    return max(0.0, float((np.minimum(widths, held) - np.maximum(0.0, held - others)).max()))


def _check(curves: Sequence[Curve]) -> None:
    """Refuse what cannot be."""
    if len(curves) < 2:  # noqa: PLR2004
        raise DescriptionError("need at least two to join")
    for i, (soc, volts, capacity, state) in enumerate(curves):
        if not (
            soc.ndim == 1
            and soc.shape == volts.shape
            and soc.size > 1
            and np.isfinite(volts).all()
            and soc[0] == 0
            and soc[-1] == 1
            and (np.diff(soc) > 0).all()
            and (np.diff(volts) >= 0).all()
        ):
            problem = "must rise from state 0 to state 1, its voltage never falling"
            raise DescriptionError(f"curve {i} (counted from 0) {problem}")
        if not (0 < capacity < np.inf and 0 <= state <= 1):
            problem = "needs a capacity above 0 and a state of 0 to 1"
            raise DescriptionError(f"curve {i} (counted from 0) {problem}")
