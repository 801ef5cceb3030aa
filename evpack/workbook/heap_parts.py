"""The parts of a heap as a workbook shows them, one call each."""

from __future__ import annotations

from evpack.base.finding import Severity
from evpack.outcome.matching import Matching
from evpack.show import matching as told
from evpack.show.doc import Doc, Figure, Para
from evpack.show.draw.batch import capacity_svg, scatter_svg
from evpack.show.findings import finding_cards, held
from evpack.show.to_html import to_html
from evpack.workbook.parts import Shown
from evpack.workbook.regions import framed


def grades(matching: Matching) -> Shown:
    """Return how many are fit, where the capacities lie, and every module with its reasons."""
    return _shown(
        (
            Para(told.count_words(matching)),
            Para(told.CAUTIONS[0], "notice"),
            Figure(lambda: capacity_svg(matching)),
            Figure(lambda: scatter_svg(matching)),
            told.batch_table(matching.graded),
        )
    )


def groups(matching: Matching) -> Shown:
    """Return which modules stand in which string, beside what people do by hand."""
    found = [f for f in held(matching.findings) if f.rule.key.startswith(("group.", "heap."))]
    return _shown((*told.groups(matching), finding_cards(found)))


def joining(matching: Matching) -> Shown:
    """Return the ordered plan of joining, with what is in its way."""
    found = [f for f in matching.findings if f.rule.key.startswith("join.")]
    if matching.join is None:
        return _shown(told.joining(matching))
    noted = [f for f in found if f.severity >= Severity.NOTE]
    return _shown((finding_cards(noted), *told.joining(matching)))


def _shown(blocks: Doc) -> Shown:
    return Shown(framed(to_html(blocks)))
