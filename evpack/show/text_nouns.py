"""Every noun told in plain text, with all that is known of it."""

from __future__ import annotations

from functools import singledispatch

from evpack.base.finding import Finding, Severity
from evpack.show.doc import document
from evpack.show.facts import facts
from evpack.show.gather import (
    source_words,
)
from evpack.show.to_text import Page, write
from evpack.show.words import (
    SEVERITY,
    margin_words,
    standing_words,
)


@singledispatch
def tell(noun: object, page: Page) -> None:
    """Write a noun on a page; the nouns a user states are told as their facts."""
    write(document(noun) if type(noun) in document.registry else (facts(noun),), page)


@tell.register
def _(finding: Finding, page: Page) -> None:
    words = SEVERITY[finding.severity]
    page.say(f"{words.glyph} {words.word}  {finding.about}: {finding.detail}", 2, hang=6)
    if finding.margin is not None and finding.severity is not Severity.UNKNOWN:
        page.say(f"margin: {margin_words(finding.margin, finding.unit)}", 6)
    if standing_words(finding):
        page.say(standing_words(finding), 6, hang=8)
    if finding.remedy:
        lead = "To clear it" if finding.holds else "What to do"
        page.say(f"{lead}: {finding.remedy}", 6, hang=8)
    page.say(
        f"Rule: {finding.rule.says} [{source_words(finding.rule.source)}]",
        6,
        hang=8,
    )
    if finding.assumed:
        page.say(f"Rests on assumed: {'; '.join(finding.assumed)}", 6, hang=8)
