"""What a pack at work is made of, for its loop: series, chargers, rules, what is kept, the books.

Numbers for kinds stand here, since compiled code knows no words.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Small = NDArray[np.float32]
Whole = NDArray[np.int64]

BATTERY_FIRST, UTILITY_FIRST, ISLAND = 0, 1, 2
NEVER, WITH_UTILITY, CHEAP_HOURS = 0, 1, 2
BATTERY, UTILITY, NOBODY = 0, 1, 2  # who carries the load

# Series of `Plan`: what holds for every step; behind them the sun of each charger.
LOAD, AIR, OUTAGE, PRICE, CHEAP, SUN = 0, 1, 2, 3, 4, 5

# Columns of a row: means over its steps, and from SOC on what stands at its end.
ROW_LOAD, ROW_INVERTER, ROW_UTILITY, ROW_UNSERVED, ROW_SUN, ROW_UNUSED = 0, 1, 2, 3, 4, 5
ROW_CHARGING, ROW_PACK, ROW_SOC, ROW_VOLTS, ROW_CELSIUS, ROW_CARRIER = 6, 7, 8, 9, 10, 11
ROW_WIDTH = 12

# Kinds of events; a count of each is kept however many there are.
TO_UTILITY, TO_BATTERY, CUT_OFF, RESTART, OUTAGE_BEGINS, OUTAGE_ENDS = 0, 1, 2, 3, 4, 5
HIGH_CELL, LOW_CELL, OVER_OUT, OVER_IN, TOO_COLD, TOO_HOT, FULL, HUNT = 6, 7, 8, 9, 10, 11, 12, 13
KINDS = 14

# In which order those of one step are written down.
ORDER = (
    *(TOO_COLD, TOO_HOT, RESTART, OUTAGE_BEGINS, OUTAGE_ENDS, TO_UTILITY, TO_BATTERY, CUT_OFF),
    *(HUNT, HIGH_CELL, OVER_IN, LOW_CELL, OVER_OUT, FULL),
)

# A changeover or cut-off so soon after a return or restart is hunting [s]; practice, no source.
HUNTS_WITHIN = 3600.0
LOCKED = 300.0  # the monitoring closes again no sooner [s]; common practice, no source
SOC_BINS, CELSIUS_BINS, CELSIUS_WIDE = 20, 24, 5.0


class Plan(NamedTuple):
    """Series over time, one behind the other in `flat`; each repeats itself.

    Attributes
    ----------
    flat : array
        All values.
    begin, size, hold : array of int, shape (s,)
        Where a series begins, how many values it has, for how many steps each holds.
    """

    flat: Array
    begin: Whole
    size: Whole
    hold: Whole


class Chargers(NamedTuple):
    """Chargers, c of them, each all its units together.

    Attributes
    ----------
    absorb, hold, again : array
        Voltage of the charge; of the hold after it, 0 for none; below which a charge begins
        anew [V].
    current, ending : array
        The most it gives, and the current at which its charge is over [A].
    efficiency : array
        [1].
    mains : array of int
        1 for one that the utility feeds, 0 for the sun.
    per_kelvin, reference : array
        What it adds for each kelvin [V/K] that the air lies below a temperature [°C].
    """

    absorb: Array
    hold: Array
    again: Array
    current: Array
    ending: Array
    efficiency: Array
    mains: Whole
    per_kelvin: Array
    reference: Array


class Inverters(NamedTuple):
    """What the inverters do, all together.

    Attributes
    ----------
    mode, charging : int
        Who comes first; when the mains chargers charge.
    efficiency, idle, most, cable : float
        [1, W]; the most AC power [W]; their mains [Ω].
    go, back, cut, restart : float
        Thresholds at the inverters [V]; `go` of 0 never changes over, `back` of infinity returns
        when the pack is full.
    go_delay, back_delay : float
        [s].
    """

    mode: int
    charging: int
    efficiency: float
    idle: float
    most: float
    cable: float
    go: float
    back: float
    cut: float
    restart: float
    go_delay: float
    back_delay: float


class Monitoring(NamedTuple):
    """What the cell monitoring does.

    Attributes
    ----------
    cells, spread, below : float
        Cells in series; how far the highest cell lies above the mean, and the lowest below [V].
    high, high_clear, low, low_clear : float
        Cell voltages at which it opens, and at which it closes again [V].
    over_out, over_in : float
        Currents of one string at which it opens [A].
    coldest, hottest : float
        Cell temperatures between which the pack may give current [°C].
    """

    cells: float
    spread: float
    below: float
    high: float
    high_clear: float
    low: float
    low_clear: float
    over_out: float
    over_in: float
    coldest: float
    hottest: float


class Rules(NamedTuple):
    """What inverters and monitoring do.

    Attributes
    ----------
    inverters : Inverters
    monitoring : Monitoring
    may_charge : array
        The most current into the pack at cell temperatures from -40 °C on, one each kelvin [A].
    """

    inverters: Inverters
    monitoring: Monitoring
    may_charge: Array


class Kept(NamedTuple):
    """Where a run writes.

    Attributes
    ----------
    rows : array, shape (r, 12)
        One row for every so many steps.
    event_step, event_kind : array of int, shape (e,)
        The first events, as many as there is room for.
    event_volts : array, shape (e,)
        Voltage at the inverters then [V].
    counts : array of int, shape (14,)
        How many of each kind there were.
    soc_seconds, celsius_seconds : array
        Time at each twentieth of charge, and at each 5 K from -40 °C on [s].
    """

    rows: Small
    event_step: Whole
    event_kind: Whole
    event_volts: Array
    counts: Whole
    soc_seconds: Array
    celsius_seconds: Array


class Carry(NamedTuple):
    """Who carries the load, and what hangs on it.

    Attributes
    ----------
    carrier : int
        `BATTERY`, `UTILITY` or `NOBODY`.
    stopped, was_out : bool
        The inverters stopped by a cut-off; the utility was out in the step before.
    low_for, high_for, since_return, since_go : float
        How long the voltage has asked for a changeover or a return; since when the battery
        carries again; since when the pack has rested after a changeover [s].
    go_volts : float
        Voltage at the last changeover [V].
    """

    carrier: int
    stopped: bool
    was_out: bool
    low_for: float
    high_for: float
    since_return: float
    since_go: float
    go_volts: float


class Watch(NamedTuple):
    """What the cell monitoring holds open.

    Attributes
    ----------
    shut_high, shut_low : bool
        Open for high or low cells.
    was_cold, was_hot : bool
        What was so in the step before.
    lock_out, lock_in : float
        How long it stays open yet, out of the pack and into it [s].
    """

    shut_high: bool
    shut_low: bool
    was_cold: bool
    was_hot: bool
    lock_out: float
    lock_in: float


class Memory(NamedTuple):
    """What a run hands on to the next one, so that a long run may be made in pieces.

    Attributes
    ----------
    events, row : int
        How many events and rows are written.
    carry, watch : Carry, Watch
        Of the inverters and of the cell monitoring.
    was_full : bool
    since_full : float
        How long the pack has not been full [s].
    seen, bus : float
        Voltages at the inverters and at the bus [V].
    resting, dark : array of int, shape (c,)
        Whether each charger has ended its charge, and lies in the dark.
    """

    events: int
    row: int
    carry: Carry
    watch: Watch
    was_full: bool
    since_full: float
    seen: float
    bus: float
    resting: Whole
    dark: Whole


class Books(NamedTuple):
    """What a run did: energies in J, charge in A s, times in s.

    `inverter` is AC energy out of the inverters, of which `direct` came straight from the sun.
    `utility` is all that was taken from it, `charging` the part for the mains chargers. `sun` is
    what the panels gave, `unused` what they could have given besides. `into_bus` is what all
    chargers put out. `cost_all` is what the whole load would have cost from the utility.
    `overloaded` is the time in which the inverters were asked for more than they give.
    """

    steps: int
    load: float
    inverter: float
    direct: float
    by_utility: float
    unserved: float
    unserved_time: float
    utility: float
    charging: float
    sun: float
    unused: float
    into_bus: float
    inverter_dc: float
    cable_heat: float
    pack_out: float
    pack_in: float
    heat: float
    charge_net: float
    charge_out: float
    cost: float
    cost_all: float
    highest_cell: float
    lowest_cell: float
    highest_volts: float
    coldest_charging: float
    most_out: float
    most_in: float
    coldest: float
    hottest: float
    cold_limited: float
    longest_not_full: float
    rise: float
    overloaded: float


class Desk(NamedTuple):
    """Room for the chargers, c of them.

    Attributes
    ----------
    offers, level, out : array, shape (c,)
        Power offered [W], voltage held [V], current given [A].
    held, resting, dark : array of int, shape (c,)
        Whether each holds its voltage in this step; has ended its charge; lies in the dark.
    """

    offers: Array
    level: Array
    out: Array
    held: Whole
    resting: Whole
    dark: Whole


class Cells(NamedTuple):
    """Coldest and hottest string [°C], mean state of charge [1] and temperature [°C]."""

    cold: float
    hot: float
    soc: float
    celsius: float


class Flow(NamedTuple):
    """What flows in a step.

    Attributes
    ----------
    serves, watts : float
        AC power served, and DC power that it takes [W].
    inverter, given, current : float
        Out of the bus into the inverters, into it from the chargers, out of the pack [A].
    volts, seen : float
        At the bus and at the inverters [V].
    limited : bool
        The pack took less than the chargers would give.
    """

    serves: float
    watts: float
    inverter: float
    given: float
    current: float
    volts: float
    seen: float
    limited: bool


class Strain(NamedTuple):
    """Highest and lowest cell [V], the most out of a string and into one [A]."""

    top: float
    bottom: float
    strongest: float
    fed: float


class Gave(NamedTuple):
    """What the chargers did in a step [W].

    Attributes
    ----------
    put, from_sun : float
        All that they put out, and what of it came from the sun.
    sun, unused : float
        What the panels gave, and could have given besides.
    mains : float
        What the mains chargers took.
    """

    put: float
    from_sun: float
    sun: float
    unused: float
    mains: float


def nothing() -> Books:
    """Return the books of a run that has not begun."""
    zero = dict.fromkeys(Books._fields, 0.0)
    lowest = dict.fromkeys(("lowest_cell", "coldest_charging", "coldest"), np.inf)
    highest = dict.fromkeys(("highest_cell", "highest_volts", "hottest"), -np.inf)
    return Books(**{**zero, **lowest, **highest, "steps": 0})  # type: ignore[arg-type]


def beginning(mode: int, chargers: int) -> Memory:
    """Return what a run begins with: the load where the mode wants it, the chargers ready."""
    carry = Carry(
        carrier=UTILITY if mode == UTILITY_FIRST else BATTERY,
        stopped=False,
        was_out=False,
        low_for=0.0,
        high_for=0.0,
        since_return=np.inf,
        since_go=np.inf,
        go_volts=0.0,
    )
    watch = Watch(
        shut_high=False,
        shut_low=False,
        was_cold=False,
        was_hot=False,
        lock_out=0.0,
        lock_in=0.0,
    )
    return Memory(
        events=0,
        row=0,
        carry=carry,
        watch=watch,
        was_full=False,
        since_full=0.0,
        seen=0.0,
        bus=0.0,
        resting=np.zeros(chargers, np.int64),
        dark=np.ones(chargers, np.int64),
    )
