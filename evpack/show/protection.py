"""What protects a pack, put together: its circuits, fault levels, and the whole schedule."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from evpack.base.worked import Worked
from evpack.outcome.design import Design, SolarSide
from evpack.outcome.protection import Circuit, FaultBand, ProtectionSchedule
from evpack.show.cables import cable_table, cables_of, length_words, rows_of, run_words
from evpack.show.devices import need_table, parts_table, precharge_numbers, solar_table
from evpack.show.doc import (
    Banner,
    Block,
    Column,
    Detail,
    Doc,
    Doubt,
    Explained,
    Figure,
    Line,
    Numbers,
    Para,
    Row,
    Table,
    document,
    least,
    most,
)
from evpack.show.draw.one_line import one_line_svg
from evpack.show.fuses import count_line, fuse_table
from evpack.show.pieces import not_worked_out
from evpack.show.words import NOT_KNOWN, NOT_TO_BUY

# --- Circuits -------------------------------------------------------------------------------------


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


@document.register
def _(circuit: Circuit) -> Doc:
    facts = (Line(name, value) for name, value in circuit_facts(circuit))
    yield Numbers((*facts, *circuit_lines(circuit)), circuit.place)


# --- Fault levels ---------------------------------------------------------------------------------

_FAULTS = (
    Column("place", 40),
    Column("at least", 20, number=True),
    Column("at most", 20, number=True),
    Column("time constant", 20, number=True),
)


def fault_table(faults: Sequence[FaultBand]) -> Doc:
    """Yield the fault levels, both ends rounded to the safe side."""
    yield Table(_FAULTS, map(_fault, faults), "Fault levels: current into a dead short")
    yield Para(
        "The least fault current must still open the fuse quickly; the most must not burst it. The "
        "time constant (L/R) says how hard the arc is to break.",
        "soft",
    )
    if any(band.assumed for band in faults):
        yield Para(
            "Nobody measured the resistance of the modules: the worst that is credible was taken "
            "for it. Measure it."
        )
    yield Explained(
        (band.place, number)
        for band in faults
        for number in (band.low, band.high, band.time_constant)
    )


def worst_fault(schedule: ProtectionSchedule) -> Worked | None:
    """Return the most that flows into a dead short anywhere; None where no place is known."""
    highs = (band.high for band in schedule.faults)
    return max(highs, key=lambda high: high.value, default=None)


def _fault(band: FaultBand) -> Row:
    doubt = (Doubt("resistance assumed"),) if band.assumed else ()
    return Row(((band.place, *doubt), most(band.low), least(band.high), band.time_constant))


@document.register
def _(band: FaultBand) -> Doc:
    yield from fault_table((band,))


# --- The whole ------------------------------------------------------------------------------------


def one_line_figure(design: Design) -> Figure:
    """Return the one-line diagram with its caption, which says whether to build by it."""
    provisional = (
        " The design does not work yet, or is not settled: it is drawn with broken lines, and "
        "nothing is to be bought or built by it."
        if design.protection is not None and design.protection.withheld
        else ""
    )
    return Figure(
        lambda: one_line_svg(design),
        "One-line diagram: one line stands for plus and minus together. The long plate of the "
        "battery is its plus; the pole towards its fuse is the one that is not earthed. A question "
        f"mark is something that nobody said or that could not be settled.{provisional}",
    )


def protects(design: Design) -> Doc:
    """Yield what protects a design: the one-line diagram, then every table."""
    if design.protection is not None:
        yield one_line_figure(design)
    yield from schedule_of(design, design.solar)


def schedule_of(design: Design, solar: Sequence[SolarSide] = ()) -> Doc:
    """Yield the schedule of a design, or that there is none."""
    if design.protection is None:
        yield not_worked_out("The protection schedule")
        return
    yield from schedule_tables(design.protection, solar)


def faults_of(design: Design) -> Doc:
    """Yield the fault levels of a design, or that there is no schedule."""
    if design.protection is None:
        yield from schedule_of(design)
        return
    yield from fault_table(design.protection.faults)


def schedule_tables(schedule: ProtectionSchedule, solar: Sequence[SolarSide] = ()) -> Doc:
    """Yield the whole schedule, with the solar side before what to buy."""
    blocks = tuple(_schedule(schedule, solar))
    yield from blocks or (Para("No fuse was asked for."),)


def _schedule(schedule: ProtectionSchedule, solar: Sequence[SolarSide]) -> Iterator[Block]:
    if schedule.withheld and (schedule.fuses or schedule.parts):
        yield Banner(f"✕ {NOT_TO_BUY}")
    worst = worst_fault(schedule)
    if worst is not None:
        yield Para(("A dead short can draw up to ", least(worst), "."))
    if schedule.fuses:
        without = tuple(circuit for circuit, fuse, _ in rows_of(schedule) if fuse is None)
        yield from fuse_table(schedule.fuses, without)
        yield count_line(schedule.fuses)
    if schedule.cables:
        yield from cable_table(cables_of(schedule))
    if schedule.needs:
        yield need_table(schedule.needs)
    for plan in schedule.precharge:
        yield from precharge_numbers(plan)
    if schedule.faults:
        yield Detail(fault_table(schedule.faults))
    if solar:
        yield from solar_table(solar)
    if schedule.parts:
        yield parts_table(schedule.parts, withheld=schedule.withheld)


@document.register
def _(schedule: ProtectionSchedule) -> Doc:
    yield from schedule_tables(schedule)
