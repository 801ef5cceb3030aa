"""A pack at work: what came of a run, its pictures, how long the pack lasts alone."""

from __future__ import annotations

import functools
from collections.abc import Iterable

import attrs
import numpy as np

from evpack.base.units import KINDS, MONEY
from evpack.base.wording import say
from evpack.base.worked import Worked
from evpack.outcome.operation import (
    CELSIUS_FIRST,
    CELSIUS_WIDE,
    OperationRun,
    OutageRun,
    Outcome,
)
from evpack.show.doc import (
    Column,
    Doc,
    Figure,
    Fold,
    Head,
    Items,
    Line,
    Number,
    Numbers,
    Para,
    Row,
    Table,
    Text,
    Value,
    document,
)
from evpack.show.draw.operation import (
    day_svg,
    day_words,
    hunting_svg,
    outage_svg,
    year_svg,
)
from evpack.show.one_page import one_page
from evpack.show.pieces import assumed, found, invented
from evpack.show.runs import NOT_RUN
from evpack.show.to_html import to_html
from evpack.show.words import count_of

_YEAR = 364 * 86400  # from here on a run is called a year [s]
# What a person watches while turning a threshold.
_WATCHED = (
    "load asked",
    "load carried by the inverters",
    "of it straight from the sun",
    "load carried by the utility",
    "load that nobody carried",
    "taken from the sun",
    "left unused of the sun",
)

# --- Words ----------------------------------------------------------------------------------------

CAUTION = (
    "A run shows what would be under this load and this sun, with settings as entered and meters "
    "without error. Other years are other years."
)


def count_words(came: Outcome) -> list[str]:
    """Return what happened how often, in words; what never happened is left out."""
    return [f"{what}: {count_of(times, 'time')}" for what, times in came.counts.items() if times]


def hour_words(came: Outcome) -> tuple[list[tuple[str, float]], list[tuple[str, float]]]:
    """Return hours by state of charge and by temperature, in words; none where there are none."""
    wide = 100 // came.soc_hours.size
    soc = [
        (f"{wide * k} to {wide * (k + 1)} %", float(h)) for k, h in enumerate(came.soc_hours) if h
    ]
    lows = [CELSIUS_FIRST + CELSIUS_WIDE * k for k in range(came.celsius_hours.size)]
    celsius = [
        (f"{low:g} to {low + CELSIUS_WIDE:g} °C", float(h))
        for low, h in zip(lows, came.celsius_hours, strict=True)
        if h
    ]
    return soc, celsius


def hunting_words(came: Outcome) -> str:
    """Return how often it went to and fro, beside what the design foretells."""
    hunting = came.hunting
    told = f"To and fro within an hour: {count_of(hunting.times, 'time')}."
    if hunting.gap is None:
        return told
    told += f" Gap from changeover to return: {say(hunting.gap, 'V')}"
    if hunting.foretold is not None:
        told += f"; the design foretells at least {say(hunting.foretold, 'V')}, errors included"
    return f"{told}; seen in the run: a rise of {say(hunting.seen, 'V')} when the load went away."


def in_money(worked: Worked, currency: str) -> Worked:
    """Return a sum in the money of the tariff; one that is called like a unit stays unnamed."""
    if not currency or currency in {kind.unit for kind in KINDS}:
        return worked
    inputs = (
        attrs.evolve(one, unit=currency) if one.unit == MONEY.unit else one for one in worked.inputs
    )
    named = attrs.evolve(MONEY, unit=currency)
    return attrs.evolve(worked, kind=named, inputs=tuple(inputs))


# --- Documents ------------------------------------------------------------------------------------


@document.register
def _(run: OperationRun) -> Doc:
    yield Head("A year of operation" if run.length >= _YEAR else "In operation")
    yield from invented(invented=run.invented)
    yield Para(
        (
            f"{run.title}: {run.mode}, {run.length / 86400:g} days in steps of ",
            Value(run.step, "s"),
            ".",
        )
    )
    yield Para(CAUTION, "soft")
    yield from operation_figures(run)
    yield from operation_pictures(run)
    if run.outcome is not None:
        yield from _more(run.outcome)
    if run.thresholds:
        used = ((name, Value(volts, "V")) for name, volts in run.thresholds.items())
        yield Fold("Thresholds of the run", (_table(used, "voltage"),), open_=True)
    if run.outcome is not None:
        soc, celsius = hour_words(run.outcome)
        yield Fold("Hours by state of charge", (_hours(soc),), open_=True)
        yield Fold("Hours by temperature", (_hours(celsius),), open_=True)
    yield from found(run.findings)
    yield from assumed(run.assumed)


def operation_figures(run: OperationRun) -> Doc:
    """Yield the few figures that a person watches while turning a threshold, and what happened."""
    came = run.outcome
    if came is None:
        yield Para(NOT_RUN, "strong")
        return
    rows: list[Worked | Line] = [*map(came.energy, _WATCHED), came.own]
    if came.saved is not None:
        rows.append(in_money(came.saved, run.currency))
    rows.append(Line("equivalent full cycles", Number(f"{came.cycles:.0f}")))
    yield Numbers(rows, "What came of it")
    yield Head("What happened", 3)
    yield Items(count_words(came) or ["nothing to tell of"])
    yield Para(hunting_words(came))


def operation_pictures(run: OperationRun) -> Doc:
    """Yield the pictures of a run: all of it, the days worth a look, going to and fro."""
    came = run.outcome
    if came is None:
        return
    yield Figure(lambda: year_svg(run), "All of the run.")
    for what, day in came.days_to_show.items():
        words = f"{what[0].upper()}{what[1:]}: {day_words(run, day)}."
        yield Figure(functools.partial(day_svg, run, day), words)
    if came.hunting.times:
        yield Figure(lambda: hunting_svg(run), "To and fro.")


def _more(came: Outcome) -> Doc:
    """Yield the energies that nobody watches, and how well the books close."""
    others = [worked for worked in came.energies if worked.name not in _WATCHED]
    yield Fold(
        "The other energies",
        (
            Numbers((*others, came.served)),
            Para(
                f"Not accounted for, of what was moved: charge {came.charge_lost:.0e}, energy "
                f"{came.energy_lost:.0e}.",
                "soft",
            ),
        ),
        open_=True,
    )


def _table(rows: Iterable[tuple[str, Text]], head: str) -> Table:
    return Table((Column(""), Column(head, number=True)), map(Row, rows))


def _hours(rows: Iterable[tuple[str, float]]) -> Table:
    return _table(((name, f"{hours:.0f}") for name, hours in rows), "hours")


@document.register
def _(run: OutageRun) -> Doc:
    yield Head("How long the pack lasts alone")
    yield Figure(
        lambda: outage_svg(run), "From each hour of the year, with the sun that there is then."
    )
    if not run.hours.size:
        yield Para(NOT_RUN, "strong")
        return
    yield Para(f"{run.title}: {count_of(run.hours.size, 'start')}.")
    spread = (
        ("at the least", run.hours.min()),
        ("in one case of ten, no longer than", np.quantile(run.hours, 0.1)),
        ("in the middle", np.median(run.hours)),
        ("at the most", run.hours.max()),
    )
    yield _table(((name, f"{float(hours):.1f} h") for name, hours in spread), "lasts")
    yield Para(f"No further than {run.most:g} h was looked at.", "soft")


def operation_page(run: OperationRun, alone: OutageRun | None = None) -> str:
    """Return the page of a run as one HTML document, with how long the pack lasts alone."""
    told = "" if alone is None else to_html(document(alone))
    return one_page(run.title, to_html(document(run)) + told)
