"""What a judgement is worth that leans on a value which nobody read off the device."""

from __future__ import annotations

import attrs

from evpack.base.basis import Basis
from evpack.base.finding import Finding, Rule, Severity, state, unknown
from evpack.outcome.groundwork import Groundwork


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


_SECTIONS = {
    "disconnect": "[protection.disconnect]",
    "emergency_off": "[protection.emergency_off]",
    "precharge": "[protection.precharge]",
    "bars": "[cabling.bar]",
}


def to_buy(ground: Groundwork, rule: Rule, name: str, about: str, words: str) -> Finding:
    """Judge a thing that nobody described: still to be bought as told here, or simply unknown.

    Leaving it out of the sheet must not clear a stop that a bad one would be.

    Parameters
    ----------
    name : {"disconnect", "emergency_off", "precharge", "bars"}
    words : str
        What it must be.
    """
    section = _SECTIONS[name]
    if name in ground.build.safeguards.to_buy:
        return state(
            rule,
            Severity.CAUTION,
            about=about,
            detail=f"Still to be bought. What is asked of it: {words}.",
            remedy=f"Buy what meets all of this, then describe it under {section}.",
        )
    return unknown(
        rule,
        about=about,
        detail=f"Not specified. What is asked of it: {words}.",
        remedy=f'Describe it under {section}. If you have yet to buy it, say to_buy = ["{name}"] '
        "under [protection].",
    )
