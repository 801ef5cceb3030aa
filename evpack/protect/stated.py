"""What a judgement is worth that leans on a value which nobody read off the device."""

from __future__ import annotations

import attrs

from evpack.base.basis import Basis
from evpack.base.finding import Finding, Severity


def at_best_caution(finding: Finding, what: str, basis: Basis) -> Finding:
    """Return the finding; a pass that leans on an assumed value is only a caution."""
    if basis is not Basis.ASSUMED:
        return finding
    named = tuple(dict.fromkeys((*finding.assumed, what)))
    if finding.severity is not Severity.OK:
        return attrs.evolve(finding, assumed=named)
    return attrs.evolve(
        finding,
        severity=Severity.CAUTION,
        detail=f"{finding.detail} Its {what} is only assumed.",
        remedy=f"Read the {what} off the print of the device, and say so in the build sheet.",
        assumed=named,
    )
