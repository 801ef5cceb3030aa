"""What comes of a heap: a grade for each module, groups, and a safe order of joining them."""

from __future__ import annotations

from enum import StrEnum

import attrs

from evpack.base.brief import brief
from evpack.base.finding import Finding
from evpack.base.told import INNER, told
from evpack.base.worked import Worked
from evpack.describe.batch import Batch, TestedModule


class Grade(StrEnum):
    """What a module is good for."""

    ACCEPT = "accept"
    RETEST = "accept after retest"
    REJECT = "reject"


@attrs.frozen(kw_only=True)
class GradedModule:
    """A module with its readings, its grade and why.

    Parameters
    ----------
    health : Worked or None
        Capacity against new [1].
    resistance_ratio : Worked or None
        Resistance against new [1].
    spread : Worked or None
        Highest cell group minus lowest, rested [V].
    drift : Worked or None
        Loss of rest voltage in seven days against the batch's median [V].
    self_discharge : Worked or None
        Loss of charge in a month, from the slope of the open-circuit curve [1]; None where the
        curve is too flat to tell, or no two dated rests are there.
    weakest : int or None
        The cell group that ends the discharge, counted from 1 at the plus end.
    odd : tuple of str
        The measures in which it is an outlier of the batch.
    reasons : tuple of str
        Why it is not simply accepted, worst first.
    weakest_by : str
        How the weakest cell group is known, in words.
    imbalance : Worked or None
        Weakest cell group below the mean towards empty, in a record of it [V].
    uncertainty : tuple of Worked
        By how much a measure may be off either way, where the meter's accuracy is known.
    capacity_alike, resistance_alike : bool
        Whether each was read as in most of the batch, so that modules may be compared by it.
    findings : tuple of Finding
        All that was found of it, passes included.
    """

    module: TestedModule = attrs.field(metadata=INNER)
    grade: Grade
    health: Worked | None
    resistance_ratio: Worked | None
    spread: Worked | None
    drift: Worked | None
    self_discharge: Worked | None
    weakest: int | None
    odd: tuple[str, ...]
    reasons: tuple[str, ...]
    weakest_by: str = attrs.field(default="", metadata=INNER)
    imbalance: Worked | None = None
    uncertainty: tuple[Worked, ...] = attrs.field(default=(), metadata=INNER)
    capacity_alike: bool = attrs.field(default=False, metadata=INNER)
    resistance_alike: bool = attrs.field(default=False, metadata=INNER)
    findings: tuple[Finding, ...] = attrs.field(default=(), metadata=INNER)

    __repr__ = brief


@attrs.frozen(kw_only=True)
class Grouping:
    """Which modules stand in which string.

    Parameters
    ----------
    strings : tuple of tuples of str
        Module names, string by string.
    spares : tuple of str
        Modules fit for use that were not needed.
    capacity : float
        Usable charge: the sum over the strings of each one's weakest module [Ah].
    energy : float
        The same times the nominal voltage [Wh].
    worst_share : float
        The current of the busiest string against an even share, early on by resistance [1].
    resistance_spread : float
        Highest minus lowest string resistance against the mean [1].
    capacity_spread : tuple of float
        In each string, largest minus least capacity against the mean [1].
    gap : float or None
        Proven distance of `capacity` from the best there can be [1]; None: not proven.
    method : str
        How it was found, in words.
    """

    strings: tuple[tuple[str, ...], ...]
    spares: tuple[str, ...]
    capacity: float = attrs.field(metadata=told(unit="Ah"))
    energy: float = attrs.field(metadata=told(unit="Wh"))
    worst_share: float = attrs.field(metadata=told(unit=""))
    resistance_spread: float = attrs.field(metadata=told(unit=""))
    capacity_spread: tuple[float, ...] = attrs.field(metadata=INNER)
    gap: float | None = attrs.field(metadata=told(unit=""))
    method: str

    __repr__ = brief


@attrs.frozen(kw_only=True)
class JoinStep:
    """One step on the way to one bus: what to do with which, to what voltage, and what then flows.

    Parameters
    ----------
    names : tuple of str
        Modules or strings concerned.
    target : Worked or None
        The voltage to bring them to [V].
    current, charge, heat : Worked or None
        The first equalising current [A], the charge that moves [Ah] and the heat it leaves [J].
    tau : Worked or None
        The time constant with which the current dies away [s].
    """

    names: tuple[str, ...] = attrs.field(metadata=told(key="of"))
    do: str
    target: Worked | None = None
    current: Worked | None = None
    charge: Worked | None = None
    heat: Worked | None = None
    tau: Worked | None = attrs.field(default=None, metadata=told(key="time_constant"))

    __repr__ = brief


@attrs.frozen(kw_only=True)
class JoinPlan:
    """How strings come onto one bus without a surge."""

    limit: Worked | None
    pairs: tuple[JoinStep, ...]
    steps: tuple[JoinStep, ...]

    __repr__ = brief


@attrs.frozen(kw_only=True, eq=False)
class Matching:
    """One heap, graded, grouped and ready to be joined."""

    batch: Batch = attrs.field(metadata=INNER)
    graded: tuple[GradedModule, ...] = attrs.field(metadata=told(key="modules"))
    grouping: Grouping | None
    naive: tuple[Grouping, ...] = attrs.field(metadata=told(key="compared"))
    join: JoinPlan | None = attrs.field(metadata=told(key="joining"))
    findings: tuple[Finding, ...]

    __repr__ = brief

    def of(self, grade: Grade) -> tuple[GradedModule, ...]:
        """Return the modules of one grade."""
        return tuple(found for found in self.graded if found.grade is grade)


@attrs.frozen(kw_only=True, eq=False)
class Afterwards:
    """A finished pack as its log shows it, held against what was predicted of it.

    Parameters
    ----------
    resistance : Worked or None
        DC resistance of the pack at the middle load step [Ω].
    capacity : Worked or None
        From the charge counted between two rests [Ah].
    growth : Worked or None
        What the cell spread grew in a month [V].
    """

    resistance: Worked | None
    capacity: Worked | None
    growth: Worked | None
    findings: tuple[Finding, ...]

    __repr__ = brief
