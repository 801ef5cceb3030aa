"""The settings sheet tried: what each attempt to break it came to, and what must catch it."""

from __future__ import annotations

import attrs
import numpy as np
from numpy.typing import NDArray

from evpack.base.brief import brief
from evpack.base.finding import Finding, Severity
from evpack.base.worked import Worked

Array = NDArray[np.float64]


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
    time: Array = attrs.field(converter=_read_only)
    volts: Array = attrs.field(converter=_read_only)
    cell: Array = attrs.field(converter=_read_only)
    current: Array = attrs.field(converter=_read_only)
    soc: Array = attrs.field(converter=_read_only)
    busiest: float
    limit: float
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
