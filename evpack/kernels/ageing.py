r"""Loss of capacity over years, by published models, for a history that comes back every year.

Each model is one function: from a year (`Stress`) and its own constants to the loss after so many
years, resting and cycling apart. Where a model was made for one steady temperature, state or depth,
a mixture of them is carried over by what keeps its power of time: a loss :math:`k t^z` under
changing k is :math:`(\sum k_i^{1/z} t_i)^z`.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import NamedTuple, TypeAlias

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]
Constants: TypeAlias = Mapping[str, float]

KELVIN = 273.15
DAYS = 365.25  # in a year
GAS = 8.314462618  # J/(mol K)


class Stress(NamedTuple):
    """What a cell goes through in a year, m stretches of time and c counted cycles.

    Attributes
    ----------
    part : array, shape (m,)
        Part of the year that each stretch takes [1]; they add up to 1.
    soc, volts, celsius : array, shape (m,)
        State of charge [1], open-circuit voltage of a cell [V], temperature [°C].
    moved : array, shape (m,)
        Part of the charge moved in each stretch [1]; they add up to 1, or are all 0.
    depth, middle_soc, middle_volts : array, shape (c,)
        Depth [1], and state of charge [1] and open-circuit voltage [V] in the middle.
    number : array, shape (c,)
        How often a year; a half cycle is 0.5 [1].
    rate : float
        Mean current while any flows, against the capacity [1/h].
    """

    part: Array
    soc: Array
    volts: Array
    celsius: Array
    moved: Array
    depth: Array
    middle_soc: Array
    middle_volts: Array
    number: Array
    rate: float

    @property
    def full_cycles(self) -> float:
        """Return the equivalent full cycles of a year [1]."""
        return float(self.depth @ self.number)


Losses: TypeAlias = tuple[Array, Array]
Model: TypeAlias = Callable[[Stress, ArrayLike, Constants], Losses]


def _mixed(factors: Array, weights: Array, power: float) -> float:
    """Return the factor that stands for a mixture in a loss that goes with a power of time."""
    return float((np.abs(factors) ** (1.0 / power) @ weights) ** power)


def schmalstieg(stress: Stress, years: ArrayLike, of: Constants) -> Losses:
    r"""Return the loss of an NMC cell, resting and cycling [1].

    .. math::
        \alpha t^{0.75} + \beta \sqrt{Q}, \quad
        \alpha = (a V - b)\, e^{-c / T}, \quad
        \beta = d (\bar V - e)^2 + f + g\, \Delta

    with t in days, Q the charge through the model's own cell in Ah, taken here both ways.

    References
    ----------
    schmalstieg-2014 (a key in data/sources.toml).
    """
    t = DAYS * np.asarray(years, dtype=float)
    volts = np.maximum(of["a"] * stress.volts - of["b"], 0.0)
    alpha = _mixed(volts * np.exp(-of["c"] / (stress.celsius + KELVIN)), stress.part, of["z"])
    beta = of["d"] * (stress.middle_volts - of["e"]) ** 2 + of["f"] + of["g"] * stress.depth
    through = 2.0 * of["Q"] * stress.depth * stress.number
    per_root = _mixed(beta, through, of["y"])
    return alpha * t ** of["z"], per_root * np.asarray(years, dtype=float) ** of["y"]


def naumann(stress: Stress, years: ArrayLike, of: Constants) -> Losses:
    r"""Return the loss of an LFP cell, resting and cycling [1].

    .. math::
        k\, e^{-\frac{E}{R} (1/T - 1/298.15)} (a (s - 0.5)^3 + b) \sqrt{t}
        + \tfrac{1}{100} (c\, r + d)(e (\Delta - 0.6)^3 + f) \sqrt{N}

    with t in seconds, r the rate in 1/h and N equivalent full cycles.

    References
    ----------
    naumann-lfp (a key in data/sources.toml).
    """
    t = DAYS * 86400.0 * np.asarray(years, dtype=float)
    warmth = 1.0 / (stress.celsius + KELVIN) - 1.0 / of["T"]
    state = of["a"] * (stress.soc - 0.5) ** 3 + of["b"]
    rest = _mixed(of["k"] * np.exp(-of["E"] / GAS * warmth) * state, stress.part, of["z"])
    deep = of["e"] * (stress.depth - of["m"]) ** 3 + of["f"]
    worn = (of["c"] * stress.rate + of["d"]) * deep / 100.0
    cycle = _mixed(worn, stress.depth * stress.number, of["y"])
    return rest * t ** of["z"], cycle * np.asarray(years, dtype=float) ** of["y"]


def stroe(stress: Stress, years: ArrayLike, of: Constants) -> Losses:
    r"""Return the loss of an LFP cell, resting and cycling [1].

    .. math::
        \tfrac{1}{100} (a\, s^b + c)(d\, \vartheta^e + f)\, t^{0.8}
        + \tfrac{1}{100} g\, e^{h T} k\, \Delta^m \sqrt{N}

    with s and the depth in per cent, :math:`\vartheta` in °C and T in kelvin, t in months and N
    the cycles of that depth.

    References
    ----------
    swierczynski-2015 (a key in data/sources.toml).
    """
    t = 12.0 * np.asarray(years, dtype=float)
    state = of["a"] * (100.0 * np.clip(stress.soc, 0.0, 1.0)) ** of["b"] + of["c"]
    warmth = of["d"] * np.maximum(stress.celsius, 0.0) ** of["e"] + of["f"]
    rest = _mixed(state * warmth / 100.0, stress.part, of["z"])
    warm = _weighed(np.exp(of["h"] * (stress.celsius + KELVIN)), stress.moved)
    deep = of["g"] * warm * of["k"] * (100.0 * stress.depth) ** of["m"] / 100.0
    cycle = _mixed(deep, stress.number, of["y"])
    return rest * t ** of["z"], cycle * np.asarray(years, dtype=float) ** of["y"]


def braco(stress: Stress, years: ArrayLike, of: Constants) -> Losses:
    r"""Return the loss of a second-life half-module, resting and cycling [1].

    .. math:: a\, e^{-b / T} e^{c s / T} t^{0.464} + d\, N^{1.08}

    with t in days and N equivalent full cycles.

    References
    ----------
    braco-second-life (a key in data/sources.toml).
    """
    t = DAYS * np.asarray(years, dtype=float)
    kelvin = stress.celsius + KELVIN
    factor = of["a"] * np.exp((of["c"] * stress.soc - of["b"]) / kelvin)
    rest = _mixed(factor, stress.part, of["z"])
    cycles = stress.full_cycles * np.asarray(years, dtype=float)
    return rest * t ** of["z"], of["d"] * cycles ** of["y"]


def xu(stress: Stress, years: ArrayLike, of: Constants) -> Losses:
    r"""Return the loss of an LMO cell, resting and cycling [1].

    .. math::
        L = 1 - p\, e^{-q f} - (1 - p)\, e^{-f}, \quad
        f = S_T S_\sigma (k_t t + \sum n / (a \Delta^{b} + c)), \quad
        S_\sigma = e^{k_\sigma (\sigma - 0.5)}, \quad
        S_T = e^{k_T (T - T_0) T_0 / T}

    with t in seconds. What of the loss falls to cycling is told by its part in f.

    References
    ----------
    xu-2018 (a key in data/sources.toml).
    """
    t = DAYS * 86400.0 * np.asarray(years, dtype=float)
    kelvin = stress.celsius + KELVIN
    warmth = np.exp(of["kT"] * (kelvin - of["T"]) * of["T"] / kelvin)
    level = np.exp(of["ks"] * (stress.soc - of["s"]))
    rest = of["kt"] * t * float((warmth * level) @ stress.part)
    deep = 1.0 / (of["a"] * np.clip(stress.depth, 1e-9, 1.0) ** of["b"] + of["c"])
    middle = np.exp(of["ks"] * (stress.middle_soc - of["s"]))
    cycle = float((deep * middle) @ stress.number) * _weighed(warmth, stress.moved)
    worn = cycle * np.asarray(years, dtype=float)
    both = rest + worn
    lost = 1.0 - of["p"] * np.exp(-of["q"] * both) - (1.0 - of["p"]) * np.exp(-both)
    part = np.divide(worn, both, out=np.zeros_like(both), where=both > 0)
    return lost * (1.0 - part), lost * part


def _weighed(values: Array, moved: Array) -> float:
    """Return the mean over the charge moved; the plain mean where none is."""
    whole = float(moved.sum())
    return float(values @ moved) / whole if whole > 0 else float(values.mean())


MODELS: Mapping[str, Model] = {
    "schmalstieg": schmalstieg,
    "naumann": naumann,
    "stroe": stroe,
    "braco": braco,
    "xu": xu,
}


def years_till(
    model: Model, stress: Stress, of: Constants, loss: float, *, most: float, scale: float = 1.0
) -> float:
    """Return after how many years a model's loss, times a scale, reaches a loss [years].

    Parameters
    ----------
    loss : float
        [1].
    most : float
        No more than so many years are foretold: that is what comes back where it is not reached.
    scale : float
        On the model's loss [1].

    Notes
    -----
    The loss never falls with time, so halving finds it; what comes back lies just before it.
    """

    def lost(years: float) -> float:
        rest, cycle = model(stress, years, of)
        return scale * float(rest + cycle)

    if lost(most) < loss:
        return most
    low, high = 0.0, most
    while high - low > 1e-4:  # noqa: PLR2004  (an hour)
        middle = (low + high) / 2
        low, high = (middle, high) if lost(middle) < loss else (low, middle)
    return low
