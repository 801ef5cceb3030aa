"""The wording of commissioning that text and pages share."""

from __future__ import annotations

from evpack.base.wording import say
from evpack.outcome.commissioning import (
    AsBuiltCheck,
    Came,
    CommissioningPlan,
    Proof,
    Proven,
)
from evpack.show.words import Words, count_of

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
