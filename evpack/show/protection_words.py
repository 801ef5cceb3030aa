"""The wording of fuses and cables that every page, picture and terminal print shares."""

from __future__ import annotations

import math
from collections.abc import Callable

from evpack.base.wording import number, say, say_down, say_up
from evpack.base.worked import Worked
from evpack.describe.cabling import Run
from evpack.outcome.protection import (
    CableChoice,
    CableTest,
    Circuit,
    FuseChoice,
    ProtectionSchedule,
)
from evpack.show.facts import not_chosen
from evpack.show.words import NOT_KNOWN, Words, shown

# What a test of a cable asks, by its name; and what stands before its value and its limit.
CABLE_TEST = {
    "carries": "current for good",
    "guarded": "guarded by its fuse",
    "drop": "voltage drop",
    "drop on surge": "voltage drop on a surge",
    "withstands": "stands a short",
    "small conductor": "thick enough to lie in parallel",
}
_BEFORE = {
    "carries": ("must carry", "carries"),
    "guarded": ("its fuse", "may be at most"),
    "drop": ("lost", "allowed"),
    "drop on surge": ("lost", "allowed"),
    "withstands": ("its fuse lets through", "it stands"),
    "small conductor": ("of the least size that may", "needed"),
}
# The fuse is chosen anew for each size: a thinner cable also lets less flow into a short.
SMALLEST = "Smallest that passes every test, with the fuse that would then guard it"


def least_words(worked: Worked | None) -> str:
    """Write a value that must be reached, rounded up; or that it is not known."""
    return _to_safe_side(worked, say_up)


def most_words(worked: Worked | None) -> str:
    """Write a value that must not be passed, rounded down; or that it is not known."""
    return _to_safe_side(worked, say_down)


def _to_safe_side(worked: Worked | None, how: Callable[[float, str], str]) -> str:
    if worked is None:
        return NOT_KNOWN
    if not math.isfinite(worked.value):
        return shown(worked.value, worked.unit)
    return how(worked.value, worked.unit)


_FOOT = 0.3048
_LONG = 30.0  # [m]; above, whole feet
_KCMIL = 0.506707  # [mm²]: a thousand circles of a mil in diameter


def length_words(metres: float) -> str:
    """Write a length in metres and in feet.

    Examples
    --------
    >>> length_words(1.8)
    '1.8 m (5.9 ft)'
    """
    return f"{say(metres, 'm')} ({number(metres / _FOOT, 2 if metres < _LONG else 3)} ft)"


def size_words(size: str, area: float) -> str:
    """Write the size of a conductor with its cross-section the other way round.

    A metric size stands with the gauge that it is not thinner than.

    Examples
    --------
    >>> size_words("2/0 AWG", 67.4), size_words("70 mm2", 70.0), size_words("150 mm2", 150.0)
    ('2/0 AWG (67.4 mm²)', '70 mm² (over 2/0 AWG)', '150 mm² (over 296 kcmil)')
    """
    if not size.endswith(("mm2", "mm²")):
        return f"{size} ({number(area, 3)} mm²)"
    # Gauge n is 0.127 mm · 92^((36 − n) / 39) thick (ASTM B258, from memory).
    gauge = 36 - 39 * math.log(math.sqrt(4 * area / math.pi) / 0.127, 92)
    thinner = math.ceil(gauge - 1e-9)
    if thinner < -3:  # noqa: PLR2004  thicker than 4/0, which is gauge −3
        other = f"{math.floor(area / _KCMIL)} kcmil"
    else:
        other = f"{thinner if thinner > 0 else f'{1 - thinner}/0'} AWG"
    return f"{size.replace('mm2', 'mm²')} (over {other})"


def outcome_of(test: CableTest) -> Words:
    """Return glyph, word, sentence and tone of one test of a cable: a value beside its limit."""
    glyph, word, tone = {
        True: ("✓", "passes", "ok"),
        False: ("✕", "fails", "stop"),
        None: ("?", "not known", "unknown"),
    }[test.passes]
    name = CABLE_TEST.get(test.name, test.name)
    usual = ("it is", "at least" if test.at_least else "at most")
    before, limit_is = _BEFORE.get(test.name, usual)
    rounded = (most_words, least_words) if test.at_least else (least_words, most_words)
    value, limit = rounded[0](test.value), rounded[1](test.limit)
    return Words(glyph, word, f"{name}: {before} {value}, {limit_is} {limit}", tone)


def cable_tone(cable: CableChoice) -> Words:
    """Return how a cable stands: the worst of its tests; untested is not passed."""
    if cable.run is None:
        return Words("?", "cable not known", "The cable is not described.", "unknown")
    if not_chosen(cable.run):
        return Words("?", "size not settled", "No size of the tables is settled.", "unknown")
    if any(test.passes is False for test in cable.tests):
        return Words("✕", "fails", "It fails a test.", "stop")
    if not cable.tests or any(test.passes is None for test in cable.tests):
        return Words("?", "not settled", "Not every test could be made.", "unknown")
    return Words("✓", "passes", "It passes every test.", "ok")


def fuse_words(fuse: FuseChoice) -> Words:
    """Return glyph and words of a choice of fuse: its size, none fits, or not settled."""
    if fuse.size is not None:
        return Words("", shown(fuse.size, "A"), fuse.reason, "ok")
    bounds = (fuse.lower, fuse.upper, fuse.voltage, fuse.interrupting)
    if None in bounds:
        return Words("?", "cannot tell yet", fuse.reason, "unknown")
    return Words("✕", "none fits", fuse.reason, "stop")


def run_words(run: Run) -> str:
    """Write what a cable is, and how many lie side by side for each pole."""
    if not_chosen(run):
        return "size left open, none settled"
    size = size_words(run.conductor.size, run.conductor.area)
    return size if run.parallel == 1 else f"{run.parallel} × {size} side by side"


def rows_of(
    schedule: ProtectionSchedule,
) -> tuple[tuple[Circuit, FuseChoice | None, CableChoice | None], ...]:
    """Return every circuit with its fuse and its cable; None where there is none."""
    cables = {cable.place: cable for cable in schedule.cables}
    return tuple((c, schedule.fuse_of(c), cables.get(c.place)) for c in schedule.circuits)


def cables_of(schedule: ProtectionSchedule) -> tuple[tuple[CableChoice, Circuit | None], ...]:
    """Return every cable with its circuit; those inside a string have none of their own."""
    circuits = {circuit.place: circuit for circuit in schedule.circuits}
    return tuple((cable, circuits.get(cable.place)) for cable in schedule.cables)


def cable_name(cable: CableChoice, circuit: Circuit | None) -> str:
    """Return what a cable is called: its two ends, where it has a circuit of its own."""
    return cable.place if circuit is None else f"{circuit.source} to {circuit.end}"


def circuit_facts(circuit: Circuit) -> tuple[tuple[str, str], ...]:
    """Return what is told of a circuit in words."""
    run = circuit.run
    cable = NOT_KNOWN
    if run is not None:
        cable = f"{run_words(run)}, {length_words(run.length.m)}"
    return (
        ("from", circuit.source),
        ("to", circuit.end),
        ("how many alike", str(circuit.count)),
        ("cable", cable),
        ("fuse", "needed" if circuit.needs_fuse else f"none needed: {circuit.no_fuse}"),
    )


def circuit_lines(circuit: Circuit) -> tuple[Worked, ...]:
    """Return every number of a circuit that is known."""
    every = (
        circuit.carries,
        circuit.surge,
        circuit.lower,
        circuit.better,
        circuit.upper,
        circuit.voltage,
        circuit.interrupting,
        circuit.least_fault,
    )
    return tuple(line for line in every if line is not None)
