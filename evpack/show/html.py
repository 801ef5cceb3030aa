"""Nouns and decisions told as HTML fragments; `evpack.show.style.STYLE` dresses them."""

from __future__ import annotations

from evpack.outcome.design import Decision, Design
from evpack.show import decision
from evpack.show.assumed import Assumptions
from evpack.show.doc import document
from evpack.show.to_html import to_html


def as_html(noun: object) -> str:
    """Return any of evpack's nouns as an HTML fragment.

    Parameters
    ----------
    noun : object
        A noun of `describe` or `outcome`, a `Finding`, a `Worked` or a `Source`.

    Raises
    ------
    TypeError
        For anything else.
    """
    return f'<div class="evp">{to_html(document(noun))}</div>'


def decision_html(told: Decision) -> str:
    """Return the whole page of a decision, in the order of a reader's questions."""
    return as_html(told)


def ladder_figure(design: Design) -> str:
    """Return the voltage ladder with its caption."""
    return to_html((decision.ladder_figure(design),))


def energy_figure(design: Design) -> str:
    """Return the picture of the usable energy with its caption."""
    return to_html((decision.energy_figure(design),))


def settings_html(design: Design) -> str:
    """Return the settings sheet of a design, its title and verdict above every table on paper."""
    return to_html(decision.settings_of(design))


def in_the_way(told: Decision) -> str:
    """Return what holds a decision up, what the sheet does not say, and the limits to keep."""
    return to_html(decision.in_the_way(told))


def verdict_html(told: Decision, *, titled: bool = True) -> str:
    """Return the verdict alone: glyph, word, sentence, and what it is a verdict on."""
    return to_html((decision.verdict(told, titled=titled),))


def assumed_html(assumed: Assumptions) -> str:
    """Return what was assumed: what to confirm first, then evpack's own general values."""
    return to_html(decision.assumed_blocks(assumed))
