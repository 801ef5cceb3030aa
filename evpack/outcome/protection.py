"""The protection schedule: fault levels, fuses, cables, switches, precharge, what to buy."""

from __future__ import annotations

import attrs

from evpack.base.brief import brief
from evpack.base.worked import Worked
from evpack.describe.cabling import Conductor, Run
from evpack.describe.fuses import FuseFamily
from evpack.outcome.circuits import STRING, Circuit, FaultBand


@attrs.frozen(kw_only=True)
class FuseChoice:
    """A fuse for a place, or the reason why none fits.

    Parameters
    ----------
    count : int
        How many are needed, both poles included.
    lower, upper : Worked or None
        The rating must lie between; None is unknown, and then no size is named.
    lower_guard, upper_guard : Worked or None
        The same with our margin; None: none is asked for, or something is unknown.
    voltage, interrupting : Worked or None
        The DC rating needed, and the fault current that it must interrupt.
    size : float or None
        The chosen standard rating [A]; None: no fuse fits, or something is unknown.
    reason : str
        Why this size and family, or why none.
    asks : bool
        Whether one fits hangs on something that can be found out.
    change : str
        The smallest change that would make one fit.
    """

    place: str
    count: int
    lower: Worked | None
    upper: Worked | None
    voltage: Worked | None
    interrupting: Worked | None
    size: float | None
    family: FuseFamily | None
    reason: str
    change: str = ""
    asks: bool = False
    lower_guard: Worked | None = None
    upper_guard: Worked | None = None

    __repr__ = brief


@attrs.frozen(kw_only=True)
class CableTest:
    """One test of a cable: a value beside its limit.

    Parameters
    ----------
    name : str
        ``"carries"``, ``"guarded"``, ``"drop"``, ``"drop on surge"``, ``"withstands"`` or
        ``"small conductor"``.
    value, limit : Worked or None
        What is compared; None is unknown.
    passes : bool or None
        None where either is unknown.
    at_least : bool
        Whether the value must reach the limit rather than stay below it.
    """

    name: str
    value: Worked | None
    limit: Worked | None
    passes: bool | None
    at_least: bool = False

    __repr__ = brief


@attrs.frozen(kw_only=True)
class CableChoice:
    """A cable with its tests, and the smallest size that would pass them all.

    Parameters
    ----------
    count : int
        How many runs are alike.
    run : Run or None
        What the builder stated; None is unknown.
    smallest : Conductor or None
        The smallest of the run's alternatives that passes every test under the same conditions;
        None where none was looked up or none does.
    allowed : Conductor or None
        The smallest that the rules allow, where our margins ask for more.
    decided_by : str
        The test that the next smaller size fails.
    """

    place: str
    count: int
    run: Run | None
    tests: tuple[CableTest, ...]
    smallest: Conductor | None
    decided_by: str
    reason: str = ""
    allowed: Conductor | None = None

    __repr__ = brief


@attrs.frozen(kw_only=True)
class Need:
    """A device that the pack needs besides fuses and cables: what it must be, what is stated.

    Parameters
    ----------
    what : str
        Its function: ``"battery disconnect"``, ``"bus bars"``.
    count : int
        How many.
    lines : tuple of Worked
        The numbers that it must meet.
    must : tuple of str
        What it must be, in words.
    stated : str
        What the build sheet says of it; empty: nothing.
    """

    what: str
    count: int
    lines: tuple[Worked, ...] = ()
    must: tuple[str, ...] = ()
    stated: str = ""

    __repr__ = brief


@attrs.frozen(kw_only=True)
class PrechargePlan:
    """How the input capacitors of an inverter are filled, and what happens without.

    Parameters
    ----------
    with_it : tuple of Worked
        Resistor, first current, heat in the resistor, the same into a short till the time-out,
        time, time-out, step left.
    without : tuple of Worked
        First current, I²t.
    stated : bool
        Whether the build sheet describes the resistor, or evpack proposes one.
    """

    inverter: str
    count: int
    with_it: tuple[Worked, ...]
    without: tuple[Worked, ...]
    stated: bool
    reason: str = ""

    __repr__ = brief


@attrs.frozen(kw_only=True)
class PartLine:
    """One line of the bill of materials: a function, not a brand."""

    function: str
    rating: str
    count: int
    note: str = ""
    metres: float | None = None

    __repr__ = brief


@attrs.frozen(kw_only=True)
class ProtectionSchedule:
    """Everything that protects the pack.

    `cables` follow the order of `circuits`, and so do `fuses`, which leave out the circuits that
    need none; `withheld` says that the design is held
    up: nothing is to be bought by it.
    """

    faults: tuple[FaultBand, ...]
    circuits: tuple[Circuit, ...]
    fuses: tuple[FuseChoice, ...]
    cables: tuple[CableChoice, ...] = ()
    needs: tuple[Need, ...] = ()
    precharge: tuple[PrechargePlan, ...] = ()
    parts: tuple[PartLine, ...] = ()
    withheld: bool = False

    __repr__ = brief

    def fuse_of(self, circuit: Circuit) -> FuseChoice | None:
        """Return the fuse of a circuit; None where it needs none."""
        return next((fuse for fuse in self.fuses if fuse.place == circuit.place), None)

    @property
    def string_fuse(self) -> float | None:
        """Return the rating of the string fuse that was chosen [A]; None where none fits."""
        chosen = [self.fuse_of(circuit) for circuit in self.circuits if circuit.kind == STRING]
        return next((fuse.size for fuse in chosen if fuse is not None), None)
