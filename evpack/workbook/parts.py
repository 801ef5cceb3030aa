"""The parts of a design as a workbook shows them, one call each.

A part that could not be worked out says so instead of showing nothing.
"""

from __future__ import annotations

import attrs

from evpack.base.finding import Severity
from evpack.outcome.design import Decision, Design
from evpack.show.clean import escaped
from evpack.show.energy import energy_svg
from evpack.show.gather import missing, passes
from evpack.show.html import as_html, figure_html, verdict_html
from evpack.show.html_findings import finding_list, pass_table
from evpack.show.html_tables import folded
from evpack.show.ladder import ladder_svg
from evpack.workbook.regions import STYLE, framed, ways_out


@attrs.frozen
class Shown:
    """A part ready to be shown by a notebook."""

    html: str = attrs.field(repr=False)

    def _repr_html_(self) -> str:
        return STYLE + self.html


def figures(design: Design) -> Shown:
    """Return the pack's own figures, each with its formula."""
    return _part(design.figures, "The pack's figures")


def ladder(design: Design) -> Shown:
    """Return the picture of pack and devices on one scale of voltage."""
    caption = (
        "Pack and devices on one scale of voltage. Where a device's bar ends before the pack's "
        "does, they do not fit."
    )
    return Shown(framed(figure_html(ladder_svg(design), caption)))


def findings(design: Design) -> Shown:
    """Return every finding: what asks for a word in full, the passes folded with their margins."""
    telling = [f for f in design.findings if f.severity is not Severity.OK]
    passed = passes(design)
    count = f"{len(passed)} of {len(design.findings)} checks passed; each with its margin"
    evidence = folded(count, pass_table(passed)) if passed else "<p>No check was passed.</p>"
    return Shown(framed(finding_list(telling) + evidence))


def energy(design: Design) -> Shown:
    """Return how much energy stays within reach, as a picture and in figures."""
    if design.usable is None:
        return _part(None, "The usable energy")
    caption = "The pack's voltage as it empties, at rest and under the continuous load."
    return Shown(framed(figure_html(energy_svg(design), caption)) + as_html(design.usable))


def settings(design: Design) -> Shown:
    """Return the settings sheet, device by device."""
    return _part(design.settings, "The settings sheet")


def protection(design: Design) -> Shown:
    """Return the protection schedule, and how the strings share the current."""
    sharing = "" if design.sharing is None else as_html(design.sharing)
    return Shown(_part(design.protection, "The protection schedule").html + sharing)


def verdict(decision: Decision) -> Shown:
    """Return the verdict, what would clear what holds it up, and the limits to keep."""
    return Shown(framed(verdict_html(decision) + ways_out(decision)))


def _part(part: object, what: str) -> Shown:
    if part is None:
        return Shown(framed(f"<p><b>? {escaped(missing(what))}</b></p>"))
    return Shown(as_html(part))
