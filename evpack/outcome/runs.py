"""What came of runs through time: how strings shared, a fault, the settings sheet tried."""

from __future__ import annotations

import attrs
import numpy as np
from numpy.typing import NDArray

from evpack.base.brief import brief
from evpack.base.finding import Finding, Severity
from evpack.base.told import INNER, told
from evpack.base.worked import Worked

Array = NDArray[np.float64]

# What ended a discharge that was not cut off as it should be.
AT_ONCE, COLLAPSED = "the voltage fell below the cut-off at once", "the pack collapsed"


@attrs.frozen(kw_only=True, eq=False)
class SharedRun:
    """One discharge or one charge.

    Currents are positive on discharge and negative on charge, in A; rows are steps.

    Parameters
    ----------
    way : {"discharge", "charge"}
    time : array, shape (r,)
        [s].
    current, soc : array, shape (r, n)
        Of each string.
    load, volts : array, shape (r,)
        Current [A] and voltage [V] at the end of the cable.
    ended_by : str
        What ended it, in words.
    early, late : tuple of float
        Current of each string after the first step, and when it last was busy [A].
    worst : Worked
        The greatest current of any string, in size [A].
    busiest : int
        The string that carried it, from 1.
    at : float
        When [s].
    uneven : Worked
        The most that a string carried against an even share, while the pack was busy [1].
    apart : float
        The most that states of charge lay apart [1].
    charge_lost, energy_lost : float
        What the books of charge and energy do not account for, against what was moved [1].
    """

    way: str = attrs.field(metadata=INNER)
    time: Array = attrs.field(metadata=told(unit="s", series=True))
    current: Array = attrs.field(metadata=told(unit="A", series=True))
    soc: Array = attrs.field(metadata=told(unit="", series=True))
    load: Array = attrs.field(metadata=told(unit="A", series=True))
    volts: Array = attrs.field(metadata=told(unit="V", series=True))
    ended_by: str
    early: tuple[float, ...] = attrs.field(metadata=told(unit="A"))
    late: tuple[float, ...] = attrs.field(metadata=told(unit="A"))
    worst: Worked
    busiest: int
    at: float = attrs.field(metadata=told(unit="s"))
    uneven: Worked = attrs.field(metadata=told(key="against_even"))
    apart: float = attrs.field(metadata=told(unit=""))
    charge_lost: float = attrs.field(metadata=told(key="charge_unaccounted", unit=""))
    energy_lost: float = attrs.field(metadata=told(key="energy_unaccounted", unit=""))

    __repr__ = brief


@attrs.frozen(kw_only=True, eq=False)
class SharingCase:
    """One state of the pack, discharged and charged; `usual` says that the design reckons with it.

    `strings` is how many carry.
    """

    name: str
    says: str
    usual: bool
    strings: int
    discharge: SharedRun
    charge: SharedRun

    __repr__ = brief

    @property
    def runs(self) -> tuple[SharedRun, SharedRun]:
        """Return both runs."""
        return self.discharge, self.charge


@attrs.frozen(kw_only=True, eq=False)
class SharingRun:
    """How the strings of a design share, in every case that was run; what was found and assumed.

    `cases` is empty where something is unknown that no run can do without; a finding says what.
    """

    title: str
    invented: bool
    strings: int
    power: Worked | None
    charge_current: Worked | None
    cases: tuple[SharingCase, ...]
    findings: tuple[Finding, ...]
    assumed: tuple[str, ...]

    __repr__ = brief

    def __str__(self) -> str:
        return (
            f"{self.title}: {len(self.cases)} cases, {len(self.findings)} findings. "
            "The whole of it: print(evpack.as_text(run))"
        )

    def case(self, name: str) -> SharingCase | None:
        """Return a case by its name."""
        return next((case for case in self.cases if case.name == name), None)


@attrs.frozen(kw_only=True, eq=False)
class FaultRun:
    """A fault stepped through time.

    Parameters
    ----------
    kind : str
        Which fault, as it was asked for.
    says : str
        What was done, in words.
    time : array, shape (r,)
        [s].
    current, soc : array, shape (r, n)
        Through the lead of each string [A], positive out of it; state of charge [1].
    load, volts : array, shape (r,)
        Current [A] and voltage [V] at the load.
    events : tuple of (float, str)
        What happened when [s].
    numbers : tuple of Worked
    """

    title: str
    invented: bool
    kind: str
    says: str
    time: Array = attrs.field(metadata=told(unit="s", series=True))
    current: Array = attrs.field(metadata=told(unit="A", series=True))
    soc: Array = attrs.field(metadata=INNER)
    load: Array = attrs.field(metadata=told(unit="A", series=True))
    volts: Array = attrs.field(metadata=told(unit="V", series=True))
    events: tuple[tuple[float, str], ...] = attrs.field(metadata=INNER)
    numbers: tuple[Worked, ...] = attrs.field(metadata=INNER)
    findings: tuple[Finding, ...]
    assumed: tuple[str, ...]

    __repr__ = brief

    def __str__(self) -> str:
        return (
            f"{self.title}: {self.kind}, {len(self.findings)} findings. "
            "The whole of it: print(evpack.as_text(run))"
        )


def _read_only(values: object) -> Array:
    array = np.array(values, dtype=np.float64)
    array.setflags(write=False)
    return array


@attrs.frozen(kw_only=True, eq=False)
class TrialRun:
    """One attempt, stepped through time.

    Parameters
    ----------
    name, says : str
        What was tried, in words.
    time : array, shape (r,)
        [s].
    volts : array, shape (r,)
        At the bars [V].
    cell : array, shape (r,)
        The highest cell, or the lowest on discharge, the spread of the cells included [V].
    current, soc : array, shape (r, n)
        Of each string: current, positive out of it [A], and state of charge [1].
    busiest : float
        Greatest current of a string that way, over every step [A].
    limit : float
        What a cell stands on that side [V].
    reached : Worked
        The cell at its worst [V].
    """

    name: str
    says: str
    time: Array = attrs.field(converter=_read_only, metadata=told(unit="s", series=True))
    volts: Array = attrs.field(converter=_read_only, metadata=told(unit="V", series=True))
    cell: Array = attrs.field(converter=_read_only, metadata=told(unit="V", series=True))
    current: Array = attrs.field(converter=_read_only, metadata=INNER)
    soc: Array = attrs.field(converter=_read_only, metadata=INNER)
    busiest: float = attrs.field(metadata=INNER)
    limit: float = attrs.field(metadata=told(unit="V"))
    reached: Worked

    __repr__ = brief


@attrs.frozen(kw_only=True, eq=False)
class SettingsTrial:
    """Everything that was tried with the settings of a design, and what was found.

    `runs` holds what could be run; a finding says what could not.
    """

    title: str
    invented: bool
    runs: tuple[TrialRun, ...]
    findings: tuple[Finding, ...]
    assumed: tuple[str, ...]

    __repr__ = brief

    def __str__(self) -> str:
        worst = max((f.severity for f in self.findings), default=Severity.UNKNOWN)
        return (
            f"{self.title}: {len(self.runs)} attempts to break the settings, worst finding "
            f"{worst}. The whole of it: print(evpack.as_text(trial))"
        )

    @property
    def holds(self) -> bool:
        """Return whether nothing that was found says that a cell may come to harm, or may not.

        An unknown is no pass, nor is nothing tried.
        """
        return bool(self.runs) and not any(finding.holds for finding in self.findings)

    def run(self, name: str) -> TrialRun | None:
        """Return an attempt by its name."""
        return next((run for run in self.runs if run.name == name), None)
