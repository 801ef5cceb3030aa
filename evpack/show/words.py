"""The wording that every page, picture and terminal print shares."""

from __future__ import annotations

import math

import attrs

from evpack.base.basis import Basis
from evpack.base.finding import Finding, Severity, Standing
from evpack.base.units import Quantity, kind_of
from evpack.base.wording import say
from evpack.base.worked import Worked
from evpack.outcome.design import Decision, Verdict
from evpack.outcome.settings import Act, Setting
from evpack.show.clean import clean

NOT_KNOWN = "not known"
NOT_FITTED = "none fitted"


@attrs.frozen
class Words:
    """A glyph, a word and a sentence for one answer; `tone` names its colour in the style."""

    glyph: str
    word: str
    sentence: str
    tone: str


SEVERITY = {
    Severity.OK: Words("✓", "OK", "Inside its limit.", "ok"),
    Severity.NOTE: Words("i", "NOTE", "Worth knowing; nothing to clear.", "note"),
    Severity.CAUTION: Words("▲", "CAUTION", "It works, within this limit.", "caution"),
    Severity.UNKNOWN: Words("?", "UNKNOWN", "Something needed here is not known.", "unknown"),
    Severity.STOP: Words("✕", "STOP", "This must be changed before anything is built.", "stop"),
}

VERDICT = {
    Verdict.WORKS: Words(
        "✓",
        "Works",
        "Every rule that was checked is met, with the settings and the protection listed below.",
        "ok",
    ),
    Verdict.WORKS_WITH_LIMITS: Words(
        "▲",
        "Works with limits",
        "It can be built as described, as long as the limits listed below are kept.",
        "caution",
    ),
    Verdict.DOES_NOT_WORK: Words(
        "✕",
        "Does not work",
        "Do not build it as described. Each stop below says what would clear it.",
        "stop",
    ),
    Verdict.CANNOT_TELL_YET: Words(
        "?",
        "Cannot tell yet",
        "Nothing found so far rules it out, but something needed is not known. Until it is, "
        "treat the answer as no.",
        "unknown",
    ),
}

BASIS = {
    Basis.MEASURED: "measured",
    Basis.DATASHEET: "data sheet",
    Basis.CHOSEN: "chosen",
    Basis.COMPUTED: "worked out",
    Basis.ASSUMED: "assumed",
}

# What a person does with a line of the settings sheet, said before the entry.
ACT = {
    Act.ENTER: "Enter",
    Act.TURN_OFF: "Turn off",
    Act.FIND_OUT: "Find out first",
    Act.CANNOT: "Cannot be set",
}

# Said wherever settings stand that nobody may enter.
NOT_TO_BUY = (
    "Do not buy or build by these: the design does not work yet, or is not settled. They only show "
    "how far it came."
)
WITHHELD = (
    "Do not enter these: the design does not work yet, or is not settled. The numbers only show "
    "how far it came."
)

INVENTED = (
    "This is an invented example. No real product, place or person stands behind its numbers."
)


def so_far(decision: Decision) -> str:
    """Return the heading of the cautions of a design that is held up: what to do comes later."""
    return f"Cautions so far, to be looked at once nothing holds it up ({len(decision.limits)})"


CAUTIONS = (
    (
        "This page is a design aid and no approval. Your local code, the manuals of your "
        "equipment and the judgement of a licensed person come first; where they differ from it, "
        "they win."
    ),
    (
        "A battery cannot be switched off. With every switch open, the modules and all metal "
        "joined to them still carry full voltage."
    ),
    (
        "A dropped tool across two bars draws thousands of amperes at once: it melts, sprays and "
        "burns. Cover what you do not work on, use insulated tools, wear no metal, free one "
        "terminal at a time, and keep each string split in the middle until the last joint."
    ),
    (
        "Swollen, leaking, dented, flooded or once deeply emptied modules are not to be used. "
        "They can catch fire long after the harm was done."
    ),
    (
        "No setting here replaces cell monitoring. The equipment sees one voltage for the whole "
        "pack; only the monitoring sees the one cell that is in trouble."
    ),
    (
        "Numbers marked 'assumed' were neither measured nor read off a data sheet. Replace them "
        "with your own before you rely on the answer."
    ),
)


def cautions(decision: Decision) -> tuple[str, ...]:
    """Return the standing cautions, with the notice of an invented example first if it is one."""
    return ((INVENTED, *CAUTIONS)) if decision.design.build.invented else CAUTIONS


def shown(value: float | None, unit: str) -> str:
    """Write a value for a person; what is missing or no number is "not known".

    Examples
    --------
    >>> shown(56.8, "V"), shown(None, "V"), shown(float("nan"), "V"), shown(float("inf"), "A")
    ('56.8 V', 'not known', 'not known', 'no limit')
    """
    if value is None or math.isnan(value):
        return NOT_KNOWN
    if math.isinf(value):
        return "no limit" if value > 0 else NOT_KNOWN
    return say(value, unit)


def worked_words(worked: Worked | None) -> str:
    """Write an explained number; one that is only about right has no more digits than that."""
    if worked is None:
        return NOT_KNOWN
    return shown(worked.value, worked.unit) if worked.between is None else str(worked)


def told(quantity: Quantity | None) -> str:
    """Write a quantity for a person, or that it is not known."""
    return NOT_KNOWN if quantity is None else shown(float(quantity.m), kind_of(quantity).unit)


def per_cent(share: float | None) -> str:
    """Write a state of charge.

    Examples
    --------
    >>> per_cent(0.914), per_cent(None), per_cent(1.0)
    ('91 %', '–', '100 %')
    """
    if share is None or not math.isfinite(share):
        return "–"
    return f"{100 * share:.0f} %"


def per_cell(volts: float | None) -> str:
    """Write the voltage of one cell, always with the digits that tell settings apart.

    Examples
    --------
    >>> per_cell(4.0571), per_cell(None)
    ('4.057 V', '–')
    """
    if volts is None or not math.isfinite(volts):
        return "–"
    return f"{volts:.3f} V"


def margin_words(margin: float | None, unit: str) -> str:
    """Write a margin with the side it lies on.

    Examples
    --------
    >>> margin_words(1.2, "V"), margin_words(-0.3, "V"), margin_words(None, "V")
    ('1.2 V inside', '0.3 V outside', '')
    """
    if margin is None or not math.isfinite(margin):
        return ""
    return f"{say(abs(margin), unit)} {'inside' if margin >= 0 else 'outside'}"


def standing_words(finding: Finding) -> str:
    """Say whether a stop or a caution is of a bound or of a guard, where it stands, and how far.

    Empty for what is neither.
    """
    if finding.severity not in {Severity.STOP, Severity.CAUTION}:
        return ""
    clause, far = finding.rule.clause, _how_far(finding)
    if finding.standing is Standing.GUARD:
        met = f"; the bound is met ({clause})" if clause else ""
        return f"Guard, our own margin{far}{met}."
    if finding.standing is Standing.BOUND:
        broken = finding.severity is Severity.STOP or far
        return f"Bound{'' if broken else ' it rests on'}: {clause}{far}."
    return ""


def _how_far(finding: Finding) -> str:
    """Say by what part of its limit a value lies outside; a guard by its own figure."""
    value = finding.value if finding.guarded is None else finding.guarded
    if value is None or finding.limit is None or finding.limit == 0:
        return ""
    outside = finding.guarded is not None or (finding.margin is not None and finding.margin < 0)
    part = abs(value - finding.limit) / abs(finding.limit)
    if not outside or not math.isfinite(part):
        return ""
    return f"; missed by {say(part, '')}"


def count_of(number: int, thing: str, things: str = "") -> str:
    """Write a count with its noun.

    Examples
    --------
    >>> count_of(1, "string"), count_of(3, "string"), count_of(2, "pass", "passes")
    ('1 string', '3 strings', '2 passes')
    """
    return f"{number} {thing if number == 1 else things or thing + 's'}"


def entry_words(setting: Setting, *, withheld: bool = False) -> str:
    """Return what to do with a line of the sheet, without saying it twice.

    Only what can simply be entered is in lower case: the rest must not be overlooked. Of a sheet
    that is withheld no line says "enter" or "turn off".
    """
    act, entry = ACT[setting.act], clean(setting.entry).strip()
    if withheld and setting.act in {Act.ENTER, Act.TURN_OFF}:
        lead = "would be:" if entry[:1].isalpha() and entry != "off" else "would be"
        return f"{lead} {entry or 'off'}"
    if setting.act is Act.ENTER:
        return f"{act} {entry}"
    if entry in {"", "?"} or entry.lower() in act.lower():
        return act.upper()
    if entry.lower().startswith("cannot"):
        return entry.upper()
    return f"{act.upper()}: {entry}"


def only_assumed(number: int) -> str:
    """Return the sentence that stands beside a verdict resting on assumed values; "" for none.

    Examples
    --------
    >>> only_assumed(1), only_assumed(0)
    ('1 value is only assumed: confirm it first.', '')
    """
    if not number:
        return ""
    if number == 1:
        return "1 value is only assumed: confirm it first."
    return f"{number} values are only assumed: confirm them first."


def tally(decision: Decision) -> str:
    """Return how many findings there are of each weight, the gravest first.

    A pass is counted too: it is evidence.
    """
    named = {
        Severity.STOP: ("stop", "stops"),
        Severity.UNKNOWN: ("unknown", "unknowns"),
        Severity.CAUTION: ("caution", "cautions"),
        Severity.NOTE: ("note", "notes"),
        Severity.OK: ("passed", "passed"),
    }
    return ", ".join(
        f"{SEVERITY[severity].glyph} {count_of(len(decision.design.of(severity)), *names)}"
        for severity, names in named.items()
        if decision.design.of(severity)
    )
