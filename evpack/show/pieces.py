"""Pieces that the document of every run has: invented, what was found, what was assumed."""

from __future__ import annotations

from collections.abc import Iterator

from evpack.base.finding import Finding, Severity
from evpack.show.doc import Block, Fold, Head, Items, Only, Para, Strong
from evpack.show.findings import finding_cards, held, pass_table
from evpack.show.gather import missing
from evpack.show.words import SEVERITY, count_of


def invented(*, invented: bool, what: str = "pack exists") -> Iterator[Block]:
    """Yield the line that an invented thing stands under."""
    if invented:
        yield Para((Strong("Invented:"), f" no such {what}."))


def found(findings: tuple[Finding, ...]) -> Iterator[Block]:
    """Yield the findings to keep in mind, and the others folded."""
    hard = held(findings)
    if hard:
        yield Head(f"To keep in mind ({len(hard)})", 3)
        yield finding_cards(hard)
    yield from passed(findings)


def passed(findings: tuple[Finding, ...]) -> Iterator[Block]:
    """Yield what passed or was noted: folded, and in a terminal how many they are."""
    rest = tuple(f for f in findings if f.severity < Severity.CAUTION)
    words = f"{count_of(len(rest), 'check')} passed or noted"
    if rest:
        yield Fold(words, (pass_table(rest),))
    yield Only("terminal", (Para(f"{words}."),))


def and_more(more: int) -> Iterator[Block]:
    """Yield how many others there are, where a list was cut."""
    if more > 0:
        yield Para(f"And {more} more.")


def not_worked_out(what: str) -> Para:
    """Return what stands where a part of a design could not be worked out."""
    return Para(f"{SEVERITY[Severity.UNKNOWN].glyph} {missing(what)}", "strong")


def assumed(words: tuple[str, ...]) -> Iterator[Block]:
    """Yield what was assumed: folded on a page, told in a terminal."""
    if words:
        yield Fold("What was assumed", (Items(words),), open_=True)
