"""Findings as HTML, for those who put markup together themselves."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from evpack.base.finding import Finding
from evpack.show import findings as blocks
from evpack.show.clean import prose
from evpack.show.gather import Missing
from evpack.show.to_html import to_html
from evpack.show.words import standing_words


def finding_list(findings: Iterable[Finding]) -> str:
    """Return findings as a list, the gravest first."""
    return to_html((blocks.finding_cards(findings),))


def missing_list(missing: Missing, *, rules: bool = True) -> str:
    """Return what the build sheet does not say."""
    return to_html((blocks.missing_cards(missing, rules=rules),))


def held_list(findings: Iterable[Finding]) -> str:
    """Return what holds a design up."""
    return to_html((blocks.held_items(findings),))


def details_list(findings: Iterable[Finding]) -> str:
    """Return what was found, without what to do."""
    return to_html((blocks.detail_items(findings),))


def pass_table(findings: Sequence[Finding]) -> str:
    """Return the passes as evidence."""
    return to_html((blocks.pass_table(findings),))


def standing_note(finding: Finding) -> str:
    """Return whether it is a bound or a guard, where it stands, how far it is missed."""
    words = standing_words(finding)
    return f' <span class="evp-soft">{prose(words)}</span>' if words else ""
