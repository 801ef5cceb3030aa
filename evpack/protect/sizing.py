"""How a conductor does on its circuit, in plain numbers, and the smallest that passes every test.

The conductor that is laid and those that might be are judged by the same lines here; what is laid
is then explained in `cables.py`.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from itertools import pairwise
from typing import Any

import attrs

from evpack.base.basis import Basis
from evpack.base.finding import inside
from evpack.base.units import CURRENT
from evpack.describe.build import Build
from evpack.describe.cabling import Conductor, Run
from evpack.describe.safeguards import FuseCatalogue, FuseFamily
from evpack.kernels.conductor import (
    LONGEST_ADIABATIC,
    from_75,
    operating_temperature,
    voltage_drop,
    withstand,
)
from evpack.outcome.protection import CableChoice, Circuit, ProtectionSchedule
from evpack.protect.bounds import guards, most_rating
from evpack.protect.choice import family_for, fitting, size_between, sizes_within

CARRIES, GUARDED, DROP = "carries", "guarded", "drop"
FED = "fed by the others"
SURGE, WITHSTANDS, SMALL = "drop on surge", "withstands", "small conductor"

WORDS = {
    CARRIES: "what it carries",
    GUARDED: "its fuse",
    FED: "what the other strings feed into it",
    DROP: "voltage drop",
    SURGE: "voltage drop on surge",
    WITHSTANDS: "what its fuse lets through",
    SMALL: "the least size to lay in parallel",
}

# Smallest conductor that may be laid in parallel [mm²]: 1/0 AWG, which has 53.5 (NEC 310.10(G),
# from memory).
PARALLEL_FROM = 53.0

# From these many times its rating a full-range fuse clears within 5 s and within 0.1 s. Common
# practice, no source; for gG links the gates of their size are taken instead. Time-delay links of
# classes J and RK hold five times their rating for 10 s (UL 248, from memory), and take eight.
_QUICK_TIMES, _AT_ONCE = 5.0, 10.0
_SLOW_TIMES, _SLOW_AT_ONCE = 8.0, 16.0
_LONG, _SHORT, _INSTANT = LONGEST_ADIABATIC, 0.1, 0.01  # s
# Breakers trip at once from 5 to 10 times their rating on AC, and up to 1.5 times that on DC;
# below it they open thermally, in tens of seconds. At once is within 0.1 s (IEC 60898-1). From
# memory.
_BREAKER_TIMES = 15.0


def clears_at(family: FuseFamily, size: float) -> float:
    """Return the current from which on a fuse or breaker of a size clears within 5 s [A].

    A fuse of which nobody said how it melts is taken as the slowest; of a breaker, what trips it
    at once.
    """
    if family.kind == "breaker":
        trip = family.instantaneous_trip
        return _BREAKER_TIMES * size if trip is None else float(trip.m)
    return (_SLOW_TIMES if _slow(family) else _QUICK_TIMES) * size


def _slow(family: FuseFamily) -> bool:
    return family.characteristic in {"", "time-delay"}


def _curve(catalogue: FuseCatalogue, family: FuseFamily, size: float) -> list[tuple[float, float]]:
    """Return the currents that open a device for sure within a time [A, s], the longest first."""
    if family.kind == "breaker":
        at_once = _SHORT if family.clearing_time is None else float(family.clearing_time.m)
        return [(clears_at(family, size), at_once)]
    if family.characteristic == "gG":
        # A size between two of the table melts no later than the next larger one.
        gate = catalogue.slower_gate(family, size)
        if gate is None:
            return []
        curve = [(gate.melts_5s, _LONG), (gate.melts_100ms, _SHORT)]
    else:
        at_once = _SLOW_AT_ONCE if _slow(family) else _AT_ONCE
        curve = [(clears_at(family, size), _LONG), (at_once * size, _SHORT)]
    if family.clearing is not None:
        # What it lets through in all, at the current that this is in a hundredth of a second.
        printed = math.sqrt(float(family.clearing.m) / _INSTANT)
        if printed > curve[-1][0]:
            curve.append((printed, _INSTANT))
    return curve


def _opens(curve: list[tuple[float, float]], least: float | None) -> tuple[float, float] | None:
    """Return the current and time at which a device opens that sees a least fault current.

    Between two points of its curve on the straight line that joins them on logarithmic paper:
    such curves bend towards the origin, so that the line lies on the slow side. Beyond the last
    point its current and time stand, since larger currents melt a link with less I²t. None where
    the least fault current reaches no point.
    """
    if least is None or not curve or least < curve[0][0]:
        return None
    if least >= curve[-1][0]:
        return curve[-1]
    (low, slow), (high, quick) = next(
        pair for pair in pairwise(curve) if pair[0][0] <= least < pair[1][0]
    )
    steep = math.log(slow / quick) / math.log(high / low)
    return least, slow * (least / low) ** -steep


# What a fuse lets through in all against what melts it, arc included. Common practice, no source.
CLEARING_PART = 2.0

Pair = tuple[str, float | None, float]  # name, value and limit of a test


@attrs.frozen(kw_only=True)
class LetThrough:
    """What the fuse of a cable lets through.

    A fuse-link melts with the less I²t the larger the current is. So it passes no more than at the
    least fault current, `current`, which it clears within `seconds`; the arc at the high end is
    added in `most`.

    Parameters
    ----------
    size : float or None
        Its rating [A]; None: no fuse fits, or something is unknown.
    current : float or None
        What flows for `seconds` at most [A]; None is unknown.
    most : float or None
        I²t that it lets through at the high end [A²s]; 0: no more than at the low end; None is
        unknown (a breaker, which limits no current).
    basis : Basis
        How that is known.
    others : int
        How many like it feed the same fault, so that the conductor carries as many times the
        current, and the square of it as I²t; 1: it alone.
    perhaps : float or None
        Of a breaker: what it lets through if the ohmic part of the resistance is as little as is
        credible [A²s].
    slow : bool
        The least fault current melts it within 5 s by no point of its curve; after `seconds` it
        may then not have opened yet.
    weak : float or None
        The same I²t of it alone with our margin, where aged cells give a lower fault current
        [A²s]; None: that may take longer than 5 s, or is unknown.
    """

    size: float | None = None
    current: float | None = None
    seconds: float = LONGEST_ADIABATIC
    most: float | None = 0.0
    basis: Basis = Basis.ASSUMED
    others: int = 1
    slow: bool = False
    weak: float | None = None
    perhaps: float | None = None

    @property
    def weak_energy(self) -> float | None:
        """Return the most I²t with our margin [A²s]; None: longer than 5 s, or unknown."""
        return None if self.weak is None else self.weak * self.others**2

    @property
    def energy(self) -> float | None:
        """Return the most I²t that passes before the fuse has cleared [A²s]; None is unknown."""
        if self.current is None or self.most is None:
            return None
        return max(self.current**2 * self.seconds, self.most) * self.others**2


def _unlimited(
    curve: list[tuple[float, float]], highest: float | None, others: int
) -> float | None:
    """Return what a breaker lets through, which limits no current [A²s]; None is unknown.

    All of its part of the highest fault current flows till it has opened.
    """
    if highest is None:
        return None
    each = highest / others
    opens = _opens(curve, each)
    return each**2 * (_LONG if opens is None else opens[1])


@attrs.frozen(kw_only=True)
class Seen:
    """The fault currents that a fuse sees [A]; None is unknown.

    `firm` is the least with the resistance as it is known, `weak` with our margin for aged cells.
    `highest` is that of all that feed it, and hangs on the ohmic part of the resistance, which
    may be a guess; `surely` is what hangs on none.
    """

    firm: float | None
    weak: float | None
    highest: float | None
    surely: float | None = None


def let_through(
    catalogue: FuseCatalogue,
    family: FuseFamily | None,
    size: float | None,
    fault: Seen,
    others: int = 1,
) -> LetThrough:
    """Return what a fuse lets through.

    Parameters
    ----------
    others : int
        How many like it feed the same fault.
    """
    perhaps: float | None = None
    if family is None or size is None:
        return LetThrough(others=others)
    curve = _curve(catalogue, family, size)
    opens, aged = _opens(curve, fault.firm), _opens(curve, fault.weak)
    current, seconds = (None, _LONG) if opens is None else opens
    if opens is None and curve:
        # Too little to melt it within 5 s: what flows till then the conductor must stand.
        current = fault.firm
    most: float | None = 0.0
    basis = Basis.DATASHEET if family.characteristic == "gG" else Basis.ASSUMED
    gate = catalogue.slower_gate(family, size)
    if gate is not None:
        most = CLEARING_PART * gate.clearing
    if family.clearing is not None:
        most = float(family.clearing.m)
    elif family.kind == "breaker":
        most = _unlimited(curve, fault.highest, others)
        if fault.surely is not None:
            perhaps, most = most, _unlimited(curve, fault.surely, others)
    return LetThrough(
        size=size,
        current=current,
        seconds=seconds,
        most=most,
        basis=basis,
        others=others,
        slow=opens is None,
        weak=None if aged is None or most is None else max(aged[0] ** 2 * aged[1], most),
        perhaps=perhaps,
    )


@attrs.frozen(kw_only=True)
class Refit:
    """The fuse of a circuit chosen anew for another conductor; a number that is None is unknown.

    Parameters
    ----------
    others, others_guard : float or None
        What else its rating must guard [A], and the same with our margin; infinite: nothing else.
    beside : int
        How many other fuses like it feed a fault in the conductor; 1: none but it.
    generous : bool
        Whether the conductor must leave room for the better rating, the one with which a string
        may be out: asked of runs that are left open.
    interrupting, least : function
        The most that it must break, by conductor, and the least that it must clear, by conductor
        and resistance of a string [A].
    ohms : tuple of float
        That resistance as it is known, and with our margin [Ω].
    """

    circuit: Circuit
    catalogue: FuseCatalogue
    others: float | None
    others_guard: float | None
    generous: bool
    interrupting: Callable[[Conductor], float | None]
    least: Callable[[Conductor, float], float | None]
    ohms: tuple[float, float]
    beside: int = 1

    def fuse(self, conductor: Conductor, ampacity: float) -> LetThrough:
        """Return the fuse that `choice.choose` would name for a conductor of an ampacity [A]."""
        circuit, breaking = self.circuit, self.interrupting(conductor)
        lower, voltage = circuit.lower, circuit.voltage
        nothing = LetThrough(others=self.beside)
        if lower is None or voltage is None or breaking is None:
            return nothing
        if self.others is None or self.others_guard is None:
            return nothing
        upper = min(most_rating(circuit.held, ampacity), self.others)
        guarded = min(guards(ampacity, as_gg=circuit.held.as_gg), self.others_guard)
        sizes = self.catalogue.sizes_of(circuit.wanted)
        better = None if circuit.better is None else circuit.better.value
        size, family, _ = fitting(
            sizes_within(
                sizes,
                low=lower.value,
                high=upper,
                low_guard=None if circuit.lower_guard is None else circuit.lower_guard.value,
                high_guard=guarded,
                better=better,
            ),
            lambda amps: family_for(
                self.catalogue,
                circuit.wanted,
                amps,
                voltage.quantity,
                CURRENT.of(breaking),
                as_gg=circuit.held.as_gg,
            ),
        )
        if size is None or family is None:
            return nothing
        meagre = better is not None and size < better and self.generous
        if meagre and size_between(sizes, max(lower.value, better or 0.0), self.others_guard):
            return nothing
        firm, weak = (self.least(conductor, ohms) for ohms in self.ohms)
        surely = None if circuit.interrupting is None else circuit.surely
        part = 1.0 if not surely else surely / circuit.interrupting.value  # type: ignore[union-attr]  # asked
        fault = Seen(firm=firm, weak=weak, highest=breaking, surely=breaking * part)
        return let_through(self.catalogue, family, size, fault, self.beside)


@attrs.frozen(kw_only=True)
class Duty:
    """What a cable has to do, whatever its size: plain numbers; None is unknown.

    Parameters
    ----------
    needed, needed_guard : float or None
        What it must carry by the rule set, and with our margin [A].
    loadable : function
        What a conductor may be loaded with so, by the conductor and its ampacity [A].
    carries, warming : float or None
        What it carries for good, and the same with ripple, which warms it [A].
    guards, guards_well : function
        The highest fuse rating that guards it by the rule set, and with our margin, by what it
        carries [A].
    summed : function
        What several devices that feed it may be rated together, by what it carries [A]: the next
        standard size is for one.
    tap : float
        How many times what guards it the other strings may feed into it together: 1, or more
        where it is short and protected.
    least_parallel : float
        The least size that may be laid in parallel [mm²]; 0: no clause asks for one.
    surge : float or None
        What it carries for seconds [A].
    volts : float or None
        What the voltage drop is a share of [V].
    drop_most, surge_most : float or None
        The shares that may be lost; None: not tested.
    kept : float or None
        The least rating of its fuse with our margin [A].
    fed : float or None
        Where no fuse guards the run: what can be fed into it [A].
    laid : LetThrough or None
        The fuse that was chosen for the conductor that is laid; None where none guards the run.
    refit : Refit or None
        Its fuse for another conductor.
    """

    run: Run
    needed: float | None
    needed_guard: float | None
    loadable: Callable[[Conductor, float], float]
    carries: float | None
    warming: float | None
    guards: Callable[[float], float]
    guards_well: Callable[[float], float]
    summed: Callable[[float], float]
    tap: float = 1.0
    least_parallel: float = 0.0
    surge: float | None = None
    volts: float | None = None
    drop_most: float | None = None
    surge_most: float | None = None
    fed: float | None = None
    kept: float | None = None
    laid: LetThrough | None = None
    refit: Refit | None = None
    parallel: int = attrs.field(init=False)
    together: float = attrs.field(init=False)
    length: float = attrs.field(init=False)

    @parallel.default
    def _(self) -> int:
        return self.run.parallel

    @together.default
    def _(self) -> float:
        """Return how many times the ampacity of one its conductors carry together."""
        return float(self.run.ampacity.m) / self.run.conductor.ampacity

    @length.default
    def _(self) -> float:
        return float(self.run.length.m)

    def fuse(self, conductor: Conductor, ampacity: float) -> LetThrough | None:
        """Return the fuse for a conductor; None where no fuse guards the run."""
        if self.refit is None or conductor is self.run.conductor:
            return self.laid
        return self.refit.fuse(conductor, ampacity)


def tried(duty: Duty, conductor: Conductor, *, well: bool = False) -> Iterator[Pair]:
    """Yield the name, value and limit of each test of a conductor, the cheap ones first.

    Parameters
    ----------
    well : bool
        Whether our margins count too: for advice, which should lead to no caution.
    """
    ampacity = conductor.ampacity * duty.together
    needed = duty.needed_guard if well else duty.needed
    yield CARRIES, needed, duty.loadable(conductor, ampacity)
    if duty.drop_most is not None:
        yield DROP, _drop(duty, conductor, ampacity, duty.carries), duty.drop_most
    if duty.surge_most is not None:
        yield SURGE, _drop(duty, conductor, ampacity, duty.surge), duty.surge_most
    if duty.parallel > 1 and duty.least_parallel:
        yield SMALL, conductor.area / duty.least_parallel, 1.0
    fuse = duty.fuse(conductor, ampacity)
    if fuse is None:
        yield GUARDED, duty.fed, ampacity
        return
    guarded = (duty.guards_well if well else duty.guards)(ampacity)
    yield GUARDED, fuse.size, guarded
    if well and duty.kept is not None and fuse.size is not None:
        yield GUARDED, duty.kept, fuse.size
    if fuse.others > 1:
        fed = None if fuse.size is None else fuse.others * fuse.size
        yield FED, fed, ampacity * duty.tap if duty.tap > 1 else duty.summed(ampacity)
    # A fault beyond the point where parallel conductors part flows in one of them alone.
    passed = fuse.weak_energy if well else fuse.energy
    yield WITHSTANDS, passed, withstand(conductor.withstand, conductor.area)


def passes(name: str, value: float | None, limit: float) -> bool | None:
    """Return whether a test is passed; None where its value is unknown."""
    if value is None:
        return None
    return inside(value, limit, at_least=name == SMALL)


def _drop(duty: Duty, conductor: Conductor, ampacity: float, current: float | None) -> float | None:
    """Return which share of the voltage is lost at a current; warm from what it carries."""
    if duty.warming is None or current is None or not duty.volts:
        return None
    celsius = operating_temperature(conductor.ambient, conductor.hottest, duty.warming, ampacity)
    ohms = conductor.ohm_per_metre * from_75(celsius)
    return voltage_drop(ohms, duty.length, current, duty.parallel) / duty.volts


def smallest(duty: Duty) -> tuple[Conductor | None, str]:
    """Return the smallest alternative that passes every test, and what the next thinner fails.

    A run left open should leave room for a string out and for our margins; where no size does,
    one that passes without is better than none. Where none passes, None and what the thickest
    fails.
    """
    found = _smallest(duty, well=True)
    if found[0] is None and duty.refit is not None and duty.refit.generous:
        duty = attrs.evolve(duty, refit=attrs.evolve(duty.refit, generous=False))
        found = _smallest(duty, well=True)
    return _smallest(duty, well=False) if found[0] is None else found


def allowed(duty: Duty) -> Conductor | None:
    """Return the smallest alternative that the rules and prints allow, whatever our margins ask."""
    if duty.refit is not None:
        duty = attrs.evolve(duty, refit=attrs.evolve(duty.refit, generous=False))
    return _smallest(duty, well=False)[0]


def _smallest(duty: Duty, *, well: bool) -> tuple[Conductor | None, str]:
    failed = ""
    for conductor in duty.run.alternatives:
        every = tried(duty, conductor, well=well)
        failing = next((name for name, value, limit in every if not passes(name, value, limit)), "")
        if not failing:
            return conductor, failed
        failed = failing
    return None, failed


def settled(build: Build, schedule: ProtectionSchedule) -> Build:
    """Return the build with every run left open at the smallest size that passes.

    A run whose sizes all fail keeps its thickest, and the findings on it speak. What comes back
    is the same build where nothing changes.
    """
    cabling = build.cabling
    runs: dict[str, Run] = {
        name: run
        for name in ("module_lead", "link", "main", "charger", "array")
        if (run := getattr(cabling, name)) is not None
    }
    new: dict[str, Any] = {name: _settled(run, schedule) for name, run in runs.items()}
    own = {name: _settled(run, schedule) for name, run in cabling.own.items()}
    before = [*runs.values(), *cabling.own.values()]
    if all(old is run for old, run in zip(before, [*new.values(), *own.values()], strict=True)):
        return build
    return attrs.evolve(build, cabling=attrs.evolve(cabling, own=own, **new))


def _settled(run: Run, schedule: ProtectionSchedule) -> Run:
    if not run.left_open:
        return run
    found = [choice for choice in schedule.cables if choice.run is run]
    if not found or any(choice.smallest is None for choice in found):
        return run
    widest = max(found, key=_area)
    chosen = widest.smallest
    assert chosen is not None  # noqa: S101  (asked above)
    decides = WORDS.get(widest.decided_by)
    why = f"{decides} decides" if decides else "the thinnest of its table"
    conductor = attrs.evolve(
        chosen,
        conditions=f"{chosen.conditions}; chosen by evpack: the smallest that passes, {why}",
    )
    if conductor == run.conductor:
        return run
    known = run.basis.of("conductor")  # conditions that nobody stated stay assumed
    basis = known if known is Basis.ASSUMED else Basis.COMPUTED
    return attrs.evolve(run, conductor=conductor, basis=run.basis.but(conductor=basis))


def _area(choice: CableChoice) -> float:
    return math.inf if choice.smallest is None else choice.smallest.area
