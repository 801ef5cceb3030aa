"""Go, go with limits, no-go: why, and what would clear it."""

from __future__ import annotations

from evpack.base.finding import Severity
from evpack.describe.checked import need
from evpack.outcome.design import Decision, Design, Verdict


def decide(design: Design) -> Decision:
    """Return the verdict on a design.

    One stop means that it does not work. Without a stop, one unknown means that nobody can tell
    yet. Without either, one caution means that it works with limits. Nothing else is weighed.
    """
    need("decide", design, Design)
    stops = design.of(Severity.STOP)
    unknowns = design.of(Severity.UNKNOWN)
    cautions = design.of(Severity.CAUTION)
    if stops:
        verdict = Verdict.DOES_NOT_WORK
    elif unknowns:
        verdict = Verdict.CANNOT_TELL_YET
    elif cautions:
        verdict = Verdict.WORKS_WITH_LIMITS
    else:
        verdict = Verdict.WORKS
    return Decision(verdict=verdict, design=design, held_by=stops + unknowns, limits=cautions)
