"""Every noun told in plain text, with all that is known of it."""

from __future__ import annotations

from collections.abc import Iterable
from functools import singledispatch

from evpack.base.finding import Finding, Severity
from evpack.base.source import Source
from evpack.base.worked import Worked
from evpack.describe.build import Build
from evpack.outcome.design import Design, UsableWindow
from evpack.outcome.groundwork import PackFigures, Sharing
from evpack.show.doc import document
from evpack.show.facts import build_parts, facts
from evpack.show.gather import (
    missing,
    sharing_lines,
    source_words,
    usable_lines,
)
from evpack.show.to_text import Page, how, write
from evpack.show.words import (
    NOT_KNOWN,
    SEVERITY,
    count_of,
    margin_words,
    per_cent,
    shown,
    standing_words,
    worked_words,
)


@singledispatch
def tell(noun: object, page: Page) -> None:
    """Write a noun on a page; the nouns a user states are told as their facts."""
    write(document(noun) if type(noun) in document.registry else (facts(noun),), page)


@tell.register
def _(source: Source, page: Page) -> None:
    page.say(source, 2)
    if source.note:
        page.say(source.note, 2)


@tell.register
def _(worked: Worked, page: Page) -> None:
    page.pair(worked.name, worked_words(worked))
    how(worked, page)


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


def _all(findings: Iterable[Finding], page: Page) -> None:
    for finding in findings:
        tell(finding, page)
        page.gap()


@tell.register
def _(figures: PackFigures, page: Page) -> None:
    page.head("What the pack is")
    page.pair("cells in series", figures.cells_in_series)
    page.pair("modules", figures.modules)
    if figures.reachable:
        page.pair(
            "series counts within reach",
            ", ".join(str(n) for n in figures.reachable) + " cells (whole modules only)",
        )
    for line in figures.lines():
        tell(line, page)
    names = {
        "resistance": figures.resistance,
        "discharge current, for good": figures.discharge_limit,
        "discharge current, for seconds": figures.discharge_peak,
        "charge current": figures.charge_limit,
    }
    for name, known in names.items():
        if known is None:
            page.pair(name, NOT_KNOWN)


@tell.register
def _(usable: UsableWindow, page: Page) -> None:
    page.head("How much energy you get")
    page.pair("state of charge, top", f"{per_cent(usable.soc_top)}, after a full charge")
    if usable.soc_changeover is not None:
        page.pair("state of charge, changeover", f"{per_cent(usable.soc_changeover)}, typical load")
    page.pair(
        "state of charge, bottom",
        f"{per_cent(usable.soc_bottom)}, under {shown(usable.load, 'W')}; "
        f"what ends it: {usable.bottom_by}",
    )
    for line in usable_lines(usable):
        tell(line, page)


def protection_in_full(design: Design, page: Page) -> None:
    """Write what protects a design."""
    if design.protection is None:
        page.say(missing("The protection schedule"), 2)
        return
    tell(design.protection, page)
    if design.solar:
        page.head("What the sun gives")
    for side in design.solar:
        tell(side, page)


@tell.register
def _(sharing: Sharing, page: Page) -> None:
    page.head("How the strings share the current")
    page.say(f"{count_of(sharing.strings, 'string')}; worst string by {sharing.method}", 2)
    for line in sharing_lines(sharing):
        tell(line, page)


@tell.register
def _(build: Build, page: Page) -> None:
    page.say(build.title)
    if build.note:
        page.say(build.note, 2)
    for part in build_parts(build):
        tell(part, page)
