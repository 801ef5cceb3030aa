"""The parts of a design and of a heap as a workbook shows them, one call each.

A part that could not be worked out says so instead of showing nothing.
"""

from __future__ import annotations

from collections.abc import Callable

import attrs

from evpack.base.errors import EvpackError
from evpack.base.finding import Severity
from evpack.base.wording import say
from evpack.decide import decide
from evpack.describe.build import Build
from evpack.describe.operation import BATTERY_FIRST, ISLAND, Operation, daily
from evpack.outcome.design import Decision, Design
from evpack.outcome.matching import Matching
from evpack.show import matching as heap
from evpack.show.assumed import assumed_in
from evpack.show.decision import checked, first_screen, summary
from evpack.show.doc import Doc, Figure, Head, Para
from evpack.show.draw.batch import capacity_svg, scatter_svg
from evpack.show.findings import finding_cards, held, missing_cards
from evpack.show.gather import missing_in
from evpack.show.html import (
    as_html,
    assumed_html,
    energy_figure,
    ladder_figure,
    settings_html,
    verdict_html,
)
from evpack.show.pieces import not_worked_out
from evpack.show.protection import faults_of, one_line_figure, protects
from evpack.show.to_html import to_html
from evpack.workbook.regions import STYLE, framed, notice

# Of the continuous load, where nobody said what runs most of the time. Common practice, no source.
_TYPICAL = 0.3


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
    asked = (Head("Missing from your sheet", 3), missing_cards(missing)) if missing.asked else ()
    blocks = (*asked, finding_cards(telling), *checked(design))
    return Shown(framed(to_html(blocks)))


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


def answer(decision: Decision, *, titled: bool = True) -> Shown:
    """Return the first screen: verdict, figures, the picture beside the limits to keep."""
    return Shown(framed(to_html(first_screen(decision, titled=titled)), "evp-wide"))


def verdict(decision: Decision, *, titled: bool = True) -> Shown:
    """Return the verdict, what would clear what holds it up, and the limits to keep."""
    return Shown(framed(verdict_html(decision, titled=titled) + to_html(summary(decision))))


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
        return Shown(framed(to_html((not_worked_out(what),))))
    return Shown(as_html(part))


# The parts of a heap.


def grades(matching: Matching) -> Shown:
    """Return how many are fit, where the capacities lie, and every module with its reasons."""
    return _shown(
        (
            Para(heap.count_words(matching)),
            Para(heap.CAUTIONS[0], "notice"),
            Figure(lambda: capacity_svg(matching)),
            Figure(lambda: scatter_svg(matching)),
            heap.batch_table(matching.graded),
        )
    )


def groups(matching: Matching) -> Shown:
    """Return which modules stand in which string, beside what people do by hand."""
    found = [f for f in held(matching.findings) if f.rule.key.startswith(("group.", "heap."))]
    return _shown((*heap.groups(matching), finding_cards(found)))


def joining(matching: Matching) -> Shown:
    """Return the ordered plan of joining, with what is in its way."""
    found = [f for f in matching.findings if f.rule.key.startswith("join.")]
    if matching.join is None:
        return _shown(heap.joining(matching))
    noted = [f for f in found if f.severity >= Severity.NOTE]
    return _shown((finding_cards(noted), *heap.joining(matching)))


def _shown(blocks: Doc) -> Shown:
    return Shown(framed(to_html(blocks)))


# How a build is worked where its sheet does not say: a stand-in that is told as one.


def worked(design: Design) -> tuple[Operation, str]:
    """Return the operation of a build's sheet, or a stand-in, and what is to be said of it.

    The stand-in is a home that takes the typical load around the clock, without any sun.

    Parameters
    ----------
    design : Design
        With thresholds of a changeover the utility carries on below it; without, it is an island.
    """
    build = design.build
    if build.operation is not None:
        return build.operation, f"{build.title}: worked as its sheet says."
    mean = _mean_load(build)
    settled = design.settings is not None and design.settings.thresholds.changeover is not None
    operation = Operation(
        mode=BATTERY_FIRST if settled else ISLAND, load=daily("home", f"{24 * mean:.6g} Wh")
    )
    return operation, (
        f"{build.title}: its sheet has no section [operation], so a stand-in is worked here: a "
        f"home that takes {say(24 * mean, 'Wh')} a day, no sun. Nothing below is of your site "
        "until you describe it there."
    )


def with_operation(design: Design) -> Design:
    """Return the design with a stand-in for its operation where it has none."""
    operation, _ = worked(design)
    return attrs.evolve(design, build=attrs.evolve(design.build, operation=operation))


def _mean_load(build: Build) -> float:
    load = build.load
    return float(load.typical.m if load.typical is not None else _TYPICAL * load.continuous.m)
