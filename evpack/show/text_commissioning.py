"""Commissioning in plain text."""

from __future__ import annotations

from collections.abc import Iterable

from evpack.outcome.commissioning import AsBuiltCheck, Came, CommissioningPlan, Proof
from evpack.show.commissioning_words import (
    CAME,
    LEAD,
    NOT_YET,
    OTHER_PLAN,
    PROVEN,
    plan_words,
    signed_words,
    tally_words,
    written_words,
)
from evpack.show.text_nouns import Page, tell


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
        for step in steps:
            page.say(f"[ ] {step.title}: {step.todo}", 2, hang=6)
            page.say(f"expected: {step.expected}", 6, hang=8)


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
    _proofs("Not as designed", check.of(Came.OFF), page)
    due = check.of(Came.OPEN, Came.UNKNOWN)
    _proofs("To do", (p for p in due if not (p.step.later or p.step.optional)), page)
    _proofs("Later, or only if fitted", (p for p in due if p.step.later or p.step.optional), page)
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
        page.say(f"in the record: {proof.step.key}", 4, hang=6)
