"""How a conductor does on its circuit, in plain numbers, and the smallest that passes every test.

The conductor that is laid and those that might be are judged by the same lines here; what is laid
is then explained in `cables.py`.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from typing import Any

import attrs

from evpack.base.basis import Basis
from evpack.base.finding import inside
from evpack.base.units import CURRENT
from evpack.describe.build import Build
from evpack.describe.cabling import Conductor, Run
from evpack.describe.fuses import FuseCatalogue, FuseFamily
from evpack.kernels.conductor import (
    LONGEST_ADIABATIC,
    from_75,
    operating_temperature,
    voltage_drop,
    withstand,
)
from evpack.outcome.circuits import Circuit
from evpack.outcome.protection import CableChoice, ProtectionSchedule
from evpack.protect.choice import family_for, size_between

CARRIES, GUARDED, DROP = "carries", "guarded", "drop"
SURGE, WITHSTANDS, SMALL = "drop on surge", "withstands", "small conductor"

WORDS = {
    CARRIES: "what it carries",
    GUARDED: "its fuse",
    DROP: "voltage drop",
    SURGE: "voltage drop on surge",
    WITHSTANDS: "what its fuse lets through",
    SMALL: "the least size to lay in parallel",
}

# Smallest conductor that may be laid in parallel [mm²]: 1/0 AWG, which has 53.5 (NEC 310.10(G),
# from memory).
PARALLEL_FROM = 53.0

# From this many times its rating a full-range fuse clears within 5 s. Common practice, no source;
# for gG links the gates of their size are taken instead. Time-delay links of classes J and RK hold
# five times their rating for 10 s (UL 248, from memory), and take eight.
_QUICK_TIMES = 5.0
_SLOW_TIMES = 8.0
# Breakers trip at once from 5 to 10 times their rating on AC, and up to 1.5 times that on DC;
# below it they open thermally, in tens of seconds. From memory.
_BREAKER_TIMES = 15.0


def clears_at(family: FuseFamily, size: float) -> float:
    """Return the current from which on a fuse or breaker of a size clears within 5 s [A].

    A fuse of which nobody said how it melts is taken as the slowest; of a breaker, what trips it
    at once.
    """
    if family.kind == "breaker":
        trip = family.instantaneous_trip
        return _BREAKER_TIMES * size if trip is None else float(trip.m)
    slow = family.characteristic in {"", "time-delay"}
    return (_SLOW_TIMES if slow else _QUICK_TIMES) * size


# What a fuse lets through in all against what melts it, arc included. Common practice, no source.
CLEARING_PART = 2.0

Pair = tuple[str, float | None, float]  # name, value and limit of a test


@attrs.frozen(kw_only=True)
class LetThrough:
    """What the fuse of a cable lets through.

    A fuse-link melts with the less I²t the larger the current is. So at any fault current that
    melts it within `seconds`, it passes no more than at the least of those, `current`; the arc
    at the high end is added in `most`.

    Parameters
    ----------
    size : float or None
        Its rating [A]; None: no fuse fits, or something is unknown.
    current : float or None
        What melts it within `seconds` for sure [A]; None where the lowest fault current is less,
        or unknown.
    most : float or None
        I²t that it lets through at the high end [A²s]; 0: no more than at the low end; None is
        unknown (a breaker, which limits no current).
    basis : Basis
        How that is known.
    """

    size: float | None = None
    current: float | None = None
    seconds: float = LONGEST_ADIABATIC
    most: float | None = 0.0
    basis: Basis = Basis.ASSUMED

    @property
    def energy(self) -> float | None:
        """Return the most I²t that passes before the fuse has cleared [A²s]; None is unknown."""
        if self.current is None or self.most is None:
            return None
        return max(self.current**2 * self.seconds, self.most)


def let_through(
    catalogue: FuseCatalogue, family: FuseFamily | None, size: float | None, least: float | None
) -> LetThrough:
    """Return what a fuse lets through, if the least fault current is `least` [A]."""
    if family is None or size is None:
        return LetThrough()
    steps: list[tuple[float, float]] = [(LONGEST_ADIABATIC, clears_at(family, size))]
    most, basis = 0.0, Basis.ASSUMED
    if family.characteristic == "gG":
        # A size between two of the table melts no later than the next larger one.
        gate = catalogue.slower_gate(family, size)
        steps, basis = [], Basis.DATASHEET
        if gate is not None:
            steps = [(0.1, gate.melts_100ms), (LONGEST_ADIABATIC, gate.melts_5s)]
            most = CLEARING_PART * gate.clearing
    given: float | None = most
    if family.clearing is not None:
        given = float(family.clearing.m)
    elif family.kind == "breaker":
        given = None
    reached = ((s, a) for s, a in steps if least is not None and least >= a)
    seconds, current = next(reached, (LONGEST_ADIABATIC, None))
    return LetThrough(size=size, current=current, seconds=seconds, most=given, basis=basis)


@attrs.frozen(kw_only=True)
class Refit:
    """The fuse of a circuit chosen anew for another conductor; a number that is None is unknown.

    Parameters
    ----------
    others : float or None
        What else its rating must guard [A]; infinite: nothing else.
    generous : bool
        Whether the conductor must leave room for the better rating, the one with which a string
        may be out: asked of runs that are left open.
    interrupting, least : function
        The most that it must break and the least that it must clear, by conductor [A].
    """

    circuit: Circuit
    catalogue: FuseCatalogue
    others: float | None
    generous: bool
    interrupting: Callable[[Conductor], float | None]
    least: Callable[[Conductor], float | None]

    def fuse(self, conductor: Conductor, bound: float) -> LetThrough:
        """Return the fuse that `choice.choose` would name for a conductor of a bound [A]."""
        circuit, breaking = self.circuit, self.interrupting(conductor)
        lower, voltage = circuit.lower, circuit.voltage
        if lower is None or voltage is None or self.others is None or breaking is None:
            return LetThrough()
        upper = min(bound, self.others)
        sizes = self.catalogue.sizes_of(circuit.wanted)
        size = size_between(sizes, lower.value, upper)
        if size is None:
            return LetThrough()
        if circuit.better is not None:
            more = max(lower.value, circuit.better.value)
            larger = size_between(sizes, more, upper)
            if larger is None and self.generous and size_between(sizes, more, self.others):
                return LetThrough()
            size = larger or size
        family, _ = family_for(
            self.catalogue,
            circuit.wanted,
            size,
            voltage.quantity,
            CURRENT.of(breaking),
            as_gg=circuit.as_gg,
        )
        return let_through(self.catalogue, family, size, self.least(conductor))


@attrs.frozen(kw_only=True)
class Duty:
    """What a cable has to do, whatever its size: plain numbers; None is unknown.

    Parameters
    ----------
    needed : float or None
        What it must carry, factors included [A].
    carries, warming : float or None
        What it carries for good, and the same with ripple, which warms it [A].
    guards : function
        The highest fuse rating that guards it, by what it carries [A].
    surge : float or None
        What it carries for seconds [A].
    volts : float or None
        What the voltage drop is a share of [V].
    drop_most, surge_most : float or None
        The shares that may be lost; None: not tested.
    fed : float or None
        Where no fuse guards the run: what can be fed into it [A].
    laid : LetThrough or None
        The fuse that was chosen for the conductor that is laid; None where none guards the run.
    refit : Refit or None
        Its fuse for another conductor.
    """

    run: Run
    needed: float | None
    carries: float | None
    warming: float | None
    guards: Callable[[float], float]
    surge: float | None = None
    volts: float | None = None
    drop_most: float | None = None
    surge_most: float | None = None
    fed: float | None = None
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
        return self.refit.fuse(conductor, self.guards(ampacity))


def tried(duty: Duty, conductor: Conductor) -> Iterator[Pair]:
    """Yield the name, value and limit of each test of a conductor, the cheap ones first."""
    ampacity = conductor.ampacity * duty.together
    yield CARRIES, duty.needed, ampacity
    if duty.drop_most is not None:
        yield DROP, _drop(duty, conductor, ampacity, duty.carries), duty.drop_most
    if duty.surge_most is not None:
        yield SURGE, _drop(duty, conductor, ampacity, duty.surge), duty.surge_most
    if duty.parallel > 1:
        yield SMALL, conductor.area / PARALLEL_FROM, 1.0
    fuse = duty.fuse(conductor, ampacity)
    if fuse is None:
        yield GUARDED, duty.fed, ampacity
        return
    yield GUARDED, fuse.size, duty.guards(ampacity)
    # A fault beyond the point where parallel conductors part flows in one of them alone.
    yield WITHSTANDS, fuse.energy, withstand(conductor.withstand, conductor.area)


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

    A run left open should leave room for a string out; where no size does, one that passes without
    it is better than none. Where none passes, None and what the thickest fails.
    """
    found = _smallest(duty)
    if found[0] is None and duty.refit is not None and duty.refit.generous:
        return _smallest(attrs.evolve(duty, refit=attrs.evolve(duty.refit, generous=False)))
    return found


def _smallest(duty: Duty) -> tuple[Conductor | None, str]:
    failed = ""
    for conductor in duty.run.alternatives:
        every = tried(duty, conductor)
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
