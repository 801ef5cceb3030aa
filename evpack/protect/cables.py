"""The cable of every circuit: its tests, and the smallest size that would pass them all."""

from __future__ import annotations

from collections.abc import Mapping

from evpack.base.finding import Finding
from evpack.describe.cabling import Conductor, Run
from evpack.describe.safeguards import FuseCatalogue
from evpack.outcome.design import SolarSide
from evpack.outcome.groundwork import Groundwork
from evpack.outcome.protection import ARRAY, CableChoice, CableTest, Circuit, FuseChoice
from evpack.protect.cable_rules import findings, not_described, unequal_leads
from evpack.protect.cable_words import Cable, limit_of, needed_of, value_of
from evpack.protect.duties import Installation, circuit_duty, faults_of, link_duty
from evpack.protect.sizing import (
    CARRIES,
    DROP,
    FED,
    GUARDED,
    SMALL,
    SURGE,
    WITHSTANDS,
    WORDS,
    allowed,
    passes,
    smallest,
    tried,
)

LINKS = "links between the modules of a string"
_ORDER = (CARRIES, GUARDED, FED, DROP, SURGE, WITHSTANDS, SMALL)


def cables(
    ground: Groundwork,
    circuits: tuple[Circuit, ...],
    fuses: Mapping[str, FuseChoice],
    catalogue: FuseCatalogue,
    solar: tuple[SolarSide, ...] = (),
) -> tuple[tuple[CableChoice, ...], tuple[Finding, ...]]:
    """Return the cable of every circuit and what was found; `fuses` are by their place.

    The cables between the modules of a string, where there are any, come last: their circuit is
    that of the strings.
    """
    whole = Installation(
        ground=ground, fuses=fuses, catalogue=catalogue, solar=solar, faults=faults_of(ground)
    )
    laid = [(circuit, _of(whole, circuit)) for circuit in circuits]
    strings, link = circuits[0], ground.build.cabling.link
    if link is not None and ground.build.pack.modules_in_series > 1:
        laid.append((strings, _link(whole, strings, link)))
    choices: list[CableChoice] = []
    found: list[Finding] = []
    for circuit, cable in laid:
        if cable is None:
            choices.append(_undescribed(circuit))
            found.append(not_described(circuit))
            continue
        choice = _choice(ground, cable, catalogue)
        choices.append(choice)
        found += findings(ground, cable, choice)
    if strings.run is not None and strings.count > 1:
        guessed = ground.build.pack.module.resistance is None
        own = whole.faults.strong + whole.faults.links
        found.append(unequal_leads(ground, strings, strings.run, own, guessed=guessed))
    return tuple(choices), tuple(found)


def _of(whole: Installation, circuit: Circuit) -> Cable | None:
    """Return the cable of a circuit with what it has to do; None where it is not described."""
    run = circuit.run
    if run is None:
        return None
    needed = needed_of(whole.ground, circuit)
    return Cable(
        place=circuit.place,
        about=f"cable from {circuit.source} to {circuit.end}",
        key=circuit.run_key,
        count=_alike(circuit),
        run=run,
        circuit=circuit,
        needed=needed,
        volts=whole.volts(circuit),
        fuse=whole.fuse(circuit),
        duty=circuit_duty(whole, circuit, run, needed),
    )


def _link(whole: Installation, strings: Circuit, run: Run) -> Cable:
    needed, pack = needed_of(whole.ground, strings), whole.ground.build.pack
    return Cable(
        place=LINKS,
        about=LINKS,
        key="[cabling.link]",
        count=pack.strings * (pack.modules_in_series - 1),
        run=run,
        circuit=strings,
        needed=needed,
        volts=None,
        fuse=whole.fuse(strings),
        duty=link_duty(whole, strings, run, needed),
    )


def _alike(circuit: Circuit) -> int:
    """Return how many cables a circuit stands for; the strings of an array share one."""
    return circuit.units if circuit.kind == ARRAY else circuit.count


def _undescribed(circuit: Circuit) -> CableChoice:
    return CableChoice(
        place=circuit.place,
        count=_alike(circuit),
        run=None,
        tests=(),
        smallest=None,
        decided_by="",
        reason="It is not described.",
    )


def _choice(ground: Groundwork, cable: Cable, catalogue: FuseCatalogue) -> CableChoice:
    """Return the tests of the conductor that is laid, explained, and the smallest that passes."""
    numbers = {
        name: (value, limit) for name, value, limit in tried(cable.duty, cable.run.conductor)
    }
    tests = []
    for name in _ORDER:
        if name not in numbers:
            continue
        value, limit = numbers[name]
        tests.append(
            CableTest(
                name=name,
                value=None if value is None else value_of(ground, cable, name, value, catalogue),
                limit=limit_of(ground, cable, name),
                passes=passes(name, value, limit),
                at_least=name == SMALL,
            )
        )
    least, failed = smallest(cable.duty)
    return CableChoice(
        place=cable.place,
        count=cable.count,
        run=cable.run,
        tests=tuple(tests),
        smallest=least,
        decided_by="" if least is None else failed,
        reason=_reason(cable.run, least, failed),
        allowed=allowed(cable.duty) if any(t.passes is False for t in tests) else None,
    )


def _reason(run: Run, least: Conductor | None, failed: str) -> str:
    if not run.alternatives:
        return "Other sizes were not looked up."
    if least is None:
        return (
            "No size of the tables passes every test under these conditions: with the thickest, "
            f"{WORDS[failed]} is not settled."
        )
    if not failed:
        return f"{least.size}, the thinnest of its table, passes every test."
    return f"{least.size} is the smallest that passes every test; {WORDS[failed]} decides."
