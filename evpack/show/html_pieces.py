"""Pieces that every page of a run has, for those who put markup together themselves."""

from __future__ import annotations

from evpack.base.finding import Finding
from evpack.show import pieces
from evpack.show.to_html import to_html


def invented_html(*, invented: bool) -> str:
    """Return the line that an invented pack stands under."""
    return to_html(pieces.invented(invented=invented))


def found_html(findings: tuple[Finding, ...]) -> str:
    """Return the findings to keep in mind, and the others folded."""
    return to_html(pieces.found(findings))


def assumed_html(assumed: tuple[str, ...]) -> str:
    """Return what was assumed, folded."""
    return to_html(pieces.assumed(assumed))
