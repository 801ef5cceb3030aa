"""What flows when modules or strings at rest are joined in parallel, and where they come to rest.

Each is a source E behind a resistance R. Giving charge q lowers E by k·q, so that it behaves as a
capacitor of C = 3600/k farad, k in volts an ampere-hour. Over a small change of charge the curve
of a cell is as straight as that: `pair` joins two, `bus` several. Over a large one it is not:
`rest` takes whole curves, and what holds there is that charge is neither made nor lost.

Currents are positive out of a module. A low R and a high k are the safe side for the current, a
low k for the charge and the time.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from evpack.base.errors import DescriptionError

Array = NDArray[np.float64]

# Seconds in an hour: coulombs in an ampere-hour.
AMP_HOUR = 3600.0

# How far a bisection narrows what it looks for, as a share.
_NARROW = 1e-12

# A voltage this close to the end of a curve is the end [V].
_NOISE = 1e-9


class Pair(NamedTuple):
    """Two joined, no load.

    Attributes
    ----------
    amps : float
        First current, out of the first into the second [A].
    tau : float
        Time constant with which it dies away [s].
    charge : float
        What the first gives in the end [Ah].
    volts : float
        Voltage of both in the end [V].
    let_through : float
        Integral of the squared current, for the fuse between them [A²s].
    heat : tuple of three floats
        Left in the first, in the second and in the leads [J].
    """

    amps: float
    tau: float
    charge: float
    volts: float
    let_through: float
    heat: tuple[float, float, float]


class Split(NamedTuple):
    """How two share a steady load: the current of the first at first, at last, and between.

    Attributes
    ----------
    first, last : float
        When the load comes on and when both fall alike [A].
    tau : float
        Time constant from the one to the other [s].
    """

    first: float
    last: float
    tau: float


def pair(
    volts: tuple[float, float],
    ohms: tuple[float, float],
    slopes: tuple[float, float],
    leads: float = 0.0,
) -> Pair:
    r"""Return what flows between two that are joined without a load.

    .. math:: I_0 = \frac{E_1 - E_2}{R_1 + R_2 + R_l}, \quad
       \tau = (R_1 + R_2 + R_l) \frac{3600}{k_1 + k_2}, \quad I(t) = I_0 e^{-t/\tau}

    Parameters
    ----------
    volts : tuple of two floats
        Open-circuit voltages before [V].
    ohms : tuple of two floats
        Resistances [Ω], above 0.
    slopes : tuple of two floats
        Fall of the open-circuit voltage with charge given [V/Ah], above 0.
    leads : float
        Resistance of all that joins them, there and back [Ω].

    Raises
    ------
    DescriptionError
        For a resistance or slope that is not above 0, or a number that is none.

    References
    ----------
    Ohm's and Kirchhoff's laws; two capacitors through a resistance.

    Examples
    --------
    >>> both = pair((50.2, 50.0), (0.016, 0.016), (0.1, 0.1))
    >>> round(both.amps, 2), round(both.tau), round(both.charge, 2), round(both.volts, 2)
    (6.25, 576, 1.0, 50.1)
    """
    check(volts, ohms, slopes)
    if not 0 <= leads < math.inf:
        raise DescriptionError(f"the resistance of the leads is not below 0 Ω, got {leads}")
    whole, slope = sum(ohms) + leads, sum(slopes)
    amps, tau = (volts[0] - volts[1]) / whole, whole * AMP_HOUR / slope
    charge = (volts[0] - volts[1]) / slope
    let_through = amps * amps * tau / 2
    heat = (let_through * ohms[0], let_through * ohms[1], let_through * leads)
    return Pair(amps, tau, charge, volts[0] - slopes[0] * charge, let_through, heat)


def pair_split(amps: float, ohms: tuple[float, float], slopes: tuple[float, float]) -> Split:
    r"""Return how two of one voltage share a steady load.

    .. math:: I_1(0) = I \frac{R_2}{R_1 + R_2}, \quad I_1(\infty) = I \frac{k_2}{k_1 + k_2}

    Parameters
    ----------
    amps : float
        The load [A].
    ohms, slopes : tuples of two floats
        As for `pair`; the resistance of each one's lead counts with its own.

    Notes
    -----
    Currents add up: where the voltages differ, the current of `pair` comes on top.

    Examples
    --------
    >>> share = pair_split(60.0, (0.014, 0.021), (0.1, 0.125))
    >>> round(share.first, 3), round(share.last, 3), round(share.tau)
    (36.0, 33.333, 560)
    """
    check((amps, amps), ohms, slopes)
    whole, slope = sum(ohms), sum(slopes)
    return Split(amps * ohms[1] / whole, amps * slopes[1] / slope, whole * AMP_HOUR / slope)


def time_below(amps: float, tau: float, limit: float) -> float:
    """Return when a current that dies away falls to a limit [s]; 0 if it is there already.

    Parameters
    ----------
    amps, tau : float
        First current [A] and time constant [s].
    limit : float
        The limit [A], above 0.

    Examples
    --------
    >>> round(time_below(100.0, 60.0, 10.0), 2)  # 60 s · ln 10
    138.16
    """
    check_limit(limit)
    if not (math.isfinite(amps) and 0 < tau < math.inf):
        raise DescriptionError(f"need a current and a time constant, got {amps} and {tau}")
    return tau * math.log(abs(amps) / limit) if abs(amps) > limit else 0.0


def check(volts: ArrayLike, ohms: ArrayLike, slopes: ArrayLike) -> tuple[Array, Array, Array]:
    """Refuse a number that is none, and a resistance or slope that is not above 0."""
    emf, resistance, slope = (np.asarray(x, dtype=float) for x in (volts, ohms, slopes))
    if not emf.shape == resistance.shape == slope.shape == (emf.size,):
        raise DescriptionError("need one voltage, one resistance and one slope of each")
    if not np.isfinite(emf).all():
        raise DescriptionError("a voltage or current is not a finite number")
    for name, values in (("resistance", resistance), ("slope", slope)):
        if not (np.isfinite(values) & (values > 0)).all():
            raise DescriptionError(f"each {name} is a finite number above 0, got {values.tolist()}")
    return emf, resistance, slope


def check_limit(limit: float) -> None:
    """Refuse a limit that is never reached, or is none."""
    if not 0 < limit < math.inf:
        raise DescriptionError(f"the limit of the current is a number above 0 A, got {limit}")


class Bus(NamedTuple):
    """Several on one bus: the currents, and how they come to rest.

    Attributes
    ----------
    first, last : array, shape (n,)
        Current of each when joined and in the end [A]; the latter is 0 without a load.
    bus_volts : float
        Voltage of the bus when joined [V], by Millman's theorem.
    rates : array, shape (n - 1,)
        At which rates the differences die away [1/s].
    parts : array, shape (n, n - 1)
        Part of each current that dies away at each rate [A].
    """

    first: Array
    last: Array
    bus_volts: float
    rates: Array
    parts: Array

    @property
    def worst(self) -> float:
        """Greatest current of any when joined, either way [A]."""
        return float(np.max(np.abs(self.first)))

    def at(self, times: ArrayLike) -> Array:
        """Return the currents at times after joining [s], shape (times, n) [A]."""
        fade = np.exp(-np.multiply.outer(np.asarray(times, dtype=float), self.rates))
        return np.asarray(self.last + fade @ self.parts.T)

    def moved(self) -> Array:
        """Return the charge each gives in the end, beyond its share of a load [Ah]."""
        return np.asarray((self.parts / self.rates).sum(axis=1) / AMP_HOUR)

    def let_through(self) -> Array:
        """Return the integral of each squared current beyond its share of a load [A²s].

        Times the resistance of each it is the heat that joining leaves in it [J].
        """
        pairs = self.rates[:, None] + self.rates
        return np.asarray(np.einsum("im,in,mn->i", self.parts, self.parts, 1.0 / pairs))

    def settled_by(self, limit: float) -> float:
        """Return a time from which on every current is within a limit of its last [s].

        The parts of a current may cancel for a while. Their sizes are added here, so that the
        time is never too short; for two it is exact.

        Parameters
        ----------
        limit : float
            The limit [A], above 0.
        """
        check_limit(limit)
        sizes = np.abs(self.parts)

        def beyond(seconds: float) -> bool:
            return bool(np.max(sizes @ np.exp(-self.rates * seconds)) > limit)

        if not beyond(0.0):
            return 0.0
        low, high = 0.0, float(1.0 / self.rates.min())
        while beyond(high):
            low, high = high, 2 * high
        while high - low > _NARROW * high:
            middle = (low + high) / 2
            low, high = (middle, high) if beyond(middle) else (low, middle)
        return high


def bus(volts: ArrayLike, ohms: ArrayLike, slopes: ArrayLike, load: float = 0.0) -> Bus:
    r"""Return what flows when several are joined on one bus, with or without a steady load.

    With G = 1/R, the bus stands at :math:`U = (\sum G_i E_i - I) / \sum G_i` and each gives
    :math:`I_i = G_i (E_i - U)`. From there :math:`\dot I = -L K I` with
    :math:`L = \mathrm{diag}(G) - G G^T / \sum G` and K = diag(k)/3600, which
    :math:`K^{1/2} L K^{1/2}` makes symmetric: its eigenvalues are the rates.

    Parameters
    ----------
    volts, ohms, slopes : array, shape (n,)
        As for `pair`, n from 2; the resistance of each one's lead counts with its own.
    load : float
        Steady current taken from the bus [A].

    Raises
    ------
    DescriptionError
        As for `pair`.

    Examples
    --------
    >>> three = bus([50.2, 50.0, 50.0], [0.016, 0.016, 0.016], [0.1, 0.1, 0.1])
    >>> three.first.round(2).tolist(), three.moved().round(3).tolist()
    ([8.33, -4.17, -4.17], [1.333, -0.667, -0.667])
    """
    emf, resistance, slope = check(volts, ohms, slopes)
    if emf.size < 2:  # noqa: PLR2004
        raise DescriptionError("need at least two to join")
    if not math.isfinite(load):
        raise DescriptionError(f"the load is not a finite number, got {load}")
    conductance = 1.0 / resistance
    millman = float((conductance @ emf - load) / conductance.sum())
    first = conductance * (emf - millman)
    last = load * (1.0 / slope) / (1.0 / slope).sum()
    root = np.sqrt(slope / AMP_HOUR)
    share = np.diag(conductance) - np.outer(conductance, conductance) / conductance.sum()
    # One eigenvalue is 0, that of all falling alike; the others are above it.
    rates, modes = np.linalg.eigh(root[:, None] * share * root)
    rates, modes = rates[1:], modes[:, 1:]
    parts = modes / root[:, None] * ((root * (first - last)) @ modes)
    return Bus(first, last, millman, rates, parts)


def common_volts(volts: ArrayLike, slopes: ArrayLike) -> float:
    r"""Return the voltage of all that were joined, in the end [V].

    .. math:: U = \frac{\sum C_i E_i}{\sum C_i}, \quad C_i \propto 1 / k_i

    Parameters
    ----------
    volts, slopes : array, shape (n,)
        As for `bus`.

    Examples
    --------
    >>> round(common_volts([50.2, 50.0, 50.0], [0.1, 0.1, 0.1]), 4)
    50.0667
    """
    emf, _, slope = check(volts, np.ones(np.size(slopes)), slopes)
    return float((emf / slope).sum() / (1.0 / slope).sum())


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
    _check_curves(curves)
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


def _check_curves(curves: Sequence[Curve]) -> None:
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
