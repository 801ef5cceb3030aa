"""The protection schedule in plain text: fuses, cables, other devices, precharge, what to buy."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TypeVar

from evpack.base.finding import Severity
from evpack.base.worked import Worked
from evpack.outcome.design import SolarSide
from evpack.outcome.groundwork import Sharing
from evpack.outcome.protection import (
    CableChoice,
    CableTest,
    Circuit,
    FaultBand,
    FuseChoice,
    Need,
    PartLine,
    PrechargePlan,
    ProtectionSchedule,
)
from evpack.show.protection_words import (
    CABLE_TEST,
    SMALLEST,
    cable_name,
    cable_tone,
    cables_of,
    circuit_facts,
    circuit_lines,
    fuse_words,
    least_words,
    length_words,
    most_words,
    outcome_of,
    run_words,
    size_words,
)
from evpack.show.text_nouns import tell
from evpack.show.to_text import Page, how
from evpack.show.words import NOT_KNOWN, NOT_TO_BUY, SEVERITY, count_of, shown

T = TypeVar("T")


def _number(worked: Worked | None) -> str:
    return NOT_KNOWN if worked is None else shown(worked.value, worked.unit)


def _explained(numbers: Sequence[Worked | None], page: Page) -> None:
    for number in numbers:
        if number is not None:
            page.say(f"{number.name}: {_number(number)}", 4)
            how(number, page, 6)


@tell.register
def _(band: FaultBand, page: Page) -> None:
    page.pair(band.place, f"{most_words(band.low)} (least) to {least_words(band.high)} (most)")
    if band.assumed:
        page.say("The resistance of the modules is not known: the worst was taken for it.", 4)
    page.say(f"time constant (L/R): {_number(band.time_constant)}", 4)
    for number in (band.low, band.high, band.time_constant):
        if number is not None:
            how(number, page)


@tell.register
def _(fuse: FuseChoice, page: Page) -> None:
    page.pair(fuse.place, choice(fuse))
    page.say(
        f"rating between {least_words(fuse.lower)} and {most_words(fuse.upper)}; DC voltage "
        f"{least_words(fuse.voltage)} or more; must interrupt {least_words(fuse.interrupting)}",
        4,
        hang=6,
    )
    page.say(fuse.reason, 4, hang=6)
    if fuse.change:
        page.say(f"to make one fit: {fuse.change}", 4, hang=6)
    _explained((fuse.lower, fuse.upper, fuse.voltage, fuse.interrupting), page)


def choice(fuse: FuseChoice) -> str:
    """Return how many of which fuse, or that none fits or nobody can tell."""
    words = fuse_words(fuse)
    if fuse.size is None:
        return f"{words.glyph} {'no fuse fits' if words.tone == 'stop' else words.word}"
    family = "" if fuse.family is None else f", {fuse.family.name}"
    return f"{fuse.count} × {words.word}{family}"


@tell.register
def _(circuit: Circuit, page: Page) -> None:
    page.head(circuit.place)
    for name, value in circuit_facts(circuit):
        page.pair(name, value)
    for line in circuit_lines(circuit):
        tell(line, page)


@tell.register
def _(cable: CableChoice, page: Page) -> None:
    _cable_in_full((cable, None), page)


def _cable_in_full(row: tuple[CableChoice, Circuit | None], page: Page) -> None:
    _cable(row, page)
    for test in row[0].tests:
        tell(test, page)


def _cable(row: tuple[CableChoice, Circuit | None], page: Page) -> None:
    """Write a cable by its two ends, how it stands, and the smallest that would do."""
    cable, name = row[0], cable_name(*row)
    words = cable_tone(cable)
    if cable.run is None:
        page.say(f"{name}: {words.glyph} {words.word}", 2, hang=4)
    else:
        size = run_words(cable.run)
        long = length_words(cable.run.length.m)
        page.say(f"{name}: {cable.count} × {size}, {long}: {words.glyph} {words.word}", 2, hang=4)
    if cable.smallest is None:
        page.say(cable.reason, 4)
    else:
        decides = CABLE_TEST.get(cable.decided_by, cable.decided_by)
        why = f"; what decides: {decides}" if decides else ", the thinnest of its table"
        size = size_words(cable.smallest.size, cable.smallest.area)
        page.say(f"{SMALLEST}: {size}{why}", 4, hang=6)


@tell.register
def _(test: CableTest, page: Page) -> None:
    _test(test, page)
    for worked in (test.value, test.limit):
        if worked is not None:
            how(worked, page, 8)


def _test(test: CableTest, page: Page) -> None:
    words = outcome_of(test)
    page.say(f"{words.glyph} {words.word}  {words.sentence}", 4, hang=8)


@tell.register
def _(need: Need, page: Page) -> None:
    _need(need, page)
    for line in need.lines:
        how(line, page, 6)


def _need(need: Need, page: Page) -> None:
    page.say(f"{need.count} × {need.what}: {'; '.join(need.must) or NOT_KNOWN}", 2, hang=4)
    page.say(f"stated: {need.stated}" if need.stated else "? nothing is stated of it", 4)


@tell.register
def _(plan: PrechargePlan, page: Page) -> None:
    _precharge(plan, page)
    for line in (*plan.with_it, *plan.without):
        tell(line, page)


def _precharge(plan: PrechargePlan, page: Page) -> None:
    said = "as stated" if plan.stated else "as proposed, nothing is stated"
    page.say(f"{plan.count} × precharge of {plan.inverter}, {said}:", 2, hang=4)
    for lead, lines in (("with it", plan.with_it), ("without", plan.without)):
        if lines:
            numbers = "; ".join(f"{line.name} {_number(line)}" for line in lines)
            page.say(f"{lead}: {numbers}", 4, hang=6)
    if plan.reason:
        page.say(plan.reason, 4)


@tell.register
def _(side: SolarSide, page: Page) -> None:
    _side(side, page)
    for line in side.lines():
        how(line, page)


def _side(side: SolarSide, page: Page) -> None:
    numbers = "; ".join(f"{line.name} {_number(line)}" for line in side.lines())
    page.say(f"{side.array} on {side.charger}: {numbers or NOT_KNOWN}", 2, hang=4)


@tell.register
def _(part: PartLine, page: Page) -> None:
    metres = "" if part.metres is None else f", {length_words(part.metres)} in all"
    note = f" ({part.note})" if part.note else ""
    page.say(f"{part.count} × {part.function}: {part.rating}{metres}{note}", 2, hang=4)


def _parts(schedule: ProtectionSchedule, page: Page) -> None:
    if not schedule.parts:
        return
    page.gap()
    page.say("Bill of materials" + (" (provisional)" if schedule.withheld else ""), 2)
    for part in schedule.parts:
        tell(part, page)


def _head(schedule: ProtectionSchedule, page: Page) -> None:
    page.head("What protects it")
    if schedule.withheld:
        page.say(f"{SEVERITY[Severity.STOP].glyph} {NOT_TO_BUY}", 2, hang=4)


def _section(title: str, nouns: Sequence[T], write: Callable[[T, Page], None], page: Page) -> None:
    if nouns:
        page.gap()
        page.say(title, 2)
    for noun in nouns:
        write(noun, page)


def _cable_in_short(row: tuple[CableChoice, Circuit | None], page: Page) -> None:
    _cable(row, page)
    for test in row[0].tests:
        if test.passes is not True:
            _test(test, page)


@tell.register
def _(schedule: ProtectionSchedule, page: Page) -> None:
    _head(schedule, page)
    _section("Fuses", schedule.fuses, tell, page)
    _section("Cables", cables_of(schedule), _cable_in_full, page)
    for title, nouns in (
        ("Other devices", schedule.needs),
        ("Precharge", schedule.precharge),
        ("Current into a dead short", schedule.faults),
    ):
        _section(title, nouns, tell, page)
    _parts(schedule, page)


def solar_in_full(solar: Sequence[SolarSide], page: Page) -> None:
    """Write the solar side with its formulas; nothing where there is none."""
    if solar:
        page.head("What the sun gives")
    for side in solar:
        tell(side, page)


def in_short(
    schedule: ProtectionSchedule,
    sharing: Sharing | None,
    solar: Sequence[SolarSide],
    page: Page,
) -> None:
    """Write the schedule in short: every choice, of the tests only those that did not pass."""
    _head(schedule, page)
    if schedule.faults:
        worst = max((band.high for band in schedule.faults), key=lambda number: number.value)
        page.say(f"A dead short can draw up to {least_words(worst)}.", 2)
        page.gap()
    for fuse in schedule.fuses:
        page.say(f"{fuse.place}: {choice(fuse)}", 2, hang=4)
        change = f" To make one fit: {fuse.change}" if fuse.change else ""
        page.say(f"{fuse.reason}{change}", 4, hang=4)
    _section("Cables", cables_of(schedule), _cable_in_short, page)
    _section("Other devices", schedule.needs, _need, page)
    _section("Precharge", schedule.precharge, _precharge, page)
    _section("Solar side", solar, _side, page)
    _parts(schedule, page)
    if sharing is not None:
        page.gap()
        page.say(
            f"Of {count_of(sharing.strings, 'string')} the busiest carries {_number(sharing.worst)}"
            + ("." if sharing.one_out is None else f", {_number(sharing.one_out)} with one out."),
            2,
        )
