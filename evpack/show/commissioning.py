"""Commissioning: the steps to walk down, and a record of them held against its plan."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from evpack.base.wording import say
from evpack.outcome.commissioning import (
    LEAD,
    AsBuiltCheck,
    Came,
    CommissioningPlan,
    CommissioningStep,
    Proof,
    Proven,
)
from evpack.show.doc import (
    Banner,
    Block,
    Column,
    Doc,
    Fold,
    Hand,
    Head,
    How,
    Item,
    Only,
    Para,
    Part,
    Row,
    Sign,
    Strong,
    Table,
    Verdict,
    document,
    mark_of,
)
from evpack.show.findings import held_items
from evpack.show.one_page import one_page
from evpack.show.to_html import to_html
from evpack.show.words import Words, count_of

# --- Words ----------------------------------------------------------------------------------------

CAME = {
    Came.PROVEN: Words("✓", "proven", "", "ok"),
    Came.OFF: Words("✕", "not as designed", "", "stop"),
    Came.OPEN: Words("?", "not noted yet", "", "unknown"),
    Came.UNKNOWN: Words("?", "proves nothing", "", "unknown"),
    Came.STALE: Words("?", "asked otherwise since", "", "unknown"),
}
PROVEN = {
    Proven.AS_DESIGNED: Words(
        "✓",
        "Built as designed",
        "Every step that was due is noted and agrees with the design.",
        "ok",
    ),
    Proven.OFF: Words(
        "✕",
        "Not built as designed",
        "Switch it off, put right what departs from the design, or design it anew as it is.",
        "stop",
    ),
    Proven.NOT_YET: Words(
        "?",
        "Not proven yet",
        "What is not noted is not proven. Until it is, treat the pack as unsafe to leave alone.",
        "unknown",
    ),
    Proven.NOT_ALLOWED: Words(
        "✕",
        "Not to be switched on",
        "The design does not work yet, or is not settled: nothing of it may be switched on.",
        "stop",
    ),
}
NOT_YET = (
    "There is nothing to commission yet: the design does not work, or is not settled. Clear what "
    "holds it up first."
)
OTHER_PLAN = (
    "The record was begun for another state of this design. Every reading is held against the "
    "design as it is now. An answer to what was asked otherwise then does not count: look again, "
    "and begin a new record."
)
_MOST_KEYS = 12
UNSIGNED = "Nobody vouches for it yet: say who did it, and when (by, on)."


def written_words(proof: Proof) -> str:
    """Return what was written down, in words; empty for nothing."""
    if proof.written is None:
        return ""
    if proof.step.kind is None or isinstance(proof.written, bool):
        return "yes" if proof.written is True else "no"
    return say(float(proof.written), proof.step.kind.unit)


def plan_words(plan: CommissioningPlan) -> str:
    """Return how much there is to do."""
    return f"{count_of(len(plan.steps), 'step')}, of which {_later(plan)} later."


def _later(plan: CommissioningPlan) -> int:
    return sum(step.later for step in plan.steps)


def tally_words(check: AsBuiltCheck) -> str:
    """Return how many steps came out how."""
    return (
        f"{len(check.of(Came.PROVEN))} of {len(check.proofs)} proven, "
        f"{len(check.of(Came.OFF))} not as designed, {len(check.due)} to do, "
        f"{len(check.waiting)} for later or only if fitted."
    )


def left_over_words(check: AsBuiltCheck) -> str:
    """Return what was filled in and is not asked any more; empty for nothing."""
    keys = check.record.left_over
    if not keys:
        return ""
    more = f", and {len(keys) - _MOST_KEYS} more" if len(keys) > _MOST_KEYS else ""
    told = f"{', '.join(keys[:_MOST_KEYS])}{more}"
    return f"Filled in, and not asked any more, or asked in another way: {told}."


def signed_words(check: AsBuiltCheck) -> str:
    """Return who vouches for it."""
    return f"By {check.record.by}, {check.record.on}." if check.signed else UNSIGNED


# --- Documents ------------------------------------------------------------------------------------

_STEP = (
    Column("", 20),
    Column("what to do", 42, plain=True),
    Column("expected", 15, entry=True),
    Column("read", 14),
    Column("initials", 9),
)
_SIGN = ("done by", "date", "looked at by", "date")


@document.register
def checklist(plan: CommissioningPlan) -> Doc:
    """Yield the list to walk down, a table for each stage, and lines to sign."""
    yield Head(f"Commissioning: {plan.title}")
    if plan.withheld:
        yield Banner(f"✕ {NOT_YET}")
        yield held_items(plan.decision.held_by)
        return
    yield Para(LEAD, "lead")
    yield Para(plan_words(plan))
    *tables, last = (_stage(stage, steps) for stage, steps in plan.stages.items())
    yield Part("evp-checklist", tables)
    # On paper who signs sees what for: the lines never stand alone on a page.
    yield Part("", (Part("evp-checklist", (last,)), Sign(_SIGN)), whole=True)


def _stage(name: str, steps: tuple[CommissioningStep, ...]) -> Table:
    before = ("", *(step.if_not for step in steps))
    rows = (_step(step, told) for step, told in zip(steps, before, strict=False))
    return Table(_STEP, rows, name, cards=True)


def _step(step: CommissioningStep, told: str) -> Row:
    """Return the row of a step; `told` is what the row above says to do where it is not so."""
    todo = Item(step.todo, tuple(_more(step, told)))
    return Row((step.title, todo, step.expected, Hand.LINE, Hand.LINE))


def _more(step: CommissioningStep, told: str) -> Iterator[Block]:
    yield Para(step.why, "soft")
    if step.if_not not in {"", told}:
        yield Para((Strong("If not:"), f" {step.if_not}"))
    if step.worked is not None:
        yield Fold("how it comes about", (How(step.worked),))


_PROOF = (
    Column("", 20),
    Column("what to do", 38, plain=True),
    Column("expected", 15),
    Column("read", 12, number=True),
    Column("", 15),
)


@document.register
def _(check: AsBuiltCheck) -> Doc:
    """Yield the answer, what is off, what is open, what is proven: what is wrong comes first."""
    plan, record = check.plan, check.record
    words = PROVEN[check.outcome]
    yield Verdict(
        mark_of(words),
        (
            Para(words.sentence),
            Only("page", (Para(plan.title, "title"),)),
            Para(f"{tally_words(check)} {signed_words(check)}"),
        ),
        plan.title,
    )
    if plan.withheld:
        yield from checklist(plan)
        return
    if check.other_plan:
        yield Para(Strong(f"▲ {OTHER_PLAN}"), "notice")
        yield Para(left_over_words(check), "notice")
    yield from _proofs("Not as designed", check.of(Came.OFF))
    yield from _proofs("To do", check.due)
    waits, proven = check.waiting, check.of(Came.PROVEN)
    if waits:
        lead = f"{count_of(len(waits), 'step')} for later, or only if fitted"
        yield Fold(lead, (_proof_table("", waits),), open_=True)
    if proven:
        yield Fold(f"{count_of(len(proven), 'step')} proven", (_proof_table("", proven),))
    if record.note:
        yield Para((Strong("Note:"), f" {record.note}"))


def _proofs(caption: str, proofs: tuple[Proof, ...]) -> Iterator[Block]:
    if proofs:
        yield _proof_table(f"{caption} ({len(proofs)})", proofs)


def _proof_table(caption: str, proofs: Iterable[Proof]) -> Table:
    return Table(_PROOF, map(_proof, proofs), caption, cards=True)


def _proof(proof: Proof) -> Row:
    step, came = proof.step, proof.came
    then: list[Block] = []
    if came is Came.OFF and step.if_not:
        then.append(Para(step.if_not, "strong"))
    if came is not Came.PROVEN:
        then.append(Para(f"in the record: {step.key}", "soft"))
    read = written_words(proof) or "–"
    return Row((step.title, Item(step.todo, tuple(then)), step.expected, read, mark_of(CAME[came])))


def checklist_page(plan: CommissioningPlan) -> str:
    """Return the checklist as one HTML document that loads and runs nothing."""
    return one_page(f"{plan.title}: commissioning", to_html(checklist(plan)))
