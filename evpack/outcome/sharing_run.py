"""How strings shared the current in a run: what each carried, how far they drifted apart."""

from __future__ import annotations

import attrs
import numpy as np
from numpy.typing import NDArray

from evpack.base.brief import brief
from evpack.base.finding import Finding
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

    way: str
    time: Array
    current: Array
    soc: Array
    load: Array
    volts: Array
    ended_by: str
    early: tuple[float, ...]
    late: tuple[float, ...]
    worst: Worked
    busiest: int
    at: float
    uneven: Worked
    apart: float
    charge_lost: float
    energy_lost: float

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
