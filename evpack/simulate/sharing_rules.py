"""What a run of sharing strings is held against: the design's bound, modules, fuse, drift."""

from __future__ import annotations

import attrs

from evpack.base.basis import Basis
from evpack.base.finding import Finding, Rule, Severity, Standing, at_most, state, unknown
from evpack.base.units import CURRENT, SHARE, Quantity
from evpack.base.wording import say, say_up
from evpack.base.worked import Worked
from evpack.outcome.design import Design
from evpack.outcome.runs import AT_ONCE, COLLAPSED, SharedRun, SharingCase
from evpack.simulate.strings import string_fuse

EVEN = Rule(
    key="sharing-run.even",
    says="Fuses and cables of the strings are chosen with an assumed imbalance; a run of the "
    "strings must not show more.",
    source="ohms-law",
    stands=Standing.GUARD,
    kind=SHARE,
)
MODULE = Rule(
    key="sharing-run.module",
    says="No string may carry more than its modules stand, whatever the even share is.",
    source="equipment-manual",
    stands=Standing.BOUND,
    clause="print of the module: discharge current",
    kind=CURRENT,
)
FUSE = Rule(
    key="sharing-run.fuse",
    says="A string that carries more than its fuse holds opens it, and the others take its share.",
    source="common-practice",
    stands=Standing.BOUND,
    clause="print of the fuse: its rating",
    kind=CURRENT,
)
APART = Rule(
    key="sharing-run.apart",
    says="Strings whose states of charge drift apart in use push current between them afterwards.",
    source="common-practice",
    stands=Standing.GUARD,
    kind=SHARE,
)
POWER_MET = Rule(
    key="sharing-run.power",
    says="A pack that cannot give the power asked for collapses: its voltage falls to the cut-off "
    "at once.",
    source="ohms-law",
    stands=Standing.BOUND,
    clause="physics: a source gives E²/4R at most",
)
KNOWN = Rule(
    key="sharing-run.known",
    says="How strings share hangs on the resistance of their modules and on what they are asked.",
    source="ohms-law",
    stands=Standing.QUESTION,
)

# Of a string's charge; common practice, no source.
_DRIFT = 0.10


def cannot_run(design: Design, power: Worked | None) -> tuple[Finding, ...]:
    """Return what is lacking for any run, as unknown findings; empty where nothing is."""
    found = []
    module = design.build.pack.module
    if module.resistance is None and module.resistance_curve is None:
        found.append(
            unknown(
                KNOWN,
                about=module.name,
                detail="The resistance of the modules is not known.",
                remedy="Measure the resistance of the modules and put it in the build sheet.",
            )
        )
    if power is None:
        found.append(
            unknown(
                KNOWN,
                about="inverters",
                detail="The most that the inverters draw is not known.",
                remedy="Put continuous output, efficiency, idle draw and lowest voltage of every "
                "inverter in the build sheet.",
            )
        )
    return tuple(found)


def judged(design: Design, cases: tuple[SharingCase, ...]) -> tuple[Finding, ...]:
    """Return what the runs come to: what the design reckons with, then what may befall it."""
    found = [_power_met(cases)]
    for usual in (True, False):
        some = tuple(case for case in cases if case.usual is usual)
        if not some:
            continue
        found += [_module(design, some, way, usual=usual) for way in ("discharge", "charge")]
        found.append(_fuse(design, some, usual=usual))
        if design.build.pack.strings > 1:
            found += [_even(design, some, usual=usual), _apart(some, usual=usual)]
    return tuple(found)


def _power_met(cases: tuple[SharingCase, ...]) -> Finding:
    """Say whether the pack gives what the inverters ask, down to the cut-off."""
    weak = [c for c in cases if c.discharge.ended_by in {AT_ONCE, COLLAPSED}]
    if not weak:
        detail = "In every run the pack gave the full output of the inverters to the cut-off."
        return state(POWER_MET, Severity.OK, about="strings", detail=detail)
    at_once = any(c.usual and c.discharge.ended_by == AT_ONCE for c in weak)
    told = "; ".join(f"{c.name}: {c.discharge.ended_by}" for c in weak)
    return state(
        POWER_MET,
        Severity.STOP if at_once else Severity.CAUTION,
        about="strings",
        detail=f"The pack cannot give the full output of the inverters to the cut-off ({told}).",
        remedy="Use more strings, modules of less resistance, or less load.",
    )


def _greatest(cases: tuple[SharingCase, ...], way: str) -> tuple[SharingCase, SharedRun]:
    """Return the case with the greatest current in a string."""
    pairs = [(case, run) for case in cases for run in case.runs if run.way == way]
    return max(pairs, key=lambda pair: pair[1].worst.value)


def _when(case: SharingCase, run: SharedRun) -> str:
    return f"string {run.busiest}, {case.name}, {run.way}"


def _module(design: Design, cases: tuple[SharingCase, ...], way: str, *, usual: bool) -> Finding:
    """Hold the busiest string's current against what its modules stand."""
    module = design.build.pack.module
    field = "discharge_limit" if way == "discharge" else "charge_limit"
    limit: Quantity | None = getattr(module, field)
    case, run = _greatest(cases, way)
    return softened(
        at_most(
            MODULE,
            CURRENT.of(run.worst.value),
            limit,
            about=_when(case, run),
            otherwise=Severity.STOP if usual else Severity.CAUTION,
            value_name=f"the greatest current of a string on {way}",
            limit_name=f"the {way} limit of a module",
            remedy="Lower the load, or add a string."
            if way == "discharge"
            else "Lower the charge current entered on the chargers."
            if usual
            else "Let the cell monitoring open the string, or lower the charge current.",
            ask=f"Find out the {way} limit of the modules and put it in the build sheet.",
            assumed=_assumed(design, field if limit is not None else ""),
        )
    )


def _fuse(design: Design, cases: tuple[SharingCase, ...], *, usual: bool) -> Finding:
    """Hold the busiest string's current against what its fuse holds where it is warm."""
    size, policy = string_fuse(design), design.build.policy
    holds = None if size is None else CURRENT.of(size * float(policy.fuse_ambient.m))
    case, run = max((_greatest(cases, way) for way in ("discharge", "charge")), key=_amps)
    return softened(
        at_most(
            FUSE,
            CURRENT.of(run.worst.value),
            holds,
            about=_when(case, run),
            otherwise=Severity.STOP if usual else Severity.CAUTION,
            value_name="the greatest current of a string",
            limit_name="what the warm string fuse holds",
            remedy="Lower the load, or even out leads and bars; a larger fuse only where cable "
            "and modules stand it.",
            ask="Settle the string fuse: the design names none yet.",
            assumed=_assumed(design, ""),
        )
    )


def _amps(pair: tuple[SharingCase, SharedRun]) -> float:
    return pair[1].worst.value


def reckoned(design: Design, strings: int) -> float:
    """Return the imbalance that the design reckons with [1], for so many strings that carry."""
    shared = design.sharing
    if shared is None or strings < 2:  # noqa: PLR2004  (one string has nobody to share with)
        return 1.0
    if strings == shared.strings or shared.one_out is None:
        return shared.worst.value / shared.even.value
    return shared.one_out.value * strings / shared.total.value


def _even(design: Design, cases: tuple[SharingCase, ...], *, usual: bool) -> Finding:
    """Hold the most uneven share against what the design reckons with."""
    pairs = [(case, run) for case in cases for run in case.runs]

    def beyond(pair: tuple[SharingCase, SharedRun]) -> float:
        case, run = pair
        return run.uneven.value / reckoned(design, case.strings)

    case, run = max(pairs, key=beyond)
    raised = f"raise sharing_imbalance in the policy to {say_up(run.uneven.value, '')} or more"
    return softened(
        at_most(
            EVEN,
            SHARE.of(run.uneven.value),
            SHARE.of(reckoned(design, case.strings)),
            about=f"{case.name}, {run.way}",
            otherwise=Severity.CAUTION,
            value_name="the busiest string against an even share",
            limit_name="what the design reckons with",
            remedy="Use leads of one length, take plus and minus off opposite ends of the bars, "
            f"and sort the modules; or {raised}."
            if usual
            else "Keep modules alike in a string, and look at the string currents once a month; "
            f"or {raised}.",
            assumed=_assumed(design, ""),
        )
    )


def _apart(cases: tuple[SharingCase, ...], *, usual: bool) -> Finding:
    """Hold how far states of charge drift apart against what is common."""
    case, run = max(
        ((case, run) for case in cases for run in case.runs), key=lambda pair: pair[1].apart
    )
    return at_most(
        APART,
        SHARE.of(run.apart),
        SHARE.of(_DRIFT),
        about=f"{case.name}, {run.way}",
        otherwise=Severity.CAUTION if usual else Severity.NOTE,
        value_name="the greatest distance of states of charge",
        limit_name="what is common",
        remedy="Let the pack rest after a deep discharge, before it is charged at full current: "
        f"the strings even out by themselves. Above {say(_DRIFT, '')} look for a bad joint.",
    )


def _assumed(design: Design, limit: str) -> tuple[str, ...]:
    """Return what a comparison rests on that nobody measured or read."""
    basis, module = design.build.pack.module.basis, design.build.pack.module
    found = []
    if module.resistance_curve is None and basis.of("resistance") is Basis.ASSUMED:
        found.append("resistance of the modules")
    if limit and basis.of(limit) is Basis.ASSUMED:
        found.append(f"{limit.replace('_', ' ')} of a module")
    return tuple(found)


def softened(finding: Finding) -> Finding:
    """Return a pass that rests on something only assumed as a caution."""
    if finding.severity is not Severity.OK or not finding.assumed:
        return finding
    return attrs.evolve(
        finding,
        severity=Severity.CAUTION,
        remedy=f"Only assumed: {', '.join(finding.assumed)}. Measure it or read it off, and say so "
        "in the build sheet.",
    )
