"""The parts of a design as a workbook shows them, one call each.

A part that could not be worked out says so instead of showing nothing.
"""

from __future__ import annotations

from collections.abc import Callable

import attrs

from evpack.base.errors import EvpackError
from evpack.base.finding import Severity
from evpack.decide import decide
from evpack.outcome.design import Decision, Design
from evpack.show.assumed import assumed_in
from evpack.show.clean import escaped
from evpack.show.gather import missing, missing_in, passes
from evpack.show.html import (
    as_html,
    assumed_html,
    energy_figure,
    ladder_figure,
    settings_html,
    verdict_html,
)
from evpack.show.html_findings import finding_list, missing_list, pass_table
from evpack.show.html_tables import folded
from evpack.show.protection import faults_of, one_line_figure, protects
from evpack.show.to_html import to_html
from evpack.workbook.regions import STYLE, framed, notice, summary


@attrs.frozen
class Shown:
    """A part ready to be shown by a notebook."""

    html: str = attrs.field(repr=False)

    def _repr_html_(self) -> str:
        return STYLE + self.html


def figures(design: Design) -> Shown:
    """Return the pack's own figures, each with its formula."""
    return _part(design.figures, "The pack's figures")


def devices(design: Design) -> Shown:
    """Return inverters and chargers, as the build has them."""
    build = design.build
    return Shown("".join(as_html(device) for device in (*build.inverters, *build.chargers)))


def assumed(design: Design) -> Shown:
    """Return what a design rests on that nobody measured or read off a data sheet."""
    return Shown(framed(assumed_html(assumed_in(design))))


def ladder(design: Design) -> Shown:
    """Return the picture of pack and devices on one scale of voltage."""
    return Shown(framed(ladder_figure(design)))


def findings(design: Design) -> Shown:
    """Return every finding: what asks for a word in full, the passes folded with their margins."""
    telling = [f for f in design.findings if f.severity not in {Severity.OK, Severity.UNKNOWN}]
    missing = missing_in(decide(design))
    asked = f"<h3>Missing from your sheet</h3>{missing_list(missing)}" if missing.asked else ""
    passed = passes(design)
    count = f"{len(passed)} of {len(design.findings)} checks passed; each with its margin"
    evidence = folded(count, pass_table(passed)) if passed else "<p>No check was passed.</p>"
    return Shown(framed(asked + finding_list(telling) + evidence))


def energy(design: Design) -> Shown:
    """Return how much energy stays within reach, as a picture and in figures."""
    if design.usable is None:
        return _part(None, "The usable energy")
    return Shown(framed(energy_figure(design)) + as_html(design.usable))


def settings(design: Design) -> Shown:
    """Return the settings sheet, device by device; one that is withheld says so."""
    return Shown(framed(settings_html(design)))


def protection(design: Design) -> Shown:
    """Return the one-line diagram, the protection schedule, and how the strings share."""
    sharing = "" if design.sharing is None else as_html(design.sharing)
    return Shown(framed(to_html(protects(design))) + sharing)


def one_line(design: Design) -> Shown:
    """Return the one-line diagram."""
    return Shown(framed(to_html((one_line_figure(design),))))


def faults(design: Design) -> Shown:
    """Return the fault levels: the least and the most that flows into a dead short."""
    return Shown(framed(to_html(faults_of(design))))


def verdict(decision: Decision, *, titled: bool = True) -> Shown:
    """Return the verdict, what would clear what holds it up, and the limits to keep."""
    return Shown(framed(verdict_html(decision, titled=titled) + summary(decision)))


def where_possible(make: Callable[[], object]) -> object:
    """Return what a call gives; where it is refused, the reason in words, and the rest goes on.

    Not every question can be asked of every build: one string shares with nobody.
    """
    try:
        return make()
    except EvpackError as problem:
        return Shown(notice(str(problem)))


def _part(part: object, what: str) -> Shown:
    if part is None:
        return Shown(framed(f"<p><b>? {escaped(missing(what))}</b></p>"))
    return Shown(as_html(part))
