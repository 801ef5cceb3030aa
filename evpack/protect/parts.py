"""The bill of materials: what to buy, by function and never by brand.

Only what follows from the schedule stands here; what is not decided is "to be settled".
"""

from __future__ import annotations

from collections.abc import Iterator

from evpack.base.units import HEAT, RESISTANCE
from evpack.base.wording import say, say_up
from evpack.base.worked import Worked
from evpack.describe.build import Build
from evpack.describe.cabling import Run
from evpack.outcome.protection import (
    ARRAY,
    CHARGER,
    MAIN,
    STRING,
    CableChoice,
    FuseChoice,
    Need,
    PartLine,
    PrechargePlan,
    ProtectionSchedule,
)

TO_SETTLE = "to be settled"
_POLES = 2  # a run goes there and back
_ENDS = 2
# A solar line of this length needs surge protection at both ends [m]; as in beside.py.
_LONG = 10.0


def parts(build: Build, schedule: ProtectionSchedule) -> tuple[PartLine, ...]:
    """Return the lines of the bill, fuses first."""
    return (
        *(line for fuse in schedule.fuses for line in _fuse(fuse)),
        *(line for cable in schedule.cables for line in _cable(schedule, cable)),
        *(_need(need) for need in schedule.needs),
        *(_precharge(plan) for plan in schedule.precharge),
        *_isolators(schedule),
        *_surge(build, schedule),
    )


def _fuse(fuse: FuseChoice) -> Iterator[PartLine]:
    family = fuse.family
    if fuse.size is None or family is None or fuse.voltage is None or fuse.interrupting is None:
        yield PartLine(
            function=f"fuse: {fuse.place}",
            rating=TO_SETTLE,
            count=fuse.count,
            note="the protection schedule says why",
        )
        return
    volts, amps = at_least(fuse.voltage), at_least(fuse.interrupting)
    breaker = family.kind == "breaker"
    yield PartLine(
        function=f"{family.kind}: {fuse.place}",
        rating=f"{say(fuse.size, 'A')}, {family.name}; for {volts} DC or more, interrupts {amps} "
        "or more at that voltage",
        count=fuse.count,
        note="its print must say so" + ("; and one set of spares" if not breaker else ""),
    )
    if not breaker:
        yield PartLine(
            function=f"fuse holder: {fuse.place}",
            rating=f"for this fuse: {say(fuse.size, 'A')} or more, {volts} DC or more",
            count=fuse.count,
            note="with a cover",
        )


_WHERE = {
    STRING: "each string to the bus bars",
    MAIN: "bus bars to {device}",
    CHARGER: "{device} to the bus bars",
    ARRAY: "{device} to its charger",
}


def _cable(schedule: ProtectionSchedule, cable: CableChoice) -> Iterator[PartLine]:
    """Yield a cable and its ends; one inside a string has no circuit, and no way back."""
    circuit = next((c for c in schedule.circuits if c.place == cable.place), None)
    where = cable.place
    if circuit is not None:
        where = _WHERE[circuit.kind].format(device=circuit.device)
    lengths = cable.count * (1 if circuit is None else _POLES)
    if cable.run is None:
        yield PartLine(
            function=f"cable: {where}",
            rating=TO_SETTLE,
            count=lengths,
            note="it is not described in the build sheet",
        )
        return
    ends = "cable ends" if circuit is not None and circuit.kind == ARRAY else "cable lugs"
    yield from _laid(cable, cable.run, lengths * cable.run.parallel, where, ends)


def _laid(cable: CableChoice, run: Run, lengths: int, where: str, ends: str) -> Iterator[PartLine]:
    """Yield a cable that is described; a size that did not pass is not named as one to buy."""
    proven = bool(cable.tests) and all(test.passes for test in cable.tests)
    size = run.conductor.size
    unproven = "" if run.left_open else f"{size} is stated, and did not pass every test"
    yield PartLine(
        function=f"cable: {where}",
        rating=f"{size}, copper" if proven else TO_SETTLE,
        count=lengths,
        note="" if proven else unproven,
        metres=float(run.length.m) * lengths,
    )
    yield PartLine(
        function=f"{ends}: {where}",
        rating=f"for {size}" if proven else TO_SETTLE,
        count=_ENDS * lengths,
        note="and two for every fuse or switch that sits in a cable",
    )


def _need(need: Need) -> PartLine:
    return PartLine(
        function=need.what,
        rating="; ".join(need.must) or TO_SETTLE,
        count=need.count,
        note=f"stated: {need.stated}" if need.stated else "nothing is stated of it yet",
    )


def _precharge(plan: PrechargePlan) -> PartLine:
    ohms = next((w for w in plan.with_it if w.kind is RESISTANCE), None)
    # Filling takes the least of them; into a short it heats till the time-out.
    heats = [w for w in plan.with_it if w.kind is HEAT]
    heat = max(heats, key=lambda w: w.value, default=None)
    known = ohms is not None and heat is not None
    return PartLine(
        function=f"precharge resistor: {plan.inverter}",
        rating=f"{ohms}, stands {at_least(heat)} or more at once"  # type: ignore[arg-type]  # known
        if known
        else TO_SETTLE,
        count=plan.count,
        note="with its own small contactor or push button"
        if plan.stated
        else "proposed; with its own small contactor or push button",
    )


def _isolators(schedule: ProtectionSchedule) -> Iterator[PartLine]:
    """Yield a switch for each array, so that its charger can be worked on."""
    for circuit in schedule.circuits:
        if circuit.kind != ARRAY:
            continue
        volts, amps = circuit.voltage, circuit.carries
        known = volts is not None and amps is not None
        yield PartLine(
            function=f"switch: {circuit.device} off its charger",
            rating=f"{at_least(volts)} DC and {at_least(amps)} or more, opens plus and minus "  # type: ignore[arg-type]  # known
            "under load"
            if known
            else TO_SETTLE,
            count=circuit.units,
            note="within sight of the charger",
        )


def _surge(build: Build, schedule: ProtectionSchedule) -> Iterator[PartLine]:
    """Yield surge protective devices for long solar lines; an unknown length counts as long."""
    fitted = build.safeguards.surge_protection
    for circuit in schedule.circuits:
        if circuit.kind != ARRAY or (circuit.run is not None and circuit.run.length.m <= _LONG):
            continue
        volts = circuit.voltage
        yield PartLine(
            function=f"surge protective device: {circuit.device}",
            rating=TO_SETTLE if volts is None else f"for DC of {at_least(volts)} or more",
            count=_ENDS,
            note="one at each end of the line" + ("; stated as fitted" if fitted else ""),
        )


def at_least(worked: Worked) -> str:
    """Write a number that a part must reach, rounded up."""
    return say_up(worked.value, worked.unit)
