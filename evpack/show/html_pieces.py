"""Pieces that every page of a run has: invented, what was found, what was assumed."""

from __future__ import annotations

from evpack.base.finding import Finding, Severity
from evpack.show.clean import prose
from evpack.show.html_findings import finding_list, pass_table
from evpack.show.html_tables import folded
from evpack.show.run_words import held
from evpack.show.words import count_of


def invented_html(*, invented: bool) -> str:
    """Return the line that an invented pack stands under."""
    return "<p><b>Invented:</b> no such pack exists.</p>" if invented else ""


def found_html(findings: tuple[Finding, ...]) -> str:
    """Return the findings to keep in mind, and the others folded."""
    hard = held(findings)
    passed = tuple(f for f in findings if f.severity < Severity.CAUTION)
    told = f"<h3>{prose(f'To keep in mind ({len(hard)})')}</h3>{finding_list(hard)}" if hard else ""
    words = f"{count_of(len(passed), 'check')} passed or noted"
    return told + (folded(prose(words), pass_table(passed)) if passed else "")


def assumed_html(assumed: tuple[str, ...]) -> str:
    """Return what was assumed, folded."""
    items = "".join(f"<li>{prose(words)}</li>" for words in assumed)
    return folded("What was assumed", f"<ul>{items}</ul>") if items else ""
