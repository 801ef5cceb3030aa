"""How a pack lived through the time that it was worked: energies, events, hours, what was found."""

from __future__ import annotations

from collections.abc import Mapping

import attrs
import numpy as np
from numpy.typing import NDArray

from evpack.base.brief import brief
from evpack.base.finding import Finding
from evpack.base.told import INNER, told
from evpack.base.worked import Worked
from evpack.outcome.settings import Line

Array = NDArray[np.float64]
Small = NDArray[np.float32]

# What an event is called; the order is that of the kernel.
EVENTS = (
    Line.CHANGEOVER,
    Line.RETURN,
    "cut-off",
    "restart",
    "outage begins",
    "outage ends",
    "high cell trips",
    "low cell trips",
    "over-current trips, discharge",
    "over-current trips, charge",
    "too cold to give current",
    "too hot to give current",
    "pack full",
    "hunting",
)
# The histogram of temperatures [°C].
CELSIUS_FIRST, CELSIUS_WIDE = -40.0, 5.0
CARRIERS = ("battery", "utility", "nobody")


@attrs.frozen(kw_only=True)
class Event:
    """Something that happened: when [s from the start], what, the voltage at the inverters [V]."""

    time: float = attrs.field(metadata=told(key="at", unit="s"))
    what: str
    volts: float = attrs.field(metadata=told(unit="V"))

    __repr__ = brief


@attrs.frozen(kw_only=True, eq=False)
class Series:
    """What was written down, row by row; powers are means over a row, the rest stands at its end.

    Parameters
    ----------
    every : float
        From row to row [s].
    load, inverter, utility, unserved : array
        What was asked; carried by the inverters, by the utility, by nobody [W].
    sun, unused, charging : array
        Out of the panels; what they could have given besides; out of the utility to charge [W].
    pack : array
        Out of the pack, negative into it [W].
    soc, volts, celsius : array
        Mean state of charge [1]; voltage at the inverters [V]; mean temperature of cells [°C].
    carrier : array
        Who carried the load: 0 the battery, 1 the utility, 2 nobody.
    """

    every: float
    load: Small
    inverter: Small
    utility: Small
    unserved: Small
    sun: Small
    unused: Small
    charging: Small
    pack: Small
    soc: Small
    volts: Small
    celsius: Small
    carrier: Small

    __repr__ = brief

    @property
    def time(self) -> Array:
        """Return the end of each row [s from the start]."""
        found: Array = np.arange(1.0, self.soc.size + 1) * self.every
        return found


@attrs.frozen(kw_only=True, eq=False)
class Daily:
    """Each whole day of a run: energies [Wh], and the range of the state of charge [1]."""

    load: Array = attrs.field(metadata=told(unit="Wh"))
    inverter: Array = attrs.field(metadata=told(unit="Wh"))
    utility: Array = attrs.field(metadata=told(unit="Wh"))
    unserved: Array = attrs.field(metadata=told(unit="Wh"))
    sun: Array = attrs.field(metadata=told(unit="Wh"))
    unused: Array = attrs.field(metadata=told(unit="Wh"))
    charging: Array = attrs.field(metadata=told(unit="Wh"))
    soc_least: Array = attrs.field(metadata=told(unit=""))
    soc_most: Array = attrs.field(metadata=told(unit=""))

    __repr__ = brief


@attrs.frozen(kw_only=True)
class Hunting:
    """Going to and fro: how often in the run, beside what the design foretells.

    Parameters
    ----------
    times : int
        Changeovers or cut-offs within an hour of the return or restart before.
    worst_day : int
        Day of the run with most of them, from 0; -1 for none.
    seen : float
        The most that the voltage rose when the load went to the utility, nothing charging [V].
    gap, foretold : float or None
        From the changeover up to the return, as the run had them; the least gap that the design
        foretells, meter errors included [V]. None where there is none.
    """

    times: int
    worst_day: int = attrs.field(metadata=INNER)
    seen: float = attrs.field(metadata=told(key="rise_seen", unit="V"))
    gap: float | None = attrs.field(metadata=told(unit="V"))
    foretold: float | None = attrs.field(metadata=told(unit="V"))

    __repr__ = brief


@attrs.frozen(kw_only=True, eq=False)
class Outcome:
    """What came of a run, all of it.

    Parameters
    ----------
    energies : tuple of Worked
        In the order of a reader's questions.
    served, own : Worked
        Part of the load that was served, and that did not come from the utility [1].
    saved : Worked or None
        Against all of the load from the utility; None without a tariff or a utility.
    cycles : float
        Charge given against the capacity: equivalent full cycles, by throughput.
    counts : mapping of int
        How many of each event, however many are listed.
    events : tuple of Event
        The first of them.
    soc_hours, celsius_hours : array
        Hours at each twentieth of charge, and at each 5 K from -40 °C on.
    charge_lost, energy_lost : float
        What the books of charge and energy do not account for, against what was moved [1].
    highest_cell, lowest_cell : float
        With the spread of the cells counted [V].
    coldest, hottest, coldest_charging : float
        Temperatures of a string, at all and while current flowed in (infinite for never) [°C].
    cold_limited : float
        How long the cold held charging back [s].
    days_to_show : mapping of int
        Days of the run that are worth a picture, from 0, by what they show.
    longest_not_full : float
        The longest time from one full charge to the next [s].
    overloaded : float
        How long more was asked than the inverters that carried the load give [s].
    """

    energies: tuple[Worked, ...] = attrs.field(metadata=INNER)
    served: Worked
    own: Worked
    saved: Worked | None = attrs.field(metadata=told(key="money_saved"))
    cycles: float = attrs.field(metadata=told(key="full_cycles"))
    counts: Mapping[str, int]
    events: tuple[Event, ...] = attrs.field(metadata=INNER)
    hunting: Hunting
    series: Series = attrs.field(metadata=INNER)
    daily: Daily = attrs.field(metadata=told(key="days"))
    soc_hours: Array = attrs.field(metadata=told(key="hours_by_state_of_charge", unit="h"))
    celsius_hours: Array = attrs.field(metadata=told(key="hours_by_temperature", unit="h"))
    highest_cell: float = attrs.field(metadata=told(unit="V"))
    lowest_cell: float = attrs.field(metadata=told(unit="V"))
    coldest: float = attrs.field(metadata=told(unit="°C"))
    hottest: float = attrs.field(metadata=told(unit="°C"))
    coldest_charging: float = attrs.field(metadata=INNER)
    cold_limited: float = attrs.field(metadata=INNER)
    longest_not_full: float = attrs.field(metadata=told(unit="s"))
    overloaded: float = attrs.field(metadata=told(unit="s"))
    charge_lost: float = attrs.field(metadata=told(key="charge_unaccounted", unit=""))
    energy_lost: float = attrs.field(metadata=told(key="energy_unaccounted", unit=""))
    days_to_show: Mapping[str, int] = attrs.field(metadata=INNER)

    __repr__ = brief

    def energy(self, name: str) -> Worked:
        """Return an energy by its name."""
        return next(worked for worked in self.energies if worked.name == name)


@attrs.frozen(kw_only=True, eq=False)
class OperationRun:
    """A pack worked over some time; what was found and assumed.

    `outcome` is None where something is unknown that no run can do without; a finding says what.
    `currency` is the money of the tariff, empty without one. Thresholds are those that were used,
    by name [V].
    """

    title: str
    invented: bool
    mode: str
    currency: str = attrs.field(metadata=INNER)
    first_day: int
    step: float = attrs.field(metadata=told(unit="s"))
    length: float = attrs.field(metadata=told(unit="s"))
    thresholds: Mapping[str, float] = attrs.field(metadata=told(unit="V"))
    outcome: Outcome | None
    findings: tuple[Finding, ...]
    assumed: tuple[str, ...]

    __repr__ = brief

    def __str__(self) -> str:
        return (
            f"{self.title}: {self.mode}, {self.length / 86400:g} days, {len(self.findings)} "
            "findings. The whole of it: print(evpack.as_text(run))"
        )


@attrs.frozen(kw_only=True, eq=False)
class OutageRun:
    """How long the pack carries the load alone, from each start.

    Parameters
    ----------
    starts : array
        When the utility fails [s from the start of the run].
    hours : array
        How long the load is served [h]; `most` where it lasts at least so long.
    soc : array
        State of charge at the start [1].
    most : float
        The longest that was looked at [h].
    """

    title: str
    starts: Array = attrs.field(metadata=told(unit="s"))
    hours: Array = attrs.field(metadata=told(unit="h"))
    soc: Array = attrs.field(metadata=told(key="state_of_charge", unit=""))
    most: float = attrs.field(metadata=told(unit="h"))

    __repr__ = brief
