"""The parts of a heap as a workbook shows them, one call each."""

from __future__ import annotations

from evpack.base.finding import Severity
from evpack.outcome.matching import Matching
from evpack.show.batch_pictures import capacity_svg, groups_svg, scatter_svg
from evpack.show.clean import prose
from evpack.show.html_findings import finding_list
from evpack.show.html_matching import batch_table, grouping_table, join_html
from evpack.show.matching_words import CAUTIONS, count_words, gain_words
from evpack.workbook.parts import Shown
from evpack.workbook.regions import framed


def grades(matching: Matching) -> Shown:
    """Return how many are fit, where the capacities lie, and every module with its reasons."""
    return Shown(
        framed(
            f'<p>{prose(count_words(matching))}</p><p class="evp-notice">{prose(CAUTIONS[0])}</p>'
            f"<figure>{capacity_svg(matching)}</figure><figure>{scatter_svg(matching)}</figure>"
            f"{batch_table(matching.graded)}"
        )
    )


def groups(matching: Matching) -> Shown:
    """Return which modules stand in which string, beside what people do by hand."""
    held = [f for f in matching.findings if f.severity >= Severity.CAUTION]
    told = finding_list(f for f in held if f.rule.key.startswith(("group.", "heap.")))
    if matching.grouping is None:
        return Shown(framed(f"<p>No grouping was asked for, or none is possible.</p>{told}"))
    return Shown(
        framed(
            f"<figure>{groups_svg(matching)}</figure>"
            f"{grouping_table((matching.grouping, *matching.naive))}"
            f"<p>{prose(gain_words(matching))}</p>{told}"
        )
    )


def joining(matching: Matching) -> Shown:
    """Return the ordered plan of joining, with what is in its way."""
    if matching.join is None:
        return Shown(framed("<p>Nothing to join.</p>"))
    held = [f for f in matching.findings if f.severity >= Severity.NOTE]
    told = finding_list(f for f in held if f.rule.key.startswith("join."))
    return Shown(framed(f"{told}{join_html(matching.join)}"))
