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
    """Return the design whose findings name only remedies that were tried.

    A remedy is told where it clears the finding and brings no stop of its own.
    """
    if not any(f.tries for f in made.findings):
        return made
    stops = made.found_from(Severity.STOP)
    return attrs.evolve(made, findings=tuple(_proven(f, made, carry, stops) for f in made.findings))


def _proven(
    finding: Finding,
    made: Design,
    carry: Callable[[Build], Design],
    stops: set[tuple[str, str]],
) -> Finding:
    if not finding.tries:
        return finding
    key, good, done = (finding.rule.key, finding.about), [], set()
    enough = Severity.UNKNOWN if finding.holds else Severity.CAUTION
    for tried in finding.tries:
        if tried.group in done:
            continue
        then = carry(tried.change(made.build))
        if key not in then.found_from(enough) and not then.found_from(Severity.STOP) - stops:
            good.append(tried.says)
            done.add(tried.group or tried.says)
    return attrs.evolve(finding, remedy=" Or: ".join(good) or _NONE, tries=())
