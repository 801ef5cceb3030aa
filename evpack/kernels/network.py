"""Strings of cells between two bars, stepped through time.

Each string is an open-circuit voltage that follows its state of charge, a resistance, and pairs of
resistance and capacitance (RC branches) in series. A step takes all of them at its end (implicit,
so that no step is too long to be stable): each string is then one voltage behind one resistance,
the strings and the bars are a chain solved in one sweep, and the load sees one voltage behind one
resistance. Nothing is iterated, and the cost of a step is linear in the strings.

Current is positive out of a string, and out of the pack into the load.
"""

from __future__ import annotations

from math import sqrt
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from evpack.kernels.compiled import compiled

Array = NDArray[np.float64]

COLDEST = -40.0  # temperature of the first entry of `Strings.cold` [°C]; one entry each kelvin


class Strings(NamedTuple):
    """What strings are, for n strings, g states of charge, b RC branches.

    Attributes
    ----------
    ocv : array, shape (n, g)
        Open-circuit voltage of the string at states of charge evenly from 0 to 1 [V].
    ohms : array, shape (n, g)
        Series resistance of its modules at the same states, at room temperature [Ω].
    cold : array, shape (t,)
        Resistance against that at room temperature, from -40 °C up, an entry each kelvin [1].
    lead : array, shape (n,)
        Leads, fuse and contacts of the string [Ω], above 0; 1e9 for a string that is open.
    coulombs : array, shape (n,)
        Capacity [A·s].
    rc_ohms, rc_seconds : array, shape (n, b)
        Resistance [Ω] and time constant [s] of each RC branch; b may be 0.
    heat : array, shape (n,)
        Heat capacity [J/K].
    to_air : array, shape (n,)
        Heat that it gives to the air around [W/K].
    plus, minus : array, shape (n - 1,)
        The bars between neighbouring taps [Ω].
    tap_plus, tap_minus : int
        Tap at which the load joins each bar, from 0.
    """

    ocv: Array
    ohms: Array
    cold: Array
    lead: Array
    coulombs: Array
    rc_ohms: Array
    rc_seconds: Array
    heat: Array
    to_air: Array
    plus: Array
    minus: Array
    tap_plus: int
    tap_minus: int


class State(NamedTuple):
    """Where the strings stand; every step writes into it.

    Attributes
    ----------
    soc : array, shape (n,)
        State of charge [1]. Beyond 0 and 1 the curves go on at their last slope.
    rc : array, shape (n, b)
        Voltage over each RC branch [V], positive while the string gives current.
    temperature : array, shape (n,)
        [°C].
    """

    soc: Array
    rc: Array
    temperature: Array


class Bench(NamedTuple):
    """Room to work in, made once: what `prepare` leaves for `advance`.

    Attributes
    ----------
    emf, ohms : array, shape (n,)
        Each string at the end of the step: its voltage [V] behind its resistance [Ω].
    held, resistance : array, shape (n,)
        Open-circuit voltage at the start [V]; resistance of modules and leads now [Ω].
    factor : array, shape (n,)
        Resistance of the cells against that at room temperature [1].
    per_ampere, cooling : array, shape (n,)
        State of charge that a step moves an ampere [1/A]; temperature that a joule moves [K/J].
    base, share : array, shape (n,)
        Current of each string without load [A], and for one ampere of load [1].
    current : array, shape (n,)
        Current of each string over the step [A], written by `advance`.
    decay, conducts : array, shape (n, b)
        What is left of each RC voltage after a step [1]; its branch's 1 / R [1/Ω].
    sweep : array, shape (3, n)
        Of the elimination.
    """

    emf: Array
    ohms: Array
    held: Array
    resistance: Array
    factor: Array
    per_ampere: Array
    cooling: Array
    base: Array
    share: Array
    current: Array
    decay: Array
    conducts: Array
    sweep: Array


def bench(strings: Strings, seconds: float) -> Bench:
    """Return room to work in, for steps of so many seconds."""
    n = strings.lead.size
    emf, ohms, held, resistance, factor, base, share, current = np.zeros((8, n))
    return Bench(
        emf=emf,
        ohms=ohms,
        held=held,
        resistance=resistance,
        factor=factor,
        per_ampere=seconds / strings.coulombs,
        cooling=1.0 / (strings.heat + strings.to_air * seconds),
        base=base,
        share=share,
        current=current,
        decay=np.exp(-seconds / strings.rc_seconds),
        conducts=1.0 / strings.rc_ohms,
        sweep=np.zeros((3, n)),
    )


def rested(strings: Strings, soc: float, temperature: float) -> State:
    """Return strings that have rested, all at one state of charge [1] and temperature [°C]."""
    n, b = strings.rc_ohms.shape
    return State(np.full(n, float(soc)), np.zeros((n, b)), np.full(n, float(temperature)))


@compiled
def cold_factor(cold: Array, temperature: float) -> float:
    """Return the resistance against that at room temperature, linear between whole kelvins."""
    place = min(max(temperature - COLDEST, 0.0), cold.size - 1.001)
    k = int(place)
    return float(cold[k] + (place - k) * (cold[k + 1] - cold[k]))


@compiled
def prepare(strings: Strings, state: State, room: Bench) -> tuple[float, float]:
    """Return what the load sees over the coming step: a voltage [V] behind a resistance [Ω]."""
    n, g = strings.ocv.shape
    b = strings.rc_ohms.shape[1]
    for k in range(n):
        place = state.soc[k] * (g - 1)
        j = min(max(int(place), 0), g - 2)
        part = place - j
        inside = min(max(part, 0.0), 1.0)
        rise = strings.ocv[k, j + 1] - strings.ocv[k, j]
        factor = cold_factor(strings.cold, state.temperature[k])
        series = strings.ohms[k, j] + inside * (strings.ohms[k, j + 1] - strings.ohms[k, j])
        held = strings.ocv[k, j] + part * rise
        resistance = series * factor + strings.lead[k]
        emf, ohms = held, resistance + rise * (g - 1) * room.per_ampere[k]
        for m in range(b):
            decay = room.decay[k, m]
            emf -= decay * state.rc[k, m]
            ohms += strings.rc_ohms[k, m] * factor * (1.0 - decay)
        room.held[k], room.resistance[k], room.factor[k] = held, resistance, factor
        room.emf[k], room.ohms[k] = emf, ohms
    return _swept(strings, room)


@compiled
def _swept(strings: Strings, room: Bench) -> tuple[float, float]:
    """Solve the chain: currents without load and for one ampere of it; return what a load sees.

    Unknown is s[k], the sum of the currents of strings 0 to k. Round the mesh of strings k and
    k + 1, with p and m the pieces of the bars between them and L the load:
    (r[k] + r[k+1] + p + m) s[k] - r[k] s[k-1] - r[k+1] s[k+1]
    = e[k] - e[k+1] + L (p where the load joins at or before k, and m likewise); s[n-1] = L.
    """
    n = strings.lead.size
    e, r, own, per = room.emf, room.ohms, room.base, room.share
    upper, base, share = room.sweep[0], room.sweep[1], room.sweep[2]
    above = 0.0
    base_above = share_above = 0.0
    for k in range(n - 1):
        p, m = strings.plus[k], strings.minus[k]
        rhs = e[k] - e[k + 1]
        load = (p if strings.tap_plus <= k else 0.0) + (m if strings.tap_minus <= k else 0.0)
        if k == n - 2:
            load += r[k + 1]
        pivot = 1.0 / (r[k] + r[k + 1] + p + m - r[k] * above)
        above = r[k + 1] * pivot
        base_above = (rhs + r[k] * base_above) * pivot
        share_above = (load + r[k] * share_above) * pivot
        upper[k], base[k], share[k] = above, base_above, share_above
    base[n - 1], share[n - 1] = 0.0, 1.0
    for k in range(n - 3, -1, -1):
        base[k] += upper[k] * base[k + 1]
        share[k] += upper[k] * share[k + 1]
    own[0], per[0] = base[0], share[0]
    for k in range(1, n):
        own[k], per[k] = base[k] - base[k - 1], share[k] - share[k - 1]
    tap, end = strings.tap_plus, strings.tap_minus
    volts, ohms = e[tap] - own[tap] * r[tap], per[tap] * r[tap]
    for k in range(tap, end):
        volts -= base[k] * strings.minus[k]
        ohms += share[k] * strings.minus[k]
    for k in range(end, tap):
        volts += base[k] * strings.minus[k]
        ohms -= (share[k] - 1.0) * strings.minus[k]
    return volts, ohms


@compiled
def advance(
    strings: Strings, state: State, room: Bench, load: float, seconds: float, ambient: float
) -> None:
    """Carry the strings over the step that `prepare` looked at, under a load current.

    Parameters
    ----------
    load : float
        [A], positive out of the pack.
    seconds : float
        [s].
    ambient : float
        Air around the strings [°C].

    Notes
    -----
    Heat is that of all resistances of the string; warming is taken at the end of the step too.
    """
    n = strings.lead.size
    b = strings.rc_ohms.shape[1]
    for k in range(n):
        current = room.base[k] + room.share[k] * load
        room.current[k] = current
        state.soc[k] -= current * room.per_ampere[k]
        heat = current * current * (room.resistance[k] - strings.lead[k])
        factor = room.factor[k]
        easier = 1.0 / factor
        for m in range(b):
            volts = room.decay[k, m] * state.rc[k, m]
            volts += (1.0 - room.decay[k, m]) * strings.rc_ohms[k, m] * factor * current
            state.rc[k, m] = volts
            heat += volts * volts * room.conducts[k, m] * easier
        kept, gives = strings.heat[k], strings.to_air[k] * seconds
        joules = kept * state.temperature[k] + gives * ambient + heat * seconds
        state.temperature[k] = joules * room.cooling[k]


@compiled
def for_power(volts: float, ohms: float, watts: float) -> float:
    """Return the current that carries a power [A], from what `prepare` returned.

    Parameters
    ----------
    volts, ohms : float
        What the load sees [V, Ω].
    watts : float
        Positive out of the pack [W]. More than the pack can give at all gets the current at which
        it gives the most: compare the power that comes of it.
    """
    inside = volts * volts - 4.0 * ohms * watts
    if inside < 0.0:
        return volts / (2.0 * ohms)
    return 2.0 * watts / (volts + sqrt(inside))


@compiled
def to_voltage(volts: float, ohms: float, limit: float) -> float:
    """Return the current at which the load stands at a voltage [A], negative to charge up to it."""
    return (volts - limit) / ohms
