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
from evpack.show.facts import build_parts, facts
from evpack.show.gather import sharing_lines, usable_lines
from evpack.show.words import count_of, per_cent, shown, worked_words


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

# What the energy out of an inverter rests on.
_OUT_OF_INVERTER = (
    "AC is what comes out of the inverter: its efficiency at full output is taken for every load, "
    "and its idle draw counts over all the hours."
)
_ASSUMED = (
    "The open-circuit curve is only assumed, and cells of one name may have another. A bench "
    "record of a module of your own narrows it down."
)


def energy_words(usable: UsableWindow) -> tuple[str, ...]:
    """Return what a person gets, what float leaves of it, and what it is before the inverter."""
    told = usable.told
    said = [_out_of_it(told)]
    if told.from_float_ac is not None:
        said.append(
            f"{_capital(worked_words(told.from_float_ac))} AC of that after hours at float, "
            f"{per_cent(told.soc_float)} charged: {told.float_by} floats."
        )
    said.append(
        f"Before the inverter, DC: {worked_words(told.reachable)} of {worked_words(told.total)} "
        f"({worked_words(told.share)}), from {per_cent(told.soc_top)} charged down to "
        f"{per_cent(told.soc_bottom)} under {shown(told.load, 'W')}; "
        f"what ends it: {told.bottom_by}."
    )
    if told.kindred is not None:
        said.append(_ASSUMED)
    return tuple(said)


def _out_of_it(told: UsableWindow) -> str:
    """Return the energy of every day out of the inverter, else all that is reachable."""
    at = f"AC at {shown(told.load_ac, 'W')}"
    if told.everyday_ac is None or told.reserve_ac is None:
        return f"{_capital(worked_words(told.reachable_ac))} {at} out of the inverter."
    return (
        f"{_capital(worked_words(told.everyday_ac))} {at} every day, above the changeover at "
        f"{per_cent(told.soc_changeover)}; {worked_words(told.reserve_ac)} kept for outages."
    )


def _capital(words: str) -> str:
    return words[:1].upper() + words[1:]


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
            Soft(_OUT_OF_INVERTER),
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
