"""Commissioning in HTML: a checklist made for paper, and a record held against it."""

from __future__ import annotations

from collections.abc import Iterable

from evpack.outcome.commissioning import (
    LEAD,
    AsBuiltCheck,
    Came,
    CommissioningPlan,
    CommissioningStep,
    Proof,
)
from evpack.show.clean import prose
from evpack.show.commissioning_words import (
    CAME,
    NOT_YET,
    OTHER_PLAN,
    PROVEN,
    left_over_words,
    plan_words,
    signed_words,
    tally_words,
    written_words,
)
from evpack.show.html_findings import held_list
from evpack.show.html_tables import BLANK, folded, how, number, table
from evpack.show.words import count_of

_HEADS = ("", "what to do", "expected", "read", "initials")
_WIDTHS = (20, 42, 15, 14, 9)
_SIGN = ("done by", "date", "looked at by", "date")


def checklist_html(plan: CommissioningPlan) -> str:
    """Return the checklist with blanks to fill, a table for each stage, and lines to sign."""
    head = f"<h2>Commissioning: {prose(plan.title)}</h2>"
    if plan.withheld:
        held = held_list(plan.decision.held_by)
        return f'{head}<p class="evp-banner evp-stop"><b>✕ {prose(NOT_YET)}</b></p>{held}'
    *tables, last = (_stage(stage, steps) for stage, steps in plan.stages.items())
    sign = "".join(f"<div><span>{what}</span><br>{BLANK}</div>" for what in _SIGN)
    return (
        f'{head}<p class="evp-lead">{prose(LEAD)}</p><p>{prose(plan_words(plan))}</p>'
        f'<div class="evp-checklist">{"".join(tables)}</div>'
        # On paper who signs sees what for: the lines never stand alone on a page.
        f'<div style="break-inside:avoid"><div class="evp-checklist">{last}</div>'
        f'<div class="evp-sign-here">{sign}</div></div>'
    )


def _stage(name: str, steps: tuple[CommissioningStep, ...]) -> str:
    before = ("", *(step.if_not for step in steps))
    rows = "".join(_row(step, told) for step, told in zip(steps, before, strict=False))
    return table(name, _HEADS, rows, rows=False, widths=_WIDTHS, kind="evp-cards")


def _row(step: CommissioningStep, told: str) -> str:
    """Return the row of a step; `told` is what the row above says to do where it is not so."""
    optional = ' <span class="evp-of">if fitted</span>' if step.optional else ""
    return (
        f'<tbody><tr><th scope="row">{prose(step.title)}{optional}</th><td>{_todo(step, told)}</td>'
        f'<td class="evp-enter" data-label="{_HEADS[2]}">{prose(step.expected)}</td>'
        f'<td data-label="{_HEADS[3]}">{BLANK}</td><td data-label="{_HEADS[4]}">{BLANK}</td></tr>'
        "</tbody>"
    )


def _todo(step: CommissioningStep, told: str) -> str:
    why = f'<p class="evp-soft">{prose(step.why)}</p>' if step.why else ""
    why += f"<p><b>If not:</b> {prose(step.if_not)}</p>" if step.if_not not in {"", told} else ""
    more = folded("how it comes about", how(step.worked)) if step.worked is not None else ""
    return f"{prose(step.todo)}{why}{more}"


def as_built_html(check: AsBuiltCheck) -> str:
    """Return a record held against its plan: the answer, what is off, what is open, what is proven.

    In that order, since a reader looks for what is wrong.
    """
    parts = [_answer(check)]
    if check.plan.withheld:
        return "".join(parts) + checklist_html(check.plan)
    if check.other_plan:
        left = f"<br>{prose(left_over_words(check))}" if check.record.left_over else ""
        parts.append(f'<p class="evp-notice"><b>▲ {prose(OTHER_PLAN)}</b>{left}</p>')
    waits, proven = check.waiting, check.of(Came.PROVEN)
    parts += [_proofs("Not as designed", check.of(Came.OFF)), _proofs("To do", check.due)]
    if waits:
        told = _proofs("Later, or only if fitted", waits)
        parts.append(folded(f"{count_of(len(waits), 'step')} for later, or only if fitted", told))
    if proven:
        parts.append(folded(f"{count_of(len(proven), 'step')} proven", _proofs("Proven", proven)))
    if check.record.note:
        parts.append(f"<p><b>Note:</b> {prose(check.record.note)}</p>")
    return "".join(parts)


def _answer(check: AsBuiltCheck) -> str:
    words = PROVEN[check.outcome]
    return (
        f'<div class="evp-verdict evp-{words.tone}"><div class="evp-sign" aria-hidden="true">'
        f"{words.glyph}</div><div><h1>{words.word}</h1><p>{words.sentence}</p>"
        f'<p class="evp-title">{prose(check.plan.title)}</p>'
        f"<p>{prose(tally_words(check))} {prose(signed_words(check))}</p></div></div>"
    )


def _proofs(caption: str, proofs: Iterable[Proof]) -> str:
    rows = "".join(map(_proof, proofs))
    heads = ("", "what to do", "expected", "read", "")
    return table(caption, heads, rows, rows=False, widths=(20, 38, 15, 12, 15)) if rows else ""


def _proof(proof: Proof) -> str:
    words, step = CAME[proof.came], proof.step
    todo = prose(step.todo)
    if proof.came is Came.OFF and step.if_not:
        todo += f"<p><b>{prose(step.if_not)}</b></p>"
    return (
        f'<tbody><tr><th scope="row">{prose(step.title)}</th><td>{todo}</td>'
        f"<td>{prose(step.expected)}</td><td>{number(written_words(proof) or '–')}</td>"
        f'<td><span class="evp-{words.tone} evp-result">{words.glyph} {words.word}</span></td></tr>'
        "</tbody>"
    )
