"""A pack in figures: its own, the energy that stays usable, how strings share it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from evpack.base.source import Source
from evpack.base.worked import Worked
from evpack.describe.build import Build
from evpack.outcome.design import UsableWindow
from evpack.outcome.groundwork import PackFigures, Sharing
from evpack.show.doc import (
    Block,
    Column,
    Detail,
    Doc,
    Explained,
    Head,
    Line,
    Number,
    Numbers,
    Para,
    Row,
    Soft,
    Strong,
    Table,
    document,
)
from evpack.show.energy_words import OUT_OF_INVERTER, energy_words
from evpack.show.facts import build_parts, facts
from evpack.show.gather import sharing_lines, usable_lines
from evpack.show.words import count_of, per_cent, shown


@document.register
def _(worked: Worked) -> Doc:
    yield Numbers((worked,), told=True)


@document.register
def _(source: Source) -> Doc:
    yield Para(str(source))
    yield Para(source.note, "soft")


@document.register
def _(build: Build) -> Doc:
    yield Head(build.title)
    yield Para(build.note)
    yield from map(facts, build_parts(build))


# --- The pack's own figures -----------------------------------------------------------------------


@document.register
def _(figures: PackFigures) -> Doc:
    lines = [
        Line("cells in series", Number(str(figures.cells_in_series))),
        Line("modules", Number(str(figures.modules))),
    ]
    if figures.reachable:
        counts = ", ".join(str(n) for n in figures.reachable)
        told = f"{counts} cells"
        lines.append(Line("series counts within reach", told, "only whole modules can be used"))
    every = (*lines, *figures.lines())
    yield Numbers(every, "The pack's own figures", told=True)
    known = {
        "resistance": figures.resistance,
        "discharge current for good": figures.discharge_limit,
        "discharge current for seconds": figures.discharge_peak,
        "charge current": figures.charge_limit,
    }
    unknown = [name for name, line in known.items() if line is None]
    if unknown:
        yield Para((Strong("Not known:"), f" {', '.join(unknown)}."))


_COUNTS = (
    Column("modules in series", 20),
    Column("cells", 12, number=True),
    Column("empty", 17, number=True),
    Column("nominal", 17, number=True),
    Column("charged to", 17, number=True),
    Column("never above", 17, number=True),
)


def counts_table(counted: Iterable[PackFigures]) -> Doc:
    """Yield what modules in series come to, one more at a time."""
    every = [(figures, _voltages(figures)) for figures in counted]
    rows = (
        Row((str(figures.modules), str(figures.cells_in_series), *voltages))
        for figures, voltages in every
    )
    yield Table(_COUNTS, rows, "One string of whole modules")
    yield Explained(
        (count_of(figures.modules, "module"), voltage)
        for figures, voltages in every
        for voltage in voltages
    )


def _voltages(figures: PackFigures) -> tuple[Worked, ...]:
    return figures.least, figures.nominal, figures.charge_target, figures.highest


# --- Usable energy --------------------------------------------------------------------------------


@document.register
def _(usable: UsableWindow) -> Doc:
    yield from energy_said(usable)
    yield from energy_numbers(usable)


def energy_said(usable: UsableWindow) -> Iterator[Block]:
    """Yield what a person gets of the energy, in sentences."""
    yield from map(Para, energy_words(usable))
    told = usable.told
    yield Para(
        (
            "Out of reach: ",
            told.stranded_above,
            " above the charge setting, ",
            told.stranded_below,
            " below the end; ",
            told.lost_inside,
            " turn to heat on the way. ",
            Soft(OUT_OF_INVERTER),
        )
    )


def energy_numbers(usable: UsableWindow) -> Iterator[Block]:
    """Yield every energy with how it comes about."""
    lines = [Line("state of charge at the top", _share(usable.soc_top), "after a full charge")]
    if usable.soc_changeover is not None:
        share = _share(usable.soc_changeover)
        lines.append(Line("state of charge at the changeover", share, "under the typical load"))
    ends = f"under {shown(usable.load, 'W')}; what ends it: {usable.bottom_by}"
    lines.append(Line("state of charge at the bottom", _share(usable.soc_bottom), ends))
    yield Detail((Numbers((*lines, *usable_lines(usable)), "Usable energy"),))


def _share(soc: float | None) -> Number:
    return Number(per_cent(soc))


# --- Parallel strings -----------------------------------------------------------------------------


@document.register
def _(sharing: Sharing) -> Doc:
    strings = count_of(sharing.strings, "string")
    out = (", ", sharing.one_out, " with one out") if sharing.one_out is not None else ()
    yield Para((f"Of {strings} the busiest carries ", sharing.worst, *out, "."))
    found = Para(f"The worst string is found by {sharing.method}.", "soft")
    yield Detail((Numbers(sharing_lines(sharing), f"Currents of {strings}"), found))
