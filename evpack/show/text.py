"""Any noun as plain text, for a terminal."""

from __future__ import annotations

from evpack.base.finding import Finding
from evpack.decide import decide
from evpack.outcome.design import Decision, Design
from evpack.show.decision import answer
from evpack.show.doc import document
from evpack.show.to_text import WIDTH, Page, write


def as_text(noun: object, width: int = WIDTH, *, full: bool = False) -> str:
    """Return any of evpack's nouns as plain text.

    Parameters
    ----------
    noun : object
        A noun of `describe` or `outcome`, a `Finding` or a `Worked`.
    width : int
        Columns to wrap to.
    full : bool
        With what a page has folded; of a decision or a design the whole, not the answer alone.

    Raises
    ------
    TypeError
        For anything else.
    """
    # A finding alone is not one of many: it stands with its rule.
    page = Page(width, full or isinstance(noun, Finding))
    decision = decide(noun) if isinstance(noun, Design) else noun
    if isinstance(decision, Decision) and not full:
        write(answer(decision), page)
    else:
        write(document(decision), page)
    return str(page)


def decision_text(decision: Decision, width: int = WIDTH, *, full: bool = False) -> str:
    """Return a decision as plain text: the answer on one screen, or the whole.

    Parameters
    ----------
    width : int
        Columns to wrap to.
    full : bool
        With every formula, rule, fault level and sharing figure.
    """
    return as_text(decision, width, full=full)
