"""The protection schedule: circuits and their faults, fuses, cables, switches, what to buy."""

from __future__ import annotations

import attrs

from evpack.base.brief import brief
from evpack.base.told import INNER, told
from evpack.base.worked import Worked
from evpack.describe.cabling import Conductor, Run
from evpack.describe.safeguards import FuseFamily

STRING, MAIN, CHARGER, ARRAY = "string", "main", "charger", "array"
# Places of a fault: before a string's fuse, and where all strings feed it.
AT_STRING, AT_BUS = "string, at its own terminals", "bus, all strings"


@attrs.frozen(kw_only=True)
class FaultBand:
    """Prospective fault current at a place, as a band.

    Parameters
    ----------
    low, firm : Worked or None
        The least with our margin for aged cells, and the least with the resistance as it is known;
        None where a cable on the way is unknown.
    known_high : float
        The high end with the resistance over 10 s as it is known, of which no less than the ohmic
        part limits a fault: the fault is surely as large as this [A].
    time_constant : Worked
        L/R of the loop at the high end [s]: what a DC fuse has to break.
    assumed : bool
        The modules' resistance is unknown, and the worst that is credible was taken for it.
    """

    place: str
    low: Worked | None
    high: Worked
    time_constant: Worked
    assumed: bool = False
    firm: Worked | None = attrs.field(default=None, metadata=INNER)
    known_high: float = attrs.field(default=0.0, metadata=INNER)

    __repr__ = brief


@attrs.frozen(kw_only=True)
class HeldBy:
    """By what the rating of a fuse is held.

    Parameters
    ----------
    rules : {"nec", "iec"}
    as_gg : bool
        Whether it may carry more than 1.45 times its rating for hours, as gG and gR links do.
    sizes : tuple of float
        Standard sizes, small to large [A].
    """

    rules: str
    as_gg: bool
    sizes: tuple[float, ...]

    __repr__ = brief


@attrs.frozen(kw_only=True)
class Hours:
    """What flows in a string for hours [A]: its share, and all of it with the other strings out."""

    share: float
    alone: float


@attrs.frozen(kw_only=True)
class Circuit:
    """One circuit, or several alike; a number that is None is unknown.

    Parameters
    ----------
    kind : {"string", "main", "charger", "array"}
    place : str
        Where its fuse sits, in words.
    device : str
        The name of the device at its end; empty for the strings.
    source, end : str
        Its two ends, in words.
    count : int
        How many are alike.
    run : Run or None
        Its cable; None is unknown.
    run_key : str
        The section of the build sheet that describes the cable.
    carries : Worked or None
        The most that it carries for good [A], shared as unevenly as we reckon with, before any
        other factor.
    evenly : Worked or None
        Of the strings: the same with an even share, which is what the rules ask about.
    hours : Hours or None
        Of the strings: what flows in one for hours; None is unknown.
    surge : Worked or None
        What it carries for seconds [A].
    lower, upper : Worked or None
        The least and the highest rating of its fuse that the rule set and the prints allow [A].
    lower_guard, upper_guard : Worked or None
        The same with our margin [A]: kept where that can be, and a caution where not.
    better : Worked or None
        A higher lower bound that is met where the upper one allows it.
    held : HeldBy
        The rule set, and how its fuse melts.
    voltage : Worked or None
        DC voltage that its fuse must break [V].
    interrupting : Worked or None
        The most that its fuse must break [A].
    surely : float
        What its fuse must surely break: the part of `interrupting` that hangs on no guess of the
        ohmic part [A].
    least_fault, firm_fault : Worked or None
        The least fault current that its fuse must clear, at the far end of the cable [A]: with our
        margin for aged cells, and with the resistance as it is known.
    wanted : FuseFamily or str
        The family that the builder wants.
    section : str
        The section of the build sheet that describes its fuse.
    both_ways : bool
        Whether current flows through it both ways, or a fault does against the working current.
    backfed : Worked or None
        What other sources at its end feed back into its cable [A]; None: unknown, or `joined` is 0.
    joined : int
        How many other sources join it at its end.
    strings : int
        Of an array: how many strings join at its input of the charger, those of others included.
    units : int
        Of an array: how many are alike, one to each unit of its charger.
    ends : int
        Ends of its cable that have a fuse: 2 for leads of strings that are fused at both.
    needs_fuse : bool
        False where no fuse is needed there, with `no_fuse` saying why.
    """

    kind: str
    place: str
    device: str = attrs.field(default="", metadata=INNER)
    source: str = attrs.field(metadata=told(key="from"))
    end: str = attrs.field(metadata=told(key="to"))
    count: int
    run: Run | None = attrs.field(metadata=INNER)
    run_key: str = attrs.field(metadata=INNER)
    carries: Worked | None
    evenly: Worked | None = attrs.field(default=None, metadata=INNER)
    hours: Hours | None = attrs.field(default=None, metadata=INNER)
    surge: Worked | None = None
    lower: Worked | None = attrs.field(metadata=INNER)
    lower_guard: Worked | None = attrs.field(default=None, metadata=INNER)
    better: Worked | None = attrs.field(default=None, metadata=INNER)
    upper: Worked | None = attrs.field(metadata=INNER)
    upper_guard: Worked | None = attrs.field(default=None, metadata=INNER)
    voltage: Worked | None = attrs.field(metadata=INNER)
    interrupting: Worked | None = attrs.field(metadata=INNER)
    least_fault: Worked | None
    firm_fault: Worked | None = attrs.field(default=None, metadata=INNER)
    surely: float = attrs.field(default=0.0, metadata=INNER)
    held: HeldBy = attrs.field(metadata=INNER)
    wanted: FuseFamily | str = attrs.field(default="", metadata=INNER)
    section: str = attrs.field(metadata=INNER)
    guarded_by: str = attrs.field(metadata=INNER)
    both_ways: bool = attrs.field(default=True, metadata=INNER)
    backfed: Worked | None = attrs.field(default=None, metadata=INNER)
    joined: int = attrs.field(default=0, metadata=INNER)
    strings: int = attrs.field(default=1, metadata=INNER)
    units: int = attrs.field(default=1, metadata=INNER)
    ends: int = attrs.field(default=1, metadata=INNER)
    needs_fuse: bool = True
    no_fuse: str = ""

    __repr__ = brief

    @property
    def asked(self) -> Worked | None:
        """Return the continuous current that the rules ask about [A]."""
        return self.carries if self.evenly is None else self.evenly


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
    size: float | None = attrs.field(metadata=told(unit="A"))
    family: FuseFamily | None
    reason: str
    change: str = ""
    asks: bool = attrs.field(default=False, metadata=INNER)
    lower_guard: Worked | None = attrs.field(default=None, metadata=INNER)
    upper_guard: Worked | None = attrs.field(default=None, metadata=INNER)

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
    value: Worked | None = attrs.field(metadata=told(key="quantity"))
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
    allowed: Conductor | None = attrs.field(default=None, metadata=INNER)

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
    metres: float | None = attrs.field(default=None, metadata=told(unit="m"))

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
