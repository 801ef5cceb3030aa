"""Does every cable carry, is it guarded, what does it lose, and does it stand a fault?"""

from __future__ import annotations

import functools

import attrs

from evpack.base.basis import Basis
from evpack.base.finding import Finding, Rule, Severity, Standing, Try, at_most, state, unknown
from evpack.base.units import CURRENT, LET_THROUGH, SHARE
from evpack.base.wording import say
from evpack.describe.build import Build
from evpack.describe.cabling import Conductor, Run
from evpack.kernels.conductor import shares
from evpack.outcome.groundwork import Groundwork
from evpack.outcome.protection import ARRAY, CHARGER, CableChoice, CableTest, Circuit
from evpack.protect.cable_words import Cable
from evpack.protect.sizing import (
    CARRIES,
    DROP,
    FED,
    GUARDED,
    SURGE,
    WITHSTANDS,
    WORDS,
)

KNOWN = Rule(
    key="cable.known",
    says="A cable that nobody described cannot be proven to stand anything.",
    source="common-practice",
    stands=Standing.QUESTION,
)
CARRIED = Rule(
    key="cable.carries",
    says="A conductor must carry what flows in it for good, with a factor for hours of it and for "
    "the inverter's ripple.",
    source="nec-706",
    stands=Standing.BOUND,
    clause="NEC 215.2(A) and 310.16; IEC 60364-4-43, 433.1",
    kind=CURRENT,
)
GUARD = Rule(
    key="cable.guarded",
    says="Nothing may feed more into a conductor than it carries: its fuse, or the source itself, "
    "must see to that.",
    source="iec-60364-4-43",
    stands=Standing.BOUND,
    clause="NEC 240.4 and 705.12 (all sources); IEC 60364-4-43, 433.1",
    kind=CURRENT,
)
FED_BY_OTHERS = Rule(
    key="cable.fed-by-others",
    says="A fault in the lead of a string is fed by all other strings from the bus: no fuse of its "
    "own stands before that end.",
    source="nec-240.21",
    stands=Standing.BOUND,
    clause="NEC 240.21 and (B)(1) (from memory)",
    kind=CURRENT,
)
LOST = Rule(
    key="cable.drop",
    says="No single cable should lose more than a few per cent of the voltage.",
    source="voltage-drop",
    stands=Standing.GUARD,
    kind=SHARE,
)
LOST_ON_SURGE = Rule(
    key="cable.drop-surge",
    says="When motors start, the voltage lost in a cable must not stop the inverter.",
    source="common-practice",
    stands=Standing.GUARD,
    kind=SHARE,
)
STANDS = Rule(
    key="cable.withstands",
    says="In a fault the fuse must clear before the conductor's insulation burns: I²t ≤ k²S².",
    source="iec-60364-4-43",
    stands=Standing.BOUND,
    clause="IEC 60364-4-43, 434.5.2; NEC 110.10",
    kind=LET_THROUGH,
)
SIZED = Rule(
    key="cable.sized",
    says="A size that is left open must be one that passes every test.",
    source="common-practice",
    stands=Standing.QUESTION,
)
PARALLEL = Rule(
    key="cable.parallel",
    says="Only large conductors may be laid in parallel under one fuse: the fuse does not see one "
    "that has come loose or carries more than its part.",
    source="nec-310.10",
    stands=Standing.BOUND,
    clause="NEC 310.10(G)",
)
UNEQUAL = Rule(
    key="cable.unequal",
    says="Conductors in parallel, and the leads of strings in parallel, must be alike in length, "
    "or the shortest takes more than its share.",
    source="ohms-law",
    stands=Standing.GUARD,
    kind=SHARE,
)

_CARRIED_BY = {
    CHARGER: "Give the current of the charger.",
    ARRAY: "Give short_circuit of the panels under [[pv]].",
}


def not_described(circuit: Circuit) -> Finding:
    """Return the finding on a circuit whose cable is unknown."""
    return unknown(
        KNOWN,
        about=f"cable from {circuit.source} to {circuit.end}",
        detail="Its cable is not described, and so not tested.",
        remedy=f"Describe it under {circuit.run_key}.",
    )


def findings(ground: Groundwork, cable: Cable, choice: CableChoice) -> list[Finding]:
    """Return what was found of a cable that is described."""
    tests = {test.name: test for test in choice.tests}
    remedy = _remedy(cable, choice)
    found = [_carries(cable, tests[CARRIES], remedy)]
    if tests[GUARDED].passes is not None:  # without a fuse there is a finding on that
        found.append(_guarded(cable, tests[GUARDED], remedy))
    if FED in tests and tests[FED].passes is not None:
        found.append(_fed(cable, tests[FED], remedy))
    if DROP in tests and tests[DROP].passes is not None:
        found.append(_drop(cable, tests[DROP], remedy))
    if SURGE in tests and tests[DROP].passes is not None:
        found.append(_surge(cable, tests[SURGE], remedy))
    if WITHSTANDS in tests and tests[GUARDED].passes is not None:
        found.append(_withstands(cable, tests[WITHSTANDS], remedy))
    found = [_with_tries(finding, cable, choice) for finding in found]
    if cable.run.left_open:
        found.append(_sized(cable, choice))
    if cable.run.parallel > 1:
        found += [_parallel(cable), _unequal_conductors(ground, cable)]
    return found


_MORE_SIZES = 2  # thicker than the smallest that passes, in case that upsets something else


def _with_tries(finding: Finding, cable: Cable, choice: CableChoice) -> Finding:
    """Return a finding with what may clear it: other sizes of the same run, a fuse at both ends."""
    told = finding.severity in {Severity.CAUTION, Severity.STOP}
    if not told or finding.margin is None or cable.run.left_open:
        return finding
    tries, best, thin = [], choice.smallest, choice.allowed
    if thin is not None and best is not None and thin.area < best.area and finding.holds:
        says = f"{_each(cable)}{thin.size} is the thinnest that the rules allow, with cautions."
        tries.append(Try(says, functools.partial(_laid_with, cable.key, thin)))
    if best is not None:
        sizes = [c for c in cable.run.alternatives if c.area >= best.area][: 1 + _MORE_SIZES]
        tries += [_size(cable, conductor, best, choice) for conductor in sizes]
    if finding.rule is FED_BY_OTHERS or (finding.rule is STANDS and feeds_more(cable)):
        tries.append(Try(f"{_BOTH_ENDS[0].upper()}{_BOTH_ENDS[1:]}.", _both_ends))
    return attrs.evolve(finding, tries=tuple(tries))


def feeds_more(cable: Cable) -> bool:
    """Return whether the fuses of several other strings feed a fault in it."""
    return cable.duty.laid is not None and cable.duty.laid.others > 1


def _size(cable: Cable, conductor: Conductor, best: Conductor, choice: CableChoice) -> Try:
    why = "."
    if conductor is best:
        decides = WORDS.get(choice.decided_by)
        why = ": the smallest that passes every test" + (
            f"; {decides} decides." if decides else "."
        )
    change = functools.partial(_laid_with, cable.key, conductor)
    return Try(f"Use {_each(cable)}{conductor.size}{why}", change, group="size")


def _each(cable: Cable) -> str:
    return f"{cable.run.parallel} × " if cable.run.parallel > 1 else ""


def _laid_with(key: str, conductor: Conductor, build: Build) -> Build:
    """Return a build with another conductor in the run of a section of its sheet."""
    cabling, name = build.cabling, key.removeprefix("[cabling.").removesuffix("]")
    if name.startswith("own."):
        device = name.removeprefix("own.").strip('"')
        own = {**cabling.own, device: attrs.evolve(cabling.own[device], conductor=conductor)}
        return attrs.evolve(build, cabling=attrs.evolve(cabling, own=own))
    run = attrs.evolve(getattr(cabling, name), conductor=conductor)
    return attrs.evolve(build, cabling=attrs.evolve(cabling, **{name: run}))


def _both_ends(build: Build) -> Build:
    return attrs.evolve(build, safeguards=attrs.evolve(build.safeguards, both_ends=True))


def _remedy(cable: Cable, choice: CableChoice) -> str:
    """Say what would clear a breach."""
    best = choice.smallest
    if best is None:
        return choice.reason if cable.run.alternatives else "Look for a thicker cable."
    decides = WORDS.get(choice.decided_by)
    return f"Use {_each(cable)}{best.size}: the smallest that passes every test" + (
        f"; {decides} decides." if decides else "."
    )


def _carries(cable: Cable, test: CableTest, remedy: str) -> Finding:
    guard = cable.duty.needed_guard
    found = at_most(
        CARRIED,
        test.value,
        test.limit,
        about=cable.about,
        otherwise=Severity.STOP,
        value_name="what it must carry",
        limit_name="what it may be loaded with",
        guarded=None if guard is None else CURRENT.of(guard),
        guarded_for="hours of it, ripple and unequal sharing",
        remedy=remedy,
        ask=_CARRIED_BY.get(
            cable.circuit.kind, "Give the inverter's output, efficiency, idle draw and window."
        ),
    )
    if cable.run.basis.of("conductor") is not Basis.ASSUMED:
        return found
    found = attrs.evolve(found, assumed=("ampacity of the cable",))
    if found.severity is not Severity.OK:
        return found
    return attrs.evolve(
        found,
        severity=Severity.CAUTION,
        detail=f"{found.detail} Its ampacity is only assumed: {cable.run.conductor.conditions}.",
        remedy=f"Say under {cable.key} how it lies and what its insulation and terminals stand.",
    )


_BOTH_ENDS = (
    "fit a fuse at the bus end of every string's lead too, and say both_ends = true under "
    "[protection]"
)


def _fed(cable: Cable, test: CableTest, remedy: str) -> Finding:
    """Judge what the other strings feed into a string's lead, whose bus end has no fuse.

    By IEC a lead with no load in it needs no guard against overload, and what its fuses let
    through into a short is judged by itself (433.3.1, 434.2.2): what is left is a caution.
    """
    run, well = cable.run, cable.duty.summed(float(cable.run.ampacity.m))
    nec = cable.circuit.held.rules == "nec"
    found = at_most(
        FED_BY_OTHERS,
        test.value,
        test.limit,
        about=cable.about,
        otherwise=Severity.STOP if nec else Severity.CAUTION,
        value_name="what the fuses of all other strings let into it together",
        limit_name="what may feed a short lead that is protected all along"
        if cable.duty.tap > 1
        else "what it carries for them",
        remedy=f"{remedy} Or {_BOTH_ENDS}.",
    )
    if found.holds or found.value is None or found.value <= well:
        return found
    if run.protected:
        return found
    return state(
        FED_BY_OTHERS,
        Severity.UNKNOWN if nec else Severity.CAUTION,
        about=cable.about,
        detail=f"A fault in it is fed by the other strings with up to {say(found.value, 'A')} for "
        f"hours, and it carries {say(well, 'A')}. That is allowed for a lead of up to "
        f"{say(3.0, 'm')} that nothing can chafe or crush and with nothing near it that burns; "
        "nobody said whether it is.",
        remedy="If it lies in conduit or duct, or is double insulated and fixed all along, say "
        f"protected = true under {cable.key}. Else {_BOTH_ENDS}.",
    )


def _guarded(cable: Cable, test: CableTest, remedy: str) -> Finding:
    fed = cable.fuse is None
    return at_most(
        GUARD,
        test.value,
        test.limit,
        about=cable.about,
        otherwise=Severity.STOP,
        value_name="what its source can feed into it" if fed else "the rating of its fuse",
        limit_name="its ampacity" if fed else "the highest that guards it",
        remedy=remedy,
    )


def _drop(cable: Cable, test: CableTest, remedy: str) -> Finding:
    return at_most(
        LOST,
        test.value,
        test.limit,
        about=cable.about,
        otherwise=Severity.CAUTION,
        value_name="the voltage lost in it at the most it carries for good",
        limit_name="what should be lost there",
        remedy=remedy,
    )


def _surge(cable: Cable, test: CableTest, remedy: str) -> Finding:
    return at_most(
        LOST_ON_SURGE,
        test.value,
        test.limit,
        about=cable.about,
        otherwise=Severity.CAUTION,
        value_name="the voltage lost in it while the inverters surge",
        limit_name="what should be lost there",
        remedy=remedy,
        ask="Give the inverter's surge output.",
    )


def _withstands(cable: Cable, test: CableTest, remedy: str) -> Finding:
    laid, least = cable.duty.laid, cable.circuit.least_fault
    assert laid is not None  # noqa: S101  (without a fuse there is no such test)
    assumed = ("what melts its fuse",) if laid.basis is Basis.ASSUMED else ()
    if test.value is not None or least is None:
        weak = laid.weak_energy
        found = at_most(
            STANDS,
            test.value,
            test.limit,
            about=cable.about,
            otherwise=Severity.STOP,
            value_name="what its fuse lets through"
            if laid.others == 1
            else f"what the fuses of the {laid.others} other strings let into it",
            limit_name="what its insulation stands",
            guarded=None if weak is None else LET_THROUGH.of(weak),
            guarded_for="aged cells, at whose lower fault current a fuse takes longer",
            remedy=remedy if laid.others == 1 else f"{remedy} Or {_BOTH_ENDS}.",
            ask="Describe every cable from the strings to its far end under [cabling]: the lowest "
            "fault current is not known.",
            assumed=assumed,
        )
        if found.severity is Severity.STOP and _unsaid_breaker(cable):
            return unknown(
                STANDS,
                about=cable.about,
                detail=f"{found.detail} That counts 0.1 s for its breaker: nobody said how fast "
                "it clears, or what it lets through.",
                remedy=f"Read it off its print: clearing_time or clearing (I²t) under "
                f"[{cable.circuit.section}]; or use a fuse. {found.remedy}",
            )
        perhaps = None if laid.perhaps is None else laid.perhaps * laid.others**2
        limit = test.limit
        if not found.holds and perhaps is not None and limit and perhaps > limit.value:
            return unknown(
                STANDS,
                about=cable.about,
                detail=f"{found.detail} But with the least ohmic part of the modules' resistance "
                f"that is credible, which nobody measured, its breaker lets {say(perhaps, 'A²s')} "
                "through.",
                remedy="Measure the resistance within 0.1 s or at 1 kHz, and say its part as "
                "ohmic_part under [policy]; or use a fuse, or a thicker cable.",
            )
        if found.severity is not Severity.OK or not (laid.slow or weak is None):
            return found
    if laid.most is None:
        return unknown(
            STANDS,
            about=cable.about,
            detail="Its breaker limits no fault current, and the highest one is not known.",
            remedy=f"Find its let-through energy and give it as clearing under "
            f"[{cable.circuit.section}]; or use a fuse.",
        )
    return state(
        STANDS,
        Severity.CAUTION,
        about=cable.about,
        detail=f"At the lowest fault current, {least}, its fuse may take longer than 5 s. What "
        "flows till then the cable stands; what comes after counts as an overload, which the "
        "rating guards against, and how warm the cable gets meanwhile is not worked out.",
        remedy="Take a quicker kind of fuse, or thicker cables on the way there.",
        assumed=assumed,
    )


def _unsaid_breaker(cable: Cable) -> bool:
    family = None if cable.fuse is None else cable.fuse.family
    if family is None or family.kind != "breaker":
        return False
    return family.clearing is None and family.clearing_time is None


def _sized(cable: Cable, choice: CableChoice) -> Finding:
    """Say which size was chosen where it was left open; the thickest stands in for none."""
    if choice.smallest is None:
        return unknown(
            SIZED,
            about=cable.about,
            detail=f"Its size was left open. {choice.reason}",
            remedy=f"Shorten it or lay it otherwise, or say its size under {cable.key}; see what "
            "else was found of it.",
        )
    return state(
        SIZED,
        Severity.OK,
        about=cable.about,
        detail=f"Its size was left open: {choice.smallest.size} was chosen.",
    )


def _parallel(cable: Cable) -> Finding:
    """Judge conductors side by side; only NEC asks for a least size, all ask for likeness."""
    run = cable.run
    small = run.conductor.area < cable.duty.least_parallel
    return state(
        PARALLEL,
        Severity.STOP if small else Severity.NOTE,
        about=cable.about,
        detail=f"{run.parallel} × {run.conductor.size} under one fuse."
        + ("" if small else " They must be alike in length, size and ends."),
        remedy="Use one thicker conductor, or conductors of 1/0 AWG or 70 mm2 and up, "
        "alike in length, size and ends."
        if small
        else "",
    )


def _unequal_conductors(ground: Groundwork, cable: Cable) -> Finding:
    """Judge what the shortest of parallel conductors takes; the others are taken as the longest."""
    run = cable.run
    if run.shortest is None:
        return _alike(cable.about, "Its conductors in parallel are alike in length.")
    longest = float(run.length.m)
    taken = shares([float(run.shortest.m), *([longest] * (run.parallel - 1))])[0]
    return _uneven(
        ground,
        cable.about,
        taken * run.parallel,
        f"Together they carry only {say(float(run.ampacity.m), 'A')} for it.",
        "Cut them to one length.",
    )


def unequal_leads(
    ground: Groundwork, circuit: Circuit, run: Run, ohms: float, *, guessed: bool
) -> Finding:
    """Judge what the string with the shortest lead takes; the others have the longest.

    Parameters
    ----------
    ohms : float
        Lowest credible resistance of a string, links included [Ω]: the lower it is, the more do
        the leads decide.
    guessed : bool
        Whether nobody measured it.
    """
    about = "leads of the strings"
    if run.shortest is None:
        return _alike(about, "They are alike in length.")
    lead = float(run.resistance.m)
    short = lead * float(run.shortest.m) / float(run.length.m)
    taken = shares([ohms + short, *([ohms + lead] * (circuit.count - 1))])[0]
    found = _uneven(
        ground,
        about,
        taken * circuit.count,
        "It is the string that wears and warms most.",
        "Cut the leads to one length; or set sharing_imbalance under [policy] to no less than "
        "this, so that fuses and cables are sized for it.",
    )
    return attrs.evolve(found, assumed=("resistance of the modules",)) if guessed else found


def _alike(about: str, detail: str) -> Finding:
    return state(UNEQUAL, Severity.OK, about=about, detail=detail)


def _uneven(ground: Groundwork, about: str, taken: float, so: str, remedy: str) -> Finding:
    found = at_most(
        UNEQUAL,
        SHARE.of(taken),
        ground.build.policy.sharing_imbalance,
        about=about,
        otherwise=Severity.CAUTION,
        value_name="what the shortest takes of an even share",
        limit_name="the imbalance that was reckoned with",
        remedy=remedy,
    )
    severity = max(found.severity, Severity.NOTE) if taken > 1 else found.severity
    return attrs.evolve(found, severity=severity, detail=f"{found.detail} {so}")
