"""Pieces that every text of a run has: invented, what was found, what was assumed."""

from __future__ import annotations

from evpack.base.finding import Finding
from evpack.show.findings import held
from evpack.show.text_nouns import tell
from evpack.show.to_text import Page
from evpack.show.words import count_of


def invented_words(*, invented: bool) -> str:
    """Return what follows the name of an invented pack."""
    return " (invented: no such pack exists)" if invented else ""


def tell_found(findings: tuple[Finding, ...], page: Page) -> None:
    """Write the findings to keep in mind, and how many others there are."""
    hard = held(findings)
    if hard:
        page.head(f"To keep in mind ({len(hard)})")
        for finding in hard:
            tell(finding, page)
            page.gap()
    rest = len(findings) - len(hard)
    page.say(f"{count_of(rest, 'check')} passed or noted.", 2)


def tell_assumed(assumed: tuple[str, ...], page: Page) -> None:
    """Write what was assumed."""
    if not assumed:
        return
    page.head("What was assumed")
    for words in assumed:
        page.say(f"- {words}", 2, hang=4)
