"""Runs of strings over a list of orders: currents, powers, limits, switches; and the books kept.

One compiled loop over `kernels.network`. Books of charge and of energy are kept as it goes, so that
every run can say how well it holds to what nature keeps.

Current is positive out of a string, and out of the pack into the load.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from evpack.kernels import network
from evpack.kernels.compiled import compiled
from evpack.kernels.network import Bench, State, Strings

Array = NDArray[np.float64]
Whole = NDArray[np.int64]

NEVER = -1  # a step that did not come
_MET = 1e-9  # by how much a power may be missed and count as met [1]


class Limits(NamedTuple):
    """What a run keeps to.

    Attributes
    ----------
    highest : float
        Voltage that charging does not pass: the current tapers there [V].
    lowest : float
        Voltage at the load below which it is cut [V]; it stays off till a step asks for none.
    most : float
        Current that is not passed either way [A].
    tail : float
        A charge held at `highest` is over when its current falls to this [A].
    cable : float
        Between the bars and the load, both ways [Ω]; voltages and powers are those at the load.
    """

    highest: float = np.inf
    lowest: float = -np.inf
    most: float = np.inf
    tail: float = 0.0
    cable: float = 0.0


class Switches(NamedTuple):
    """What changes during a run, in the order of the steps.

    Attributes
    ----------
    step, string : array of int, shape (m,)
        At the start of which step, and of which string.
    lead : array, shape (m,)
        Resistance of its lead from then on [Ω]; 1e9 opens the string.
    across : array, shape (m,)
        Resistance between its two ends, on its side of the lead [Ω]; infinite for none.
    """

    step: Whole
    string: Whole
    lead: Array
    across: Array


class Record(NamedTuple):
    """What a run wrote down, every so many steps, r rows.

    Attributes
    ----------
    current : array, shape (r, n)
        Through the lead of each string [A].
    soc, temperature : array, shape (r, n)
        State of charge [1] and temperature [°C] at the end of the step.
    load, volts : array, shape (r,)
        Current [A] and voltage [V] at the load.
    highest, lowest : array, shape (n,)
        Greatest and least current of each lead over all steps, written down or not [A].
    highest_at, lowest_at : array of int, shape (n,)
        The steps at which they flowed.
    """

    current: Array
    soc: Array
    temperature: Array
    load: Array
    volts: Array
    highest: Array
    lowest: Array
    highest_at: Whole
    lowest_at: Whole


class Books(NamedTuple):
    """What a run did, and how it adds up.

    Attributes
    ----------
    steps : int
        Steps carried out; fewer than ordered where the run was to stop at a limit.
    collapsed, cut, limited, full : int
        First step at which the load asked for more than the pack can give, was cut for its
        voltage, met the current limit, or at which the charge was over; -1 for never.
    unmet : int
        Steps at which the power asked for was not met.
    delivered : float
        Energy into the load [J]; negative where charging put more in than came out.
    handled : float
        The same, what came out and what went in added up [J].
    heat_cells, heat_leads, heat_bars, heat_fault : float
        Energy lost in cells, leads, bars with the cable, and in what lies across a string [J].
    out_of_cells : float
        Charge out of all strings [A s].
    through_load, through_fault : float
        Charge through the load, and through what lies across a string [A s].
    moved : float
        Charge moved at all, in and out, of all strings: what a residual is held against [A s].
    mesh : float
        Greatest power by which a step's sources and losses differed [W]: Kirchhoff's laws.
    """

    steps: int
    collapsed: int
    cut: int
    limited: int
    full: int
    unmet: int
    delivered: float
    handled: float
    heat_cells: float
    heat_leads: float
    heat_bars: float
    heat_fault: float
    out_of_cells: float
    through_load: float
    through_fault: float
    moved: float
    mesh: float


class Followed(NamedTuple):
    """A run that is over.

    Attributes
    ----------
    time : array, shape (r,)
        End of the step of each row [s].
    record : Record
    books : Books
    state : State
        Where the strings stand now.
    charge_residual : float
        Charge that states of charge lost and nothing accounts for [A s]: rounding only.
    energy_residual : float
        Energy that left the cells and nothing accounts for [J]: it shrinks with the step.
    energy_handled : float
        Energy into and out of the load, and lost [J]: what the residual is held against.
    """

    time: Array
    record: Record
    books: Books
    state: State
    charge_residual: float
    energy_residual: float
    energy_handled: float


def stored(strings: Strings, soc: Array) -> Array:
    """Return the energy of each string at its state of charge, from empty [J].

    The integral of its open-circuit voltage, which is straight between the points of the curve and
    beyond its ends.
    """
    n, g = strings.ocv.shape
    place = soc * (g - 1)
    j = np.clip(place.astype(int), 0, g - 2)
    part = place - j
    rows = np.arange(n)
    pieces = (strings.ocv[:, 1:] + strings.ocv[:, :-1]) / 2
    below = np.concatenate([np.zeros((n, 1)), np.cumsum(pieces, axis=1)], axis=1)[rows, j]
    here, rise = strings.ocv[rows, j], strings.ocv[rows, j + 1] - strings.ocv[rows, j]
    found: Array = strings.coulombs / (g - 1) * (below + part * here + part * part * rise / 2)
    return found


def in_branches(strings: Strings, state: State) -> Array:
    """Return the energy in the capacitances of each string [J], C being time constant over R."""
    factor = np.array([network.cold_factor(strings.cold, t) for t in state.temperature])
    ohms = strings.rc_ohms * factor[:, np.newaxis]
    found: Array = (strings.rc_seconds / ohms * state.rc**2 / 2).sum(axis=1)
    return found


def switches(*changes: tuple[int, int, float, float]) -> Switches:
    """Return switches from (step, string, lead, across), in any order."""
    rows = sorted(changes)
    return Switches(
        step=np.array([row[0] for row in rows], dtype=np.int64),
        string=np.array([row[1] for row in rows], dtype=np.int64),
        lead=np.array([row[2] for row in rows], dtype=float),
        across=np.array([row[3] for row in rows], dtype=float),
    )


def follow(
    strings: Strings,
    state: State,
    orders: ArrayLike,
    seconds: float,
    *,
    power: bool = False,
    limits: Limits | None = None,
    changes: Switches | None = None,
    stops: bool = False,
    every: int = 1,
    ambient: float = 25.0,
) -> Followed:
    """Carry strings through a list of orders; the state given is left as it is.

    Parameters
    ----------
    orders : array, shape (steps,)
        Current [A] or power [W] at the load over each step, positive out of the pack.
    seconds : float
        Length of a step [s].
    power : bool
        The orders are powers.
    limits : Limits, optional
        By default none.
    changes : Switches, optional
        By default none.
    stops : bool
        The run is over at the first step that is cut or whose power is not met, or when a charge
        is. That step is not carried out.
    every : int
        Every so many steps a row is written down.
    ambient : float
        Air around the strings [°C].

    Examples
    --------
    One string of 1 Ah, straight from 3 to 4 V, gives 1 A for half an hour:

    >>> from evpack.kernels.network import Strings, rested
    >>> one = Strings(
    ...     ocv=np.array([[3.0, 4.0]]), ohms=np.full((1, 2), 0.1), cold=np.ones(101),
    ...     lead=np.array([0.0]), coulombs=np.array([3600.0]), rc_ohms=np.empty((1, 0)),
    ...     rc_seconds=np.empty((1, 0)), heat=np.array([40.0]), to_air=np.array([0.0]),
    ...     plus=np.empty(0), minus=np.empty(0), tap_plus=0, tap_minus=0,
    ... )
    >>> half = follow(one, rested(one, 1.0, 25.0), np.ones(30), 60.0)
    >>> round(float(half.state.soc[0]), 9), round(float(half.record.volts[-1]), 9)
    (0.5, 3.4)
    """
    asked = np.ascontiguousarray(orders, dtype=float)
    n, rows = strings.lead.size, asked.size // every
    now = State(*(held.copy() for held in state))
    own = strings._replace(lead=strings.lead.copy())  # switches write into it
    blank = np.full((3, rows, n), np.nan)
    record = Record(
        current=blank[0],
        soc=blank[1],
        temperature=blank[2],
        load=np.full(rows, np.nan),
        volts=np.full(rows, np.nan),
        highest=np.full(n, -np.inf),
        lowest=np.full(n, np.inf),
        highest_at=np.full(n, NEVER),
        lowest_at=np.full(n, NEVER),
    )
    before = stored(own, now.soc), in_branches(own, now)
    bench = network.bench(own, seconds)
    kept, turned = limits or Limits(), changes or switches()
    books = run(own, now, bench, asked, power, kept, turned, stops, every, record, seconds, ambient)
    done = books.steps // every
    given = float((before[0] - stored(own, now.soc)).sum())
    banked = float((in_branches(own, now) - before[1]).sum())
    heat = books.heat_cells + books.heat_leads + books.heat_bars + books.heat_fault
    fallen = float(((state.soc - now.soc) * own.coulombs).sum())
    return Followed(
        time=np.arange(1.0, done + 1) * (every * seconds),
        record=record._replace(
            current=record.current[:done],
            soc=record.soc[:done],
            temperature=record.temperature[:done],
            load=record.load[:done],
            volts=record.volts[:done],
        ),
        books=books,
        state=now,
        charge_residual=fallen - books.through_load - books.through_fault,
        energy_residual=given - banked - heat - books.delivered,
        energy_handled=books.handled + heat,
    )


@compiled
def run(  # noqa: C901, PLR0912, PLR0915  (one loop: calls in pieces cost more than a step)
    strings: Strings,
    state: State,
    room: Bench,
    orders: Array,
    power: bool,  # noqa: FBT001  (compiled functions take no keywords alone)
    limits: Limits,
    changes: Switches,
    stops: bool,  # noqa: FBT001
    every: int,
    record: Record,
    seconds: float,
    ambient: float,
) -> Books:
    """Carry strings through orders, writing into state and record; see `follow`, which calls it."""
    n = strings.lead.size
    across = np.full(n, np.inf)
    own = np.empty((2, n))  # emf and resistance of each string before anything lies across it
    turn = 0
    collapsed = cut = limited = full = NEVER
    unmet = steps = row = 0
    off = False
    delivered = handled = heat_cells = heat_leads = heat_bars = heat_fault = 0.0
    out_of_cells = through_load = through_fault = moved = mesh = 0.0
    for step in range(orders.size):
        while turn < changes.step.size and changes.step[turn] <= step:
            strings.lead[changes.string[turn]] = changes.lead[turn]
            across[changes.string[turn]] = changes.across[turn]
            turn += 1
        volts, ohms = network.prepare(strings, state, room)
        for k in range(n):
            own[0, k], own[1, k] = room.emf[k], room.ohms[k]
        faulty = turn > 0 and np.isfinite(across).any()
        if faulty:
            _lay_across(strings, room, across)
            volts, ohms = network._swept(strings, room)  # noqa: SLF001  (of the same room)
        ohms += limits.cable
        asked = orders[step]
        load = network.for_power(volts, ohms, asked) if power else asked
        if power and asked > 0.0 and load * (volts - ohms * load) < asked * (1.0 - _MET):
            unmet += 1
            collapsed = step if collapsed == NEVER else collapsed
        if abs(load) > limits.most:
            load = limits.most if load > 0.0 else -limits.most
            limited = step if limited == NEVER else limited
        held = load < 0.0 and volts - ohms * load > limits.highest
        if held:
            load = min(0.0, max(load, network.to_voltage(volts, ohms, limits.highest)))
        if asked <= 0.0:
            off = False
        elif off or volts - ohms * load < limits.lowest:
            cut = step if cut == NEVER else cut
            off = True
            load = 0.0
        ended = held and -load <= limits.tail
        if ended and full == NEVER:
            full = step
        if stops and (off or ended or unmet > 0):
            break
        terminal = volts - ohms * load
        # The books of the leads and the bars, while base and share still are those of the leads.
        passed, given = 0.0, 0.0
        bars = load * load * limits.cable
        for k in range(n):
            lead = room.base[k] + room.share[k] * load
            room.current[k] = lead
            given += lead * (room.emf[k] - room.ohms[k] * lead)
            heat_leads += lead * lead * strings.lead[k] * seconds
            if lead > record.highest[k]:
                record.highest[k], record.highest_at[k] = lead, step
            if lead < record.lowest[k]:
                record.lowest[k], record.lowest_at[k] = lead, step
            passed += lead
            if k < n - 1:
                upper = passed - (load if strings.tap_plus <= k else 0.0)
                lower = passed - (load if strings.tap_minus <= k else 0.0)
                bars += upper * upper * strings.plus[k] + lower * lower * strings.minus[k]
        mesh = max(mesh, abs(given - bars - terminal * load))
        heat_bars += bars * seconds
        delivered += terminal * load * seconds
        handled += abs(terminal * load) * seconds
        through_load += load * seconds
        if (step + 1) % every == 0:
            record.load[row], record.volts[row] = load, terminal
            for k in range(n):
                record.current[row, k] = room.current[k]
        if faulty:
            lost, leaked = _as_cells(strings, room, across, own, load)
            heat_fault += lost * seconds
            through_fault += leaked * seconds
        network.advance(strings, state, room, load, seconds, ambient)
        for k in range(n):
            cell = room.current[k]
            series = room.resistance[k] - strings.lead[k]
            lost = cell * cell * series
            for m in range(state.rc.shape[1]):
                lost += state.rc[k, m] ** 2 * room.conducts[k, m] / room.factor[k]
            heat_cells += lost * seconds
            out_of_cells += cell * seconds
            moved += abs(cell) * seconds
        if (step + 1) % every == 0:
            for k in range(n):
                record.soc[row, k] = state.soc[k]
                record.temperature[row, k] = state.temperature[k]
            row += 1
        steps = step + 1
    return Books(
        steps,
        collapsed,
        cut,
        limited,
        full,
        unmet,
        delivered,
        handled,
        heat_cells,
        heat_leads,
        heat_bars,
        heat_fault,
        out_of_cells,
        through_load,
        through_fault,
        moved,
        mesh,
    )


@compiled
def _lay_across(strings: Strings, room: Bench, across: Array) -> None:
    """Make one voltage behind one resistance of a string and what lies across its ends."""
    for k in range(across.size):
        if np.isfinite(across[k]):
            inner = room.ohms[k] - strings.lead[k]
            part = across[k] / (inner + across[k])
            room.emf[k] *= part
            room.ohms[k] = inner * part + strings.lead[k]


@compiled
def _as_cells(
    strings: Strings, room: Bench, across: Array, own: Array, load: float
) -> tuple[float, float]:
    """Turn the currents of leads into those of cells; return power [W] and current [A] lost across.

    With e and r of the cells, x across them and I in the lead: the ends stand at
    u = e x / (r + x) - I r x / (r + x), and the cells give (e - u) / r, which is linear in I.
    """
    lost = leaked = 0.0
    for k in range(across.size):
        if np.isfinite(across[k]):
            inner = own[1, k] - strings.lead[k]
            part = across[k] / (inner + across[k])
            lead = room.base[k] + room.share[k] * load
            ends = own[0, k] * part - lead * inner * part
            lost += ends * ends / across[k]
            leaked += ends / across[k]
            room.base[k] = own[0, k] / (inner + across[k]) + part * room.base[k]
            room.share[k] *= part
    return lost, leaked
