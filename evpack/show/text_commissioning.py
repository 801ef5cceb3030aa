"""Commissioning in plain text."""

from __future__ import annotations

from collections.abc import Iterable

from evpack.outcome.commissioning import LEAD, AsBuiltCheck, Came, CommissioningPlan, Proof
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
from evpack.show.text_nouns import tell
from evpack.show.to_text import Page


@tell.register
def _(plan: CommissioningPlan, page: Page) -> None:
    page.head(f"Commissioning: {plan.title}")
    if plan.withheld:
        page.say(f"✕ {NOT_YET}")
        for finding in plan.decision.held_by:
            page.say(f"- {finding.about}: {finding.detail}", 2, hang=4)
        return
    page.say(LEAD)
    page.say(plan_words(plan))
    for stage, steps in plan.stages.items():
        page.head(stage)
        for step, told in zip(steps, ("", *(s.if_not for s in steps)), strict=False):
            page.say(f"[ ] {step.title}: {step.todo}", 2, hang=6)
            page.say(f"expected: {step.expected}", 6, hang=8)
            if step.if_not not in {"", told}:  # what is the same for all of a list is told once
                page.say(f"if not: {step.if_not}", 6, hang=8)


@tell.register
def _(check: AsBuiltCheck, page: Page) -> None:
    words = PROVEN[check.outcome]
    page.head(f"{words.glyph} {words.word}: {check.plan.title}")
    page.say(words.sentence)
    page.say(f"{tally_words(check)} {signed_words(check)}")
    if check.plan.withheld:
        tell(check.plan, page)
        return
    if check.other_plan:
        page.say(f"▲ {OTHER_PLAN}")
        if check.record.left_over:
            page.say(left_over_words(check))
    _proofs("Not as designed", check.of(Came.OFF), page)
    _proofs("To do", check.due, page)
    _proofs("Later, or only if fitted", check.waiting, page)
    if check.record.note:
        page.gap()
        page.say(f"Note: {check.record.note}")


def _proofs(head: str, proofs: Iterable[Proof], page: Page) -> None:
    every = tuple(proofs)
    if not every:
        return
    page.head(f"{head} ({len(every)})")
    for proof in every:
        words, read = CAME[proof.came], written_words(proof)
        page.say(f"{words.glyph} {proof.step.title}: {proof.step.todo}", 2, hang=4)
        told = f"; read: {read}" if read else ""
        page.say(f"expected: {proof.step.expected}{told}", 4, hang=6)
        if proof.step.if_not and proof.came is Came.OFF:
            page.say(proof.step.if_not, 4, hang=6)
        if proof.came is Came.STALE:
            page.say(words.word, 4, hang=6)
        page.say(f"in the record: {proof.step.key}", 4, hang=6)
