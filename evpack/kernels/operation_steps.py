"""What chargers, inverters and cell monitoring do in a step of a pack at work.

What decides takes plain numbers, and says what happened as a set of events, a bit for each kind.
What takes arrays has neither branches around calls nor two ways out: there the compiler would
count references, which costs more than the step.
"""

from __future__ import annotations

import numpy as np

from evpack.kernels import network
from evpack.kernels.compiled import compiled
from evpack.kernels.operation_nouns import (
    BATTERY,
    CHEAP_HOURS,
    CUT_OFF,
    FULL,
    HIGH_CELL,
    HUNT,
    HUNTS_WITHIN,
    LOCKED,
    LOW_CELL,
    NOBODY,
    OUTAGE_BEGINS,
    OUTAGE_ENDS,
    OVER_IN,
    OVER_OUT,
    RESTART,
    SUN,
    TO_BATTERY,
    TO_UTILITY,
    TOO_COLD,
    TOO_HOT,
    UTILITY,
    UTILITY_FIRST,
    WITH_UTILITY,
    Array,
    Carry,
    Cells,
    Chargers,
    Desk,
    Flow,
    Gave,
    Inverters,
    Monitoring,
    Strain,
    Watch,
)

_SLACK = 1e-9  # volts that are no breach
YES = 0.5  # from which on a series of yes and no says yes


@compiled
def watched(
    rules: Monitoring, watch: Watch, cells: Cells, allowed: float, seconds: float
) -> tuple[Watch, bool, float, int]:
    """Return the monitoring, whether the pack may give, the most it may take; what happened."""
    lock_out, lock_in = watch.lock_out - seconds, watch.lock_in - seconds
    cold, hot = cells.cold < rules.coldest, cells.hot > rules.hottest
    happened = 0
    if cold and not watch.was_cold:
        happened |= 1 << TOO_COLD
    if hot and not watch.was_hot:
        happened |= 1 << TOO_HOT
    may_give = not (watch.shut_low or cold or hot or lock_out > 0.0)
    may_take = 0.0 if watch.shut_high or lock_in > 0.0 else allowed
    watch = Watch(watch.shut_high, watch.shut_low, cold, hot, lock_out, lock_in)
    return watch, may_give, may_take, happened


@compiled
def known(
    rules: Inverters,
    carry: Carry,
    out: bool,  # noqa: FBT001
    seen: float,
) -> tuple[Carry, int]:
    """Return the inverters by what they see (the voltage back, the utility out); what happened."""
    stopped, since, happened = carry.stopped, carry.since_return, 0
    if stopped and seen >= rules.restart:
        stopped, since, happened = False, 0.0, happened | 1 << RESTART
    if out and not carry.was_out:
        happened |= 1 << OUTAGE_BEGINS
    if carry.was_out and not out:
        happened |= 1 << OUTAGE_ENDS
    low_for, high_for, since_go, volts = _timers(carry)
    return Carry(carry.carrier, stopped, out, low_for, high_for, since, since_go, volts), happened


@compiled
def carried(
    rules: Inverters,
    carry: Carry,
    utility: bool,  # noqa: FBT001
    may_give: bool,  # noqa: FBT001
    was_full: bool,  # noqa: FBT001
    seen: float,
    seconds: float,
) -> tuple[Carry, int]:
    """Return who carries the load, by the voltage that the inverters saw last; what happened."""
    carrier, since, happened = carry.carrier, carry.since_return, 0
    low_for, high_for, since_go, go_volts = _timers(carry)
    ready = may_give and not carry.stopped
    if utility and rules.mode == UTILITY_FIRST:
        carrier = UTILITY
    elif not utility:
        carrier = BATTERY if ready else NOBODY
    elif carrier == NOBODY:
        carrier = UTILITY
    elif carrier == BATTERY:
        low_for = low_for + seconds if seen < rules.go else 0.0
        if low_for > 0.0 and low_for >= rules.go_delay:
            carrier, low_for, high_for, since_go, go_volts = UTILITY, 0.0, 0.0, 0.0, seen
            happened = 1 << TO_UTILITY | _hunting(since)
        elif not ready:
            carrier = UTILITY
    else:
        high_for = high_for + seconds if seen >= rules.back else 0.0
        full_now = rules.back == np.inf and was_full
        if ready and ((high_for > 0.0 and high_for >= rules.back_delay) or full_now):
            carrier, low_for, high_for, since = BATTERY, 0.0, 0.0, 0.0
            happened = 1 << TO_BATTERY
    stopped, was_out = carry.stopped, carry.was_out
    carry = Carry(carrier, stopped, was_out, low_for, high_for, since, since_go, go_volts)
    return carry, happened


@compiled
def _timers(carry: Carry) -> tuple[float, float, float, float]:
    """Return what most steps leave as it is."""
    return carry.low_for, carry.high_for, carry.since_go, carry.go_volts


@compiled
def _hunting(since_return: float) -> int:
    """Return that the inverters hunt, if the battery carried again only a while ago."""
    return 1 << HUNT if since_return <= HUNTS_WITHIN else 0


@compiled
def stepped_in(
    inverters: Inverters,
    rules: Monitoring,
    flow: Flow,
    strain: Strain,
    carry: Carry,
    watch: Watch,
    may_take: float,
    utility: bool,  # noqa: FBT001
) -> tuple[Carry, Watch, float, int]:
    """Return what inverters and monitoring do about a flow; and what happened, if it cannot be."""
    carrier, stopped, happened = carry.carrier, carry.stopped, 0
    shut_high, shut_low = watch.shut_high, watch.shut_low
    lock_out, lock_in = watch.lock_out, watch.lock_in
    otherwise = UTILITY if utility else NOBODY
    if carrier == BATTERY and flow.seen < inverters.cut:
        stopped, carrier = True, otherwise
        happened = 1 << CUT_OFF | _hunting(carry.since_return)
    else:
        if strain.top > rules.high and flow.given > 0.0 and may_take > 0.0:
            shut_high, lock_in, may_take = True, LOCKED, 0.0
            happened = 1 << HIGH_CELL
        elif strain.fed > rules.over_in and flow.current < 0.0 and may_take > 0.0:
            lock_in, may_take = LOCKED, 0.0
            happened = 1 << OVER_IN
        if carrier == BATTERY and strain.bottom < rules.low:
            shut_low, lock_out, carrier = True, LOCKED, otherwise
            happened |= 1 << LOW_CELL
        elif carrier == BATTERY and strain.strongest > rules.over_out and flow.current > 0.0:
            lock_out, carrier = LOCKED, otherwise
            happened |= 1 << OVER_OUT
    low_for, high_for, since_go, volts = _timers(carry)
    out, since = carry.was_out, carry.since_return
    carry = Carry(carrier, stopped, out, low_for, high_for, since, since_go, volts)
    cold, hot = watch.was_cold, watch.was_hot
    return carry, Watch(shut_high, shut_low, cold, hot, lock_out, lock_in), may_take, happened


@compiled
def closed(rules: Monitoring, watch: Watch, strain: Strain) -> Watch:
    """Return the monitoring, closed again where the cells have come back."""
    high = watch.shut_high and strain.top > rules.high_clear
    low = watch.shut_low and strain.bottom < rules.low_clear
    return Watch(high, low, watch.was_cold, watch.was_hot, watch.lock_out, watch.lock_in)


@compiled
def later(carry: Carry, given: float, seconds: float) -> Carry:
    """Return who carries the load, a step later."""
    low_for, high_for, since_go, go_volts = _timers(carry)
    since_go = since_go + seconds if carry.carrier == UTILITY and given <= 0.0 else np.inf
    since = carry.since_return + seconds
    stopped, was_out = carry.stopped, carry.was_out
    return Carry(carry.carrier, stopped, was_out, low_for, high_for, since, since_go, go_volts)


@compiled
def filled(
    full: bool,  # noqa: FBT001
    anew: bool,  # noqa: FBT001
    was_full: bool,  # noqa: FBT001
    since_full: float,
    seconds: float,
) -> tuple[bool, float, int]:
    """Return whether the pack counts as full, how long it has not been [s]; what happened.

    Parameters
    ----------
    full : bool
        It is held at the voltage of a charge, and takes hardly any current.
    anew : bool
        Its voltage has come down so far that a charge begins anew.
    """
    if full:
        return True, 0.0, 0 if was_full else 1 << FULL
    still = was_full and not anew
    return still, 0.0 if still else since_full + seconds, 0


@compiled
def mains_on(rules: Inverters, carrier: int, utility: bool, cheap: float) -> bool:  # noqa: FBT001
    """Return whether the mains chargers charge."""
    with_utility = rules.charging == WITH_UTILITY and carrier == UTILITY
    return utility and (with_utility or (rules.charging == CHEAP_HOURS and cheap >= YES))


@compiled
def offer(chargers: Chargers, desk: Desk, now: Array, mains_on: bool) -> None:  # noqa: FBT001
    """Write what each charger offers."""
    for c in range(chargers.absorb.size):
        mains, sun = chargers.mains[c] == 1, now[SUN + c]
        if sun > 0.0 and not mains and desk.dark[c] == 1:  # a new day is a new charge
            desk.resting[c] = 0
        if not mains:
            desk.dark[c] = 0 if sun > 0.0 else 1
        desk.offers[c] = sun * chargers.efficiency[c]
        if mains:
            desk.offers[c] = np.inf if mains_on else 0.0


@compiled
def set_levels(chargers: Chargers, desk: Desk, air: float, bus: float) -> bool:
    """Write which voltage each charger holds, and return whether any offers a power."""
    most = 0.0
    for c in range(chargers.absorb.size):
        if bus < chargers.again[c]:
            desk.resting[c] = 0
        resting = desk.resting[c] == 1
        colder = max(0.0, chargers.reference[c] - air)
        level = chargers.absorb[c] + chargers.per_kelvin[c] * colder
        desk.level[c] = chargers.hold[c] if resting else level
        if resting and chargers.hold[c] <= 0.0:
            desk.offers[c] = 0.0
        most = max(most, desk.offers[c])
        desk.out[c] = 0.0
    return most > 0.0


@compiled
def balance(
    desk: Desk,
    most: Array,
    emf: float,
    ohms: float,
    cable: float,
    watts: float,
    may_take: float,
    rounds: int,
) -> tuple[float, float, float, bool, float]:
    """Return currents of inverters and chargers [A], the bus voltage [V], whether it is limited.

    The last is the part of its current that each charger gives [1].
    """
    inverter, given, volts = _shared(desk, most, emf, ohms, cable, watts, rounds)
    inverter, given, volts = _held_back(desk, emf, ohms, cable, watts, inverter, given, volts)
    inverter, taken, volts, limited = _limited(
        emf, ohms, cable, watts, may_take, inverter, given, volts
    )
    return inverter, taken, volts, limited, taken / given if limited else 1.0


@compiled
def _shared(
    desk: Desk, most: Array, emf: float, ohms: float, cable: float, watts: float, rounds: int
) -> tuple[float, float, float]:
    """Return currents of inverters and chargers [A] and the bus voltage [V], nobody holding one."""
    for c in range(most.size):
        desk.held[c] = 0
    given = 0.0
    inverter, volts = _bus(emf, ohms, cable, watts, given)
    volts = max(volts, 1.0)
    for _ in range(rounds):
        given = 0.0
        for c in range(most.size):
            desk.out[c] = min(desk.offers[c] / volts, most[c])
            given += desk.out[c]
        inverter, volts = _bus(emf, ohms, cable, watts, given)
        volts = max(volts, 1.0)
    return inverter, given, volts


@compiled
def _held_back(
    desk: Desk,
    emf: float,
    ohms: float,
    cable: float,
    watts: float,
    inverter: float,
    given: float,
    volts: float,
) -> tuple[float, float, float]:
    """Return the same where a charger whose voltage is passed holds it."""
    passed = True
    while passed:
        c, level, amps = _next(desk, volts)
        passed = c >= 0
        if passed:
            others = given - amps
            inverter, given, volts, passed = _one_holds(emf, ohms, cable, watts, level, others)
            desk.out[c] = 0.0 if passed else max(0.0, given - others)
    return inverter, given, volts


@compiled
def _next(desk: Desk, volts: float) -> tuple[int, float, float]:
    """Return the lowest charger whose voltage is passed, its voltage [V], its current [A].

    It is marked as one that holds; -1 where there is none.
    """
    lowest = -1
    for c in range(desk.held.size):
        giving = desk.held[c] == 0 and desk.out[c] > 0.0
        if giving and (lowest < 0 or desk.level[c] < desk.level[lowest]):
            lowest = c
    if lowest < 0 or volts <= desk.level[lowest] + _SLACK:
        return -1, 0.0, 0.0
    desk.held[lowest] = 1
    return lowest, desk.level[lowest], desk.out[lowest]


@compiled
def _one_holds(
    emf: float, ohms: float, cable: float, watts: float, level: float, others: float
) -> tuple[float, float, float, bool]:
    """Return the same with one charger at its voltage, and whether the others pass that alone."""
    inverter, without = _bus(emf, ohms, cable, watts, others)
    if without >= level:
        return inverter, others, without, True
    inverter = _drawn(level, cable, watts)
    return inverter, inverter - (emf - level) / ohms, level, False


@compiled
def _limited(
    emf: float,
    ohms: float,
    cable: float,
    watts: float,
    may_take: float,
    inverter: float,
    given: float,
    volts: float,
) -> tuple[float, float, float, bool]:
    """Return the same where the pack takes no more than it may, and whether that counts."""
    if given - inverter <= may_take:
        return inverter, given, volts, False
    volts = emf + ohms * may_take
    inverter = _drawn(volts, cable, watts)
    return inverter, inverter + may_take, volts, True


@compiled
def _drawn(volts: float, ohms: float, watts: float) -> float:
    """Return the current that the inverters draw [A]."""
    return network.for_power(volts, ohms, watts) if watts > 0.0 else 0.0


@compiled
def _bus(emf: float, ohms: float, cable: float, watts: float, given: float) -> tuple[float, float]:
    """Return the inverters' current [A] and the bus voltage [V], the chargers giving a current."""
    raised = emf + ohms * given
    inverter = _drawn(raised, ohms + cable, watts)
    return inverter, raised - ohms * inverter


@compiled
def asked(rules: Inverters, carrier: int, load: float) -> tuple[float, float]:
    """Return the AC power that the inverters serve, and the DC power that it takes [W]."""
    if carrier != BATTERY:
        return 0.0, 0.0
    serves = min(load, rules.most)
    return serves, serves * (1.0 / rules.efficiency) + rules.idle


@compiled
def delivered(chargers: Chargers, desk: Desk, now: Array, volts: float, part: float) -> Gave:
    """Return what the chargers gave and took; one whose current has come down rests from now on."""
    put = from_sun = sun = unused = mains = 0.0
    for c in range(chargers.absorb.size):
        amps = desk.out[c] * part
        power = amps * volts
        used = power / chargers.efficiency[c]
        put += power
        if chargers.mains[c] == 1:
            mains += used
        else:
            from_sun += power
            sun += used
            unused += max(0.0, now[SUN + c] - used)
        if desk.held[c] == 1 and desk.resting[c] == 0 and amps <= chargers.ending[c]:
            desk.resting[c] = 1
    return Gave(put, from_sun, sun, unused, mains)


@compiled
def at_charge(chargers: Chargers, desk: Desk) -> bool:
    """Return whether a charger holds the voltage of a charge."""
    found = False
    for c in range(chargers.absorb.size):
        if desk.held[c] == 1 and desk.level[c] >= chargers.absorb[c]:
            found = True
    return found
