"""A pack at work: load, sun, utility, chargers, inverters and cell monitoring, step by step.

One compiled loop over `kernels.network`. In each step the sun goes to the load first and to the
pack then, both over the DC bus; every charger has its own voltage, current and end of charge; the
inverters change over, return, cut off and start again; the cell monitoring steps in.

Currents are positive out of the pack. Powers are in W, energies in J.
"""

from __future__ import annotations

import numpy as np

from evpack.kernels import network
from evpack.kernels.compiled import compiled
from evpack.kernels.network import COLDEST, Bench, State, Strings
from evpack.kernels.operation_nouns import (
    AIR,
    BATTERY,
    BATTERY_FIRST,
    CELSIUS_BINS,
    CELSIUS_WIDE,
    CHEAP,
    CHEAP_HOURS,
    CUT_OFF,
    FULL,
    HIGH_CELL,
    HUNT,
    HUNTS_WITHIN,
    ISLAND,
    KINDS,
    LOAD,
    LOCKED,
    LOW_CELL,
    NEVER,
    NOBODY,
    OUTAGE,
    OUTAGE_BEGINS,
    OUTAGE_ENDS,
    OVER_IN,
    OVER_OUT,
    PRICE,
    RESTART,
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
    SUN,
    TO_BATTERY,
    TO_UTILITY,
    TOO_COLD,
    TOO_HOT,
    UTILITY,
    UTILITY_FIRST,
    WITH_UTILITY,
    Books,
    Chargers,
    Kept,
    Memory,
    Plan,
    Rules,
    beginning,
    nothing,
)

__all__ = [
    "AIR",
    "BATTERY",
    "BATTERY_FIRST",
    "CELSIUS_BINS",
    "CELSIUS_WIDE",
    "CHEAP",
    "CHEAP_HOURS",
    "CUT_OFF",
    "FULL",
    "HIGH_CELL",
    "HUNT",
    "HUNTS_WITHIN",
    "ISLAND",
    "KINDS",
    "LOAD",
    "LOCKED",
    "LOW_CELL",
    "NEVER",
    "NOBODY",
    "OUTAGE",
    "OUTAGE_BEGINS",
    "OUTAGE_ENDS",
    "OVER_IN",
    "OVER_OUT",
    "PRICE",
    "RESTART",
    "ROW_CARRIER",
    "ROW_CELSIUS",
    "ROW_CHARGING",
    "ROW_INVERTER",
    "ROW_LOAD",
    "ROW_PACK",
    "ROW_SOC",
    "ROW_SUN",
    "ROW_UNSERVED",
    "ROW_UNUSED",
    "ROW_UTILITY",
    "ROW_VOLTS",
    "ROW_WIDTH",
    "SOC_BINS",
    "SUN",
    "TOO_COLD",
    "TOO_HOT",
    "TO_BATTERY",
    "TO_UTILITY",
    "UTILITY",
    "UTILITY_FIRST",
    "WITH_UTILITY",
    "Books",
    "Chargers",
    "Kept",
    "Memory",
    "Plan",
    "Rules",
    "beginning",
    "nothing",
    "run",
]

_ROUNDS = 3  # in which the chargers' power and the bus voltage agree to about 1e-6
_SLACK = 1e-9  # volts that are no breach


@compiled
def run(  # noqa: C901, PLR0912, PLR0915  (one loop: calls in pieces cost more than a step)
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
        `beginning(…)`, or that of the run that this one goes on from.
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
    n, m = strings.lead.size, chargers.absorb.size
    series = plan.begin.size
    at, left, now = np.empty(series, np.int64), np.empty(series, np.int64), np.empty(series)
    for j in range(series):
        place = first // plan.hold[j]
        at[j] = place % plan.size[j]
        left[j] = plan.hold[j] - (first - place * plan.hold[j])
        now[j] = plan.flat[plan.begin[j] + at[j]]
    out, offers, level = np.zeros(m), np.zeros(m), np.zeros(m)
    held = np.zeros(m, np.int64)
    resting, dark = memory.resting, memory.dark
    sums = np.zeros(ROW_WIDTH)
    tail, begins_anew = 0.0, np.inf
    for c in range(m):
        tail += chargers.ending[c]
        begins_anew = min(begins_anew, chargers.again[c])
    whole = strings.coulombs.sum()
    per_cell, per_efficiency = 1.0 / rules.cells, 1.0 / rules.efficiency
    done = 0
    carrier = memory.carrier
    events = memory.events
    row = memory.row
    stopped = memory.stopped
    shut_high = memory.shut_high
    shut_low = memory.shut_low
    was_cold = memory.was_cold
    was_hot = memory.was_hot
    was_out = memory.was_out
    was_full = memory.was_full
    lock_out = memory.lock_out
    lock_in = memory.lock_in
    low_for = memory.low_for
    high_for = memory.high_for
    since_return = memory.since_return
    since_full = memory.since_full
    since_go = memory.since_go
    go_volts = memory.go_volts
    seen = memory.seen
    bus = memory.bus
    load_sum = before.load
    inverter_sum = before.inverter
    direct_sum = before.direct
    by_utility = before.by_utility
    unserved_sum = before.unserved
    unserved_time = before.unserved_time
    utility_sum = before.utility
    charging_sum = before.charging
    sun_sum = before.sun
    unused_sum = before.unused
    into_bus = before.into_bus
    inverter_dc = before.inverter_dc
    cable_heat = before.cable_heat
    pack_out = before.pack_out
    pack_in = before.pack_in
    heat = before.heat
    charge_net = before.charge_net
    charge_out = before.charge_out
    cost = before.cost
    cost_all = before.cost_all
    highest_cell = before.highest_cell
    lowest_cell = before.lowest_cell
    highest_volts = before.highest_volts
    coldest_charging = before.coldest_charging
    most_out = before.most_out
    most_in = before.most_in
    coldest = before.coldest
    hottest = before.hottest
    cold_limited = before.cold_limited
    longest_not_full = before.longest_not_full
    rise = before.rise
    overloaded = before.overloaded
    for step in range(steps):
        if step > 0:
            for j in range(series):
                left[j] -= 1
                if left[j] == 0:
                    left[j] = plan.hold[j]
                    at[j] = at[j] + 1 if at[j] + 1 < plan.size[j] else 0
                    now[j] = plan.flat[plan.begin[j] + at[j]]
        asked, air = now[LOAD], now[AIR]
        utility = rules.mode != ISLAND and now[OUTAGE] < 0.5  # noqa: PLR2004
        emf, ohms = network.prepare(strings, state, room)
        cold, hot, mean_soc, mean_celsius = state.temperature[0], state.temperature[0], 0.0, 0.0
        for k in range(n):
            cold, hot = min(cold, state.temperature[k]), max(hot, state.temperature[k])
            mean_soc += state.soc[k] * strings.coulombs[k]
            mean_celsius += state.temperature[k]
        mean_soc /= whole
        mean_celsius /= n
        if bus <= 0.0:
            seen = bus = emf

        # What the monitoring lets through.
        lock_out, lock_in = lock_out - seconds, lock_in - seconds
        too_cold, too_hot = cold < rules.coldest, hot > rules.hottest
        if too_cold and not was_cold:
            events = _note(kept, events, before.steps + step, TOO_COLD, seen)
        if too_hot and not was_hot:
            events = _note(kept, events, before.steps + step, TOO_HOT, seen)
        was_cold, was_hot = too_cold, too_hot
        may_give = not (shut_low or too_cold or too_hot or lock_out > 0.0)
        place = min(max(int(np.floor(cold - COLDEST)), 0), rules.may_charge.size - 1)
        warm = min(max(int(np.floor(hot - COLDEST)), 0), rules.may_charge.size - 1)
        allowed = min(rules.may_charge[place], rules.may_charge[warm])
        may_take = 0.0 if shut_high or lock_in > 0.0 else allowed

        # Who carries the load, by the voltage that the inverters saw last.
        if stopped and seen >= rules.restart:
            stopped, since_return = False, 0.0
            events = _note(kept, events, before.steps + step, RESTART, seen)
        if now[OUTAGE] >= 0.5 and not was_out:  # noqa: PLR2004
            events = _note(kept, events, before.steps + step, OUTAGE_BEGINS, seen)
        if now[OUTAGE] < 0.5 and was_out:  # noqa: PLR2004
            events = _note(kept, events, before.steps + step, OUTAGE_ENDS, seen)
        was_out = now[OUTAGE] >= 0.5  # noqa: PLR2004
        ready = may_give and not stopped
        if utility and rules.mode == UTILITY_FIRST:
            carrier = UTILITY
        elif not utility:
            carrier = BATTERY if ready else NOBODY
        elif carrier == NOBODY:
            carrier = UTILITY
        elif carrier == BATTERY:
            low_for = low_for + seconds if seen < rules.go else 0.0
            if low_for > 0.0 and low_for >= rules.go_delay:
                carrier, low_for, high_for = UTILITY, 0.0, 0.0
                events = _note(kept, events, before.steps + step, TO_UTILITY, seen)
                since_go, go_volts = 0.0, seen
                if since_return <= HUNTS_WITHIN:
                    events = _note(kept, events, before.steps + step, HUNT, seen)
            elif not ready:
                carrier = UTILITY
        else:
            high_for = high_for + seconds if seen >= rules.back else 0.0
            full_now = rules.back == np.inf and was_full
            if ready and ((high_for > 0.0 and high_for >= rules.back_delay) or full_now):
                carrier, low_for, high_for = BATTERY, 0.0, 0.0
                events = _note(kept, events, before.steps + step, TO_BATTERY, seen)
                since_return = 0.0

        # What each charger offers: its power [W], and the voltage that it holds.
        offered = False
        for c in range(m):
            sun = now[SUN + c]
            if chargers.mains[c] == 1:
                on = utility and (
                    (rules.charging == WITH_UTILITY and carrier == UTILITY)
                    or (rules.charging == CHEAP_HOURS and now[CHEAP] >= 0.5)  # noqa: PLR2004
                )
                offers[c] = np.inf if on else 0.0
            else:
                on = sun > 0.0
                offers[c] = sun * chargers.efficiency[c]
                if on and dark[c] == 1:  # a new day is a new charge
                    resting[c] = 0
                dark[c] = 0 if on else 1
            if bus < chargers.again[c]:
                resting[c] = 0
            colder = max(0.0, chargers.reference[c] - air)
            level[c] = chargers.absorb[c] + chargers.per_kelvin[c] * colder
            if resting[c] == 1:
                level[c] = chargers.hold[c]
                if chargers.hold[c] <= 0.0:
                    offers[c] = 0.0
            offered = offered or offers[c] > 0.0
            out[c] = 0.0

        # The step itself; again where an inverter stops or the monitoring opens within it.
        while True:
            for c in range(m):
                held[c] = 0
            serves = min(asked, rules.most) if carrier == BATTERY else 0.0
            watts = serves * per_efficiency + rules.idle if carrier == BATTERY else 0.0
            given = 0.0
            inverter, volts = _bus(emf, ohms, rules.cable, watts, given)
            volts = max(volts, 1.0)
            for _ in range(_ROUNDS if offered else 0):
                given = 0.0
                for c in range(m):
                    out[c] = min(offers[c] / volts, chargers.current[c])
                    given += out[c]
                inverter, volts = _bus(emf, ohms, rules.cable, watts, given)
                volts = max(volts, 1.0)
            # A charger whose voltage is passed holds it, or gives nothing where others pass it.
            for _ in range(m if offered else 0):
                lowest = -1
                for c in range(m):
                    giving = held[c] == 0 and out[c] > 0.0
                    if giving and (lowest < 0 or level[c] < level[lowest]):
                        lowest = c
                if lowest < 0 or volts <= level[lowest] + _SLACK:
                    break
                held[lowest] = 1
                others = given - out[lowest]
                drawn, without = _bus(emf, ohms, rules.cable, watts, others)
                if without >= level[lowest]:
                    inverter, volts, given, out[lowest] = drawn, without, others, 0.0
                    continue
                volts = level[lowest]
                inverter = network.for_power(volts, rules.cable, watts) if watts > 0.0 else 0.0
                given = inverter - (emf - volts) / ohms
                out[lowest] = max(0.0, given - others)
                break
            limited = False
            if given - inverter > may_take:
                limited = True
                volts = emf + ohms * may_take
                inverter = network.for_power(volts, rules.cable, watts) if watts > 0.0 else 0.0
                wanted = inverter + may_take
                for c in range(m):
                    out[c] *= wanted / given
                given = wanted
            current = inverter - given
            seen = volts - rules.cable * inverter
            if carrier == BATTERY and seen < rules.cut:
                stopped = True
                events = _note(kept, events, before.steps + step, CUT_OFF, seen)
                if since_return <= HUNTS_WITHIN:
                    events = _note(kept, events, before.steps + step, HUNT, seen)
                carrier = UTILITY if utility else NOBODY
                continue
            top, bottom, strongest, fed = -np.inf, np.inf, 0.0, 0.0
            for k in range(n):
                own = room.base[k] + room.share[k] * current
                cell = (volts + own * strings.lead[k]) * per_cell
                if strings.lead[k] < 1e6:  # noqa: PLR2004  a string that is open has no part in it
                    top, bottom = max(top, cell + rules.spread), min(bottom, cell - rules.below)
                strongest, fed = max(strongest, own), max(fed, -own)
            again = False
            if top > rules.high and given > 0.0 and may_take > 0.0:
                shut_high, lock_in, may_take, again = True, LOCKED, 0.0, True
                events = _note(kept, events, before.steps + step, HIGH_CELL, seen)
            elif fed > rules.over_in and given > inverter and may_take > 0.0:
                lock_in, may_take, again = LOCKED, 0.0, True
                events = _note(kept, events, before.steps + step, OVER_IN, seen)
            if carrier == BATTERY:
                tripped = True
                if bottom < rules.low:
                    shut_low, lock_out = True, LOCKED
                    events = _note(kept, events, before.steps + step, LOW_CELL, seen)
                elif strongest > rules.over_out and inverter > given:
                    lock_out = LOCKED
                    events = _note(kept, events, before.steps + step, OVER_OUT, seen)
                else:
                    tripped = False
                if tripped:
                    carrier, again = UTILITY if utility else NOBODY, True
            if not again:
                break
        shut_high = shut_high and top > rules.high_clear
        shut_low = shut_low and bottom < rules.low_clear
        if stop and carrier == NOBODY:
            break

        # The books, before the strings move on.
        bars, passed = 0.0, 0.0
        for k in range(n - 1):
            passed += room.base[k] + room.share[k] * current
            upper = passed - (current if strings.tap_plus <= k else 0.0)
            lower = passed - (current if strings.tap_minus <= k else 0.0)
            bars += upper * upper * strings.plus[k] + lower * lower * strings.minus[k]
        network.advance(strings, state, room, current, seconds, air)
        lost = bars
        for k in range(n):
            lost += room.current[k] * room.current[k] * room.resistance[k]
            in_branches = 0.0
            for b in range(state.rc.shape[1]):
                in_branches += state.rc[k, b] * state.rc[k, b] * room.conducts[k, b]
            lost += in_branches / room.factor[k]
        sun_power = unused = mains = put = from_sun = 0.0
        for c in range(m):
            power = out[c] * volts
            put += power
            if chargers.mains[c] == 1:
                mains += power / chargers.efficiency[c]
            else:
                used = power / chargers.efficiency[c]
                from_sun += power
                sun_power += used
                unused += max(0.0, now[SUN + c] - used)
            if held[c] == 1 and resting[c] == 0 and out[c] <= chargers.ending[c]:
                resting[c] = 1
        # Full: held at the voltage of a charge, and hardly any current left into the pack.
        fading = False
        for c in range(m):
            if held[c] == 1 and level[c] >= chargers.absorb[c] and not limited:
                fading = True
        if fading and 0.0 <= -current <= tail:
            if not was_full:
                events = _note(kept, events, before.steps + step, FULL, seen)
            was_full, since_full = True, 0.0
        else:
            if bus < begins_anew:
                was_full = False
            since_full = 0.0 if was_full else since_full + seconds
            longest_not_full = max(longest_not_full, since_full)
        bus = volts
        since_return += seconds
        since_go = since_go + seconds if carrier == UTILITY and given <= 0.0 else np.inf
        if since_go <= HUNTS_WITHIN:
            rise = max(rise, seen - go_volts)
        drawn_dc = watts
        if carrier == BATTERY:
            drawn_dc = inverter * seen
        unserved = asked - serves if carrier != UTILITY else 0.0
        carried = asked if carrier == UTILITY else 0.0
        taken = mains + (asked + rules.idle if carrier == UTILITY else 0.0)
        if carrier == BATTERY and drawn_dc > 0.0:
            direct_sum += serves * min(1.0, from_sun / (inverter * volts)) * seconds
        pack = volts * current
        load_sum += asked * seconds
        inverter_sum += serves * seconds
        by_utility += carried * seconds
        unserved_sum += unserved * seconds
        unserved_time += seconds if unserved > 0.0 else 0.0
        overloaded += seconds if carrier == BATTERY and asked > rules.most else 0.0
        utility_sum += taken * seconds
        charging_sum += mains * seconds
        sun_sum += sun_power * seconds
        unused_sum += unused * seconds
        into_bus += put * seconds
        inverter_dc += drawn_dc * seconds
        cable_heat += inverter * inverter * rules.cable * seconds
        pack_out += max(pack, 0.0) * seconds
        pack_in += max(-pack, 0.0) * seconds
        heat += lost * seconds
        charge_net += current * seconds
        charge_out += max(current, 0.0) * seconds
        cost += taken * now[PRICE] * seconds
        cost_all += asked * now[PRICE] * seconds
        highest_cell, lowest_cell = max(highest_cell, top), min(lowest_cell, bottom)
        if given > 0.0:
            highest_volts = max(highest_volts, volts)
        if current < 0.0:
            coldest_charging = min(coldest_charging, cold)
        most_out, most_in = max(most_out, strongest), max(most_in, fed)
        coldest, hottest = min(coldest, cold), max(hottest, hot)
        if limited and place < 15 - COLDEST:
            cold_limited += seconds
        soc_bin = min(max(int(mean_soc * SOC_BINS), 0), SOC_BINS - 1)
        kept.soc_seconds[soc_bin] += seconds
        bin_of = min(max(int((mean_celsius - COLDEST) / CELSIUS_WIDE), 0), CELSIUS_BINS - 1)
        kept.celsius_seconds[bin_of] += seconds
        sums[ROW_LOAD] += asked
        sums[ROW_INVERTER] += serves
        sums[ROW_UTILITY] += carried
        sums[ROW_UNSERVED] += unserved
        sums[ROW_SUN] += sun_power
        sums[ROW_UNUSED] += unused
        sums[ROW_CHARGING] += mains
        sums[ROW_PACK] += pack
        done = step + 1
        if done % every == 0 and row < kept.rows.shape[0]:
            for j in range(ROW_SOC):
                kept.rows[row, j] = sums[j] / every
                sums[j] = 0.0
            after = warmth = 0.0
            for k in range(n):
                after += state.soc[k] * strings.coulombs[k]
                warmth += state.temperature[k]
            kept.rows[row, ROW_SOC] = after / whole
            kept.rows[row, ROW_VOLTS] = seen
            kept.rows[row, ROW_CELSIUS] = warmth / n
            kept.rows[row, ROW_CARRIER] = carrier
            row += 1
    books = Books(
        before.steps + done,
        load_sum,
        inverter_sum,
        direct_sum,
        by_utility,
        unserved_sum,
        unserved_time,
        utility_sum,
        charging_sum,
        sun_sum,
        unused_sum,
        into_bus,
        inverter_dc,
        cable_heat,
        pack_out,
        pack_in,
        heat,
        charge_net,
        charge_out,
        cost,
        cost_all,
        highest_cell,
        lowest_cell,
        highest_volts,
        coldest_charging,
        most_out,
        most_in,
        coldest,
        hottest,
        cold_limited,
        longest_not_full,
        rise,
        overloaded,
    )
    memory = Memory(
        carrier,
        events,
        row,
        stopped,
        shut_high,
        shut_low,
        was_cold,
        was_hot,
        was_out,
        was_full,
        lock_out,
        lock_in,
        low_for,
        high_for,
        since_return,
        since_full,
        since_go,
        go_volts,
        seen,
        bus,
        resting,
        dark,
    )
    return books, memory


@compiled
def _bus(emf: float, ohms: float, cable: float, watts: float, given: float) -> tuple[float, float]:
    """Return the inverters' current [A] and the bus voltage [V], the chargers giving a current."""
    raised = emf + ohms * given
    inverter = network.for_power(raised, ohms + cable, watts) if watts > 0.0 else 0.0
    return inverter, raised - ohms * inverter


@compiled
def _note(kept: Kept, events: int, step: int, kind: int, volts: float) -> int:
    """Count an event, write it down where there is room, and return how many are written."""
    kept.counts[kind] += 1
    if events >= kept.event_step.size:
        return events
    kept.event_step[events], kept.event_kind[events], kept.event_volts[events] = step, kind, volts
    return events + 1
