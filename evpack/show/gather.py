"""What a page gathers from all over a design: the explained numbers, and what was assumed."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Iterator

import attrs

from evpack.base.errors import EvpackError
from evpack.base.finding import Finding, Severity
from evpack.base.source import IN_WORDS, Seen
from evpack.base.units import ENERGY
from evpack.base.worked import Input, Worked
from evpack.load.tables import source
from evpack.outcome.design import Decision, Design, UsableWindow
from evpack.outcome.groundwork import Sharing
from evpack.outcome.protection import ProtectionSchedule
from evpack.show.clean import clean
from evpack.show.words import count_of


def usable_lines(usable: UsableWindow) -> tuple[Worked, ...]:
    """Return the energies of a usable window in the order a person asks for them."""
    usable = usable.told
    every = (
        usable.reachable_ac,
        usable.everyday_ac,
        usable.from_float_ac,
        usable.reserve_ac,
        usable.total,
        usable.reachable,
        usable.share,
        usable.everyday,
        usable.from_float,
        usable.reserve,
        usable.stranded_above,
        usable.stranded_below,
        usable.lost_inside,
    )
    return tuple(line for line in every if line is not None)


def sharing_lines(sharing: Sharing) -> tuple[Worked, ...]:
    """Return the currents of parallel strings."""
    every = (sharing.total, sharing.even, sharing.worst, sharing.one_out)
    return tuple(line for line in every if line is not None)


def protection_lines(schedule: ProtectionSchedule) -> tuple[Worked, ...]:
    """Return every explained number of a protection schedule."""
    every: list[Worked | None] = []
    for band in schedule.faults:
        every += [band.low, band.high, band.time_constant]
    for circuit in schedule.circuits:
        every += [circuit.carries, circuit.surge, circuit.least_fault]
    for fuse in schedule.fuses:
        every += [fuse.lower, fuse.upper, fuse.voltage, fuse.interrupting]
    for cable in schedule.cables:
        every += [number for test in cable.tests for number in (test.value, test.limit)]
    for needed in schedule.needs:
        every += needed.lines
    for plan in schedule.precharge:
        every += [*plan.with_it, *plan.without]
    return tuple(number for number in every if number is not None)


def worked_of(design: Design) -> Iterator[Worked]:
    """Yield every explained number of a design."""
    if design.figures is not None:
        yield from design.figures.lines()
    if design.usable is not None:
        yield from usable_lines(design.usable)
    if design.settings is not None:
        for device in design.settings.devices:
            yield from (line.worked for line in device.lines if line.worked is not None)
    if design.sharing is not None:
        yield from sharing_lines(design.sharing)
    for side in design.solar:
        yield from side.lines()
    if design.protection is not None:
        yield from protection_lines(design.protection)


def passes(design: Design) -> tuple[Finding, ...]:
    """Return the findings that passed."""
    return design.of(Severity.OK)


def notes(design: Design) -> tuple[Finding, ...]:
    """Return the findings that are only worth knowing."""
    return design.of(Severity.NOTE)


@attrs.frozen
class WayOut:
    """One thing to do, and all the findings that it would clear."""

    remedy: str
    findings: tuple[Finding, ...]


def ways_out(findings: Iterable[Finding]) -> tuple[WayOut, ...]:
    """Return what is to be done about findings, each thing once, the gravest first.

    A finding without a remedy stands for itself.
    """
    found: dict[tuple[Severity, str, int], list[Finding]] = {}
    for k, finding in enumerate(sorted(findings, key=lambda f: -f.severity)):
        key = (finding.severity, finding.remedy, 0 if finding.remedy else k)
        found.setdefault(key, []).append(finding)
    return tuple(WayOut(remedy, tuple(same)) for (_, remedy, _), same in found.items())


@attrs.frozen
class Missing:
    """What the build sheet does not say: by the thing that it is of, what to find out.

    `follow` are the unknowns that clear by themselves once the rest is said.
    """

    asked: dict[str, tuple[WayOut, ...]]
    follow: tuple[Finding, ...]


def missing_in(decision: Decision) -> Missing:
    """Return what is missing from the build sheet.

    An unknown whose way out is to clear other findings only follows from them.
    """
    unknown = [f for f in decision.held_by if f.severity is Severity.UNKNOWN]
    follow = [f for f in unknown if "finding" in f.remedy]
    if len(follow) == len(unknown):
        follow = []
    things: dict[str, list[WayOut]] = {}
    for way in ways_out(f for f in unknown if f not in follow):
        things.setdefault(", ".join(dict.fromkeys(f.about for f in way.findings)), []).append(way)
    return Missing({thing: tuple(ways) for thing, ways in things.items()}, tuple(follow))


def stops(decision: Decision) -> tuple[Finding, ...]:
    """Return the findings that hold a decision up and are no mere lack of knowledge."""
    return tuple(f for f in decision.held_by if f.severity is not Severity.UNKNOWN)


def arrangement(design: Design) -> str:
    """Return the pack in one line of plain words."""
    pack = design.build.pack
    return (
        f"{count_of(pack.modules, 'module')} '{clean(pack.module.name)}' "
        f"({pack.module.chemistry.name}): {pack.modules_in_series} in series, "
        f"{count_of(pack.strings, 'string')} in parallel; "
        f"{count_of(pack.cells_in_series, 'cell')} in series end to end"
    )


_IN_WORDS = re.compile(r"(solve|read|integral|sum)\b:?\s*")


def formula_words(worked: Worked) -> tuple[str, str]:
    """Return the formula in symbols, and with its numbers; each may be empty.

    What is no number is not written as one. A formula told in words needs its symbols only where
    the numbers are not put in their places.
    """
    spoken = _IN_WORDS.match(worked.formula)
    if spoken is not None:
        numbers, _, _ = worked.numbers.rpartition(" = ")
        return "", numbers[spoken.end() if spoken[1] == "read" else 0 :]
    if not math.isfinite(worked.value) or worked.between is not None:
        return worked.symbols, ""
    numbers, _, result = worked.numbers.rpartition(" = ")
    return worked.symbols, result if numbers == result else worked.numbers


def inputs_told(worked: Worked) -> tuple[Input, ...]:
    """Return the inputs to tell of a number: of one that is only about right, no energies.

    They are only about right too, and would be told with digits that nobody knows.
    """
    return tuple(i for i in worked.inputs if worked.between is None or i.unit != ENERGY.unit)


def working_band(design: Design) -> tuple[float, float] | None:
    """Return between which voltages the pack works as it is set [V]; None: not settled."""
    sheet = design.settings
    if sheet is None or sheet.withheld:
        return None
    low, high = sheet.thresholds.cut_off, sheet.thresholds.charge
    return None if low is None or high is None else (low, high)


def missing(what: str) -> str:
    """Return the sentence that stands where a part of the design could not be worked out."""
    return (
        f"{what} could not be worked out for this build. "
        "The stops and unknowns of this design say what is in the way."
    )


def source_words(key: str) -> str:
    """Return where a number comes from, in words; the key itself where the library lacks it."""
    if not key:
        return "no source"
    try:
        found = source(key)
    except (EvpackError, OSError):
        return clean(key)
    seen = "" if found.seen in _PLAIN else f" ({IN_WORDS[found.seen]})"
    edition = f", {found.edition}" if found.edition else ""
    return clean(f"{found.title}{edition}{seen}")


# Of these the title already says that no document stands behind them.
_PLAIN = (Seen.PRACTICE, Seen.COMPUTED)
