"""A remedy is tried before it is told: the build with it is judged anew."""

from __future__ import annotations

from collections.abc import Callable

import attrs

from evpack.base.finding import Finding, Severity
from evpack.describe.build import Build
from evpack.outcome.design import Design

_NONE = (
    "No single change that was tried clears it: see what else was found, or ask for ways that "
    "change more than one thing (evpack ways)."
)


def prove(made: Design, carry: Callable[[Build], Design]) -> Design:
    """Return the design whose stops and questions name only remedies that were tried.

    A remedy is told where it clears the finding and brings no stop of its own. What could not be
    tried, as what to buy or to read, stands before it as it is.
    """
    if not any(f.holds and f.tries for f in made.findings):
        return made
    stops = _stops(made)
    return attrs.evolve(made, findings=tuple(_proven(f, made, carry, stops) for f in made.findings))


def _stops(made: Design) -> set[tuple[str, str]]:
    return {(f.rule.key, f.about) for f in made.findings if f.severity is Severity.STOP}


def _proven(
    finding: Finding,
    made: Design,
    carry: Callable[[Build], Design],
    stops: set[tuple[str, str]],
) -> Finding:
    if not (finding.holds and finding.tries):
        return finding
    key, good = (finding.rule.key, finding.about), []
    for tried in finding.tries:
        then = carry(tried.change(made.build))
        held = {(f.rule.key, f.about) for f in then.findings if f.holds}
        if key not in held and not _stops(then) - stops:
            good.append(tried.says)
    told = " Or: ".join(good)
    remedy = " ".join(part for part in (finding.remedy, told) if part)
    return attrs.evolve(finding, remedy=remedy or _NONE, tries=())
