"""Runs: how strings share case by case, and what a fault does in time."""

from __future__ import annotations

from collections.abc import Iterable

from evpack.base.wording import say
from evpack.outcome.runs import FaultRun, SharedRun, SharingCase, SharingRun
from evpack.show.doc import (
    Column,
    Doc,
    Figure,
    Fold,
    Group,
    Head,
    Items,
    Numbers,
    Para,
    Row,
    Table,
    Text,
    Value,
    document,
)
from evpack.show.draw.runs import currents_svg, states_svg
from evpack.show.pieces import assumed, found, invented
from evpack.show.words import count_of

# --- Words ----------------------------------------------------------------------------------------

MODEL = (
    "Each string is seen as one body: a voltage that follows its state of charge, a resistance, "
    "and a slower part. Cells within a module are not told apart."
)
_NONE = 1e-3  # what an open string carries, at most [A]
NOT_RUN = "? Nothing could be run; what is missing stands below."


def span_words(amps: tuple[float, ...]) -> str:
    """Return the least and the greatest current of the strings that carry, in words."""
    sizes = sorted(abs(one) for one in amps if abs(one) > _NONE) or [0.0]
    least, most = say(sizes[0], "A"), say(sizes[-1], "A")
    return most if least == most else f"{least} to {most}"


# --- How strings share ----------------------------------------------------------------------------

_COLUMNS = (
    Column(""),
    Column("first", number=True),
    Column("last", number=True),
    Column("busiest"),
    Column("against even", number=True),
    Column("apart", number=True),
    Column("ended by"),
)


def _row(run: SharedRun) -> Row:
    return Row(
        (
            run.way,
            span_words(run.early),
            span_words(run.late),
            (run.worst, f", string {run.busiest}, after ", Value(run.at, "s")),
            run.uneven,
            Value(run.apart, ""),
            (run.ended_by, ", after ", Value(float(run.time[-1]), "s")),
        )
    )


def _table(runs: Iterable[SharedRun]) -> Table:
    return Table(_COLUMNS, map(_row, runs))


@document.register
def _(run: SharedRun) -> Doc:
    yield Figure(
        lambda: currents_svg(run.time, run.current, title=f"{run.way}: current of each string")
    )
    yield _table((run,))


@document.register
def _(case: SharingCase) -> Doc:
    yield Para(_case(case))
    yield from sharing_pictures(case)
    yield _table(case.runs)
    yield from _how(case)


def _case(case: SharingCase) -> Text:
    return f"{case.name}: {case.says}"


def sharing_pictures(case: SharingCase) -> Doc:
    """Yield a case's pictures: currents of both runs, states of charge of the discharge."""
    out, into = case.discharge, case.charge
    yield Figure(
        lambda: currents_svg(
            out.time, out.current, title=f"Discharge, {case.name}: current of each string"
        ),
        f"{case.name}: current of each string on discharge.",
    )
    yield Figure(
        lambda: currents_svg(
            into.time, into.current, title=f"Charge, {case.name}: current of each string"
        ),
        f"{case.name}: current of each string on charge; below nought it flows in.",
    )
    yield Figure(
        lambda: states_svg(
            out.time, out.soc, title=f"Discharge, {case.name}: state of charge of each string"
        ),
        f"{case.name}: how the strings empty.",
    )


def _how(case: SharingCase) -> Doc:
    """Yield how the numbers of a case come about, and how well its books close."""
    yield Numbers(line for run in case.runs for line in (run.worst, run.uneven))
    books = "; ".join(
        f"{run.way}: charge {run.charge_lost:.0e}, energy {run.energy_lost:.0e}"
        for run in case.runs
    )
    yield Para(
        f"What the books do not account for, as a part of what was moved: {books}. Charge closes "
        "to rounding, energy the better the finer the steps.",
        "soft",
    )


@document.register
def _(run: SharingRun) -> Doc:
    yield Head("How the strings share the current")
    yield from invented(invented=run.invented)
    yield Para(f"{run.title}: {count_of(run.strings, 'string')}. {MODEL}")
    if run.cases:
        yield from sharing_pictures(run.cases[0])
        yield Table(
            _COLUMNS,
            (
                row
                for case in run.cases
                for row in (Group(case.name, case.says), *map(_row, case.runs))
            ),
            "Case by case",
        )
        for case in run.cases:
            yield Fold(f"{case.name}: how it comes about", _how(case), headed=True)
    else:
        yield Para(NOT_RUN, "strong")
    yield from found(run.findings)
    asked = [line for line in (run.power, run.charge_current) if line is not None]
    if asked:
        yield Numbers(asked, "What was asked of them")
    yield from assumed(run.assumed)


# --- A fault in time ------------------------------------------------------------------------------


@document.register
def _(run: FaultRun) -> Doc:
    yield Head(f"Fault in time: {run.kind}")
    yield from invented(invented=run.invented)
    yield Para(f"{run.title}. {run.says}")
    yield Figure(
        lambda: currents_svg(
            run.time, run.current, title=f"{run.kind}: current of each string", events=run.events
        )
    )
    yield Items((Value(seconds, "s"), f": {words}") for seconds, words in run.events)
    yield Numbers(run.numbers, "What it comes to", told=True)
    yield from found(run.findings)
    yield from assumed(run.assumed)
