"""What a page gathers from all over a design: the explained numbers, and what was assumed."""

from __future__ import annotations

import re
from collections.abc import Iterator

from evpack.base.basis import Basis
from evpack.base.errors import EvpackError
from evpack.base.finding import Finding, Severity
from evpack.base.source import IN_WORDS, Seen
from evpack.base.worked import Worked
from evpack.load.sources import source
from evpack.outcome.design import Design
from evpack.outcome.protection import ProtectionSchedule
from evpack.outcome.sharing import Sharing
from evpack.outcome.usable import UsableWindow
from evpack.show.clean import clean
from evpack.show.words import count_of, shown


def usable_lines(usable: UsableWindow) -> tuple[Worked, ...]:
    """Return the energies of a usable window in the order a person asks for them."""
    every = (
        usable.total,
        usable.reachable,
        usable.share,
        usable.everyday,
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
    every = [number for band in schedule.faults for number in (band.low, band.high)]
    for fuse in schedule.fuses:
        every += [fuse.lower, fuse.upper, fuse.voltage, fuse.interrupting]
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
    if design.protection is not None:
        yield from protection_lines(design.protection)


def assumed_in(design: Design) -> tuple[tuple[str, str], ...]:
    """Return every assumed input once, as a pair: what it is, and its value where known."""
    found: dict[str, str] = {}
    for number in worked_of(design):
        for given in number.inputs:
            if given.basis is Basis.ASSUMED and not found.get(given.means):
                found[given.means] = shown(given.value, given.unit)
    for finding in design.findings:
        for means in finding.assumed:
            found.setdefault(means, "")
    return tuple(found.items())


def passes(design: Design) -> tuple[Finding, ...]:
    """Return the findings that passed."""
    return design.of(Severity.OK)


def notes(design: Design) -> tuple[Finding, ...]:
    """Return the findings that are only worth knowing."""
    return design.of(Severity.NOTE)


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

    A formula told in words needs its symbols only where the numbers are not put in their places,
    and one of a single symbol would only repeat the value.
    """
    numbers, _, result = worked.numbers.rpartition(" = ")
    spoken = _IN_WORDS.match(worked.formula)
    if spoken is not None:
        skip = spoken.end() if spoken[1] == "read" else 0
        return "", numbers[skip:]
    return worked.symbols, "" if numbers == result else f"{numbers} = {result}"


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
