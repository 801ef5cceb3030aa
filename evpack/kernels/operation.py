"""A pack at work: load, sun, utility, chargers, inverters and cell monitoring, step by step.

One compiled loop over `kernels.network`. In each step the sun goes to the load first and to the
pack then, both over the DC bus; every charger has its own voltage, current and end of charge; the
inverters change over, return, cut off and start again; the cell monitoring steps in.

Currents are positive out of the pack. Powers are in W, energies in J. The steps are put in place
by the compiler, so that a tuple made anew in each costs nothing.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from evpack.kernels import network
from evpack.kernels.compiled import compiled
from evpack.kernels.network import COLDEST, Bench, State, Strings
from evpack.kernels.operation_nouns import (
    AIR,
    BATTERY,
    CELSIUS_BINS,
    CELSIUS_WIDE,
    CHEAP,
    HUNTS_WITHIN,
    ISLAND,
    LOAD,
    NOBODY,
    ORDER,
    OUTAGE,
    PRICE,
    ROW_CARRIER,
    ROW_CELSIUS,
    ROW_CHARGING,
    ROW_INVERTER,
    ROW_LOAD,
    ROW_PACK,
    ROW_SOC,
    ROW_SUN,
    ROW_UNSERVED,
    ROW_UNUSED,
    ROW_UTILITY,
    ROW_VOLTS,
    ROW_WIDTH,
    SOC_BINS,
    UTILITY,
    Array,
    Books,
    Carry,
    Cells,
    Chargers,
    Desk,
    Flow,
    Gave,
    Inverters,
    Kept,
    Memory,
    Monitoring,
    Plan,
    Rules,
    Small,
    Strain,
    Whole,
)
from evpack.kernels.operation_steps import (
    YES,
    asked,
    at_charge,
    balance,
    carried,
    closed,
    delivered,
    filled,
    known,
    later,
    mains_on,
    offer,
    set_levels,
    stepped_in,
    watched,
)

_ROUNDS = 3  # in which the chargers' power and the bus voltage agree to about 1e-6
_OPEN = 1e6  # a string on such a lead is open and has no part in the bus [Ω]
_MILD = 15.0  # from which on the cold limits no charge [°C]


@compiled
def run(  # noqa: PLR0915  (a step is called by its name, one after the other)
    strings: Strings,
    state: State,
    room: Bench,
    plan: Plan,
    chargers: Chargers,
    rules: Rules,
    kept: Kept,
    before: Books,
    memory: Memory,
    seconds: float,
    first: int,
    steps: int,
    every: int,
    stop: bool,  # noqa: FBT001  (compiled functions take no keywords alone)
) -> tuple[Books, Memory]:
    """Carry a pack through so many steps, writing into state and `kept`.

    Parameters
    ----------
    before : Books
        `nothing()`, or those of the run that this one goes on from.
    memory : Memory
        `beginning(…)`, or that of the run that this one goes on from, into the same `kept`.
    seconds : float
        Length of a step [s].
    first : int
        Steps from the beginning of the series to the first one.
    steps : int
        How many.
    every : int
        Steps to a row of `kept.rows`.
    stop : bool
        The run is over at the first step in which nobody carries the load.
    """
    series = _begun(plan, first)
    now, desk = series.now, _desk(chargers, memory)
    working, watching, may_charge = rules.inverters, rules.monitoring, rules.may_charge
    lead, most, rows = strings.lead, chargers.current, kept.rows
    tail, begins_anew = _ends(chargers)
    whole = strings.coulombs.sum()
    sums = np.zeros(ROW_WIDTH)
    books, carry, watch, row = before, memory.carry, memory.watch, memory.row
    was_full, since_full, seen, bus = memory.was_full, memory.since_full, memory.seen, memory.bus
    for step in range(steps):
        when = before.steps + step
        if step > 0:
            _move_on(plan, series)
        out = now[OUTAGE] >= YES
        utility = working.mode != ISLAND and not out
        emf, ohms = network.prepare(strings, state, room)
        cells = _cells(strings, state, whole)
        if bus <= 0.0:
            seen = bus = emf

        # Who may do what, and who carries the load.
        place = _place(cells.cold, may_charge.size)
        allowed = min(may_charge[place], may_charge[_place(cells.hot, may_charge.size)])
        watch, may_give, may_take, happened = watched(watching, watch, cells, allowed, seconds)
        carry, more = known(working, carry, out, seen)
        happened |= more
        carry, more = carried(working, carry, utility, may_give, was_full, seen, seconds)
        happened |= more
        if happened != 0:
            _note(kept, when, happened, seen)
        offer(chargers, desk, now, mains_on(working, carry.carrier, utility, now[CHEAP]))
        rounds = _ROUNDS if set_levels(chargers, desk, now[AIR], bus) else 0

        # What flows; anew where an inverter stops or the monitoring opens within the step.
        while True:
            serves, watts = asked(working, carry.carrier, now[LOAD])
            inverter, given, volts, limited, part = balance(
                desk, most, emf, ohms, working.cable, watts, may_take, rounds
            )
            current, seen = inverter - given, volts - working.cable * inverter
            strain = _strain(lead, room, watching, current, volts)
            flow = Flow(serves, watts, inverter, given, current, volts, seen, limited)
            carry, watch, may_take, happened = stepped_in(
                working, watching, flow, strain, carry, watch, may_take, utility
            )
            if happened == 0:
                break
            _note(kept, when, happened, seen)
        watch = closed(watching, watch, strain)
        if stop and carry.carrier == NOBODY:
            break

        # What came of it.
        network.advance(strings, state, room, current, seconds, now[AIR])
        gave = delivered(chargers, desk, now, volts, part)
        was_full, since_full, happened = filled(
            at_charge(chargers, desk) and not limited and 0.0 <= -current <= tail,
            bus < begins_anew,
            was_full,
            since_full,
            seconds,
        )
        if happened != 0:
            _note(kept, when, happened, seen)
        bus = volts
        carry = later(carry, given, seconds)
        in_the_cold = limited and place < _MILD - COLDEST
        heat = _lost(strings, state, room, current)
        books = _entered(
            books,
            working,
            now[LOAD],
            now[PRICE],
            cells,
            flow,
            strain,
            gave,
            carry,
            heat,
            since_full,
            in_the_cold,
            seconds,
        )
        _counted(kept, cells, seconds)
        _added(sums, now[LOAD], flow, gave, carry.carrier)
        if (step + 1) % every == 0 and row < rows.shape[0]:
            _written(rows, row, sums, every, strings, state, seen, carry.carrier)
            row += 1
    events = min(kept.counts.sum(), kept.event_step.size)
    memory = Memory(
        events, row, carry, watch, was_full, since_full, seen, bus, desk.resting, desk.dark
    )
    return books, memory


class _Series(NamedTuple):
    """Where each series of a plan stands: its place, the steps left of it, its value."""

    at: Whole
    left: Whole
    now: Array


@compiled
def _begun(plan: Plan, first: int) -> _Series:
    """Return where the series of a plan stand after so many steps."""
    n = plan.begin.size
    at, left, now = np.empty(n, np.int64), np.empty(n, np.int64), np.empty(n)
    for j in range(n):
        place = first // plan.hold[j]
        at[j] = place % plan.size[j]
        left[j] = plan.hold[j] - (first - place * plan.hold[j])
        now[j] = plan.flat[plan.begin[j] + at[j]]
    return _Series(at, left, now)


@compiled
def _move_on(plan: Plan, series: _Series) -> None:
    """Move every series on by a step."""
    at, left, now = series.at, series.left, series.now
    for j in range(plan.begin.size):
        left[j] -= 1
        if left[j] == 0:
            left[j] = plan.hold[j]
            at[j] = at[j] + 1 if at[j] + 1 < plan.size[j] else 0
            now[j] = plan.flat[plan.begin[j] + at[j]]


@compiled
def _desk(chargers: Chargers, memory: Memory) -> Desk:
    """Return room for the chargers."""
    m = chargers.absorb.size
    offers, level, out, held = np.zeros(m), np.zeros(m), np.zeros(m), np.zeros(m, np.int64)
    return Desk(offers, level, out, held, memory.resting, memory.dark)


@compiled
def _ends(chargers: Chargers) -> tuple[float, float]:
    """Return the current at which all charges are over [A], and below what one begins anew [V]."""
    tail, begins_anew = 0.0, np.inf
    for c in range(chargers.ending.size):
        tail += chargers.ending[c]
        begins_anew = min(begins_anew, chargers.again[c])
    return tail, begins_anew


@compiled
def _place(celsius: float, size: int) -> int:
    """Return where a temperature stands in a table from the coldest on, an entry each kelvin."""
    return min(max(int(np.floor(celsius - COLDEST)), 0), size - 1)


@compiled
def _cells(strings: Strings, state: State, whole: float) -> Cells:
    """Return how cold, hot and full the strings are."""
    n = strings.lead.size
    cold, hot, soc, celsius = state.temperature[0], state.temperature[0], 0.0, 0.0
    for k in range(n):
        cold, hot = min(cold, state.temperature[k]), max(hot, state.temperature[k])
        soc += state.soc[k] * strings.coulombs[k]
        celsius += state.temperature[k]
    return Cells(cold, hot, soc / whole, celsius / n)


@compiled
def _strain(lead: Array, room: Bench, rules: Monitoring, current: float, volts: float) -> Strain:
    """Return what cells and strings bear."""
    per_cell = 1.0 / rules.cells
    top, bottom, strongest, fed = -np.inf, np.inf, 0.0, 0.0
    for k in range(lead.size):
        own = room.base[k] + room.share[k] * current
        cell = (volts + own * lead[k]) * per_cell
        if lead[k] < _OPEN:
            top, bottom = max(top, cell + rules.spread), min(bottom, cell - rules.below)
        strongest, fed = max(strongest, own), max(fed, -own)
    return Strain(top, bottom, strongest, fed)


# --- The books ---------------------------------------------------------------------------------


@compiled
def _lost(strings: Strings, state: State, room: Bench, current: float) -> float:
    """Return what bars, leads and strings turned to heat in a step [W]."""
    n = strings.lead.size
    heat, passed = 0.0, 0.0
    for k in range(n - 1):
        passed += room.base[k] + room.share[k] * current
        upper = passed - (current if strings.tap_plus <= k else 0.0)
        lower = passed - (current if strings.tap_minus <= k else 0.0)
        heat += upper * upper * strings.plus[k] + lower * lower * strings.minus[k]
    for k in range(n):
        heat += room.current[k] * room.current[k] * room.resistance[k]
        in_branches = 0.0
        for b in range(state.rc.shape[1]):
            in_branches += state.rc[k, b] * state.rc[k, b] * room.conducts[k, b]
        heat += in_branches / room.factor[k]
    return heat


@compiled
def _entered(
    books: Books,
    rules: Inverters,
    asked: float,
    price: float,
    cells: Cells,
    flow: Flow,
    strain: Strain,
    gave: Gave,
    carry: Carry,
    heat: float,
    since_full: float,
    cold_limited: bool,  # noqa: FBT001
    seconds: float,
) -> Books:
    """Return the books with a step entered."""
    at_work, on_utility = carry.carrier == BATTERY, carry.carrier == UTILITY
    carried = asked if on_utility else 0.0
    unserved = 0.0 if on_utility else asked - flow.serves
    taken = gave.mains + (asked + rules.idle if on_utility else 0.0)
    drawn = flow.inverter * flow.seen if at_work else flow.watts
    direct = 0.0
    if at_work and drawn > 0.0:
        direct = flow.serves * min(1.0, gave.from_sun / (flow.inverter * flow.volts)) * seconds
    pack = flow.volts * flow.current
    dark = seconds if unserved > 0.0 else 0.0
    too_much = seconds if at_work and asked > rules.most else 0.0
    in_the_cold = seconds if cold_limited else 0.0
    charged_at = flow.volts if flow.given > 0.0 else -np.inf
    charged_cold = cells.cold if flow.current < 0.0 else np.inf
    rise = flow.seen - carry.go_volts if carry.since_go <= HUNTS_WITHIN else -np.inf
    return Books(
        steps=books.steps + 1,
        load=books.load + asked * seconds,
        inverter=books.inverter + flow.serves * seconds,
        direct=books.direct + direct,
        by_utility=books.by_utility + carried * seconds,
        unserved=books.unserved + unserved * seconds,
        unserved_time=books.unserved_time + dark,
        utility=books.utility + taken * seconds,
        charging=books.charging + gave.mains * seconds,
        sun=books.sun + gave.sun * seconds,
        unused=books.unused + gave.unused * seconds,
        into_bus=books.into_bus + gave.put * seconds,
        inverter_dc=books.inverter_dc + drawn * seconds,
        cable_heat=books.cable_heat + flow.inverter * flow.inverter * rules.cable * seconds,
        pack_out=books.pack_out + max(pack, 0.0) * seconds,
        pack_in=books.pack_in + max(-pack, 0.0) * seconds,
        heat=books.heat + heat * seconds,
        charge_net=books.charge_net + flow.current * seconds,
        charge_out=books.charge_out + max(flow.current, 0.0) * seconds,
        cost=books.cost + taken * price * seconds,
        cost_all=books.cost_all + asked * price * seconds,
        highest_cell=max(books.highest_cell, strain.top),
        lowest_cell=min(books.lowest_cell, strain.bottom),
        highest_volts=max(books.highest_volts, charged_at),
        coldest_charging=min(books.coldest_charging, charged_cold),
        most_out=max(books.most_out, strain.strongest),
        most_in=max(books.most_in, strain.fed),
        coldest=min(books.coldest, cells.cold),
        hottest=max(books.hottest, cells.hot),
        cold_limited=books.cold_limited + in_the_cold,
        longest_not_full=max(books.longest_not_full, since_full),
        rise=max(books.rise, rise),
        overloaded=books.overloaded + too_much,
    )


@compiled
def _counted(kept: Kept, cells: Cells, seconds: float) -> None:
    """Count the time at a state of charge and at a temperature."""
    charge = min(max(int(cells.soc * SOC_BINS), 0), SOC_BINS - 1)
    kept.soc_seconds[charge] += seconds
    warmth = min(max(int((cells.celsius - COLDEST) / CELSIUS_WIDE), 0), CELSIUS_BINS - 1)
    kept.celsius_seconds[warmth] += seconds


@compiled
def _added(sums: Array, asked: float, flow: Flow, gave: Gave, carrier: int) -> None:
    """Add a step to the sums of a row."""
    sums[ROW_LOAD] += asked
    sums[ROW_INVERTER] += flow.serves
    sums[ROW_UTILITY] += asked if carrier == UTILITY else 0.0
    sums[ROW_UNSERVED] += 0.0 if carrier == UTILITY else asked - flow.serves
    sums[ROW_SUN] += gave.sun
    sums[ROW_UNUSED] += gave.unused
    sums[ROW_CHARGING] += gave.mains
    sums[ROW_PACK] += flow.volts * flow.current


@compiled
def _written(
    rows: Small,
    row: int,
    sums: Array,
    every: int,
    strings: Strings,
    state: State,
    seen: float,
    carrier: int,
) -> None:
    """Write the means over the steps of a row and what stands at its end."""
    for j in range(ROW_SOC):
        rows[row, j] = sums[j] / every
        sums[j] = 0.0
    n = strings.lead.size
    charge = warmth = 0.0
    for k in range(n):
        charge += state.soc[k] * strings.coulombs[k]
        warmth += state.temperature[k]
    rows[row, ROW_SOC] = charge / strings.coulombs.sum()
    rows[row, ROW_VOLTS] = seen
    rows[row, ROW_CELSIUS] = warmth / n
    rows[row, ROW_CARRIER] = carrier


@compiled
def _note(kept: Kept, step: int, happened: int, volts: float) -> None:
    """Count what happened, a bit for each kind, and write it down where there is room."""
    for kind in ORDER:
        if happened >> kind & 1:
            at = kept.counts.sum()
            kept.counts[kind] += 1
            if at < kept.event_step.size:
                kept.event_step[at], kept.event_kind[at], kept.event_volts[at] = step, kind, volts
